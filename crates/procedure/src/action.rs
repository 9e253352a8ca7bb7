//! What a hand does at the bench, one thing at a time.

use crate::run::Run;
use dryjoint_board::{Access, Board, ClockId, LineId, PartKind};
use std::collections::BTreeSet;

/// One thing a hand does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Action {
    /// Give a line its other level and leave it so: a jumper to ground (or to the rail, for a line
    /// that acts high), a toggle switched on, a button held.
    Tie(LineId),
    /// Take that away again: the line is open, the toggle off, the button up.
    Release(LineId),
    /// Tie and release at once: a touch with the jumper, a press on the button.
    Pulse(LineId),
    /// Let the board's clocks run for this many full periods, each switch at its slowest position.
    Wait(u32),
    /// Let a clock run with its switch at this position, counted from 0, where nobody can count its periods.
    Run(ClockId, u16),
}

impl Action {
    /// The line it is about.
    pub fn line(self) -> Option<LineId> {
        match self {
            Self::Tie(line) | Self::Release(line) | Self::Pulse(line) => Some(line),
            Self::Wait(_) | Self::Run(..) => None,
        }
    }

    /// What it does to the lines that stand tied.
    pub fn leave(self, tied: &mut BTreeSet<LineId>) {
        match self {
            Self::Tie(line) => {
                tied.insert(line);
            }
            Self::Release(line) | Self::Pulse(line) => {
                tied.remove(&line);
            }
            Self::Wait(_) | Self::Run(..) => {}
        }
    }

    /// The action as a person is told it, such as "tie /LD (J1.4) to ground".
    pub fn words(self, board: &Board) -> String {
        match self {
            Self::Tie(line) => match board.lines[line].access {
                Access::TieLow => format!("tie {} to ground", place(board, line)),
                Access::TieHigh => format!("tie {} to the rail", place(board, line)),
                Access::Contact(part) if board.parts[part].kind == PartKind::Button => {
                    format!("hold {} down", place(board, line))
                }
                Access::Contact(_) => format!("switch {} on", place(board, line)),
            },
            Self::Release(line) => match board.lines[line].access {
                Access::TieLow | Access::TieHigh => format!("take the jumper off {}", place(board, line)),
                Access::Contact(part) if board.parts[part].kind == PartKind::Button => {
                    format!("let {} go", place(board, line))
                }
                Access::Contact(_) => format!("switch {} off", place(board, line)),
            },
            Self::Pulse(line) => match board.lines[line].access {
                Access::TieLow => format!("touch {} to ground once", place(board, line)),
                Access::TieHigh => format!("touch {} to the rail once", place(board, line)),
                Access::Contact(part) if board.parts[part].kind == PartKind::Button => {
                    format!("press {} once", place(board, line))
                }
                Access::Contact(_) => format!("switch {} on and off again", place(board, line)),
            },
            Self::Wait(1) => format!("let the clock run one period{}", at_slowest(board)),
            Self::Wait(count) => format!("let the clock run {count} periods{}", at_slowest(board)),
            Self::Run(clock, position) => {
                let run = Run::of(board, clock, position);
                let seconds = match run.seconds as u64 {
                    1 => "a second".to_owned(),
                    seconds => format!("{seconds} seconds"),
                };
                match run.place {
                    Some((switch, position)) => {
                        format!(
                            "let the clock run {seconds} with {} at {position}",
                            board.parts[switch].reference
                        )
                    }
                    None => format!("let the clock run {seconds}"),
                }
            }
        }
    }
}

/// What the hands do, one line each. A line that is tied and at once let go is touched: to board and hands
/// that is the same.
pub fn in_words(board: &Board, actions: &[Action]) -> Vec<String> {
    let mut told = Vec::with_capacity(actions.len());
    let mut rest = actions;
    while let [first, after @ ..] = rest {
        let touched = match (*first, after.first()) {
            (Action::Tie(line), Some(&Action::Release(same))) if line == same => Some(Action::Pulse(line)),
            _ => None,
        };
        told.push(touched.unwrap_or(*first).words(board));
        rest = if touched.is_some() { &after[1..] } else { after };
    }
    told
}

/// `/LD (J1.4)`: a line with the pin or switch where the hand finds it.
fn place(board: &Board, line: LineId) -> String {
    let row = &board.lines[line];
    let at = match row.access {
        Access::Contact(part) => Some(board.parts[part].reference.clone()),
        Access::TieLow | Access::TieHigh => board.nets[row.net].pins.iter().find_map(|&pin| {
            let part = &board.parts[board.pins[pin].part];
            let header = part.kind == PartKind::Header;
            header.then(|| format!("{}.{}", part.reference, board.pins[pin].name))
        }),
    };
    match at {
        Some(at) if at != row.name => format!("{} ({at})", row.name),
        _ => row.name.clone(),
    }
}

/// Where the switch of a clock stands while no step lets the clock run; nothing on a board without one.
pub fn clocks_at_rest(board: &Board) -> Option<String> {
    let named =
        board.clocks.rows().iter().filter_map(|clock| Some(board.parts[clock.selector?].reference.as_str()));
    let switches: Vec<&str> = named.collect();
    (!switches.is_empty()).then(|| {
        format!(
            "Leave {} between two positions, where the clock keeps still; turn it to one only while a step lets \
             the clock run, and back after a whole period.",
            switches.join(" and ")
        )
    })
}

/// Where the clock's switch stands for its periods to be counted by eye; nothing where it has none.
fn at_slowest(board: &Board) -> String {
    let rates = board.clocks.iter().flat_map(|(_, clock)| clock.rates.iter().map(move |rate| (clock, rate)));
    let slowest = rates.min_by(|(_, a), (_, b)| a.rate.0.total_cmp(&b.rate.0));
    let named = slowest.and_then(|(clock, rate)| Some((clock.selector?, &rate.position)));
    named.map_or(String::new(), |(switch, position)| {
        format!(" with {} at {position}", board.parts[switch].reference)
    })
}

#[cfg(test)]
mod tests {
    use super::{Action, in_words};
    use dryjoint_board::LineId;
    use dryjoint_ids::Id;

    #[test]
    fn what_is_tied_and_at_once_let_go_is_touched() {
        let text = "board b \"b\"\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=/LD\n\
                    R1 4k7 VCC /LD\nR2 4k7 VCC RES\nS1 button RES GND\n\
                    line /LD J1.3 active low \"load\"\nline RESET S1 \"restart\"\n";
        let board = dryjoint_netlist::read_alone("b", text).board.expect("a sound board");
        let [load, reset] = [0, 1].map(LineId::at);
        let actions = [
            Action::Tie(reset),
            Action::Release(reset),
            // Something lies between, if only another line.
            Action::Tie(load),
            Action::Tie(reset),
            Action::Release(load),
            Action::Release(reset),
        ];
        let wanted = [
            "press RESET (S1) once",
            "tie /LD (J1.3) to ground",
            "hold RESET (S1) down",
            "take the jumper off /LD (J1.3)",
            "let RESET (S1) go",
        ];
        assert_eq!(in_words(&board, &actions), wanted);
    }
}
