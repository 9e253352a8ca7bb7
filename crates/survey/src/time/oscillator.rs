//! What a clock does with something changed in its oscillator: it runs, at what rate and between which
//! voltages, or it stands.
//!
//! The piece is the one that tells a good board's rates: all oscillators with what loads the clock, the
//! switch at a position, from power-on. It is followed only as far as is needed: until two cycles are
//! alike, or nothing moves any more. Where the clock stands, a pair of gates may hold it either way; so it
//! is let go from both sides. A change in an oscillator that the switch does not feed matters only where
//! it moves a voltage that is not that oscillator's own, and that is a question to the circuit at rest.
//!
//! Equal pieces are followed once, without their names: the answer is the same to the last bit, whichever
//! came first.

use super::apart::{contacts, groups};
use super::beats::{Beats, reference};
use super::clocks::{carried, oscillator as piece};
use super::keeps::let_go;
use super::starts::Starts;
use super::turned::turned;
use dryjoint_board::{ClockId, NetId, PartId, PartKind, Supply};
use dryjoint_circuit::{Anonymous, Network, NoSolution as Failure, NodeName, Pace, Solver, Spot, Trace};
use dryjoint_ids::Side;
use dryjoint_logic::{Extracted, Node};
use dryjoint_units::{Amps, Hertz, Seconds, Volts};
use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

/// What a clock does.
#[derive(Clone, Debug, PartialEq)]
pub enum Course {
    /// It runs. The voltages of its nets (see [`Oscillator::nets`]) while it is low, and while it is high.
    Runs {
        /// Full cycles a second.
        rate: Hertz,
        /// While low, and while high.
        halves: [Vec<Volts>; 2],
        /// Where it stands once the switch was turned away in the middle of the low half, and of the high one, then early and
        /// late; nothing where it is luck or could not be followed. Empty where there is nothing between two positions.
        left: [Vec<Option<Vec<Volts>>>; 2],
        /// For how long of a cycle the clock and its complement both read low, or both high.
        alike: Seconds,
    },
    /// It stands at these voltages: where it was low before, and where it was high.
    Stands {
        /// Left there from low, and from high.
        halves: [Vec<Volts>; 2],
    },
    /// It neither comes to rest nor runs evenly.
    Uneven,
    /// It could not be followed.
    Lost {
        /// Where the most current is missing.
        place: NodeName,
        /// How much.
        residual: Amps,
        /// Newton steps spent in vain.
        iterations: u32,
    },
}

/// The nets that an oscillator drives with their voltages, while the clock is low and while it is high.
pub type Output = Vec<(NetId, [Volts; 2])>;

/// One setting of the clock's switch.
#[derive(Debug)]
struct Setting {
    network: Network,
    /// The oscillator that the switch feeds: its group of nets. Nothing where there is no switch.
    group: Option<NetId>,
    /// What it does on a good board, and how long a cycle takes.
    good: Course,
    period: f64,
    /// The voltages of all watched nets, and of those that are charged, while the clock is low and while it is high.
    halves: [Vec<f64>; 2],
}

/// The voltages of all watched nets, and of those that are charged, at [`MOMENTS`] of the low half and of the high one; at the
/// end where the clock does not run.
type Stood = [[Vec<f64>; MOMENTS.len()]; 2];

/// What was followed, by setting and by the piece as it is and without the capacitors that do not matter.
type Known = HashMap<(usize, [Vec<u64>; 2]), Course>;

/// The clock of a board, ready to be asked what a change does to it.
#[derive(Debug)]
pub struct Oscillator<'e, 'b> {
    extracted: &'e Extracted<'b>,
    clock: ClockId,
    /// The clock, its complement, then what the oscillators drive.
    watched: Vec<NetId>,
    carried: usize,
    /// What else the oscillators' capacitors sit on.
    charged: Vec<NetId>,
    /// The nets that the switch feeds, in the order of its positions.
    contacts: Vec<NetId>,
    /// The oscillator that a net belongs to, named by one of its nets; nothing for what all share.
    group_of: Side<NetId, Option<NetId>>,
    /// By position; last, where there are several, the switch between two of them.
    settings: Vec<Setting>,
    known: Mutex<Known>,
}

