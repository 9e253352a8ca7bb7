//! The oscillators behind a clock, one apart from the other.

use super::clocks::carried;
use dryjoint_board::{ClockId, NetId, PartKind};
use dryjoint_ids::{Id, Side};
use dryjoint_logic::Extracted;

/// The nets that only the oscillators behind a clock drive.
pub fn hidden(extracted: &Extracted, clock: ClockId) -> Vec<NetId> {
    let nodes = &extracted.shape.nodes;
    let carried: Vec<NetId> =
        carried(&extracted.shape.board.clocks[clock]).into_iter().map(|net| nodes.first(net)).collect();
    let sources = extracted.shape.clusters.rows.rows().iter().filter(|cluster| cluster.is_source);
    sources.flat_map(|cluster| cluster.drives.iter().copied()).filter(|net| !carried.contains(net)).collect()
}

/// The nets that a clock's selector feeds, in the order of its positions; none where it has none, or where
/// one of them carries no signal.
pub fn contacts(extracted: &Extracted, clock: ClockId) -> Vec<NetId> {
    let board = extracted.shape.board;
    let row = &board.clocks[clock];
    let Some(switch) = row.selector.filter(|&part| board.parts[part].kind == PartKind::Selector) else {
        return Vec::new();
    };
    let ends = extracted.shape.nodes.ends(board, switch);
    let found: Vec<NetId> = ends.into_iter().skip(1).take(row.rates.len()).collect();
    let is_signal =
        |net: &NetId| extracted.signal_of[*net].is_some() && !extracted.shape.nodes.is_supply(*net);
    if found.len() == row.rates.len() && found.len() > 1 && found.iter().all(is_signal) {
        found
    } else {
        Vec::new()
    }
}

/// The oscillators apart: nets that parts behind the clock join, but for the gates that make the clock
/// itself; each named by its first net.
pub(super) fn groups(extracted: &Extracted, carried: &[NetId]) -> Side<NetId, Option<NetId>> {
    let shape = &extracted.shape;
    let board = shape.board;
    let mut group: Side<NetId, Option<NetId>> = Side::filled(&board.nets, None);
    let sources = shape.clusters.rows.rows().iter().filter(|cluster| cluster.is_source);
    let oscillators = sources.filter(|cluster| !cluster.drives.iter().any(|net| carried.contains(net)));
    let mut joined: Vec<Vec<NetId>> = oscillators
        .map(|cluster| {
            let ends = cluster.parts.iter().flat_map(|&part| shape.nodes.ends(board, part));
            ends.filter(|&net| !shape.nodes.is_supply(net) && !carried.contains(&net)).collect()
        })
        .collect();
    let inside: Vec<NetId> = joined.iter().flatten().copied().collect();
    let capacitors = board.parts.iter().filter(|(_, part)| matches!(part.kind, PartKind::Capacitor { .. }));
    joined.extend(
        capacitors
            .map(|(id, _)| shape.nodes.ends(board, id))
            .filter(|ends| ends.iter().all(|net| inside.contains(net))),
    );
    // As often as anything is joined anew: an oscillator has few parts.
    let mut moved = true;
    while std::mem::take(&mut moved) {
        for nets in &joined {
            let name = nets.iter().map(|&net| group[net].unwrap_or(net)).min();
            for &net in nets {
                if group[net] != name {
                    (group[net], moved) = (name, true);
                }
            }
        }
    }
    debug_assert!(board.nets.ids().all(|net| group[net].is_none_or(|name| name.index() <= net.index())));
    group
}
