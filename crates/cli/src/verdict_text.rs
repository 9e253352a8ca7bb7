//! A verdict as a document, and as a person with the board in hand reads it.

use crate::readings::{Odd, seen_of};
use crate::shape::{Cause, Doubt, FaultSet, Header, Several, Surprise, Suspect, Verdict as Document};
use crate::{figures, render};
use dryjoint_board::Board;
use dryjoint_faults::{Fault, FaultId, spoken};
use dryjoint_ids::Id;
use dryjoint_procedure::{GroupId, Study};
use dryjoint_session::{ReadingId, Seen, Session};
use dryjoint_verdict::{self as verdict, Verdict};
use std::fmt::Write as _;

/// Suspects that a person is told at once.
const TOLD: usize = 6;
/// Faults of one suspect that are told by name.
const NAMED: usize = 12;
/// Sets of faults in a document.
const MOST_SETS: usize = 20;
/// Suspects told in brief, and parts named for each.
const BRIEF: usize = 3;
const PARTS: usize = 8;
/// Places to look at that are told.
const LOOKS: usize = 4;

/// The verdict as a document, but for what to do next.
pub fn document(study: &Study, session: &Session, odd: &[Odd], verdict: &Verdict) -> Document {
    let board = study.extracted.shape.board;
    Document {
        header: Header::new("find", &board.name),
        readings: verdict.readings,
        notices: Vec::new(),
        surprises: odd.iter().map(|odd| surprise(board, odd)).collect(),
        figures: Vec::new(),
        suspects: verdict
            .suspects
            .iter()
            .map(|suspect| Suspect {
                faults: suspect.names(study),
                probability: suspect.probability,
                shares: suspect.faults.iter().map(|(_, share)| *share).collect(),
                look: suspect.looks(study),
                causes: suspect.causes(study).into_iter().map(cause).collect(),
            })
            .collect(),
        doubts: verdict
            .doubts
            .iter()
            .filter_map(|doubt| {
                let (step, of) = named(board, session, doubt.reading)?;
                Some(Doubt { step, of, wrong: doubt.wrong, why: doubt.why() })
            })
            .collect(),
        no_fault: verdict.no_fault,
        none_of_these: verdict.none_of_these,
        several: None,
        resume: None,
        next: None,
        end: None,
    }
}

/// Several faults at once as a document.
pub fn several(study: &Study, pairs: &verdict::Pairs) -> Several {
    let board = study.extracted.shape.board;
    let set = |groups: &[GroupId], alike: usize, probability: f64| {
        let first: Vec<FaultId> = groups.iter().map(|&group| study.groups[group].faults[0]).collect();
        let words = |&fault: &FaultId| spoken(board, &study.faults, &[fault]).swap_remove(0).words;
        let faults = first.iter().map(|&fault| study.faults[fault].name(board)).collect();
        FaultSet { causes: first.iter().map(words).collect(), faults, alike, probability }
    };
    let twos = pairs.pairs.iter().map(|pair| set(&pair.groups[0], pair.groups.len() - 1, pair.probability));
    let threes = pairs.triples.iter().map(|one| set(&one.groups[0], one.groups.len() - 1, one.probability));
    let mut sets: Vec<FaultSet> = twos.chain(threes).collect();
    sets.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    sets.truncate(MOST_SETS);
    Several {
        more_than_one: pairs.more_than_one(),
        sets,
        none_of_these: pairs.none_of_these,
        pairs_weighed: pairs.weighed,
    }
}

/// Several faults at once, a line a set.
pub fn told_several(several: &Several) -> String {
    let mut text = render::heading("Several faults at once");
    let _ = writeln!(
        text,
        "    {:5.1} %  more than one fault ({} pairs weighed)",
        100.0 * several.more_than_one,
        several.pairs_weighed
    );
    let told = several.sets.iter().take(TOLD).filter(|set| set.probability >= 5e-4);
    for (index, set) in told.enumerate() {
        let more = if set.alike > 0 { format!(", or {} sets like it", set.alike) } else { String::new() };
        let percent = 100.0 * set.probability;
        let _ = writeln!(text, "{:>2}. {percent:5.1} %  {}{more}", index + 1, set.causes.join(" with "));
    }
    text
}

fn cause(cause: verdict::Cause) -> Cause {
    let verdict::Cause { spoken, probability } = cause;
    let (words, look, repair) = (spoken.words, spoken.look, spoken.repair);
    Cause { words, kind: spoken.kind.words().to_owned(), probability, look, repair }
}

fn surprise(board: &Board, odd: &Odd) -> Surprise {
    Surprise {
        step: odd.step.map(|step| step.index() + 1),
        lamp: board.parts[odd.lamp].reference.clone(),
        expected: seen_of(odd.lit),
        seen: odd.seen,
    }
}

