//! The step: what the hands do now, what the lamps must show, and what they do show.

use crate::lamp::{groups, must, picture, row};
use crate::page::Page;
use crate::practice::{Score, score};
use crate::screen::{hidden, keyed, percent};
use crate::subject::{Subject, counted};
use crate::task::Task;
use crate::weigh::Advice;
use crate::work::Work;
use dryjoint_board::{PartId, PinId};
use dryjoint_ids::Id;
use dryjoint_procedure::{Action, StepId, in_words};
use dryjoint_records::{Entry, Kind, Sort};
use dryjoint_session::Sight;
use dryjoint_units::Ohms;
use dryjoint_verdict::{Deed, End, Touch, Verdict, opened};
use maud::{Markup, html};
use std::sync::Arc;

/// Pins offered for a lead.
const PINS: usize = 3;
/// Outcomes whose meaning is told.
const MEANINGS: usize = 5;

/// The screen.
pub fn screen(page: &Arc<Page>, work: &Work, late: bool) -> Markup {
    let task = page.task(work);
    html! {
        @if late { p class="notice" role="alert" { "Not taken: something else was entered first, from another tab or twice. This is where the bench stands now." } }
        (likeliest(page, work, &task))
        div id="task" class=[matches!(task, Task::Weighing | Task::Advising).then_some("awaited")] data-part="task" { (asked(page, work, &task)) }
        (besides(page, work, &task))
    }
}

/// What a person waits for once the suspects are known.
pub const ADVISING: &str = "What to do next is still being worked out.";

/// Who is suspected most, where a lamp was wrong: known before it is known what to do next, and told in the same place
/// from then on, so that nothing moves when the advice comes.
fn likeliest(page: &Page, work: &Work, task: &Task) -> Markup {
    let opinion = page.opinion().filter(|opinion| opinion.basis == work.basis());
    let said = matches!(task, Task::Advising);
    html! {
        @if work.stand().surprised && !matches!(task, Task::Passed | Task::Over) {
            p id="likeliest" class="likeliest" data-part="likeliest" data-say[said] {
                @match opinion {
                    None => "The suspects are being weighed.",
                    Some(opinion) => (suspected(work, &opinion.verdict)),
                }
            }
        }
    }
}

fn suspected(work: &Work, verdict: &Verdict) -> Markup {
    let first = verdict.suspects.first();
    let share = first.map_or(0.0, |first| first.probability);
    html! {
        @if verdict.no_fault > share.max(verdict.none_of_these) {
            "Most likely: no fault at all, " strong { (percent(verdict.no_fault)) } "."
        } @else if verdict.none_of_these > share {
            "Most likely: none of the faults on the list, " strong { (percent(verdict.none_of_these)) } "."
        } @else if let Some(first) = first {
            @let names = first.names(work.subject.study);
            "Most suspect: " (names.first().map_or("", String::as_str))
            @if names.len() > 1 { ", or " (names.len() - 1) " more that look the same" }
            ", " strong { (percent(share)) } "."
        }
    }
}

/// What the hands do now.
fn asked(page: &Arc<Page>, work: &Work, task: &Task) -> Markup {
    let off = work.stand().session.is_off();
    html! {
        @match task {
            Task::Do(Deed::Look { step, actions, expect }) => {
                (look(page, work, *step, actions, expect))
                @if work.stand().surprised { (meanings(page, work)) }
            }
            Task::Do(Deed::Volts { actions, net, pins, good }) => {
                @let name = &work.subject.board().nets[*net].name;
                h1 { "Measure" }
                @if !actions.is_empty() || off {
                    ol class="do" {
                        @if off { (power_on()) }
                        @for done in in_words(work.subject.board(), actions) { li { (done) } }
                    }
                }
                p class="do" { "Meter on volts, black lead on ground. Hold the red lead on " strong { (pins_named(work.subject, pins)) } " (net " (name) ")." }
                (measured(page, work, (Sort::Volts, name, ""), !actions.is_empty(), good.map(|volts| volts.to_string())))
            }
            Task::Do(Deed::Supply { good }) => {
                h1 { "Read the supply" }
                @if off { ol class="do" { (power_on()) } }
                p class="do" { "Read the current that the supply shows." }
                (measured(page, work, (Sort::Supply, "", ""), false, good.map(|amps| amps.to_string())))
            }
            Task::Do(Deed::Ohms { red, black, good }) => (ohms(page, work, red, black, *good)),
            Task::Weighing => {
                h1 { "One moment" }
                p class="do" { "What you saw is stored. The suspects are being weighed; this page goes on by itself." }
            }
            Task::Advising => {
                h1 { "One moment" }
                p class="do" { "What you saw is stored. " span data-say="" { (ADVISING) } }
            }
            Task::Told(end) => (told(page, work, *end)),
            Task::Passed => {
                h1 { "This unit passes" }
                p class="do" { "Every step was as expected. Power off, take the jumpers off, and write the serial number on the board." }
            }
            Task::Over => (over(page, work)),
        }
    }
}

