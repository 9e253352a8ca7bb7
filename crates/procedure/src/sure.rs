//! Whether anything surely shows a fault that the search has not shown.
//!
//! The search is a draw. What it has missed is settled by a proof that luck can hide the fault in whatever state, or else by
//! walking through every state that hands can bring about, nearest
//! first: either a lamp surely differs in one, and the way there is a shortest; or luck can hide the fault in all of them,
//! which is a proof; or no lamp is known to differ in any. A board with too many states leaves it open, with how
//! far was walked.

use crate::drawn::all_show;
use crate::gates::Refuted;
use crate::luck::{hides_by_choice, hides_by_rows, hides_in_states};
use crate::partner::Partners;
use crate::replay::{Replay, act};
use crate::search::Aim;
use crate::view::View;
use crate::walk::{Bench, Bound, Limits, Stop, Walked, walk};
use crate::{Action, GroupId, Study};
use dryjoint_faults::lanes::{Machine, Planes, Shown, Word};
use dryjoint_ids::Id;
use dryjoint_logic::{Level, Role, SignalId};
use std::borrow::Borrow;

/// Latches that may have woken up either way, tried all at once: a lane for each way.
const MOST_LATCHES: usize = 8;

/// What is known about ways that surely show a fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sureness {
    /// There is none: in every row of what the fault does it does what the good board does, or nobody knows.
    HidesByRows,
    /// There is none: with luck every lamp shows what it should in whatever state the board is, and whatever hands do
    /// next.
    HidesAnywhere(Refuted),
    /// There is none: with luck every lamp shows what it should in each of so many states, all that are within reach.
    Hides(usize),
    /// There is none: the same where luck also chooses how the board wakes up, how many periods a clock makes that nobody can
    /// count, and in which half of one its switch is turned away; then so many states are within reach.
    HidesByChoice(usize),
    /// Whichever way the latches wake up: in none of so many states, all that are within reach, is a lamp known to
    /// differ.
    Nowhere(usize),
    /// The same of a fault that leaves a level between the thresholds, and no way was found that shows it however that falls.
    NowhereBetween(usize),
    /// Not settled: there are too many states.
    Open(Bound),
}

impl Sureness {
    /// What is known, in words.
    pub fn words(self) -> String {
        match self {
            Self::HidesByRows => "nothing surely shows it: where what it leaves open falls as it should, \
                                  all is as on a good board"
                .to_owned(),
            Self::HidesAnywhere(refuted) => format!(
                "nothing surely shows it: in whatever state the board is and whatever hands do next, with luck every lamp \
                 shows what it should ({refuted})"
            ),
            Self::Hides(states) => format!(
                "nothing surely shows it: with luck every lamp shows what it should in each of the {states} states that hands \
                 can bring about"
            ),
            Self::HidesByChoice(states) => format!(
                "nothing surely shows it: a board may wake up so, and its clock make so many periods where nobody counts them and \
                 end in such a half, that with luck every lamp shows what it should in each of the {states} states that hands \
                 can bring about from there"
            ),
            Self::Nowhere(states) => {
                format!(
                    "in none of the {states} states that hands can bring about is a lamp sure to differ; that is no proof that \
                     luck can hide it, since two levels of which neither is known may still be bound to each other"
                )
            }
            Self::NowhereBetween(states) => {
                format!(
                    "in none of the {states} states that hands can bring about is a lamp sure to differ; what the fault does is \
                     not known in every case (a level between two thresholds, or a clock that stands one way or the other), and no \
                     way was found that shows it however that falls; that is no proof that luck can hide it"
                )
            }
            Self::Open(Bound { states: 0, .. }) => {
                "whether anything surely shows it was not tried".to_owned()
            }
            Self::Open(Bound { states, actions }) => format!(
                "no sure way in {states} states, nor in any list of {actions} actions; there are more than were tried"
            ),
        }
    }
}

/// What came of looking for a way that surely shows a group.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sought {
    /// One from the moment power comes on: a shortest, or where that is too long to be found so, a shortest of those that
    /// one lamp sees.
    Way(Vec<Action>),
    /// None was found.
    None(Sureness),
}

/// Looks for a shortest way that surely shows a group, or for a proof that there is none, trying no more than so many
/// states at a time.
pub fn surely(study: &Study, group: GroupId, most: usize) -> Sought {
    let hidden = hidden(study, group, || Partners::new(study));
    hidden.map_or_else(|| walked(study, group, &Limits::states(most)), Sought::None)
}

/// The proof that luck hides a group, where one is found without walking.
pub(crate) fn hidden<'s, 'e, 'b, P: Borrow<Partners<'s, 'e, 'b>>>(
    study: &'s Study<'e, 'b>,
    group: GroupId,
    partners: impl FnOnce() -> Option<P>,
) -> Option<Sureness> {
    if hides_by_rows(study, &study.groups[group].behaviour) {
        return Some(Sureness::HidesByRows);
    }
    partners()?.borrow().hide(group).map(Sureness::HidesAnywhere)
}

