//! Compaction: leaving out whatever the rest makes up for.
//!
//! Stretches of actions are left out, from the end on, as long as every group is still shown. Only
//! groups that few looks show can be lost, so only these are followed while trying, and none that
//! oscillates; should another be lost after all, it is followed too and the work done again.

use crate::plan::Progress;
use crate::replay::{act, good_lamps, lamps};
use crate::search::Aim;
use crate::{Action, GroupId, Study};
use dryjoint_faults::lanes::{LANES, Machine, State, Word};

/// A group shown by no more looks than this is followed from the start.
const FEW: usize = 3;

/// The lengths of the stretches tried, one after the other.
const STRETCHES: [usize; 5] = [24, 12, 6, 2, 1];

/// The shortest list found in which all groups that `actions` shows are still shown, each in the way wanted of it. What
/// stands before `from` stays as it is.
pub(crate) fn compact(
    study: &Study,
    actions: Vec<Action>,
    from: usize,
    wanted: &[(GroupId, Aim)],
    go_on: &dyn Fn(Progress) -> bool,
) -> Vec<Action> {
    let (looks, restless) = looks_that_show(study, wanted, &actions);
    let all: Vec<usize> = (0..wanted.len()).filter(|&index| looks[index] > 0).collect();
    let calm = |index: usize| !restless[index] || wanted[index].1 == Aim::Chance;
    let mut followed: Vec<usize> =
        all.iter().copied().filter(|&index| looks[index] <= FEW && calm(index)).collect();
    loop {
        let list: Vec<(GroupId, Aim)> = followed.iter().map(|&index| wanted[index]).collect();
        let short = STRETCHES.iter().fold(actions.clone(), |actions, &stretch| {
            Compaction::new(study, &list).pass(actions, from, stretch, go_on)
        });
        let (now, _) = looks_that_show(study, wanted, &short);
        let lost: Vec<usize> = all.iter().copied().filter(|&index| now[index] == 0).collect();
        if lost.is_empty() {
            return short;
        }
        followed.extend(lost);
        followed.sort_unstable();
        followed.dedup();
    }
}

/// Waits that follow each other made one where no look is needed between them, and each made as short as still shows
/// every group.
pub(crate) fn shorten_waits(
    study: &Study,
    wanted: &[(GroupId, Aim)],
    mut actions: Vec<Action>,
    go_on: &dyn Fn(Progress) -> bool,
) -> Vec<Action> {
    let shown = showing(study, wanted, &actions);
    let shows_all = |other: &[Action]| {
        go_on(Progress::Actions(other.len()))
            && showing(study, wanted, other).iter().zip(&shown).all(|(now, before)| *now || !before)
    };
    for at in (0..actions.len()).rev() {
        let (Action::Wait(count), next) = (actions[at], actions.get(at + 1).copied()) else { continue };
        if let Some(Action::Wait(more)) = next {
            let mut other = actions.clone();
            other.splice(at..=at + 1, [Action::Wait(count + more)]);
            if shows_all(&other) {
                actions = other;
            }
        }
        let Action::Wait(count) = actions[at] else { continue };
        let shorter = (1..count).map(|fewer| {
            let mut other = actions.clone();
            other[at] = Action::Wait(fewer);
            other
        });
        if let Some(other) = shorter.into_iter().find(|other| shows_all(other)) {
            actions = other;
        }
    }
    actions
}

/// Whether any look shows each group, in the way wanted of it.
pub(crate) fn showing(study: &Study, wanted: &[(GroupId, Aim)], actions: &[Action]) -> Vec<bool> {
    looks_that_show(study, wanted, actions).0.into_iter().map(|looks| looks > 0).collect()
}

/// How many looks, one after each action, show each group, and in which something oscillates.
fn looks_that_show(study: &Study, wanted: &[(GroupId, Aim)], actions: &[Action]) -> (Vec<usize>, Vec<bool>) {
    let mut looks = vec![0; wanted.len()];
    let mut restless = vec![false; wanted.len()];
    let mut crew = Compaction::new(study, wanted);
    for (pass, machine) in crew.machines.iter_mut().enumerate() {
        for &action in actions {
            let (shown, oscillating) = shown_after(study, machine, crew.aims[pass], action);
            for lane in (shown & crew.wanted[pass]).lanes() {
                looks[crew.places[pass][lane - 1]] += 1;
            }
            for lane in (oscillating & crew.wanted[pass]).lanes() {
                restless[crew.places[pass][lane - 1]] = true;
            }
        }
    }
    (looks, restless)
}

