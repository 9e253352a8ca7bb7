//! The light-emitting diode: a diode card plus what the eye needs.

use crate::Diode;
use dryjoint_units::{Amps, Volts};

/// An indicator lamp.
#[derive(Clone, Debug, PartialEq)]
pub struct Lamp {
    /// Its junction.
    pub junction: Diode,
    /// Colour as a builder orders it: `red`, `green` …
    pub colour: String,
    /// At and above this current the lamp counts as lit.
    pub lit_from: Amps,
    /// Below this current the lamp counts as dark; between the two it is dim.
    pub dark_below: Amps,
    /// Greatest reverse voltage.
    pub vr_max: Volts,
}

/// How a lamp looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Glow {
    /// Nobody would call it lit.
    Dark,
    /// Visible in a dark room; two people would not agree.
    Dim,
    /// Plainly lit.
    Lit,
}

/// The currents between which a lamp goes from dark to lit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Looks {
    /// At and above this current it is lit.
    pub lit_from: Amps,
    /// Below this current it is dark.
    pub dark_below: Amps,
}

impl Looks {
    /// How the lamp looks at a forward current.
    pub fn glow(self, current: Amps) -> Glow {
        if current >= self.lit_from {
            Glow::Lit
        } else if current >= self.dark_below {
            Glow::Dim
        } else {
            Glow::Dark
        }
    }
}

impl Lamp {
    /// Its thresholds alone.
    pub fn looks(&self) -> Looks {
        Looks { lit_from: self.lit_from, dark_below: self.dark_below }
    }

    /// How the lamp looks at a forward current.
    pub fn glow(&self, current: Amps) -> Glow {
        self.looks().glow(current)
    }
}
