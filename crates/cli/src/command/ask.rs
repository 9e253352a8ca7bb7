//! `find FILE --ask`: the same as a conversation, a line at a time, in any terminal or through a pipe.
//!
//! The program says what the hands do, the person types what differs. Each answer is a reading as a file of
//! readings has it; what was answered before can be changed by its number, and everything follows.

use crate::action::{Action as Written, OnOff};
use crate::board_text::BoardText;
use crate::exit::Failure;
use crate::readings::{Between, Gathered, Reading, Readings, closed_up, gather, items, resolve};
use crate::{names, next_text, verdict_text};
use dryjoint_faults::Priors;
use dryjoint_ids::Id;
use dryjoint_procedure::{Action, Costs, Procedure, Study};
use dryjoint_session::Session;
use dryjoint_verdict::{Deed, End, Inquiry, Next};
use std::io::{BufRead, Write};

const HELP: &str = "\
Enter          every lamp is as it should be
DS3 dark       what differs; lamps not named are as they should be
only DS3 dark  nothing else was looked at
3.4V, 210mA    what the meter or the supply shows, where that was asked
22k, open      what the meter shows on ohms; `open` where it shows no reading
2: DS3 lit     answer 2 was wrong, this is right; `2:` alone takes it back
repaired Q17   what was mended or exchanged; the steps go on where that can show
no meter       no meter is at hand; `meter` once there is one
why            the suspects so far
end            the verdict";

/// What someone typed.
enum Said {
    End,
    Help,
    Why,
    /// Whether a meter is at hand.
    Meter(bool),
    Reading(Box<Reading>),
    /// In place of the answer of that number, counted from 0; nothing takes it back.
    Instead(usize, Option<Box<Reading>>),
}

/// Talks until there is nothing more to say; returns what was read.
pub fn talk(
    text: &BoardText,
    study: &Study,
    procedure: &Procedure,
    priors: &Priors,
    (mut readings, meter): (Readings, bool),
    out: &mut impl Write,
) -> Result<(Readings, bool), Failure> {
    let mut inquiry = Inquiry::new(study, priors);
    inquiry.meter = meter;
    let mut lines = std::io::stdin().lock().lines();
    writeln!(out, "Type `help` for what can be typed.")?;
    loop {
        let gathered = match resolve(text.board(), &readings)
            .and_then(|seen| gather(study, procedure, &readings.readings, &seen))
        {
            Ok(gathered) => gathered,
            Err(problems) => {
                writeln!(out, "{}", problems.join("\n"))?;
                readings.readings.pop();
                continue;
            }
        };
        let last = readings.readings.iter().enumerate().next_back().map(|(at, one)| one.place(at));
        for (_, notice) in gathered.notices.iter().filter(|(place, _)| Some(place) == last.as_ref()) {
            writeln!(out, "{}; {}", notice.text, notice.mend)?;
        }
        let verdict = inquiry.weigh(&gathered.session);
        let document = verdict_text::document(study, &gathered.session, &gathered.odd, &verdict);
        if !document.surprises.is_empty() {
            write!(out, "{}", verdict_text::brief(study, &verdict))?;
            // What to do next takes several times as long to work out.
            out.flush()?;
        }
        let next = inquiry.next(procedure, &Costs::default(), &gathered.session, &verdict);
        ask(text, study, &gathered, &next, readings.readings.len() + 1, out)?;
        out.flush()?;
        if let Ok(next) = &next {
            inquiry.play_early(&next.done(&gathered.session));
        }
        loop {
            write!(out, "> ")?;
            out.flush()?;
            let Some(line) = lines.next() else { return Ok((readings, inquiry.meter)) };
            match said(study, &gathered.session, next.as_ref().ok(), &readings, &closed_up(&line?)) {
                Ok(Said::End) => return Ok((readings, inquiry.meter)),
                Ok(Said::Help) => writeln!(out, "{HELP}")?,
                Ok(Said::Why) => write!(out, "{}", verdict_text::suspects(&document))?,
                Ok(Said::Meter(meter)) => {
                    inquiry.meter = meter;
                    break;
                }
                Ok(Said::Reading(reading)) => {
                    readings.readings.push(*reading);
                    break;
                }
                Ok(Said::Instead(at, Some(reading))) => {
                    readings.readings[at] = *reading;
                    break;
                }
                Ok(Said::Instead(at, None)) => {
                    readings.readings[at] = taken_back(&readings.readings[at]);
                    break;
                }
                Err(problem) => writeln!(out, "{problem}")?,
            }
        }
    }
}

/// What the hands do now, and what a good board shows.
fn ask(
    text: &BoardText,
    study: &Study,
    gathered: &Gathered,
    next: &Result<Next, End>,
    number: usize,
    out: &mut impl Write,
) -> Result<(), Failure> {
    if let Some(resume) = &gathered.resume {
        let form = next_text::resume(text.board(), resume);
        write!(out, "{}", next_text::resumed(text.board(), resume, &form))?;
    }
    let next = match next {
        Ok(next) => next,
        Err(end) => {
            let say = if *end == End::Done { "Say `end`." } else { "Then say `repaired …`, or `end`." };
            writeln!(out, "{} {say}", end.words())?;
            return Ok(());
        }
    };
    let form = next_text::document(study, next);
    write!(out, "{}", next_text::heading(&number.to_string(), &form))?;
    write!(out, "{}", next_text::deed(text.board(), next))?;
    if !gathered.odd.is_empty() {
        write!(out, "{}", next_text::outcomes(study, next))?;
    }
    Ok(())
}

