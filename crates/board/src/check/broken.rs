//! Tables that do not hang together: an id that is not there, a pin that one side does not list.
//!
//! No text brings this about; a board put together by a program can.

use crate::{Access, Board, Entity, Notice, PartKind};
use dryjoint_ids::Id;

const CODE: &str = "board-broken";

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    let mut broken = |about: Entity, text: String| {
        out.push(Notice::error(CODE, about, text, "this is a slip of the program that made the board"));
    };
    // A net's pins are searched as sorted; where they are not, that is told further down.
    for (id, pin) in board.pins.iter() {
        let part = board.parts.get(pin.part);
        if part.is_none_or(|part| part.pins.iter().filter(|listed| **listed == id).count() != 1) {
            broken(Entity::Pin(id), format!("{id:?} is not listed once by its part"));
        }
        if board.nets.get(pin.net).is_none_or(|net| net.pins.binary_search(&id).is_err()) {
            broken(Entity::Pin(id), format!("{id:?} is not listed by its net"));
        }
    }
    for (id, part) in board.parts.iter() {
        if part.pins.iter().any(|pin| board.pins.get(*pin).is_none_or(|pin| pin.part != id)) {
            broken(Entity::Part(id), format!("`{}` lists a pin of another part", part.reference));
        }
        let model = match part.kind {
            PartKind::Diode(model) | PartKind::Lamp(model) | PartKind::Bipolar(model) => Some(model),
            _ => None,
        };
        if model.is_some_and(|model| board.models.get(model).is_none()) {
            broken(Entity::Part(id), format!("`{}` has a card that is not there", part.reference));
        }
        let names = part.kind.pin_names(part.pins.len());
        let named =
            |(pin, name): (&crate::PinId, &String)| board.pins.get(*pin).is_some_and(|p| p.name == *name);
        if names.len() != part.pins.len() || !part.pins.iter().zip(&names).all(named) {
            broken(Entity::Part(id), format!("`{}` has other pins than its kind", part.reference));
        }
    }
    for (id, net) in board.nets.iter() {
        let sorted = net.pins.windows(2).all(|two| two[0].index() < two[1].index());
        if !sorted || net.pins.iter().any(|pin| board.pins.get(*pin).is_none_or(|pin| pin.net != id)) {
            broken(Entity::Net(id), format!("`{}` lists a pin of another net, or out of order", net.name));
        }
    }
    for (id, line) in board.lines.iter() {
        let contact = match line.access {
            Access::Contact(part) => board.parts.get(part).is_some(),
            Access::TieLow | Access::TieHigh => true,
        };
        if board.nets.get(line.net).is_none() || !contact {
            broken(Entity::Line(id), format!("line `{}` names what is not there", line.name));
        }
    }
    for (id, group) in board.lamps.iter() {
        if group.lamps.iter().any(|lamp| board.parts.get(*lamp).is_none()) {
            broken(Entity::Lamps(id), format!("group `{}` names a lamp that is not there", group.name));
        }
    }
    for (id, clock) in board.clocks.iter() {
        let nets = [Some(clock.net), clock.complement];
        let selector = clock.selector.is_none_or(|part| board.parts.get(part).is_some());
        if nets.into_iter().flatten().any(|net| board.nets.get(net).is_none()) || !selector {
            broken(Entity::Board, format!("{id:?} names what is not there"));
        }
    }
    let phases = board.phases.iter().flat_map(|phases| &phases.nets);
    if phases.into_iter().any(|net| board.nets.get(*net).is_none()) {
        broken(Entity::Board, "a phase names a net that is not there".to_owned());
    }
}

#[cfg(test)]
mod tests {
    use crate::{Board, Net, Part, PartId, PartKind, Pin};
    use dryjoint_ids::Id;

    #[test]
    fn a_pin_of_a_part_that_is_not_there_is_told_and_nothing_panics() {
        let mut board = Board::default();
        let net = board.nets.push(Net { name: "A".into(), supply: None, pins: vec![], reachable: true });
        let pin = board.pins.push(Pin { part: PartId::at(7), name: "1".into(), net });
        board.parts.push(Part {
            reference: "TP1".into(),
            kind: PartKind::TestPoint,
            pins: vec![pin],
            place: None,
            section: String::new(),
        });
        let codes: Vec<_> = board.check().iter().map(|notice| notice.code).collect();
        assert_eq!(codes, ["board-broken"; 3]);
    }
}
