//! Compaction: leaving out whatever the rest makes up for.
//!
//! Stretches of actions are left out, from the end on, as long as every group is still shown. Only
//! groups that few looks show can be lost, so only these are followed while trying, and none that
//! oscillates; should another be lost after all, it is followed too and the work done again.

use crate::plan::Progress;
use crate::replay::{act, differing, good_lamps, lamps};
use crate::{Action, GroupId, Study};
use dryjoint_faults::lanes::{LANES, Machine, State, Word};

/// A group shown by no more looks than this is followed from the start.
const FEW: usize = 3;

/// The lengths of the stretches tried, one after the other.
const STRETCHES: [usize; 5] = [24, 12, 6, 2, 1];

/// The shortest list found in which all groups that `actions` shows are still shown.
pub(crate) fn compact(
    study: &Study,
    actions: Vec<Action>,
    groups: &[GroupId],
    go_on: &dyn Fn(Progress) -> bool,
) -> Vec<Action> {
    let (looks, restless) = looks_that_show(study, groups, &actions);
    let wanted = |index: &usize| looks[*index] > 0;
    let all: Vec<usize> = (0..groups.len()).filter(wanted).collect();
    let mut followed: Vec<usize> =
        all.iter().copied().filter(|&index| looks[index] <= FEW && !restless[index]).collect();
    loop {
        let list: Vec<GroupId> = followed.iter().map(|&index| groups[index]).collect();
        let short = STRETCHES.iter().fold(actions.clone(), |actions, &stretch| {
            Compaction::new(study, &list).pass(actions, stretch, go_on)
        });
        let (now, _) = looks_that_show(study, groups, &short);
        let lost: Vec<usize> = all.iter().copied().filter(|&index| now[index] == 0).collect();
        if lost.is_empty() {
            return short;
        }
        followed.extend(lost);
        followed.sort_unstable();
        followed.dedup();
    }
}

/// How many looks, one after each action, show each group, and in which something oscillates.
fn looks_that_show(study: &Study, groups: &[GroupId], actions: &[Action]) -> (Vec<usize>, Vec<bool>) {
    let mut looks = vec![0; groups.len()];
    let mut restless = vec![false; groups.len()];
    for (pass, machine) in study.machines(groups, None).iter_mut().enumerate() {
        let index = |lane: usize| pass * (LANES - 1) + lane - 1;
        for action in actions {
            let (shown, oscillating) = shown_after(study, machine, *action);
            for lane in shown.lanes().filter(|&lane| lane > 0 && index(lane) < groups.len()) {
                looks[index(lane)] += 1;
            }
            for lane in oscillating.lanes().filter(|&lane| lane > 0 && index(lane) < groups.len()) {
                restless[index(lane)] = true;
            }
        }
    }
    (looks, restless)
}

/// Does one action and says which lanes show, and which oscillated.
fn shown_after(study: &Study, machine: &mut Machine, action: Action) -> (Word, Word) {
    let oscillating = act(study, machine, std::slice::from_ref(&action));
    let lamps = lamps(study, machine);
    (differing(&lamps, &good_lamps(&lamps)), oscillating)
}

struct Compaction<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    machines: Vec<Machine<'s>>,
    /// The lanes in use, machine by machine.
    wanted: Vec<Word>,
}

/// Where one machine stands before an action, and which lanes were shown by then.
struct Point {
    state: State,
    shown: Word,
}

impl<'s, 'e, 'b> Compaction<'s, 'e, 'b> {
    fn new(study: &'s Study<'e, 'b>, groups: &[GroupId]) -> Self {
        let lanes = |chunk: &[GroupId]| {
            let mut word = Word::NONE;
            (1..=chunk.len()).for_each(|lane| word.set(lane, true));
            word
        };
        let machines = study.machines(groups, None);
        let mut wanted: Vec<Word> = groups.chunks(LANES - 1).map(lanes).collect();
        wanted.resize(machines.len(), Word::NONE);
        Self { study, machines, wanted }
    }

    /// One pass over the list with stretches of one length.
    fn pass(
        mut self,
        mut actions: Vec<Action>,
        stretch: usize,
        go_on: &dyn Fn(Progress) -> bool,
    ) -> Vec<Action> {
        let points = self.points(&actions, stretch);
        for at in (0..points.len()).rev() {
            if !go_on(Progress::Actions(actions.len())) {
                break;
            }
            let start = at * stretch;
            let end = (start + stretch).min(actions.len());
            if self.shows_all(&points[at], &actions[end..]) {
                actions.drain(start..end);
            }
        }
        actions
    }

    /// Where the machines stand before each stretch.
    fn points(&mut self, actions: &[Action], stretch: usize) -> Vec<Vec<Point>> {
        let mut shown = vec![Word::NONE; self.machines.len()];
        let mut points = Vec::new();
        for chunk in actions.chunks(stretch) {
            let here = self.machines.iter().zip(&shown);
            points.push(here.map(|(machine, &shown)| Point { state: machine.save(), shown }).collect());
            for (machine, shown) in self.machines.iter_mut().zip(&mut shown) {
                for &action in chunk {
                    *shown = *shown | shown_after(self.study, machine, action).0;
                }
            }
        }
        points
    }

    /// Whether the actions, done from a point, show every lane not shown before it.
    fn shows_all(&mut self, point: &[Point], actions: &[Action]) -> bool {
        self.machines.iter_mut().zip(&self.wanted).zip(point).all(|((machine, &wanted), point)| {
            machine.restore(&point.state);
            let mut left = wanted & !point.shown;
            for &action in actions {
                if left.is_none() {
                    return true;
                }
                left = left & !shown_after(self.study, machine, action).0;
            }
            left.is_none()
        })
    }
}
