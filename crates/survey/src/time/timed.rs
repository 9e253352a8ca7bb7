//! The logic of a board with the delays of its gates: after one edge, what moves when, and because of what.
//!
//! An output that is about to change and is told otherwise before it has changed stays where it is, as
//! the capacitance on a net swallows what is shorter than a gate's delay.

use super::cut::leaves;
use super::delays::{Delay, Delays};
use dryjoint_ids::Side;
use dryjoint_logic::{Extracted, Level, Role, SignalId, StageId};
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// One change of one signal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Moved {
    pub(crate) signal: SignalId,
    pub(crate) high: bool,
    /// Seconds after the edge.
    pub(crate) at: f64,
    /// The change that brought it about, by its place in the list, and through which stage.
    pub(crate) because: Option<(usize, StageId)>,
}

/// A board's logic in time.
pub(crate) struct Timed<'e, 'b> {
    extracted: &'e Extracted<'b>,
    delays: &'e Delays,
    drivers: Side<SignalId, Vec<StageId>>,
    readers: Side<SignalId, Vec<(StageId, usize)>>,
    /// Signals that keep what was put into them: each of them reads one that reads it.
    pub(crate) keeps: Side<SignalId, bool>,
    /// Signals that matter: lamps and what only feeds them do not.
    pub(crate) matters: Side<SignalId, bool>,
}

/// Where every signal stands, and what the bench puts on it.
#[derive(Clone)]
pub(crate) struct Stand {
    pub(crate) values: Side<SignalId, Option<bool>>,
    pub(crate) bench: Side<SignalId, Level>,
}

/// Changes per signal, all together, after which a run counts as restless.
const RESTLESS: usize = 12;

struct Pending {
    high: bool,
    number: usize,
    because: Option<(usize, StageId)>,
}

impl<'e, 'b> Timed<'e, 'b> {
    pub(crate) fn new(extracted: &'e Extracted<'b>, delays: &'e Delays) -> Self {
        let logic = &extracted.logic;
        let mut drivers = Side::filled(&logic.signals, Vec::new());
        let mut readers = Side::filled(&logic.signals, Vec::new());
        for (id, stage) in logic.stages.iter() {
            drivers[stage.output].push(id);
            for (k, &input) in stage.inputs.iter().enumerate() {
                readers[input].push((id, k));
            }
        }
        let after = |signal: SignalId| {
            readers[signal].iter().map(|&(stage, _): &(StageId, usize)| logic.stages[stage].output)
        };
        let keeps = Side::new(&logic.signals, |a| after(a).any(|b| b != a && after(b).any(|c| c == a)));
        let board = extracted.shape.board;
        let matters = Side::new(&logic.signals, |signal| {
            let row = &logic.signals[signal];
            let read = || after(signal).any(|next| logic.signals[next].role != Role::Seen);
            row.net.is_some_and(|net| leaves(board, net) || read())
        });
        Self { extracted, delays, drivers, readers, keeps, matters }
    }

    /// Puts levels on signals all at once and lets everything come to rest. The changes in the order of
    /// time; nothing where it does not come to rest.
    pub(crate) fn run(&self, stand: &mut Stand, moves: &[(SignalId, Level)]) -> Option<Vec<Moved>> {
        let mut done: Vec<Moved> = Vec::new();
        let mut queue: BinaryHeap<Reverse<(u64, usize, SignalId)>> = BinaryHeap::new();
        let mut pending: Side<SignalId, Option<Pending>> = Side::new(&self.extracted.logic.signals, |_| None);
        let mut number = 0;
        for &(signal, level) in moves {
            stand.bench[signal] = level;
            if let Some(high) = self.resolved(stand, signal).filter(|&v| stand.values[signal] != Some(v)) {
                number += 1;
                pending[signal] = Some(Pending { high, number, because: None });
                queue.push(Reverse((0, number, signal)));
            }
        }
        let most = RESTLESS * self.extracted.logic.signals.len();
        while let Some(Reverse((time, at_number, signal))) = queue.pop() {
            let current = pending[signal].take_if(|pending| pending.number == at_number);
            let Some(Pending { high, because, .. }) = current else { continue };
            stand.values[signal] = Some(high);
            let at = time as f64 * 1e-15;
            done.push(Moved { signal, high, at, because });
            if done.len() > most {
                return None;
            }
            for &(stage, input) in &self.readers[signal] {
                let output = self.extracted.logic.stages[stage].output;
                let Some(next) = self.resolved(stand, output) else { continue };
                let coming = pending[output].as_ref().map(|pending| pending.high);
                if coming.or(stand.values[output]) == Some(next) {
                    continue;
                }
                pending[output] = None;
                if stand.values[output] != Some(next) {
                    number += 1;
                    let delay = (self.delay(stage, input, next) * 1e15).round() as u64;
                    let because = Some((done.len() - 1, stage));
                    pending[output] = Some(Pending { high: next, number, because });
                    queue.push(Reverse((time + delay, number, output)));
                }
            }
        }
        Some(done)
    }

    /// What the drivers of a signal and the bench put on it.
    fn resolved(&self, stand: &Stand, signal: SignalId) -> Option<bool> {
        let logic = &self.extracted.logic;
        let level = |input: SignalId| stand.values[input].map_or(Level::Unknown, Level::from);
        let drivers = self.drivers[signal].iter();
        let all = drivers.map(|&stage| logic.stages[stage].contribution(&level, Level::Unknown));
        all.fold(stand.bench[signal], Level::resolve).value()
    }

    /// What a stage takes until its output has changed because of one input.
    pub(crate) fn delay(&self, stage: StageId, input: usize, high: bool) -> f64 {
        let towards = |delay: &Delay| if high { delay.rise } else { delay.fall };
        let row = &self.delays.rows[stage];
        let own = row.get(input).and_then(towards);
        let others = row.iter().filter_map(towards).map(|seconds| seconds.0);
        own.map(|seconds| seconds.0).or_else(|| others.reduce(f64::max)).unwrap_or(self.delays.usual)
    }
}
