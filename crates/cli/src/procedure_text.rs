//! A procedure as a person reads it: what to set up, what to tie where, step by step what the hands
//! do and what the lamps must show.

use crate::command::plan::MISSED;
use crate::render;
use crate::shape::{NotShown, Plan, Proof, Surely};
use dryjoint_board::{Access, Board, PartKind, Supply};
use dryjoint_ids::Id;
use dryjoint_procedure::{Procedure, StepId, clocks_at_rest, in_words};
use dryjoint_survey::Draw;
use dryjoint_units::Amps;
use std::fmt::Write as _;

/// Everything. `all` names each fault that is not surely shown.
pub fn whole(board: &Board, procedure: &Procedure, plan: &Plan, draw: Option<Draw>, all: bool) -> String {
    let mut text = set_up(board, draw);
    let mut heading = "";
    for (id, step) in procedure.steps.iter() {
        if step.heading != heading || id.index() == 0 {
            heading = &step.heading;
            text.push_str(&render::heading(heading));
        }
        text.push_str(&step_lines(board, procedure, id, plan));
    }
    text.push_str("      switch the supply off, then take every jumper off\n");
    text.push_str(&coverage(plan, all));
    text
}

/// Before power: the supply, and where the lines are. The current limit is the one that `check` computes, where the
/// board has one rail and it could be computed.
pub fn set_up(board: &Board, draw: Option<Draw>) -> String {
    let mut text = render::heading(&format!("{}: {}", board.name, board.title));
    for net in board.nets.rows() {
        if let Some(Supply::Rail { volts, limit }) = net.supply {
            let limit = match draw {
                Some(draw) => {
                    let most = Amps((draw.worst.0 * 1e3).ceil() / 1e3);
                    format!("{} (computed: the board draws {most} at most)", draw.limit)
                }
                None => limit.to_string(),
            };
            let _ = writeln!(text, "Supply off. Set {volts} for {}, current limit {limit}.", net.name);
        }
    }
    text.push_str(
        "Look once more at every electrolytic, every flat face, every plug. Leave all lines open; \
         jumpers go on and off one at a time,\nand never from a line to the rail unless it says so.\n",
    );
    if let Some(clocks) = clocks_at_rest(board) {
        let _ = writeln!(text, "{clocks}");
    }
    text.push('\n');
    let rows = board.lines.rows().iter().map(|line| {
        let how = match line.access {
            Access::TieLow => "jumper to ground".to_owned(),
            Access::TieHigh => "jumper to the rail".to_owned(),
            Access::Contact(part) if board.parts[part].kind == PartKind::Button => "button".to_owned(),
            Access::Contact(_) => "switch".to_owned(),
        };
        vec![line.name.clone(), where_line_is(board, line), how, line.purpose.clone()]
    });
    text.push_str(&render::table(&["line", "at", "by", "for"], &[], rows));
    text
}

/// The connector pin or the switch of a line.
pub fn where_line_is(board: &Board, line: &dryjoint_board::Line) -> String {
    if let Access::Contact(part) = line.access {
        return board.parts[part].reference.clone();
    }
    let pins = board.nets[line.net].pins.iter().map(|pin| &board.pins[*pin]);
    let header = pins.into_iter().find(|pin| board.parts[pin.part].kind == PartKind::Header);
    header.map_or(String::new(), |pin| format!("{}.{}", board.parts[pin.part].reference, pin.name))
}

/// One step: its number, what to do, the lamps group by group.
pub fn step_lines(board: &Board, procedure: &Procedure, id: StepId, plan: &Plan) -> String {
    let step = &procedure.steps[id];
    let mut actions = in_words(board, &step.actions);
    if id.index() == 0 {
        actions.insert(0, "switch the supply on".to_owned());
    }
    if actions.is_empty() {
        actions.push("look".to_owned());
    }
    let number = format!("{:>4}", id.index() + 1);
    let mut text = String::new();
    for (index, action) in actions.iter().enumerate() {
        let _ = writeln!(text, "{}  {action}", if index == 0 { &number } else { "    " });
    }
    let _ = writeln!(text, "        {}", render::lamp_line(board, &plan.steps[id.index()].expect));
    text
}

