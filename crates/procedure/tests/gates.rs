//! Plans for gate netlists: published sizes, and an independent replay of every plan for every fault.

#[path = "../../faults/tests/circuits/mod.rs"]
mod circuits;

use circuits::plain::{Plain, drawn};
use circuits::{own, published};
use dryjoint_logic::Logic;
use dryjoint_procedure::gates::{Explanation, Options, Standing, VectorPlan, explain, plan};
use proptest::prelude::*;

fn planned(logic: &Logic, effort: u32) -> VectorPlan {
    let plan = plan(logic, &Options { effort, ..Options::default() }, &|_| true).expect("gates");
    assert!(!plan.interrupted);
    plan
}

/// Replays the plan, fault by fault, on the plain simulator: the first step that shows each fault, and
/// what must be seen at each step.
fn replay(logic: &Logic, plan: &VectorPlan) {
    let plain = Plain::new(logic);
    let rows: Vec<Vec<bool>> = plan.vectors.iter().map(|v| v.0.clone()).collect();
    let good = plain.run(&rows, None);
    assert_eq!(plan.expected, good);
    for (id, &fault) in plan.faults.faults.iter() {
        let shown = match plan.standings[plan.faults.group_of[id]] {
            Standing::Shown(first) => Some(first),
            _ => None,
        };
        assert_eq!(plain.first(&rows, &good, fault), shown, "{}", plan.faults.name(logic, id));
    }
}

/// The way of each difference starts at the fault's net and ends at something seen, and each place on it
/// has another level in the faulty circuit.
fn ways_lead_out(logic: &Logic, plan: &VectorPlan) {
    for id in plan.faults.faults.ids().step_by(if plan.clocked { 7 } else { 1 }) {
        let Explanation::Shown { step, way } = explain(logic, plan, id) else { continue };
        let name = plan.faults.name(logic, id);
        assert_eq!(way.first().map(|p| p.signal), Some(plan.faults.net(logic, id)), "{name}");
        let last = way.last().expect("a way has places");
        let seen =
            logic.seen().position(|signal| signal == last.signal).expect("the way ends at something seen");
        assert_eq!((last.step, plan.expected[step][seen]), (step, Some(last.good)), "{name}");
    }
}

/// `(circuit, tests at most, untestable groups)`. Sizes: Hamzaoglu & Patel 1998, whose c17, c432, c499 and
/// c1355 meet the proven lower bound; untestable faults: Brglez & Fujiwara 1985 and Bryan 1988.
const COMBINATIONAL: [(&str, usize, usize); 6] =
    [("c17", 4, 0), ("c432", 27, 4), ("c499", 52, 8), ("c880", 16, 0), ("c1355", 84, 8), ("c1908", 106, 9)];

fn combinational(name: &str) {
    let &(_, most, untestable) = COMBINATIONAL.iter().find(|row| row.0 == name).expect("in the table");
    let Some(logic) = published(&format!("iscas85/{name}.v")) else { return };
    let plan = planned(&logic, Options::default().effort);
    assert_eq!((plan.never(), plan.shown()), (untestable, plan.faults.groups.len() - untestable), "{name}");
    assert!(plan.vectors.len() <= most, "{name}: {} vectors", plan.vectors.len());
    bound_holds(&logic, &plan);
    replay(&logic, &plan);
    ways_lead_out(&logic, &plan);
}

/// The bound is not above the plan, and no vector of the plan shows two of the faults that are said to be
/// apart, as the plain simulator sees it.
fn bound_holds(logic: &Logic, plan: &VectorPlan) {
    let bound = plan.bound.as_ref().expect("a bound is looked for before the end");
    assert!(bound.apart.len() <= plan.vectors.len());
    let plain = Plain::new(logic);
    let rows: Vec<Vec<bool>> = plan.vectors.iter().map(|v| v.0.clone()).collect();
    let good = plain.run(&rows, None);
    let mut taken = vec![false; rows.len()];
    for &group in &bound.apart {
        let fault = plan.faults.faults[plan.faults.groups[group][0]];
        let bad = plain.run(&rows, Some(fault));
        for (taken, (g, b)) in taken.iter_mut().zip(good.iter().zip(&bad)) {
            assert!(!(g != b && std::mem::replace(taken, true)), "two faults said to be apart");
            *taken |= g != b;
        }
    }
}

#[test]
fn the_circuit_of_the_repository_takes_four_vectors() {
    let logic = own("c17.v");
    let plan = planned(&logic, 1);
    assert_eq!((plan.vectors.len(), plan.shown(), plan.never()), (4, 22, 0));
    assert_eq!(plan.curve().last(), Some(&34));
    replay(&logic, &plan);
    ways_lead_out(&logic, &plan);
}

#[test]
fn c17_as_published() {
    combinational("c17");
}

#[test]
fn c432_as_published() {
    combinational("c432");
}

#[test]
fn c499_as_published() {
    combinational("c499");
}

#[test]
fn c880_as_published() {
    combinational("c880");
}

#[test]
fn c1355_as_published() {
    combinational("c1355");
}

#[test]
fn c1908_as_published() {
    combinational("c1908");
}

