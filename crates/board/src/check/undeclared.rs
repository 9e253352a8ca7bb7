//! Nets that are called like a supply but are none: most often the `ground` line was forgotten, and
//! every cell then has a `GND` of its own.

use crate::{Board, Entity, Notice};

/// What supplies are called (common practice, no source).
const SUPPLIES: [&str; 12] =
    ["GND", "GROUND", "VCC", "VDD", "VSS", "VEE", "0V", "V+", "V-", "5V", "P5V", "VBAT"];

/// Whether a net is called like a supply.
pub(super) fn sounds_like_supply(net: &str) -> bool {
    let own = net.rsplit('.').next().unwrap_or(net).to_ascii_uppercase();
    SUPPLIES.contains(&own.as_str())
}

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    for (id, net) in board.nets.iter() {
        let Some(own) = net.name.rsplit('.').next() else { continue };
        let capital = own.to_ascii_uppercase();
        if net.supply.is_some() || net.pins.is_empty() || !sounds_like_supply(&net.name) {
            continue;
        }
        // The pin of a connector may be called like the supply it passes on unused: `J1.5V`.
        if board.pins[net.pins[0]].name == own {
            continue;
        }
        let ground = matches!(capital.as_str(), "GND" | "GROUND" | "VSS" | "0V");
        let mend = if ground {
            format!("write `ground {own}`")
        } else {
            format!("write `rail {own} 5V limit 500mA`")
        };
        let text = format!("`{}` is called like a supply, but is none", net.name);
        out.push(Notice::warning("supply-undeclared", Entity::Net(id), text, mend));
    }
}
