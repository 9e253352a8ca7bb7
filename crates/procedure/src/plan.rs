//! The planner: search, then drop whatever the rest does not need, then write it down as steps.

use crate::awake::Wakes;
use crate::compact::{compact, shorten_waits};
use crate::heading::headings;
use crate::improve::improve;
use crate::judge;
use crate::looks::Sights;
use crate::replay::Replay;
use crate::search::{Aim, Effort, Search};
use crate::step::{Coverage, Procedure, Step, StepId};
use crate::sure::{Sought, Sureness, surely};
use crate::walk::Bound;
use crate::{Action, Costs, GroupId, Study};
use dryjoint_board::{Board, LineId};
use dryjoint_faults::FaultId;
use dryjoint_faults::region::{Effect, Why};
use dryjoint_ids::{Id, Side, Table};
use dryjoint_units::Seconds;
use std::collections::{BTreeMap, BTreeSet};

/// What the planner says while it works.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    /// Searching; this many groups are not shown yet.
    Open(usize),
    /// Compacting; this many actions are left.
    Actions(usize),
    /// Taking stretches out and searching anew for what they showed, then adding ways that go by cases; the list takes this many
    /// seconds.
    Seconds(usize),
}

/// The groups of a board by what a procedure can hope to see of them.
#[derive(Clone, Debug)]
pub(crate) struct Groups {
    /// All of them, each with what is wanted of it, in order.
    pub wanted: Vec<(GroupId, Aim)>,
    /// Those proven never to show, with the kind of proof.
    pub never: BTreeMap<GroupId, Why>,
    /// What is known of ways that surely show the others.
    pub settled: BTreeMap<GroupId, Sought>,
    /// Those that the list as found shows in every case of how their latches woke up.
    pub by_cases: Vec<GroupId>,
    /// Those that a way shows which goes by cases parted after every action, each with after how many actions it begins.
    pub on_the_way: Vec<(GroupId, usize)>,
}

/// Plans the procedure for a board. `go_on` hears of progress and ends the work early by answering
/// no; what there is by then is returned.
pub fn plan(study: &Study, costs: &Costs, effort: &Effort, go_on: &dyn Fn(Progress) -> bool) -> Procedure {
    let going = |open| go_on(Progress::Open(open));
    let all = study.all_groups();
    let search = |seed: u64, aim: Aim, open: Vec<GroupId>, past: &[Action]| {
        let runs =
            Search::new(study, costs, effort.seed.wrapping_add(seed), (aim, open), past).run(effort, &going);
        runs.into_iter().flatten().collect::<Vec<Action>>()
    };
    let mut actions = search(0, Aim::Sure, all.clone(), &[]);
    let open = not_shown(study, &all, &actions);
    let (proven, open) = apart(&open, &judge::never_matter(study, &open));
    let mut never: BTreeMap<GroupId, Why> =
        proven.into_iter().map(|group| (group, Why::NeverOccurs)).collect();
    // Once more for what luck has passed by, then for what a walk through all states finds.
    actions.extend(search(1, Aim::Sure, open.clone(), &actions));
    let open = not_shown(study, &open, &actions);
    let (settled, by_cases) =
        settle(study, &open, &actions, effort.states, &|| go_on(Progress::Open(open.len())));
    for way in ways(&settled) {
        let mut longer = actions.clone();
        longer.extend(let_go(&actions).into_iter().chain(way));
        if not_shown(study, &open, &longer).len() < not_shown(study, &open, &actions).len() {
            actions = longer;
        }
    }
    let chance = not_shown(study, &open, &actions);
    let aim = |group: &GroupId| if chance.binary_search(group).is_ok() { Aim::Chance } else { Aim::Sure };
    let wanted: Vec<(GroupId, Aim)> = all.iter().map(|group| (*group, aim(group))).collect();
    let board = study.extracted.shape.board;
    let mut groups = Groups { wanted, never: BTreeMap::new(), settled, by_cases, on_the_way: Vec::new() };
    let found_seconds = Seconds(list_seconds(study, costs, &groups, &tidy(board, actions.clone())));
    let sure: Vec<(GroupId, Aim)> =
        groups.wanted.iter().copied().filter(|(_, aim)| *aim == Aim::Sure).collect();
    let mut actions = tidy(board, compact(study, actions, 0, &sure, go_on));
    // Then for what no step surely shows: it may, or nothing does.
    let open = judge::never_in_doubt(study, &chance, &actions);
    let from = actions.len();
    actions.extend(search(2, Aim::Chance, open.clone(), &actions));
    let missed = judge::never_in_doubt(study, &open, &actions);
    let (proven, _) =
        apart(&missed, &judge::out_of_reach(study, &missed, &|| go_on(Progress::Open(missed.len()))));
    never.extend(proven.into_iter().map(|group| (group, Why::OutOfReach)));
    groups.never = never;
    let actions = tidy(board, compact(study, actions, from, &groups.wanted, go_on));
    let actions = improve(study, costs, effort, &groups, actions, go_on);
    let actions = shorten_waits(study, &groups.wanted, actions, go_on);
    let procedure = with_ways(study, costs, effort, &mut groups, actions, go_on);
    Procedure { found_seconds, ..procedure }
}

