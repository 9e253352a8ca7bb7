//! What becomes of the groups that no look surely shows: luck decides, or it is proven that they never do: by a
//! formula, or by trying every state.

use crate::never::AtRest;
use crate::reach::reach;
use crate::replay::Replay;
use crate::search::Aim;
use crate::{Action, GroupId, Study};
use dryjoint_faults::lanes::Shown;
use dryjoint_faults::region::Why;
use rayon::prelude::*;

/// Why a group that may show does not surely show.
pub(crate) fn why_chance(study: &Study, group: GroupId) -> Why {
    let behaviour = &study.groups[group].behaviour;
    let table = &behaviour.table;
    let told = |signal| study.rig.dials().iter().any(|dial| dial.told().any(|told| told == signal));
    if behaviour.reads.iter().any(|read| told(read.signal)) {
        if table.contains(&Shown::Unknown) { Why::Uneven } else { Why::Race }
    } else if table.contains(&Shown::Unknown) {
        Why::Marginal
    } else if table.contains(&Shown::Dim) {
        Why::Dims
    } else {
        Why::Race
    }
}

/// Which of some groups are proven never to matter.
pub(crate) fn never_matter(study: &Study, groups: &[GroupId]) -> Vec<bool> {
    if groups.is_empty() {
        return Vec::new();
    }
    let rest = AtRest::new(study);
    groups.par_iter().map(|&group| rest.refute(&study.groups[group].behaviour).is_some()).collect()
}

/// Those of some groups that no look after any action even may show.
pub(crate) fn never_in_doubt(study: &Study, groups: &[GroupId], actions: &[Action]) -> Vec<GroupId> {
    let looks = std::iter::once(&[] as &[Action]).chain(actions.iter().map(std::slice::from_ref));
    let replay = Replay::of(study, groups, looks, None);
    let mut left = vec![true; groups.len()];
    for (look, expected) in replay.expected().iter().enumerate() {
        replay.shown_at(look, groups.len(), expected, Aim::Chance).iter().for_each(|&at| left[at] = false);
    }
    groups.iter().zip(left).filter(|(_, left)| *left).map(|(&group, _)| group).collect()
}

/// Which of some groups nothing that hands can do shows. Stops where `go_on` says so.
pub(crate) fn out_of_reach(study: &Study, groups: &[GroupId], go_on: &dyn Fn() -> bool) -> Vec<bool> {
    groups.iter().map(|&group| go_on() && reach(study, group).is_some()).collect()
}
