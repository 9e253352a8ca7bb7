//! What a board's own numbers say before power: what would cost an evening at the bench, found on paper.
//!
//! The main type is [`Survey`]; the main verb is [`survey`]. Whoever walks through the states of the
//! board lets a [`Watch`] see each of them first.

mod corner;
mod deaf;
mod decoupling;
mod drive;
mod fan_out;
mod kinds;
mod lamps;
mod levels;
mod limits;
mod margins;
mod probe;
mod receivers;
mod rest;
mod supply;
mod survey;
mod ties;
mod time;
mod unpowered;
mod watch;

pub use drive::Driven;
pub use fan_out::FanOut;
pub use kinds::Kind;
pub use lamps::Shine;
pub use limits::{Limit, Load};
pub use margins::{Margin, NetMargins};
pub use supply::{Draw, draw_of};
pub use survey::{Survey, survey};
pub use ties::{Burden, Judgement, Jumper, PinTies, Reason, ties};
pub use time::apart::{contacts, hidden};
pub use time::clocks::{Beat, Running};
pub use time::delays::{Delay, Delays};
pub use time::keeps::keeps;
pub use time::oscillator::{Course, Oscillator, Output};
pub use time::paths::{Edge, Hop, Path, Paths};
pub use time::phases::Turn;
pub use time::reset::{Pulse, Reset, pulse_with};
pub use time::wave::Wave;
pub use time::{Timing, timing};
pub use unpowered::{Dead, DeadTransistor, Unpowered, unpowered};
pub use watch::{Drive, State, Strain, Swing, Watch};