/// The procedure, with the ways added that surely show what it only may show: those that go by cases, which compaction
/// does not know of. The longest come first: looks on one way may show what another way was found for.
fn with_ways(
    study: &Study,
    costs: &Costs,
    effort: &Effort,
    groups: &mut Groups,
    mut actions: Vec<Action>,
    go_on: &dyn Fn(Progress) -> bool,
) -> Procedure {
    let mut procedure = write_down(study, costs, groups, &actions);
    let mut left: Vec<(Vec<Action>, GroupId)> = Vec::new();
    for (group, _) in groups.wanted.clone() {
        if !matches!(procedure.coverage[study.groups[group].faults[0]], Coverage::Chance(..)) {
            continue;
        }
        if !go_on(Progress::Seconds(procedure.bench_seconds().0 as usize)) {
            break;
        }
        if groups.by_cases.contains(&group) {
            groups.settled.insert(group, surely(study, group, effort.states));
        }
        if let Some(Sought::Way(way)) = groups.settled.get(&group) {
            left.push((way.clone(), group));
        }
    }
    left.sort_by_key(|(way, group)| (std::cmp::Reverse(way.len()), *group));
    let mut starts: Vec<usize> = Vec::new();
    for (way, group) in left {
        let shown =
            |other: &Procedure| matches!(other.coverage[study.groups[group].faults[0]], Coverage::Shown(_));
        if shown(&procedure) {
            continue;
        }
        if !go_on(Progress::Seconds(procedure.bench_seconds().0 as usize)) {
            break;
        }
        let on_the_way = starts.iter().rev().find(|&&from| shows(study, (group, from, true), &actions));
        if let Some(&from) = on_the_way {
            groups.on_the_way.push((group, from));
            procedure = write_down(study, costs, groups, &actions);
            continue;
        }
        let from = actions.len();
        let longer: Vec<Action> = actions.iter().copied().chain(let_go(&actions)).chain(way).collect();
        let mut other = write_down(study, costs, groups, &longer);
        if !shown(&other) {
            groups.on_the_way.push((group, from));
            other = write_down(study, costs, groups, &longer);
        }
        if shown(&other) {
            starts.push(from);
            (actions, procedure) = (without_idle(study, groups, (group, from), longer.clone()), other);
            other = write_down(study, costs, groups, &actions);
            if other.shown().0 < procedure.shown().0 {
                actions = longer;
            } else {
                procedure = other;
            }
        } else {
            groups.on_the_way.pop();
        }
    }
    let claimed = groups.on_the_way.len();
    hold(study, groups, &actions);
    if groups.on_the_way.len() < claimed { write_down(study, costs, groups, &actions) } else { procedure }
}

/// Lets go of what is shown on the way by cases, but not on all boards on which luck falls as drawn.
fn hold(study: &Study, groups: &mut Groups, actions: &[Action]) {
    let sights = Sights::of(study, groups, actions);
    let looks = sights.looks(study, groups);
    let expected = &sights.expected;
    groups.on_the_way.retain(|&(group, _)| Wakes { study, group, actions, looks: &looks, expected }.holds());
}

/// Whether looks after every action, from one on, show a group: by cases parted after every action, or else by those of how
/// its latches woke up.
fn shows(study: &Study, (group, from, on_the_way): (GroupId, usize, bool), actions: &[Action]) -> bool {
    let looks: Vec<usize> = (from..=actions.len()).collect();
    let all = std::iter::once(&[] as &[Action]).chain(actions.iter().map(std::slice::from_ref));
    let expected = Replay::of(study, &[], all, None).expected();
    let wakes = Wakes { study, group, actions, looks: &looks, expected: &expected };
    if on_the_way { wakes.on_the_way().is_some() } else { wakes.latest().is_some() }
}

