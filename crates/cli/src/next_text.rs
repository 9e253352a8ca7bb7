//! What to do next, as a document and in words: what the hands do, and what each thing they may see
//! would mean.

use crate::command::plan::expected;
use crate::shape::Touch as TouchForm;
use crate::shape::{
    Deed as DeedForm, End as EndForm, Named, Next as Form, Outcome as OutcomeForm, Resume as ResumeForm,
};
use crate::{names, render};
use dryjoint_board::Board;
use dryjoint_faults::lanes::Shown;
use dryjoint_ids::Id;
use dryjoint_procedure::{Resume, Study, in_words};
use dryjoint_verdict::{Deed, End, Next, Outcome, Sign, Touch, opened};
use std::fmt::Write as _;

/// Outcomes that are told.
const TOLD: usize = 5;
/// Pins offered for a meter lead.
const PINS: usize = 3;

/// Why there is nothing to do next, as a document.
pub fn end(end: End) -> EndForm {
    EndForm { why: end.word().to_owned(), words: end.words().to_owned() }
}

/// What to do next as a document.
pub fn document(study: &Study, next: &Next) -> Form {
    let board = study.extracted.shape.board;
    let deed = match &next.deed {
        Deed::Look { step, actions, expect } => DeedForm::Look {
            step: step.map(|step| step.index() + 1),
            actions: actions.iter().flat_map(|action| names::written(board, *action)).collect(),
            expect: expected(board, expect),
        },
        Deed::Volts { actions, net, pins, good } => DeedForm::Volts {
            actions: actions.iter().flat_map(|action| names::written(board, *action)).collect(),
            net: board.nets[*net].name.clone(),
            pins: pins.iter().map(|pin| pin_name(board, *pin)).collect(),
            good: good.map(|volts| volts.0),
        },
        Deed::Supply { good } => DeedForm::Supply { good: good.map(|amps| amps.0) },
        Deed::Ohms { red, black, good } => DeedForm::Ohms {
            red: touch(board, red),
            black: touch(board, black),
            good: good.map(|ohms| ohms.0),
        },
    };
    let outcomes = next.outcomes.iter().map(|outcome| outcome_form(study, outcome)).collect();
    let (off, seconds, seconds_after) = (next.off, next.seconds.0, next.after.0);
    Form { deed, outcomes, bits: next.bits, off, seconds, seconds_after }
}

fn touch(board: &Board, touch: &Touch) -> TouchForm {
    TouchForm {
        net: board.nets[touch.net].name.clone(),
        pins: touch.pins.iter().map(|pin| pin_name(board, *pin)).collect(),
    }
}

/// `Next, about 24 s, and 90 s more to get back to where the board stands`.
pub fn heading(before: &str, form: &Form) -> String {
    let back = form.seconds_after.round();
    let back = if back < 1.0 {
        String::new()
    } else {
        format!(", and then {back:.0} s to bring the board back to where it stands")
    };
    render::heading(&format!("{before}, about {:.0} s{back}", form.seconds))
}

/// Where to go on after a repair as a document.
pub fn resume(board: &Board, resume: &Resume) -> ResumeForm {
    ResumeForm {
        step: resume.step.map_or(1, |step| step.index() + 1),
        lead: resume.lead.iter().flat_map(|action| names::written(board, *action)).collect(),
    }
}

/// The same in words.
pub fn resumed(board: &Board, resume: &Resume, form: &ResumeForm) -> String {
    let mut text = render::heading(&format!("After the repair, go on at step {}", form.step));
    let _ = writeln!(text, "      take every jumper off, power on");
    for done in in_words(board, &resume.lead) {
        let _ = writeln!(text, "      {done}");
    }
    text
}

fn pin_name(board: &Board, pin: dryjoint_board::PinId) -> String {
    let pin = &board.pins[pin];
    format!("{}.{}", board.parts[pin.part].reference, pin.name)
}

