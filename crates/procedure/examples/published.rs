//! The table of published circuits: `cargo run --release -p dryjoint-procedure --example published -- DIR >
//! docs/published-circuits.md`, where DIR holds `iscas85` and `iscas89`.

#![allow(clippy::print_stdout, reason = "the figures are what it is for")]

use dryjoint_logic::{Function, Logic, Role};
use dryjoint_procedure::gates::{Options, Standing, VectorPlan, distinguish, plan};
use std::path::Path;
use std::time::Instant;

/// Name, and the best number of vectors published (Hamzaoglu & Patel 1998).
const COMBINATIONAL: [(&str, usize); 6] =
    [("c17", 4), ("c432", 27), ("c499", 52), ("c880", 16), ("c1355", 84), ("c1908", 106)];

/// Name, most faults published as detected, and in how many vectors where that was given (Hsiao, Rudnick &
/// Patel 2000).
const SEQUENTIAL: [(&str, usize, Option<usize>); 7] = [
    ("s27", 32, None),
    ("s298", 265, Some(194)),
    ("s344", 329, Some(86)),
    ("s386", 314, None),
    ("s641", 404, Some(166)),
    ("s1196", 1239, Some(574)),
    ("s1488", 1444, Some(593)),
];

/// Name, and how many classes of faults nothing can split further, those that no vector shows left out:
/// computed from the structures by an independent program.
const CLASSES: [(&str, usize); 6] =
    [("c17", 22), ("c432", 507), ("c499", 738), ("c880", 887), ("c1355", 930), ("c1908", 1619)];

fn main() {
    let folder = std::env::args().nth(1).unwrap_or_else(|| "../shared/data".into());
    vectors(&folder);
    sequences(&folder);
    told_apart(&folder);
}

fn vectors(folder: &str) {
    println!("# Published circuits\n");
    println!("Written by `cargo run --release -p dryjoint-procedure --example published -- DIR`. Single");
    println!("stuck-at faults, groups by the equivalence rules; default effort, random numbers from 1. A");
    println!(
        "fault counts as untestable only with a proof that a second program followed. The circuits as structural Verilog are those of\n\
         the open collection `ispras/hdl-benchmarks` (Apache-2.0), in `DIR/iscas85` and `DIR/iscas89`.\n"
    );
    println!("## Without flip-flops\n");
    println!(
        "Circuits of Brglez & Fujiwara 1985; best published sizes of Hamzaoglu & Patel 1998. The bound is"
    );
    println!("our own proof: so many faults of which no vector shows two at a time.\n");
    println!(
        "| circuit | in/out | gates | groups (faults) | untestable | first vectors | vectors | proven bound | best published | s |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    for (name, published) in COMBINATIONAL {
        let (logic, plan, seconds) = planned(folder, &format!("iscas85/{name}.v"));
        let bound = plan.bound.as_ref().map_or("–".to_owned(), |bound| bound.apart.len().to_string());
        println!(
            "| {name} | {} | {} | {} | {} | {} | **{}** | {bound} | {published} | {seconds:.1} |",
            ports(&logic),
            gates(&logic),
            faults(&plan),
            plan.never(),
            plan.before,
            plan.vectors.len(),
        );
    }
}

fn sequences(folder: &str) {
    println!("\n## With flip-flops, from unknown power-on\n");
    println!(
        "Circuits of Brglez, Bryan & Kozminski 1989; detected faults and vectors of Hsiao, Rudnick & Patel"
    );
    println!(
        "2000. Every fault that is not shown is proven never to show: by the pairs of memories that can be"
    );
    println!("reached, or by the solver's induction.\n");
    println!(
        "| circuit | in/out | gates, flip-flops | groups (faults) | shown | published | never: reached / solver | open | vectors | published | s |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    for (name, detected, vectors) in SEQUENTIAL {
        let (logic, plan, seconds) = planned(folder, &format!("iscas89/{name}.v"));
        let reached =
            plan.standings.rows().iter().filter(|s| matches!(s, Standing::NeverReached { .. })).count();
        let flops = logic.stages.rows().iter().filter(|stage| stage.function == Function::Flop).count();
        println!(
            "| {name} | {} | {}, {flops} | {} | **{}** | {detected} | {reached} / {} | {} | **{}** | {} | {seconds:.1} |",
            ports(&logic),
            gates(&logic),
            faults(&plan),
            plan.shown(),
            plan.never() - reached,
            plan.faults.groups.len() - plan.shown() - plan.never(),
            plan.vectors.len(),
            vectors.map_or("–".to_owned(), |count| count.to_string()),
        );
    }
}

fn told_apart(folder: &str) {
    println!("\n## Faults told apart\n");
    println!("Classes of faults that differ under some vector, those that no vector shows left out; the");
    println!("number that nothing can split further was computed from the structures by another program.");
    println!("Members of one class are proven the same under any vector, with proofs that were followed.\n");
    println!("| circuit | groups | vectors | classes | can be split into | proven the same | open | s |");
    println!("| --- | --- | --- | --- | --- | --- | --- | --- |");
    for (name, can) in CLASSES {
        let logic = read(folder, &format!("iscas85/{name}.v"));
        let start = Instant::now();
        let told = distinguish(&logic, 1).expect("a netlist of gates").expect("no flip-flops");
        println!(
            "| {name} | {} | {} | **{}** | {can} | {} | {} | {:.1} |",
            told.faults.groups.len(),
            told.vectors.len(),
            told.classes.len() - usize::from(told.silent.is_some()),
            told.proven,
            told.open,
            start.elapsed().as_secs_f64(),
        );
    }
}

fn read(folder: &str, file: &str) -> Logic {
    let path = Path::new(folder).join(file);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let (gates, problems) = dryjoint_netlist::verilog::read(&text, None);
    gates.unwrap_or_else(|| panic!("{problems:?}")).logic
}

fn planned(folder: &str, file: &str) -> (Logic, VectorPlan, f64) {
    let logic = read(folder, file);
    let start = Instant::now();
    let plan = plan(&logic, &Options::default(), &|_| true).expect("a netlist of gates");
    (logic, plan, start.elapsed().as_secs_f64())
}

fn ports(logic: &Logic) -> String {
    format!("{}/{}", logic.inputs().count(), logic.seen().count())
}

fn gates(logic: &Logic) -> usize {
    let tap = |output| logic.signals[output].role == Role::Seen;
    let gate = |function: &Function| matches!(function, Function::Gate(_));
    logic.stages.rows().iter().filter(|stage| gate(&stage.function) && !tap(stage.output)).count()
}

fn faults(plan: &VectorPlan) -> String {
    format!("{} ({})", plan.faults.groups.len(), plan.faults.faults.len())
}