/// Actions without those of the last that show a group as well without: a way is found from power-on, and where it is added
/// some of it may have been done.
fn without_idle(
    study: &Study,
    groups: &Groups,
    (group, from): (GroupId, usize),
    mut actions: Vec<Action>,
) -> Vec<Action> {
    let on_the_way = groups.on_the_way.contains(&(group, from));
    for at in (from..actions.len()).rev() {
        let mut fewer = actions.clone();
        fewer.remove(at);
        let fewer = tidy(study.extracted.shape.board, fewer);
        if fewer.len() < actions.len() && shows(study, (group, from, on_the_way), &fewer) {
            actions = fewer;
        }
    }
    actions
}

/// What is known of ways that surely show some groups, and those that need none: the actions show them in every case of
/// how the latches woke up.
fn settle(
    study: &Study,
    open: &[GroupId],
    actions: &[Action],
    most: usize,
    go_on: &dyn Fn() -> bool,
) -> (BTreeMap<GroupId, Sought>, Vec<GroupId>) {
    let wanted = open.iter().map(|&group| (group, Aim::Chance)).collect();
    let (never, settled) = (BTreeMap::new(), BTreeMap::new());
    let groups = Groups { wanted, never, settled, by_cases: Vec::new(), on_the_way: Vec::new() };
    let sights = Sights::of(study, &groups, actions);
    let looks: Vec<usize> = (0..=actions.len()).collect();
    let shown: Vec<bool> = (0..open.len())
        .map(|index| awake(study, &groups, actions, &sights, &looks, index).is_some())
        .collect();
    let (by_cases, unsure) = apart(open, &shown);
    (judge::settle(study, &unsure, most, go_on), by_cases)
}

/// The ways found, each once.
fn ways(settled: &BTreeMap<GroupId, Sought>) -> Vec<Vec<Action>> {
    let mut ways: Vec<Vec<Action>> = Vec::new();
    for sought in settled.values() {
        match sought {
            Sought::Way(way) if !ways.contains(way) => ways.push(way.clone()),
            _ => {}
        }
    }
    ways
}

/// What brings the bench back to where it stood at power-on after some actions: no line tied, and the clock low. What shows
/// from power-on, when nothing was known, shows from there too.
fn let_go(actions: &[Action]) -> Vec<Action> {
    let mut tied = BTreeSet::new();
    actions.iter().for_each(|action| action.leave(&mut tied));
    let last = actions.iter().rfind(|action| matches!(action, Action::Wait(_) | Action::Run(..)));
    let wait = matches!(last, Some(Action::Run(..))).then_some(Action::Wait(1));
    tied.into_iter().map(Action::Release).chain(wait).collect()
}

/// The look by which a group has shown in every case of how its latches woke up, if that is proven. Drawn ways of
/// waking up only say what is worth proving.
fn awake(
    study: &Study,
    groups: &Groups,
    actions: &[Action],
    sights: &Sights,
    looks: &[usize],
    index: usize,
) -> Option<usize> {
    sights.first_awake(index, looks)?;
    let group = groups.wanted[index].0;
    let wakes = Wakes { study, group, actions, looks, expected: &sights.expected };
    match groups.on_the_way.iter().any(|&(other, _)| other == group) {
        true => wakes.on_the_way()?.last().copied(),
        false => wakes.latest(),
    }
}

/// Those of some groups that a list says yes to, and the others.
fn apart(groups: &[GroupId], yes: &[bool]) -> (Vec<GroupId>, Vec<GroupId>) {
    let pick = |wanted: bool| {
        groups.iter().zip(yes).filter(move |(_, yes)| **yes == wanted).map(|(&group, _)| group)
    };
    (pick(true).collect(), pick(false).collect())
}

/// The groups that no look after any action surely shows.
fn not_shown(study: &Study, groups: &[GroupId], actions: &[Action]) -> Vec<GroupId> {
    let looks = std::iter::once(&[] as &[Action]).chain(actions.iter().map(std::slice::from_ref));
    let replay = Replay::of(study, groups, looks, None);
    let first = replay.first_shown(groups.len(), &replay.expected());
    groups.iter().zip(first).filter(|(_, first)| first.is_none()).map(|(&group, _)| group).collect()
}