/// When the switch is turned away, as shares of a half: a hand does it at any time. First the middle.
const MOMENTS: [f64; 3] = [0.5, 0.125, 0.875];
/// Steps are this exact, volts: the rate then is within a thousandth of what finer ones give.
const ERROR: Volts = Volts(1e-3);
/// So many good cycles are waited for, and in so many steps at most.
const PATIENCE: (f64, usize) = (25.0, 6_000);
/// Two oscillators at work are followed together when one is no more than so many times as slow as the other.
const SPREAD: f64 = 4.0;
/// Nothing moves when nothing has moved by more than this in the last fifth, volts.
const STILL: f64 = 5e-3;
/// A voltage that a change moves by less is as good as unmoved: in the oscillator that runs, whose rate it would
/// change, and in the gates behind it, which only switch.
const UNMOVED: (f64, f64) = (5e-3, 50e-3);

impl<'e, 'b> Oscillator<'e, 'b> {
    /// The good clock at each setting; nothing where it stands at one of them, or is not on the board.
    pub fn new(extracted: &'e Extracted<'b>, clock: ClockId) -> Option<Self> {
        let board = extracted.shape.board;
        let row = &board.clocks[clock];
        let nodes = &extracted.shape.nodes;
        let mut watched: Vec<NetId> = carried(row).into_iter().map(|net| nodes.first(net)).collect();
        let carried = watched.len();
        let sources = || extracted.shape.clusters.rows.rows().iter().filter(|cluster| cluster.is_source);
        if !sources().any(|cluster| cluster.drives.contains(&watched[0])) {
            return None;
        }
        let driven: Vec<NetId> = sources().flat_map(|cluster| cluster.drives.iter().copied()).collect();
        let hidden: Vec<NetId> = driven.into_iter().filter(|net| !watched.contains(net)).collect();
        watched.extend(hidden);
        let group_of = groups(extracted, &watched[..carried]);
        let contacts = contacts(extracted, clock);
        let mut all = Self {
            extracted,
            clock,
            charged: charged(extracted, &group_of, &watched),
            watched,
            carried,
            contacts,
            group_of,
            settings: Vec::new(),
            known: Mutex::default(),
        };
        let mut solver = Solver::default();
        for (position, rate) in row.rates.iter().enumerate() {
            let network = piece(extracted, row, position);
            let group = all.contacts.get(position).and_then(|&net| all.group_of[net]);
            let period = 1.0 / rate.rate.0;
            let empty = || [Vec::new(), Vec::new()];
            let mut setting = Setting { network, group, good: Course::Uneven, period, halves: empty() };
            let lean = without(&setting.network, &all.unfed(group, &[]));
            let (good, stood) = all.run(&lean, setting.period, false, &mut solver);
            let Course::Runs { rate, .. } = good else { return None };
            let good = all.turned_away(good, &stood, &[&lean], &mut solver);
            setting.period = 1.0 / rate.0;
            (setting.good, setting.halves) = (good, stood.map(|mut half| std::mem::take(&mut half[0])));
            all.settings.push(setting);
        }
        if !all.contacts.is_empty() {
            let network = piece(extracted, row, row.rates.len());
            let halves = all.settings[0].halves.clone();
            let period = all.settings.iter().map(|setting| setting.period).fold(0.0, f64::max);
            let good = all.let_go(&network, &halves, &mut solver);
            all.settings.push(Setting { network, group: None, good, period, halves });
        }
        Some(all)
    }

    /// The clock.
    pub fn clock(&self) -> ClockId {
        self.clock
    }

    /// The nets whose voltages a [`Course`] tells: the clock's, and its complement's where there is one.
    pub fn nets(&self) -> &[NetId] {
        &self.watched[..self.carried]
    }

