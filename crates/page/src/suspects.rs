//! Suspects: who could have caused all that was seen, where to look on the board, where to probe.

use crate::page::Page;
use crate::screen::{hidden, keyed, percent};
use crate::step::ADVISING;
use crate::subject::counted;
use crate::task::Task;
use crate::weigh::Opinion;
use crate::work::Work;
use dryjoint_board::{Board, NetId};
use dryjoint_faults::Fault;
use dryjoint_ids::Id;
use dryjoint_picture::{BoardMap, Kind, Mark, Spot};
use dryjoint_procedure::GroupId;
use dryjoint_session::{Reading, Seen, Session};
use dryjoint_verdict::{Deed, Suspect, Touch};
use maud::{Markup, PreEscaped, html};
use std::sync::Arc;

/// Suspects that are told, faults named for each, and places marked on the map.
const TOLD: usize = 6;
const NAMED: usize = 12;
const MARKED: usize = 12;
/// Pairs that are told.
const PAIRS: usize = 4;

/// The screen.
pub fn screen(page: &Arc<Page>, work: &Work) -> Markup {
    let opinion = page.opinion().filter(|opinion| opinion.basis == work.basis());
    html! {
        h1 { "Suspects" }
        @match opinion.as_deref() {
            None => p class="do" { "Being weighed; this page goes on by itself." },
            Some(_) if !work.stand().surprised && work.stand().session.readings().next().is_none() => {
                p class="do" { "Nothing was read yet, so everyone is as suspect as before. " a href="/step" { "To the step" } }
            }
            Some(opinion) => (weighed(page, work, opinion)),
        }
    }
}

fn weighed(page: &Page, work: &Work, opinion: &Opinion) -> Markup {
    let subject = work.subject;
    let verdict = &opinion.verdict;
    let told: Vec<&Suspect> =
        verdict.suspects.iter().take(TOLD).filter(|one| one.probability >= 5e-4).collect();
    let rest: f64 = verdict.suspects.iter().skip(told.len()).map(|one| one.probability).sum();
    let task = page.task(work);
    html! {
        p id="next" class="likeliest" data-part="next" data-say="" { (next(work, &task)) }
        div class="beside" {
            section aria-labelledby="h-list" data-part="list" {
                h2 id="h-list" { "From " (counted(&[(verdict.readings, "reading", "readings")])) }
                @if let Some(words) = so_far(&work.stand().session, work.stand().surprised) { p { (words) } }
                ol class="suspects" {
                    @for (at, suspect) in told.iter().enumerate() { (one(work, at + 1, suspect)) }
                }
                dl class="others" {
                    @if rest > 5e-4 { div { dt { "Others" } dd { (percent(rest)) } } }
                    div { dt { "No fault at all" } dd { (percent(verdict.no_fault)) } }
                    div { dt { "None of these" } dd { (percent(verdict.none_of_these)) } }
                }
                (pairs(work, opinion))
                @for doubt in &verdict.doubts {
                    @let reading = work.stand().session.readings().find(|(id, _)| *id == doubt.reading);
                    @if let Some((_, Reading { seen: Seen::Lamp(lamp, _), .. })) = reading {
                        p class="notice" { "Look at " strong { (subject.board().parts[*lamp].reference) } " again: " (doubt.why()) ". The log lets you correct it." }
                    }
                }
            }
            section aria-labelledby="h-map" class="map" data-part="map" {
                h2 id="h-map" { "Where to look" }
                (map(work, &task, &told))
            }
        }
        (repair(page, work, &told))
    }
}

/// What the hands do next, in a line: on the step's own screen it stands in full.
fn next(work: &Work, task: &Task) -> Markup {
    let name = |net: NetId| work.subject.board().nets[net].name.as_str();
    html! {
        @match task {
            Task::Weighing | Task::Advising => (ADVISING),
            Task::Do(Deed::Look { step: Some(step), .. }) if work.next_step() == Some(*step) => {
                "Next: step " (step.index() + 1) " of the procedure."
            }
            Task::Do(Deed::Look { .. }) => "Next: another look at the lamps.",
            Task::Do(Deed::Volts { net, .. }) => { "Next: a voltage, on net " (name(*net)) "." }
            Task::Do(Deed::Supply { .. }) => "Next: the current that the supply shows.",
            Task::Do(Deed::Ohms { red, black, .. }) => {
                "Next: with power off, ohms between " (name(red.net)) " and " (name(black.net)) "."
            }
            Task::Told(end) => (end.words()),
            Task::Passed => "Every step was as expected: this unit passes.",
            Task::Over => "The practice is over.",
        }
    }
}

/// What there is to say of the lamps where none was wrong.
fn so_far(session: &Session, surprised: bool) -> Option<&'static str> {
    let looked = session.readings().any(|(_, reading)| matches!(reading.seen, Seen::Lamp(..)));
    match (surprised, looked) {
        (true, _) => None,
        (false, true) => Some("So far every lamp was as expected."),
        (false, false) => Some("No lamp was read yet."),
    }
}

fn one(work: &Work, number: usize, suspect: &Suspect) -> Markup {
    let study = work.subject.study;
    let names = suspect.names(study);
    let more = names.len().saturating_sub(NAMED);
    html! {
        li {
            p class="share" {
                span class="place" { (number) } " " strong { (percent(suspect.probability)) }
                meter min="0" max="1" value=(suspect.probability) aria-label={ "Probability of suspect " (number) } {}
            }
            p class="names" {
                (names.iter().take(NAMED).map(String::as_str).collect::<Vec<_>>().join(", "))
                @if more > 0 { ", and " (more) " more that look the same" }
            }
            ul { @for look in suspect.looks(study).iter().take(4) { li { (look) } } }
        }
    }
}

