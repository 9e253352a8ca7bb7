//! Forced gain: is every transistor that conducts driven hard enough to stay on when its copy is weak?
//!
//! Collector over base current of a transistor in saturation is its forced beta; it must stay below
//! the current gain that the weakest copy of the type has at that current. The ratio of the two is the
//! overdrive.

use crate::watch::{Drive, Watch};
use dryjoint_board::{Board, Entity, Notice, PartId, PartKind};
use dryjoint_parts::{Bipolar, Model};

/// One transistor at its weakest drive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Driven {
    /// The transistor.
    pub part: PartId,
    /// How it was driven.
    pub drive: Drive,
    /// The gain of the weakest copy at that collector current, 1 V across it.
    pub least_gain: f64,
}

impl Driven {
    /// How many times the base current that the weakest copy needs it gets.
    pub fn overdrive(&self) -> f64 {
        self.least_gain / self.drive.forced_beta()
    }
}

/// Across a transistor that is on no more than this may stand (common practice: a saturated collector
/// reads about 0.1 V).
const SATURATED: f64 = 0.4;

/// Every transistor that was seen to conduct, weakest overdrive first.
pub(crate) fn driven(watch: &Watch, notices: &mut Vec<Notice>) -> Vec<Driven> {
    let board = watch.extracted.shape.board;
    let mut found = Vec::new();
    for (part, strain) in watch.strains.iter() {
        let (Some(drive), Some(card)) = (strain.drive, card(board, part)) else { continue };
        let driven = Driven { part, drive, least_gain: card.gain.min * gain(card, drive.collector.0) };
        if driven.overdrive() < 1.0 || drive.across.0 > SATURATED {
            notices.push(told(board, &driven));
        }
        found.push(driven);
    }
    found.sort_by_key(|row| ((row.overdrive() * 1e3).round() as i64, row.part));
    found
}

pub(crate) fn card(board: &Board, part: PartId) -> Option<&Bipolar> {
    match board.parts[part].kind {
        PartKind::Bipolar(model) => match &board.models[model].model {
            Model::Bipolar(card) => Some(card),
            _ => None,
        },
        _ => None,
    }
}

/// Current gain at a collector current with 1 V across, by bisection of the base–emitter voltage.
pub(crate) fn gain(card: &Bipolar, collector: f64) -> f64 {
    let law = card.law();
    let (mut low, mut high) = (0.2, 1.1);
    for _ in 0..50 {
        let middle = f64::midpoint(low, high);
        if law.currents(middle, middle - 1.0).ic < collector { low = middle } else { high = middle }
    }
    let found = law.currents(low, low - 1.0);
    found.ic / found.ib
}

fn told(board: &Board, driven: &Driven) -> Notice {
    let reference = &board.parts[driven.part].reference;
    let drive = &driven.drive;
    let text = format!(
        "{reference} does not stay on: forced beta {:.0} ({} over {}), a weak copy has {:.0}; {} across it",
        drive.forced_beta(),
        drive.collector,
        drive.base,
        driven.least_gain,
        drive.across,
    );
    let base = board.parts[driven.part].pins.get(1).map(|pin| board.pins[*pin].net);
    let mut feeding: Vec<String> = Vec::new();
    for pin in base.iter().flat_map(|net| &board.nets[*net].pins) {
        let part = &board.parts[board.pins[*pin].part];
        if let PartKind::Resistor { ohms, .. } = part.kind {
            feeding.push(format!("{} {ohms}", part.reference));
        }
    }
    let mend = format!("lower the resistor that feeds its base (at its base: {})", feeding.join(", "));
    Notice::warning("transistor-weak", Entity::Part(driven.part), text, mend)
}

#[cfg(test)]
mod tests {
    use super::gain;
    use dryjoint_parts::{Model, library};

    #[test]
    fn the_gain_is_within_the_datasheet() {
        // 2N3904 datasheet: hFE 100–300 at 10 mA, ≥ 70 at 1 mA, 1 V.
        let Some(Model::Bipolar(card)) = library("2N3904") else { panic!("2N3904 is missing") };
        assert!((100.0..=300.0).contains(&gain(&card, 0.01)));
        assert!(gain(&card, 1e-3) >= 70.0);
    }
}
