//! The form both doors fill: signals, and the stages that drive them.

use crate::{Gate, Level};
use dryjoint_board::NetId;
use dryjoint_ids::{Table, id};

id!(
    /// A signal.
    SignalId, "signal"
);
id!(
    /// A stage.
    StageId, "stage"
);

/// A net with a driver, or a lamp, which is driven too.
#[derive(Clone, Debug, PartialEq)]
pub struct Signal {
    /// The net's name, or the lamp's reference.
    pub name: String,
    /// The board net it is, when it comes from a board and is no lamp.
    pub net: Option<NetId>,
    /// What the bench has to do with it.
    pub role: Role,
}

/// What the bench has to do with a signal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Nothing: it is inside.
    Inside,
    /// The bench drives it (a primary input, a line, a data pin).
    Input,
    /// The bench sees it (a lamp, a primary output). A signal that is both input and seen is an
    /// input with a separate seen signal behind a [`Gate::Buf`].
    Seen,
}

/// The smallest group of parts that makes one logic function.
#[derive(Clone, Debug, PartialEq)]
pub struct Stage {
    /// Its name: the gate instance, or the first transistor's reference.
    pub name: String,
    /// What it reads, in the order its function counts them.
    pub inputs: Vec<SignalId>,
    /// The one signal it drives, alone or with others.
    pub output: SignalId,
    /// What it puts there.
    pub function: Function,
}

impl Stage {
    /// What it puts on its output while its inputs are at these levels; a flip-flop keeps what it put
    /// there before. An input that is not known counts where it matters.
    pub fn contribution(&self, level: &dyn Fn(SignalId) -> Level, kept: Level) -> Level {
        let inputs = || self.inputs.iter().map(|&input| level(input));
        match &self.function {
            Function::Gate(gate) => gate.output(&inputs().collect::<Vec<_>>()),
            Function::Flop => kept,
            Function::Found(rows) => {
                let mut known = 0;
                let mut open = Vec::new();
                for (bit, level) in inputs().enumerate() {
                    match level.value() {
                        Some(true) => known |= 1 << bit,
                        Some(false) => {}
                        None => open.push(bit),
                    }
                }
                let row = |choice: usize| {
                    let spread = open.iter().enumerate().map(|(k, bit)| (choice >> k & 1) << bit);
                    rows[known | spread.sum::<usize>()]
                };
                let first = row(0);
                if (1..1usize << open.len()).all(|choice| row(choice) == first) {
                    first
                } else {
                    Level::Unknown
                }
            }
        }
    }
}

/// What a stage puts on its output.
#[derive(Clone, Debug, PartialEq)]
pub enum Function {
    /// A gate primitive.
    Gate(Gate),
    /// A flip-flop on the one common clock: after the clock, the output is what input 0 was.
    Flop,
    /// Found in the parts: the contribution for each input combination, input 0 the least bit. It
    /// resolves with the other stages on the signal by IEEE 1164.
    Found(Vec<Level>),
}

/// What a stage puts on its output for a while, in place of what it puts there at rest, when a signal that it
/// reads through a capacitor makes an edge.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulse {
    /// The stage.
    pub stage: StageId,
    /// The signal that makes the edge.
    pub trigger: SignalId,
    /// For each combination of the stage's inputs before the edge, counted as its function counts them: what
    /// it puts there when the signal falls, and when it rises. Nothing where it stays as it is.
    pub rows: Vec<[Option<Level>; 2]>,
}

/// A board, or a gate netlist, read as logic.
///
/// **Invariant:** a stage's function has as many inputs as the stage (`Found`: 2^inputs rows).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Logic {
    /// All signals.
    pub signals: Table<SignalId, Signal>,
    /// All stages, in the order found.
    pub stages: Table<StageId, Stage>,
    /// Stages that heed edges, beside what they do at rest. Only [`Simulation`](crate::Simulation) follows
    /// them; the lanes of faulty boards do not.
    pub pulses: Vec<Pulse>,
}

impl Logic {
    /// The signals the bench drives, in order.
    pub fn inputs(&self) -> impl Iterator<Item = SignalId> {
        self.with_role(Role::Input)
    }

    /// The signals the bench sees, in order.
    pub fn seen(&self) -> impl Iterator<Item = SignalId> {
        self.with_role(Role::Seen)
    }

    fn with_role(&self, role: Role) -> impl Iterator<Item = SignalId> {
        self.signals.iter().filter(move |(_, signal)| signal.role == role).map(|(id, _)| id)
    }
}
