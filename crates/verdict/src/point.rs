//! Operating points of the whole board with a fault in it, near what the lanes say of that fault:
//! what a meter would read.
//!
//! The lanes tell at which levels latches and clocks are; the point is looked for near that, and one at which they are at
//! others is another unit's. What nobody knows is held to one side, then to the other, and let go of both times: where
//! both come to the same, the meter's figure is known after all.

use crate::inquiry::known;
use crate::tell::Teller;
use dryjoint_board::{LineId, NetId, Part, PartId, PinId};
use dryjoint_circuit::{Network, NoSolution, Solution, Solver};
use dryjoint_faults::dial::Dial;
use dryjoint_faults::lanes::Shown;
use dryjoint_faults::{Fault, FaultId};
use dryjoint_ids::Id;
use dryjoint_logic::{Level, SignalId};
use dryjoint_procedure::Study;
use dryjoint_session::{Clocks, Wiring};
use dryjoint_units::{Amps, Volts, Watts};
use std::collections::BTreeSet;

/// What a meter reads on one unit at one look.
///
/// Where it depends on how latches woke up, the board is solved for two ways; what differs then is not
/// known.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Volts of each net, by the net's place in the board's table; nothing where no part holds it.
    volts: Vec<Option<(Volts, Volts)>>,
    supply: (Amps, Amps),
    /// What each part turns into heat, by its place in the board's table.
    heat: Vec<Watts>,
    /// Whether the lanes knew every signal.
    sure: bool,
}

impl Point {
    /// A meter's volts between a net and ground, with what is not known low and high.
    pub fn both(&self, net: NetId) -> Option<(Volts, Volts)> {
        self.volts.get(net.index()).copied().flatten()
    }

    /// A meter's volts between a net and ground, where they are known.
    pub fn volts(&self, net: NetId) -> Option<Volts> {
        let (low, high) = self.both(net)?;
        ((low - high).abs() < SAME).then_some(low)
    }

    /// Whether nothing hangs on how latches woke up.
    pub fn is_sure(&self) -> bool {
        self.sure
    }

    /// What a part turns into heat.
    pub fn heat(&self, part: PartId) -> Watts {
        self.heat.get(part.index()).copied().unwrap_or(Watts(0.0))
    }

    /// What the hottest part turns into heat.
    pub fn hottest(&self) -> Watts {
        Watts(self.heat.iter().fold(0.0, |most, heat| heat.0.max(most)))
    }

    /// What all supplies together give, on the middle of what is not known.
    pub fn supply(&self) -> Amps {
        (self.supply.0 + self.supply.1) / 2.0
    }
}

/// Voltages that lie as close as this are the same to a meter.
const SAME: Volts = Volts(0.05);

/// A rail at less than this share of its voltage is down (judgement).
const DOWN: f64 = 0.8;

/// Newton steps after which the good board is given up, from which all others start.
const PATIENT_ONCE: u32 = 1_000;

/// The same for the one unit that is at the bench.
const PATIENT: u32 = 20_000;

/// Whose point: a fault's, or the good board's.
pub type Whose = Option<FaultId>;

/// A plug one pin off makes another circuit from the start: no other's solution is like it.
pub fn is_shifted(study: &Study, whose: Whose) -> bool {
    whose.is_some_and(|fault| matches!(study.faults[fault], Fault::Shifted(..)))
}

/// The circuit of a unit.
pub fn wiring<'b>(study: &Study<'_, 'b>, whose: Whose) -> Wiring<'b> {
    let fault = whose.map(|fault| study.faults[fault]);
    Wiring::new(study.extracted, fault.as_slice())
}

/// The power that goes into a part through all its pins.
fn heat(network: &Network, solution: &Solution, part: &Part) -> f64 {
    let flow = |&pin: &PinId| Some(solution.at(network, pin)?.0 * solution.pin(network, pin)?.0);
    part.pins.iter().filter_map(flow).sum()
}

/// How a unit stands at a look: the lines tied, what the lanes say of each signal for sure, and what they say from two drawn
/// ways of waking up.
#[derive(Clone, Copy)]
struct Stand<'w> {
    tied: &'w BTreeSet<LineId>,
    told: &'w dyn Fn(SignalId) -> Shown,
    drawn: &'w dyn Fn(SignalId) -> (Shown, Shown),
}

