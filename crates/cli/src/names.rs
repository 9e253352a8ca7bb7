//! Actions as written against actions as the procedure knows them: names looked up on the board, and
//! given back.

use crate::action::{Action, OnOff, To};
use dryjoint_board::{Access, Board, LineId, PartId, PartKind, nearest};
use dryjoint_procedure::Action as Hand;

/// An action with everything found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Done {
    /// Something a procedure does too.
    Hand(Hand),
    /// A selector switch turned, its position counted from 0.
    Select(PartId, usize),
    /// The supply switched.
    Power(bool),
}

/// What an action does on this board; the message of a refusal says what the board has instead.
pub fn look_up(board: &Board, action: &Action) -> Result<Vec<Done>, String> {
    Ok(match action {
        Action::Tie { line, to } => {
            let id = line_id(board, line)?;
            may_tie(board, id, *to)?;
            vec![Done::Hand(Hand::Tie(id))]
        }
        Action::Release { line } => {
            let id = line_id(board, line).or_else(|no_line| worked_by(board, line).ok_or(no_line))?;
            vec![Done::Hand(Hand::Release(id))]
        }
        Action::Pulse { line } => vec![Done::Hand(Hand::Pulse(line_id(board, line)?))],
        Action::Press { switch } => {
            vec![Done::Hand(Hand::Pulse(switch_line(board, switch, PartKind::Button)?))]
        }
        Action::Hold { switch } => vec![Done::Hand(Hand::Tie(switch_line(board, switch, PartKind::Button)?))],
        Action::Set { switch, to } => {
            let line = switch_line(board, switch, PartKind::Toggle)?;
            vec![Done::Hand(if *to == OnOff::On { Hand::Tie(line) } else { Hand::Release(line) })]
        }
        Action::Select { switch, position } => {
            let part = switch_part(board, switch, &PartKind::Selector)?;
            vec![Done::Select(part, position_of(board, part, switch, position)?)]
        }
        Action::Wait { clocks } => {
            if board.clocks.is_empty() {
                return Err("this board has no clock to wait for".to_owned());
            }
            if *clocks > MOST_CLOCKS {
                return Err(format!("{clocks} clocks are too many; at most {MOST_CLOCKS} at once"));
            }
            vec![Done::Hand(Hand::Wait(*clocks))]
        }
        Action::Run { switch, position } => {
            let part = switch_part(board, switch, &PartKind::Selector)?;
            let position = position_of(board, part, switch, position)?;
            let Some((clock, _)) = board.clocks.iter().find(|(_, clock)| clock.selector == Some(part)) else {
                return Err(format!("no clock hangs on {switch}"));
            };
            vec![Done::Hand(Hand::Run(clock, position as u16))]
        }
        Action::Power { to } => vec![Done::Power(*to == OnOff::On)],
    })
}

/// More periods than a board with lamps has states show nothing new.
const MOST_CLOCKS: u32 = 1 << 16;

/// An action of a procedure as it is written.
pub fn written(board: &Board, action: Hand) -> Vec<Action> {
    let named = |line: LineId| board.lines[line].name.clone();
    let switch = |line: LineId| match board.lines[line].access {
        Access::Contact(part) => {
            let part = &board.parts[part];
            Some((part.reference.clone(), part.kind == PartKind::Button))
        }
        Access::TieLow | Access::TieHigh => None,
    };
    let set = |switch: &str, to| Action::Set { switch: switch.to_owned(), to };
    match action {
        Hand::Tie(line) => match switch(line) {
            Some((switch, true)) => vec![Action::Hold { switch }],
            Some((switch, false)) => vec![set(&switch, OnOff::On)],
            None => {
                let high = board.lines[line].access == Access::TieHigh;
                vec![Action::Tie { line: named(line), to: if high { To::High } else { To::Low } }]
            }
        },
        Hand::Release(line) => match switch(line) {
            Some((switch, false)) => vec![set(&switch, OnOff::Off)],
            _ => vec![Action::Release { line: named(line) }],
        },
        Hand::Pulse(line) => match switch(line) {
            Some((switch, true)) => vec![Action::Press { switch }],
            Some((switch, false)) => vec![set(&switch, OnOff::On), set(&switch, OnOff::Off)],
            None => vec![Action::Pulse { line: named(line) }],
        },
        Hand::Wait(clocks) => vec![Action::Wait { clocks }],
        Hand::Run(clock, position) => {
            let row = &board.clocks[clock];
            let switch = row.selector.map_or(String::new(), |switch| board.parts[switch].reference.clone());
            let position =
                row.rates.get(usize::from(position)).map_or(String::new(), |rate| rate.position.clone());
            vec![Action::Run { switch, position }]
        }
    }
}

fn may_tie(board: &Board, line: LineId, to: To) -> Result<(), String> {
    let line = &board.lines[line];
    let name = &line.name;
    match (line.access, to) {
        (Access::TieLow, To::Low) | (Access::TieHigh, To::High) => Ok(()),
        (Access::TieLow, To::High) => Err(format!(
            "never tie {name} to the rail, something on the board may pull it low; left open it reads high: \
             write `release {name}`"
        )),
        (Access::TieHigh, To::Low) => Err(format!(
            "never tie {name} to ground, something on the board may pull it high; left open it reads low: \
             write `release {name}`"
        )),
        (Access::Contact(part), _) => {
            let part = &board.parts[part];
            let reference = &part.reference;
            let verb = if part.kind == PartKind::Button { "hold" } else { "set" };
            let on = if part.kind == PartKind::Button { "" } else { " on" };
            Err(format!("{name} is worked by {reference}: write `{verb} {reference}{on}`"))
        }
    }
}