    /// The nets that the switch feeds, in the order of its positions; none where there is no such switch.
    pub fn contacts(&self) -> &[NetId] {
        &self.contacts
    }

    /// How many settings there are: the positions and, where the switch has contacts, between two of them.
    pub fn settings(&self) -> usize {
        self.settings.len()
    }

    /// What the oscillator that the switch feeds at each position puts out on a good board, while the clock is low and while it is
    /// high; nothing where no switch tells which oscillator is at work.
    pub fn outputs(&self) -> Option<Vec<Output>> {
        let output = |Setting { group, halves, .. }: &Setting| -> Output {
            let driven = self.watched.iter().enumerate().skip(self.carried);
            let own = driven.filter(|(_, net)| group.is_some() && self.group_of[**net] == *group);
            own.map(|(at, &net)| (net, halves.each_ref().map(|volts| Volts(volts[at])))).collect()
        };
        let all: Vec<Output> = self.settings[..self.contacts.len()].iter().map(output).collect();
        (!all.is_empty() && all.iter().all(|output| !output.is_empty())).then_some(all)
    }

    /// What the clock of a good board does at a setting.
    pub fn good(&self, setting: usize) -> &Course {
        &self.settings[setting].good
    }

    /// Whether a part belongs to an oscillator, to what makes the clock of it, or is the clock's switch.
    pub fn holds(&self, part: PartId) -> bool {
        let shape = &self.extracted.shape;
        let ends = shape.nodes.ends(shape.board, part);
        let is_carried = |net: &NetId| self.nets().contains(net);
        let lifts = ends.iter().all(|net| is_carried(net) || shape.nodes.is_supply(*net))
            && ends.iter().any(is_carried)
            && matches!(shape.board.parts[part].kind, PartKind::Resistor { .. });
        let switch = shape.board.clocks[self.clock].selector == Some(part);
        let inside = self.settings[0].network.elements_of(part).next().is_some();
        switch || inside && (lifts || ends.iter().any(|&net| self.is_own(net)))
    }

    /// Whether a net is inside the oscillators and what makes the clock of them.
    pub fn is_own(&self, net: NetId) -> bool {
        let nodes = &self.extracted.shape.nodes;
        let net = nodes.first(net);
        let in_source = |net: NetId| {
            let mut pins = nodes.pins(self.extracted.shape.board, net);
            pins.any(|pin| {
                let part = self.extracted.shape.board.pins[pin].part;
                let cluster = self.extracted.shape.clusters.of_part[part];
                cluster.is_some_and(|id| self.extracted.shape.clusters.rows[id].is_source)
            })
        };
        !nodes.is_supply(net)
            && (self.group_of[net].is_some() || nodes.kind(net) == Node::Inside && in_source(net))
    }

    /// Whether solder between two nets stays within the oscillators, the clock that is made of them, and the supplies.
    pub fn joins(&self, a: NetId, b: NetId) -> bool {
        let nodes = &self.extracted.shape.nodes;
        let behind = |net: NetId| self.is_own(net) || self.nets().contains(&nodes.first(net));
        let known = |net: NetId| behind(net) || nodes.is_supply(net);
        known(a) && known(b) && (behind(a) || behind(b))
    }

