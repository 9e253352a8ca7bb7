//! How the time and the memory of grading grow with the circuit: generated netlists of 1,000 to 100,000
//! gates, each in a process of its own, so that the memory at most is that of one circuit.

use crate::best_of;
use crate::random::Random;
use dryjoint_faults::gates::{Circuit, Exposure, StuckFaults, Vector, grade};
use dryjoint_ids::Id;
use dryjoint_logic::{Function, Gate, Logic, Role, Signal, SignalId, Stage};
use std::process::Command;

/// The argument with which this program measures one circuit; the number of gates follows.
pub const ONE: &str = "--grade-generated";

const VECTORS: usize = 2_048;

/// Prints a row for each size.
pub fn print() {
    println!(
        "grading generated netlists of gates: {VECTORS} drawn vectors, shown faults dropped, all threads"
    );
    println!("    gates   prepared     graded  graded for a gate  memory for a gate  shown of groups");
    for gates in [1_000, 3_000, 10_000, 30_000, 100_000] {
        let run = std::env::current_exe()
            .and_then(|program| Command::new(program).args([ONE, &gates.to_string()]).output());
        match run {
            Ok(output) if output.status.success() => print!("{}", String::from_utf8_lossy(&output.stdout)),
            Ok(output) => println!("  {gates} gates: {}", String::from_utf8_lossy(&output.stderr)),
            Err(error) => println!("  {gates} gates: {error}"),
        }
    }
}

/// Measures and prints one size.
pub fn one(gates: usize) {
    let before = peak();
    let logic = generated(gates);
    let mut made = None;
    let prepared = best_of(1, || {
        let circuit = Circuit::compile(&logic).expect("generated from gates alone");
        let faults = StuckFaults::of(&logic);
        let exposures = Exposure::all(&logic, &circuit, &faults);
        made = Some((circuit, faults, exposures));
    });
    let (circuit, faults, exposures) = made.expect("just made");
    let mut random = Random(7);
    let inputs = circuit.inputs().len();
    let vectors: Vec<Vector> =
        (0..VECTORS).map(|_| Vector((0..inputs).map(|_| random.next() & 1 != 0).collect())).collect();
    let mut shown = 0;
    let graded = best_of(5, || shown = grade(&circuit, &faults, &exposures, &vectors).shown());
    let memory = match (before, peak()) {
        (Some(before), Some(after)) => format!("{:.1} kB", (after - before) / 1e3 / gates as f64),
        _ => "not known here".to_owned(),
    };
    println!(
        "  {gates:>7} {prepared:>10.1?} {graded:>10.1?} {:>15.2} µs {memory:>18}  {shown} of {}",
        graded.as_secs_f64() * 1e6 / gates as f64,
        faults.groups.len()
    );
}

/// A circuit of two- and three-input gates that read mostly what stands near them, as real ones do; nets
/// that nothing reads are outputs.
fn generated(gates: usize) -> Logic {
    let mut random = Random(3);
    let mut logic = Logic::default();
    let signal = |name: String, role| Signal { name, net: None, role };
    let inputs = 32 + gates / 50;
    for k in 0..inputs {
        logic.signals.push(signal(format!("i{k}"), Role::Input));
    }
    let mut read = vec![false; inputs + gates];
    for k in 0..gates {
        let before = logic.signals.len();
        let gate =
            [Gate::Nand, Gate::Nor, Gate::And, Gate::Or, Gate::Nand, Gate::Xor][random.next() as usize % 6];
        let pins = 2 + usize::from(random.next().is_multiple_of(4));
        let reads: Vec<SignalId> = (0..pins)
            .map(|pin| {
                // Every gate reads one input of the circuit's own stretch, so that levels stay lively.
                let at = if pin == 0 {
                    k * inputs / gates
                } else {
                    before - 1 - random.next() as usize % before.min(120)
                };
                read[at] = true;
                SignalId::at(at)
            })
            .collect();
        let output = logic.signals.push(signal(format!("g{k}"), Role::Inside));
        let function = Function::Gate(gate);
        logic.stages.push(Stage { name: format!("G{k}"), inputs: reads, output, function });
    }
    for at in (inputs..inputs + gates).filter(|&at| !read[at]) {
        let output = logic.signals.push(signal(format!("o{at}"), Role::Seen));
        let function = Function::Gate(Gate::Buf);
        logic.stages.push(Stage { name: format!("o{at}"), inputs: vec![SignalId::at(at)], output, function });
    }
    logic
}

/// Bytes of memory that this process held at most so far, where the system says so (Linux).
fn peak() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let row = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    Some(row.trim().trim_end_matches("kB").trim().parse::<f64>().ok()? * 1e3)
}