/// Faults that a lamp can surely show: those shown, and those that no step happens to show. What hangs
/// on chance, or could not be computed, is not among them.
pub fn showable(plan: &Plan) -> usize {
    let missed = plan.undecided.iter().filter(|row| row.reason == MISSED).map(|row| row.faults.len());
    plan.faults.shown + missed.sum::<usize>()
}

/// What the procedure shows, what it cannot, and why.
fn coverage(plan: &Plan, all: bool) -> String {
    let faults = &plan.faults;
    let mut text = render::heading("What this shows");
    let minutes = plan.bench_seconds / 60.0;
    let before = plan
        .found_seconds
        .map_or(String::new(), |seconds| format!("; {:.1} before compaction", seconds / 60.0));
    let steps = render::counted(plan.steps.len(), "step");
    let _ = writeln!(text, "{steps}, about {minutes:.1} minutes at the bench{before}.");
    let _ = writeln!(
        text,
        "Of {} possible faults, {} surely show on a lamp{}.\n{} more may show, as luck has it; {} never can; {} could \
         not be computed.",
        faults.all,
        faults.shown,
        all_there_are(plan),
        faults.chance,
        faults.never,
        faults.all - faults.never - faults.chance - showable(plan)
    );
    text.push_str(&doubts(plan));
    text.push_str(&proofs(plan));
    text.push_str(&milestones(plan));
    if plan.cut_short {
        text.push_str("Cut short: this is the best list by then.\n");
    }
    let lists = [
        ("May show, as luck has it", &plan.chance),
        ("No lamp can show", &plan.never),
        ("Not shown by this procedure", &plan.undecided),
    ];
    let most = if all { usize::MAX } else { SEVERAL };
    let mut cut = false;
    for (title, list) in lists {
        cut |= not_shown(&mut text, title, list, most);
    }
    if cut {
        text.push_str(
            "\n`plan --all` names each. A resistor in doubt is measured with one end out of the board.\n",
        );
    }
    text
}

/// Whether more than are shown can surely be.
pub fn all_there_are(plan: &Plan) -> String {
    let missed = showable(plan) - plan.faults.shown;
    let open = plan.faults.of_chance.map_or(0, |of| of.nowhere_sure + of.not_settled);
    match (missed, open) {
        (0, 0) => ": all that surely can".to_owned(),
        (0, open) => format!(": all that surely can, but for {open} of which that is not proven"),
        (missed, _) => format!("; {missed} more may surely show, and no step does it"),
    }
}

/// What is known of ways that surely show what may show.
fn doubts(plan: &Plan) -> String {
    let Some(of) = plan.faults.of_chance.filter(|_| plan.faults.chance > 0) else { return String::new() };
    let told = [
        (of.luck_hides, "are proven never to show surely: luck can hide them whatever hands do"),
        (
            of.nowhere_sure,
            "make no lamp sure to differ in any state that hands can bring about; that luck can hide them is not proven",
        ),
        (of.not_settled, "are not settled: there are more states than were tried"),
    ];
    let told = told.into_iter().filter(|(count, _)| *count > 0);
    let told: Vec<String> = told.map(|(count, words)| format!("{count} {words}")).collect();
    format!("Of those that may show,\n  {}.\n", told.join(";\n  "))
}

/// On what "never" rests.
fn proofs(plan: &Plan) -> String {
    let count = |proof: Proof| {
        plan.never.iter().filter(|row| row.proof == Some(proof)).map(|row| row.faults.len()).sum::<usize>()
    };
    let words = [
        (Proof::Currents, "by currents added up again, row by row"),
        (Proof::Formula, "by a formula whose refutation was followed"),
        (Proof::States, "by every state within reach, gone through"),
        (Proof::Copper, "by what the copper joins"),
        (Proof::Time, "by the circuit followed in time once more, with other sums"),
    ];
    let told = words.into_iter().filter(|&(proof, _)| count(proof) > 0);
    let told: Vec<String> = told.map(|(proof, words)| format!("{} {words}", count(proof))).collect();
    if told.is_empty() {
        return String::new();
    }
    render::wrapped("Those that never can are proven and checked a second time: ", &told, 110)
}

