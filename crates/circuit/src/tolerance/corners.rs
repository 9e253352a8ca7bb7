//! The worst case: every tolerance at the end that hurts.
//!
//! Each variable alone is moved to its two ends and the effect on every figure asked for is noted; a
//! figure's corner takes for each variable the end that moved it that way. Since effects are not
//! quite straight, the strongest variables are then tried once more from the corner itself.
//!
//! 1 + 2·k solves serve all figures together, k being the tolerances; each corner costs a few more.

use crate::network::Network;
use crate::tolerance::{Tolerance, Variable};

/// How many of the strongest variables are tried again from the corner.
const TRIED_AGAIN: usize = 12;

/// A worst case.
#[derive(Clone, Debug, PartialEq)]
pub struct Corner {
    /// The figure there.
    pub value: f64,
    /// Where each variable stands.
    pub settings: Vec<(Variable, f64)>,
}

/// How far one figure can go.
#[derive(Clone, Debug, PartialEq)]
pub struct Extremes {
    /// With everything typical.
    pub typical: f64,
    /// The least.
    pub least: Corner,
    /// The greatest.
    pub most: Corner,
    /// Per tolerance, how the figure moves when that one alone goes to its least and its greatest
    /// setting.
    pub effects: Vec<[f64; 2]>,
}

/// How far the figures that `measure` takes can go when everything varies at once; as many extremes as
/// `measure` returns figures. It is given the network as built, varied. An error of it ends the search.
pub fn corners<E>(
    network: &Network,
    tolerances: &[Tolerance],
    mut measure: impl FnMut(&Network) -> Result<Vec<f64>, E>,
) -> Result<Vec<Extremes>, E> {
    let typical = measure(&network.varied(&typical_settings(tolerances)))?;
    let mut effects = vec![vec![[0.0; 2]; tolerances.len()]; typical.len()];
    for (k, tolerance) in tolerances.iter().enumerate() {
        for (end, setting) in [tolerance.range.min, tolerance.range.max].into_iter().enumerate() {
            let mut settings = typical_settings(tolerances);
            settings[k].1 = setting;
            let found = measure(&network.varied(&settings))?;
            for ((effects, found), typical) in effects.iter_mut().zip(&found).zip(&typical) {
                effects[k][end] = found - typical;
            }
        }
    }
    let mut extremes = Vec::with_capacity(typical.len());
    for (figure, (typical, effects)) in typical.into_iter().zip(effects).enumerate() {
        let mut one = |settings: &[(Variable, f64)]| -> Result<f64, E> {
            Ok(measure(&network.varied(settings))?.get(figure).copied().unwrap_or(typical))
        };
        let least = corner(tolerances, &effects, typical, -1.0, &mut one)?;
        let most = corner(tolerances, &effects, typical, 1.0, &mut one)?;
        extremes.push(Extremes { typical, least, most, effects });
    }
    Ok(extremes)
}

pub(super) fn typical_settings(tolerances: &[Tolerance]) -> Vec<(Variable, f64)> {
    tolerances.iter().map(|tolerance| (tolerance.of, tolerance.range.typ)).collect()
}

/// The corner towards less (`way` −1) or more (+1).
fn corner<E>(
    tolerances: &[Tolerance],
    effects: &[[f64; 2]],
    typical: f64,
    way: f64,
    one: &mut impl FnMut(&[(Variable, f64)]) -> Result<f64, E>,
) -> Result<Corner, E> {
    let ends = |k: usize| [tolerances[k].range.min, tolerances[k].range.typ, tolerances[k].range.max];
    let mut settings: Vec<(Variable, f64)> = typical_settings(tolerances);
    for (k, [low, high]) in effects.iter().enumerate() {
        let (low, high) = (way * low, way * high);
        if low.max(high) > 0.0 {
            settings[k].1 = if low > high { ends(k)[0] } else { ends(k)[2] };
        }
    }
    let mut best = Corner { value: one(&settings)?, settings };
    if way * (typical - best.value) > 0.0 {
        // single moves that helped, together do not: start again from where nothing moved
        best = Corner { value: typical, settings: typical_settings(tolerances) };
    }
    let strength = |k: &usize| effects[*k][0].abs().max(effects[*k][1].abs());
    let mut strongest: Vec<usize> = (0..tolerances.len()).collect();
    strongest.sort_by(|a, b| strength(b).total_cmp(&strength(a)));
    for k in strongest.into_iter().take(TRIED_AGAIN) {
        for setting in
            ends(k).into_iter().filter(|setting| *setting != best.settings[k].1).collect::<Vec<_>>()
        {
            let mut settings = best.settings.clone();
            settings[k].1 = setting;
            let value = one(&settings)?;
            if way * (value - best.value) > 0.0 {
                best = Corner { value, settings };
            }
        }
    }
    Ok(best)
}
