//! Clocks that cannot run: on a supply, their own complement, or without a rate; phases that cannot take
//! turns.

use crate::{Board, Entity, Notice};

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    for phases in &board.phases {
        for (at, &net) in phases.nets.iter().enumerate() {
            let name = &board.nets[net].name;
            let why = if board.nets[net].supply.is_some() {
                "is a supply"
            } else if phases.nets[..at].contains(&net) {
                "takes turns with itself"
            } else {
                continue;
            };
            let mend = "name two different nets of which one acts at a time";
            out.push(Notice::error(
                "phases-net",
                Entity::Net(net),
                format!("the phase `{name}` {why}"),
                mend,
            ));
        }
    }
    for clock in board.clocks.rows() {
        let net = &board.nets[clock.net];
        let about = Entity::Net(clock.net);
        if net.supply.is_some() {
            let text = format!("the clock `{}` is a supply", net.name);
            out.push(Notice::error("clock-net", about, text, "name the net that carries the clock"));
        }
        if clock.complement == Some(clock.net) {
            let text = format!("the clock `{}` is its own complement", net.name);
            out.push(Notice::error("clock-net", about, text, "name the net that carries the complement"));
        }
        for rate in &clock.rates {
            // A hand-built clock of this kind ends far below (judgement).
            if !(1e-3..=1e8).contains(&rate.rate.0) {
                let text = format!("the clock `{}` runs at {}", net.name, rate.rate);
                let mend = "write a rate such as `10Hz` or `200kHz`";
                out.push(Notice::warning("clock-rate", about, text, mend));
            }
        }
    }
}
