//! Values no builder would solder in: 0 Ω, 1 TΩ, a farad. The bounds (judgement) stand a decade
//! outside what shops sell; within them a value is the builder's own affair.

use crate::{Board, Entity, Notice, PartKind};
use dryjoint_units::{Farads, Ohms};

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    for (id, part) in board.parts.iter() {
        let about = Entity::Part(id);
        match part.kind {
            PartKind::Resistor { ohms, tolerance } => {
                judge(
                    ohms.0,
                    (0.1, 1e8),
                    &format!("`{}` is {ohms}", part.reference),
                    about,
                    ohm_mend(ohms),
                    out,
                );
                if !(0.0..=0.5).contains(&tolerance) {
                    let text = format!("`{}` has a tolerance of {} %", part.reference, tolerance * 100.0);
                    let mend = "resistors come with 1, 2, 5, 10 or 20 %";
                    out.push(Notice::warning("value-range", about, text, mend));
                }
            }
            PartKind::Capacitor { farads, .. } => {
                let text = format!("`{}` is {farads}", part.reference);
                judge(farads.0, (1e-13, 0.1), &text, about, farad_mend(farads), out);
            }
            _ => {}
        }
    }
}

fn judge(
    value: f64,
    (least, most): (f64, f64),
    text: &str,
    about: Entity,
    mend: String,
    out: &mut Vec<Notice>,
) {
    if !value.is_finite() || value <= 0.0 {
        let text = format!("{text}: no part has that value");
        out.push(Notice::error("value-range", about, text, mend));
    } else if !(least..=most).contains(&value) {
        let text = format!("{text}, beyond what shops sell");
        out.push(Notice::warning("value-range", about, text, mend));
    }
}

fn ohm_mend(ohms: Ohms) -> String {
    if ohms.0 == 0.0 {
        "a wire link is `W1 link a b`".into()
    } else if ohms.0 > 1e8 {
        "did a prefix slip in? `22M` is 22 megohms, `22k` 22 kilohms".into()
    } else {
        "did the prefix slip? `22m` is 22 milliohms, `22M` 22 megohms".into()
    }
}

fn farad_mend(farads: Farads) -> String {
    if farads.0 > 0.1 {
        "did the prefix get lost? `10` is ten farads, `10u` ten microfarads".into()
    } else {
        "did the prefix slip? `100n` is a hundred nanofarads, `100p` a hundred picofarads".into()
    }
}
