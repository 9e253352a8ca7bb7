//! Wrong value: a resistor from the wrong drawer. Two slips are common: the multiplier band read as
//! its neighbour, a decade up or down, and one significant band read as the neighbouring colour,
//! where that makes another value of the E24 series (IEC 60063; the colours' order is IEC 60062).

use crate::Fault;
use dryjoint_board::{Board, PartId, PartKind};
use dryjoint_units::Ohms;

/// The E24 series' two significant digits (IEC 60063).
const E24: [i32; 24] =
    [10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91];

pub(crate) fn list(board: &Board, faults: &mut Vec<Fault>) {
    for (id, part) in board.parts.iter() {
        if let PartKind::Resistor { ohms, .. } = part.kind {
            faults.extend(slips(ohms).into_iter().map(|slip| Fault::WrongValue(id, slip)));
        }
    }
}

/// The values a resistor is mistaken for: a decade up, a decade down, then band neighbours.
fn slips(ohms: Ohms) -> Vec<Ohms> {
    let decade = (ohms.0.log10().floor() - 1.0) as i32;
    let digits = (ohms.0 / 10f64.powi(decade)).round() as i32;
    // Through the decimal reader, so that 3k3 is exactly the float nearest 3300.
    let value = |digits: i32, decade: i32| format!("{digits}e{decade}").parse().ok().map(Ohms);
    let bands = [-10, -1, 1, 10].map(|change| digits + change).into_iter().filter(|d| E24.contains(d));
    [value(digits, decade + 1), value(digits, decade - 1)]
        .into_iter()
        .chain(bands.map(|digits| value(digits, decade)))
        .flatten()
        .collect()
}

pub(crate) fn name(board: &Board, part: PartId, ohms: Ohms) -> String {
    format!("{} {ohms}", board.parts[part].reference)
}

pub(crate) fn look(board: &Board, part: PartId, ohms: Ohms) -> String {
    let part = &board.parts[part];
    match part.kind {
        PartKind::Resistor { ohms: right, .. } => {
            format!("read the bands of {}: it should be {right}, not {ohms}", part.reference)
        }
        _ => format!("check the value of {}", part.reference),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_22k_is_mistaken_for_a_decade_or_a_12k() {
        assert_eq!(slips(Ohms(22e3)), [220e3, 2200.0, 12e3].map(Ohms));
        assert_eq!(slips(Ohms(1e3)), [10e3, 100.0, 1100.0, 2000.0].map(Ohms));
        assert_eq!(slips(Ohms(4.7)), [47.0, 0.47].map(Ohms));
    }
}
