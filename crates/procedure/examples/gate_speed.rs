//! Speed of planning and grading gate netlists: `cargo run --release -p dryjoint-procedure --example
//! gate_speed -- DIR`, where DIR holds `iscas85`. Nothing else should run meanwhile.

#![allow(clippy::print_stdout, reason = "the figures are what it is for")]

#[path = "../../faults/tests/circuits/mod.rs"]
mod circuits;

use circuits::plain::Plain;
use dryjoint_faults::gates::{Circuit, Exposure, Grader, StuckFaults, Vector, grade};
use dryjoint_faults::lanes::Word;
use dryjoint_ids::Id;
use dryjoint_logic::{Function, Gate, Logic, Role, Signal, SignalId, Stage};
use dryjoint_procedure::gates::{Options, plan};
use std::hint::black_box;
use std::path::Path;
use std::time::Instant;

fn main() {
    let folder = std::env::args().nth(1).unwrap_or_else(|| "../shared/data".into());
    println!("whole plan, default effort:");
    for name in ["c432", "c880", "c1355", "c1908"] {
        let logic = published(&folder, name);
        let start = Instant::now();
        let plan = plan(&logic, &Options::default(), &|_| true).expect("gates");
        println!("  {name}: {} vectors in {:.2} s", plan.vectors.len(), start.elapsed().as_secs_f64());
    }
    println!("grading every fault group against every vector, nothing dropped, one thread:");
    for name in ["c432", "c880", "c1355", "c1908"] {
        grading(name, &published(&folder, name));
    }
    println!("grading generated circuits, 2,048 random vectors, shown groups dropped:");
    for gates in [1_000, 3_000, 10_000, 30_000, 100_000] {
        scaling(gates);
    }
}

fn published(folder: &str, name: &str) -> Logic {
    let path = Path::new(folder).join(format!("iscas85/{name}.v"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let (gates, problems) = dryjoint_netlist::verilog::read(&text, None);
    gates.unwrap_or_else(|| panic!("{problems:?}")).logic
}

/// A plain linear congruence; the numbers only have to be the same each time.
struct Draw(u64);

impl Draw {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        self.0 ^ self.0 >> 29
    }

    fn word(&mut self) -> Word {
        Word(std::array::from_fn(|_| self.next() ^ self.next() << 32))
    }
}

fn grading(name: &str, logic: &Logic) {
    let circuit = Circuit::compile(logic).expect("gates");
    let faults = StuckFaults::of(logic);
    let exposures = Exposure::all(logic, &circuit, &faults);
    let mut draw = Draw(1);
    let mut grader = Grader::new(&circuit);
    let blocks: Vec<Vec<Word>> =
        (0..64).map(|_| circuit.inputs().iter().map(|_| draw.word()).collect()).collect();

    // The bare limit: nothing but settling the good circuit.
    let start = Instant::now();
    let rounds = 4_000;
    for k in 0..rounds {
        grader.load(&blocks[k % blocks.len()]);
        black_box(grader.level(circuit.seen()[0].1));
    }
    let limit = grader.evaluated() as f64 / start.elapsed().as_secs_f64();

    let before = grader.evaluated();
    let start = Instant::now();
    for block in &blocks {
        grader.load(block);
        for exposure in exposures.rows() {
            black_box(grader.shows(exposure));
        }
    }
    let seconds = start.elapsed().as_secs_f64();
    let fast = (exposures.rows().len() * blocks.len() * 512) as f64 / seconds;
    let rate = (grader.evaluated() - before) as f64 / seconds;

    let plain = Plain::new(logic);
    let rows: Vec<Vec<bool>> = (0..8).map(|k| Vector::of_lane(&blocks[0], k).0).collect();
    let start = Instant::now();
    let mut runs = 0;
    for (_, &fault) in faults.faults.iter().step_by(1 + faults.faults.len() / 100) {
        black_box(plain.run(&rows, Some(fault)));
        runs += rows.len();
    }
    let slow = runs as f64 / start.elapsed().as_secs_f64();
    println!(
        "  {name}: {:.0} million fault-vectors a second, {:.0} times the plain simulator ({slow:.0}); \
         {:.0} million gate evaluations of 512 a second, {:.0} % of bare settling ({:.0} million)",
        fast / 1e6,
        fast / slow,
        rate / 1e6,
        100.0 * rate / limit,
        limit / 1e6
    );
}

fn scaling(gates: usize) {
    let logic = generated(gates);
    let start = Instant::now();
    let circuit = Circuit::compile(&logic).expect("gates");
    let faults = StuckFaults::of(&logic);
    let exposures = Exposure::all(&logic, &circuit, &faults);
    let prepared = start.elapsed().as_secs_f64();
    let mut draw = Draw(7);
    let inputs = circuit.inputs().len();
    let vectors: Vec<Vector> =
        (0..2_048).map(|_| Vector((0..inputs).map(|_| draw.next() & 1 != 0).collect())).collect();
    let start = Instant::now();
    let graded = grade(&circuit, &faults, &exposures, &vectors);
    println!(
        "  {gates} gates: prepared in {prepared:.3} s, graded in {:.3} s, {} of {} groups shown, {} MB resident",
        start.elapsed().as_secs_f64(),
        graded.shown(),
        faults.groups.len(),
        resident() / 1_000_000
    );
}

/// A circuit of two- and three-input gates that read mostly what stands near them, as real ones do; nets
/// that nothing reads are outputs.
fn generated(gates: usize) -> Logic {
    let mut draw = Draw(3);
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
            [Gate::Nand, Gate::Nor, Gate::And, Gate::Or, Gate::Nand, Gate::Xor][draw.next() as usize % 6];
        let pins = 2 + usize::from(draw.next().is_multiple_of(4));
        let inputs: Vec<SignalId> = (0..pins)
            .map(|pin| {
                // Every gate reads one input of the circuit's own stretch, so that levels stay lively.
                let at = if pin == 0 {
                    k * inputs / gates
                } else {
                    before - 1 - draw.next() as usize % before.min(120)
                };
                read[at] = true;
                SignalId::at(at)
            })
            .collect();
        let output = logic.signals.push(signal(format!("g{k}"), Role::Inside));
        logic.stages.push(Stage { name: format!("G{k}"), inputs, output, function: Function::Gate(gate) });
    }
    for at in (inputs..inputs + gates).filter(|&at| !read[at]) {
        let output = logic.signals.push(signal(format!("o{at}"), Role::Seen));
        let function = Function::Gate(Gate::Buf);
        logic.stages.push(Stage { name: format!("o{at}"), inputs: vec![SignalId::at(at)], output, function });
    }
    logic
}

/// What the process holds in memory, where the system says so (Linux).
fn resident() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let row = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    row.and_then(|row| row.trim().trim_end_matches("kB").trim().parse::<u64>().ok()).unwrap_or(0) * 1_000
}
