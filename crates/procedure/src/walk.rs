//! Every state that hands can bring about, nearest first, on the good board and on faulty ones beside it.
//!
//! A board with few latches and lines has some thousands of such states. The walk begins at the moment power comes on and
//! tries from every state whatever hands can do next; the first list of actions that comes to what is looked
//! for is also a shortest. Beside the good board walk one or more copies with the same fault, such as one for each way in
//! which its latches can have woken up. A copy that has shown what is looked for walks no further, and two that
//! hold the same go on as one.
//!
//! Where a [`View`] is given, the walk is made on what one lamp sees, and every copy is parted into cases after every action.
//!
//! States that are equally far away, and at which the hands hold the same, are gone on from together: each copy with its
//! good board is a pair of lanes of one machine.

use crate::replay::act;
use crate::rig::is_momentary;
use crate::run::run_by_luck;
use crate::search::Aim;
use crate::view::{Copy, View};
use crate::{Action, Study};
use dryjoint_board::LineId;
use dryjoint_faults::lanes::{Lane, Machine, PAIRS, Word};
use dryjoint_ids::Id;
use dryjoint_logic::Level;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::rc::Rc;
use std::sync::atomic::{AtomicBool, Ordering};

/// What the hands have tied, and what that and the clocks put on every signal.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Bench {
    pub tied: Vec<bool>,
    pub hands: Vec<Level>,
}

/// A state that was reached: what each board holds, and the bench by its place in the list of those met.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(crate) struct Stop {
    bench: usize,
    pub good: Lane,
    /// In order, each once.
    pub faulty: Vec<Lane>,
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
    /// What one lamp sees, where no more is to be walked.
    pub view: Option<&'a View<'a, 'a>>,
    /// Where a clock left running makes so many periods as luck chooses, in place of any number: whether its switch is
    /// turned away while it is high.
    pub by_luck: Option<bool>,
}

impl Limits<'_> {
    pub fn states(most: usize) -> Self {
        Self { most, stop: None, view: None, by_luck: None }
    }

    fn passed(&self, states: usize) -> bool {
        states > self.most || self.stop.is_some_and(|stop| stop.load(Ordering::Relaxed))
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

/// Walks with the first `copies` pairs of a machine that stands at the moment power comes on, until `aim` has been
/// seen of every copy. `come` hears of every state come to, and ends the walk by answering no.
pub(crate) fn walk(
    study: &Study,
    machine: &mut Machine,
    copies: usize,
    aim: Aim,
    limits: &Limits,
    come: &mut dyn FnMut(&Bench, &Stop) -> bool,
) -> Walked {
    let tied = vec![false; study.extracted.shape.board.lines.len()];
    let Limits { view, by_luck, .. } = *limits;
    let mut walk =
        Walk { study, aim, view, by_luck, benches: Vec::new(), places: HashMap::new(), met: Met::default() };
    let bench = walk.bench(Bench { tied, hands: machine.hands() });
    let Some(start) = walk.stops(machine, bench, &[copies]).remove(0) else {
        return Walked::Way(Vec::new());
    };
    walk.met.add(start, None);
    let (mut from, mut depth) = (0, 0);
    // Each round goes on from all states that are equally far away.
    while from < walk.met.stops.len() {
        let to = walk.met.stops.len();
        for (tried, crew) in walk.crews(from..to) {
            if limits.passed(walk.met.stops.len()) {
                return Walked::Cut(Bound { states: from + tried, actions: depth });
            }
            match walk.go_on(machine, &crew, come) {
                Went::On => {}
                Went::Way(way) => return Walked::Way(way),
                Went::Ended => return Walked::Cut(Bound { states: from + tried, actions: depth }),
            }
        }
        (from, depth) = (to, depth + 1);
    }
    Walked::All(walk.met.stops.len())
}

/// The states met so far.
#[derive(Default)]
struct Met {
    seen: HashSet<Rc<Stop>>,
    stops: Vec<Rc<Stop>>,
    /// Where each was come to from, and by which action.
    from: Vec<Option<(usize, Action)>>,
}

impl Met {
    /// Adds a state; nothing where it was met before.
    fn add(&mut self, stop: Stop, from: Option<(usize, Action)>) -> Option<Rc<Stop>> {
        let stop = Rc::new(stop);
        self.seen.insert(stop.clone()).then(|| {
            self.stops.push(stop.clone());
            self.from.push(from);
            stop
        })
    }

    /// The actions that come to a state, with one more after them.
    fn way(&self, mut at: usize, last: Action) -> Vec<Action> {
        let mut way = vec![last];
        while let Some((before, action)) = self.from[at] {
            way.push(action);
            at = before;
        }
        way.reverse();
        way
    }
}

/// What came of going on from some states.
enum Went {
    On,
    Way(Vec<Action>),
    Ended,
}

/// A walk under way.
struct Walk<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    aim: Aim,
    view: Option<&'s View<'s, 's>>,
    by_luck: Option<bool>,
    benches: Vec<Rc<Bench>>,
    places: HashMap<Rc<Bench>, usize>,
    met: Met,
}

