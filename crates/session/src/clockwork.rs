//! The clock of a virtual unit with a fault in its oscillator, as the circuit in time says.
//!
//! A unit at rest has no oscillator: the hand stands in for it. With a fault in it, what the hand puts on the
//! clock's nets is what the oscillator was found to put there with the switch where it is.

use crate::near::{Near, touches};
use dryjoint_board::{ClockId, NetId};
use dryjoint_circuit::{Network, Solver};
use dryjoint_draws::Draws;
use dryjoint_faults::Fault;
use dryjoint_faults::apply::apply;
use dryjoint_logic::Extracted;
use dryjoint_survey::Course;
use dryjoint_units::Volts;

/// One clock that does not run as it should.
#[derive(Clone, Debug)]
pub(crate) struct Clockwork {
    clock: ClockId,
    nets: Vec<NetId>,
    /// What it does at each setting, and what a good one does.
    courses: Vec<Course>,
    good: Course,
    middle: Volts,
    /// Whether it stands high.
    high: bool,
    /// The position at which it was last seen to run, and in which half.
    ran: Option<(usize, bool)>,
    draws: Draws,
}

impl Clockwork {
    /// The clocks of a board in whose oscillators or switches some of these faults sit. Which way a clock
    /// stands that wakes up by luck, `seed` has it.
    pub(crate) fn all(extracted: &Extracted, near: &Near, faults: &[Fault], seed: u64) -> Vec<Self> {
        let board = extracted.shape.board;
        let mut all = Vec::new();
        for (dial, oscillator) in &near.clocks {
            let here: Vec<Fault> =
                faults.iter().copied().filter(|fault| touches(extracted, oscillator, fault)).collect();
            if here.is_empty() {
                continue;
            }
            let touched: Vec<_> = here.iter().flat_map(|fault| fault.parts(board)).collect();
            let change = &|network: &mut Network| {
                here.iter().for_each(|fault| {
                    apply(board, fault, network);
                });
            };
            let mut solver = Solver::default();
            let settings = 0..oscillator.settings();
            let courses = settings.map(|setting| oscillator.with(setting, &touched, change, &mut solver));
            let mut draws = Draws::new(seed ^ 0xc10c);
            all.push(Self {
                clock: dial.clock,
                nets: oscillator.nets().to_vec(),
                courses: courses.collect(),
                good: oscillator.good(dial.slowest).clone(),
                middle: extracted.levels[board.clocks[dial.clock].net].thresholds.middle(),
                high: draws.below(2) == 1,
                ran: None,
                draws,
            });
        }
        all
    }

    /// The clock.
    pub(crate) fn clock(&self) -> ClockId {
        self.clock
    }

    /// Whether it keeps still with its switch between two positions.
    pub(crate) fn rests(&self) -> bool {
        matches!(self.courses.last(), Some(Course::Stands { .. }))
    }

    /// The voltages of its nets with the switch at a position or between two, in one half of what a good one
    /// does.
    pub(crate) fn volts(&mut self, position: Option<usize>, high: bool) -> Vec<(NetId, Volts)> {
        let between = self.courses.len() - 1;
        match position.filter(|&at| at < between) {
            Some(at) => self.ran = Some((at, high)),
            None => self.fall(),
        }
        let course = &self.courses[position.unwrap_or(between).min(between)];
        let volts = match course {
            Course::Runs { halves, .. } => halves[usize::from(high)].clone(),
            Course::Stands { halves } => halves[usize::from(self.high)].clone(),
            Course::Uneven | Course::Lost { .. } => match &self.good {
                Course::Runs { halves, .. } => halves[self.draws.below(2)].clone(),
                _ => Vec::new(),
            },
        };
        if let Some(&clock) = volts.first() {
            self.high = clock > self.middle;
        }
        self.nets.iter().copied().zip(volts).collect()
    }

    /// The switch is turned away from where it ran: where a fault makes that clock fall over, it may stand the other way since. At
    /// which moment of the half the hand does it is drawn.
    fn fall(&mut self) {
        let Some((at, high)) = self.ran.take() else { return };
        let Course::Runs { left, .. } = &self.courses[at] else { return };
        let moments = &left[usize::from(high)];
        let stands = |volts: &Option<Vec<Volts>>| Some(*volts.as_ref()?.first()? > self.middle);
        let all: Vec<Option<bool>> = moments.iter().map(stands).collect();
        if all.iter().all(|stands| *stands == Some(high)) {
            return;
        }
        let drawn = all[self.draws.below(all.len())];
        self.high = drawn.unwrap_or_else(|| self.draws.below(2) == 1);
    }
}
