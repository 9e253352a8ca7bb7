//! Which looks to take: as few as show everything, so that one reading of the lamps serves many faults.
//!
//! After each action somebody could look. Which groups each look would show is known from the replay; a few
//! looks that together show all are chosen greedily, the one that shows most of what is left first (the
//! set-cover rule, D. S. Johnson 1974), then those that the others make up for are given up, from the
//! last on. Nobody is asked to do many things in a row without seeing anything: then nobody knows whether
//! they were done right.

use crate::awake::Wakes;
use crate::plan::Groups;
use crate::replay::Replay;
use crate::search::Aim;
use crate::study::Wake;
use crate::{Action, GroupId, Study};
use std::collections::BTreeMap;

/// Actions after which a look is due even if it shows no fault that no other look shows. Judgement.
const MOST_ACTIONS: usize = 8;

/// Ways of waking up that are tried for faults whose board never comes to a known state: draws, each also the
/// other way round.
const DRAWS: u64 = 8;

/// What every possible look would show: one before and one after each action.
pub(crate) struct Sights {
    /// What a good board shows.
    pub expected: Vec<Vec<Option<bool>>>,
    /// How many groups there are.
    groups: usize,
    /// The groups that each look shows, by their place: surely, or as luck has it where no more is wanted.
    shows: Vec<Vec<usize>>,
    /// For each group that shows however its latches wake up, as far as was tried, the looks that show it: a row
    /// for each way.
    awake: BTreeMap<usize, Vec<Vec<usize>>>,
}

impl Sights {
    /// Plays the actions.
    pub fn of(study: &Study, groups: &Groups, actions: &[Action]) -> Self {
        let ids: Vec<GroupId> = groups.wanted.iter().map(|&(group, _)| group).collect();
        let replay = |ids: &[GroupId], wake| {
            let looks = std::iter::once(&[] as &[Action]).chain(actions.iter().map(std::slice::from_ref));
            Replay::of(study, ids, looks, wake)
        };
        let known = replay(&ids, None);
        let expected = known.expected();
        let sure = |index: usize| groups.wanted[index].1 == Aim::Sure;
        let shows = (0..known.len())
            .map(|look| {
                let mut all = known.shown_at(look, ids.len(), &expected[look], Aim::Sure);
                let doubtful = known.shown_at(look, ids.len(), &expected[look], Aim::Chance);
                all.extend(doubtful.into_iter().filter(|&index| !sure(index)));
                all.sort_unstable();
                all.dedup();
                all
            })
            .collect();
        let unsure: Vec<usize> = (0..ids.len()).filter(|&index| !sure(index)).collect();
        let mut awake: BTreeMap<usize, Vec<Vec<usize>>> =
            unsure.iter().map(|&index| (index, Vec::new())).collect();
        for wake in (1..=DRAWS).flat_map(|seed| [false, true].map(|opposite| Wake { seed, opposite })) {
            // One way in which it does not show is enough.
            let left: Vec<usize> = awake.keys().copied().collect();
            let list: Vec<GroupId> = left.iter().map(|&index| ids[index]).collect();
            let woken = replay(&list, Some(wake));
            let mut looks = vec![Vec::new(); left.len()];
            for (look, expected) in expected.iter().enumerate() {
                woken
                    .shown_at(look, left.len(), expected, Aim::Sure)
                    .iter()
                    .for_each(|&at| looks[at].push(look));
            }
            for (index, looks) in left.into_iter().zip(looks) {
                if looks.is_empty() {
                    awake.remove(&index);
                } else if let Some(ways) = awake.get_mut(&index) {
                    ways.push(looks);
                }
            }
        }
        for &(group, from) in &groups.on_the_way {
            let looks: Vec<usize> = (from..=actions.len()).collect();
            let wakes = Wakes { study, group, actions, looks: &looks, expected: &expected };
            let index = ids.iter().position(|&id| id == group);
            // Each of these looks shows some case that no other one does.
            let rows = wakes.on_the_way().map(|needed| needed.into_iter().map(|look| vec![look]).collect());
            awake.extend(index.zip(rows));
        }
        Self { groups: ids.len(), expected, shows, awake }
    }

