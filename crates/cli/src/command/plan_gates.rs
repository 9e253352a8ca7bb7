//! `plan FILE.v`: the steps for a netlist that knows only gates. Its inputs are the lines, its outputs
//! the lamps; a step sets every input, reads every lamp and, where there are flip-flops, clocks once.

use crate::arguments;
use crate::exit::{Exit, Failure};
use crate::missing::unreadable;
use crate::progress::Progress as Line;
use crate::readings::Seen;
use crate::shape::{Counts, Hands, Header, NotShown, Plan, Step};
use crate::stop::Stop;
use crate::{board_text, gates_text, print};
use dryjoint_board::nearest;
use dryjoint_logic::SignalId;
use dryjoint_netlist::draw;
use dryjoint_netlist::verilog::{Gates, read_file};
use dryjoint_procedure::Costs;
use dryjoint_procedure::gates::{Options, Progress, Standing, VectorPlan, explain, plan};
use std::io::Write;
use std::path::Path;

/// Plans and prints, or explains one fault.
pub fn run(asked: &arguments::Plan, out: &mut impl Write) -> Result<Exit, Failure> {
    let idle = [("--curve", asked.curve.is_some()), ("--priors", asked.priors.table.is_some())];
    if let Some((option, _)) = idle.into_iter().find(|&(_, given)| given) {
        let file = asked.file.display();
        return Err(Failure::Input(format!(
            "{file}: `{option}` rests on how often each fault is made, which nobody knows of a netlist of gates; \
             leave it out"
        )));
    }
    let gates = open(&asked.file)?;
    let stop = Stop::on_request(asked.effort);
    let plan = planned(&gates, &stop)?;
    if let Some(name) = &asked.explain {
        let Some(fault) = plan.faults.named(&gates.logic, name) else {
            return Err(Failure::Input(unknown(&gates, &plan, name)));
        };
        let explanation = explain(&gates.logic, &plan, fault);
        out.write_all(gates_text::explained(&gates, &plan, fault, &explanation).as_bytes())?;
        return Ok(Exit::Fine);
    }
    let document = document(&gates, &plan);
    if asked.form.json {
        print::json(out, &document)?;
    } else {
        out.write_all(gates_text::whole(&gates, &plan, &document, asked.all).as_bytes())?;
    }
    Ok(Exit::Fine)
}

/// The netlist of a file, or everything that is wrong with it.
fn open(path: &Path) -> Result<Gates, Failure> {
    let bytes = std::fs::read(path).map_err(|error| unreadable(path, &error))?;
    let text = String::from_utf8(bytes)
        .map_err(|_| Failure::Input(format!("{}: this is no UTF-8 text", path.display())))?;
    let reading = read_file(&path.to_string_lossy(), &text, None);
    reading.gates.ok_or_else(|| {
        let drawn = draw(&reading.sources, &reading.notices, board_text::look());
        Failure::Input(drawn.trim_end().to_owned())
    })
}

/// The best plan by the time to stop. Without a limit of time the default effort is the end of it; with
/// one, circuits with flip-flops are planned again and again, harder and from other random numbers.
fn planned(gates: &Gates, stop: &Stop) -> Result<VectorPlan, Failure> {
    let line = Line::new();
    let going = |progress: &Progress| {
        line.tell(&gates_text::progress(progress));
        !stop.now()
    };
    let refused = |obstacle| Failure::Computation(format!("{}: {obstacle}", gates.name));
    let default = Options::default();
    if !stop.is_timed() {
        return plan(&gates.logic, &default, &going).map_err(refused);
    }
    if gates.clock.is_none() {
        return plan(&gates.logic, &Options { effort: u32::MAX, ..default }, &going).map_err(refused);
    }
    let mut best = plan(&gates.logic, &default, &going).map_err(refused)?;
    let mut options = default;
    while !stop.now() {
        options = Options { random: options.random + 1, effort: options.effort.saturating_add(1) };
        let next = plan(&gates.logic, &options, &going).map_err(refused)?;
        let worth = |plan: &VectorPlan| (plan.shown(), plan.never(), std::cmp::Reverse(plan.vectors.len()));
        if worth(&next) > worth(&best) {
            best = next;
        }
    }
    Ok(best)
}

