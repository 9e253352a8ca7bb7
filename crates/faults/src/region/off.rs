//! A clock at a wrong rate, to two digits.

use dryjoint_board::{Board, ClockId};
use dryjoint_units::Hertz;

/// A clock that runs at another rate than it should.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Off {
    /// The clock.
    pub clock: ClockId,
    /// The position of its switch, counted from 0.
    pub position: u16,
    /// In millihertz, to two digits.
    is: u64,
    should: u64,
}

impl Off {
    /// From both rates, in hertz.
    pub(super) fn new(clock: ClockId, position: usize, is: f64, should: f64) -> Self {
        Self { clock, position: position as u16, is: two_digits(is), should: two_digits(should) }
    }

    /// The rate.
    pub fn is(self) -> Hertz {
        Hertz(self.is as f64 / 1e3)
    }

    /// The rate of a good board.
    pub fn should(self) -> Hertz {
        Hertz(self.should as f64 / 1e3)
    }

    /// `only counting tells: the clock CLK runs at 2.2Hz instead of 990mHz with S1 at slow`.
    pub fn words(self, board: &Board) -> String {
        let row = &board.clocks[self.clock];
        let position = row.rates.get(usize::from(self.position)).map_or("", |rate| &rate.position);
        let at = row
            .selector
            .map_or(String::new(), |switch| format!(" with {} at {position}", board.parts[switch].reference));
        let (name, is, should) = (&board.nets[row.net].name, self.is(), self.should());
        format!("only counting tells: the clock {name} runs at {is} instead of {should}{at}")
    }
}

/// Millihertz, to two digits.
fn two_digits(hertz: f64) -> u64 {
    let millihertz = hertz * 1e3;
    let unit = 10f64.powi((millihertz.max(1.0).log10().floor() as i32 - 1).max(0));
    ((millihertz / unit).round() * unit).round() as u64
}

#[cfg(test)]
mod tests {
    use super::two_digits;

    #[test]
    fn two_digits_are_kept() {
        assert_eq!([0.9876, 9.87, 9836.2, 0.0042].map(two_digits), [990, 9_900, 9_800_000, 4]);
    }
}