impl Walk<'_, '_, '_> {
    /// The place of a bench in the list.
    fn bench(&mut self, bench: Bench) -> usize {
        let Self { benches, places, .. } = self;
        let bench = Rc::new(bench);
        *places.entry(bench.clone()).or_insert_with(|| {
            benches.push(bench);
            benches.len() - 1
        })
    }

    /// States at which the hands hold the same, as many together as there are pairs for, each time with how many
    /// have gone before.
    fn crews(&self, states: std::ops::Range<usize>) -> Vec<(usize, Vec<usize>)> {
        let mut alike: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for at in states {
            alike.entry(self.met.stops[at].bench).or_default().push(at);
        }
        let mut crews: Vec<(usize, Vec<usize>)> = Vec::new();
        let mut tried = 0;
        for states in alike.into_values() {
            let mut pairs = PAIRS;
            for at in states {
                pairs += self.met.stops[at].faulty.len();
                match crews.last_mut() {
                    Some((_, crew)) if pairs <= PAIRS => crew.push(at),
                    _ => {
                        pairs = self.met.stops[at].faulty.len();
                        crews.push((tried, vec![at]));
                    }
                }
                tried += 1;
            }
        }
        crews
    }

    /// Tries from some states whatever hands can do next.
    fn go_on(
        &mut self,
        machine: &mut Machine,
        crew: &[usize],
        come: &mut dyn FnMut(&Bench, &Stop) -> bool,
    ) -> Went {
        let here: Vec<Rc<Stop>> = crew.iter().map(|&at| self.met.stops[at].clone()).collect();
        let bench = self.benches[here[0].bench].clone();
        let pairs: Vec<[&Lane; 2]> =
            here.iter().flat_map(|stop| stop.faulty.iter().map(|faulty| [&stop.good, faulty])).collect();
        let copies: Vec<usize> = here.iter().map(|stop| stop.faulty.len()).collect();
        machine.lay(&bench.hands, &pairs);
        let before = machine.save();
        for (nth, action) in self.next(&bench.tied).into_iter().enumerate() {
            if nth > 0 {
                machine.restore(&before);
            }
            match (action, self.by_luck) {
                (Action::Run(clock, position), Some(high)) => {
                    run_by_luck(self.study, machine, (clock, position), pairs.len(), high);
                }
                _ => drop(act(self.study, machine, &[action])),
            }
            let mut tied = bench.tied.clone();
            match action {
                Action::Tie(line) => tied[line.index()] = true,
                Action::Release(line) => tied[line.index()] = false,
                Action::Pulse(_) | Action::Wait(_) | Action::Run(..) => {}
            }
            let place = self.bench(Bench { tied, hands: machine.hands() });
            let stops = self.stops(machine, place, &copies);
            for (at, stop) in crew.iter().zip(stops) {
                let Some(stop) = stop else { return Went::Way(self.met.way(*at, action)) };
                let fresh = self.met.add(stop, Some((*at, action)));
                if fresh.is_some_and(|stop| !come(&self.benches[place], &stop)) {
                    return Went::Ended;
                }
            }
        }
        Went::On
    }

    /// The states at which so many pairs each stand; nothing for one of which all copies have shown.
    fn stops(&self, machine: &mut Machine, bench: usize, copies: &[usize]) -> Vec<Option<Stop>> {
        let lanes = machine.lanes(2 * copies.iter().sum::<usize>());
        let shown = self.shown(machine);
        let mut first = 0;
        let ranges: Vec<_> = copies
            .iter()
            .map(|count| {
                first += 2 * count;
                first - 2 * count..first
            })
            .collect();
        let Some(view) = self.view else {
            return ranges
                .into_iter()
                .map(|own| stop(bench, &lanes[own.clone()], shown, own.start))
                .collect();
        };
        let pairs = ranges.iter().enumerate().flat_map(|(of, own)| {
            lanes[own.clone()].chunks(2).map(move |pair| Copy {
                of,
                good: pair[0].clone(),
                faulty: pair[1].clone(),
            })
        });
        let cases = view.cases(machine, pairs.collect());
        let mut stops: Vec<Option<Stop>> = ranges.iter().map(|_| None).collect();
        for Copy { of, good, faulty } in cases.into_iter().filter(|copy| !view.shows(copy)) {
            stops[of].get_or_insert(Stop { bench, good, faulty: Vec::new() }).faulty.push(faulty);
        }
        // More cases than there are pairs for are not told apart.
        for (stop, own) in stops.iter_mut().zip(&ranges) {
            if stop.as_ref().is_some_and(|stop| stop.faulty.len() > PAIRS) {
                *stop = self::stop(bench, &lanes[own.clone()], shown, own.start);
            }
        }
        stops
    }

    /// Everything that the hands can do next, as far as it matters to what is seen.
    fn next(&self, tied: &[bool]) -> Vec<Action> {
        let all = next(self.study, tied);
        let Some(view) = self.view else { return all };
        let seen = |line: LineId| view.lines.contains(&line);
        all.into_iter().filter(|action| action.line().is_none_or(seen)).collect()
    }

    /// The second lanes of the pairs of which what is looked for is seen.
    fn shown(&self, machine: &Machine) -> Word {
        self.study.rig.lamps.iter().fold(Word::NONE, |all, &(_, signal)| {
            all | match self.aim {
                Aim::Sure => machine.differ(signal),
                Aim::Chance => machine.may_differ(signal),
            }
        })
    }
}

/// The state that some pairs stand at, which begin at lane `first` of the machine, with the copies that have not shown;
/// nothing where all have.
fn stop(bench: usize, lanes: &[Lane], shown: Word, first: usize) -> Option<Stop> {
    let left = lanes.iter().enumerate().skip(1).step_by(2).filter(|(lane, _)| !shown.get(first + lane));
    let mut faulty: Vec<Lane> = left.map(|(_, lane)| lane.clone()).collect();
    faulty.sort_unstable();
    faulty.dedup();
    (!faulty.is_empty()).then(|| Stop { bench, good: lanes[0].clone(), faulty })
}

/// Everything that the hands can do next. A held button is let go before anything else is done: nobody has a
/// third hand.
pub(crate) fn next(study: &Study, tied: &[bool]) -> Vec<Action> {
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
