//! Gate primitives as IEEE 1364 defines them.

use crate::Level;

/// A gate whose inputs are read as 0, 1 or unknown and whose output is strong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Gate {
    /// High when all inputs are high.
    And,
    /// Low when all inputs are high.
    Nand,
    /// Low when all inputs are low.
    Or,
    /// High when all inputs are low.
    Nor,
    /// High when an odd number of inputs is high.
    Xor,
    /// Low when an odd number of inputs is high.
    Xnor,
    /// The input.
    Buf,
    /// The input's complement.
    Not,
}

impl Gate {
    /// The output for these inputs; an input that is not known makes the output unknown unless the
    /// others decide it (IEEE 1364: a `z` input reads as `x`).
    pub fn output(self, inputs: &[Level]) -> Level {
        let values = || inputs.iter().map(|level| level.value());
        let all = |wanted: bool| {
            if values().any(|v| v == Some(!wanted)) {
                Some(!wanted)
            } else if values().all(|v| v == Some(wanted)) {
                Some(wanted)
            } else {
                None
            }
        };
        let odd = || values().try_fold(false, |odd, v| v.map(|high| odd ^ high));
        let value = match self {
            Self::And => all(true),
            Self::Nand => all(true).map(|v| !v),
            Self::Or => all(false),
            Self::Nor => all(false).map(|v| !v),
            Self::Xor => odd(),
            Self::Xnor => odd().map(|v| !v),
            Self::Buf => values().next().flatten(),
            Self::Not => values().next().flatten().map(|v| !v),
        };
        value.map_or(Level::Unknown, Level::from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEEE 1364 gate tables over `0 1 x z`, first input down, second across (standard, tables of
    /// `and`, `or`, `xor`; `nand`, `nor`, `xnor` are their complements).
    #[test]
    fn two_input_gates_follow_the_standards_tables() {
        let levels = [Level::Zero, Level::One, Level::Unknown, Level::Floating];
        let tables = [
            (Gate::And, Gate::Nand, ["0000", "01XX", "0XXX", "0XXX"]),
            (Gate::Or, Gate::Nor, ["01XX", "1111", "X1XX", "X1XX"]),
            (Gate::Xor, Gate::Xnor, ["01XX", "10XX", "XXXX", "XXXX"]),
        ];
        for (gate, complement, table) in tables {
            for (a, row) in levels.into_iter().zip(table) {
                for (b, cell) in levels.into_iter().zip(row.chars()) {
                    assert_eq!(gate.output(&[a, b]).character(), cell, "{gate:?} {a:?} {b:?}");
                    let opposite = match cell {
                        '0' => '1',
                        '1' => '0',
                        other => other,
                    };
                    assert_eq!(
                        complement.output(&[a, b]).character(),
                        opposite,
                        "{complement:?} {a:?} {b:?}"
                    );
                }
            }
        }
    }
}