fn pairs(work: &Work, opinion: &Opinion) -> Markup {
    let study = work.subject.study;
    let first = |group: GroupId| {
        let fault = study.groups[group].faults.first();
        fault.map_or_else(String::new, |fault| study.faults[*fault].name(work.subject.board()))
    };
    html! {
        @if let Some(pairs) = opinion.pairs.as_ref().filter(|pairs| !pairs.pairs.is_empty()) {
            h3 { "Two faults at once: " (percent(pairs.two_faults)) }
            ul {
                @for pair in pairs.pairs.iter().take(PAIRS) {
                    @if let Some([a, b]) = pair.groups.first() {
                        li { (percent(pair.probability)) " " (first(*a)) " with " (first(*b)) }
                    }
                }
            }
        }
    }
}

/// Where a fault is to be seen.
fn spots(board: &Board, fault: &Fault) -> Vec<Spot> {
    match *fault {
        Fault::JointOpen(pin) => vec![Spot::Pin(pin)],
        Fault::Bridge(a, b) => vec![Spot::Pin(a), Spot::Pin(b)],
        Fault::RailShort(net, _) => vec![Spot::Net(net)],
        _ => fault.parts(board).into_iter().map(Spot::Part).collect(),
    }
}

fn map(work: &Work, task: &Task, told: &[&Suspect]) -> Markup {
    let subject = work.subject;
    let board = subject.board();
    let mut marks: Vec<Mark> = Vec::new();
    let probe = |net: NetId, good: String| Mark {
        spot: Spot::Net(net),
        kind: Kind::Probe,
        label: format!("{} {good}", board.nets[net].name),
        title: format!("Hold the lead here: net {}, a good board {good}", board.nets[net].name),
    };
    let lead = |touch: &Touch, colour: &str| Mark {
        spot: touch.pins.first().map_or(Spot::Net(touch.net), |pin| Spot::Pin(*pin)),
        kind: Kind::Probe,
        label: format!("{} {colour}", board.nets[touch.net].name),
        title: format!(
            "Power off, meter on ohms: the {colour} lead here, net {}",
            board.nets[touch.net].name
        ),
    };
    match task {
        Task::Do(Deed::Volts { net, good, .. }) => {
            marks.push(probe(*net, good.map_or_else(String::new, |volts| volts.to_string())));
        }
        Task::Do(Deed::Ohms { red, black, .. }) => marks.extend([lead(red, "red"), lead(black, "black")]),
        _ => {}
    }
    for (at, suspect) in told.iter().enumerate() {
        for &(fault, _) in &suspect.faults {
            let fault = &subject.study.faults[fault];
            for spot in spots(board, fault) {
                if marks.len() < MARKED && !marks.iter().any(|mark| mark.spot == spot) {
                    let title = format!("Suspect {}: {}", at + 1, fault.name(board));
                    marks.push(Mark { spot, kind: Kind::Look, label: (at + 1).to_string(), title });
                }
            }
        }
    }
    let near = BoardMap::near(board, marks.clone()).draw();
    let whole = BoardMap::new(board, marks.clone()).draw();
    html! {
        @if let Some(whole) = whole {
            figure {
                (PreEscaped(whole.svg()))
                figcaption { "The whole board. A ring: look here, with the suspect's number. An arrow head: hold the lead here." }
            }
            @if let Some(near) = near.filter(|_| !marks.is_empty()) {
                figure { (PreEscaped(near.svg())) figcaption { "What lies around the marks." } }
            }
            h3 { "The marks in words" }
            ul class="marks" { @for mark in &marks { li { (mark.title) } } }
        } @else {
            p { "This board's text gives no part a place, so there is no map. Give each part `at x y` in millimetres." }
        }
    }
}

fn repair(page: &Page, work: &Work, told: &[&Suspect]) -> Markup {
    let practice = page.practice().is_some();
    if work.stand().over {
        return html! {};
    }
    let study = work.subject.study;
    let names: Vec<String> = told.iter().flat_map(|suspect| suspect.names(study)).take(40).collect();
    html! {
        section class="repair" aria-labelledby="h-repair" data-part="repair" {
            h2 id="h-repair" { @if practice { "Name the fault" } @else { "After a repair" } }
            p {
                @if practice { "Once you are sure enough, name it. The practice then ends and tells how well you did." }
                @else { "Power off first. Say what it was, and the steps go on at the first one that the repair can have changed." }
            }
            form method="post" action="/repair" {
                (keyed(work)) (hidden("back", "/step"))
                label { "What it was "
                    select name="fault" {
                        @for name in &names { option value=(name) { (name) } }
                        option value="" { @if practice { "I give up" } @else { "something else" } }
                    }
                }
                @if !practice { label { "What you did " input name="text" maxlength="2000" autocomplete="off"; } }
                button class="primary" { @if practice { "That is it" } @else { "Repaired" } }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryjoint_units::Volts;

    #[test]
    fn no_lamp_is_called_as_expected_that_nobody_looked_at() {
        let text = "board b \"b\"\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC\nR1 470 VCC n\nDS1 red a=n k=GND\n";
        let board = dryjoint_netlist::read_alone("b.board", text).board.unwrap();
        let mut session = Session::new("1");
        let net = board.nets.iter().find(|(_, net)| net.name == "n").unwrap().0;
        session.observe(&board, session.now(), Seen::Volts(net, Volts(1.8)));
        assert_eq!(so_far(&session, false), Some("No lamp was read yet."));
        let lamp = board.parts.iter().find(|(_, part)| part.reference == "DS1").unwrap().0;
        session.observe(&board, session.now(), Seen::Lamp(lamp, dryjoint_session::Sight::Lit));
        assert_eq!(so_far(&session, false), Some("So far every lamp was as expected."));
        assert_eq!(so_far(&session, true), None);
    }
}
