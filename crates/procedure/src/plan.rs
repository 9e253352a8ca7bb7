//! The planner: search, then drop whatever the rest does not need, then write it down as steps.

use crate::compact::compact;
use crate::replay::{Replay, left_to_chance};
use crate::search::{Effort, Search};
use crate::step::{Coverage, Procedure, Step, StepId};
use crate::{Action, Costs, GroupId, Study, Wake};
use dryjoint_board::{Board, LineId};
use dryjoint_faults::FaultId;
use dryjoint_faults::lanes::Shown;
use dryjoint_faults::region::{Effect, Why};
use dryjoint_ids::{Id, Side, Table};
use dryjoint_units::Seconds;

/// What the planner says while it works.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    /// Searching; this many groups are not shown yet.
    Open(usize),
    /// Compacting; this many actions are left.
    Actions(usize),
}

/// Plans the procedure for a board. `go_on` hears of progress and ends the work early by answering
/// no; what there is by then is returned.
pub fn plan(study: &Study, costs: &Costs, effort: &Effort, go_on: &dyn Fn(Progress) -> bool) -> Procedure {
    let runs = Search::new(study, costs, effort.seed).run(effort, &|open| go_on(Progress::Open(open)));
    let groups = study.all_groups();
    let actions: Vec<Action> = runs.into_iter().flatten().collect();
    let actions = compact(study, actions, &groups, go_on);
    write_down(study, costs, &groups, tidy(study.extracted.shape.board, actions))
}

/// Takes out what does nothing: a tie of a tied line, a release of an open one.
fn tidy(board: &Board, actions: Vec<Action>) -> Vec<Action> {
    let mut tied: Side<LineId, bool> = Side::filled(&board.lines, false);
    actions
        .into_iter()
        .filter(|&action| match action {
            Action::Tie(line) => !std::mem::replace(&mut tied[line], true),
            Action::Release(line) => std::mem::replace(&mut tied[line], false),
            Action::Pulse(_) | Action::Wait(_) => true,
        })
        .collect()
}

/// Actions as steps: a look wherever the lamps of a good board change or a fault shows first.
fn write_down(study: &Study, costs: &Costs, groups: &[GroupId], actions: Vec<Action>) -> Procedure {
    let board = study.extracted.shape.board;
    let looks = std::iter::once(&[] as &[Action]).chain(actions.iter().map(std::slice::from_ref));
    let replay = Replay::of(study, groups, looks, None);
    let first = replay.first_shown(groups.len(), &replay.expected());
    let mut steps: Table<StepId, Step> = Table::new();
    let mut step_of_look = Vec::new();
    let mut pending: Vec<Action> = Vec::new();
    let mut tied: Side<LineId, bool> = Side::filled(&board.lines, false);
    let mut before: Option<Vec<Option<bool>>> = None;
    let pulsed = mostly_pulsed(board, &actions);
    for look in 0..replay.len() {
        if look > 0 {
            pending.push(actions[look - 1]);
        }
        let good = replay.good(look);
        let last = look + 1 == replay.len();
        let needed = first.contains(&Some(look));
        if look == 0 || needed || last || before.as_ref() != Some(&good) {
            let actions = std::mem::take(&mut pending);
            let heading = heading(board, &actions, &pulsed, &mut tied);
            let acting: f64 = actions.iter().map(|&action| costs.of(board, action).0).sum();
            let start = if look == 0 { costs.power } else { 0.0 };
            let seconds = Seconds(start + acting + costs.look(study.rig.lamps.len()).0);
            let expect =
                study.rig.lamps.iter().zip(&good).map(|(&(lamp, _), &value)| (lamp, value)).collect();
            steps.push(Step { heading, actions, expect, seconds });
            before = Some(good);
        }
        step_of_look.push(StepId::at(steps.len().saturating_sub(1)));
    }
    let mut coverage = coverage(study, groups, &first, &step_of_look);
    let missed: Vec<GroupId> =
        groups.iter().zip(&first).filter(|(_, first)| first.is_none()).map(|(&group, _)| group).collect();
    judge_missed(study, &missed, &actions, &replay.expected(), &step_of_look, &mut coverage);
    Procedure { steps, coverage }
}

