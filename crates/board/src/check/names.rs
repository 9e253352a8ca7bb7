//! A name that two nets, two lines, two lamp groups or two parts share.

use crate::{Board, Entity, Notice};
use std::collections::BTreeSet;

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    let mut twice = |seen: &mut BTreeSet<String>, name: &str, about: Entity, what: &str| {
        if !seen.insert(name.to_owned()) {
            let text = format!("there are two {what} `{name}`");
            out.push(Notice::error("name-twice", about, text, "give one of them another name"));
        }
    };
    let mut seen = BTreeSet::new();
    for (id, part) in board.parts.iter() {
        twice(&mut seen, &part.reference, Entity::Part(id), "parts");
    }
    let mut seen = BTreeSet::new();
    for (id, net) in board.nets.iter() {
        twice(&mut seen, &net.name, Entity::Net(id), "nets");
    }
    let mut seen = BTreeSet::new();
    for (id, line) in board.lines.iter() {
        twice(&mut seen, &line.name, Entity::Line(id), "lines");
    }
    let mut seen = BTreeSet::new();
    for (id, group) in board.lamps.iter() {
        twice(&mut seen, &group.name, Entity::Lamps(id), "lamp groups");
    }
}

#[cfg(test)]
mod tests {
    use crate::{Board, Net};

    #[test]
    fn two_nets_of_one_name_are_told() {
        let mut board = Board::default();
        for _ in 0..2 {
            board.nets.push(Net { name: "A".into(), supply: None, pins: vec![], reachable: true });
        }
        assert!(board.check().iter().any(|notice| notice.code == "name-twice"));
    }
}
