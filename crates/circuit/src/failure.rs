//! When no operating point was found: where, by how much, and what was tried.

use crate::network::NodeName;
use dryjoint_board::Board;
use dryjoint_units::{Amps, Volts};
use std::fmt;

/// A way to an operating point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Newton's method from the start given, or from all junctions at their knee.
    Newton,
    /// Newton's method from a guess made node by node.
    Relaxation,
    /// Newton's method on the part of the network that a change reaches.
    Partial,
    /// Newton's method with the guessed nets held, then slowly let go.
    Release,
    /// A leak from every node to ground, taken away in steps.
    LeakStepping,
    /// All sources raised from zero in steps.
    SourceStepping,
    /// A small capacitance on every node, and time until nothing moves.
    PseudoTransient,
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Newton => "Newton's method",
            Self::Relaxation => "Newton's method after relaxation",
            Self::Partial => "Newton's method around the change",
            Self::Release => "releasing the guess",
            Self::LeakStepping => "leak stepping",
            Self::SourceStepping => "source stepping",
            Self::PseudoTransient => "pseudo-transient",
        })
    }
}

/// One way that was tried, and where it stopped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Attempt {
    /// The way.
    pub method: Method,
    /// Newton steps spent.
    pub iterations: u32,
    /// Greatest missing current at the end.
    pub residual: Amps,
}

/// No operating point was found.
#[derive(Clone, Debug, PartialEq)]
pub struct NoSolution {
    /// The node that misses most current.
    pub node: NodeName,
    /// Its voltage at the last attempt; not a result.
    pub volts: Volts,
    /// How much is missing.
    pub residual: Amps,
    /// Newton steps in all.
    pub iterations: u32,
    /// What was tried, in order.
    pub tried: Vec<Attempt>,
}

impl NoSolution {
    /// The same for a person who has the board before them.
    pub fn told(&self, board: &Board) -> String {
        let place = match self.node {
            NodeName::Ground => "ground".to_owned(),
            NodeName::Net(net) => {
                board.nets.get(net).map_or_else(|| "a net".to_owned(), |net| format!("net `{}`", net.name))
            }
            NodeName::Lifted(pin) => match board.pins.get(pin) {
                Some(pin) => format!("{}.{}, its joint open,", board.parts[pin.part].reference, pin.name),
                None => "a pin".to_owned(),
            },
            NodeName::Free(_) => "a node off the board".to_owned(),
        };
        let tried: Vec<String> = self.tried.iter().map(Attempt::to_string).collect();
        format!(
            "no operating point was found: {place} misses {} at {} after {} steps. Tried: {}",
            missing(self.residual),
            self.volts,
            self.iterations,
            tried.join(", ")
        )
    }
}

impl fmt::Display for Attempt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({} steps, {} left)", self.method, self.iterations, missing(self.residual))
    }
}

/// How much is missing, where that is a number at all.
fn missing(residual: Amps) -> String {
    if residual.0.is_finite() { residual.to_string() } else { "any current".to_owned() }
}

impl fmt::Display for NoSolution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "no operating point after {} steps: {:?} misses {} (at {})",
            self.iterations, self.node, self.residual, self.volts
        )?;
        for attempt in &self.tried {
            write!(f, "; {attempt}")?;
        }
        Ok(())
    }
}

impl std::error::Error for NoSolution {}
