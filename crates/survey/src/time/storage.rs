//! The longest path between storage elements: from a pair of stages that keeps what was put into it,
//! through stages that keep nothing, to the next pair.
//!
//! Every way through the stages counts, whether or not some state of the board ever takes it: the figure
//! is an upper bound, and needs no state. A loop of stages that is no pair is cut where it closes.

use super::paths::{Hop, Path};
use super::timed::Timed;
use dryjoint_ids::{Id, Side};
use dryjoint_logic::{Extracted, Function, SignalId, StageId};
use dryjoint_units::Seconds;

/// A signal that changes in a direction.
type Change = (SignalId, bool);

/// One stage's part in a path.
#[derive(Clone, Copy)]
struct Link {
    to: Change,
    stage: StageId,
    delay: f64,
}

/// The longest path; nothing where no pair keeps anything.
pub(crate) fn between(extracted: &Extracted, timed: &Timed) -> Option<Path> {
    let logic = &extracted.logic;
    let mut links: Vec<Vec<Link>> = vec![Vec::new(); 2 * logic.signals.len()];
    for (id, stage) in logic.stages.iter().filter(|(_, stage)| timed.matters[stage.output]) {
        for (input, &signal) in stage.inputs.iter().enumerate() {
            for (up, out) in [(false, false), (false, true), (true, false), (true, true)] {
                if turns(extracted, id, input, up == out) {
                    let delay = timed.delay(id, input, out);
                    links[index((signal, up))].push(Link { to: (stage.output, out), stage: id, delay });
                }
            }
        }
    }
    let longest = longest(&timed.keeps, &links);
    let starts = logic.signals.ids().filter(|&signal| timed.keeps[signal]);
    let starts = starts.flat_map(|signal| [(signal, false), (signal, true)]);
    let takes = |change: Change| longest[index(change)].map_or(0.0, |(takes, _)| takes);
    let start = starts.reduce(|a, b| if takes(b) > takes(a) { b } else { a })?;
    let mut hops = vec![hop(extracted, timed, start, None, 0.0)?];
    let (mut here, mut at) = (start, 0.0);
    while let Some((_, link)) = longest[index(here)] {
        at += link.delay;
        hops.push(hop(extracted, timed, link.to, Some(link.stage), at)?);
        here = link.to;
        if timed.keeps[here.0] || hops.len() > links.len() {
            break;
        }
    }
    (hops.len() > 1).then_some(Path { hops })
}

fn index((signal, high): Change) -> usize {
    2 * signal.index() + usize::from(high)
}

/// Whether an input of a stage, moved alone, ever takes the output the same way (or the other).
fn turns(extracted: &Extracted, stage: StageId, input: usize, same: bool) -> bool {
    let row = &extracted.logic.stages[stage];
    let Function::Found(rows) = &row.function else { return false };
    let Some(net) = extracted.logic.signals[row.output].net else { return false };
    let rest = extracted.levels[net].rest;
    let value = |row: usize| rows[row].resolve(rest).value();
    (0..rows.len()).filter(|row| row >> input & 1 == 0).any(|row| {
        match (value(row), value(row | 1 << input)) {
            (Some(low), Some(high)) => low != high && high == same,
            _ => false,
        }
    })
}

/// From every change the longest way to a keeping signal, with its first link.
fn longest(keeps: &Side<SignalId, bool>, links: &[Vec<Link>]) -> Vec<Option<(f64, Link)>> {
    let mut best: Vec<Option<(f64, Link)>> = vec![None; links.len()];
    // 0 not met, 1 on the way, 2 done
    let mut stage = vec![0u8; links.len()];
    for start in 0..links.len() {
        if stage[start] != 0 {
            continue;
        }
        let mut open: Vec<(usize, usize)> = vec![(start, 0)];
        stage[start] = 1;
        while let Some((here, next)) = open.last_mut() {
            let here = *here;
            let Some(link) = links[here].get(*next) else {
                stage[here] = 2;
                open.pop();
                continue;
            };
            let to = index(link.to);
            let leaf = keeps[link.to.0] || stage[to] == 1;
            if !leaf && stage[to] == 0 {
                stage[to] = 1;
                open.push((to, 0));
                continue;
            }
            *next += 1;
            let takes = link.delay + if leaf { 0.0 } else { best[to].map_or(0.0, |(takes, _)| takes) };
            if best[here].is_none_or(|(known, _)| takes > known) {
                best[here] = Some((takes, *link));
            }
        }
    }
    best
}

fn hop(
    extracted: &Extracted,
    timed: &Timed,
    (signal, rises): Change,
    stage: Option<StageId>,
    at: f64,
) -> Option<Hop> {
    let net = extracted.logic.signals[signal].net?;
    let by =
        stage.and_then(|stage| extracted.shape.output_transistors(extracted.cluster_of[stage]?, net).next());
    Some(Hop { net, by, rises, at: Seconds(at), keeps: timed.keeps[signal] })
}
