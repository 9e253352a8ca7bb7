//! `plan FILE`: the bench procedure.

use crate::arguments;
use crate::board_text::BoardText;
use crate::exit::{Exit, Failure};
use crate::names;
use crate::progress::Progress;
use crate::readings::Seen;
use crate::shape::{Counts, Hands, Header, Named, NotShown, Plan, Step};
use crate::stop::Stop;
use crate::{print, procedure_text};
use dryjoint_board::{Board, PartId};
use dryjoint_faults::FaultId;
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_procedure::Progress as Stage;
use dryjoint_procedure::{Costs, Coverage, Effort, Procedure, StepId, Study, plan};
use std::collections::BTreeMap;
use std::io::Write;

/// Plans and prints.
pub fn run(text: &BoardText, asked: &arguments::Plan, out: &mut impl Write) -> Result<Exit, Failure> {
    let (extracted, notices) = extract(text.board());
    text.refuse_errors(&notices)?;
    text.refuse_errors(&extracted.refuse_edges())?;
    let study = Study::new(&extracted, &crate::command::priors::own(&asked.priors)?);
    let stop = Stop::on_request(asked.effort);
    let procedure = planned_until(&study, &stop);
    let mut document = document(text.board(), &study, &procedure);
    document.cut_short = stop.stopped();
    if asked.form.json {
        print::json(out, &document)?;
    } else {
        out.write_all(procedure_text::whole(text.board(), &procedure, &document).as_bytes())?;
    }
    Ok(Exit::Fine)
}

/// The procedure for a board, told about while it is made.
pub fn planned(study: &Study) -> Procedure {
    planned_until(study, &Stop::never())
}

/// The same, ended on request with the best there is by then.
fn planned_until(study: &Study, stop: &Stop) -> Procedure {
    let line = Progress::new();
    let default = Effort::default();
    // With a limit of time it is the time that ends the search.
    let effort = if stop.is_timed() { Effort { patience: usize::MAX, ..default } } else { default };
    plan(study, &Costs::default(), &effort, &|progress| {
        line.tell(&match progress {
            Stage::Open(groups) => format!("planning: {groups} groups of faults not shown yet"),
            Stage::Actions(actions) => format!("compacting: {actions} actions"),
        });
        !stop.now()
    })
}

/// The reason of a fault that a lamp could show and no step does.
pub const MISSED: &str = "no step of this procedure makes a lamp differ";

/// The procedure as a document.
pub fn document(board: &Board, study: &Study, procedure: &Procedure) -> Plan {
    let mut shows = vec![0; procedure.steps.len()];
    let (mut shown, mut never, mut undecided) = (0, 0, 0);
    let mut reasons: [BTreeMap<&'static str, Vec<FaultId>>; 2] = Default::default();
    for (fault, coverage) in procedure.coverage.iter() {
        let (list, why) = match coverage {
            Coverage::Shown(step) => {
                shown += 1;
                shows[step.index()] += 1;
                continue;
            }
            Coverage::Never(why) => (0, why.words()),
            Coverage::Undecided(why) => (1, why.words()),
            Coverage::Missed => (1, MISSED),
        };
        *if list == 0 { &mut never } else { &mut undecided } += 1;
        reasons[list].entry(why).or_default().push(fault);
    }
    let [never_list, undecided_list] = reasons.map(|list| {
        let row = |(reason, faults): (&str, Vec<FaultId>)| NotShown {
            faults: faults.iter().map(|fault| study.faults[*fault].name(board)).collect(),
            reason: reason.to_owned(),
        };
        list.into_iter().map(row).collect()
    });
    Plan {
        header: Header::new("plan", &board.name),
        faults: Counts {
            all: procedure.coverage.len(),
            collapsed: None,
            groups: study.groups.len(),
            shown,
            never,
            undecided,
        },
        steps: procedure.steps.iter().map(|(id, _)| step(board, procedure, id, shows[id.index()])).collect(),
        bench_seconds: procedure.bench_seconds().0,
        least_steps: None,
        cut_short: false,
        never: never_list,
        undecided: undecided_list,
    }
}

fn step(board: &Board, procedure: &Procedure, id: StepId, shows: usize) -> Step {
    let step = &procedure.steps[id];
    let power = (id.index() == 0).then_some(crate::action::Action::Power { to: crate::action::OnOff::On });
    let hands = step.actions.iter().flat_map(|action| names::written(board, *action));
    Step {
        number: id.index() + 1,
        heading: step.heading.clone(),
        hands: Hands::Actions(power.into_iter().chain(hands).collect()),
        expect: expected(board, &step.expect),
        seconds: step.seconds.0,
        shows,
    }
}

/// Lamps that are known, by reference.
pub fn expected(board: &Board, lamps: &[(PartId, Option<bool>)]) -> Named<Seen> {
    let known = lamps.iter().filter_map(|(lamp, lit)| Some((*lamp, (*lit)?)));
    known
        .map(|(lamp, lit)| (board.parts[lamp].reference.clone(), if lit { Seen::Lit } else { Seen::Dark }))
        .collect()
}
