//! Which vector of a list first shows each group.

use super::circuit::Circuit;
use super::exposure::Exposure;
use super::grader::Grader;
use super::stuck::{GroupId, StuckFaults};
use super::vector::Vector;
use crate::lanes::LANES;
use dryjoint_ids::Side;
use rayon::prelude::*;

/// What a list of vectors shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Graded {
    /// The first vector that shows each group.
    pub first: Side<GroupId, Option<usize>>,
}

impl Graded {
    /// How many groups are shown.
    pub fn shown(&self) -> usize {
        self.first.rows().iter().flatten().count()
    }
}

/// Finds for each group the first vector that shows it; a group once shown is looked at no more.
/// The answer does not depend on the number of threads.
pub fn grade(
    circuit: &Circuit,
    faults: &StuckFaults,
    exposures: &Side<GroupId, Exposure>,
    vectors: &[Vector],
) -> Graded {
    let mut first: Side<GroupId, Option<usize>> = Side::filled(&faults.groups, None);
    let mut open: Vec<GroupId> = faults.groups.ids().collect();
    // Groups that share a stem stand together, so that one thread turns it over for all of them.
    open.sort_by_key(|&group| (exposures[group].stem, group));
    for (block, vectors) in vectors.chunks(LANES).enumerate() {
        let words = Vector::side_by_side(vectors);
        let share = open.len().div_ceil(rayon::current_num_threads()).max(64);
        let found: Vec<(GroupId, Option<usize>)> = open
            .par_chunks(share)
            .flat_map_iter(|groups| {
                let mut grader = Grader::new(circuit);
                grader.load(&words);
                let shown: Vec<_> =
                    groups.iter().map(|&g| (g, grader.shows(&exposures[g]).lanes().next())).collect();
                shown
            })
            .collect();
        open.clear();
        for (group, lane) in found {
            match lane {
                Some(lane) => first[group] = Some(block * LANES + lane),
                None => open.push(group),
            }
        }
    }
    Graded { first }
}
