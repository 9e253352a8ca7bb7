//! What a step is headed with: what it is for, as somebody at the bench would put it.
//!
//! A step is for the control line that it first makes act: the heading is that line's purpose, in the builder's words,
//! and the names of what is made to act besides, such as "count up by one, with /OE". Where the hands make no such line
//! act, the step goes on with what the one before was for, as long as that line still stands tied. Strobes, such as the
//! phases of a clock that the hands give, make things happen and say nothing about what: they head a step only
//! where nothing else acts. Common practice, no source.

use crate::Action;
use dryjoint_board::{Board, LineId};
use std::collections::BTreeSet;

/// The heading of the first look.
const POWER: &str = "power comes on";

/// The heading where only the board's own clock does something.
const CLOCK: &str = "the clock alone";

/// The heading where everything was taken away and nothing else done.
const OPEN: &str = "all lines open";

/// The heading of each step of a procedure, the first of which is the one that switches the supply on.
pub(crate) fn headings(board: &Board, steps: &[Vec<Action>]) -> Vec<String> {
    let strobes = strobes(board, steps);
    let mut tied = BTreeSet::new();
    // What the step before was for, and the lines besides.
    let mut telling: Vec<LineId> = Vec::new();
    let headed = steps.iter().enumerate().map(|(index, actions)| {
        actions.iter().for_each(|action| action.leave(&mut tied));
        if index == 0 {
            return POWER.to_owned();
        }
        let control = |line: &LineId| board.lines[*line].active_high.is_some();
        let made = made_to_act(actions);
        let new = made.iter().copied().filter(|line| control(line) && !strobes.contains(line));
        let new: Vec<LineId> = new.collect();
        if !new.is_empty() {
            telling = new;
        } else if telling.first().is_some_and(|line| tied.contains(line)) {
            telling.retain(|line| tied.contains(line));
        } else {
            let stand = tied.iter().copied().filter(|line| control(line) && !strobes.contains(line));
            telling = stand.collect();
        }
        if let [first, besides @ ..] = telling.as_slice() {
            let with =
                if besides.is_empty() { String::new() } else { format!(", with {}", names(board, besides)) };
            return format!("{}{with}", purpose(board, *first));
        }
        let clocked = actions.iter().any(|action| action.line().is_none());
        match made.iter().copied().filter(control).collect::<Vec<_>>().as_slice() {
            [] if clocked => CLOCK.to_owned(),
            [] if !made.is_empty() => format!("{} alone", names(board, &made)),
            [] if tied.is_empty() => OPEN.to_owned(),
            [] => format!("only {} tied", names(board, &tied.iter().copied().collect::<Vec<_>>())),
            [one] => purpose(board, *one).to_owned(),
            several => format!("{} alone", names(board, several)),
        }
    });
    headed.collect()
}

/// The lines that actions make act, in the order of the hands.
fn made_to_act(actions: &[Action]) -> Vec<LineId> {
    let mut made = Vec::new();
    for action in actions {
        if let Action::Tie(line) | Action::Pulse(line) = *action
            && !made.contains(&line)
        {
            made.push(line);
        }
    }
    made
}

/// The lines that are touched more often than tied, and on the whole at every second step or more.
fn strobes(board: &Board, steps: &[Vec<Action>]) -> BTreeSet<LineId> {
    let count = |wanted: Action| steps.iter().flatten().filter(|&&action| action == wanted).count();
    let strobe = |line: &LineId| {
        let touched = count(Action::Pulse(*line));
        touched > count(Action::Tie(*line)) && 2 * touched >= steps.len()
    };
    board.lines.ids().filter(strobe).collect()
}

/// What a line is for, in the builder's words; its name where they say nothing.
fn purpose(board: &Board, line: LineId) -> &str {
    let line = &board.lines[line];
    if line.purpose.is_empty() { &line.name } else { &line.purpose }
}

/// `A`, `A and B`, `A, B and C`.
fn names(board: &Board, lines: &[LineId]) -> String {
    let names: Vec<&str> = lines.iter().map(|&line| board.lines[line].name.as_str()).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::headings;
    use crate::Action;
    use dryjoint_board::{Board, LineId};
    use dryjoint_ids::Id;

    fn counter() -> Board {
        let text = "board b \"b\"\nrail VCC 5V limit 100mA\nground GND\n\
                    J1 header 1=GND 2=VCC 3=/LD 4=/CNT 5=/P1 6=D0 7=D1\n\
                    R1 4k7 VCC /LD\nR2 4k7 VCC /CNT\nR3 4k7 VCC /P1\nR[4..5] 4k7 VCC D[#-4]\n\
                    line /LD J1.3 active low \"load\"\nline /CNT J1.4 active low \"count, if not loading\"\n\
                    line /P1 J1.5 active low \"phase 1\"\nbus D J1.6 J1.7 \"data pins\"\n";
        dryjoint_netlist::read_alone("b", text).board.expect("a sound board")
    }

    #[test]
    fn a_step_is_for_the_line_that_it_makes_act() {
        let board = counter();
        let [load, count, phase, data] = [0, 1, 2, 3].map(LineId::at);
        let (tie, release, pulse) = (Action::Tie, Action::Release, Action::Pulse);
        let steps = [
            vec![],
            vec![tie(load), pulse(phase), tie(count)],
            // The load still stands: the same is gone on with, without what was let go.
            vec![pulse(phase), release(count)],
            vec![release(load), tie(count), pulse(phase)],
            vec![release(count), pulse(phase)],
            vec![tie(data)],
            vec![release(data)],
            vec![Action::Wait(1)],
            // What was tied and let go within the step is what it was for; then it stands no more.
            vec![tie(load), pulse(phase), release(load)],
        ];
        let wanted = [
            "power comes on",
            "load, with /CNT",
            "load",
            "count, if not loading",
            "phase 1",
            "D0 alone",
            "all lines open",
            "the clock alone",
            "load",
        ];
        assert_eq!(headings(&board, &steps), wanted);
    }
}