    /// What the clock does at a setting with a change that touches some parts, and where it stands once the switch was turned away.
    pub fn with(
        &self,
        setting: usize,
        touched: &[PartId],
        change: &dyn Fn(&mut Network),
        solver: &mut Solver,
    ) -> Course {
        let row = &self.settings[setting];
        let mut network = row.network.clone();
        change(&mut network);
        let elsewhere = self.is_elsewhere(row, touched);
        if elsewhere && self.leaves_alone(row, change, solver) {
            return row.good.clone();
        }
        // What trickles through the gates into an oscillator that the switch does not feed can make it tremble, by
        // tenths of a volt behind a base resistor, where it moves nothing and takes a hundred times as long
        // to follow. So it goes without its capacitors, unless the change brings it nearer.
        let lean = without(&network, &self.unfed(row.group, if elsewhere { &[] } else { touched }));
        // Both: the same change may be said to touch more, and then less goes without its capacitors.
        let key = (setting, [&network, &lean].map(|piece| piece.anonymous().key));
        if let Some(known) = self.lock().get(&key) {
            return known.clone();
        }
        let (course, stood) = self.follow(setting, &network, &lean, solver);
        let piece = if self.fed(&network, solver).len() > 1 { &network } else { &lean };
        // Where an oscillator that the switch does not feed cannot be followed so quickly, without its capacitors.
        let still = without(&network, &self.unfed(row.group, &[]));
        let course = self.turned_away(course, &stood, &[piece, &still], solver);
        self.lock().insert(key, course.clone());
        course
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Known> {
        // A panic elsewhere leaves whole entries behind: each is inserted at once.
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whether all touched parts belong to oscillators that the switch does not feed.
    fn is_elsewhere(&self, setting: &Setting, touched: &[PartId]) -> bool {
        let shape = &self.extracted.shape;
        let foreign = |part: &PartId| {
            let ends = shape.nodes.ends(shape.board, *part);
            let fixed = matches!(shape.board.parts[*part].kind, PartKind::Selector | PartKind::Toggle);
            !fixed
                && ends
                    .iter()
                    .filter(|net| !shape.nodes.is_supply(**net))
                    .all(|&net| self.group_of[net].is_some() && self.group_of[net] != setting.group)
        };
        self.settings.len() > 1 && touched.iter().all(foreign)
    }

    /// Whether the change moves no voltage outside the oscillators that the switch does not feed, with the
    /// one that it feeds held as it stands in either half.
    fn leaves_alone(&self, setting: &Setting, change: &dyn Fn(&mut Network), solver: &mut Solver) -> bool {
        let own = |net: NetId| setting.group.is_some() && self.group_of[net] == setting.group;
        let board = self.extracted.shape.board;
        let looked: Vec<NetId> = board
            .nets
            .ids()
            .filter(|&net| {
                self.extracted.shape.nodes.first(net) == net && (own(net) || self.group_of[net].is_none())
            })
            .collect();
        setting.halves.iter().all(|volts| {
            let mut held = setting.network.clone();
            for (&net, &volts) in self.watched.iter().zip(volts) {
                if own(net) {
                    held.force(net, Volts(volts));
                }
            }
            let mut changed = held.clone();
            change(&mut changed);
            // Where a pair of gates keeps the clock either way, it is asked about the way it stands.
            let guess: Vec<(NetId, Volts)> = self.watched[..self.carried]
                .iter()
                .zip(volts)
                .map(|(&net, &volts)| (net, Volts(volts)))
                .collect();
            let (Ok(good), Ok(faulty)) =
                (solver.solve_near(&held, &guess), solver.solve_near(&changed, &guess))
            else {
                return false;
            };
            looked.iter().all(|&net| match (good.at(&held, net), faulty.at(&changed, net)) {
                (Some(good), Some(faulty)) => {
                    (good.0 - faulty.0).abs() < if own(net) { UNMOVED.0 } else { UNMOVED.1 }
                }
                _ => true,
            })
        })
    }

    /// Follows a changed piece.
    fn follow(
        &self,
        setting: usize,
        network: &Network,
        lean: &Network,
        solver: &mut Solver,
    ) -> (Course, Stood) {
        let row = &self.settings[setting];
        let fed = self.fed(network, solver);
        let several = fed.len() > usize::from(setting < self.contacts.len().max(1));
        let slowest = fed.iter().map(|&at| self.settings[at].period).fold(row.period, f64::max);
        let is_between = !self.contacts.is_empty() && setting == self.contacts.len();
        if is_between && !several {
            return (self.let_go(network, &row.halves, solver), Stood::default());
        }
        let quickest = fed.iter().map(|&at| self.settings[at].period).fold(row.period, f64::min);
        if slowest > SPREAD * quickest {
            // Two oscillators drive the clock at once, and one is much too slow to be followed beside the other.
            return (Course::Uneven, Stood::default());
        }
        let piece = if several { network } else { lean };
        let (found, last) = self.run(piece, slowest, several, solver);
        let found = match found {
            Course::Stands { .. } => match self.let_go(network, &row.halves, solver) {
                Course::Stands { halves } => {
                    let end: Vec<Volts> =
                        last[0][0][..self.carried].iter().map(|&volts| Volts(volts)).collect();
                    let near = |a: &[Volts]| a.iter().zip(&end).all(|(a, b)| (a.0 - b.0).abs() < 0.05);
                    let [low, high] = halves;
                    // What the start has led to counts, whatever the point at rest says.
                    let halves = if near(&low) || near(&high) { [low, high] } else { [low, end] };
                    Course::Stands { halves }
                }
                other => other,
            },
            other => other,
        };
        (found, last)
    }

    /// The same with where a clock that runs stands once the switch was turned away.
    fn turned_away(&self, found: Course, at: &Stood, pieces: &[&Network], solver: &mut Solver) -> Course {
        let row = &self.extracted.shape.board.clocks[self.clock];
        let (Course::Runs { rate, halves, alike, .. }, Some(switch)) = (&found, row.selector) else {
            return found;
        };
        if self.contacts.is_empty() {
            return found;
        }
        let nets = || self.watched.iter().chain(&self.charged).copied();
        let mut follow = |volts: &Vec<f64>| {
            // Two gates of which neither is plainly on top fall as luck has it.
            if !self.is_opposite(volts) {
                return None;
            }
            let stood: Vec<(NetId, Volts)> = nets().zip(volts.iter().map(|&volts| Volts(volts))).collect();
            let mut pieces = pieces.iter();
            pieces.find_map(|piece| turned(piece, (switch, row.rates.len()), &stood, self.nets(), solver))
        };
        let left = at.each_ref().map(|half| half.iter().map(&mut follow).collect());
        Course::Runs { rate: *rate, halves: halves.clone(), left, alike: *alike }
    }

    /// For how long of the last cycle the clock and its complement both read low, or both high.
    fn alike(&self, trace: &Trace, period: f64) -> Seconds {
        let end = trace.times.last().copied().unwrap_or(0.0);
        let is_alike = |at: usize| self.is_alike(|net| trace.volts[net][at]);
        let steps = (1..trace.times.len()).filter(|&at| trace.times[at - 1] >= end - period);
        let alike = steps.filter(|&at| is_alike(at - 1) && is_alike(at));
        Seconds(alike.map(|at| trace.times[at] - trace.times[at - 1]).sum())
    }

    /// Whether the clock's complement, where it has one, reads as the other level than the clock.
    fn is_opposite(&self, volts: &[f64]) -> bool {
        let read = |at: usize| self.extracted.levels[self.watched[at]].thresholds.read(Volts(volts[at]));
        read(0).is_some_and(|high| (1..self.carried).all(|at| read(at) == Some(!high)))
    }

    /// Whether the clock and its complement both read low, or both high, at the volts of each watched net.
    fn is_alike(&self, volts: impl Fn(usize) -> f64) -> bool {
        let read = |at: usize| self.extracted.levels[self.watched[at]].thresholds.read(Volts(volts(at)));
        read(0).is_some_and(|high| (1..self.carried).any(|at| read(at) == Some(high)))
    }

    /// The capacitors of the oscillators other than this one and those that are touched.
    fn unfed(&self, group: Option<NetId>, touched: &[PartId]) -> Vec<PartId> {
        let shape = &self.extracted.shape;
        let ends = touched.iter().flat_map(|&part| shape.nodes.ends(shape.board, part));
        let near: Vec<NetId> = ends.filter_map(|net| self.group_of[net]).collect();
        let foreign = |net: &NetId| {
            self.group_of[*net].is_some_and(|other| Some(other) != group && !near.contains(&other))
        };
        let capacitors =
            shape.board.parts.iter().filter(|(_, part)| matches!(part.kind, PartKind::Capacitor { .. }));
        let foreign = capacitors.filter(|(id, _)| shape.nodes.ends(shape.board, *id).iter().all(foreign));
        if group.is_some() { foreign.map(|(id, _)| id).collect() } else { Vec::new() }
    }

    /// The positions whose contact has power.
    fn fed(&self, network: &Network, solver: &mut Solver) -> Vec<usize> {
        let Ok(point) = solver.solve(network) else { return Vec::new() };
        let rail = self.extracted.shape.rail;
        let fed = |net: NetId| point.at(network, net).is_some_and(|volts| volts.0 > 0.5 * rail.0);
        (0..self.contacts.len()).filter(|&at| fed(self.contacts[at])).collect()
    }

    /// From power-on until two cycles are alike or nothing moves; also how all watched nets stood then.
    fn run(&self, network: &Network, period: f64, several: bool, solver: &mut Solver) -> (Course, Stood) {
        let nameless = network.anonymous();
        let spots: Vec<Spot> = self
            .watched
            .iter()
            .chain(&self.charged)
            .map(|&net| {
                network.find(net).and_then(|node| nameless.node(node)).map_or(Spot::Net(net), Spot::Node)
            })
            .collect();
        let middle: Vec<f64> =
            self.watched.iter().map(|&net| self.extracted.levels[net].thresholds.middle().0).collect();
        let mut beats: Vec<Beats> = middle.iter().map(|&level| Beats::new(level)).collect();
        let (patience, most) = PATIENCE;
        // With several oscillators at work one even stretch says nothing: the slowest must have gone round.
        let least = if several { 2.2 * period } else { period };
        let until = if several { least } else { patience * period };
        let mut seen = 0;
        let mut go_on = |trace: &Trace| {
            if trace.times.len() < 2 {
                seen = 0;
                beats.iter_mut().for_each(Beats::forget);
            }
            while seen + 1 < trace.times.len() {
                seen += 1;
                for (beats, volts) in beats.iter_mut().zip(&trace.volts) {
                    beats.note(&trace.times[seen - 1..=seen], &volts[seen - 1..=seen]);
                }
            }
            let now = trace.times.last().copied().unwrap_or(0.0);
            trace.times.len() < most && (several || now < least || reference(&beats, self.carried).is_none())
        };
        let pace = Pace { error: ERROR, ..Pace::default() };
        let starts = self.starts(network, &nameless, period);
        let trace = starts.first_followed(solver, &mut |solver, network, from, events| {
            solver.transient_while(network, from, events, Seconds(until), &spots, pace, &mut go_on)
        });
        let trace = match trace {
            Ok(trace) => trace,
            Err(failure) => {
                let at = network.nodes().find(|(node, _)| {
                    nameless.node(*node).is_some_and(|node| failure.node == NodeName::Free(node))
                });
                let place = at.map_or(failure.node, |(_, name)| name);
                let Failure { residual, iterations, .. } = failure;
                return (Course::Lost { place, residual, iterations }, Stood::default());
            }
        };
        self.course(&trace, &beats, several)
    }

    /// The ways to begin with a piece.
    fn starts<'n>(&self, network: &Network, nameless: &'n Anonymous, period: f64) -> Starts<'n> {
        let node = |net: NetId| network.find(net).and_then(|node| nameless.node(node));
        let rails = self.extracted.shape.board.nets.iter().filter_map(|(net, row)| match row.supply {
            Some(Supply::Rail { volts, .. }) => Some((node(net)?, volts)),
            _ => None,
        });
        let low = self.settings.first().map_or(&[][..], |setting| &setting.halves[0]);
        let driven = self.watched.iter().zip(low).skip(self.carried);
        let held = driven.filter_map(|(&net, &volts)| Some((node(net)?, Volts(volts))));
        Starts::new(&nameless.network, rails.collect(), held.collect(), period)
    }

