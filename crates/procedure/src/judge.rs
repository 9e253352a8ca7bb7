//! What becomes of the groups that no look surely shows: luck decides, or it is proven that they never do: by a
//! formula, or by trying every state.

use crate::never::AtRest;
use crate::partner::Partners;
use crate::reach::reach;
use crate::replay::Replay;
use crate::search::Aim;
use crate::sure::{Sought, hidden, walked};
use crate::walk::{Limits, Walked, walk};
use crate::{Action, GroupId, Study};
use dryjoint_faults::FaultId;
use dryjoint_faults::lanes::{Behaviour, Shown};
use dryjoint_faults::proof::drained;
use dryjoint_faults::region::Why;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{OnceLock, mpsc};

/// So many times fewer states are tried on a board that has more than can be tried by itself.
const FEWER: usize = 20;

/// Why a group that may show does not surely show.
pub(crate) fn why_chance(study: &Study, group: GroupId) -> Why {
    let behaviour = &study.groups[group].behaviour;
    let table = &behaviour.table;
    let drains = |&fault: &FaultId| drained(study.extracted.shape.board, &study.faults[fault]).is_some();
    if behaviour.blackout.is_some() || study.groups[group].faults.iter().all(drains) {
        // While a hand or a switch shorts the supply no lamp is looked at, and it tells at once.
        return Why::Drains;
    }
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

/// Settles whether anything surely shows some groups: by a proof that luck hides them anywhere, else by walking through so
/// many states for each; on a board that has more states than that by itself, a few for each, since none would be all.
/// Stops where `go_on` says so.
pub(crate) fn settle(
    study: &Study,
    groups: &[GroupId],
    most: usize,
    go_on: &dyn Fn() -> bool,
) -> BTreeMap<GroupId, Sought> {
    let stop = AtomicBool::new(false);
    let partners = OnceLock::new();
    let partners = || partners.get_or_init(|| Partners::new(study)).as_ref();
    let mut settled = each(groups, &stop, go_on, &|group| {
        let ended = stop.load(Ordering::Relaxed);
        (!ended).then(|| hidden(study, group, partners)).flatten().map(Sought::None)
    });
    let left: Vec<GroupId> = groups.iter().copied().filter(|group| !settled.contains_key(group)).collect();
    if left.is_empty() {
        return settled;
    }
    let mut good = study.pairs(&Behaviour::default());
    // Nothing is ever seen of a copy without a fault.
    let few = matches!(
        walk(study, &mut good, 1, Aim::Chance, &Limits::states(most), &mut |_, _| true),
        Walked::Cut(_)
    );
    let limits =
        Limits { most: if few { most / FEWER } else { most }, stop: Some(&stop), view: None, by_luck: None };
    settled.extend(each(&left, &stop, go_on, &|group| Some(walked(study, group, &limits))));
    settled
}

/// What is found of each of some groups, side by side; `stop` is set where `go_on` says no.
fn each(
    groups: &[GroupId],
    stop: &AtomicBool,
    go_on: &dyn Fn() -> bool,
    find: &(dyn Fn(GroupId) -> Option<Sought> + Sync),
) -> BTreeMap<GroupId, Sought> {
    let (tell, told) = mpsc::channel();
    std::thread::scope(|scope| {
        scope.spawn(|| {
            groups.par_iter().for_each_with(tell, |tell, &group| {
                // Nobody listens any more only where the one who does has panicked.
                let _ = tell.send((group, find(group)));
            });
        });
        let mut found = BTreeMap::new();
        while let Ok((group, sought)) = told.recv() {
            found.extend(sought.map(|sought| (group, sought)));
            if !go_on() {
                stop.store(true, Ordering::Relaxed);
            }
        }
        found
    })
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
