//! Many faulty machines at a time, one to a bit.
//!
//! Lane 0 is the good machine; each other lane carries one fault. A [`Program`] is the logic laid
//! out once for all lanes; a [`Machine`] holds the state of 512 of them and moves from step to step
//! like the board on the bench: set what the hands set, [`Machine::settle`], read the lamps.
//!
//! Values are three-valued in two planes ([`Planes`]). What a fault does is a [`Behaviour`]: it
//! looks at what the rest of the board wants to put on a few signals and says what is really there.

mod behaviour;
mod cover;
mod drawn;
mod gathered;
mod hands;
mod lane;
mod machine;
mod pairs;
mod program;
mod restless;
mod round;
mod spoilt;
mod state;
mod supposed;
mod table;
#[cfg(test)]
mod tests;
mod together;
mod word;

pub use behaviour::{Behaviour, Drive, Read, Shown, Target};
pub use cover::{Cube, primes};
pub use lane::Lane;
pub use machine::{Luck, Machine, Settled};
pub use pairs::PAIRS;
pub use program::Program;
pub use state::State;
pub use word::{LANES, Planes, Word};
