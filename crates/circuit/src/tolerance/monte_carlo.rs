//! Many copies of one board, each with parts drawn at random.
//!
//! Worst cases hardly ever meet; this says what most copies do. A setting falls below or above its
//! typical value with equal chance, and anywhere up to that end with equal chance: flatter than the
//! bell that a good maker ships, so rather too wide than too narrow (judgement). Copy number `n` of a
//! seed is the same copy however many are drawn.

use crate::network::Network;
use crate::tolerance::{Tolerance, Variable};
use dryjoint_draws::Draws;
use dryjoint_units::Spread;

/// A value of a part: as likely below as above the typical one, and anywhere up to that end.
fn within(range: &Spread<f64>, draws: &mut Draws) -> f64 {
    // From −1 to 1.
    let way = (draws.bits() >> 11) as f64 / (1u64 << 52) as f64 - 1.0;
    let end = if way < 0.0 { range.min } else { range.max };
    range.typ + way.abs() * (end - range.typ)
}

/// What the copies showed: per figure its values, from the least to the greatest.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample {
    figures: Vec<Vec<f64>>,
}

impl Sample {
    /// All values of a figure in rising order.
    pub fn values(&self, figure: usize) -> &[f64] {
        self.figures.get(figure).map_or(&[], Vec::as_slice)
    }

    /// The value that a share of all copies stays below: 0.5 is the median. Nothing where there are no
    /// copies.
    pub fn below(&self, figure: usize, share: f64) -> Option<f64> {
        let values = self.values(figure);
        let last = values.len().checked_sub(1)?;
        Some(values[((share * last as f64).round().max(0.0) as usize).min(last)])
    }
}

/// The settings of one copy.
pub fn nth_copy(tolerances: &[Tolerance], seed: u64, number: u64) -> Vec<(Variable, f64)> {
    let start = Draws::new(seed).bits();
    let mut draws = Draws::new(start ^ number.wrapping_mul(0xd134_2543_de82_ef95));
    tolerances.iter().map(|tolerance| (tolerance.of, within(&tolerance.range, &mut draws))).collect()
}

/// The figures that `measure` takes on `copies` copies, drawn from `seed`. An error of it ends the run.
pub fn monte_carlo<E>(
    network: &Network,
    tolerances: &[Tolerance],
    seed: u64,
    copies: u64,
    mut measure: impl FnMut(&Network) -> Result<Vec<f64>, E>,
) -> Result<Sample, E> {
    let mut figures: Vec<Vec<f64>> = Vec::new();
    for number in 0..copies {
        let found = measure(&network.varied(&nth_copy(tolerances, seed, number)))?;
        figures.resize(figures.len().max(found.len()), Vec::new());
        for (values, value) in figures.iter_mut().zip(found) {
            values.push(value);
        }
    }
    for values in &mut figures {
        values.sort_by(f64::total_cmp);
    }
    Ok(Sample { figures })
}
