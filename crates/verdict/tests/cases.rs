//! The literate cases under `cases/verdict`: what was read, and beside it what the verdict makes of it.
//!
//! `BLESS=1 cargo test -p dryjoint-verdict --test cases` writes the verdicts anew; a person then reads
//! the difference.
#![allow(missing_docs, clippy::print_stdout, reason = "software tests that may speak")]

#[path = "../../session/tests/bench/mod.rs"]
mod bench;

use bench::{action, procedure, root};
use dryjoint_board::{Board, Notice, PartId};
use dryjoint_faults::{FaultId, Priors};
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_procedure::{Costs, Study};
use dryjoint_session::{Misreads, ReadingId, Seen, Session, Sight};
use dryjoint_units::{Amps, Ohms, Volts};
use dryjoint_verdict::{Deed, End, Inquiry, Next, Outcome, Sign, Verdict};
use std::fmt::Write as _;

fn part(board: &Board, name: &str) -> PartId {
    board.parts.iter().find(|(_, part)| part.reference == name).map(|(id, _)| id).expect("a part")
}

fn net(board: &Board, name: &str) -> dryjoint_board::NetId {
    board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id).expect("a net")
}

fn sight(word: &str) -> Sight {
    match word {
        "lit" | "1" => Sight::Lit,
        "dark" | "0" => Sight::Dark,
        "dim" => Sight::Dim,
        "flickering" => Sight::Flickering,
        other => panic!("`{other}` is no look of a lamp"),
    }
}

/// `Q 1 QN 0`, `DS1 dim`: the lamps with their looks.
fn lamps(board: &Board, words: &[&str]) -> Vec<(PartId, Sight)> {
    words
        .chunks(2)
        .flat_map(|pair| match board.lamps.rows().iter().find(|group| group.name == pair[0]) {
            Some(group) => {
                let bits = pair[1].chars().map(|bit| sight(&bit.to_string()));
                group.lamps.iter().copied().zip(bits).collect()
            }
            None => vec![(part(board, pair[0]), sight(pair[1]))],
        })
        .collect()
}

/// Takes every line of readings; the notices they drew.
fn take(board: &Board, text: &str) -> (Session, Vec<Notice>) {
    let mut session = Session::new("case");
    let mut notices = Vec::new();
    for line in text.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        let number = |word: &str| word.parse::<f64>().expect("a number");
        let seen: Vec<Seen> = match words[..] {
            ["do", ..] => {
                let actions: Vec<_> = line[3..].split(';').map(|one| action(board, one.trim())).collect();
                session.act(None, &actions);
                continue;
            }
            ["see", ref rest @ ..] => {
                lamps(board, rest).into_iter().map(|(lamp, sight)| Seen::Lamp(lamp, sight)).collect()
            }
            ["volts", name, volts] => vec![Seen::Volts(net(board, name), Volts(number(volts)))],
            ["supply", amps] => vec![Seen::Supply(Amps(number(amps)))],
            ["ohms", a, b, ohms] => {
                session.switch_off();
                vec![Seen::Ohms(net(board, a), net(board, b), Ohms(number(ohms)))]
            }
            ["sound", name] => vec![Seen::Sound(part(board, name))],
            ["hot", name] => vec![Seen::Hot(part(board, name))],
            ["smelt"] => vec![Seen::Smelt],
            ["unsure", at] => {
                session.doubt(ReadingId::at(at.parse::<usize>().expect("a number") - 1), Misreads::UNSURE);
                continue;
            }
            ["correct", at, word] => {
                let id = ReadingId::at(at.parse::<usize>().expect("a number") - 1);
                let (_, before) = session.readings().find(|(known, _)| *known == id).expect("a reading");
                let Seen::Lamp(lamp, _) = before.seen else { panic!("only lamps are corrected here") };
                notices.extend(session.correct(board, id, Some(Seen::Lamp(lamp, sight(word)))));
                continue;
            }
            _ => panic!("`{line}` is no reading"),
        };
        for seen in seen {
            notices.extend(session.observe(board, session.now(), seen).1);
        }
    }
    (session, notices)
}

fn percent(chance: f64) -> String {
    format!("{:.1} %", chance * 100.0)
}

fn faults(study: &Study, faults: &[FaultId]) -> String {
    let board = study.extracted.shape.board;
    let names: Vec<String> = faults.iter().take(4).map(|&fault| study.faults[fault].name(board)).collect();
    let more = faults.len().saturating_sub(4);
    names.join(", ") + &if more > 0 { format!(" and {more} more") } else { String::new() }
}

fn outcome(study: &Study, outcome: &Outcome) -> String {
    let board = study.extracted.shape.board;
    let sign = match &outcome.sign {
        Sign::Lamps(lamps) => {
            let one = |(lamp, shown): &(PartId, _)| format!("{} {shown:?}", board.parts[*lamp].reference);
            lamps.iter().map(one).collect::<Vec<_>>().join(" ")
        }
        Sign::Volts(least, most) => format!("{:.2} to {:.2} V", least.0, most.0),
        Sign::Amps(least, most) => format!("{:.1} to {:.1} mA", least.0 * 1e3, most.0 * 1e3),
        Sign::Ohms(least, most) => format!("{least} to {most}"),
        Sign::Open => "no reading".to_owned(),
    };
    let mut who = faults(study, &outcome.faults);
    if outcome.good {
        who = format!("no fault {who}");
    }
    format!("{sign}: {} {}", percent(outcome.probability), who.trim_end())
}

