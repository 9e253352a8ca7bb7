//! Two hundred random boards, each solved here and by a general-purpose reference: SciPy
//! (scipy.org, sparse LU by SuperLU) on the same parts, with the equations written independently in
//! `scipy/operating_points.py`. Node voltages agree within 1 mV.
//!
//! SciPy comes from the Python package index, into a folder beside the other build products. Where
//! that cannot be done the check is skipped and says so; with `CI=true` it fails.

mod soldered;

use dryjoint_board::{Board, PartKind, Supply};
use dryjoint_circuit::{Network, Solver, kirchhoff};
use dryjoint_draws::Draws;
use dryjoint_ids::Id;
use dryjoint_parts::{Model, Polarity};
use serde_json::{Value, json};
use soldered::Soldered;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

const BOARDS: u64 = 200;

/// A board that grows gate by gate, each reading earlier ones, so that it has one operating point.
struct Grown {
    soldered: Soldered,
    draw: Draws,
    outputs: Vec<String>,
    transistors: usize,
}

impl Grown {
    /// One of the last sixty outputs, or a rail.
    fn input(&mut self) -> String {
        let back = 1 + self.draw.below(60);
        match self.outputs.len().checked_sub(back) {
            Some(at) => self.outputs[at].clone(),
            None => ["VCC", "GND"][self.draw.below(2)].to_owned(),
        }
    }

    fn nor(&mut self, values: [f64; 3]) {
        let (k, width) = (self.transistors, 1 + self.draw.below(3));
        let inputs: Vec<String> = (0..width).map(|_| self.input()).collect();
        let inputs: Vec<&str> = inputs.iter().map(String::as_str).collect();
        self.soldered.nor(&format!("G{k}"), &inputs, &format!("y{k}"), values);
        self.outputs.push(format!("y{k}"));
    }

    /// A low-side lamp, a high-side one behind a PNP, a diode OR, an emitter follower.
    fn other(&mut self, kind: usize) {
        let (k, input) = (self.transistors, self.input());
        let [b, n, m] = ["b", "n", "m"].map(|net| format!("{net}{k}"));
        let red = self.soldered.model("red");
        let board = &mut self.soldered;
        match kind {
            0 => {
                board.resistor(&format!("RB{k}"), 22e3, &input, &b);
                board.resistor(&format!("RC{k}"), 470.0, "VCC", &n);
                board.fit(&format!("DS{k}"), PartKind::Lamp(red), &[&n, &m]);
                board.transistor(&format!("Q{k}"), "2N3904", &m, &b, "GND");
            }
            1 => {
                board.resistor(&format!("RB{k}"), 22e3, &input, &b);
                board.resistor(&format!("RE{k}"), 10e3, &b, "VCC");
                board.transistor(&format!("Q{k}"), "2N3906", &m, &b, "VCC");
                board.resistor(&format!("RC{k}"), 680.0, &m, &n);
                board.fit(&format!("DS{k}"), PartKind::Lamp(red), &[&n, "GND"]);
            }
            2 => {
                let other = self.input();
                let board = &mut self.soldered;
                let diode = board.model("1N4148");
                board.fit(&format!("D{k}"), PartKind::Diode(diode), &[&input, &n]);
                board.fit(&format!("D{k}A"), PartKind::Diode(diode), &[&other, &n]);
                board.resistor(&format!("RD{k}"), 100e3, &n, "GND");
                let output = format!("y{k}");
                board.nor(&format!("G{k}"), &[&n], &output, [2200.0, 22e3, 22e3]);
                self.outputs.push(output);
            }
            _ => {
                board.transistor(&format!("Q{k}"), "2N2222", "VCC", &input, &m);
                board.resistor(&format!("RE{k}"), 4.7e3, &m, "GND");
                self.outputs.push(m);
            }
        }
    }
}

/// A board of 50 to 500 transistors, three in four of them below 160, so that all two hundred are done
/// within a minute by the slower of the two.
fn grown(seed: u64) -> Soldered {
    let mut draw = Draws::new(seed.wrapping_mul(0x2545_f491_4f6c_dd1d));
    let share = draw.below(1001) as f64 / 1000.0;
    let wanted = 50 + (450.0 * share.powi(5)).round() as usize;
    let mut board = Grown { soldered: Soldered::five_volts(50.0), draw, outputs: Vec::new(), transistors: 0 };
    while board.transistors < wanted {
        match board.draw.below(20) {
            0..14 => board.nor([2200.0, 22e3, 22e3]),
            14..16 => board.nor([1e3, 10e3, 10e3]),
            kind => board.other(kind - 16),
        }
        board.transistors += 1;
    }
    board.soldered
}