/// The step of a reading and what it is of.
pub fn named(board: &Board, session: &Session, id: ReadingId) -> Option<(Option<usize>, String)> {
    let (_, reading) = session.readings().find(|(known, _)| *known == id)?;
    let of = match reading.seen {
        Seen::Lamp(part, _) | Seen::Hot(part) | Seen::Sound(part) => board.parts[part].reference.clone(),
        Seen::Volts(net, _) => board.nets[net].name.clone(),
        Seen::Supply(_) => "the supply's current".to_owned(),
        Seen::Smelt => "the smell".to_owned(),
        Seen::Ohms(a, b, _) => format!("{} to {}", board.nets[a].name, board.nets[b].name),
    };
    Some((session.looks()[reading.look].step.map(|step| step.index() + 1), of))
}

/// The suspects, the doubts, the rest.
pub fn suspects(verdict: &Document) -> String {
    let mut text = String::new();
    let told = verdict.suspects.iter().take(TOLD).take_while(|suspect| suspect.probability >= 5e-4).count();
    for (index, suspect) in verdict.suspects.iter().take(told).enumerate() {
        let percent = 100.0 * suspect.probability;
        let more = suspect.causes.len().saturating_sub(NAMED);
        let mut names: Vec<String> = suspect.causes.iter().take(NAMED).map(|one| one.words.clone()).collect();
        if more > 0 {
            names.push(format!("or one of {more} more causes that show the same"));
        }
        text.push_str(&render::wrapped(&format!("{:>2}. {percent:5.1} %  ", index + 1), &names, 110));
        for Cause { look, repair, .. } in suspect.causes.iter().take(LOOKS) {
            let _ = writeln!(text, "             {look}; {repair}");
        }
    }
    let rest = verdict.suspects.len() - told;
    if rest > 0 {
        let left: f64 = verdict.suspects.iter().skip(told).map(|suspect| suspect.probability).sum();
        let others = if rest == 1 { "other suspect" } else { "other suspects" };
        let _ = writeln!(text, "    {:5.1} %  {rest} {others}", 100.0 * left);
    }
    let _ = writeln!(text, "    {:5.1} %  no fault at all", 100.0 * verdict.no_fault);
    let _ = writeln!(text, "    {:5.1} %  none of these", 100.0 * verdict.none_of_these);
    for doubt in &verdict.doubts {
        let place = doubt.step.map_or(String::new(), |step| format!(" at step {step}"));
        let _ = writeln!(text, "Look at {} again{place}: {}.", doubt.of, doubt.why);
    }
    text
}

/// The first few suspects, a line each: the one cause, or the places where the faults are.
pub fn brief(study: &Study, verdict: &Verdict) -> String {
    let mut text = String::new();
    let (first, rest) = verdict.suspects.split_at(verdict.suspects.len().min(BRIEF));
    for suspect in first.iter().filter(|suspect| suspect.probability >= 5e-4) {
        let words = match &suspect.causes(study)[..] {
            [only] => only.spoken.words.clone(),
            _ => {
                let faults: Vec<FaultId> = suspect.faults.iter().map(|&(fault, _)| fault).collect();
                let places = places(study, &faults);
                let more = if places.len() > PARTS { " …" } else { "" };
                let places = places[..places.len().min(PARTS)].join(" ");
                format!("{} faults at {places}{more}", faults.len())
            }
        };
        let _ = writeln!(text, "        {:5.1} %  {words}", 100.0 * suspect.probability);
    }
    let left: f64 = rest.iter().map(|suspect| suspect.probability).sum();
    let left = left + verdict.no_fault + verdict.none_of_these;
    let _ = writeln!(text, "        {:5.1} %  anything else", 100.0 * left);
    text
}

/// Where some faults are, each place once: a part by reference, or the net that touches a rail somewhere.
fn places(study: &Study, faults: &[FaultId]) -> Vec<String> {
    let board = study.extracted.shape.board;
    let mut places: Vec<String> = Vec::new();
    for &fault in faults {
        let at = match study.faults[fault] {
            Fault::RailShort(net, _) => vec![format!("net {}", board.nets[net].name)],
            fault => fault.parts(board).into_iter().map(|part| board.parts[part].reference.clone()).collect(),
        };
        for place in at {
            if !places.contains(&place) {
                places.push(place);
            }
        }
    }
    places
}

/// Lamps and figures that were not as expected.
pub fn surprises(verdict: &Document) -> String {
    let step = |step: Option<usize>| step.map_or("-".to_owned(), |step| step.to_string());
    let lamps = verdict.surprises.iter().map(|odd| {
        vec![step(odd.step), odd.lamp.clone(), odd.expected.word().to_owned(), odd.seen.word().to_owned()]
    });
    let figures = verdict.figures.iter().map(|odd| {
        let words = |value| figures::words(odd.unit, value);
        vec![step(odd.step), odd.of.clone(), words(odd.expected), words(odd.seen)]
    });
    let head = if verdict.figures.is_empty() { "lamp" } else { "what" };
    render::table(&["step", head, "expected", "seen"], &[0], lamps.chain(figures))
}