fn deed(study: &Study, next: &Next) -> String {
    let board = study.extracted.shape.board;
    let what = match &next.deed {
        Deed::Look { actions, .. } => {
            let words = actions.iter().map(|action| action.words(board));
            let words: Vec<String> = words.chain(["look".to_owned()]).collect();
            words.join(", ")
        }
        Deed::Volts { actions, net, pins, .. } => {
            let first: String = actions.iter().map(|action| action.words(board) + ", ").collect();
            let pin = pins.first().map(|&pin| &board.pins[pin]);
            let at = pin
                .map_or(String::new(), |pin| format!(" at {}.{}", board.parts[pin.part].reference, pin.name));
            format!("{first}measure `{}`{at}", board.nets[*net].name)
        }
        Deed::Supply { .. } => "read the supply's current".to_owned(),
        Deed::Ohms { red, black, .. } => {
            format!("ohms from `{}` to `{}`", board.nets[red.net].name, board.nets[black.net].name)
        }
    };
    let power = match (&next.deed, next.off) {
        (Deed::Ohms { .. }, false) => "power off, ",
        (Deed::Ohms { .. }, true) | (_, false) => "",
        (_, true) => "power on, ",
    };
    let after = if next.after.0 > 0.0 { format!(" and {:.0} s back", next.after.0) } else { String::new() };
    format!("{power}{what} ({:.0} s{after}, {:.2} bits)", next.seconds.0, next.bits)
}

fn told(
    study: &Study,
    session: &Session,
    notices: &[Notice],
    verdict: &Verdict,
    next: Result<Next, End>,
) -> String {
    let mut out = String::new();
    for notice in notices {
        writeln!(out, "{}: {}; {}", notice.code, notice.text, notice.mend).unwrap();
    }
    writeln!(
        out,
        "{} readings; no fault {}, none of these {}",
        verdict.readings,
        percent(verdict.no_fault),
        percent(verdict.none_of_these)
    )
    .unwrap();
    for suspect in verdict.suspects.iter().take(4).filter(|suspect| suspect.probability >= 5e-4) {
        let members: Vec<FaultId> = suspect.faults.iter().map(|&(fault, _)| fault).collect();
        writeln!(out, "{} {}", percent(suspect.probability), faults(study, &members)).unwrap();
    }
    for doubt in &verdict.doubts {
        let number = session.readings().position(|(id, _)| id == doubt.reading).map_or(0, |at| at + 1);
        writeln!(out, "reading {number}: {} ({}); look again", doubt.why(), percent(doubt.wrong)).unwrap();
    }
    match next {
        Ok(next) => {
            writeln!(out, "next: {}", deed(study, &next)).unwrap();
            for one in next.outcomes.iter().take(4) {
                writeln!(out, "  {}", outcome(study, one)).unwrap();
            }
        }
        Err(end) => writeln!(out, "end: {}", end.word()).unwrap(),
    }
    out
}

/// The case file with its verdicts written anew.
fn anew(text: &str) -> String {
    let mut blocks = text.split("```board\n");
    let prose = blocks.next().unwrap();
    let (source, rest) = blocks.next().expect("a board").split_once("```\n").unwrap();
    let mut loader = |_: &str| Err("no such file".to_owned());
    let board = dryjoint_netlist::read("case.board", source, &mut loader).board.expect("a sound board");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let plan = procedure(&study, &[Vec::new()]);
    let mut out = format!("{prose}```board\n{source}```\n");
    let mut rest = rest;
    while let Some((before, after)) = rest.split_once("```readings\n") {
        let (readings, after) =
            after.split_once("```\n```verdict\n").expect("a verdict stands below readings");
        let (_, after) = after.split_once("```\n").unwrap();
        let (session, notices) = take(&board, readings);
        let mut inquiry = Inquiry::new(&study, &Priors::default());
        let verdict = inquiry.weigh(&session);
        let next = inquiry.next(&plan, &Costs::default(), &session, &verdict);
        let told = told(&study, &session, &notices, &verdict, next);
        write!(out, "{before}```readings\n{readings}```\n```verdict\n{told}```\n").unwrap();
        rest = after;
    }
    out + rest
}

#[test]
fn the_cases_bring_the_verdicts_beside_them() {
    let mut files: Vec<_> = std::fs::read_dir(root().join("cases/verdict"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "md"))
        .collect();
    files.sort();
    for path in files {
        let text = std::fs::read_to_string(&path).unwrap();
        let fresh = anew(&text);
        if std::env::var_os("BLESS").is_some() {
            std::fs::write(&path, &fresh).unwrap();
        } else {
            assert!(fresh == text, "{}:\n{fresh}", path.display());
        }
    }
}