fn power_on() -> Markup {
    html! { li { "Switch the supply on, no jumper fitted. Watch its current." } }
}

/// What both leads do on the dead board.
fn ohms(page: &Page, work: &Work, red: &Touch, black: &Touch, good: Option<Ohms>) -> Markup {
    let subject = work.subject;
    let name = |touch: &Touch| subject.board().nets[touch.net].name.as_str();
    let good = good.map_or("no reading".to_owned(), |ohms| ohms.two_digits().to_string());
    html! {
        h1 { "Measure with power off" }
        ol class="do" {
            @if work.stand().session.is_off() {
                li { "Leave the supply off." }
            } @else {
                li { "Switch the supply off, take every jumper off, unplug whatever else is joined to the board." }
                @for words in opened(subject.board()) { li class="capital" { (words) "." } }
                li { "Wait until the meter on volts shows nothing between the rails: the capacitors are empty." }
            }
            li { "Meter on ohms, not on its lowest range. Red lead on " strong { (pins_named(subject, &red.pins)) } " (net " (name(red)) ")." }
            li { "Black lead on " strong { (pins_named(subject, &black.pins)) } " (net " (name(black)) ")." }
        }
        p class="hint" { "Another board that is still plugged in, or a jumper, is a second way round, and the meter reads too little." }
        (measured(page, work, (Sort::Ohms, name(red), name(black)), false, Some(good)))
    }
}

/// `J1.17 or Q316.c`.
fn pins_named(subject: Subject, pins: &[PinId]) -> String {
    pins.iter().take(PINS).map(|pin| subject.pin_name(*pin)).collect::<Vec<_>>().join(" or ")
}

/// The procedure's next step, though something else would tell more.
pub fn procedure(page: &Page, work: &Work) -> Option<Markup> {
    let step = work.next_step().filter(|_| !work.stand().over)?;
    let task = Task::step(work, step);
    let Task::Do(Deed::Look { step, actions, expect }) = &task else { return None };
    Some(html! {
        (look(page, work, *step, actions, expect))
        p { a class="button" href="/step" { "What tells most instead" } }
    })
}