impl Stand<'_> {
    /// A unit with its clock source in it, where that stands: what makes a clock is parts like any others then. With a
    /// fault in it of which the lanes do not know how it stands it may run.
    fn standing(&self, study: &Study, whose: Whose) -> Option<Network> {
        let known = |signal: SignalId| {
            let (one, other) = (self.drawn)(signal);
            one == other && known(one).is_some()
        };
        let board = study.extracted.shape.board;
        // Nothing but a fault in it makes the clock source run with its switch between two positions.
        let touched = whose.is_some_and(|fault| {
            study.faults[fault].parts(board).into_iter().any(|part| is_source(study, part))
        });
        if touched && !study.rig.dials().iter().flat_map(outputs).all(|(signal, _)| known(signal)) {
            return None;
        }
        wiring(study, whose).standing(self.tied.iter().copied())
    }
}

/// Whether a part makes a clock.
fn is_source(study: &Study, part: PartId) -> bool {
    let clusters = &study.extracted.shape.clusters;
    clusters.of_part[part].is_some_and(|id| clusters.rows[id].is_source)
}

/// The good board's solution at a look.
pub fn good(study: &Study, teller: &Teller, look: usize, holds: &Holds) -> Option<Solution> {
    let told = |signal: SignalId| teller.good(look, signal);
    let drawn = |signal: SignalId| teller.drawn(look, None, signal);
    let stand = Stand { tied: teller.tied(look), told: &told, drawn: &drawn };
    let network = stand.standing(study, None);
    let network =
        network.unwrap_or_else(|| wiring(study, None).tied(stand.tied.iter().copied(), &Clocks::default()));
    let solver = &mut Solver::impatient(PATIENT_ONCE);
    Work { study, whose: None, stand, solver, holds, good: None, steps: 0 }.solve(
        &network,
        &|signal| drawn(signal).0,
        false,
    )
}

/// What a meter reads on a unit at a look, and the Newton steps that took; `index` tells where in the teller's list its group
/// stands, `good` is the good board's solution at that look.
pub fn at_look(
    (study, holds): (&Study, &Holds),
    (whose, index): (Whose, Option<usize>),
    (teller, look): (&Teller, usize),
    solver: &mut Solver,
    good: Option<&Solution>,
) -> (Option<Point>, u32) {
    let told = |signal: SignalId| match index {
        Some(index) => teller.shown(look, index, signal),
        None => teller.good(look, signal),
    };
    let drawn = |signal: SignalId| teller.drawn(look, index, signal);
    let stand = Stand { tied: teller.tied(look), told: &told, drawn: &drawn };
    let mut work = Work { study, whose, stand, solver, holds, good, steps: 0 };
    (work.point(), work.steps)
}

/// What a meter reads on the one unit at the bench, of which it is known what every signal is.
pub fn at_bench(
    study: &Study,
    whose: Whose,
    (teller, look): (&Teller, usize),
    level: &dyn Fn(SignalId) -> Shown,
) -> Option<Point> {
    let drawn = |signal: SignalId| (level(signal), level(signal));
    let stand = Stand { tied: teller.tied(look), told: level, drawn: &drawn };
    let holds = &holds(study);
    let good = good(study, teller, look, holds);
    let solver = &mut Solver::impatient(PATIENT);
    Work { study, whose, stand, solver, holds, good: good.as_ref(), steps: 0 }.point()
}

/// The signals that lie on a net, with it. What a clock source has inside is left out: where that stands, nothing in it is at
/// a level, and a guess that no point keeps costs all who are solved the slow way.
fn signals(study: &Study) -> impl Iterator<Item = (SignalId, NetId)> {
    let signals = study.extracted.logic.signals.iter();
    signals.filter_map(|(id, signal)| Some((id, signal.net?))).filter(|&(_, net)| !is_in_source(study, net))
}

/// The volts that known levels stand for.
fn guess(study: &Study, level: impl Fn(SignalId) -> Shown) -> Vec<(NetId, Volts)> {
    let nets = signals(study).filter_map(|(id, net)| Some((net, known(level(id))?)));
    nets.map(|(net, high)| (net, study.extracted.levels[net].volts(high))).collect()
}

/// What a clock source puts out, and whether that is high where the clock is.
fn outputs(dial: &Dial) -> impl Iterator<Item = (SignalId, bool)> + use<> {
    let high: Vec<_> = dial.standing(Level::One).collect();
    high.into_iter().map(|(signal, level)| (signal, level == Level::One))
}

