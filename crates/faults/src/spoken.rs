//! Faults as people speak of them, several of one part in one breath, and what mends them.
//!
//! `Q17.c open` and `Q17.b open` become "Q17 collector joint or base joint", to be reflowed.

use crate::fault::pin_name;
use crate::kinds::{leads::Exchange, shifted::Way};
use crate::{Fault, FaultId, Kind};
use dryjoint_board::{Board, PartId, PartKind, PinId};
use dryjoint_ids::Table;

/// Faults of one kind at one part, as one thing to look at.
#[derive(Clone, Debug, PartialEq)]
pub struct Spoken {
    /// The faults, in the order given.
    pub faults: Vec<FaultId>,
    /// What sort of fault.
    pub kind: Kind,
    /// Part and pins in words.
    pub words: String,
    /// What to look at.
    pub look: String,
    /// What mends it.
    pub repair: String,
}

/// Faults as they are spoken of, in the order of their first: those of one kind at one part together.
pub fn spoken(board: &Board, all: &Table<FaultId, Fault>, faults: &[FaultId]) -> Vec<Spoken> {
    let mut lists: Vec<(Kind, Option<PartId>, Vec<FaultId>)> = Vec::new();
    for &id in faults {
        let fault = &all[id];
        let kind = fault.kind();
        // What joins two things is a place of its own.
        let part = match kind {
            Kind::Bridge | Kind::RailShort => None,
            _ => fault.parts(board).first().copied(),
        };
        match lists.iter_mut().find(|(known, at, _)| part.is_some() && *known == kind && *at == part) {
            Some((.., list)) => list.push(id),
            None => lists.push((kind, part, vec![id])),
        }
    }
    let said = |(kind, _, faults): (Kind, Option<PartId>, Vec<FaultId>)| {
        let several: Vec<&Fault> = faults.iter().map(|&id| &all[id]).collect();
        let (words, look, repair) = (words(board, &several), look(board, &several), several[0].repair(board));
        Spoken { faults, kind, words, look, repair }
    };
    lists.into_iter().map(said).collect()
}

/// Some faults of one kind at one part.
fn words(board: &Board, faults: &[&Fault]) -> String {
    let reference = |part: PartId| board.parts[part].reference.as_str();
    match *faults[0] {
        Fault::JointOpen(pin) if faults.len() == board.parts[board.pins[pin].part].pins.len() => {
            format!("a joint of {}", reference(board.pins[pin].part))
        }
        Fault::JointOpen(pin) => {
            let pins = faults.iter().filter_map(|fault| match fault {
                Fault::JointOpen(pin) => Some(joint(board, *pin)),
                _ => None,
            });
            format!("{} {}", reference(board.pins[pin].part), or(pins))
        }
        Fault::Missing(part) => format!("{} missing", reference(part)),
        Fault::WrongValue(part, _) => {
            let values = faults.iter().filter_map(|fault| match fault {
                Fault::WrongValue(_, ohms) => Some(ohms.to_string()),
                _ => None,
            });
            format!("{} of {}", reference(part), or(values))
        }
        Fault::Reversed(part) => format!("{} the wrong way round", reference(part)),
        Fault::Leads(part, _) => {
            let leads = faults.iter().filter_map(|fault| match fault {
                Fault::Leads(_, Exchange::CollectorEmitter) => Some("collector and emitter".to_owned()),
                Fault::Leads(_, Exchange::CollectorBase) => Some("collector and base".to_owned()),
                _ => None,
            });
            format!("{} with {} exchanged", reference(part), or(leads))
        }
        Fault::WrongType(part) => format!("{} of the other polarity", reference(part)),
        Fault::Bridge(a, b) => format!("solder between {} and {}", pin_words(board, a), pin_words(board, b)),
        Fault::RailShort(net, rail) => {
            format!("net {} touching {}", board.nets[net].name, board.nets[rail].name)
        }
        Fault::Shifted(header, way) => {
            let side = match (faults.len(), way) {
                (1, Way::Up) => " up",
                (1, Way::Down) => " down",
                _ => "",
            };
            format!("the plug on {} one pin{side} off", reference(header))
        }
        Fault::Dead(lamp) => format!("{} dead", reference(lamp)),
    }
}

/// One place to look at is named once, however many joints it has.
fn look(board: &Board, faults: &[&Fault]) -> String {
    match *faults[0] {
        Fault::JointOpen(pin) if faults.len() > 1 => {
            format!("look at the joints of {}", board.parts[board.pins[pin].part].reference)
        }
        Fault::JointOpen(pin) => format!("look at the joint of {}", pin_name(board, pin)),
        Fault::Leads(part, _) => {
            format!("see which way the flat face of {} points", board.parts[part].reference)
        }
        Fault::WrongValue(part, _) => format!("read the bands of {}", board.parts[part].reference),
        _ => faults[0].look(board),
    }
}

