//! The nine levels of IEEE 1164 and how drivers on one net resolve.

/// A net's voltage read as logic, in the order of IEEE 1164: `U X 0 1 Z W L H -`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Level {
    /// Nothing known since power came on.
    Uninitialised,
    /// Driven, but to neither level.
    Unknown,
    /// Driven low.
    Zero,
    /// Driven high.
    One,
    /// Driven by nobody.
    Floating,
    /// Held weakly at neither level.
    WeakUnknown,
    /// Held low through a resistor.
    WeakZero,
    /// Held high through a resistor.
    WeakOne,
    /// Of no account.
    DontCare,
}

impl Level {
    /// All nine in the standard's order.
    pub const ALL: [Self; 9] = [
        Self::Uninitialised,
        Self::Unknown,
        Self::Zero,
        Self::One,
        Self::Floating,
        Self::WeakUnknown,
        Self::WeakZero,
        Self::WeakOne,
        Self::DontCare,
    ];

    /// The standard's character.
    pub fn character(self) -> char {
        ['U', 'X', '0', '1', 'Z', 'W', 'L', 'H', '-'][self as usize]
    }

    /// The level of a standard's character.
    pub fn from_character(c: char) -> Option<Self> {
        Self::ALL.into_iter().find(|level| level.character() == c)
    }

    /// What two drivers on one net make of it: the standard's resolution table, built from its rules
    /// (`U` wins over all, then `X` and `-`, then strong drivers, then weak ones, then `Z`).
    pub fn resolve(self, other: Self) -> Self {
        use Level::{DontCare, Floating, Uninitialised, Unknown, WeakUnknown};
        let (a, b) = (self, other);
        if a == Uninitialised || b == Uninitialised {
            return Uninitialised;
        }
        if matches!(a, Unknown | DontCare) || matches!(b, Unknown | DontCare) {
            return Unknown;
        }
        match (a.strength(), b.strength()) {
            (x, y) if x > y => a,
            (x, y) if x < y => b,
            _ if a == b => a,
            (2, _) => Unknown,
            (1, _) => WeakUnknown,
            _ => Floating,
        }
    }

    fn strength(self) -> u8 {
        match self {
            Self::Floating => 0,
            Self::WeakUnknown | Self::WeakZero | Self::WeakOne => 1,
            _ => 2,
        }
    }

    /// The level as a receiver sees it: low, high, or nothing known. A floating net is not known here;
    /// what an open input means to a stage is the stage's own affair.
    pub fn value(self) -> Option<bool> {
        match self {
            Self::Zero | Self::WeakZero => Some(false),
            Self::One | Self::WeakOne => Some(true),
            _ => None,
        }
    }
}

impl From<bool> for Level {
    fn from(high: bool) -> Self {
        if high { Self::One } else { Self::Zero }
    }
}

#[cfg(test)]
mod tests {
    use super::Level;

    /// IEEE 1164 resolution table, rows and columns in the order `U X 0 1 Z W L H -`; the standard
    /// resolves drivers pairwise, and a single driver passes unchanged.
    const TABLE: [&str; 9] = [
        "UUUUUUUUU",
        "UXXXXXXXX",
        "UX0X0000X",
        "UXX11111X",
        "UX01ZWLHX",
        "UX01WWWWX",
        "UX01LWLWX",
        "UX01HWWHX",
        "UXXXXXXXX",
    ];

    #[test]
    fn resolution_is_the_standards_in_every_cell() {
        for (row, cells) in Level::ALL.into_iter().zip(TABLE) {
            for (column, cell) in Level::ALL.into_iter().zip(cells.chars()) {
                assert_eq!(row.resolve(column).character(), cell, "{row:?} with {column:?}");
            }
        }
    }
}
