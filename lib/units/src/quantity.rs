//! The newtypes: one per unit that the bench uses.

use crate::notation;
use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $symbol:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl $name {
            /// The unit's symbol as printed.
            pub const SYMBOL: &'static str = $symbol;

            /// Reads engineering notation, with or without the unit's symbol.
            pub fn parse(text: &str) -> Result<Self, crate::ParseQuantityError> {
                notation::parse(text, Self::SYMBOL).map(Self)
            }

            /// The size without the sign.
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                notation::write(f, self.0, Self::SYMBOL)
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
    };
}

quantity!(
    /// Electric potential difference.
    Volts, "V"
);
quantity!(
    /// Electric current.
    Amps, "A"
);
quantity!(
    /// Electric resistance.
    Ohms, "R"
);
quantity!(
    /// Electric capacitance.
    Farads, "F"
);
quantity!(
    /// Time.
    Seconds, "s"
);
quantity!(
    /// Frequency.
    Hertz, "Hz"
);
quantity!(
    /// Power.
    Watts, "W"
);
quantity!(
    /// Length on the board.
    Millimetres, "mm"
);
quantity!(
    /// Temperature.
    Celsius, "C"
);

impl Ohms {
    /// With as many digits as a resistor's colour code of four bands has: two.
    pub fn two_digits(self) -> Self {
        format!("{:.1e}", self.0).parse().map_or(self, Self)
    }
}

impl Mul<Ohms> for Amps {
    type Output = Volts;
    fn mul(self, r: Ohms) -> Volts {
        Volts(self.0 * r.0)
    }
}

impl Div<Ohms> for Volts {
    type Output = Amps;
    fn div(self, r: Ohms) -> Amps {
        Amps(self.0 / r.0)
    }
}

impl Mul<Amps> for Volts {
    type Output = Watts;
    fn mul(self, i: Amps) -> Watts {
        Watts(self.0 * i.0)
    }
}

impl Mul<Farads> for Ohms {
    type Output = Seconds;
    fn mul(self, c: Farads) -> Seconds {
        Seconds(self.0 * c.0)
    }
}

impl Amps {
    /// A range as the display of a supply shows it, to ten milliamperes: `about 40 mA`, `280 to 290 mA`.
    pub fn range_to_tens((least, most): (Self, Self)) -> String {
        let (least, most) = ((least.0 * 100.0).round() * 10.0, (most.0 * 100.0).round() * 10.0);
        if least >= most { format!("about {most} mA") } else { format!("{least} to {most} mA") }
    }
}