/// What holds a level of its own, each as nets that go with it and whether they go the same way: latches, and what a clock
/// source puts out.
pub type Holds = Vec<Vec<(NetId, bool)>>;

/// All of a board.
pub fn holds(study: &Study) -> Holds {
    let signals = &study.extracted.logic.signals;
    let latches = study.latches().into_iter().map(|latch| vec![(latch, true)]);
    let clocks = study.rig.dials().iter().map(|dial| outputs(dial).collect());
    let on_nets = |all: Vec<(SignalId, bool)>| {
        all.into_iter().filter_map(|(signal, same)| Some((signals[signal].net?, same))).collect()
    };
    latches.chain(clocks).map(on_nets).collect()
}

/// Whether a net lies in a clock source, and is not what that puts out.
fn is_in_source(study: &Study, net: NetId) -> bool {
    let board = study.extracted.shape.board;
    let is_output =
        |dial: &Dial| outputs(dial).any(|(signal, _)| study.extracted.signal_of[net] == Some(signal));
    board.nets[net].pins.iter().any(|&pin| is_source(study, board.pins[pin].part))
        && !study.rig.dials().iter().any(is_output)
}

/// One unit at one look, as the lanes have it.
struct Work<'w, 's, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    whose: Whose,
    stand: Stand<'w>,
    solver: &'w mut Solver,
    holds: &'w Holds,
    /// The good board's solution at this look.
    good: Option<&'w Solution>,
    /// Newton steps taken.
    steps: u32,
}

impl Work<'_, '_, '_, '_> {
    fn point(&mut self) -> Option<Point> {
        let Self { study, whose, stand, .. } = *self;
        let extracted = study.extracted;
        if is_shifted(study, whose) {
            self.good = None;
        }
        let standing = stand.standing(study, whose);
        let stands = standing.is_some();
        if !stands && !extracted.shape.board.clocks.is_empty() {
            // The good board's point has the clock source in it.
            self.good = None;
        }
        // Without its source a clock of which nothing is known is low in one way, and high in the other.
        let network = |level: &dyn Fn(SignalId) -> Shown, side: bool| {
            let clock = |signal: SignalId| {
                let is_clock = study.rig.dials().iter().any(|dial| dial.signal == signal);
                Some(known(level(signal)).unwrap_or(side == is_clock))
            };
            let clocks = || Clocks::at_rest(extracted, &clock);
            let tied = || wiring(study, whose).tied(stand.tied.iter().copied(), &clocks());
            standing.clone().unwrap_or_else(tied)
        };
        let drawn = |signal: SignalId| (stand.drawn)(signal);
        let (one, other) = (|signal: SignalId| drawn(signal).0, |signal: SignalId| drawn(signal).1);
        let circuit = network(&one, false);
        let low = self.solve(&circuit, &one, false)?;
        let open = signals(study).any(|(id, _)| drawn(id).0 != drawn(id).1 || known(drawn(id).0).is_none());
        let high = if open { self.solve(&network(&other, true), &other, true)? } else { low.clone() };
        // Without the clock source nothing is known of its nets.
        let board = extracted.shape.board;
        let is_held = |net: NetId| {
            !stands
                && board.nets[net].supply.is_none()
                && board.nets[net].pins.iter().any(|&pin| is_source(study, board.pins[pin].part))
        };
        let both = |net: NetId| {
            let node = circuit.find(net).filter(|_| !is_held(net))?;
            Some(self.believed(net, (low.node(node), high.node(node))))
        };
        let amps =
            |solution: &Solution| Amps(solution.deliveries().iter().map(|delivery| delivery.amps.0).sum());
        let heat = |part: &Part| heat(&circuit, &low, part).max(heat(&circuit, &high, part));
        Some(Point {
            heat: extracted.shape.board.parts.rows().iter().map(|part| Watts(heat(part))).collect(),
            sure: signals(study).all(|(id, _)| known((stand.told)(id)).is_some()),
            volts: extracted.shape.board.nets.ids().map(both).collect(),
            supply: (amps(&low), amps(&high)),
        })
    }