/// Does one action and says which lanes show as far as is wanted of them, and which oscillated.
fn shown_after(study: &Study, machine: &mut Machine, aim: Aim, action: Action) -> (Word, Word) {
    let oscillating = act(study, machine, std::slice::from_ref(&action));
    let lamps = lamps(study, machine);
    (aim.sees(&lamps, &good_lamps(&lamps)), oscillating)
}

struct Compaction<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    machines: Vec<Machine<'s>>,
    /// The lanes in use, machine by machine.
    wanted: Vec<Word>,
    /// What is wanted of the lanes of each machine.
    aims: Vec<Aim>,
    /// Where the group of each lane stands in the list.
    places: Vec<Vec<usize>>,
}

/// Where one machine stands before an action, and which lanes were shown by then.
struct Point {
    state: State,
    shown: Word,
}

impl<'s, 'e, 'b> Compaction<'s, 'e, 'b> {
    /// The groups that must show surely and those that only may stand in machines of their own: where luck
    /// decides much oscillates, and that takes its time.
    fn new(study: &'s Study<'e, 'b>, groups: &[(GroupId, Aim)]) -> Self {
        let mut crew =
            Self { study, machines: Vec::new(), wanted: Vec::new(), aims: Vec::new(), places: Vec::new() };
        for aim in [Aim::Sure, Aim::Chance] {
            let places: Vec<usize> = (0..groups.len()).filter(|&at| groups[at].1 == aim).collect();
            for chunk in places.chunks(LANES - 1) {
                let ids: Vec<GroupId> = chunk.iter().map(|&at| groups[at].0).collect();
                let mut wanted = Word::NONE;
                (1..=chunk.len()).for_each(|lane| wanted.set(lane, true));
                crew.machines.extend(study.machines(&ids, None));
                crew.wanted.push(wanted);
                crew.aims.push(aim);
                crew.places.push(chunk.to_vec());
            }
        }
        crew
    }

    /// One pass over the list with stretches of one length.
    fn pass(
        mut self,
        mut actions: Vec<Action>,
        from: usize,
        stretch: usize,
        go_on: &dyn Fn(Progress) -> bool,
    ) -> Vec<Action> {
        let points = self.points(&actions, from, stretch);
        for at in (0..points.len()).rev() {
            if !go_on(Progress::Actions(actions.len())) {
                break;
            }
            let start = from + at * stretch;
            let end = (start + stretch).min(actions.len());
            if self.shows_all(&points[at], &actions[end..]) {
                actions.drain(start..end);
            }
        }
        actions
    }

    /// Where the machines stand before each stretch.
    fn points(&mut self, actions: &[Action], from: usize, stretch: usize) -> Vec<Vec<Point>> {
        let mut shown = vec![Word::NONE; self.machines.len()];
        let mut points = Vec::new();
        let (before, rest) = actions.split_at(from);
        for (at, chunk) in std::iter::once(before).chain(rest.chunks(stretch)).enumerate() {
            if at > 0 {
                let here = self.machines.iter().zip(&shown);
                points.push(here.map(|(machine, &shown)| Point { state: machine.save(), shown }).collect());
            }
            for ((machine, shown), &aim) in self.machines.iter_mut().zip(&mut shown).zip(&self.aims) {
                for &action in chunk {
                    *shown = *shown | shown_after(self.study, machine, aim, action).0;
                }
            }
        }
        points
    }

    /// Whether the actions, done from a point, show every lane not shown before it.
    fn shows_all(&mut self, point: &[Point], actions: &[Action]) -> bool {
        let lanes = self.wanted.iter().zip(&self.aims);
        self.machines.iter_mut().zip(lanes).zip(point).all(|((machine, (&wanted, &aim)), point)| {
            machine.restore(&point.state);
            let mut left = wanted & !point.shown;
            for &action in actions {
                if left.is_none() {
                    return true;
                }
                left = left & !shown_after(self.study, machine, aim, action).0;
            }
            left.is_none()
        })
    }
}