    /// The looks to take.
    pub fn looks(&self, study: &Study, groups: &Groups) -> Vec<usize> {
        let mut weights: Vec<f64> =
            groups.wanted.iter().map(|&(group, _)| study.groups[group].prior).collect();
        let mut shows = self.shows.clone();
        for (&index, ways) in &self.awake {
            for looks in ways {
                looks.iter().for_each(|&look| shows[look].push(weights.len()));
                weights.push(weights[index]);
            }
        }
        choose(&weights, &shows)
    }

    /// The first of some looks that shows each group.
    pub fn first(&self, looks: &[usize]) -> Vec<Option<usize>> {
        let mut first = vec![None; self.groups];
        for &look in looks {
            self.shows[look].iter().for_each(|&index| {
                first[index].get_or_insert(look);
            });
        }
        first
    }

    /// The look by which a group has shown whichever way its latches woke up, if it has.
    pub fn first_awake(&self, index: usize, looks: &[usize]) -> Option<usize> {
        let ways = self.awake.get(&index)?;
        let first = |way: &Vec<usize>| way.iter().copied().find(|look| looks.binary_search(look).is_ok());
        ways.iter().map(first).try_fold(0, |latest, first| Some(first?.max(latest)))
    }
}

/// The looks to take, in order, out of one before and one after each action. `shows[look]` lists what
/// it would show, by number; `weights` say how much each is worth.
fn choose(weights: &[f64], shows: &[Vec<usize>]) -> Vec<usize> {
    let mut left = vec![false; weights.len()];
    shows.iter().flatten().for_each(|&index| left[index] = true);
    let mut chosen: Vec<usize> = Vec::new();
    // The lamps at rest right after power comes on are always looked at.
    let mut next = Some(0);
    while let Some(look) = next {
        chosen.push(look);
        shows[look].iter().for_each(|&index| left[index] = false);
        let gain = |look: usize| -> (usize, f64) {
            let fresh = || shows[look].iter().copied().filter(|&index| left[index]);
            (fresh().count(), fresh().map(|index| weights[index]).sum())
        };
        let best = (0..shows.len()).map(|look| (gain(look), std::cmp::Reverse(look)));
        let best =
            best.max_by(|(a, at), (b, other)| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(at.cmp(other)));
        next = best.filter(|(gain, _)| gain.0 > 0).map(|(_, look)| look.0);
    }
    chosen.sort_unstable();
    give_up(weights.len(), shows, &mut chosen);
    fill(shows.len(), &chosen)
}

/// Gives up looks whose groups the others show.
fn give_up(count: usize, shows: &[Vec<usize>], chosen: &mut Vec<usize>) {
    let mut times = vec![0usize; count];
    chosen.iter().flat_map(|&look| &shows[look]).for_each(|&index| times[index] += 1);
    for at in (1..chosen.len()).rev() {
        if shows[chosen[at]].iter().all(|&index| times[index] > 1) {
            shows[chosen[at]].iter().for_each(|&index| times[index] -= 1);
            chosen.remove(at);
        }
    }
}

/// Adds looks where too much would be done without any, and one at the end.
fn fill(count: usize, chosen: &[usize]) -> Vec<usize> {
    let mut looks: Vec<usize> = Vec::new();
    for &look in chosen.iter().chain(&[count - 1]) {
        while let Some(&last) = looks.last()
            && look - last > MOST_ACTIONS
        {
            // In even portions.
            let portions = (look - last).div_ceil(MOST_ACTIONS);
            looks.push(last + (look - last) / portions);
        }
        if looks.last() != Some(&look) {
            looks.push(look);
        }
    }
    looks
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn looks_whose_groups_others_show_are_given_up() {
        let shows = [vec![], vec![0, 1], vec![1, 2], vec![2, 3]];
        let mut chosen = vec![0, 1, 2, 3];
        give_up(4, &shows, &mut chosen);
        assert_eq!(chosen, [0, 1, 3]);
    }

    #[test]
    fn nobody_does_more_than_eight_things_without_a_look() {
        assert_eq!(fill(6, &[0, 5]), [0, 5]);
        assert_eq!(fill(20, &[0, 17, 19]), [0, 5, 11, 17, 19]);
        assert_eq!(fill(4, &[0]), [0, 3]);
    }
}
