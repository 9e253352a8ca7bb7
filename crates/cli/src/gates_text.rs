//! The plan of a netlist of gates as a person reads it: a table of steps, inputs at the left, lamps at the
//! right; and the way of one fault.

use crate::render;
use crate::shape::{NotShown, Plan};
use dryjoint_faults::gates::{Site, StuckAt, StuckId};
use dryjoint_logic::{Logic, Role, SignalId};
use dryjoint_netlist::verilog::Gates;
use dryjoint_procedure::gates::{Explanation, Phase, Place, Progress, VectorPlan};
use std::fmt::Write as _;

/// What stands over the steps, without flip-flops and with them.
pub const HEADING: [&str; 2] =
    ["set the inputs, read the lamps", "set the inputs, read the lamps, clock once"];

/// Bits in a row without a gap.
const TOGETHER: usize = 8;
/// Faults of one kind that are listed by name; more are only counted.
const LISTED: usize = 12;

/// Everything. `all` names each fault that is not shown.
pub fn whole(gates: &Gates, plan: &VectorPlan, document: &Plan, all: bool) -> String {
    let logic = &gates.logic;
    let mut text = render::heading(&format!("{}: a netlist of gates", gates.name));
    let names = |list: Vec<SignalId>| list.iter().map(|&s| logic.signals[s].name.clone()).collect::<Vec<_>>();
    text.push_str(&render::wrapped("inputs, from the left: ", &names(logic.inputs().collect()), 110));
    text.push_str(&render::wrapped("lamps, from the left:  ", &names(logic.seen().collect()), 110));
    if let Some(clock) = &gates.clock {
        let _ =
            writeln!(text, "One clock, {clock}; what the flip-flops hold when power comes on is not known.");
    }
    text.push_str(&render::heading(HEADING[usize::from(plan.clocked)]));
    let rows = (0..plan.vectors.len()).map(|at| {
        vec![
            (at + 1).to_string(),
            spaced(plan.vectors[at].0.iter().map(|&high| if high { '1' } else { '0' })),
            spaced(plan.expected[at].iter().map(|lit| lit.map_or('?', |lit| if lit { '#' } else { '.' }))),
            document.steps[at].shows.to_string(),
        ]
    });
    text.push_str(&render::table(&["step", "inputs", "lamps", "shows first"], &[0, 3], rows));
    text.push_str(&coverage(plan, document, all));
    text
}

fn spaced(bits: impl Iterator<Item = char>) -> String {
    let bits: Vec<char> = bits.collect();
    bits.chunks(TOGETHER).map(|chunk| chunk.iter().collect::<String>()).collect::<Vec<_>>().join(" ")
}

fn coverage(plan: &VectorPlan, document: &Plan, all: bool) -> String {
    let faults = &document.faults;
    let mut text = render::heading("What this shows");
    let minutes = document.bench_seconds / 60.0;
    let steps = render::counted(document.steps.len(), "step");
    let _ = writeln!(text, "{steps}, about {minutes:.1} minutes by hand.");
    let _ = writeln!(
        text,
        "{} stuck-at faults in {} groups: {} shown, {} proven never to show, {} undecided.",
        faults.all, faults.groups, faults.shown, faults.never, faults.undecided
    );
    if let Some(bound) = &plan.bound {
        let least = bound.apart.len();
        let rest =
            if least == document.steps.len() { "no list is shorter" } else { "no list has fewer than that" };
        let _ = writeln!(
            text,
            "{least} of the groups need a step each, no two of them the same: {rest} ({}).",
            bound.proof
        );
    }
    if document.cut_short {
        text.push_str("Cut short: this is the best list by then.\n");
    }
    let most = if all { usize::MAX } else { LISTED };
    not_shown(&mut text, "Nothing can show", &document.never, most);
    not_shown(&mut text, "Undecided", &document.undecided, most);
    text
}

fn not_shown(text: &mut String, title: &str, list: &[NotShown], most: usize) {
    if list.is_empty() {
        return;
    }
    text.push_str(&render::heading(&format!("{title} ({})", render::counted(list.len(), "group"))));
    for row in list.iter().take(most) {
        let _ = writeln!(text, "{}: {}", row.faults.join(" ≡ "), row.reason);
    }
    if list.len() > most {
        let more = list.len() - most;
        let _ = writeln!(text, "… and {more} more; `plan --all` names each.");
    }
}

/// Why a fault is shown or not.
pub fn explained(gates: &Gates, plan: &VectorPlan, fault: StuckId, explanation: &Explanation) -> String {
    let logic = &gates.logic;
    let name = |id| plan.faults.name(logic, id);
    let mut text = render::heading(&name(fault));
    let group = &plan.faults.groups[plan.faults.group_of[fault]];
    let same: Vec<String> = group.iter().filter(|id| **id != fault).map(|&id| name(id)).collect();
    if !same.is_empty() {
        text.push_str(&render::wrapped("the same circuit as ", &same, 110));
    }
    match explanation {
        Explanation::NotShown(standing) => {
            let _ = writeln!(text, "Not shown: {standing}.");
        }
        Explanation::Shown { step, way } => {
            let _ = writeln!(
                text,
                "Step {} shows it first. Inputs {}; the way of the difference:\n",
                step + 1,
                spaced(plan.vectors[*step].0.iter().map(|&high| if high { '1' } else { '0' }))
            );
            let rows = way.iter().enumerate().map(|(at, place)| {
                let mut row = row(logic, place);
                if let (0, StuckAt { site: Site::Branch(..), high }) = (at, plan.faults.faults[fault]) {
                    // The net itself is as it should be; the branch that leaves it here is not.
                    row[4] = format!("{} on this branch", u8::from(high));
                }
                row
            });
            text.push_str(&render::table(&["step", "at", "driven by", "good", "faulty"], &[0], rows));
        }
    }
    text
}

fn row(logic: &Logic, place: &Place) -> Vec<String> {
    let driver = logic.stages.rows().iter().find(|stage| stage.output == place.signal);
    let by = match (logic.signals[place.signal].role, driver) {
        (Role::Seen, _) => "seen here",
        (_, Some(stage)) => stage.name.as_str(),
        (_, None) => "the bench",
    };
    let level = |high: bool| u8::from(high).to_string();
    vec![
        (place.step + 1).to_string(),
        logic.signals[place.signal].name.clone(),
        by.to_owned(),
        level(place.good),
        level(!place.good),
    ]
}

/// How far the plan has come, in one line.
pub fn progress(progress: &Progress) -> String {
    let Progress { phase, vectors, left, of } = *progress;
    match phase {
        Phase::Trying => format!("trying: {vectors} steps, {left} of {of} fault groups not shown yet"),
        Phase::Solving => format!("solving: {left} of {of} fault groups to show or to exclude"),
        Phase::Compacting => format!("compacting: {vectors} steps"),
        Phase::Bounding => format!("{vectors} steps: looking for a proof that fewer cannot do"),
    }
}