fn look(
    page: &Page,
    work: &Work,
    step: Option<StepId>,
    actions: &[Action],
    expect: &[(PartId, Option<bool>)],
) -> Markup {
    let board = work.subject.board();
    let steps = &work.subject.procedure.steps;
    let first = step.is_some_and(|step| step.index() == 0);
    html! {
        h1 {
            @match step {
                Some(step) if work.next_step() == Some(step) => {
                    "Step " (step.index() + 1) " of " (steps.len())
                    span class="heading" { (steps[step].heading) }
                }
                _ => { "What tells most now" }
            }
        }
        @if let Some(step) = step {
            progress max=(steps.len()) value=(step.index()) aria-label="Steps made" {}
        }
        ol class="do" {
            @if first { li { "Switch the supply on. Watch its current." } }
            @else if work.stand().session.is_off() { (power_on()) }
            @for done in in_words(board, actions) { li { (done) } }
            @if actions.is_empty() && !first { li { "Leave everything as it is." } }
        }
        @if page.practice().is_some() { (virtual_lamps(page, work, actions)) }
        form method="post" action="/take" id="look" data-form="look" {
            (keyed(work))
            (hidden("step", &step.map_or(String::new(), |step| (step.index() + 1).to_string())))
            fieldset class="lamps-in" {
                legend { "Now look at the lamps" }
                p class="hint" { "Mark a lamp only if it differs: tap it, or go to it with the arrows and press " kbd { "1" } " lit, " kbd { "0" } " dark, " kbd { "2" } " dim, " kbd { "3" } " flickering, " kbd { "9" } " not looked at." }
                @let ids: Vec<PartId> = expect.iter().map(|(lamp, _)| *lamp).collect();
                @for (name, members) in groups(board, &ids) {
                    div class="group" role="group" aria-label=(if name.is_empty() { "lamps of no group" } else { &name }) {
                        @if !name.is_empty() { span class="group-name" aria-hidden="true" { (name) } }
                        span class="lamps" {
                            @for lamp in members {
                                @let good = expect.iter().find(|(id, _)| *id == lamp).and_then(|(_, good)| *good);
                                (lamp_button(&board.parts[lamp].reference, good))
                            }
                        }
                    }
                }
                p class="legend" aria-hidden="true" {
                    span { (picture("lit")) "lit" } span { (picture("dark")) "dark" } span { (picture("dim")) "dim" }
                    span { (picture("flickering")) "flickers" } span { (picture("either")) "either will do" }
                }
            }
            p class="actions" {
                button class="primary" id="take" data-key=" " aria-keyshortcuts="Space" {
                    span id="take-text" { "As expected" } " " kbd aria-hidden="true" { "space" }
                }
            }
        }
        (free_run(work, actions))
    }
}

fn lamp_button(reference: &str, good: Option<bool>) -> Markup {
    let must = must(good);
    html! {
        button type="button" class="lamp-in" data-lamp=(reference) data-must=(must)
            aria-label={ (reference) ": must be " (must) ", not marked" } {
            span class="reference" aria-hidden="true" { (reference) }
            span class="must" aria-hidden="true" { (picture(must)) }
            span class="seen" aria-hidden="true" { (picture("")) }
            span class="word" aria-hidden="true" { (must) }
            input type="hidden" name={ "lamp." (reference) } value="";
        }
    }
}

/// What the virtual unit's lamps show now.
fn virtual_lamps(page: &Page, work: &Work, actions: &[Action]) -> Markup {
    let Some(mut practice) = page.practice() else { return html! {} };
    let lamps = work.subject.study.rig.lamps.iter().map(|(lamp, _)| *lamp);
    let shown = practice.after(work.stand(), actions).map(|unit| {
        lamps.filter_map(|lamp| Some((lamp, unit.lamp(lamp)?))).collect::<Vec<(PartId, Sight)>>()
    });
    html! {
        section class="bench" aria-labelledby="h-bench" {
            h2 id="h-bench" { "On the virtual bench, after that" }
            @match shown {
                Ok(shown) => (row(work.subject.board(), &shown, "Lamps of the virtual unit")),
                Err(failure) => p { "The virtual unit comes to no rest: " (failure) }
            }
        }
    }
}

/// Lamps that move by themselves when the clock runs, at its rate.
fn free_run(work: &Work, actions: &[Action]) -> Markup {
    let waves = work.subject.free_run(&work.stand().session, actions);
    let moving: Vec<_> =
        waves.iter().filter(|(_, wave)| wave.iter().any(|level| *level != wave[0])).collect();
    let rates = work.subject.board().clocks.rows().iter().flat_map(|clock| &clock.rates);
    let board = work.subject.board();
    let letter = |level: &Option<bool>| match level {
        Some(true) => '1',
        Some(false) => '0',
        None => '?',
    };
    html! {
        @if !moving.is_empty() {
            details class="free-run" {
                summary { "If the clock runs on from here" }
                p { "These lamps move by themselves. Compare by eye at the rate that the switch selects." }
                p class="rates" role="group" aria-label="Rate of the clock" {
                    @for rate in rates {
                        button type="button" data-hertz=(rate.rate.0) aria-pressed="false" {
                            (rate.position) " " (rate.rate)
                            @if rate.rate.0 > FASTEST { " (too fast for the eye)" }
                        }
                    }
                    button type="button" data-hertz="0" aria-pressed="true" { "stand still" }
                }
                div class="row" {
                    @for (lamp, wave) in moving {
                        @let wave: String = wave.iter().map(letter).collect();
                        span class="one" data-wave=(wave) {
                            (picture(if wave.starts_with('1') { "lit" } else { "dark" }))
                            span class="reference" { (board.parts[*lamp].reference) }
                            span class="word" { (beat(&wave)) }
                        }
                    }
                }
            }
        }
    }
}