    /// What a piece did, and how all watched nets stood.
    fn course(&self, trace: &Trace, beats: &[Beats], several: bool) -> (Course, Stood) {
        let all = |time: f64| -> Vec<f64> {
            (0..trace.volts.len()).map(|spot| trace.at(spot, time).unwrap_or(0.0)).collect()
        };
        let kept =
            |volts: &[f64]| volts[..self.carried].iter().map(|&volts| Volts(volts)).collect::<Vec<_>>();
        let end = trace.times.last().copied().unwrap_or(0.0);
        if let Some(at) = reference(beats, self.carried)
            && (!several || trace.complete && beats[at].is_even_since(0.5 * end))
        {
            let mut stood = beats[at].moments(MOMENTS).map(|half| half.map(all));
            if !self.goes_with_clock(at) {
                stood.reverse();
            }
            let period = beats[at].period();
            let halves = stood.each_ref().map(|half| kept(&half[0]));
            let alike = self.alike(trace, period);
            return (
                Course::Runs { rate: Hertz(1.0 / period), halves, left: Default::default(), alike },
                stood,
            );
        }
        let (before, last) = (all(0.8 * end), all(end));
        let mut moved = before.iter().zip(&last).take(self.watched.len());
        let still = moved.all(|(a, b)| (a - b).abs() < STILL);
        let course = if trace.complete && still {
            Course::Stands { halves: [kept(&last), kept(&last)] }
        } else {
            Course::Uneven
        };
        (course, [0, 1].map(|_| MOMENTS.map(|_| last.clone())))
    }

