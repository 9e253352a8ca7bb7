//! What each thing costs at the bench, in seconds. Judgement from doing it slowly with one lead in
//! each hand; editable, since a person with test clips is faster.

use crate::Action;
use crate::run::Run;
use dryjoint_board::{Access, Board};
use dryjoint_units::Seconds;

/// Seconds per action and per look.
#[derive(Clone, Debug, PartialEq)]
pub struct Costs {
    /// Putting a jumper on, or taking it off.
    pub jumper: f64,
    /// Touching a pin with a lead once.
    pub touch: f64,
    /// Working a button or switch.
    pub switch: f64,
    /// Looking at the lamps.
    pub look: f64,
    /// Comparing one lamp with what is expected.
    pub lamp: f64,
    /// Switching the supply on and seeing it come up.
    pub power: f64,
    /// Switching the supply off and waiting until the capacitors are empty.
    pub off: f64,
}

impl Default for Costs {
    fn default() -> Self {
        Self { jumper: 4.0, touch: 2.0, switch: 1.5, look: 1.5, lamp: 0.15, power: 10.0, off: 8.0 }
    }
}

impl Costs {
    /// The seconds one action takes. A wait takes the slowest clock's periods.
    pub fn of(&self, board: &Board, action: Action) -> Seconds {
        let Some(line) = action.line() else {
            let count = match action {
                Action::Wait(count) => count,
                // There and away again.
                Action::Run(clock, position) => {
                    return Seconds(2.0 * self.switch + Run::of(board, clock, position).seconds);
                }
                _ => return Seconds(0.0),
            };
            let slowest = |clock: &dryjoint_board::Clock| {
                clock.rates.iter().map(|r| 1.0 / r.rate.0).fold(0.0, f64::max)
            };
            let period = board.clocks.iter().map(|(_, clock)| slowest(clock)).fold(0.0, f64::max);
            return Seconds(period * f64::from(count));
        };
        Seconds(match (board.lines[line].access, action) {
            (Access::Contact(_), _) => self.switch,
            (_, Action::Pulse(_)) => self.touch,
            _ => self.jumper,
        })
    }

    /// The seconds one step on a netlist of gates takes: so many inputs moved, the lamps read, and the
    /// clock touched where there is one.
    pub fn vector(&self, moved: usize, lamps: usize, clocked: bool) -> Seconds {
        let clock = if clocked { self.touch } else { 0.0 };
        Seconds(self.jumper * moved as f64 + self.look(lamps).0 + clock)
    }

    /// The seconds one look at all lamps takes.
    pub fn look(&self, lamps: usize) -> Seconds {
        Seconds(self.look + self.lamp * lamps as f64)
    }
}
