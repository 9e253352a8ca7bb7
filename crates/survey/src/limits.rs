//! Each part against its limits, in the worst of the states seen.
//!
//! Limits are those of the cards (datasheets, absolute maximum ratings). A resistor is taken for a
//! quarter-watt one and a lamp's reverse voltage for what its card says. Beyond four fifths of a limit a
//! part is told of: a bench is warmer than the 25 °C of the ratings (derating to 80 %: common
//! practice, no source).

use crate::watch::{Strain, Watch};
use dryjoint_board::{Board, Entity, Notice, PartId, PartKind};
use dryjoint_parts::Model;
use dryjoint_units::{Amps, Volts, Watts};
use std::fmt;

/// What a limit is on, with what the part had to bear and what it may.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Load {
    /// Dissipation.
    Power(Watts, Watts),
    /// Collector or forward current.
    Current(Amps, Amps),
    /// Voltage collector to emitter.
    Across(Volts, Volts),
    /// Reverse voltage: base to emitter, of a diode, of a lamp.
    Reverse(Volts, Volts),
}

impl Load {
    /// How much of the limit is used.
    pub fn share(self) -> f64 {
        match self {
            Self::Power(found, limit) => found / limit,
            Self::Current(found, limit) => found / limit,
            Self::Across(found, limit) | Self::Reverse(found, limit) => found / limit,
        }
    }

    /// What it is on, in one or two words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Power(..) => "dissipation",
            Self::Current(..) => "current",
            Self::Across(..) => "voltage across",
            Self::Reverse(..) => "reverse voltage",
        }
    }

    /// What the part bore and what it may, in SI units.
    pub fn figures(self) -> (f64, f64) {
        match self {
            Self::Power(found, limit) => (found.0, limit.0),
            Self::Current(found, limit) => (found.0, limit.0),
            Self::Across(found, limit) | Self::Reverse(found, limit) => (found.0, limit.0),
        }
    }
}

impl fmt::Display for Load {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Power(found, limit) => write!(f, "{found} of {limit}"),
            Self::Current(found, limit) => write!(f, "{found} of {limit}"),
            Self::Across(found, limit) | Self::Reverse(found, limit) => write!(f, "{found} of {limit}"),
        }
    }
}

/// One part and the limit it comes nearest to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// The part.
    pub part: PartId,
    /// The limit.
    pub load: Load,
}

/// A quarter-watt resistor, the usual through-hole size (common practice, no source).
const RESISTOR: Watts = Watts(0.25);
/// An electrolytic stands this much the wrong way round for good (common practice, no source).
const WRONG_WAY: Volts = Volts(0.5);
/// The share of a limit from which a part is told of.
pub(crate) const NEAR: f64 = 0.8;

/// Every part that has limits, with the one it comes nearest to, nearest first.
pub(crate) fn limits(watch: &Watch, notices: &mut Vec<Notice>) -> Vec<Limit> {
    let board = watch.extracted.shape.board;
    let mut found: Vec<Limit> = Vec::new();
    for (part, strain) in watch.strains.iter() {
        let loads = loads(board, part, strain);
        let nearest = loads.into_iter().max_by(|a, b| a.share().total_cmp(&b.share()));
        if let Some(load) = nearest {
            found.push(Limit { part, load });
            if load.share() > NEAR {
                notices.push(told(board, part, load));
            }
        }
    }
    found.sort_by_key(|row| (-(row.load.share() * 1e4).round() as i64, row.part));
    found
}

/// The limits of one part against what it bore.
pub(crate) fn loads(board: &Board, part: PartId, strain: &Strain) -> Vec<Load> {
    let card = |model| &board.models[model].model;
    match &board.parts[part].kind {
        PartKind::Resistor { .. } => vec![Load::Power(strain.power, RESISTOR)],
        PartKind::Capacitor { polar: true, .. } => vec![Load::Reverse(strain.reverse, WRONG_WAY)],
        PartKind::Bipolar(model) => match card(*model) {
            Model::Bipolar(card) => vec![
                Load::Power(strain.power, card.p_max),
                Load::Current(strain.current, card.ic_max),
                Load::Across(strain.across, card.vceo),
                Load::Reverse(strain.reverse, card.vebo),
            ],
            _ => Vec::new(),
        },
        PartKind::Diode(model) => match card(*model) {
            Model::Diode(card) if card.bv.0.is_finite() => {
                vec![Load::Current(strain.current, card.if_max), Load::Reverse(strain.reverse, card.bv)]
            }
            Model::Diode(card) => vec![Load::Current(strain.current, card.if_max)],
            _ => Vec::new(),
        },
        PartKind::Lamp(model) => match card(*model) {
            Model::Lamp(card) => vec![
                Load::Current(strain.current, card.junction.if_max),
                Load::Reverse(strain.reverse, card.vr_max),
            ],
            _ => Vec::new(),
        },
        _ => Vec::new(),
    }
}

fn told(board: &Board, part: PartId, load: Load) -> Notice {
    let reference = &board.parts[part].reference;
    let over = if load.share() > 1.0 { "beyond its limit" } else { "near its limit" };
    let text = format!("{reference} is {over}: {}, {load}", load.name());
    let mend = match load {
        Load::Power(..) | Load::Current(..) => "raise the resistance in its path, or fit a stronger part",
        Load::Across(..) => "fit a part for a higher voltage",
        Load::Reverse(..) => "turn it round, or put a diode in series",
    };
    Notice::warning("part-limit", Entity::Part(part), text, mend)
}
