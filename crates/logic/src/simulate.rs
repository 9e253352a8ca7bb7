//! One machine with all nine levels, event by event.
//!
//! This form and the lanes of many machines mean the same; this one keeps strengths apart and names
//! the loop when something will not come to rest.

use crate::{Function, Level, Logic, SignalId, StageId};
use dryjoint_ids::Side;
use std::collections::{BTreeMap, VecDeque};

/// Changes of one signal within one settling after which it counts as oscillating.
const RESTLESS: u32 = 100;

/// One board at work.
#[derive(Clone, Debug)]
pub struct Simulation<'l> {
    logic: &'l Logic,
    drivers: Side<SignalId, Vec<StageId>>,
    readers: Side<SignalId, Vec<StageId>>,
    /// What the bench puts on each signal.
    bench: Side<SignalId, Level>,
    contributions: Side<StageId, Level>,
    levels: Side<SignalId, Level>,
    /// Where the triggers of all pulses stood when edges were last looked for.
    triggers: Vec<Level>,
    /// What a stage puts out in place of its function while a pulse lasts.
    pulsing: BTreeMap<StageId, Level>,
}

impl<'l> Simulation<'l> {
    /// The board at the moment power comes on: everything uninitialised, nothing tied.
    pub fn new(logic: &'l Logic) -> Self {
        let mut drivers = Side::filled(&logic.signals, Vec::new());
        let mut readers = Side::filled(&logic.signals, Vec::new());
        for (id, stage) in logic.stages.iter() {
            drivers[stage.output].push(id);
            for &input in &stage.inputs {
                if !readers[input].contains(&id) {
                    readers[input].push(id);
                }
            }
        }
        Self {
            logic,
            drivers,
            readers,
            bench: Side::filled(&logic.signals, Level::Floating),
            contributions: Side::filled(&logic.stages, Level::Uninitialised),
            levels: Side::filled(&logic.signals, Level::Uninitialised),
            triggers: vec![Level::Uninitialised; logic.pulses.len()],
            pulsing: BTreeMap::new(),
        }
    }

    /// What the bench puts on `signal` from now on; `Z` lets go.
    pub fn set(&mut self, signal: SignalId, level: Level) {
        self.bench[signal] = level;
    }

    /// The level of a signal.
    pub fn level(&self, signal: SignalId) -> Level {
        self.levels[signal]
    }

    /// Makes a signal start at a level, as a latch that woke up this way; it holds if the logic holds it.
    pub fn presume(&mut self, signal: SignalId, level: Level) {
        self.levels[signal] = level;
        for (known, pulse) in self.triggers.iter_mut().zip(&self.logic.pulses) {
            if pulse.trigger == signal {
                *known = level;
            }
        }
    }

    /// Clocks every flip-flop once, then settles.
    pub fn clock(&mut self) -> Vec<SignalId> {
        let flops = self.logic.stages.iter().filter(|(_, stage)| stage.function == Function::Flop);
        let next: Vec<(StageId, Level)> =
            flops.map(|(id, stage)| (id, strong(self.levels[stage.inputs[0]].value()))).collect();
        for (id, level) in next {
            self.contributions[id] = level;
        }
        self.settle()
    }

    /// Lets everything come to rest, pulses that edges bring about included. Returns the signals of a loop
    /// that will not, in the order in which they follow each other; they are left at `X`.
    pub fn settle(&mut self) -> Vec<SignalId> {
        let mut restless = self.levels_settle();
        let mut coming = VecDeque::from([self.edges()]);
        for _ in 0..RESTLESS {
            let Some(pulses) = coming.pop_front() else { return restless };
            if pulses.is_empty() {
                continue;
            }
            self.pulsing = pulses;
            restless.extend(self.levels_settle());
            coming.push_back(self.edges());
            self.pulsing.clear();
            restless.extend(self.levels_settle());
            coming.push_back(self.edges());
        }
        // Pulses that bring about each other without end: nobody knows what their outputs are.
        for pulse in &self.logic.pulses {
            let output = self.logic.stages[pulse.stage].output;
            self.levels[output] = Level::Unknown;
            restless.push(output);
        }
        restless
    }

    /// The pulses that the edges since the last look bring about. A trigger that was never known makes no
    /// edge when it becomes known: power has only just come on.
    fn edges(&mut self) -> BTreeMap<StageId, Level> {
        let mut found = BTreeMap::new();
        for (known, pulse) in self.triggers.iter_mut().zip(&self.logic.pulses) {
            let (before, now) = (*known, self.levels[pulse.trigger]);
            *known = now;
            if before == Level::Uninitialised || before.value() == now.value() {
                continue;
            }
            let inputs = &self.logic.stages[pulse.stage].inputs;
            let rows = (0..pulse.rows.len()).filter(|row| {
                let fits = |(bit, input): (usize, &SignalId)| {
                    self.levels[*input].value().is_none_or(|value| value == (row >> bit & 1 != 0))
                };
                inputs.iter().enumerate().all(fits)
            });
            let ways = match now.value() {
                Some(rises) if before.value().is_some() => vec![usize::from(rises)],
                _ => vec![0, 1],
            };
            let may: Vec<Option<Level>> =
                rows.flat_map(|row| ways.iter().map(move |&way| pulse.rows[row][way])).collect();
            let certain = ways.len() == 1 && may.iter().all(|level| *level == may[0]);
            if let Some(level) = may.iter().flatten().next() {
                found.insert(pulse.stage, if certain { *level } else { Level::Unknown });
            }
        }
        found
    }

