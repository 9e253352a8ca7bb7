//! Why a fault of a board is shown or not, as a person reads it: the step, the wrong lamps, and the way from the
//! fault to the lamp, stage by stage.

use crate::render;
use dryjoint_board::Board;
use dryjoint_faults::proof::{Confirmed, only_drains};
use dryjoint_faults::region::{Proof as Second, Why};
use dryjoint_faults::{Fault, FaultId};
use dryjoint_ids::Id;
use dryjoint_logic::Role;
use dryjoint_procedure::{Explanation, Place, Procedure, StepId, Study, Wrong};
use std::fmt::Write as _;

/// Everything.
pub fn whole(study: &Study, procedure: &Procedure, fault: FaultId, explanation: &Explanation) -> String {
    let board = study.extracted.shape.board;
    let mut text = render::heading(&study.faults[fault].name(board));
    if let Some(group) = study.group_of(fault) {
        let others = study.groups[group].faults.iter().filter(|id| **id != fault);
        let others: Vec<String> = others.map(|&id| study.faults[id].name(board)).collect();
        if !others.is_empty() {
            text.push_str(&render::wrapped("does the same as ", &others, 110));
        }
    }
    let number = |step: &StepId| step.index() + 1;
    let _ = match explanation {
        Explanation::Shown { step, lamps, way } => {
            let _ = writeln!(text, "Step {} shows it first: {}.", number(step), wrong(board, lamps, "is"));
            text.push_str(&hands(board, procedure, *step));
            text.push_str(&path(study, way));
            Ok(())
        }
        Explanation::Chance { step, why, sureness, lamps, way } => {
            let _ = writeln!(
                text,
                "No step surely shows it: {}.\n{}.\nStep {} is the first that may: {}.",
                why.words(board),
                capital(&sureness.words()),
                number(step),
                wrong(board, lamps, "may be")
            );
            text.push_str(&drain(board, &study.faults[fault]));
            text.push_str(&hands(board, procedure, *step));
            text.push_str(&path(study, way));
            Ok(())
        }
        Explanation::ByCases { step, drawn } => {
            text.push_str(&cases(number(step), *drawn));
            text.push_str(&hands(board, procedure, *step));
            Ok(())
        }
        Explanation::Blackout(step) => {
            let _ = writeln!(
                text,
                "Step {} shows it first: its jumper shorts the supply through the fault. The supply gives its limit \
                 at next to no voltage, and every lamp is dark.",
                number(step)
            );
            text.push_str(&hands(board, procedure, *step));
            Ok(())
        }
        Explanation::Never(why, Some(proof)) => {
            writeln!(text, "No lamp can show it: {} ({proof}).", why.words(board))
        }
        Explanation::Stays(found) => {
            text.push_str(&stays(board, found));
            Ok(())
        }
        Explanation::Never(why, None) => {
            writeln!(text, "No lamp can show it: {}.{}", why.words(board), twice(*why))
        }
        Explanation::Undecided(why) => writeln!(text, "It could not be computed: {}.", why.words(board)),
        Explanation::Missed => {
            writeln!(text, "No step of this procedure shows it, and no proof excludes that one could.")
        }
    };
    text
}

/// By which step every case has shown, and on what that rests.
fn cases(step: usize, drawn: Option<usize>) -> String {
    let rests = match drawn {
        None => "That is proven for every way in which they can have woken up.".to_owned(),
        Some(boards) => format!(
            "That is proven for stages of equal delay, the cases parted after every action. It was tried on {boards} drawn boards \
             besides, with unequal\ndelays and levels in between read as drawn: all of them show it."
        ),
    };
    format!(
        "By step {step} it has shown in every case of what is not known of its latches; which lamp is wrong at which step \
         depends on the case.\n{rests}\n"
    )
}

/// That every level stays, with what adding up the currents came to.
fn stays(board: &Board, found: &Confirmed) -> String {
    let clear = found.nearest.map_or(String::new(), |volts| {
        format!("; the closest level lies {:.2} V off its threshold", volts.0)
    });
    let alone = if found.alone { "" } else { "; the region could rest in other points too" };
    format!(
        "No lamp can show it: {}.\nThe currents of {} rows, at up to {} nodes, were added up again: nowhere are more than {:.0} pA \
         missing{clear}{alone}.\n",
        Why::LevelsStay.words(board),
        found.rows,
        found.nodes,
        (found.missing.0 * 1e12).ceil()
    )
}

/// What an electrolytic the wrong way round takes from the supply, and what to do about it.
fn drain(board: &Board, fault: &Fault) -> String {
    let Ok(drain) = only_drains(board, fault) else { return String::new() };
    format!(
        "A supply that gives enough holds its nets where they should be, and then every lamp is as on a good board; one at \
         its limit sags.\nIt takes about {:.1} A at {} and turns {:.1} W into heat (judgement, to a decade): the supply's \
         display tells at once.\nCAUTION: an electrolytic the wrong way round gets hot and can burst. Switch off at once, let \
         it cool, and fit a new one.\n",
        drain.amps.0, drain.volts, drain.heat.0
    )
}

/// What a reason was held against a second time, where that is told in a sentence.
fn twice(why: Why) -> &'static str {
    match why.proof() {
        Some(Second::Time) => "\nA second circuit, followed in time with sums of its own, does the same.",
        Some(Second::Copper) => "\nWhat current can flow through is the same with the fault as without it.",
        _ => "",
    }
}

/// `DS3 is dark and should be lit; DS4 is lit and should be dark`.
fn wrong(board: &Board, lamps: &[Wrong], verb: &str) -> String {
    if lamps.is_empty() {
        return "which lamp is wrong depends on how the latches woke up".to_owned();
    }
    let told = |lit: bool| {
        let names: Vec<&str> =
            lamps.iter().filter(|w| w.good == lit).map(|w| board.parts[w.lamp].reference.as_str()).collect();
        let verb = if names.len() > 1 && verb == "is" { "are" } else { verb };
        let (now, should) = if lit { ("dark", "lit") } else { ("lit", "dark") };
        (!names.is_empty()).then(|| format!("{} {verb} {now} and should be {should}", names.join(" ")))
    };
    [told(true), told(false)].into_iter().flatten().collect::<Vec<_>>().join("; ")
}

/// What the hands do in the step.
fn hands(board: &Board, procedure: &Procedure, step: StepId) -> String {
    let actions = procedure.steps[step].actions.iter().map(|action| action.words(board));
    let actions: Vec<String> = actions.collect();
    if actions.is_empty() { String::new() } else { format!("In it: {}.\n", actions.join("; ")) }
}

/// The way of the difference, a line a place.
fn path(study: &Study, way: &[Place]) -> String {
    if way.is_empty() {
        return String::new();
    }
    let rows = way.iter().map(|place| {
        let logic = &study.extracted.logic;
        let signal = &logic.signals[place.signal];
        let lamp = signal.role == Role::Seen;
        let words = |high: bool| match (lamp, high) {
            (true, true) => "lit",
            (true, false) => "dark",
            (false, true) => "high",
            (false, false) => "low",
        };
        let by = match place.stage {
            Some(stage) if !lamp => logic.stages[stage].name.clone(),
            _ if lamp => "seen here".to_owned(),
            _ => "the bench".to_owned(),
        };
        vec![
            (place.step.index() + 1).to_string(),
            signal.name.clone(),
            by,
            words(place.good).to_owned(),
            place.faulty.map_or("either", words).to_owned(),
        ]
    });
    let table = render::table(&["since step", "at", "made by", "good", "with the fault"], &[0], rows);
    format!("The way of the difference:\n\n{table}")
}

/// A sentence begins with a capital.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