/// Faster than this the eye sees a steady light.
const FASTEST: f64 = 15.0;

/// How often a lamp lights within a round, in words.
fn beat(wave: &str) -> String {
    let bytes = wave.as_bytes();
    let rises = (0..bytes.len())
        .filter(|&at| bytes[at] == b'1' && bytes[(at + bytes.len() - 1) % bytes.len()] != b'1');
    let (rises, clocks) = (rises.count(), bytes.len() / 2);
    if clocks == 1 { "every clock".to_owned() } else { format!("{rises} in {clocks} clocks") }
}

/// What each figure, or each look of the lamps, would mean, where the latest opinion asked for it.
fn meanings(page: &Page, work: &Work) -> Markup {
    let opinion = page.opinion().filter(|opinion| opinion.basis == work.basis());
    let study = work.subject.study;
    let advice = opinion.as_ref().map(|opinion| &opinion.advice);
    html! {
        @if let Some(Advice::Found(Ok(next))) = advice {
            @let read = if matches!(next.deed, Deed::Look { .. }) { "You see" } else { "You read" };
            div class="scroll" tabindex="0" role="region" aria-label="What each reading would mean" {
                table class="means" {
                    thead { tr { th scope="col" { (read) } th scope="col" { "then it is" } th scope="col" class="figure" { "chance" } } }
                    tbody {
                        @for outcome in next.outcomes.iter().take(MEANINGS).filter(|one| one.probability >= 5e-3) {
                            tr {
                                th scope="row" { (outcome.sign.words(work.subject.board())) }
                                td { (outcome.whose(study)) }
                                td class="figure" { (percent(outcome.probability)) }
                            }
                        }
                    }
                }
            }
            @if let Some(why) = next.foreseen() { p class="capital" { (why) "." } }
        }
    }
}

/// The form for one figure; `prepared` where something has to be done first.
fn measured(
    page: &Page,
    work: &Work,
    (sort, what, other): (Sort, &str, &str),
    prepared: bool,
    good: Option<String>,
) -> Markup {
    html! {
        @if let Some(good) = good { p class="good" { "A good board: " strong { (good) } } }
        form method="post" action="/measure" data-form="measure" class="measure" {
            (keyed(work)) (hidden("sort", sort.word())) (hidden("what", what)) (hidden("other", other)) (hidden("back", "/step"))
            @if prepared { (hidden("prepared", "yes")) }
            @if page.practice().is_some() {
                button class="primary" data-key=" " aria-keyshortcuts="Space" { "Hold it there " kbd aria-hidden="true" { "space" } }
            } @else {
                label { "You read "
                    input name="value" id="value" required maxlength="20" autocomplete="off" placeholder=(example(sort));
                }
                button class="primary" { "Take " kbd aria-hidden="true" { "enter" } }
                @if sort == Sort::Ohms {
                    button id="open" name="open" value="yes" formnovalidate { "No reading: the meter shows an open circuit" }
                }
            }
        }
        (meanings(page, work))
    }
}

fn example(sort: Sort) -> &'static str {
    match sort {
        Sort::Supply => "210mA",
        Sort::Ohms => "4k7",
        Sort::Volts | Sort::Lamp | Sort::Hot | Sort::Smelt | Sort::Sound => "3.42V",
    }
}

fn told(page: &Page, work: &Work, end: End) -> Markup {
    let verdict = page.opinion().map(|opinion| opinion.verdict.clone()).unwrap_or_default();
    let first = verdict.suspects.first();
    html! {
        h1 { "The verdict" }
        @if let Some(first) = first {
            p class="do" { (first.looks(work.subject.study).first().cloned().unwrap_or_default()) }
            p { strong { (percent(first.probability)) } " for " (first.names(work.subject.study).join(", ")) "." }
        }
        p { (end.words()) " Power off and take the jumpers off before you mend." }
        p { a class="button primary" href="/suspects" { "To the suspects and the map" } }
    }
}