/// The parts of a board as the reference reads them; node 0 is ground, the rest count as nets do.
fn document(board: &Board, cards: &mut serde_json::Map<String, Value>) -> Value {
    for (_, named) in board.models.iter() {
        let figures = named.model.parameters().into_iter().filter(|(_, value)| value.is_finite());
        let figures = figures.map(|(name, value)| (name.to_owned(), json!(value))).collect();
        cards.insert(named.name.clone(), Value::Object(figures));
    }
    let node = |net: dryjoint_board::NetId| match board.nets[net].supply {
        Some(Supply::Ground) => 0,
        _ => net.index() + 1,
    };
    let (mut held, mut resistors, mut junctions, mut transistors) = (vec![], vec![], vec![], vec![]);
    for (id, net) in board.nets.iter() {
        match net.supply {
            Some(Supply::Rail { volts, .. }) => held.push(json!([node(id), volts.0])),
            // its own number stays unused
            Some(Supply::Ground) => held.push(json!([id.index() + 1, 0.0])),
            None => {}
        }
    }
    for (_, part) in board.parts.iter() {
        let ends: Vec<usize> = part.pins.iter().map(|pin| node(board.pins[*pin].net)).collect();
        match part.kind {
            PartKind::Resistor { ohms, .. } => resistors.push(json!([ends[0], ends[1], ohms.0])),
            PartKind::Diode(model) | PartKind::Lamp(model) => {
                junctions.push(json!([ends[0], ends[1], board.models[model].name]));
            }
            PartKind::Bipolar(model) => {
                let Model::Bipolar(card) = &board.models[model].model else { panic!("no transistor") };
                let sign = if card.polarity == Polarity::Npn { 1 } else { -1 };
                transistors.push(json!([ends[0], ends[1], ends[2], board.models[model].name, sign]));
            }
            _ => panic!("no such part on these boards"),
        }
    }
    json!({
        "nodes": board.nets.len() + 1, "held": held, "resistors": resistors,
        "junctions": junctions, "transistors": transistors,
    })
}

/// A Python with SciPy, made if it is not there yet; or what went wrong.
fn python() -> Result<PathBuf, String> {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("scipy");
    let python = folder.join(if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" });
    let run = |program: &Path, arguments: &[&str]| -> Result<(), String> {
        let output = Command::new(program)
            .args(arguments)
            .output()
            .map_err(|error| format!("{}: {error}", program.display()))?;
        if output.status.success() {
            return Ok(());
        }
        let said = String::from_utf8_lossy(&output.stderr);
        Err(format!("{} {}: {}", program.display(), arguments.join(" "), said.trim()))
    };
    if run(&python, &["-c", "import scipy.sparse.linalg"]).is_ok() {
        return Ok(python);
    }
    let folder = folder.to_str().ok_or("the target folder's name is no text")?;
    run(Path::new("python3"), &["-m", "venv", "--clear", folder])?;
    run(&python, &["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "numpy", "scipy"])?;
    Ok(python)
}

fn reference(python: &Path, document: &Value) -> Value {
    let program = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/scipy/operating_points.py");
    let mut child = Command::new(python)
        .arg(program)
        .env("OMP_NUM_THREADS", "1")
        .env("OPENBLAS_NUM_THREADS", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the interpreter just made starts");
    let mut input = child.stdin.take().expect("it was asked for");
    input.write_all(document.to_string().as_bytes()).expect("it reads all");
    drop(input);
    let output = child.wait_with_output().expect("it ends");
    assert!(output.status.success(), "the reference failed; see above");
    serde_json::from_slice(&output.stdout).expect("it writes JSON")
}

/// To the terminal, whether the check passes or not: what was skipped or measured should be seen.
fn say(line: &str) {
    let _ = writeln!(std::io::stderr(), "scipy: {line}");
}

#[test]
fn two_hundred_random_boards() {
    let python = match python() {
        Ok(python) => python,
        Err(why) if std::env::var("CI").is_ok_and(|ci| ci == "true") => panic!("{why}"),
        Err(why) => {
            say(&format!("SKIPPED: no SciPy to compare with: {why}"));
            return;
        }
    };
    let boards: Vec<Soldered> = (0..BOARDS).map(grown).collect();
    let mut cards = serde_json::Map::new();
    let documents: Vec<Value> = boards.iter().map(|board| document(&board.board, &mut cards)).collect();
    let networks: Vec<Network> = boards.iter().map(|board| Network::of_board(&board.board)).collect();
    let start = Instant::now();
    let found: Vec<_> =
        networks.iter().map(|network| Solver::default().solve(network).expect("a solution")).collect();
    let ours = start.elapsed().as_secs_f64();
    let stated = reference(&python, &json!({ "cards": cards, "boards": documents }));
    let mut worst: f64 = 0.0;
    for (number, board) in boards.iter().enumerate() {
        assert!(kirchhoff(&networks[number], &found[number]).0 < 1e-9);
        for (net, row) in board.board.nets.iter() {
            let volts = found[number].at(&networks[number], net).expect("each net has a node").0;
            let stated = match row.supply {
                Some(Supply::Ground) => 0.0,
                _ => stated["volts"][number][net.index() + 1].as_f64().expect("a number"),
            };
            worst = worst.max((volts - stated).abs());
            assert!((volts - stated).abs() < 1e-3, "board {number}, {}: {volts}, SciPy {stated}", row.name);
        }
    }
    let theirs = stated["seconds"].as_f64().expect("a number");
    say(&format!(
        "{BOARDS} boards: {ours:.3} s here, {theirs:.3} s in SciPy, {:.0} times; greatest difference {worst:.1e} V",
        theirs / ours
    ));
}
