//! Every state that hands can bring about, nearest first, on the good board and on faulty ones beside it.
//!
//! A board with few latches and lines has some thousands of such states. The walk begins at the moment power comes on and
//! tries from every state whatever hands can do next; the first list of actions that comes to what is looked
//! for is also a shortest. Beside the good board walk one or more copies with the same fault, such as one for each way in
//! which its latches can have woken up. A copy that has shown what is looked for walks no further, and two that
//! hold the same go on as one.

use crate::replay::{act, good_lamps, lamps};
use crate::rig::is_momentary;
use crate::search::Aim;
use crate::{Action, Study};
use dryjoint_faults::lanes::{Lane, Machine};
use dryjoint_ids::Id;
use dryjoint_logic::Level;
use std::collections::HashSet;
use std::rc::Rc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A state that was reached: what the hands have done, and what each board holds.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct Stop {
    tied: Vec<bool>,
    hands: Vec<Level>,
    good: Lane,
    /// In order, each once.
    faulty: Vec<Lane>,
}

/// What came of a walk.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Walked {
    /// Every state within reach was tried, so many of them, and what is looked for is in none.
    All(usize),
    /// These actions come to it, and no fewer do.
    Way(Vec<Action>),
    /// Too many states: it is in none of those tried, and no list of so many actions comes to it.
    Cut(Bound),
}

/// How far a walk may go.
#[derive(Debug)]
pub(crate) struct Limits<'a> {
    /// States come to, after which it is given up.
    pub most: usize,
    /// Whether it is to end now, where somebody may say so.
    pub stop: Option<&'a AtomicBool>,
}

impl Limits<'_> {
    pub fn states(most: usize) -> Self {
        Self { most, stop: None }
    }
}

/// How far a walk went.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Bound {
    /// States from which everything was tried.
    pub states: usize,
    /// The longest lists of actions that were tried without exception.
    pub actions: usize,
}

/// Walks with the faults in lanes 1 to `copies` of a machine that stands at the moment power comes on, until `aim` has been
/// seen of every copy. `come` hears of the machine at every state come to, and ends the walk by answering no.
pub(crate) fn walk(
    study: &Study,
    machine: &mut Machine,
    copies: usize,
    aim: Aim,
    limits: &Limits,
    come: &mut dyn FnMut(&Machine, &[bool]) -> bool,
) -> Walked {
    let board = study.extracted.shape.board;
    let tied = vec![false; board.lines.len()];
    let Some(start) = stop(study, machine, &tied, copies, aim) else { return Walked::Way(Vec::new()) };
    let start = Rc::new(start);
    let mut seen = HashSet::from([start.clone()]);
    // Where each state was come to from, by which action, and after how many.
    let mut from: Vec<Option<(usize, Action)>> = vec![None];
    let mut open = vec![(start, 0)];
    let mut at = 0;
    while let Some((here, depth)) = open.get(at).cloned() {
        let ended = limits.stop.is_some_and(|stop| stop.load(Ordering::Relaxed));
        if ended || seen.len() > limits.most {
            return Walked::Cut(Bound { states: at, actions: depth });
        }
        for action in next(study, &here.tied) {
            machine.lay(&here.hands, &here.good, &here.faulty);
            act(study, machine, &[action]);
            let mut tied = here.tied.clone();
            match action {
                Action::Tie(line) => tied[line.index()] = true,
                Action::Release(line) => tied[line.index()] = false,
                Action::Pulse(_) | Action::Wait(_) | Action::Run(..) => {}
            }
            let Some(stop) = stop(study, machine, &tied, here.faulty.len(), aim) else {
                let mut way = vec![action];
                let mut back = at;
                while let Some((before, action)) = from[back] {
                    way.push(action);
                    back = before;
                }
                way.reverse();
                return Walked::Way(way);
            };
            let stop = Rc::new(stop);
            if seen.insert(stop.clone()) {
                if !come(machine, &stop.tied) {
                    return Walked::Cut(Bound { states: at, actions: depth });
                }
                from.push(Some((at, action)));
                open.push((stop, depth + 1));
            }
        }
        at += 1;
    }
    Walked::All(seen.len())
}

/// Where a machine stands, with the copies that have not shown; nothing where all have.
fn stop(study: &Study, machine: &Machine, tied: &[bool], copies: usize, aim: Aim) -> Option<Stop> {
    let lamps = lamps(study, machine);
    let shown = aim.sees(&lamps, &good_lamps(&lamps));
    let left = (1..=copies).filter(|&lane| !shown.get(lane));
    let mut faulty: Vec<Lane> = left.map(|lane| machine.lane(lane)).collect();
    faulty.sort_unstable();
    faulty.dedup();
    let open = !faulty.is_empty();
    open.then(|| Stop { tied: tied.to_vec(), hands: machine.hands(), good: machine.lane(0), faulty })
}

/// Everything that the hands can do next. A held button is let go before anything else is done: nobody has a
/// third hand.
fn next(study: &Study, tied: &[bool]) -> Vec<Action> {
    let board = study.extracted.shape.board;
    let lines = || board.lines.ids().zip(tied);
    if let Some((held, _)) = lines().find(|&(line, &tied)| tied && is_momentary(board, line)) {
        return vec![Action::Release(held)];
    }
    let each = lines().flat_map(|(line, &tied)| match tied {
        true => vec![Action::Release(line)],
        false => vec![Action::Tie(line), Action::Pulse(line)],
    });
    each.chain((!board.clocks.is_empty()).then_some(Action::Wait(1))).chain(study.rig.runs()).collect()
}
