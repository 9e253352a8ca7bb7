//! The logic laid out for the lanes: stages as covers or gates, signals in an order that follows the
//! flow, so that one sweep settles everything without feedback.

use super::cover::{Cube, primes};
use dryjoint_ids::{Id, Side};
use dryjoint_logic::{Function, Gate, Level, Logic, Role, SignalId, StageId};

/// What a stage computes, ready to run.
#[derive(Clone, Debug)]
pub(super) enum Op {
    Gate(Gate),
    Flop,
    /// Whether it pulls low and whether it drives high, each as the cubes for yes and for no.
    Pull {
        low: Answer,
        high: Answer,
    },
}

/// A predicate by its primes: when it surely holds, when it surely does not.
#[derive(Clone, Debug)]
pub(super) struct Answer {
    pub yes: Vec<Cube>,
    pub no: Vec<Cube>,
}

#[derive(Clone, Debug)]
pub(super) struct Step {
    pub op: Op,
    pub inputs: Vec<SignalId>,
    pub output: SignalId,
    /// A stage that only holds weakly gives way to the bench.
    pub weak: bool,
}

/// The logic of one board, laid out for the lanes.
#[derive(Clone, Debug)]
pub struct Program {
    pub(super) steps: Side<StageId, Step>,
    /// The stages that drive a signal and have inputs.
    pub(super) drivers: Side<SignalId, Vec<StageId>>,
    /// What holds a signal when nobody drives it.
    pub(super) rest: Side<SignalId, Option<bool>>,
    /// The signals whose stages read a signal.
    pub(super) readers: Side<SignalId, Vec<SignalId>>,
    /// Where a signal stands in the order of evaluation, and the order itself.
    pub(super) rank: Side<SignalId, u32>,
    pub(super) order: Vec<SignalId>,
    pub(super) flops: Vec<StageId>,
    /// Whether a signal is a lamp.
    pub(super) lamps: Side<SignalId, bool>,
    /// Stages on the longest path that does not close on itself.
    depth: usize,
}

impl Program {
    /// Lays out `logic`.
    pub fn of(logic: &Logic) -> Self {
        let mut drivers: Side<SignalId, Vec<StageId>> = Side::filled(&logic.signals, Vec::new());
        let mut readers: Side<SignalId, Vec<SignalId>> = Side::filled(&logic.signals, Vec::new());
        let mut rest: Side<SignalId, Level> = Side::filled(&logic.signals, Level::Floating);
        for (id, stage) in logic.stages.iter() {
            match &stage.function {
                Function::Found(rows) if stage.inputs.is_empty() => {
                    rest[stage.output] = rest[stage.output].resolve(rows[0]);
                }
                _ => drivers[stage.output].push(id),
            }
            if stage.function != Function::Flop {
                for &input in &stage.inputs {
                    if !readers[input].contains(&stage.output) {
                        readers[input].push(stage.output);
                    }
                }
            }
        }
        let steps = Side::new(&logic.stages, |id| {
            let stage = &logic.stages[id];
            Step {
                op: op(&stage.function, stage.inputs.len()),
                inputs: stage.inputs.clone(),
                output: stage.output,
                weak: is_weak(&stage.function),
            }
        });
        let order = flow_order(logic, &drivers);
        let mut rank = Side::filled(&logic.signals, 0);
        for (place, &signal) in order.iter().enumerate() {
            rank[signal] = place as u32;
        }
        let flops =
            logic.stages.iter().filter(|(_, s)| s.function == Function::Flop).map(|(id, _)| id).collect();
        let rest = Side::new(&logic.signals, |signal| rest[signal].value());
        let lamps = Side::new(&logic.signals, |signal| logic.signals[signal].role == Role::Seen);
        let depth = depth(&order, &rank, &readers);
        Self { steps, drivers, rest, readers, rank, order, flops, lamps, depth }
    }

    /// One signal of each loop: where the flow order closes on itself. Latches are among them.
    pub fn loop_signals(&self) -> Vec<SignalId> {
        let closes = |signal: SignalId| {
            self.readers[signal].iter().any(|&reader| self.rank[reader] <= self.rank[signal])
        };
        self.order.iter().copied().filter(|&signal| closes(signal)).collect()
    }

    /// Ticks after which a board that comes to rest has come to rest: twice its longest path, since
    /// what goes round a latch once is still on its way, and a few more.
    pub fn patience(&self) -> usize {
        2 * self.depth + 8
    }

    /// All signals, each after those it hangs on as far as loops allow.
    pub fn in_order(&self) -> &[SignalId] {
        &self.order
    }

    /// How many signals there are.
    pub fn signal_count(&self) -> usize {
        self.order.len()
    }
}

fn op(function: &Function, inputs: usize) -> Op {
    let rows = match function {
        Function::Gate(gate) => return Op::Gate(*gate),
        Function::Flop => return Op::Flop,
        Function::Found(rows) => rows,
    };
    let answer = |strong: Level, weak: Level| Answer {
        yes: primes(inputs, |row| rows[row] == strong || rows[row] == weak),
        no: primes(inputs, |row| {
            rows[row] != strong
                && rows[row] != weak
                && (rows[row] == Level::Floating || rows[row].value().is_some())
        }),
    };
    Op::Pull { low: answer(Level::Zero, Level::WeakZero), high: answer(Level::One, Level::WeakOne) }
}

fn is_weak(function: &Function) -> bool {
    match function {
        Function::Found(rows) => rows.iter().any(|level| matches!(level, Level::WeakZero | Level::WeakOne)),
        _ => false,
    }
}

fn depth(order: &[SignalId], rank: &Side<SignalId, u32>, readers: &Side<SignalId, Vec<SignalId>>) -> usize {
    let mut levels = rank.map(|_, _| 0usize);
    for &signal in order {
        for &reader in readers[signal].iter().filter(|&&reader| rank[reader] > rank[signal]) {
            levels[reader] = levels[reader].max(levels[signal] + 1);
        }
    }
    levels.rows().iter().copied().max().unwrap_or(0)
}

/// Signals so that each stands after those it depends on, as far as loops allow (depth first,
/// inputs first; a loop is cut where the search meets it).
fn flow_order(logic: &Logic, drivers: &Side<SignalId, Vec<StageId>>) -> Vec<SignalId> {
    let mut state = vec![0u8; logic.signals.len()];
    let mut order = Vec::with_capacity(logic.signals.len());
    for start in logic.signals.ids() {
        let mut stack = vec![(start, 0usize)];
        while let Some((signal, next)) = stack.pop() {
            if next == 0 {
                if state[signal.index()] != 0 {
                    continue;
                }
                state[signal.index()] = 1;
            }
            let mut sources = drivers[signal]
                .iter()
                .filter(|stage| logic.stages[**stage].function != Function::Flop)
                .flat_map(|&stage| logic.stages[stage].inputs.iter().copied());
            match sources.nth(next) {
                Some(source) => {
                    stack.push((signal, next + 1));
                    if state[source.index()] == 0 {
                        stack.push((source, 0));
                    }
                }
                None => {
                    state[signal.index()] = 2;
                    order.push(signal);
                }
            }
        }
    }
    order
}
