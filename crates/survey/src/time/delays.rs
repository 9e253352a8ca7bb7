//! Gate delays: from an input's middle to the output's, with the real driver before the stage and the
//! real loads behind it.
//!
//! The piece solved is the stage, whatever drives the input, and all that loads the two nets. The driver's
//! own input gets a clean edge up and, when all has come to rest, one down. Equal pieces are solved once.

use super::cut::cut;
use dryjoint_board::NetId;
use dryjoint_circuit::{Action, Event, Network, Pace, Solver, Spot};
use dryjoint_ids::{Id, Side};
use dryjoint_logic::{Extracted, Function, SignalId, Stage, StageId};
use dryjoint_units::{Seconds, Volts};
use std::collections::{BTreeMap, HashMap};

/// The delays from one input of a stage to its output.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Delay {
    /// Until the output has risen; nothing where this input alone does not make it rise.
    pub rise: Option<Seconds>,
    /// Until it has fallen.
    pub fall: Option<Seconds>,
}

/// The delays of every stage, input by input in the order of its inputs.
#[derive(Clone, Debug)]
pub struct Delays {
    pub(crate) rows: Side<StageId, Vec<Delay>>,
    /// What a stage takes whose delay could not be found: the median of all others, in seconds.
    pub(crate) usual: f64,
}

impl Delays {
    /// The delays of a stage, in the order of its inputs.
    pub fn of(&self, stage: StageId) -> &[Delay] {
        &self.rows[stage]
    }
}

/// When the edges begin, how long each takes, and how long the piece is left to come to rest, seconds.
const EDGES: (f64, f64, f64) = (0.2e-6, 50e-9, 6e-6);
/// A voltage step may err by this: a thousandth of the way an edge takes.
const PACE: Pace = Pace { error: Volts(1e-3), longest: Seconds(f64::INFINITY) };

/// Finds delays, each distinct piece once.
pub(crate) struct Delayer<'e, 'b> {
    extracted: &'e Extracted<'b>,
    drivers: Side<SignalId, Vec<StageId>>,
    known: HashMap<Vec<u64>, Delay>,
}

impl<'e, 'b> Delayer<'e, 'b> {
    pub(crate) fn new(extracted: &'e Extracted<'b>) -> Self {
        let logic = &extracted.logic;
        let mut drivers = Side::filled(&logic.signals, Vec::new());
        for (id, stage) in logic.stages.iter() {
            drivers[stage.output].push(id);
        }
        Self { extracted, drivers, known: HashMap::new() }
    }

    /// The delays of all stages that drive a net.
    pub(crate) fn all(mut self, solver: &mut Solver) -> Delays {
        let logic = &self.extracted.logic;
        let mut rows = Side::filled(&logic.stages, Vec::new());
        for (id, stage) in logic.stages.iter() {
            rows[id] = (0..stage.inputs.len()).map(|input| self.of(stage, input, solver)).collect();
        }
        let found = rows.iter().flat_map(|(_, row): (_, &Vec<Delay>)| row);
        let mut all: Vec<f64> = found.flat_map(|one| [one.rise, one.fall]).flatten().map(|s| s.0).collect();
        all.sort_by(f64::total_cmp);
        let usual = all.get(all.len() / 2).copied().unwrap_or(0.0);
        Delays { rows, usual }
    }

    fn of(&mut self, stage: &Stage, input: usize, solver: &mut Solver) -> Delay {
        let logic = &self.extracted.logic;
        let (Some(output), Some(from)) =
            (logic.signals[stage.output].net, logic.signals[stage.inputs[input]].net)
        else {
            return Delay::default();
        };
        let Some(low) = self.sensitive(stage, input) else { return Delay::default() };
        let mut held: BTreeMap<NetId, bool> = BTreeMap::new();
        self.hold(stage, low, &mut held);
        // The driver before it, where one can be moved by an input of its own that is not held yet.
        let before = self.drivers[stage.inputs[input]].iter().find_map(|&id| {
            let driver = &logic.stages[id];
            (0..driver.inputs.len()).find_map(|k| {
                let net = logic.signals[driver.inputs[k]].net?;
                let row = self.sensitive(driver, k)?;
                let free = net != output && net != from && !held.contains_key(&net);
                let mut all = held.clone();
                self.hold(driver, row, &mut all);
                free.then_some((net, all))
            })
        });
        held.remove(&from);
        let (source, held) = match before {
            Some((net, all)) => (net, all),
            None => (from, held),
        };
        self.measure(source, from, output, &held, solver)
    }

