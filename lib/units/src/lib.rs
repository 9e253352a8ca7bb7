//! Quantities with their units, and the engineering notation they are written in.
//!
//! ```
//! use dryjoint_units::{Amps, Ohms, Volts};
//! let drop = Amps(0.002) * Ohms::parse("2k2").unwrap();
//! assert_eq!(drop, Volts(4.4));
//! assert_eq!(Ohms(2200.0).to_string(), "2k2");
//! assert_eq!(Ohms(21737.0).two_digits().to_string(), "22k");
//! assert_eq!(Volts(0.0815).to_string(), "81.5mV");
//! ```

mod notation;
mod quantity;
mod spread;

pub use notation::{ParseQuantityError, parse};
pub use quantity::{Amps, Celsius, Farads, Hertz, Millimetres, Ohms, Seconds, Volts, Watts};
pub use spread::Spread;