fn over(page: &Arc<Page>, work: &Work) -> Markup {
    let Some((hidden, number)) = page.practice().map(|practice| practice.hidden()).zip(work.practice) else {
        return html! {};
    };
    let subject = work.subject;
    let board = subject.board();
    let fault = &subject.study.faults[hidden];
    let yours = score(subject, work.stand(), hidden);
    html! {
        h1 { "What was hidden" }
        p class="do" { (fault.name(board)) }
        p { (fault.look(board)) "." }
        p class="do" {
            @match yours.left {
                Some((_, true)) => { "You found it." }
                Some((_, false)) => { "You named something else." }
                None => { "It was not found: every step was taken as expected." }
            }
        }
        div class="scroll" tabindex="0" role="region" aria-label="Score" {
            table {
                thead { tr { th scope="col" { "Way" } th scope="col" { "at the bench" } th scope="col" class="figure" { "time" } } }
                tbody {
                    tr { th scope="row" { "Yours" } td { (deeds(&yours)) } td class="figure" { (minutes(yours.seconds)) } }
                    tr { th scope="row" { "Best possible" }
                        @match page.best(work) {
                            Some(best) => { td { (deeds(best)) } td class="figure" { (minutes(best.seconds)) } }
                            None => { td { "being worked out" } td {} }
                        }
                    }
                }
            }
        }
        p { "Time counts by the table of costs: a touch two seconds, a jumper four, a lead on a pin eight." }
        p { "For another fault: " code { "dryjoint bench BOARD --practice " (number + 1) } }
    }
}

fn deeds(score: &Score) -> String {
    counted(&[(score.looks, "look", "looks"), (score.measurements, "measurement", "measurements")])
}

fn minutes(seconds: f64) -> String {
    let seconds = seconds.round() as u64;
    format!("{}:{:02} min", seconds / 60, seconds % 60)
}

/// What can be done besides: undo, a note, another measurement, the procedure, from the start.
fn besides(page: &Page, work: &Work, task: &Task) -> Markup {
    let over = matches!(task, Task::Over);
    html! {
        section class="besides" aria-labelledby="h-besides" data-part="besides" {
            h2 id="h-besides" { "Besides" }
            div class="buttons" {
                @if let Some(last) = work.last().filter(|_| !over) {
                    form method="post" action="/undo" {
                        (keyed(work))
                        button data-key="u" aria-keyshortcuts="u" { "Take back: " (summary(last)) " " kbd aria-hidden="true" { "u" } }
                    }
                }
                @if work.stand().surprised && !over {
                    @if let Some(step) = work.next_step() {
                        a class="button" href="/step/procedure" data-key="c" aria-keyshortcuts="c" { "Go on with step " (step.index() + 1) " instead " kbd aria-hidden="true" { "c" } }
                    }
                }
                @if !over {
                    form method="post" action="/afresh" { (keyed(work)) button { "Jumpers off, power off and on: from the start" } }
                }
            }
            @if !over { (meter(work, task)) (free_measure(page, work)) }
            @if !over && page.practice().is_none() { (noticed(work)) }
            form method="post" action="/note" class="note" {
                (keyed(work)) (hidden("back", "/step"))
                label for="note" { "Note " kbd aria-hidden="true" { "n" } }
                input id="note" name="text" data-key="n" aria-keyshortcuts="n" maxlength="2000" required autocomplete="off";
                button { "Keep" }
            }
        }
    }
}

/// Whether a meter is at hand: without one the advice is by lamps alone.
fn meter(work: &Work, task: &Task) -> Markup {
    let measuring = matches!(task, Task::Do(Deed::Volts { .. } | Deed::Supply { .. } | Deed::Ohms { .. }));
    html! {
        @if !work.meter || measuring || work.stand().surprised {
            form method="post" action="/meter" {
                (keyed(work)) (hidden("meter", if work.meter { "" } else { "yes" }))
                @if work.meter {
                    button { "No meter at hand: by lamps alone" }
                } @else {
                    p class="hint" { "Advice is by lamps alone, as no meter is at hand." }
                    button { "A meter is at hand" }
                }
            }
        }
    }
}