fn unknown(gates: &Gates, plan: &VectorPlan, name: &str) -> String {
    let names: Vec<String> = plan.faults.faults.ids().map(|id| plan.faults.name(&gates.logic, id)).collect();
    let meant = match nearest(name, names.iter().map(String::as_str)) {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => {
            "a net's name and its level make one, such as `N10/0`; a gate's and its pin, `G22.2/1`".to_owned()
        }
    };
    format!("{} has no fault `{name}`: {meant}", gates.name)
}

/// The plan as a document.
fn document(gates: &Gates, plan: &VectorPlan) -> Plan {
    let members = |group| plan.faults.groups[group].len();
    let mut shows = vec![0; plan.vectors.len()];
    let (mut shown, mut never, mut undecided) = (0, 0, 0);
    let (mut never_list, mut undecided_list) = (Vec::new(), Vec::new());
    for (group, standing) in plan.standings.iter() {
        let (count, list) = match standing {
            Standing::Shown(step) => {
                shows[*step] += members(group);
                shown += members(group);
                continue;
            }
            Standing::Never(_) | Standing::NeverReached { .. } => (&mut never, &mut never_list),
            Standing::NotWithin { .. } | Standing::Open => (&mut undecided, &mut undecided_list),
        };
        *count += members(group);
        let names = plan.faults.groups[group].iter().map(|&fault| plan.faults.name(&gates.logic, fault));
        list.push(NotShown {
            faults: names.collect(),
            reason: standing.to_string(),
            surely: None,
            proof: None,
        });
    }
    let steps: Vec<Step> = (0..plan.vectors.len()).map(|at| step(gates, plan, at, shows[at])).collect();
    Plan {
        header: Header::new("plan", &gates.name),
        faults: Counts {
            all: plan.faults.faults.len(),
            collapsed: Some(plan.faults.groups.len()),
            groups: plan.faults.groups.len(),
            shown,
            chance: 0,
            of_chance: None,
            never,
            undecided,
        },
        bench_seconds: steps.iter().map(|step| step.seconds).sum(),
        steps,
        found_seconds: None,
        milestones: Vec::new(),
        chance: Vec::new(),
        least_steps: plan.bound.as_ref().map(|bound| bound.apart.len()),
        cut_short: plan.interrupted,
        never: never_list,
        undecided: undecided_list,
    }
}

fn step(gates: &Gates, plan: &VectorPlan, at: usize, shows: usize) -> Step {
    let name = |signal: SignalId| gates.logic.signals[signal].name.clone();
    let vector = &plan.vectors[at].0;
    let moved = match at.checked_sub(1) {
        None => vector.len(),
        Some(before) => vector.iter().zip(&plan.vectors[before].0).filter(|(a, b)| a != b).count(),
    };
    let lamps = gates.logic.seen().zip(&plan.expected[at]);
    let known = lamps.filter_map(|(signal, lit)| Some((signal, (*lit)?)));
    let costs = Costs::default();
    let start = if at == 0 { costs.power } else { 0.0 };
    let seconds = start + costs.vector(moved, plan.expected[at].len(), plan.clocked).0;
    Step {
        number: at + 1,
        heading: gates_text::HEADING[usize::from(plan.clocked)].to_owned(),
        hands: Hands::Inputs(
            gates.logic.inputs().zip(vector).map(|(signal, &high)| (name(signal), u8::from(high))).collect(),
        ),
        expect: known.map(|(signal, lit)| (name(signal), if lit { Seen::Lit } else { Seen::Dark })).collect(),
        seconds,
        shows,
    }
}