    /// What a meter reads on a net in the two ways. Where the point has it at another level than is known, either may be
    /// wrong. Where nobody knows its level, that both ways come to one side proves nothing: more than one latch stands in more
    /// ways than two.
    fn believed(&self, net: NetId, (low, high): (Volts, Volts)) -> (Volts, Volts) {
        let Some(signal) = self.study.extracted.signal_of[net] else { return (low, high) };
        let levels = &self.study.extracted.levels[net];
        let drawn = (self.stand.drawn)(signal);
        match (levels.read(low), levels.read(high), known(drawn.0), known(drawn.1)) {
            (Some(one), Some(other), told, also) if one == other && told == also && told != Some(one) => {
                (low, levels.volts(!one))
            }
            _ => (low, high),
        }
    }

    /// How the unit stands: near the levels that are known. What holds a level that nobody knows is held to one side, or the
    /// other, and let go of.
    fn solve(
        &mut self,
        network: &Network,
        level: &dyn Fn(SignalId) -> Shown,
        side: bool,
    ) -> Option<Solution> {
        let extracted = self.study.extracted;
        let levels = guess(self.study, level);
        let is_open =
            |net: NetId| extracted.signal_of[net].is_some_and(|signal| known(level(signal)).is_none());
        let at = |&(net, same): &(NetId, bool)| {
            let known = extracted.signal_of[net].and_then(|signal| known(level(signal)));
            (net, extracted.levels[net].volts(known.unwrap_or(side == same)))
        };
        let held: Vec<(NetId, Volts)> = self.holds.iter().flatten().map(at).collect();
        let open = self.holds.iter().any(|nets| nets.first().is_some_and(|&(net, _)| is_open(net)));
        self.keeping(network, &levels, &held, open)
    }

    /// A point near known levels that keeps them. Where Newton jumps to one at which latches hold others, or where something that
    /// is held is `open`, nothing being known of it, it is let go of from there. A point at which a latch stands otherwise
    /// than is known is another unit's.
    fn keeping(
        &mut self,
        network: &Network,
        levels: &[(NetId, Volts)],
        held: &[(NetId, Volts)],
        open: bool,
    ) -> Option<Solution> {
        let all = &self.study.extracted.levels;
        let keeps = |point: &Solution, &(net, volts): &(NetId, Volts)| {
            let now = point.at(network, net).and_then(|now| all[net].read(now));
            now.is_none() || now == all[net].read(volts)
        };
        let guess = [levels, &self.source(network)].concat();
        let near = if open { None } else { self.near(network, &guess) };
        if near.as_ref().is_some_and(|near| levels.iter().all(|level| keeps(near, level))) {
            return near;
        }
        let is_held = |net: NetId| held.iter().any(|&(held, _)| held == net);
        // What the lanes know of latches is not of a circuit whose plug sits one pin off; and with its rail down a unit has none.
        let shifted = is_shifted(self.study, self.whose);
        let latched = levels.iter().filter(|&&(net, _)| !shifted && is_held(net));
        let latched: Vec<(NetId, Volts)> = latched.copied().collect();
        let (rail, nominal) = (self.study.extracted.shape.rail_net(), self.study.extracted.shape.rail);
        let is_down = |point: &Solution| point.at(network, rail).is_none_or(|now| now < nominal * DOWN);
        let stands = |point: &Solution| is_down(point) || latched.iter().all(|level| keeps(point, level));
        let point = self.solver.let_go(network, &guess, held);
        let point = self.counted(point).filter(&stands).or(near.filter(&stands));
        point.or_else(|| {
            let any = self.solver.solve(network);
            self.counted(any).filter(stands)
        })
    }

    /// The volts in clock sources that stand as on the good board; nothing is lost where they do not.
    fn source(&self, network: &Network) -> Vec<(NetId, Volts)> {
        let Some(good) = self.good else { return Vec::new() };
        let nets = self.study.extracted.shape.board.nets.ids();
        let inside = nets.filter(|&net| is_in_source(self.study, net));
        inside.filter_map(|net| Some((net, good.at(network, net)?))).collect()
    }

    /// The point near a guess, beside the good board's.
    fn near(&mut self, network: &Network, guess: &[(NetId, Volts)]) -> Option<Solution> {
        let near = match self.good {
            Some(good) => self.solver.solve_beside(network, guess, good),
            None => self.solver.solve_near(network, guess),
        };
        self.counted(near)
    }

    fn counted(&mut self, point: Result<Solution, NoSolution>) -> Option<Solution> {
        self.steps += point.as_ref().map_or_else(|failure| failure.iterations, |point| point.iterations);
        point.ok()
    }
}
