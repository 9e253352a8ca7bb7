//! A board in time: part of the document of `dryjoint check`.

use schemars::JsonSchema;
use serde::Serialize;

/// Clocks, resets, delays, phases and paths, from the transient circuit.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Timing {
    /// Every clock that stands on the board, at every position of its switch.
    pub clocks: Vec<Beat>,
    /// Every group of phases at its closest.
    pub phases: Vec<Turn>,
    /// Phases that come from outside by lines: how fast they may take turns.
    pub cycles: Vec<Cycle>,
    /// Every pulse that the board makes by itself when power comes on.
    pub resets: Vec<Reset>,
    /// The delay of every stage from each of its inputs, where the circuit gave one.
    pub delays: Vec<Delay>,
    /// The longest path from one storage element to the next.
    pub longest_path: Option<Path>,
    /// After each edge, the path to the last level that moves.
    pub after: Vec<After>,
    /// The states from which edges were followed.
    pub states: usize,
}

/// A clock at one position of its switch.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Beat {
    /// The clock's net.
    pub clock: String,
    /// The position's name; empty where there is no switch.
    pub position: String,
    /// The rate that the text states, in hertz.
    pub stated_hertz: f64,
    /// The rate that the circuit of the oscillator gives, in hertz; nothing where it stands still.
    pub hertz: Option<f64>,
    /// The slowest and the fastest copy, by the tolerances of resistors and capacitors.
    pub range_hertz: Option<[f64; 2]>,
    /// The share of a cycle in which it is high.
    pub duty: Option<f64>,
    /// The greatest rate at which everything comes to rest between two edges, in hertz.
    pub allowed_hertz: Option<f64>,
}

/// Two phases at their closest.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Turn {
    /// The phase that ends.
    pub ends: String,
    /// The phase that begins after it.
    pub begins: String,
    /// Time between the two, in seconds; below zero they overlap.
    pub apart_seconds: f64,
}

/// Phases from outside.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Cycle {
    /// The phases.
    pub phases: Vec<String>,
    /// One turn of all, with everything at rest after each edge, in seconds.
    pub seconds: f64,
    /// Turns a second, in hertz.
    pub hertz: f64,
}

/// A pulse at power-on.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Reset {
    /// The net that carries it.
    pub net: String,
    /// The capacitor that makes it.
    pub capacitor: String,
    /// Whether the net is high during the pulse.
    pub high: bool,
    /// From power to its end, in seconds; nothing where it does not end.
    pub seconds: Option<f64>,
    /// The shortest and the longest copy.
    pub range_seconds: Option<[f64; 2]>,
    /// Edges after power; one is clean.
    pub edges: usize,
    /// How long that edge is between its receivers' thresholds, in seconds.
    pub slope_seconds: f64,
}

/// From an input's middle to the output's.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Delay {
    /// The stage's transistor.
    pub part: String,
    /// The net that it reads.
    pub input: String,
    /// The net that it drives.
    pub output: String,
    /// Until the output has risen, in seconds.
    pub rise_seconds: Option<f64>,
    /// Until it has fallen, in seconds.
    pub fall_seconds: Option<f64>,
}

/// A chain of stages.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Path {
    /// All of it, in seconds.
    pub seconds: f64,
    /// Its stages; the first is the start.
    pub stages: Vec<Hop>,
}

/// One stage of a path.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Hop {
    /// The net that moves.
    pub net: String,
    /// The transistor that moves it.
    pub part: Option<String>,
    /// Whether it rises.
    pub rises: bool,
    /// When, from the start, in seconds.
    pub seconds: f64,
    /// Whether the net is half of a pair that keeps what was put into it.
    pub keeps: bool,
}

/// What follows an edge.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct After {
    /// The clock's net, or the line.
    pub edge: String,
    /// `rises`, `falls`, `tied` or `released`.
    pub way: String,
    /// The path to the last level that moves.
    pub path: Path,
    /// States in which two ways race after this edge and nothing was timed.
    pub races: usize,
}
