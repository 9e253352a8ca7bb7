//! What a fault does, as a table.
//!
//! A fault spoils a small region of the board: a stage, the signals that feed it, the signals it
//! drives. The table has a row for each way in which the *rest* of the board can drive the region's
//! signals, and says what is then really on them. It comes from the circuit, solved with the fault
//! in it; the lanes only look it up.

use dryjoint_logic::{SignalId, StageId};

/// How the rest of the board drives a signal of the region.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Drive {
    /// Nobody drives it; pull resistors outside the region may.
    Free,
    /// Somebody pulls it low.
    Low,
    /// Somebody drives it high.
    High,
}

/// One signal that a behaviour looks at.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Read {
    /// The signal.
    pub signal: SignalId,
    /// The stages outside the region that drive it.
    pub stages: Vec<StageId>,
    /// Whether the bench's hand reaches it.
    pub bench: bool,
    /// The drives that can occur, in the order in which the table counts them.
    pub drives: Vec<Drive>,
}

impl Read {
    /// A signal that nobody but the bench drives.
    pub fn of_bench(signal: SignalId, drives: &[Drive]) -> Self {
        Self { signal, stages: Vec::new(), bench: true, drives: drives.to_vec() }
    }
}

/// What a behaviour sets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Target {
    /// A signal, for everyone who reads it.
    Signal(SignalId),
    /// One stage's input: a voltage between the levels is read one way here, another way there.
    Pin(StageId, u8),
}

/// What is really on a signal, or seen on a lamp.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Shown {
    /// Low; a lamp is dark.
    Zero,
    /// High; a lamp is lit.
    One,
    /// Between the levels, or it depends.
    Unknown,
    /// A lamp that glows, but clearly weaker than its neighbours.
    Dim,
}

/// What a fault does.
///
/// **Invariant:** `table` has one row per combination of the reads' drives (the first read counts
/// fastest), each row one [`Shown`] per write.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Behaviour {
    /// What it looks at.
    pub reads: Vec<Read>,
    /// What it sets.
    pub writes: Vec<Target>,
    /// The rows, one after the other.
    pub table: Vec<Shown>,
    /// A line whose jumper shorts the supply through this fault: while the hand holds it the supply gives its
    /// limit at next to no voltage, every lamp is dark, and the board remembers nothing afterwards.
    pub blackout: Option<SignalId>,
}

impl Behaviour {
    /// A behaviour that holds one signal at one value whatever happens.
    pub fn stuck(signal: SignalId, shown: Shown) -> Self {
        Self { reads: Vec::new(), writes: vec![Target::Signal(signal)], table: vec![shown], blackout: None }
    }

    /// How many rows the table must have.
    pub fn rows(&self) -> usize {
        self.reads.iter().map(|read| read.drives.len()).product()
    }
}
