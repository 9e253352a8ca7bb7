//! How near hunts by lamps come to what lamps can tell at all.

use super::limit::{Limit, Parting, parting};
use super::{Hunted, mean};
use dryjoint_procedure::{GroupId, Procedure, Study};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::time::Instant;

/// The hunts that leave most groups beside the true one which an unlimited one parts from it.
fn tell_farthest(study: &Study, some: &[GroupId], hunts: &[Hunted], least: &[Vec<GroupId>], most: usize) {
    let named =
        |group: GroupId| study.faults[study.groups[group].faults[0]].name(study.extracted.shape.board);
    let mut rows: Vec<(GroupId, &Hunted, Vec<GroupId>)> = Vec::new();
    for ((&truth, hunt), least) in some.iter().zip(hunts).zip(least) {
        let more: Vec<GroupId> = hunt.left.iter().copied().filter(|group| !least.contains(group)).collect();
        rows.extend((!more.is_empty()).then_some((truth, hunt, more)));
    }
    rows.sort_by_key(|(truth, _, more)| (std::cmp::Reverse(more.len()), *truth));
    for (truth, hunt, more) in rows.into_iter().take(most) {
        let more: Vec<String> = more.into_iter().map(named).collect();
        println!("    {} is left beside {}\n{}", named(truth), more.join(", "), hunt.story);
    }
}

/// The limit by lamps: of what stands beside the true fault, and of what stands before it, how much some lamps surely tell
/// from it, whatever hands do.
pub fn tell(study: &Study, procedure: &Procedure, some: &[GroupId], hunts: &[Hunted], worst: usize) {
    let start = Instant::now();
    let limit = Limit::new(study, procedure);
    let looks = limit.looks();
    // What the hunt parted counts as parted too.
    let least: Vec<Vec<GroupId>> = limit
        .left(some)
        .into_iter()
        .zip(hunts)
        .map(|(least, hunt)| least.into_iter().filter(|group| hunt.left.contains(group)).collect())
        .collect();
    tell_farthest(study, some, hunts, &least, worst);
    let pair = |one: GroupId, other: GroupId| [one.min(other), one.max(other)];
    let others = |truth: GroupId, of: &[GroupId]| -> Vec<[GroupId; 2]> {
        of.iter().filter(|&&other| other != truth).map(|&other| pair(truth, other)).collect()
    };
    let both = |(&truth, hunt): (&GroupId, &Hunted)| {
        [others(truth, &hunt.left), others(truth, &hunt.first)].concat()
    };
    let pairs: BTreeSet<[GroupId; 2]> = some.iter().zip(hunts).flat_map(both).collect();
    let pairs: Vec<[GroupId; 2]> = pairs.into_iter().collect();
    let found: Vec<Parting> = pairs.par_iter().map(|&[one, other]| parting(study, one, other)).collect();
    let found: BTreeMap<[GroupId; 2], Parting> = pairs.into_iter().zip(found).collect();
    let parted = |truth: GroupId, of: &[GroupId]| {
        others(truth, of).iter().filter(|pair| found[*pair] == Parting::Can).count()
    };
    let left = mean(hunts, &|hunt| hunt.left.len() as f64);
    let least_left = mean(&least, &|groups| groups.len() as f64);
    let told: Vec<(&GroupId, &Hunted)> = some.iter().zip(hunts).collect();
    let sure = mean(&told, &|&(&truth, hunt)| (hunt.left.len() - parted(truth, &hunt.left)) as f64);
    let behind: Vec<&(&GroupId, &Hunted)> = told.iter().filter(|(_, hunt)| hunt.place != Some(0)).collect();
    let luck = behind.iter().filter(|&&&(&truth, hunt)| parted(truth, &hunt.first) == 0).count();
    let partly = behind.iter().filter(|&&&(&truth, hunt)| {
        let parted = parted(truth, &hunt.first);
        parted > 0 && parted < others(truth, &hunt.first).len()
    });
    let partly = partly.count();
    let states = found.values().filter(|found| **found == Parting::NotProven).count();
    println!(
        "\n  limit by lamps: a hunt leaves {left:.2} groups; {sure:.2} of them no lamps surely tell apart, whatever hands do: \
         {:.1} % more.\n  An unlimited hunt ({looks} looks, weighed by the same rules) leaves {least_left:.2}, by how luck falls. \
         Of {} hunts with another suspect\n  in front no lamps ever surely tell that one from the true one in {luck}, nor some\n  of its groups in {partly} more. \
         {} pairs were followed through every state; {states} have too many ({:.0} s)\n",
        100.0 * (left / sure.max(1e-9) - 1.0),
        behind.len(),
        found.len(),
        start.elapsed().as_secs_f64()
    );
}
