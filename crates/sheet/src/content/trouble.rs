//! A lamp is wrong: from the first step that differs to the parts to look at.
//!
//! Every group of faults is played through the procedure. What its first wrong step shows is its sign;
//! groups with the same step and the same wrong lamps share a row, since paper cannot tell them apart. A row
//! names the parts by the weight of their faults, and what to look at first.

use crate::{Block, Chapter, Column, Layout, Table};
use dryjoint_board::{Board, PartId};
use dryjoint_faults::lanes::Shown;
use dryjoint_faults::{Fault, FaultId, Priors};
use dryjoint_ids::Id;
use dryjoint_procedure::{Action, Coverage, Procedure, Replay, StepId, Study};
use std::collections::BTreeMap;

/// Parts named in a row.
const PARTS: usize = 8;
/// Wrong lamps named in a row.
const LAMPS: usize = 6;

/// A step and the lamps that are wrong after it, with what they show; no lamps where that hangs on how the
/// board woke up.
type Sign = (StepId, Vec<(PartId, bool)>);

pub fn chapter(study: &Study, procedure: &Procedure, priors: &Priors) -> Option<Chapter> {
    let signs = signs(study, procedure);
    if signs.is_empty() {
        return None;
    }
    let board = study.extracted.shape.board;
    let weight = |fault: &FaultId| priors.of(board, &study.faults[*fault]);
    let total: f64 = signs.values().flatten().map(weight).sum();
    let mut rows: Vec<(StepId, f64, Vec<String>)> = signs
        .iter()
        .map(|((step, wrong), faults)| {
            let share: f64 = faults.iter().map(weight).sum::<f64>() / total.max(f64::MIN_POSITIVE);
            let cells = vec![
                (step.index() + 1).to_string(),
                lamps(board, wrong),
                per_cent(share),
                suspects(study, faults, priors),
            ];
            (*step, share, cells)
        })
        .collect();
    rows.sort_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)));
    let columns = vec![
        Column::numbers("step"),
        Column::words("wrong lamps show"),
        Column::numbers("of all"),
        Column::words("look at, the most likely first"),
    ];
    let table = Table {
        title: "The first wrong step and what to look at".to_owned(),
        columns,
        rows: rows.into_iter().map(|(.., cells)| cells).collect(),
        abreast: 1,
    };
    let text = "Power off, then look. Find the first step at which a lamp differed, then the row whose lamps are \
                wrong in the same way; all others are as expected there. “Of all” says how many of all faults \
                that lamps can show come to light in this row, by how often each kind of fault is made. A reading \
                with a meter, or the program, narrows a long row down.";
    Some(Chapter {
        heading: super::TROUBLE.to_owned(),
        layout: Layout::NewPage,
        blocks: vec![Block::Text(text.to_owned()), Block::Table(table)],
    })
}

/// The faults of each sign.
fn signs(study: &Study, procedure: &Procedure) -> BTreeMap<Sign, Vec<FaultId>> {
    let groups = study.all_groups();
    let steps = procedure.steps.rows();
    let looks = steps.iter().map(|step| &step.actions[..] as &[Action]);
    let replay = Replay::of(study, &groups, looks, None);
    let expected: Vec<Vec<Option<bool>>> =
        steps.iter().map(|step| step.expect.iter().map(|&(_, lit)| lit).collect()).collect();
    let first = replay.first_shown(groups.len(), &expected);
    let mut signs: BTreeMap<Sign, Vec<FaultId>> = BTreeMap::new();
    for (index, (group, first)) in groups.iter().zip(first).enumerate() {
        let faults = &study.groups[*group].faults;
        let sign = match first {
            Some(look) => {
                let lamps = steps[look].expect.iter().enumerate().filter_map(|(at, &(lamp, lit))| {
                    match (lit?, replay.shown(look, index, at)) {
                        (false, Shown::One) => Some((lamp, true)),
                        (true, Shown::Zero) => Some((lamp, false)),
                        _ => None,
                    }
                });
                Some((StepId::at(look), lamps.collect()))
            }
            None => faults.iter().find_map(|fault| match procedure.coverage[*fault] {
                Coverage::Shown(step) => Some((step, Vec::new())),
                _ => None,
            }),
        };
        if let Some(sign) = sign {
            signs.entry(sign).or_default().extend(faults);
        }
    }
    signs
}

/// Wrong lamps with what they show.
fn lamps(board: &Board, wrong: &[(PartId, bool)]) -> String {
    if wrong.is_empty() {
        return "any other lamp: how the board woke up decides which".to_owned();
    }
    let name = |(lamp, _): &(PartId, bool)| board.parts[*lamp].reference.as_str();
    let told = |lit: bool, word: &str| {
        let lamps: Vec<&str> = wrong.iter().filter(|(_, shown)| *shown == lit).map(name).collect();
        let more = lamps.len().saturating_sub(LAMPS);
        match lamps.len() {
            0 => None,
            _ if more > 1 => Some(format!("{} and {more} more {word}", lamps[..LAMPS].join(" "))),
            _ => Some(format!("{} {word}", lamps.join(" "))),
        }
    };
    [told(false, "dark"), told(true, "lit")].into_iter().flatten().collect::<Vec<_>>().join("; ")
}

fn per_cent(share: f64) -> String {
    if share < 0.0095 { "< 1 %".to_owned() } else { format!("{:.0} %", 100.0 * share) }
}

/// The parts by weight, and what to look at on the first of them: the most likely of its own faults.
fn suspects(study: &Study, faults: &[FaultId], priors: &Priors) -> String {
    let board = study.extracted.shape.board;
    let weight = |fault: FaultId| priors.of(board, &study.faults[fault]);
    let mut parts: BTreeMap<PartId, f64> = BTreeMap::new();
    for &fault in faults {
        let at = places(study, fault);
        for part in &at {
            *parts.entry(*part).or_default() += weight(fault) / at.len() as f64;
        }
    }
    let mut parts: Vec<(PartId, f64)> = parts.into_iter().collect();
    parts.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let at_first =
        |fault: &FaultId| parts.first().is_none_or(|(part, _)| places(study, *fault).contains(part));
    let first = faults.iter().copied().filter(at_first);
    // Of equal ones the first in the list.
    let Some(first) = first.reduce(|best, other| if weight(other) > weight(best) { other } else { best })
    else {
        return String::new();
    };
    if faults.len() == 1 || parts.is_empty() {
        return told(study, first);
    }
    let named: Vec<&str> =
        parts.iter().take(PARTS).map(|(part, _)| board.parts[*part].reference.as_str()).collect();
    let more = parts.len().saturating_sub(PARTS);
    let more = if more > 0 { format!(" and {more} more parts") } else { String::new() };
    format!("{}{more}. First {}", named.join(" "), told(study, first))
}

/// The parts at which a fault is. A net that touches a rail may do so anywhere: it points at no part.
fn places(study: &Study, fault: FaultId) -> Vec<PartId> {
    match &study.faults[fault] {
        Fault::RailShort(..) => Vec::new(),
        fault => fault.parts(study.extracted.shape.board),
    }
}

/// A fault and what to look at, without the marks that set names apart on a screen.
fn told(study: &Study, fault: FaultId) -> String {
    let board = study.extracted.shape.board;
    let fault = &study.faults[fault];
    format!("{}: {}.", fault.name(board), fault.look(board)).replace('`', "")
}
