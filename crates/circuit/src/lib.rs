//! What a board does once it has power: node voltages, currents, lamp brightness.
//!
//! The main type is [`Network`], built from a board or some of its parts and edited the way faults
//! and fingers change it; the main verb is [`solve`], or [`Solver::solve`] for many in a row.
//!
//! ```
//! use dryjoint_circuit::{GROUND, Network, solve};
//! use dryjoint_units::{Amps, Ohms, Volts};
//! let mut network = Network::new();
//! let (rail, middle) = (network.node(), network.node());
//! network.supply(rail, Volts(5.0), Amps(0.5));
//! network.resistor(rail, middle, Ohms(1000.0));
//! network.resistor(middle, GROUND, Ohms(1000.0));
//! let solution = solve(&network).unwrap();
//! assert!((solution.node(middle).0 - 2.5).abs() < 1e-6);
//! assert!((solution.deliveries()[0].amps.0 - 0.0025).abs() < 1e-9);
//! ```

mod anonymous;
mod dense;
mod devices;
mod edit;
mod failure;
mod from_board;
mod homotopy;
mod memory;
mod meter;
mod network;
mod newton;
mod partial;
mod relax;
mod solution;
mod solver;
mod sparse;
mod state;
mod system;
mod tolerance;
mod transient;

pub use anonymous::Anonymous;
pub use failure::{Attempt, Method, NoSolution};
pub use memory::{Memory, Point};
pub use network::{ElementId, GROUND, JUMPER, Network, NodeId, NodeName, Spot};
pub use solution::{Delivery, Solution};
pub use solver::{Solver, kirchhoff, solve};
pub use sparse::{Pattern, SparseLu};
pub use system::{Detail, Regulation};
pub use tolerance::corners::{Corner, Extremes, corners};
pub use tolerance::monte_carlo::{Sample, monte_carlo, nth_copy};
pub use tolerance::{Conditions, Tolerance, Variable};
pub use transient::{Action, Event, Pace, Trace};