    fn levels_settle(&mut self) -> Vec<SignalId> {
        let mut queue: VecDeque<SignalId> = self.logic.signals.ids().collect();
        let mut waiting = Side::filled(&self.logic.signals, true);
        let mut changes = Side::filled(&self.logic.signals, 0u32);
        let mut restless = Vec::new();
        while let Some(signal) = queue.pop_front() {
            waiting[signal] = false;
            let mut level = self.bench[signal];
            for at in 0..self.drivers[signal].len() {
                let stage = self.drivers[signal][at];
                let row = &self.logic.stages[stage];
                let kept = self.contributions[stage];
                self.contributions[stage] = match self.pulsing.get(&stage) {
                    Some(level) => *level,
                    None => row.contribution(&|input| self.levels[input], kept),
                };
                level = level.resolve(self.contributions[stage]);
            }
            if changes[signal] > RESTLESS {
                // Once restless, a signal only ever becomes less known, so that the settling ends.
                level = Level::Unknown;
            }
            if level == self.levels[signal] {
                continue;
            }
            changes[signal] += 1;
            if changes[signal] == RESTLESS {
                restless.push(signal);
            }
            self.levels[signal] = level;
            for &reader in &self.readers[signal] {
                let output = self.logic.stages[reader].output;
                if !std::mem::replace(&mut waiting[output], true) {
                    queue.push_back(output);
                }
            }
        }
        self.in_loop_order(restless)
    }

    /// Orders restless signals so that each drives the next, starting from the first found.
    fn in_loop_order(&self, restless: Vec<SignalId>) -> Vec<SignalId> {
        let mut ordered: Vec<SignalId> = Vec::new();
        let mut next = restless.first().copied();
        while let Some(signal) = next {
            ordered.push(signal);
            next = self.readers[signal]
                .iter()
                .map(|&stage| self.logic.stages[stage].output)
                .find(|output| restless.contains(output) && !ordered.contains(output));
        }
        let rest: Vec<SignalId> = restless.into_iter().filter(|signal| !ordered.contains(signal)).collect();
        ordered.extend(rest);
        ordered
    }
}

fn strong(value: Option<bool>) -> Level {
    value.map_or(Level::Unknown, Level::from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Gate, Role, Signal, Stage};

    fn build(signals: &[&str], stages: &[(&[usize], usize, Function)]) -> (Logic, Vec<SignalId>) {
        let mut logic = Logic::default();
        let ids: Vec<SignalId> = signals
            .iter()
            .map(|name| {
                logic.signals.push(Signal { name: (*name).to_owned(), net: None, role: Role::Inside })
            })
            .collect();
        for (inputs, output, function) in stages {
            logic.stages.push(Stage {
                name: String::new(),
                inputs: inputs.iter().map(|&k| ids[k]).collect(),
                output: ids[*output],
                function: function.clone(),
            });
        }
        (logic, ids)
    }

    #[test]
    fn a_bus_resolves_strong_weak_and_open() {
        let open_collector = || Function::Found(vec![Level::Floating, Level::Zero]);
        let (logic, ids) = build(
            &["a", "b", "bus"],
            &[
                (&[0], 2, open_collector()),
                (&[1], 2, open_collector()),
                (&[], 2, Function::Found(vec![Level::WeakOne])),
            ],
        );
        let mut simulation = Simulation::new(&logic);
        for (a, b, bus) in [('0', '0', 'H'), ('1', '0', '0'), ('0', 'X', 'X'), ('1', 'X', 'X')] {
            simulation.set(ids[0], Level::from_character(a).unwrap());
            simulation.set(ids[1], Level::from_character(b).unwrap());
            assert!(simulation.settle().is_empty());
            assert_eq!(simulation.level(ids[2]).character(), bus, "{a}{b}");
        }
    }

    #[test]
    fn a_ring_of_three_is_shown_unknown_with_its_loop_named() {
        let not = || Function::Gate(Gate::Nor);
        let (logic, ids) =
            build(&["go", "a", "b", "c"], &[(&[0, 3], 1, not()), (&[1], 2, not()), (&[2], 3, not())]);
        let mut simulation = Simulation::new(&logic);
        simulation.set(ids[0], Level::One);
        assert!(simulation.settle().is_empty());
        simulation.set(ids[0], Level::Zero);
        let ring = simulation.settle();
        let names: Vec<&str> = ring.iter().map(|&id| logic.signals[id].name.as_str()).collect();
        assert_eq!(names.len(), 3, "{names:?}");
        assert!(["a b c", "b c a", "c a b"].contains(&names.join(" ").as_str()), "{names:?}");
        assert!(ids[1..].iter().all(|&id| simulation.level(id) == Level::Unknown));
    }
}
