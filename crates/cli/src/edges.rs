//! Stages that heed edges: as rows of the document, and read aloud.

use crate::render;
use crate::shape::check::Heeded;
use dryjoint_logic::{Extracted, SignalId};
use std::fmt::Write as _;

/// What every stage does on the edges of a signal that it reads through a capacitor.
pub fn document(extracted: &Extracted) -> Vec<Heeded> {
    let logic = &extracted.logic;
    let name = |signal: SignalId| logic.signals[signal].name.clone();
    let mut found = Vec::new();
    for pulse in &logic.pulses {
        let stage = &logic.stages[pulse.stage];
        let Some(net) = logic.signals[stage.output].net else { continue };
        for (row, both) in pulse.rows.iter().enumerate() {
            for (way, level) in ["falls", "rises"].into_iter().zip(both) {
                let Some(level) = level else { continue };
                let value = level.resolve(extracted.levels[net].rest).value();
                let while_ = stage.inputs.iter().enumerate().map(|(bit, &input)| {
                    format!("{} {}", name(input), if row >> bit & 1 != 0 { "high" } else { "low" })
                });
                found.push(Heeded {
                    part: stage.name.clone(),
                    trigger: name(pulse.trigger),
                    way: way.to_owned(),
                    output: name(stage.output),
                    goes: value.map(|high| if high { "high" } else { "low" }.to_owned()),
                    with: while_.collect(),
                });
            }
        }
    }
    found
}

/// The section of the report; empty where no stage heeds an edge.
pub fn text(rows: &[Heeded]) -> String {
    if rows.is_empty() {
        return String::new();
    }
    let mut text = render::heading("Stages that heed edges");
    for row in rows {
        let goes = row.goes.as_deref().unwrap_or("to no clear level");
        let with =
            if row.with.is_empty() { String::new() } else { format!(", with {}", row.with.join(", ")) };
        let Heeded { part, trigger, way, output, .. } = row;
        let _ = writeln!(text, "{part}: when {trigger} {way}{with}, {output} goes {goes} for a while.");
    }
    text
}