/// Detected faults at least as published (Hsiao, Rudnick & Patel 2000); every other fault is proven
/// never to show, so nobody can detect more.
fn sequential(name: &str, detected: usize) {
    let Some(logic) = published(&format!("iscas89/{name}.v")) else { return };
    let plan = planned(&logic, 1);
    assert!(plan.shown() >= detected, "{name}: {} shown", plan.shown());
    assert_eq!(plan.shown() + plan.never(), plan.faults.groups.len(), "{name}");
    replay(&logic, &plan);
    ways_lead_out(&logic, &plan);
}

#[test]
fn s27_as_published() {
    sequential("s27", 32);
}

#[test]
fn s298_as_published() {
    sequential("s298", 265);
}

#[test]
fn s344_as_published() {
    sequential("s344", 329);
}

#[test]
fn s386_as_published() {
    sequential("s386", 314);
}

#[test]
fn s641_as_published() {
    sequential("s641", 404);
}

#[test]
fn s1196_as_published() {
    sequential("s1196", 1239);
}

#[test]
fn s1488_as_published() {
    sequential("s1488", 1444);
}

#[test]
fn the_same_number_gives_the_same_plan_on_any_number_of_threads() {
    let logic = own("c17.v");
    let on = |threads: usize, logic: &Logic| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        let plan = pool.install(|| planned(logic, 1));
        (plan.vectors, plan.standings)
    };
    assert_eq!(on(1, &logic), on(3, &logic));
    if let Some(logic) = published("iscas89/s298.v") {
        assert_eq!(on(1, &logic), on(3, &logic));
    }
}

/// The same where several searches run side by side to the end, because the bound is not met.
#[test]
#[ignore = "slow: compacts one circuit to the end twice"]
fn searches_side_by_side_do_not_depend_on_threads() {
    let Some(logic) = published("iscas85/c880.v") else { return };
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        pool.install(|| planned(&logic, 1)).vectors
    };
    assert_eq!(on(1), on(3));
}

#[test]
fn an_interrupted_plan_keeps_what_it_has() {
    let logic = own("c17.v");
    for calls in 0..12 {
        let left = std::cell::Cell::new(calls);
        let going = |_: &_| {
            left.set(left.get() - 1);
            left.get() >= 0
        };
        let plan = plan(&logic, &Options::default(), &going).expect("gates");
        assert!(plan.interrupted || plan.vectors.len() == 4);
        replay(&logic, &plan);
    }
}

/// Flip-flops between drawn gates: input 0 of the netlist becomes a flip-flop that remembers the last
/// gate, input 1 one that remembers the first.
fn with_flops(mut logic: Logic) -> Logic {
    use dryjoint_logic::{Function, Role, Stage};
    let inputs: Vec<_> = logic.inputs().collect();
    let outputs: Vec<_> = logic.stages.rows().iter().map(|stage| stage.output).collect();
    let inside: Vec<_> = outputs.into_iter().filter(|&s| logic.signals[s].role == Role::Inside).collect();
    for (k, (&q, &d)) in inputs.iter().zip([inside[inside.len() - 1], inside[0]].iter()).enumerate() {
        logic.signals[q].role = Role::Inside;
        let function = Function::Flop;
        logic.stages.push(Stage { name: format!("F{k}"), inputs: vec![d], output: q, function });
    }
    logic
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// On circuits small enough to try every vector: what is said never to show is shown by none.
    #[test]
    fn proofs_agree_with_trying_every_vector(
        rows in prop::collection::vec((any::<u8>(), prop::collection::vec(any::<u32>(), 1..4)), 1..30),
        outputs in 1_usize..4,
    ) {
        let logic = drawn(5, &rows, outputs);
        let plan = planned(&logic, 1);
        prop_assert_eq!(plan.shown() + plan.never(), plan.faults.groups.len());
        replay(&logic, &plan);
        let all: Vec<Vec<bool>> = (0..32).map(|n| (0..5).map(|k| n >> k & 1 != 0).collect()).collect();
        let plain = Plain::new(&logic);
        let good = plain.run(&all, None);
        for (id, &fault) in plan.faults.faults.iter() {
            let never = matches!(plan.standings[plan.faults.group_of[id]], Standing::Never(_));
            prop_assert_eq!(plain.first(&all, &good, fault).is_none(), never);
        }
    }

    /// With flip-flops: the plan replays, and what is said never to show is not shown by a long drawn
    /// sequence either.
    #[test]
    fn sequences_replay_on_drawn_circuits(
        rows in prop::collection::vec((any::<u8>(), prop::collection::vec(any::<u32>(), 1..4)), 2..30),
        drawn_vectors in prop::collection::vec(any::<u8>(), 60),
    ) {
        let logic = with_flops(drawn(5, &rows, 2));
        let plan = planned(&logic, 1);
        replay(&logic, &plan);
        let sequence: Vec<Vec<bool>> =
            drawn_vectors.iter().map(|n| (0..3).map(|k| n >> k & 1 != 0).collect()).collect();
        let plain = Plain::new(&logic);
        let good = plain.run(&sequence, None);
        for (id, &fault) in plan.faults.faults.iter() {
            if !matches!(plan.standings[plan.faults.group_of[id]], Standing::Shown(_)) {
                prop_assert_eq!(plain.first(&sequence, &good, fault), None, "{}", plan.faults.name(&logic, id));
            }
        }
    }
}