/// A joint within its part: a transistor's lead by its name, a resistor's end by where it leads.
fn joint(board: &Board, pin: PinId) -> String {
    match lead(board, pin) {
        Some(lead) => format!("{lead} joint"),
        None => {
            let row = &board.pins[pin];
            match board.parts[row.part].kind {
                PartKind::Header | PartKind::Selector | PartKind::TestPoint => {
                    format!("joint at pin {}", row.name)
                }
                _ => format!("joint to {}", board.nets[row.net].name),
            }
        }
    }
}

/// The name of a lead that has one.
fn lead(board: &Board, pin: PinId) -> Option<&'static str> {
    let row = &board.pins[pin];
    Some(match (&board.parts[row.part].kind, row.name.as_str()) {
        (PartKind::Bipolar(_), "c") => "collector",
        (PartKind::Bipolar(_), "b") => "base",
        (PartKind::Bipolar(_), "e") => "emitter",
        (PartKind::Diode(_) | PartKind::Lamp(_), "a") => "anode",
        (PartKind::Diode(_) | PartKind::Lamp(_), "k") => "cathode",
        _ => return None,
    })
}

fn pin_words(board: &Board, pin: PinId) -> String {
    let reference = &board.parts[board.pins[pin].part].reference;
    lead(board, pin).map_or_else(|| pin_name(board, pin), |lead| format!("{reference} {lead}"))
}

/// `a, b or c`.
fn or(words: impl Iterator<Item = String>) -> String {
    let mut words: Vec<String> = words.collect();
    match words.pop() {
        Some(last) if words.is_empty() => last,
        Some(last) => format!("{} or {last}", words.join(", ")),
        None => String::new(),
    }
}

impl Fault {
    /// What mends it, for a person with the iron in hand.
    pub fn repair(&self, board: &Board) -> String {
        let meant = |part: PartId| match &board.parts[part].kind {
            PartKind::Resistor { ohms, .. } => format!("{ohms}"),
            PartKind::Capacitor { farads, .. } => format!("{farads}"),
            PartKind::Diode(model) | PartKind::Lamp(model) | PartKind::Bipolar(model) => {
                board.models[*model].name.clone()
            }
            PartKind::Link => "a link".to_owned(),
            _ => "the part".to_owned(),
        };
        match *self {
            Self::JointOpen(_) => "reflow with fresh solder".to_owned(),
            Self::Missing(part) => format!("fit {}", meant(part)),
            Self::WrongValue(part, _) => format!("exchange it for {}", meant(part)),
            Self::Reversed(_) => "take it out, turn it round; fit a new one if it got hot".to_owned(),
            Self::Leads(..) => "take it out and fit it the right way round".to_owned(),
            Self::WrongType(part) => format!("exchange it for {}", meant(part)),
            Self::Bridge(..) => "take the solder away with braid".to_owned(),
            Self::RailShort(..) => "find what touches, by ohms along the net, and part it".to_owned(),
            Self::Shifted(..) => "power off, put the plug on the right pins".to_owned(),
            Self::Dead(_) => "exchange it".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryjoint_board::Board;

    fn board() -> Board {
        let text = "board words\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=A\n\
                    R1 22k A b\nR2 2k2 VCC q\nQ1 2N3904 q b GND\n";
        let mut loader = |_: &str| Err("no such file".to_owned());
        dryjoint_netlist::read("words.board", text, &mut loader).board.expect("a sound board")
    }

    #[test]
    fn faults_of_one_part_are_said_in_one_breath() {
        let board = board();
        let all: Table<FaultId, Fault> = crate::enumerate(&board).into_iter().collect();
        let said = |names: &[&str]| -> Vec<String> {
            let find = |name: &&str| {
                all.iter().find(|(_, fault)| fault.name(&board) == **name).map(|(id, _)| id).expect("a fault")
            };
            let faults: Vec<FaultId> = names.iter().map(find).collect();
            let line = |one: Spoken| format!("{}: {}; {}", one.words, one.look, one.repair);
            spoken(&board, &all, &faults).into_iter().map(line).collect()
        };
        assert_eq!(
            said(&["Q1.c open", "R2 missing", "Q1.b open", "R2 220R", "R2 22k"]),
            [
                "Q1 collector joint or base joint: look at the joints of Q1; reflow with fresh solder",
                "R2 missing: look whether R2 is fitted; fit 2k2",
                "R2 of 220R or 22k: read the bands of R2; exchange it for 2k2",
            ]
        );
        assert_eq!(
            said(&["R1.1 open", "R2.1 open", "R2.2 open", "Q1.b-Q1.e bridged", "b to GND"]),
            [
                "R1 joint to A: look at the joint of R1.1; reflow with fresh solder",
                "a joint of R2: look at the joints of R2; reflow with fresh solder",
                "solder between Q1 base and Q1 emitter: look for solder between Q1.b and Q1.e; take the solder away \
                 with braid",
                "net b touching GND: with power off, measure ohms from `b` to `GND` and look for solder between \
                 them; find what touches, by ohms along the net, and part it",
            ]
        );
    }
}
