//! The second opinion on [`super::reach`]: nothing leads out of the pairs, and none of them shows the
//! fault.
//!
//! Written anew, on plain 64-bit words and straight from the netlist, so that a slip in the wide machines
//! or in the search does not confirm itself. What is checked: from power-on, and from every pair under
//! every vector, both machines come to remember no more than some pair of the list, and nothing seen is surely high on one
//! and surely low on the other.

use super::reach::Pair;
use dryjoint_faults::gates::{Site, StuckAt};
use dryjoint_ids::Side;
use dryjoint_logic::{Function, Gate, Level, Logic, Role, SignalId, StageId};
use std::collections::BTreeSet;

type Two = (u64, u64);

/// Whether the pairs are closed and silent.
pub(super) fn closed(logic: &Logic, fault: StuckAt, pairs: &[Pair]) -> bool {
    let Some(order) = order(logic) else { return false };
    let inputs = logic.inputs().count();
    let listed: BTreeSet<Pair> = pairs.iter().copied().collect();
    let mut checked: BTreeSet<Pair> = BTreeSet::new();
    let mut covered = |pair: Pair| {
        listed.contains(&pair)
            || !checked.insert(pair)
            || pairs.iter().any(|&other| pair.knows_no_more_than(other))
    };
    if inputs > 16 || !covered(Pair::UNKNOWN) {
        return false;
    }
    pairs.iter().all(|&pair| {
        (0..1_usize << inputs).step_by(64).all(|first| {
            let lanes = (1_usize << inputs).min(64);
            let good = period(logic, &order, first, (pair.one, pair.zero), None);
            let bad = period(logic, &order, first, (pair.one >> 32, pair.zero >> 32), Some(fault));
            let used = if lanes == 64 { u64::MAX } else { (1 << lanes) - 1 };
            let silent = good.seen.iter().zip(&bad.seen).all(|(g, b)| (g.0 & b.1 | g.1 & b.0) & used == 0);
            silent
                && (0..lanes).all(|lane| {
                    let half = |memory: &[Two], plane: fn(&Two) -> u64| {
                        memory
                            .iter()
                            .enumerate()
                            .fold(0, |bits, (k, two)| bits | (plane(two) >> lane & 1) << k)
                    };
                    let next = Pair {
                        one: half(&good.memory, |t| t.0) | half(&bad.memory, |t| t.0) << 32,
                        zero: half(&good.memory, |t| t.1) | half(&bad.memory, |t| t.1) << 32,
                    };
                    covered(next)
                })
        })
    })
}

struct After {
    seen: Vec<Two>,
    memory: Vec<Two>,
}

/// One period under the 64 vectors that begin with number `first`.
fn period(logic: &Logic, order: &[StageId], first: usize, memory: Two, fault: Option<StuckAt>) -> After {
    let mut levels: Side<SignalId, Two> = Side::filled(&logic.signals, (0, 0));
    for (k, signal) in logic.inputs().enumerate() {
        let high = (0..64).fold(0, |bits, lane| bits | (((first + lane) >> k & 1) as u64) << lane);
        levels[signal] = (high, !high);
    }
    let flops = || logic.stages.iter().filter(|(_, stage)| stage.function == Function::Flop);
    for (k, (_, stage)) in flops().enumerate() {
        let all = |bits: u64| if bits >> k & 1 != 0 { u64::MAX } else { 0 };
        levels[stage.output] = (all(memory.0), all(memory.1));
    }
    let held = |site: Site, level: Two| match fault {
        Some(fault) if fault.site == site => {
            if fault.high {
                (u64::MAX, 0)
            } else {
                (0, u64::MAX)
            }
        }
        _ => level,
    };
    for signal in logic.signals.ids() {
        levels[signal] = held(Site::Net(signal), levels[signal]);
    }
    let pin = |levels: &Side<SignalId, Two>, id: StageId, pin: usize| {
        held(Site::Branch(id, pin as u32), levels[logic.stages[id].inputs[pin]])
    };
    for &id in order {
        let stage = &logic.stages[id];
        let read: Vec<Two> = (0..stage.inputs.len()).map(|k| pin(&levels, id, k)).collect();
        let level = match &stage.function {
            Function::Gate(gate) => output(*gate, &read),
            Function::Found(rows) if rows.first() == Some(&Level::One) => (u64::MAX, 0),
            _ => (0, u64::MAX),
        };
        levels[stage.output] = held(Site::Net(stage.output), level);
    }
    After {
        seen: logic.seen().map(|signal| levels[signal]).collect(),
        memory: flops().map(|(id, _)| pin(&levels, id, 0)).collect(),
    }
}

