//! Compaction by rebuilding: a stretch of the list is taken out whole, what it alone showed is searched for anew
//! from where the rest ends, and the list is compacted again. What takes less time at the bench is kept.
//!
//! Leaving out one action after the other ends where each is needed for something; a stretch that did ten
//! things for one fault each may be replaced by one that does three (ruin and recreate, G. Schrimpf et al.
//! 2000).

use crate::compact::{compact, showing};
use crate::plan::{Groups, Progress, list_seconds, tidy};
use crate::search::{Aim, Effort, Search};
use crate::{Action, Costs, GroupId, Study};
use dryjoint_draws::Draws;

/// Candidates and patience of the search for what a stretch showed: it looks for few groups.
const SMALL: (usize, usize) = (48, 6);

/// The list after some rounds, or as it was.
pub(crate) fn improve(
    study: &Study,
    costs: &Costs,
    effort: &Effort,
    groups: &Groups,
    mut actions: Vec<Action>,
    go_on: &dyn Fn(Progress) -> bool,
) -> Vec<Action> {
    let mut draws = Draws::new(effort.seed ^ 0x5eed);
    let mut seconds = list_seconds(study, costs, groups, &actions);
    for round in 0..effort.rounds {
        if actions.len() < 8 || !go_on(Progress::Seconds(seconds as usize)) {
            break;
        }
        let length = 2 + draws.below(actions.len() / 5);
        let start = draws.below(actions.len() - length);
        let (candidates, patience) = SMALL;
        let seed = effort.seed.wrapping_add(round as u64 + 1);
        let small = Effort { candidates, patience, seed, rounds: 0, states: 0 };
        let Some(other) = rebuilt(study, costs, &small, groups, &actions, start..start + length, go_on)
        else {
            continue;
        };
        let now = list_seconds(study, costs, groups, &other);
        if now < seconds {
            (actions, seconds) = (other, now);
        }
    }
    actions
}

/// The list without a stretch and with something else at its end; nothing where a group is lost.
fn rebuilt(
    study: &Study,
    costs: &Costs,
    effort: &Effort,
    groups: &Groups,
    actions: &[Action],
    stretch: std::ops::Range<usize>,
    go_on: &dyn Fn(Progress) -> bool,
) -> Option<Vec<Action>> {
    let board = study.extracted.shape.board;
    let shown = showing(study, &groups.wanted, actions);
    let mut other = tidy(board, [&actions[..stretch.start], &actions[stretch.end..]].concat());
    for aim in [Aim::Sure, Aim::Chance] {
        let now = showing(study, &groups.wanted, &other);
        let lost: Vec<GroupId> = (0..now.len())
            .filter(|&index| shown[index] && !now[index] && groups.wanted[index].1 == aim)
            .map(|index| groups.wanted[index].0)
            .collect();
        if !lost.is_empty() {
            let going = |_| go_on(Progress::Actions(other.len()));
            let runs = Search::new(study, costs, effort.seed, (aim, lost), &other).run(effort, &going);
            other.extend(runs.into_iter().flatten());
        }
    }
    let now = showing(study, &groups.wanted, &other);
    if shown.iter().zip(&now).any(|(before, now)| *before && !*now) {
        return None;
    }
    Some(tidy(board, compact(study, other, 0, &groups.wanted, go_on)))
}