    /// Whether a watched net is high while the good clock is.
    fn goes_with_clock(&self, at: usize) -> bool {
        let good = self.settings.iter().find(|setting| {
            let middle = self.extracted.levels[self.watched[at]].thresholds.middle().0;
            (setting.halves[0][at] < middle) != (setting.halves[1][at] < middle)
        });
        at == 0 || good.is_some_and(|setting| setting.halves[1][at] > setting.halves[0][at])
    }

    /// Where the clock comes to rest when it is let go from low, and from high.
    fn let_go(&self, network: &Network, from: &[Vec<f64>; 2], solver: &mut Solver) -> Course {
        let mut halves = [Vec::new(), Vec::new()];
        for (half, from) in halves.iter_mut().zip(from) {
            let from = self.nets().iter().zip(from).map(|(&net, &volts)| (net, Volts(volts)));
            match let_go(network, from, solver) {
                Ok(point) => {
                    let volts = self.nets().iter().map(|&net| point.at(network, net).unwrap_or_default());
                    *half = volts.collect();
                }
                Err(failure) => {
                    let Failure { node: place, residual, iterations, .. } = failure;
                    return Course::Lost { place, residual, iterations };
                }
            }
        }
        Course::Stands { halves }
    }
}

/// What the capacitors of the oscillators sit on, besides the nets that are watched.
fn charged(extracted: &Extracted, group_of: &Side<NetId, Option<NetId>>, watched: &[NetId]) -> Vec<NetId> {
    let shape = &extracted.shape;
    let capacitors =
        shape.board.parts.iter().filter(|(_, part)| matches!(part.kind, PartKind::Capacitor { .. }));
    let mut nets: Vec<NetId> = capacitors
        .flat_map(|(id, _)| shape.nodes.ends(shape.board, id))
        .filter(|net| group_of[*net].is_some() && !watched.contains(net))
        .collect();
    nets.sort_unstable();
    nets.dedup();
    nets
}

/// A network without some parts.
fn without(network: &Network, parts: &[PartId]) -> Network {
    let mut network = network.clone();
    for &part in parts {
        network.remove(part);
    }
    network
}