/// Ways of waking up that are tried for faults whose board never comes to a known state: two draws,
/// each also the other way round.
const WAKES: [Wake; 4] = [
    Wake { seed: 1, opposite: false },
    Wake { seed: 1, opposite: true },
    Wake { seed: 2, opposite: false },
    Wake { seed: 2, opposite: true },
];

/// What becomes of the groups that no look shows from an unknown start: some show however the latches
/// wake up, some hang on chance.
fn judge_missed(
    study: &Study,
    missed: &[GroupId],
    actions: &[Action],
    expected: &[Vec<Option<bool>>],
    step_of_look: &[StepId],
    coverage: &mut Table<FaultId, Coverage>,
) {
    let chance = left_to_chance(study, missed, actions);
    let mut latest: Vec<Option<usize>> = vec![Some(0); missed.len()];
    for wake in WAKES {
        let looks = std::iter::once(&[] as &[Action]).chain(actions.iter().map(std::slice::from_ref));
        let replay = Replay::of(study, missed, looks, Some(wake));
        let first = replay.first_shown(missed.len(), expected);
        for (slot, first) in latest.iter_mut().zip(first) {
            *slot = slot.zip(first).map(|(a, b)| a.max(b));
        }
    }
    for ((&group, latest), chance) in missed.iter().zip(latest).zip(chance) {
        let table = &study.groups[group].behaviour.table;
        let verdict = if let Some(look) = latest {
            Coverage::Shown(step_of_look[look])
        } else if table.contains(&Shown::Unknown) {
            Coverage::Undecided(Why::Marginal)
        } else if table.contains(&Shown::Dim) {
            Coverage::Undecided(Why::Dims)
        } else if chance {
            Coverage::Undecided(Why::Race)
        } else {
            Coverage::Missed
        };
        for &fault in &study.groups[group].faults {
            coverage[fault] = verdict;
        }
    }
}

fn coverage(
    study: &Study,
    groups: &[GroupId],
    first: &[Option<usize>],
    step_of_look: &[StepId],
) -> Table<FaultId, Coverage> {
    let mut coverage: Table<_, Coverage> = study
        .effects
        .iter()
        .map(|(_, effect)| match effect {
            Effect::Changes(_) => Coverage::Missed,
            Effect::Nothing(why) => Coverage::Never(*why),
            Effect::Undecided(why) => Coverage::Undecided(*why),
        })
        .collect();
    for (&group, look) in groups.iter().zip(first) {
        if let Some(look) = look {
            for &fault in &study.groups[group].faults {
                coverage[fault] = Coverage::Shown(step_of_look[*look]);
            }
        }
    }
    coverage
}

/// The lines that this procedure pulses more often than it ties: they make things happen, and say
/// nothing about what.
fn mostly_pulsed(board: &Board, actions: &[Action]) -> Side<LineId, bool> {
    let count = |wanted: Action| actions.iter().filter(|&&action| action == wanted).count();
    Side::new(&board.lines, |line| count(Action::Pulse(line)) > count(Action::Tie(line)))
}

/// The heading of a step: what the control lines that act during it are for.
fn heading(
    board: &Board,
    actions: &[Action],
    pulsed: &Side<LineId, bool>,
    tied: &mut Side<LineId, bool>,
) -> String {
    let mut acting: Vec<LineId> = Vec::new();
    for &action in actions {
        match action {
            Action::Tie(line) => tied[line] = true,
            Action::Release(line) => tied[line] = false,
            Action::Pulse(line) => acting.push(line),
            Action::Wait(_) => {}
        }
    }
    acting.extend(board.lines.ids().filter(|&line| tied[line]));
    acting.sort_unstable();
    acting.dedup();
    let purposes = |wanted: &dyn Fn(LineId) -> bool| {
        let lines = acting.iter().copied().filter(|&line| {
            board.lines[line].active_high.is_some() && !board.lines[line].purpose.is_empty() && wanted(line)
        });
        lines.map(|line| board.lines[line].purpose.as_str()).collect::<Vec<_>>().join(", ")
    };
    let telling = purposes(&|line| !pulsed[line]);
    if !telling.is_empty() {
        return telling;
    }
    let any = purposes(&|_| true);
    if any.is_empty() { "at rest".to_owned() } else { any }
}
