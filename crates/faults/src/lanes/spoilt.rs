//! What the faults do in the lanes, sorted by the signals and stages they touch.

use super::behaviour::{Behaviour, Shown, Target};
use super::program::Program;
use super::state::Forced;
use super::table::LaneTable;
use super::word::{Planes, Word};
use dryjoint_ids::Side;
use dryjoint_logic::{SignalId, StageId};

/// Who looks at the drivers of a signal.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Watcher {
    /// This one of a signal's tables.
    Signal(SignalId, usize),
    /// This one of a stage's tables.
    Stage(StageId, usize),
}

/// The faults in the lanes, sorted by the signals they touch.
pub(super) struct Spoilt {
    /// Lanes in which a signal is held whatever happens.
    pub held: Side<SignalId, Option<Box<Forced>>>,
    /// Lanes in which a stage's input is held.
    pub pins: Side<StageId, Vec<(usize, Forced)>>,
    /// Tables for a signal.
    pub tables: Side<SignalId, Vec<LaneTable>>,
    /// Tables for the inputs of a stage, by input.
    pub pin_tables: Side<StageId, Vec<(usize, LaneTable)>>,
    /// What to look up again when the drivers of a signal move, with the lanes in which it looks: what moves in others
    /// is nothing to it.
    pub watchers: Side<SignalId, Vec<(Watcher, Word)>>,
    /// Lines through whose jumper the supply is shorted, with the lanes in which it is.
    pub blackouts: Vec<(SignalId, Word)>,
}

impl Spoilt {
    /// The behaviours of some lanes, sorted.
    pub fn of<'a>(program: &Program, behaviours: impl Iterator<Item = (usize, &'a Behaviour)>) -> Self {
        let mut spoilt = Self {
            held: program.rank.map(|_, _| None),
            pins: program.steps.map(|_, _| Vec::new()),
            tables: program.rank.map(|_, _| Vec::new()),
            pin_tables: program.steps.map(|_, _| Vec::new()),
            watchers: program.rank.map(|_, _| Vec::new()),
            blackouts: Vec::new(),
        };
        spoilt.sort(behaviours);
        spoilt
    }

    /// Holds an input of a stage in one lane.
    pub fn hold_pin(&mut self, lane: usize, stage: StageId, pin: usize, shown: Shown) {
        let pins = &mut self.pins[stage];
        let at = pins.iter().position(|(known, _)| *known == pin).unwrap_or_else(|| {
            pins.push((pin, Forced::NONE));
            pins.len() - 1
        });
        pins[at].1.add(lane, shown);
    }

    /// Every table, always in the same order.
    pub fn all_tables(&self) -> impl Iterator<Item = &LaneTable> {
        let pins = self.pin_tables.rows().iter().flatten().map(|(_, table)| table);
        self.tables.rows().iter().flatten().chain(pins)
    }

    /// The same, to be changed.
    pub fn all_tables_mut(&mut self) -> impl Iterator<Item = &mut LaneTable> {
        let pins = self.pin_tables.values_mut().flatten().map(|(_, table)| table);
        self.tables.values_mut().flatten().chain(pins)
    }

    /// Lets every table say again what it said.
    pub fn remember(&mut self, said: &[Planes]) {
        for (table, said) in self.all_tables_mut().zip(said) {
            table.said.value = *said;
            table.stale = false;
        }
    }

    /// Sorts the behaviours into the lanes and by what they touch.
    fn sort<'a>(&mut self, behaviours: impl Iterator<Item = (usize, &'a Behaviour)>) {
        for (lane, behaviour) in behaviours {
            if let Some(line) = behaviour.blackout {
                match self.blackouts.iter_mut().find(|(known, _)| *known == line) {
                    Some((_, lanes)) => lanes.set(lane, true),
                    None => {
                        let mut lanes = Word::NONE;
                        lanes.set(lane, true);
                        self.blackouts.push((line, lanes));
                    }
                }
            }
            for (column, &target) in behaviour.writes.iter().enumerate() {
                let constant = behaviour.reads.is_empty().then(|| behaviour.table[column]);
                match (target, constant) {
                    (Target::Signal(signal), Some(shown)) => {
                        self.held[signal].get_or_insert_with(|| Box::new(Forced::NONE)).add(lane, shown);
                    }
                    (Target::Pin(stage, pin), Some(shown)) => self.hold_pin(lane, stage, pin.into(), shown),
                    (Target::Signal(signal), None) => {
                        let tables = &mut self.tables[signal];
                        let at = tables.iter().position(|table| table.fits(behaviour));
                        let at = at.unwrap_or_else(|| {
                            tables.push(LaneTable::setting(signal, behaviour));
                            tables.len() - 1
                        });
                        tables[at].add(lane, behaviour, column);
                        self.watch(lane, behaviour, Watcher::Signal(signal, at));
                    }
                    (Target::Pin(stage, pin), None) => {
                        let tables = &mut self.pin_tables[stage];
                        let pin = usize::from(pin);
                        let at = tables.iter().position(|(known, t)| *known == pin && t.fits(behaviour));
                        let at = at.unwrap_or_else(|| {
                            tables.push((pin, LaneTable::new(behaviour)));
                            tables.len() - 1
                        });
                        tables[at].1.add(lane, behaviour, column);
                        self.watch(lane, behaviour, Watcher::Stage(stage, at));
                    }
                }
            }
        }
    }

    fn watch(&mut self, lane: usize, behaviour: &Behaviour, watcher: Watcher) {
        for read in &behaviour.reads {
            let watchers = &mut self.watchers[read.signal];
            let at = watchers.iter().position(|(known, _)| *known == watcher).unwrap_or_else(|| {
                watchers.push((watcher, Word::NONE));
                watchers.len() - 1
            });
            watchers[at].1.set(lane, true);
        }
    }
}