fn outcome_form(study: &Study, outcome: &Outcome) -> OutcomeForm {
    let board = study.extracted.shape.board;
    let mut form = OutcomeForm {
        lamps: None,
        volts: None,
        amps: None,
        ohms: None,
        no_reading: outcome.sign == Sign::Open,
        faults: outcome.faults.iter().map(|fault| study.faults[*fault].name(board)).collect(),
        good: outcome.good,
        probability: outcome.probability,
    };
    match &outcome.sign {
        Sign::Lamps(lamps) => {
            let named = lamps
                .iter()
                .map(|(lamp, shown)| (board.parts[*lamp].reference.clone(), word(*shown).to_owned()));
            form.lamps = Some(named.collect::<Named<String>>());
        }
        Sign::Volts(least, most) => form.volts = Some([least.0, most.0]),
        Sign::Amps(least, most) => form.amps = Some([least.0, most.0]),
        Sign::Ohms(least, most) => form.ohms = Some([least.0, most.0]),
        Sign::Open => {}
    }
    form
}

fn word(shown: Shown) -> &'static str {
    match shown {
        Shown::One => "lit",
        Shown::Zero => "dark",
        Shown::Dim => "dim",
        Shown::Unknown => "unknown",
    }
}

/// What to do and what a good board shows, a line each.
pub fn deed(board: &Board, next: &Next) -> String {
    let mut text = String::new();
    if next.off && !matches!(next.deed, Deed::Ohms { .. }) {
        text.push_str("      switch the supply on, no jumper fitted\n");
    }
    match &next.deed {
        Deed::Look { actions, expect, .. } => {
            if actions.is_empty() {
                text.push_str("      look at the lamps\n");
            }
            for done in in_words(board, actions) {
                let _ = writeln!(text, "      {done}");
            }
            let _ = writeln!(text, "        {}", render::lamp_line(board, &expected(board, expect)));
        }
        Deed::Volts { actions, net, pins, good } => {
            for done in in_words(board, actions) {
                let _ = writeln!(text, "      {done}");
            }
            let then = if actions.is_empty() { "" } else { "then " };
            let pins: Vec<String> = pins.iter().take(PINS).map(|pin| pin_name(board, *pin)).collect();
            let good = good.map_or(String::new(), |volts| format!("; a good board: {:.2} V", volts.0));
            let net = &board.nets[*net].name;
            let _ = writeln!(text, "      {then}measure volts on {} (net {net}){good}", pins.join(" or "));
        }
        Deed::Supply { good } => {
            let good = good.map_or(String::new(), |amps| format!("; a good board: {amps}"));
            let _ = writeln!(text, "      read the supply's current{good}");
        }
        Deed::Ohms { red, black, good } => {
            if next.off {
                text.push_str("      leave the supply off\n");
            } else {
                text.push_str("      switch the supply off, take every jumper off, unplug whatever else is joined to the board\n");
                for words in opened(board) {
                    let _ = writeln!(text, "      {words}");
                }
                text.push_str("      wait until a meter on volts shows nothing between the rails: the capacitors are empty\n");
            }
            let place = |touch: &Touch| {
                let pins: Vec<String> =
                    touch.pins.iter().take(PINS).map(|pin| pin_name(board, *pin)).collect();
                format!("{} (net {})", pins.join(" or "), board.nets[touch.net].name)
            };
            let _ = writeln!(text, "      meter on ohms, red lead on {}", place(red));
            let good = good.map_or("no reading".to_owned(), |ohms| ohms.two_digits().to_string());
            let _ = writeln!(text, "      black lead on {}; a good board: {good}", place(black));
        }
    }
    text
}

/// What may be seen and what it would mean.
pub fn outcomes(study: &Study, next: &Next) -> String {
    let mut text = String::new();
    for outcome in next.outcomes.iter().take(TOLD).filter(|outcome| outcome.probability >= 5e-3) {
        let (sign, whose) = (outcome.sign.words(study.extracted.shape.board), outcome.whose(study));
        let _ = writeln!(text, "        {sign}: {whose} ({:.0} %)", 100.0 * outcome.probability);
    }
    if let Some(why) = next.foreseen() {
        let _ = writeln!(text, "        {why}");
    }
    text
}
