//! The states that hands can bring a board into: every one where there are few, a sample otherwise.

use crate::bench::{Bench, running};
use dryjoint_board::{Access, Board, LineId};
use dryjoint_draws::Draws;
use dryjoint_logic::{Extracted, Level, Prover};
use dryjoint_procedure::Action;
use dryjoint_survey::{Draw, Watch, draw_of};
use std::collections::{BTreeSet, VecDeque};

/// What was visited.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Visited {
    /// Every state that actions one at a time lead to.
    Every(usize),
    /// This many different states on a long random walk.
    Sample(usize),
}

/// States compared with the circuit where a board has too many for all.
pub const SAMPLE: usize = 1000;

/// What a board draws and the limit to set, as `check` computes it; nothing where it has several rails.
pub fn supply_draw(extracted: &Extracted) -> Option<Draw> {
    let mut prover = Prover::new(extracted);
    let mut watch = Watch::new(extracted);
    visit(extracted, SAMPLE, &mut |bench| {
        let (ties, level) = (ties(extracted, bench), |signal| bench.level(signal));
        if let Some((network, solution)) = prover.compare(&ties, &level) {
            watch.see(&ties, &network, &solution, &level);
        }
    });
    draw_of(&watch)
}

/// States up to which all that can follow from them are looked for.
const FEW: usize = 512;
/// Actions of the random walk for each state wanted, after which it ends.
const PATIENCE: usize = 16;

/// Visits states in which every signal is known: on a random walk from power-on until `sample` were
/// found, and, where the walk finds no more, every state that follows from those.
pub fn visit(extracted: &Extracted, sample: usize, look: &mut dyn FnMut(&Bench)) -> Visited {
    let mut found = Found { extracted, seen: BTreeSet::new(), queue: VecDeque::new() };
    let mut bench = Bench::new(extracted, None);
    let mut draws = Draws::new(1);
    found.add(&bench, look);
    for _ in 0..sample * PATIENCE {
        if found.seen.len() >= sample {
            return Visited::Sample(found.seen.len());
        }
        let choices = actions(extracted.shape.board, &bench);
        let Some(action) = choices.get(draws.below(choices.len())) else { break };
        bench.hand(*action);
        found.add(&bench, look);
    }
    while let Some(bench) = found.queue.pop_front() {
        for action in actions(extracted.shape.board, &bench) {
            let mut next = bench.clone();
            next.hand(action);
            found.add(&next, look);
        }
    }
    let count = found.seen.len();
    if count > FEW { Visited::Sample(count) } else { Visited::Every(count) }
}

/// States met so far.
struct Found<'e, 'b> {
    extracted: &'e Extracted<'b>,
    seen: BTreeSet<Vec<Level>>,
    /// States whose successors may still be wanted.
    queue: VecDeque<Bench<'e, 'b>>,
}

impl<'e, 'b> Found<'e, 'b> {
    fn add(&mut self, bench: &Bench<'e, 'b>, look: &mut dyn FnMut(&Bench)) {
        if is_known(self.extracted, bench) && self.seen.insert(levels(self.extracted, bench)) {
            look(bench);
            if self.seen.len() <= FEW {
                self.queue.push_back(bench.clone());
            } else {
                self.queue.clear();
            }
        }
    }
}

fn levels(extracted: &Extracted, bench: &Bench) -> Vec<Level> {
    extracted.logic.signals.ids().map(|signal| bench.level(signal)).collect()
}

fn is_known(extracted: &Extracted, bench: &Bench) -> bool {
    let known = |level: Level| level.value().is_some() || level == Level::Floating;
    let running = running(extracted);
    extracted.logic.signals.ids().all(|signal| running.contains(&signal) || known(bench.level(signal)))
}

/// What a hand may do now. A line held by a contact is let go before anything else is done to it.
fn actions(board: &Board, bench: &Bench) -> Vec<Action> {
    let mut actions = Vec::new();
    for line in board.lines.ids() {
        if bench.is_tied(line) {
            actions.push(Action::Release(line));
        } else {
            actions.push(Action::Tie(line));
            actions.push(Action::Pulse(line));
        }
    }
    if !board.clocks.is_empty() {
        actions.push(Action::Wait(1));
    }
    actions
}

/// What is tied, as nets: `true` to the rail. A closed contact is as good as a jumper.
pub fn ties(extracted: &Extracted, bench: &Bench) -> Vec<(dryjoint_board::NetId, bool)> {
    let board = extracted.shape.board;
    let contacts = board
        .lines
        .iter()
        .filter(|(id, line)| bench.is_tied(*id) && matches!(line.access, Access::Contact(_)));
    let level = |id: LineId| bench.level_of_tie(id);
    [bench.jumpers(), bench.resting()]
        .concat()
        .into_iter()
        .chain(contacts.map(|(id, line)| (line.net, level(id))))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryjoint_logic::extract;
    use dryjoint_netlist::read_alone;

    const LATCH: &str = "board latch \"two NORs\"\nrail VCC 5V limit 100mA\nground GND\n\
        J1 header 1=GND 2=VCC 3=/S 4=/R\nR1 4k7 VCC /S\nR2 4k7 VCC /R\n\
        line /S J1.3 active low \"set\"\nline /R J1.4 active low \"clear\"\n\
        cell nor1 (a y)\n  R1 22k a q\n  R2 22k q GND\n  R3 2k2 VCC y\n  Q1 2N3904 c=y b=q e=GND\nend\n\
        cell nor2 (a b y)\n  R1 22k a q\n  R2 22k b q\n  R3 22k q GND\n  R4 2k2 VCC y\n  \
        Q1 2N3904 c=y b=q e=GND\nend\n\
        A nor1 /S S\nB nor1 /R R\nC nor2 S QN Q0\nD nor2 R Q0 QN\n\
        DS1 red a=n k=k\nR90 470 VCC n\nR91 22k QN qb\nQ90 2N3904 c=k b=qb e=GND\nlamps Q DS1\n";

    #[test]
    fn a_latch_is_visited_in_every_state() {
        let reading = read_alone("latch.board", LATCH);
        let board = reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices));
        let (extracted, notices) = extract(&board);
        assert!(dryjoint_logic::is_sound(&notices), "{notices:?}");
        let mut visited = 0;
        // Neither line tied: set or clear; one tied: one each; both tied: both outputs low.
        assert_eq!(visit(&extracted, 10, &mut |_| visited += 1), Visited::Every(5));
        assert_eq!(visited, 5);
    }
}