/// What walking through the states says of a group.
pub(crate) fn walked(study: &Study, group: GroupId, limits: &Limits) -> Sought {
    if let Some(states) = hides_in_states(study, group, limits) {
        return Sought::None(Sureness::Hides(states));
    }
    if let Some(states) = hides_by_choice(study, group, limits) {
        return Sought::None(Sureness::HidesByChoice(states));
    }
    let mut machine = study.pairs(&study.groups[group].behaviour);
    let (counted, known_clock) = clocked(study, group);
    let latches = open_latches(study, &known_clock);
    let hands = known_clock.hands();
    let mut known = false;
    let walked = walk(study, &mut machine, 1, Aim::Sure, limits, &mut |bench, stop| {
        known = known || knows(study, group, (bench, stop), &latches, &hands);
        true
    });
    let states = match walked {
        Walked::Way(way) => return Sought::Way(way),
        Walked::Cut(bound) => Err(bound),
        Walked::All(states) => Ok(states),
    };
    // Where actions bring the latches to a known state, whatever they woke up with, what shows every way of waking up
    // shows that state too, and the walk has been there.
    let cases = if known && states.is_ok() { None } else { woken(study, group, known_clock, &latches) };
    let cases = cases
        .map(|(mut machine, copies)| walk(study, &mut machine, copies, Aim::Sure, limits, &mut |_, _| true));
    if let Some(Walked::Way(way)) = cases {
        return Sought::Way([counted, way].concat());
    }
    if let Some(way) = seen_by_one(study, group, limits) {
        return Sought::Way(way);
    }
    match (states, cases) {
        (Err(bound), _) | (_, Some(Walked::Cut(bound))) => Sought::None(Sureness::Open(bound)),
        (Ok(states), _) if study.groups[group].behaviour.table.contains(&Shown::Unknown) => {
            Sought::None(Sureness::NowhereBetween(states))
        }
        (Ok(states), _) => Sought::None(Sureness::Nowhere(states)),
    }
}

/// Of what one lamp sees, no more states are walked: those in which it is known what a board holds are few.
const MOST_SEEN: usize = 20_000;

/// A way that goes by every case of what one lamp sees, or those that hang on no more, and that boards show on which luck
/// falls as drawn.
fn seen_by_one(study: &Study, group: GroupId, limits: &Limits) -> Option<Vec<Action>> {
    View::all(study, group).iter().find_map(|view| {
        let limits = Limits { view: Some(view), most: limits.most.min(MOST_SEEN), ..*limits };
        match walk(&view.study, &mut view.machine(), 1, Aim::Sure, &limits, &mut |_, _| true) {
            Walked::Way(way) => Some(way).filter(|way| shows_however_luck_falls(study, group, way)),
            Walked::All(_) | Walked::Cut(_) => None,
        }
    })
}

/// Whether a way shows on all boards that are drawn, with a look after every action.
fn shows_however_luck_falls(study: &Study, group: GroupId, way: &[Action]) -> bool {
    let looks = std::iter::once(&[] as &[Action]).chain(way.iter().map(std::slice::from_ref));
    let expected = Replay::of(study, &[], looks, None).expected();
    let looks: Vec<usize> = (0..=way.len()).collect();
    all_show(study, group, way, &looks, &expected)
}

/// Pairs of a group once it is known how every clock stands, and the actions by which that is so: a clock that stands as
/// luck has it is let run for one period.
fn clocked<'s>(study: &'s Study, group: GroupId) -> (Vec<Action>, Machine<'s>) {
    let mut machine = study.pairs(&study.groups[group].behaviour);
    let actions: Vec<Action> = study.rig.woken().next().map(|_| Action::Wait(1)).into_iter().collect();
    act(study, &mut machine, &actions);
    (actions, machine)
}

/// The latches of which nothing is known on a faulty board.
fn open_latches(study: &Study, machine: &Machine) -> Vec<SignalId> {
    let inside = |signal: &SignalId| study.extracted.logic.signals[*signal].role == Role::Inside;
    let loops = study.program.loop_signals().into_iter();
    loops.filter(|signal| inside(signal) && machine.unknown(*signal).get(1)).collect()
}

/// Whether all latches of a faulty board are known, and the hands hold what they held before wherever it matters to the
/// fault.
fn knows(
    study: &Study,
    group: GroupId,
    (bench, stop): (&Bench, &Stop),
    latches: &[SignalId],
    before: &[Level],
) -> bool {
    let reads = &study.groups[group].behaviour.reads;
    let idle = |signal: SignalId| {
        let told = study.rig.dials().iter().any(|dial| dial.told().any(|told| told == signal));
        told && reads.iter().all(|read| read.signal != signal)
    };
    let signals = &study.extracted.logic.signals;
    let as_then = |signal: SignalId| bench.hands[signal.index()] == before[signal.index()];
    !bench.tied.contains(&true)
        && latches.iter().all(|&latch| stop.faulty.iter().all(|lane| lane.knows(latch)))
        && signals.ids().all(|signal| as_then(signal) || idle(signal))
}

/// A machine with a pair for each way in which the latches of a group can have woken up, and how many there are;
/// nothing where that is no question, or too large a one. Every state at rest falls under one of them; a level in
/// between does not, so a fault that leaves one is not asked about.
fn woken<'s>(
    study: &Study,
    group: GroupId,
    mut machine: Machine<'s>,
    latches: &[SignalId],
) -> Option<(Machine<'s>, usize)> {
    let behaviour = &study.groups[group].behaviour;
    if behaviour.table.contains(&Shown::Unknown) || latches.is_empty() || latches.len() > MOST_LATCHES {
        return None;
    }
    let copies = 1 << latches.len();
    let lanes = |bit: usize, high: bool| {
        let mut lanes = Word::NONE;
        let ways = (0..copies).filter(|way| (way >> bit & 1 != 0) == high);
        // The good board stays as it is.
        ways.for_each(|way| lanes.set(2 * way + 1, true));
        lanes
    };
    let suppositions: Vec<(SignalId, Planes)> = latches
        .iter()
        .enumerate()
        .map(|(bit, &latch)| (latch, Planes { one: lanes(bit, true), zero: lanes(bit, false) }))
        .collect();
    machine.suppose(&suppositions);
    Some((machine, copies))
}