fn said(
    study: &Study,
    session: &Session,
    next: Option<&Next>,
    readings: &Readings,
    line: &str,
) -> Result<Said, String> {
    match line {
        "end" | "quit" => return Ok(Said::End),
        "help" | "?" => return Ok(Said::Help),
        "no meter" => return Ok(Said::Meter(false)),
        "meter" => return Ok(Said::Meter(true)),
        "why" => return Ok(Said::Why),
        _ => {}
    }
    if let Some(parts) = line.strip_prefix("repaired ") {
        let repaired = parts.split([' ', ',']).filter(|part| !part.is_empty()).map(str::to_owned).collect();
        return Ok(Said::Reading(Box::new(Reading { repaired, ..Reading::default() })));
    }
    if let Some((number, seen)) = line.split_once(':')
        && let Ok(number) = number.trim().parse::<usize>()
    {
        let at = number.checked_sub(1).filter(|at| *at < readings.readings.len());
        let at = at.ok_or_else(|| format!("there is no answer {number}"))?;
        let before = &readings.readings[at];
        if seen.trim().is_empty() {
            return Ok(Said::Instead(at, None));
        }
        let (step, actions) = (before.step, before.actions.clone());
        let reading = Reading { step, actions, ..instead(before, seen.trim())? };
        return Ok(Said::Instead(at, Some(Box::new(reading))));
    }
    let Some(next) = next else {
        return Err("nothing was asked; type `repaired …`, `why` or `end`".to_owned());
    };
    Ok(Said::Reading(Box::new(answer(study, session, next, line)?)))
}

/// The reading that answers what was asked.
fn answer(study: &Study, session: &Session, next: &Next, line: &str) -> Result<Reading, String> {
    let board = study.extracted.shape.board;
    let figure = !line.is_empty() && !line.contains(' ');
    let written =
        |actions: &[Action]| actions.iter().flat_map(|action| names::written(board, *action)).collect();
    Ok(match &next.deed {
        Deed::Look { step, actions, .. } => {
            let following = session.done().map_or(0, |done| done.index() + 1);
            let in_order = step.filter(|step| step.index() == following);
            let own = in_order
                .is_some_and(|_| session.looks().iter().all(|(_, look)| look.step.is_some() || look.power));
            let (step, actions) = match in_order {
                Some(step) if own => (Some(step.index() + 1), None),
                _ => (None, Some(written(actions))),
            };
            Reading { step, actions, ..lamps(line)? }
        }
        Deed::Volts { actions, net, .. } if figure => {
            let unit = if line.ends_with('V') { "" } else { "V" };
            Reading {
                actions: Some(written(actions)),
                ..items(&format!("{} {line}{unit}", board.nets[*net].name))?
            }
        }
        Deed::Supply { .. } if figure => {
            Reading { actions: Some(Vec::new()), ..items(&format!("supply {line}"))? }
        }
        Deed::Ohms { red, black, .. } if figure || line == "no reading" => {
            let value = if figure { line } else { "open" };
            let names = [red, black].map(|touch| board.nets[touch.net].name.as_str());
            Reading {
                actions: Some(power_off()),
                ..items(&format!("ohms {} {} {value}", names[0], names[1]))?
            }
        }
        Deed::Ohms { .. } if line.is_empty() => {
            return Err(
                "type what the meter shows, such as 22k, or `open` where it shows no reading".to_owned()
            );
        }
        Deed::Volts { .. } | Deed::Supply { .. } if line.is_empty() => {
            return Err("type what the meter shows, such as 3.4V or 210mA".to_owned());
        }
        Deed::Volts { actions, .. } => Reading { actions: Some(written(actions)), ..items(line)? },
        Deed::Supply { .. } => Reading { actions: Some(Vec::new()), ..items(line)? },
        Deed::Ohms { .. } => Reading { actions: Some(power_off()), ..items(line)? },
    })
}

fn power_off() -> Vec<Written> {
    vec![Written::Power { to: OnOff::Off }]
}

/// What takes the place of an answer: lamps where those were looked at, else what was measured.
fn instead(before: &Reading, line: &str) -> Result<Reading, String> {
    let figure = !line.contains(' ');
    if let ([Between { nets: [a, b], .. }], true) = (&before.ohms[..], figure) {
        return items(&format!("ohms {a} {b} {line}"));
    }
    if before.supply_amps.is_some() && figure {
        return items(&format!("supply {line}"));
    }
    if let (Some(net), true) = (before.volts.keys().next(), figure) {
        return items(&format!("{net} {line}"));
    }
    let looked = before.rest_as_expected || !before.lamps.is_empty() || !before.groups.is_empty();
    if looked { lamps(line) } else { items(line) }
}

/// What was seen at a look: lamps that are not named are as expected, but for `only`.
fn lamps(line: &str) -> Result<Reading, String> {
    if line.is_empty() || line == "ok" {
        return Ok(Reading { rest_as_expected: true, ..Reading::default() });
    }
    match line.strip_prefix("only ") {
        Some(line) => items(line),
        None => Ok(Reading { rest_as_expected: true, ..items(line)? }),
    }
}

/// The same look with nothing read.
fn taken_back(reading: &Reading) -> Reading {
    Reading { step: reading.step, actions: reading.actions.clone(), ..Reading::default() }
}