fn line_id(board: &Board, name: &str) -> Result<LineId, String> {
    board.lines.iter().find(|(_, line)| line.name == name).map(|(id, _)| id).ok_or_else(|| {
        let names: Vec<&str> = board.lines.rows().iter().map(|line| line.name.as_str()).collect();
        format!("there is no line `{name}`{}", instead(name, &names))
    })
}

/// The line that a switch works, by the switch's reference.
fn worked_by(board: &Board, switch: &str) -> Option<LineId> {
    let works = |access| matches!(access, Access::Contact(part) if board.parts[part].reference == switch);
    board.lines.iter().find(|(_, line)| works(line.access)).map(|(id, _)| id)
}

fn switch_line(board: &Board, name: &str, kind: PartKind) -> Result<LineId, String> {
    let by_name = board.lines.iter().find(|(_, line)| line.name == name).map(|(id, _)| id);
    let line = by_name.or_else(|| worked_by(board, name));
    let right = |line: &LineId| matches!(board.lines[*line].access, Access::Contact(part) if board.parts[part].kind == kind);
    if let Some(line) = line.filter(right) {
        return Ok(line);
    }
    let part = switch_part(board, name, &kind)?;
    let reference = &board.parts[part].reference;
    Err(format!("{reference} works no line of the text: add `line NAME {reference} \"what it does\"`"))
}

fn switch_part(board: &Board, name: &str, kind: &PartKind) -> Result<PartId, String> {
    let found = board.parts.iter().find(|(_, part)| part.reference == name && part.kind == *kind);
    found.map(|(id, _)| id).ok_or_else(|| {
        let switches = board.parts.rows().iter().filter(|part| part.kind == *kind);
        let names: Vec<&str> = switches.map(|part| part.reference.as_str()).collect();
        let what = match kind {
            PartKind::Button => "button",
            PartKind::Toggle => "toggle switch",
            _ => "selector switch",
        };
        format!("there is no {what} `{name}`{}", instead(name, &names))
    })
}

fn position_of(board: &Board, part: PartId, switch: &str, position: &str) -> Result<usize, String> {
    let clock = board.clocks.rows().iter().find(|clock| clock.selector == Some(part));
    let rates = clock.into_iter().flat_map(|clock| &clock.rates);
    let names: Vec<&str> = rates.map(|rate| rate.position.as_str()).collect();
    let count = board.parts[part].pins.len().saturating_sub(1);
    let numbered =
        position.parse().ok().filter(|number| (1..=count).contains(number)).map(|number| number - 1);
    names.iter().position(|name| *name == position).or(numbered).ok_or_else(|| {
        if names.is_empty() {
            format!("{switch} has no position `{position}`; it has 1 to {count}")
        } else {
            format!("{switch} has no position `{position}`{}", instead(position, &names))
        }
    })
}

fn instead(wrong: &str, names: &[&str]) -> String {
    match nearest(wrong, names.iter().copied()) {
        Some(meant) => format!("; did you mean `{meant}`?"),
        None if names.is_empty() => "; it has none".to_owned(),
        None => format!("; it has {}", names.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::action::parse;
    use dryjoint_netlist::read_alone;

    fn board() -> Board {
        let text = "board b \"b\"\nrail VCC 5V limit 500mA\nground GND\nJ1 header 1=GND 2=VCC 3=/LD\n\
                    R1 4k7 VCC /LD\nR2 4k7 VCC /GO\nR3 4k7 VCC /ON\nR4 4k7 n GND\nS1 button /GO GND\n\
                    S2 toggle /ON GND\nS3 selector c=VCC 1=n 2=m\nR5 4k7 m GND\nDS1 red a=VCC k=z\nR6 470 z /LD\n\
                    line /LD J1.3 active low \"load\"\nline GO S1 \"go\"\nline ON S2 \"on\"\n";
        let reading = read_alone("b.board", text);
        reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
    }

    fn refused(text: &str) -> String {
        look_up(&board(), &parse(text).unwrap()[0]).unwrap_err()
    }

    #[test]
    fn names_are_found_and_written_back() {
        let board = board();
        for text in
            ["tie /LD low", "release /LD", "pulse /LD", "press S1", "hold S1", "set S2 on", "set S2 off"]
        {
            let actions = parse(text).unwrap();
            let done = look_up(&board, &actions[0]).unwrap();
            let [Done::Hand(hand)] = done[..] else { panic!("{done:?}") };
            assert_eq!(written(&board, hand), actions, "{text}");
        }
        assert_eq!(
            look_up(&board, &parse("press GO").unwrap()[0]),
            look_up(&board, &parse("press S1").unwrap()[0])
        );
        let selector = board.parts.iter().find(|(_, part)| part.reference == "S3").unwrap().0;
        let select = look_up(&board, &parse("select S3 2").unwrap()[0]);
        assert_eq!(select, Ok(vec![Done::Select(selector, 1)]));
    }

    #[test]
    fn what_the_board_does_not_have_or_bear_is_refused_with_a_mend() {
        assert!(refused("tie /LD high").starts_with("never tie /LD to the rail"));
        assert_eq!(refused("tie /LB low"), "there is no line `/LB`; did you mean `/LD`?");
        assert_eq!(refused("tie GO low"), "GO is worked by S1: write `hold S1`");
        assert_eq!(refused("press S2"), "there is no button `S2`; it has S1");
        assert_eq!(refused("select S3 9"), "S3 has no position `9`; it has 1 to 2");
        assert_eq!(refused("wait 2 clocks"), "this board has no clock to wait for");
    }
}
