//! `find FILE --readings FILE`: from what was seen to the suspects and the best next step.

use crate::arguments::Find;
use crate::board_text::BoardText;
use crate::command::ask;
use crate::command::plan::planned;
use crate::command::priors;
use crate::exit::{Exit, Failure};
use crate::figures::{self, Compared};
use crate::missing::unreadable;
use crate::readings::{Gathered, Readings, gather, parse, resolve};
use crate::shape::{Notice as NoticeForm, Verdict as Document};
use crate::{next_text, print, render, verdict_text};
use dryjoint_board::Notice;
use dryjoint_logic::extract;
use dryjoint_netlist::severity;
use dryjoint_procedure::{Costs, Study};
use dryjoint_session::Seen;
use dryjoint_verdict::{End, Inquiry, Next};
use std::io::Write;

/// More than this for "none of these", and several faults at once are tried.
const NONE_FITS: f64 = 0.5;

/// Weighs the readings and prints.
pub fn run(text: &BoardText, asked: &Find, out: &mut impl Write) -> Result<Exit, Failure> {
    let refused = |problems: Vec<String>| {
        let place = asked.readings.as_deref().map_or("".into(), |place| format!("{}: ", place.display()));
        Failure::Input(problems.iter().map(|one| format!("{place}{one}")).collect::<Vec<_>>().join("\n"))
    };
    let mut readings = match &asked.readings {
        Some(place) => {
            let bytes = std::fs::read(place).map_err(|error| unreadable(place, &error))?;
            let written =
                String::from_utf8(bytes).map_err(|_| refused(vec!["this is no UTF-8 text".to_owned()]))?;
            parse(&written).map_err(refused)?
        }
        None => Readings::default(),
    };
    let (extracted, notices) = extract(text.board());
    text.refuse_errors(&notices)?;
    text.refuse_errors(&extracted.refuse_edges())?;
    let priors = priors::own(&asked.priors)?;
    let study = Study::new(&extracted, &priors);
    // Names are cheap to check; the procedure is not made for a file that will be refused.
    resolve(text.board(), &readings).map_err(refused)?;
    let procedure = planned(&study);
    let mut meter = !asked.no_meter;
    if asked.ask {
        (readings, meter) = ask::talk(text, &study, &procedure, &priors, (readings, meter), out)?;
    }
    let observed = resolve(text.board(), &readings).map_err(refused)?;
    let gathered = gather(&study, &procedure, &readings.readings, &observed).map_err(refused)?;
    let mut inquiry = Inquiry::new(&study, &priors);
    inquiry.meter = meter;
    let verdict = inquiry.weigh(&gathered.session);
    let next = inquiry.next(&procedure, &Costs::default(), &gathered.session, &verdict);
    let mut document = verdict_text::document(&study, &gathered.session, &gathered.odd, &verdict);
    let compared = figures::compare(&study, &gathered.session);
    document.figures.clone_from(&compared.odd);
    document.notices = gathered.notices.iter().map(|(place, notice)| form(place, notice)).collect();
    if verdict.none_of_these > NONE_FITS && !verdict.surprises.is_empty() {
        document.several = Some(verdict_text::several(&study, &inquiry.pairs(&gathered.session)));
    }
    match (&gathered.resume, &next) {
        (Some(resume), _) => document.resume = Some(next_text::resume(text.board(), resume)),
        (None, Ok(next)) => document.next = Some(next_text::document(&study, next)),
        (None, Err(end)) => document.end = Some(next_text::end(*end)),
    }
    if asked.form.json {
        print::json(out, &document)?;
    } else {
        told(text, &gathered, &document, &compared, out)?;
        what_next(&study, &gathered, &next, &document, out)?;
    }
    let as_expected = document.surprises.is_empty() && document.figures.is_empty();
    Ok(if as_expected && document.no_fault > 0.5 { Exit::Fine } else { Exit::Finding })
}

fn form(place: &str, notice: &Notice) -> NoticeForm {
    NoticeForm {
        place: place.to_owned(),
        severity: severity(notice.severity).to_owned(),
        code: notice.code.to_owned(),
        text: notice.text.clone(),
        mend: notice.mend.clone(),
    }
}

fn told(
    text: &BoardText,
    gathered: &Gathered,
    document: &Document,
    compared: &Compared,
    out: &mut impl Write,
) -> Result<(), Failure> {
    for NoticeForm { place, text, mend, .. } in &document.notices {
        let mend = if mend.is_empty() { String::new() } else { format!("; {mend}") };
        writeln!(out, "{place}: {text}{mend}")?;
    }
    let board = text.board();
    let readings = render::counted(document.readings, "reading");
    write!(out, "{}", render::heading(&format!("{}: {readings}", board.name)))?;
    if !document.surprises.is_empty() || !document.figures.is_empty() {
        write!(out, "{}", verdict_text::surprises(document))?;
    }
    if document.readings == 0 && gathered.resume.is_none() {
        writeln!(out, "Nothing was read: what follows holds for any unit.")?;
    } else if document.surprises.is_empty() {
        let looked = gathered.session.readings().any(|(_, reading)| matches!(reading.seen, Seen::Lamp(..)));
        let lamps = if looked { "Every lamp was as expected." } else { "No lamp was read." };
        writeln!(out, "{lamps}")?;
    }
    if compared.count > 0 && compared.odd.is_empty() {
        writeln!(out, "Every figure was as expected.")?;
    }
    write!(out, "{}{}", render::heading("Who could have done it"), verdict_text::suspects(document))?;
    if let Some(several) = &document.several {
        write!(out, "{}", verdict_text::told_several(several))?;
    }
    Ok(())
}

fn what_next(
    study: &Study,
    gathered: &Gathered,
    next: &Result<Next, End>,
    document: &Document,
    out: &mut impl Write,
) -> Result<(), Failure> {
    let board = study.extracted.shape.board;
    if let (Some(resume), Some(form)) = (&gathered.resume, &document.resume) {
        write!(out, "{}", next_text::resumed(board, resume, form))?;
    }
    if let (Ok(next), Some(form)) = (next, &document.next) {
        write!(out, "{}{}", next_text::heading("Next", form), next_text::deed(board, next))?;
        write!(out, "{}", next_text::outcomes(study, next))?;
    }
    if let Some(end) = &document.end {
        writeln!(out, "{}{}", render::heading("Next"), end.words)?;
    }
    Ok(())
}
