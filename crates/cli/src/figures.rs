//! Figures that a good board would not show: the meter's volts, the supply's current, ohms with power off.
//!
//! The good board is played to the look of each reading in the circuit solver, its latches woken in three ways;
//! where those differ nothing is expected. How far a figure may be off is judgement, as wide as the sheet has it: parts
//! of five per cent and an ordinary meter never come near it.

use crate::shape::{Figure, Unit as Quantity};
use crate::verdict_text::named;
use dryjoint_board::NetId;
use dryjoint_circuit::NoSolution;
use dryjoint_ids::Id;
use dryjoint_procedure::Study;
use dryjoint_session::{LookId, Reading, ReadingId, Seen, Session, Unit};
use dryjoint_units::{Amps, Ohms, Volts};

/// Figures held against the good board.
#[derive(Debug, Default)]
pub struct Compared {
    /// How many there were of which it is known what to expect.
    pub count: usize,
    /// Those that are off, in the order read.
    pub odd: Vec<Figure>,
}

/// Holds every figure of a session against the good board.
pub fn compare(study: &Study, session: &Session) -> Compared {
    let mut figures: Vec<(ReadingId, Reading)> = session
        .readings()
        .map(|(id, reading)| (id, *reading))
        .filter(|(_, one)| is_figure(one.seen))
        .collect();
    figures.sort_by_key(|&(id, reading)| (reading.look, id));
    let mut compared = Compared::default();
    let mut bench = Played::default();
    for (id, reading) in figures {
        // Where the solver finds no point, nobody knows what to expect.
        let Ok(Some((unit, expected, seen))) = bench.expected(study, session, &reading) else { continue };
        compared.count += 1;
        if differ(unit, expected, seen) {
            let board = study.extracted.shape.board;
            if let Some((step, of)) = named(board, session, id) {
                compared.odd.push(Figure { step, of, unit, expected, seen });
            }
        }
    }
    compared
}

fn is_figure(seen: Seen) -> bool {
    matches!(seen, Seen::Volts(..) | Seen::Supply(_) | Seen::Ohms(..))
}

/// Good boards on the bench, as far as they were played.
#[derive(Default)]
struct Played<'b> {
    units: Vec<Unit<'b>>,
    /// How many looks they have behind them.
    played: usize,
}

impl<'b> Played<'b> {
    /// The quantity of a reading, what a good board shows and what was read; nothing where that is not
    /// known. No figure stands for a meter that shows no reading.
    #[expect(clippy::type_complexity, reason = "three plain values that are taken apart at once")]
    fn expected(
        &mut self,
        study: &Study<'_, 'b>,
        session: &Session,
        reading: &Reading,
    ) -> Result<Option<(Quantity, Option<f64>, Option<f64>)>, NoSolution> {
        self.play(study, session, reading.look)?;
        Ok(match reading.seen {
            Seen::Volts(net, volts) => {
                let all: Option<Vec<f64>> = self.units.iter().map(|unit| Some(unit.volts(net)?.0)).collect();
                let known = all.and_then(|all| same(Quantity::Volts, &all));
                known.map(|known| (Quantity::Volts, Some(known), Some(volts.0)))
            }
            Seen::Supply(amps) => {
                let all: Vec<f64> = self.units.iter().map(|unit| unit.supply().0).collect();
                same(Quantity::Amps, &all).map(|known| (Quantity::Amps, Some(known), Some(amps.0)))
            }
            Seen::Ohms(a, b, ohms) => {
                let known = self.ohms(a, b)?;
                let read = Some(ohms.0).filter(|ohms| ohms.is_finite());
                Some((Quantity::Ohms, known.map(|ohms| ohms.0), read))
            }
            _ => None,
        })
    }

    /// Ohms do not hang on how latches woke up.
    fn ohms(&mut self, a: NetId, b: NetId) -> Result<Option<Ohms>, NoSolution> {
        self.units.first_mut().map_or(Ok(None), |unit| unit.ohms(a, b))
    }

    /// Goes on to a look.
    fn play(&mut self, study: &Study<'_, 'b>, session: &Session, to: LookId) -> Result<(), NoSolution> {
        let looks = session.looks().rows();
        while self.played <= to.index() {
            let look = &looks[self.played];
            if look.power {
                self.units = Unit::good_ones(study.extracted)?;
            }
            for unit in &mut self.units {
                look.actions.iter().try_for_each(|&action| unit.act(action))?;
            }
            self.played += 1;
        }
        Ok(())
    }
}

/// The figure that all have, where none differs from the first.
fn same(unit: Quantity, all: &[f64]) -> Option<f64> {
    let first = *all.first()?;
    all.iter().all(|&other| !differ(unit, Some(first), Some(other))).then_some(first)
}

/// Whether a figure is off: a voltage by a tenth of a volt and a tenth of itself, a current by 5 mA and a
/// fifth, a resistance by an ohm for the leads and a fifth.
fn differ(unit: Quantity, expected: Option<f64>, seen: Option<f64>) -> bool {
    let (Some(expected), Some(seen)) = (expected, seen) else { return expected.is_some() != seen.is_some() };
    let (least, share) = match unit {
        Quantity::Volts => (0.1, 0.1),
        Quantity::Amps => (0.005, 0.2),
        Quantity::Ohms => (1.0, 0.2),
    };
    (seen - expected).abs() > least + share * expected.abs()
}

/// A figure as a person writes it.
pub fn words(unit: Quantity, value: Option<f64>) -> String {
    let Some(value) = value else { return "no reading".to_owned() };
    match unit {
        Quantity::Volts => format!("{:.2} V", Volts(value).0 + 0.0),
        Quantity::Amps => Amps((value * 1e4).round() / 1e4).to_string(),
        Quantity::Ohms => Ohms(value).two_digits().to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_is_off_where_no_good_part_brings_it_there() {
        assert!(!differ(Quantity::Volts, Some(4.28), Some(4.7)));
        assert!(differ(Quantity::Volts, Some(4.28), Some(0.1)));
        assert!(!differ(Quantity::Amps, Some(0.21), Some(0.25)));
        assert!(differ(Quantity::Amps, Some(0.21), Some(0.3)));
        assert!(!differ(Quantity::Ohms, Some(470.0), Some(500.0)));
        assert!(differ(Quantity::Ohms, Some(470.0), None) && !differ(Quantity::Ohms, None, None));
        assert_eq!(words(Quantity::Volts, Some(0.0715)), "0.07 V");
        assert_eq!(words(Quantity::Ohms, None), "no reading");
    }
}