/// Takes out what does nothing: a tie of a tied line, a release of an open one. A touch on a line that is tied
/// already does no more than let it go.
pub(crate) fn tidy(board: &Board, actions: Vec<Action>) -> Vec<Action> {
    let mut tied: Side<LineId, bool> = Side::filled(&board.lines, false);
    let plain = |action: Action| match action {
        Action::Tie(line) => (!std::mem::replace(&mut tied[line], true)).then_some(action),
        Action::Release(line) => std::mem::replace(&mut tied[line], false).then_some(action),
        Action::Pulse(line) if std::mem::replace(&mut tied[line], false) => Some(Action::Release(line)),
        Action::Pulse(_) | Action::Wait(_) | Action::Run(..) => Some(action),
    };
    actions.into_iter().filter_map(plain).collect()
}

/// Two waits in a row as one: nobody looks in between.
pub(crate) fn waits_joined(actions: &[Action]) -> Vec<Action> {
    let mut joined: Vec<Action> = Vec::with_capacity(actions.len());
    for &action in actions {
        match (joined.last_mut(), action) {
            (Some(Action::Wait(before)), Action::Wait(count)) => *before += count,
            _ => joined.push(action),
        }
    }
    joined
}

/// Actions as steps, with as few looks as show everything.
fn write_down(study: &Study, costs: &Costs, groups: &Groups, actions: &[Action]) -> Procedure {
    let board = study.extracted.shape.board;
    let sights = Sights::of(study, groups, actions);
    let looks = sights.looks(study, groups);
    let mut steps: Table<StepId, Step> = Table::new();
    let mut step_of_look = vec![StepId::at(0); actions.len() + 1];
    let starts = std::iter::once(0).chain(looks.iter().copied());
    let between = starts.zip(&looks).map(|(from, &look)| waits_joined(&actions[from..look]));
    let between: Vec<Vec<Action>> = between.collect();
    let headings = headings(board, &between);
    for ((&look, actions), heading) in looks.iter().zip(between).zip(headings) {
        let good = &sights.expected[look];
        let expect = study.rig.lamps.iter().zip(good).map(|(&(lamp, _), &value)| (lamp, value)).collect();
        let seconds = step_seconds(study, costs, &actions, look == 0);
        let step = steps.push(Step { heading, actions, expect, seconds });
        step_of_look[look] = step;
    }
    let coverage = coverage(study, groups, actions, &sights, &looks, &step_of_look);
    let seconds = steps.rows().iter().map(|step| step.seconds.0).sum();
    Procedure { steps, coverage, found_seconds: Seconds(seconds) }
}

/// How long a step takes.
fn step_seconds(study: &Study, costs: &Costs, actions: &[Action], first: bool) -> Seconds {
    let board = study.extracted.shape.board;
    let acting: f64 = actions.iter().map(|&action| costs.of(board, action).0).sum();
    let start = if first { costs.power } else { 0.0 };
    Seconds(start + acting + costs.look(study.rig.lamps.len()).0)
}

/// How long a list of actions takes with the looks that it needs.
pub(crate) fn list_seconds(study: &Study, costs: &Costs, groups: &Groups, actions: &[Action]) -> f64 {
    let board = study.extracted.shape.board;
    let looks = Sights::of(study, groups, actions).looks(study, groups).len();
    let acting: f64 = actions.iter().map(|&action| costs.of(board, action).0).sum();
    costs.power + acting + looks as f64 * costs.look(study.rig.lamps.len()).0
}

/// What becomes of every fault.
fn coverage(
    study: &Study,
    groups: &Groups,
    actions: &[Action],
    sights: &Sights,
    looks: &[usize],
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
    let first = sights.first(looks);
    for (index, &(group, aim)) in groups.wanted.iter().enumerate() {
        let awake = awake(study, groups, actions, sights, looks, index);
        let verdict = match (awake, first[index], aim) {
            (Some(look), ..) => Coverage::Shown(step_of_look[look]),
            (None, Some(look), Aim::Sure) => Coverage::Shown(step_of_look[look]),
            (None, Some(look), Aim::Chance) => {
                let sureness = match groups.settled.get(&group) {
                    Some(&Sought::None(sureness)) => sureness,
                    // It was not asked, or shows only from another state than the list comes to.
                    _ => Sureness::Open(Bound { states: 0, actions: 0 }),
                };
                Coverage::Chance(step_of_look[look], judge::why_chance(study, group), sureness)
            }
            (None, None, _) => groups.never.get(&group).map_or(Coverage::Missed, |why| Coverage::Never(*why)),
        };
        for &fault in &study.groups[group].faults {
            coverage[fault] = verdict;
        }
    }
    coverage
}
