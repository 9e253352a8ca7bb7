//! `plan FILE`: the bench procedure.

use crate::arguments;
use crate::board_text::BoardText;
use crate::exit::{Exit, Failure};
use crate::names;
use crate::progress::Progress;
use crate::readings::Seen;
use crate::shape::{Counts, Hands, Header, Milestone, Named, NotShown, OfChance, Plan, Proof, Step, Surely};
use crate::states::supply_draw;
use crate::stop::Stop;
use crate::{curve, explain_text, print, procedure_text};
use dryjoint_board::{Board, PartId, nearest};
use dryjoint_faults::FaultId;
use dryjoint_faults::region::Proof as Second;
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_procedure::Progress as Stage;
use dryjoint_procedure::{Costs, Coverage, Effort, Procedure, StepId, Study, Sureness, explain, plan};
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
    if let Some(name) = &asked.explain {
        let fault = fault_named(&study, name)?;
        let way = explain(&study, &procedure, fault);
        out.write_all(explain_text::whole(&study, &procedure, fault, &way).as_bytes())?;
        return Ok(Exit::Fine);
    }
    let mut document = document(text.board(), &study, &procedure);
    document.cut_short = stop.stopped();
    if let Some(file) = &asked.curve {
        let curve = curve::of_board(text.board(), &document, &procedure.shares(&study));
        std::fs::write(file, curve)
            .map_err(|error| Failure::Input(format!("{}: {error}", file.display())))?;
    }
    if asked.form.json {
        print::json(out, &document)?;
    } else {
        let draw = supply_draw(&extracted);
        out.write_all(
            procedure_text::whole(text.board(), &procedure, &document, draw, asked.all).as_bytes(),
        )?;
    }
    Ok(Exit::Fine)
}

/// The fault of a name, or a refusal that says which may have been meant.
pub fn fault_named(study: &Study, name: &str) -> Result<FaultId, Failure> {
    let board = study.extracted.shape.board;
    if let Some((fault, _)) = study.faults.iter().find(|(_, fault)| fault.name(board) == name) {
        return Ok(fault);
    }
    let names: Vec<String> = study.faults.rows().iter().map(|fault| fault.name(board)).collect();
    let meant = match nearest(name, names.iter().map(String::as_str)) {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => "`plan --all` names them, such as `R1.1 open` or `Q1.b-Q1.e bridged`".to_owned(),
    };
    Err(Failure::Input(format!("{} has no fault `{name}`: {meant}", board.name)))
}

/// The procedure for a board, told about while it is made.
pub fn planned(study: &Study) -> Procedure {
    planned_until(study, &Stop::never())
}

/// So many times more states are tried with a limit of time.
const LONGER: usize = 4;

/// The same, ended on request with the best there is by then.
fn planned_until(study: &Study, stop: &Stop) -> Procedure {
    let line = Progress::new();
    let default = Effort::default();
    // With a limit of time it is the time that ends the rebuilding of stretches.
    let effort = if stop.is_timed() {
        Effort { rounds: usize::MAX, states: LONGER * default.states, ..default }
    } else {
        default
    };
    plan(study, &Costs::default(), &effort, &|progress| {
        line.tell(&match progress {
            Stage::Open(groups) => format!("planning: {groups} groups of faults not shown yet"),
            Stage::Actions(actions) => format!("compacting: {actions} actions"),
            Stage::Seconds(seconds) => {
                format!("compacting: {:.1} minutes at the bench", seconds as f64 / 60.0)
            }
        });
        !stop.now()
    })
}

/// The reason of a fault that a lamp could show and no step does.
pub const MISSED: &str = "no step of this procedure makes a lamp differ";

/// Faults by why they are not shown, with what that was held against.
type Reasons = BTreeMap<(String, Option<Surely>), (Option<Proof>, Vec<FaultId>)>;

/// The procedure as a document.
pub fn document(board: &Board, study: &Study, procedure: &Procedure) -> Plan {
    let mut shows = vec![0; procedure.steps.len()];
    let mut shown = 0;
    let mut counts = [0; 3];
    let mut of_chance = OfChance::default();
    let mut reasons: [Reasons; 3] = Default::default();
    for (fault, coverage) in procedure.coverage.iter() {
        let (list, why, proof, surely) = match coverage {
            Coverage::Shown(step) => {
                shown += 1;
                shows[step.index()] += 1;
                continue;
            }
            Coverage::Never(why) => (0, why.words(board), why.proof(), None),
            Coverage::Undecided(why) => (1, why.words(board), None, None),
            Coverage::Missed => (1, MISSED.to_owned(), None, None),
            Coverage::Chance(_, why, sureness) => {
                let surely = known_of(*sureness);
                *of_chance.of(surely) += 1;
                (2, why.words(board), None, Some(surely))
            }
        };
        counts[list] += 1;
        let proof = proof.map(|proof| match proof {
            Second::Currents => Proof::Currents,
            Second::Formula => Proof::Formula,
            Second::States => Proof::States,
            Second::Copper => Proof::Copper,
            Second::Time => Proof::Time,
        });
        reasons[list].entry((why, surely)).or_insert((proof, Vec::new())).1.push(fault);
    }
    let names = |faults: &Vec<FaultId>| faults.iter().map(|fault| study.faults[*fault].name(board)).collect();
    let [never, undecided, chance] = reasons.map(|list| {
        let row =
            |((reason, surely), (proof, faults))| NotShown { faults: names(&faults), reason, surely, proof };
        list.into_iter().map(row).collect()
    });
    Plan {
        header: Header::new("plan", &board.name),
        faults: Counts {
            all: procedure.coverage.len(),
            collapsed: None,
            groups: study.groups.len(),
            shown,
            chance: counts[2],
            of_chance: Some(of_chance),
            never: counts[0],
            undecided: counts[1],
        },
        steps: procedure.steps.iter().map(|(id, _)| step(board, procedure, id, shows[id.index()])).collect(),
        bench_seconds: procedure.bench_seconds().0,
        found_seconds: Some(procedure.found_seconds.0),
        milestones: milestones(study, procedure),
        least_steps: None,
        cut_short: false,
        chance,
        never,
        undecided,
    }
}

/// What is known of ways that surely show a fault.
fn known_of(sureness: Sureness) -> Surely {
    match sureness {
        Sureness::HidesByRows
        | Sureness::HidesAnywhere(_)
        | Sureness::Hides(_)
        | Sureness::HidesByChoice(_) => Surely::LuckHides,
        Sureness::Nowhere(_) | Sureness::NowhereBetween(_) => Surely::NowhereSure,
        Sureness::Open(_) => Surely::NotSettled,
    }
}

/// When a half, nine tenths and 99 of 100 have shown.
fn milestones(study: &Study, procedure: &Procedure) -> Vec<Milestone> {
    let shares = procedure.shares(study);
    let mut so_far = (0.0, 0.0);
    let steps: Vec<(f64, f64)> = shares
        .iter()
        .zip(procedure.steps.rows())
        .map(|(share, step)| {
            so_far = (so_far.0 + share, so_far.1 + step.seconds.0);
            so_far
        })
        .collect();
    let reached = |share: f64| {
        let at = steps.iter().position(|(so_far, _)| *so_far >= share)?;
        Some(Milestone { share, step: at + 1, seconds: steps[at].1 })
    };
    [0.5, 0.9, 0.99].into_iter().filter_map(reached).collect()
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