    /// A row with this input low that the input alone turns over.
    fn sensitive(&self, stage: &Stage, input: usize) -> Option<usize> {
        let Function::Found(rows) = &stage.function else { return None };
        let rest = self.extracted.levels[self.extracted.logic.signals[stage.output].net?].rest;
        let value = |row: usize| rows[row].resolve(rest).value();
        let turns = |&row: &usize| {
            let (low, high) = (value(row), value(row | 1 << input));
            row >> input & 1 == 0 && low.is_some() && high.is_some() && low != high
        };
        (0..rows.len()).filter(turns).min_by_key(|row| row.count_ones())
    }

    fn hold(&self, stage: &Stage, row: usize, held: &mut BTreeMap<NetId, bool>) {
        for (bit, &signal) in stage.inputs.iter().enumerate() {
            if let Some(net) = self.extracted.logic.signals[signal].net {
                held.entry(net).or_insert(row >> bit & 1 != 0);
            }
        }
    }

    fn measure(
        &mut self,
        source: NetId,
        from: NetId,
        output: NetId,
        held: &BTreeMap<NetId, bool>,
        solver: &mut Solver,
    ) -> Delay {
        let levels = &self.extracted.levels;
        let hold = |net: NetId| {
            if net == source {
                return Some(levels[net].low);
            }
            let volts = levels[net].volts(held.get(&net).copied().unwrap_or(false));
            // To a fiftieth of a volt, so that stages alike are alike.
            Some(Volts((volts.0 * 50.0).round() / 50.0))
        };
        let free: Vec<NetId> = if source == from { vec![output] } else { vec![from, output] };
        let mut network = cut(self.extracted, &free, &hold, false);
        network.force(source, levels[source].low);
        let middles = [from, output].map(|net| levels[net].thresholds.middle().0);
        let key = self.key(&network, [source, from, output], middles);
        if let Some(known) = key.as_ref().and_then(|key| self.known.get(key)) {
            return *known;
        }
        let guess = |net: NetId, high: bool| (net, levels[net].volts(high));
        let guess: Vec<(NetId, Volts)> = held.iter().map(|(&net, &high)| guess(net, high)).collect();
        let found = edges(&network, &guess, [source, from, output], levels[source].high, middles, solver);
        if let Some(key) = key {
            self.known.insert(key, found);
        }
        found
    }

    fn key(&self, network: &Network, nets: [NetId; 3], middles: [f64; 2]) -> Option<Vec<u64>> {
        let nameless = network.anonymous();
        let mut key = nameless.key.clone();
        for net in nets {
            key.push(nameless.node(network.find(net)?)?.index() as u64);
        }
        key.extend(middles.map(|volts| (volts * 100.0).round() as u64));
        key.push((self.extracted.levels[nets[0]].high.0 * 50.0).round() as u64);
        Some(key)
    }
}

/// Both edges of the source, and what they do.
fn edges(
    network: &Network,
    guess: &[(NetId, Volts)],
    [source, from, output]: [NetId; 3],
    high: Volts,
    middles: [f64; 2],
    solver: &mut Solver,
) -> Delay {
    let (start, over, rest) = EDGES;
    let Ok(before) = solver.solve_near(network, guess) else { return Delay::default() };
    let low = before.at(network, source).unwrap_or_default();
    let drive = |at: f64, to: Volts| Event {
        at: Seconds(at),
        action: Action::Drive { spot: source.into(), to, over: Seconds(over) },
    };
    let events = [drive(start, high), drive(start + rest, low)];
    let watch: [Spot; 2] = [from.into(), output.into()];
    let until = Seconds(start + 2.0 * rest);
    let Ok(trace) = solver.transient(network, Some(&before), &events, until, &watch, PACE) else {
        return Delay::default();
    };
    let mut delay = Delay::default();
    for edge in 0..2 {
        let begins = start + edge as f64 * rest;
        let within = |at: &f64| *at < begins + rest;
        let moved = |spot: usize, up: bool| trace.crossing(spot, middles[spot], up, begins).filter(within);
        let Some(at) = moved(0, true).or_else(|| moved(0, false)) else { continue };
        let after = |until: f64| Seconds((until - at).max(0.0));
        delay.rise = delay.rise.or(moved(1, true).map(after));
        delay.fall = delay.fall.or(moved(1, false).map(after));
    }
    delay
}
