//! The faults that a list of vectors has to show, less those that come along for free.

use dryjoint_faults::gates::{Circuit, Exposure, Grader, GroupId, StuckFaults, Vector};
use dryjoint_ids::Side;

/// The faults to show, each by a number of its own.
#[derive(Clone, Debug)]
pub(crate) struct Targets<'c> {
    pub circuit: &'c Circuit,
    pub exposures: Vec<Exposure>,
    /// The group each of them is.
    pub groups: Vec<GroupId>,
}

impl<'c> Targets<'c> {
    /// All groups for which `wanted` holds, less each one that every vector for another shows too: it
    /// has the same stem and fewer conditions.
    pub fn new(
        circuit: &'c Circuit,
        faults: &StuckFaults,
        all: &Side<GroupId, Exposure>,
        wanted: impl Fn(GroupId) -> bool,
    ) -> Self {
        let mut by_stem: Vec<GroupId> = faults.groups.ids().filter(|g| wanted(*g)).collect();
        by_stem.sort_by_key(|&g| (all[g].stem, all[g].conditions.len()));
        let (mut exposures, mut groups) = (Vec::new(), Vec::new());
        for same in by_stem.chunk_by(|&a, &b| all[a].stem == all[b].stem) {
            for (k, &weaker) in same.iter().enumerate() {
                let conditions = &all[weaker].conditions;
                let implied =
                    same[k + 1..].iter().any(|&g| conditions.iter().all(|c| all[g].conditions.contains(c)));
                if !implied {
                    exposures.push(all[weaker].clone());
                    groups.push(weaker);
                }
            }
        }
        Self { circuit, exposures, groups }
    }

    pub fn len(&self) -> usize {
        self.exposures.len()
    }

    /// Which targets one vector shows, in order.
    pub fn shown(&self, grader: &mut Grader, vector: &Vector) -> Vec<u32> {
        grader.load(&Vector::side_by_side(std::slice::from_ref(vector)));
        (0_u32..).zip(&self.exposures).filter(|(_, e)| grader.shows(e).get(0)).map(|(k, _)| k).collect()
    }
}