fn free_measure(page: &Page, work: &Work) -> Markup {
    let board = work.subject.board();
    html! {
        details class="free" {
            summary { "Measure somewhere else" }
            form method="post" action="/measure" class="measure" {
                (keyed(work)) (hidden("back", "/step"))
                label { "What "
                    select name="sort" {
                        option value="volts" { "volts to ground" }
                        option value="supply" { "supply current" }
                        option value="ohms" { "ohms, power off, jumpers off" }
                    }
                }
                label { "Net " input name="what" list="nets" maxlength="60" autocomplete="off"; }
                label { "For ohms, black lead on " input name="other" list="nets" maxlength="60" autocomplete="off"; }
                datalist id="nets" { @for net in board.nets.rows() { @if net.reachable { option value=(net.name) {} } } }
                @if page.practice().is_none() {
                    label { "You read " input name="value" required maxlength="20" autocomplete="off" placeholder="3.42V"; }
                    p class="hint" { "Where the meter on ohms shows no reading, write open." }
                }
                button { "Take" }
            }
        }
    }
}

/// What a finger or a nose finds.
fn noticed(work: &Work) -> Markup {
    let board = work.subject.board();
    html! {
        details class="free" id="noticed" {
            summary { "Something smelt, or a part got hot or was looked at closely" }
            p class="caution" { "Supply off first. A part can burn a finger: come near slowly." }
            form method="post" action="/noticed" class="measure" {
                (keyed(work)) (hidden("back", "/step"))
                label { "Part " input name="what" list="parts" maxlength="60" required autocomplete="off" placeholder="Q7"; }
                datalist id="parts" { @for part in board.parts.rows() { option value=(part.reference) {} } }
                button name="sort" value="hot" { "It got hot" }
                button name="sort" value="sound" { "Looked at closely: it is as it should be" }
                button name="sort" value="smelt" formnovalidate { "It smelt of something burning" }
            }
        }
    }
}

/// An entry in a few words.
pub fn summary(entry: &Entry) -> String {
    let odd: Vec<String> = entry
        .readings
        .iter()
        .filter(|read| read.is_odd())
        .map(|read| format!("{} {}", read.what, read.sight))
        .collect();
    match entry.kind {
        Kind::Look => {
            let what = entry.step.map_or("a look".to_owned(), |step| format!("step {step}"));
            if odd.is_empty() { format!("{what} as expected") } else { format!("{what}: {}", odd.join(", ")) }
        }
        Kind::Measure => {
            let figures = entry.readings.iter().map(|read| {
                let value = read.value.unwrap_or_default();
                match read.sort {
                    Sort::Ohms if read.value.is_none() => {
                        format!("{} to {} no reading", read.what, read.other)
                    }
                    Sort::Smelt => "it smelt of something burning".to_owned(),
                    Sort::Volts => format!("{} {}", read.what, dryjoint_units::Volts(value)),
                    Sort::Supply => format!("supply {}", dryjoint_units::Amps(value)),
                    Sort::Ohms => format!("{} to {} {}", read.what, read.other, dryjoint_units::Ohms(value)),
                    Sort::Lamp | Sort::Hot | Sort::Sound => format!("{} {}", read.what, read.sort.word()),
                }
            });
            figures.collect::<Vec<_>>().join(", ")
        }
        Kind::Afresh => "power off and on, every jumper off".to_owned(),
        Kind::Note => format!("note “{}”", entry.text),
        Kind::Repair => {
            let fault = if entry.fault.is_empty() { "not on the list" } else { &entry.fault };
            let text = if entry.text.is_empty() { String::new() } else { format!(": {}", entry.text) };
            format!("repair of {fault}{text}")
        }
        Kind::Passed => "every step of the procedure as expected".to_owned(),
        Kind::Undo => "taken back".to_owned(),
        Kind::Correction => "correction".to_owned(),
        Kind::Verdict => format!("verdict: {}", entry.fault),
    }
}
