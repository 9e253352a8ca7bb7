//! Nets that are called like a part, or like a pin that is on another net: who names one may get the
//! other.

use crate::{Board, Entity, Notice, Part};
use std::collections::BTreeMap;

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    let parts: BTreeMap<&str, &Part> =
        board.parts.rows().iter().map(|part| (part.reference.as_str(), part)).collect();
    for (id, net) in board.nets.iter() {
        if parts.contains_key(net.name.as_str()) {
            let text = format!("net `{}` is called like the part", net.name);
            let mend = "give the net another name; what is meant is unclear otherwise";
            out.push(Notice::remark("net-lookalike", Entity::Net(id), text, mend));
        }
        let Some((part, pin)) = net.name.rsplit_once('.') else { continue };
        let pins = parts.get(part).map_or(&[][..], |part| &part.pins);
        let found = pins.iter().map(|pin| &board.pins[*pin]).find(|found| found.name == pin);
        if let Some(found) = found.filter(|found| found.net != id) {
            let text = format!("net `{}` is not that of the pin", net.name);
            let mend = format!("the pin is on `{}`: name that net", board.nets[found.net].name);
            out.push(Notice::remark("net-lookalike", Entity::Net(id), text, mend));
        }
    }
}
