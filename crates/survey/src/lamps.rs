//! Lamps: the current of each when lit and when dark, and how it looks.

use crate::watch::Watch;
use dryjoint_board::{Entity, Notice, PartId, PartKind};
use dryjoint_parts::{Glow, Lamp, Model};
use dryjoint_units::Amps;

/// What one lamp does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shine {
    /// The lamp.
    pub part: PartId,
    /// Least and greatest forward current when it is meant to be lit.
    pub lit: Option<(Amps, Amps)>,
    /// How it looks at the least of them.
    pub glow: Option<Glow>,
    /// Greatest forward current when it is meant to be dark, and how it looks then.
    pub dark: Option<(Amps, Glow)>,
}

/// Every lamp, in the order of the text.
pub(crate) fn lamps(watch: &Watch, notices: &mut Vec<Notice>) -> Vec<Shine> {
    let board = watch.extracted.shape.board;
    let mut found = Vec::new();
    for (part, row) in board.parts.iter() {
        let PartKind::Lamp(model) = row.kind else { continue };
        let Model::Lamp(card) = &board.models[model].model else { continue };
        let strain = &watch.strains[part];
        let shine = Shine {
            part,
            lit: strain.lit,
            glow: strain.lit.map(|(least, _)| card.glow(least)),
            dark: strain.dark.map(|amps| (amps, card.glow(amps))),
        };
        notices.extend(told(&row.reference, &shine, card));
        found.push(shine);
    }
    found
}

fn told(reference: &str, shine: &Shine, card: &Lamp) -> Option<Notice> {
    let about = Entity::Part(shine.part);
    let warn = |text: String, mend: &str| Some(Notice::warning("lamp-unclear", about, text, mend));
    match (shine.lit, shine.glow, shine.dark) {
        (Some((least, _)), Some(Glow::Dim | Glow::Dark), _) => warn(
            format!("{reference} is given {least} where it should be lit; it wants {}", card.lit_from),
            "lower the resistor in series, or drive its transistor harder",
        ),
        (_, _, Some((amps, Glow::Dim | Glow::Lit))) => warn(
            format!("{reference} still glows with {amps} where it should be dark"),
            "give its transistor a resistor from base to emitter",
        ),
        (None, _, _) => Some(Notice::remark(
            "lamp-never-lit",
            about,
            format!("{reference} was lit in none of the states tried"),
            "",
        )),
        _ => None,
    }
}