fn output(gate: Gate, read: &[Two]) -> Two {
    let and = |read: &mut dyn Iterator<Item = Two>| read.fold((u64::MAX, 0), |a, b| (a.0 & b.0, a.1 | b.1));
    let swap = |two: Two| (two.1, two.0);
    match gate {
        Gate::Buf => read[0],
        Gate::Not => swap(read[0]),
        Gate::And => and(&mut read.iter().copied()),
        Gate::Nand => swap(and(&mut read.iter().copied())),
        Gate::Or => swap(and(&mut read.iter().copied().map(swap))),
        Gate::Nor => and(&mut read.iter().copied().map(swap)),
        Gate::Xor => odd(read),
        Gate::Xnor => swap(odd(read)),
    }
}

fn odd(read: &[Two]) -> Two {
    read[1..].iter().fold(read[0], |a, b| (a.0 & b.1 | a.1 & b.0, a.0 & b.0 | a.1 & b.1))
}

/// Every stage but flip-flops, each behind those it reads.
fn order(logic: &Logic) -> Option<Vec<StageId>> {
    let mut known = Side::new(&logic.signals, |signal| logic.signals[signal].role == Role::Input);
    let mut left: Vec<StageId> = Vec::new();
    for (id, stage) in logic.stages.iter() {
        if stage.function == Function::Flop { known[stage.output] = true } else { left.push(id) }
    }
    let mut order = Vec::new();
    while !left.is_empty() {
        let before = left.len();
        left.retain(|&id| {
            let ready = logic.stages[id].inputs.iter().all(|&input| known[input]);
            if ready {
                known[logic.stages[id].output] = true;
                order.push(id);
            }
            !ready
        });
        if left.len() == before {
            return None;
        }
    }
    Some(order)
}

#[cfg(test)]
mod tests {
    use super::super::reach::{Reached, reach};
    use super::*;
    use crate::gates::sequence::induct;
    use dryjoint_draws::Draws;
    use dryjoint_faults::gates::Circuit;
    use dryjoint_logic::{Signal, Stage};

    /// A flip-flop that remembers `a`; one output shows it against its own complement, which is never
    /// high, the other shows it as it is.
    fn remembering() -> (Logic, [SignalId; 3]) {
        let mut logic = Logic::default();
        let mut signal = |name: &str, role| logic.signals.push(Signal { name: name.into(), net: None, role });
        let [a, q, not_q, both] =
            [("a", Role::Input), ("q", Role::Inside), ("nq", Role::Inside), ("both", Role::Inside)]
                .map(|(name, role)| signal(name, role));
        let [y, z] = ["y", "z"].map(|name| signal(name, Role::Seen));
        let rows = [
            (vec![a], q, Function::Flop),
            (vec![q], not_q, Function::Gate(Gate::Not)),
            (vec![q, not_q], both, Function::Gate(Gate::And)),
            (vec![both], y, Function::Gate(Gate::Buf)),
            (vec![q], z, Function::Gate(Gate::Buf)),
        ];
        for (inputs, output, function) in rows {
            logic.stages.push(Stage { name: "stage".into(), inputs, output, function });
        }
        (logic, [q, both, a])
    }

    #[test]
    fn what_is_never_shown_is_closed_and_a_gap_is_noticed() {
        let (logic, [q, both, _]) = remembering();
        let circuit = Circuit::compile(&logic).expect("gates");
        let low = |signal| StuckAt { site: Site::Net(signal), high: false };
        let Reached::Never(pairs) = reach(&logic, &circuit, low(both), 100) else { panic!("never high") };
        assert!(closed(&logic, low(both), &pairs));
        assert!(!closed(&logic, low(both), &pairs[1..]), "one pair less");
        assert!(!closed(&logic, low(both), &[Pair::UNKNOWN]), "the input is remembered");
        // The same pairs are no proof for a fault that they show.
        assert!(!closed(&logic, low(q), &pairs));
        let Reached::Shown(vectors) = reach(&logic, &circuit, low(q), 100) else { panic!("shown") };
        assert_eq!(vectors.len(), 2, "high in, then the difference is seen");
    }

    #[test]
    fn induction_proves_the_one_and_not_the_other() {
        let (logic, [q, both, a]) = remembering();
        let circuit = Circuit::compile(&logic).expect("gates");
        let prove = |signal, high| {
            let fault = StuckAt { site: Site::Net(signal), high };
            induct::prove(&logic, &circuit, fault, &mut Draws::new(1))
        };
        assert!(prove(both, false).is_some());
        assert!(prove(q, false).is_none() && prove(a, true).is_none());
    }
}