/// How soon the probable faults have shown.
fn milestones(plan: &Plan) -> String {
    let words = plan.milestones.iter().map(|mark| {
        let minutes = mark.seconds / 60.0;
        format!("{:.0} % by step {} ({minutes:.1} minutes)", 100.0 * mark.share, mark.step)
    });
    let words: Vec<String> = words.collect();
    if words.is_empty() {
        String::new()
    } else {
        format!("Of the faults to be expected have shown: {}.\n", words.join(", "))
    }
}

/// Of a kind of faults with more places than this only the first are named.
const SEVERAL: usize = 12;

/// How many are named then.
const FIRST: usize = 4;

/// Faults that are not surely shown, by reason and kind; whether some go unnamed. Reasons that differ in a figure alone
/// stand under one heading.
fn not_shown(text: &mut String, title: &str, list: &[NotShown], most: usize) -> bool {
    let mut cut = false;
    let common = |row: &NotShown| (row.reason.split(": ").next().map(str::to_owned), row.surely);
    for rows in list.chunk_by(|a, b| common(a) == common(b)) {
        let count: usize = rows.iter().map(|row| row.faults.len()).sum();
        let alone = rows.len() == 1;
        let reason = if alone { Some(rows[0].reason.clone()) } else { common(&rows[0]).0 };
        let reason = reason.unwrap_or_default();
        text.push_str(&render::heading(&format!("{title}: {reason} ({count})")));
        if let Some(surely) = rows[0].surely {
            text.push_str(match surely {
                Surely::LuckHides => "Nothing surely shows these: luck can hide them.\n",
                Surely::NowhereSure => {
                    "In no state that hands can bring about is a lamp sure to differ; that luck can hide these is not proven.\n"
                }
                Surely::NotSettled => "Whether anything surely shows these is not settled.\n",
            });
        }
        for row in rows {
            if let Some((_, figure)) = row.reason.split_once(": ").filter(|_| !alone) {
                text.push_str(&render::wrapped(&format!("{figure}: "), &row.faults, 110));
                continue;
            }
            for (kind, mut places) in by_kind(&row.faults) {
                let count = places.len();
                if count > most {
                    cut = true;
                    places.truncate(FIRST);
                    places.push(format!("… {count} in all"));
                }
                text.push_str(&render::wrapped(&format!("{kind}: "), &places, 110));
            }
        }
    }
    cut
}

/// `R1.1 open`, `R2.1 open`, `R3 missing` as `open` with two places and `missing` with one, in the order
/// in which the kinds first occur.
fn by_kind(faults: &[String]) -> Vec<(String, Vec<String>)> {
    let mut kinds: Vec<(String, Vec<String>)> = Vec::new();
    for fault in faults {
        let (place, kind) = fault.split_once(' ').unwrap_or((fault, ""));
        // A wrong value is a kind of its own only by being wrong: the value stays with its part.
        let value = kind.starts_with(|c: char| c.is_ascii_digit());
        let (kind, place) = if value { ("wrong value", fault.as_str()) } else { (kind, place) };
        match kinds.iter_mut().find(|(known, _)| known == kind) {
            Some((_, places)) => places.push(place.to_owned()),
            None => kinds.push((kind.to_owned(), vec![place.to_owned()])),
        }
    }
    kinds
}

#[cfg(test)]
mod tests {
    use super::by_kind;

    #[test]
    fn faults_of_one_kind_stand_together() {
        let faults = ["R1.1 open", "R1 missing", "R1.2 open", "R1 47k"].map(str::to_owned);
        let kinds: Vec<(String, String)> =
            by_kind(&faults).into_iter().map(|(kind, places)| (kind, places.join(" "))).collect();
        let expected = [("open", "R1.1 R1.2"), ("missing", "R1"), ("wrong value", "R1 47k")];
        assert_eq!(kinds, expected.map(|(kind, places)| (kind.to_owned(), places.to_owned())));
    }
}
