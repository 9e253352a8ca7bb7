//! Netlists of gates: the whole plan of published circuits beside a plain replay of it, and the grader
//! beside a plain simulator and beside what the bare bit operations take.

use crate::best_of;
use crate::plain_gates::Plain;
use crate::random::Random;
use dryjoint_faults::gates::{Circuit, Exposure, Grader, StuckFaults, Vector};
use dryjoint_faults::lanes::{LANES, Word};
use dryjoint_logic::Logic;
use dryjoint_procedure::gates::{Options, Standing, plan};
use std::hint::black_box;
use std::path::Path;
use std::time::Duration;

/// Circuits of Brglez & Fujiwara 1985, as netlists beside the repository.
const CIRCUITS: [&str; 4] = ["c432", "c880", "c1355", "c1908"];
/// Words of vectors that are graded: each 512 vectors.
const BLOCKS: usize = 16;
/// Faults that the plain simulator grades; it would take minutes for all.
const PLAIN_FAULTS: usize = 50;

/// Prints the rows of each circuit that is at hand.
pub fn print() {
    let (mut read, mut skipped) = (Vec::new(), Vec::new());
    for name in CIRCUITS {
        match published(name) {
            Some(logic) => read.push((name, logic)),
            None => skipped.push(name),
        }
    }
    if !skipped.is_empty() {
        println!("SKIPPED: plan and grading of {}: not in ../shared/data/iscas85", skipped.join(", "));
    }
    if read.is_empty() {
        return;
    }
    println!("the whole plan of a netlist of gates, default effort");
    for (name, logic) in &read {
        planning(name, logic);
    }
    println!("grading a netlist of gates: {} drawn vectors, no fault dropped, one thread", BLOCKS * LANES);
    for (name, logic) in &read {
        grading(name, logic);
    }
}

fn published(name: &str) -> Option<Logic> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/data/iscas85");
    let text = std::fs::read_to_string(folder.join(format!("{name}.v"))).ok()?;
    dryjoint_netlist::verilog::read(&text, None).0.map(|gates| gates.logic)
}

/// The plan, beside the plain simulator's replay of it: one fault of each group, up to the vector that
/// shows it.
fn planning(name: &str, logic: &Logic) {
    let mut found = None;
    let ours = best_of(1, || found = plan(logic, &Options::default(), &|_| true).ok());
    let Some(plan) = found else { return println!("  {name}: not a netlist of gates") };
    let plain = Plain::new(logic);
    let rows: Vec<Vec<bool>> = plan.vectors.iter().map(|vector| vector.0.clone()).collect();
    let replay = best_of(1, || {
        for (group, standing) in plan.standings.iter() {
            if let Standing::Shown(step) = *standing {
                let fault = plan.faults.faults[plan.faults.groups[group][0]];
                black_box(plain.first(&rows[..=step], &plan.expected[..=step], fault));
            }
        }
    });
    println!(
        "  {name:<6} {:>4} vectors in {ours:>8.2?}, {:.1} times as long as the plain replay of it ({replay:.2?})",
        plan.vectors.len(),
        ours.as_secs_f64() / replay.as_secs_f64()
    );
}

/// Fault-vectors a second, and which share of the bare limit that is: the limit is the rate at which the
/// good circuit alone settles, 512 vectors at a time, on this machine's widest vectors.
fn grading(name: &str, logic: &Logic) {
    let Ok(circuit) = Circuit::compile(logic) else { return println!("  {name}: not a netlist of gates") };
    let faults = StuckFaults::of(logic);
    let exposures = Exposure::all(logic, &circuit, &faults);
    let mut random = Random(1);
    let mut grader = Grader::new(&circuit);
    let blocks: Vec<Vec<Word>> =
        (0..BLOCKS).map(|_| circuit.inputs().iter().map(|_| random.word()).collect()).collect();

    let before = grader.evaluated();
    grader.load(&blocks[0]);
    let settled = (grader.evaluated() - before) as f64;
    let bare: Duration = blocks.iter().map(|block| best_of(40, || grader.load(block))).sum();
    let limit = settled * BLOCKS as f64 / bare.as_secs_f64();

    let mut ours = Duration::ZERO;
    let mut evaluated = 0;
    for block in &blocks {
        let before = grader.evaluated();
        let runs = 10;
        ours += best_of(runs, || {
            grader.load(block);
            for exposure in exposures.rows() {
                black_box(grader.shows(exposure));
            }
        });
        evaluated += (grader.evaluated() - before) / runs as u64;
    }
    let conditions: usize = exposures.rows().iter().map(|e| e.conditions.len()).sum();
    let share = |operations: f64| 100.0 * operations / ours.as_secs_f64() / limit;
    let fast = (faults.groups.len() * BLOCKS * LANES) as f64 / ours.as_secs_f64();

    let plain = Plain::new(logic);
    let rows: Vec<Vec<bool>> = (0..4).map(|lane| Vector::of_lane(&blocks[0], lane).0).collect();
    let step = faults.faults.len().div_ceil(PLAIN_FAULTS);
    let few: Vec<_> = faults.faults.rows().iter().copied().step_by(step).collect();
    let slow = best_of(3, || few.iter().for_each(|&fault| drop(black_box(plain.run(&rows, Some(fault))))));
    let slow = (few.len() * rows.len()) as f64 / slow.as_secs_f64();
    println!(
        "  {name:<6} {:>6.0} million fault-vectors a second, {:>6.0} times the plain simulator",
        fast / 1e6,
        fast / slow
    );
    println!(
        "         {:.0} % of the bare limit ({:.0} million gates of {LANES} vectors a second) in gates evaluated, \
         {:.0} % with the conditions of faults counted as gates",
        share(evaluated as f64),
        limit / 1e6,
        share(evaluated as f64 + (conditions * BLOCKS) as f64)
    );
}
