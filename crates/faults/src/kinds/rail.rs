//! Rail short: a net that touches a rail or ground, by a splash of solder or a stray strand of wire.

use crate::Fault;
use dryjoint_board::{Board, NetId};

pub(crate) fn list(board: &Board, faults: &mut Vec<Fault>) {
    let rails: Vec<NetId> =
        board.nets.iter().filter(|(_, net)| net.supply.is_some()).map(|(id, _)| id).collect();
    for (id, net) in board.nets.iter() {
        if net.pins.len() < 2 {
            continue;
        }
        // Two rails are joined once, by the later one.
        let others = rails.iter().filter(|&&rail| net.supply.is_none() || rail < id);
        faults.extend(others.map(|&rail| Fault::RailShort(id, rail)));
    }
}

pub(crate) fn name(board: &Board, net: NetId, rail: NetId) -> String {
    format!("{} to {}", board.nets[net].name, board.nets[rail].name)
}

pub(crate) fn look(board: &Board, net: NetId, rail: NetId) -> String {
    format!(
        "with power off, measure ohms from `{}` to `{}` and look for solder between them",
        board.nets[net].name, board.nets[rail].name
    )
}
