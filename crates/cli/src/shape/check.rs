//! A board proven on paper.

use super::Header;
use super::survey::Survey;
use schemars::JsonSchema;
use serde::Serialize;

/// What checking a board found. Printed by `dryjoint check FILE --json`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Check {
    #[serde(flatten)]
    pub header: Header,
    /// Whether nothing is wrong: no warning, no error, the proof without a gap.
    pub fine: bool,
    /// How many parts, transistors, nets, signals and stages there are.
    pub counts: Counts,
    /// Every remark on the board.
    pub notices: Vec<Notice>,
    /// The logic against the circuit of the whole board.
    pub proof: Proof,
    /// Stages that heed edges, with what they do.
    pub edges: Vec<Heeded>,
    /// What the board's own numbers say before power.
    pub survey: Survey,
    /// Files of plots that were written.
    pub plots: Vec<String>,
}

/// What the board is made of.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Counts {
    /// Parts.
    pub parts: usize,
    /// Transistors among them.
    pub transistors: usize,
    /// Nets.
    pub nets: usize,
    /// Signals found.
    pub signals: usize,
    /// Stages found.
    pub stages: usize,
    /// Different pieces of circuit that were solved for them.
    pub solved: usize,
}

/// A remark with its place.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Notice {
    /// `error`, `warning` or `remark`.
    pub severity: String,
    /// The kind of notice.
    pub code: String,
    /// What is wrong.
    pub text: String,
    /// How to mend it; empty where only the builder can know.
    pub mend: String,
    /// The file, where the notice has a place.
    pub file: Option<String>,
    /// The line, counted from 1.
    pub line: Option<usize>,
    /// The column, counted from 1.
    pub column: Option<usize>,
}

/// What a stage does on an edge of a signal that it reads through a capacitor.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Heeded {
    /// The stage's transistor.
    pub part: String,
    /// The signal that makes the edge.
    pub trigger: String,
    /// `rises` or `falls`.
    pub way: String,
    /// The net on which the pulse appears.
    pub output: String,
    /// Where it goes for a while: `high` or `low`.
    pub goes: Option<String>,
    /// The stage's other inputs, such as `QN high`.
    pub with: Vec<String>,
}

/// How far the proof went.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Proof {
    /// Whether every reachable state was compared, or a sample.
    pub every_state: bool,
    /// States compared.
    pub states: usize,
    /// Signals and lamps compared, over all states.
    pub compared: usize,
    /// Stages on whose signal the circuit always agreed.
    pub agreed: usize,
    /// Where the circuit saw something else.
    pub disagreements: Vec<Disagreement>,
    /// States the circuit found no solution for.
    pub unsolved: usize,
    /// The first few of them: the net that misses most current, how much, and what was tried.
    pub no_solution: Vec<String>,
}

/// A signal that the circuit sees otherwise.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Disagreement {
    /// The net, or the lamp.
    pub signal: String,
    /// What the logic says, as a character of IEEE 1164.
    pub logic: char,
    /// The volts that the circuit says; none for a lamp.
    pub volts: Option<f64>,
}
