//! Boards in other lanes: where the faults of many lanes are of no more account, the rest goes on closer together.
//!
//! A lane ends the same whoever its neighbours are, so nothing has to be played again: what each board holds is put into its
//! new lane.

use super::behaviour::Behaviour;
use super::machine::Machine;
use super::state::Contribution;
use super::word::{Planes, Word};

impl Machine<'_> {
    /// Machines at rest go on in fewer lanes: lane `k + 1` carries `behaviours[k]`, with which it stands as the lane of
    /// the machine in `from[k]` does, and all others are the good board of the first. At least one of each; the hands hold
    /// the same in all of them.
    ///
    /// # Panics
    ///
    /// Where `from` has no machine or more than there are lanes.
    pub fn gathered(behaviours: Vec<Behaviour>, from: &[(&Self, usize)]) -> Self {
        let first = from.first().expect("some lane goes on").0;
        let mut machine = Self::new(first.program, behaviours);
        for (signal, value) in first.state.values.iter() {
            let lanes = from.iter().map(|(old, lane)| old.state.values[signal].lane(*lane));
            machine.state.values[signal] = gather(value, lanes);
        }
        for (stage, good) in first.state.contributions.iter() {
            let lanes = |of: fn(&Contribution) -> &Planes| {
                let lanes =
                    from.iter().map(move |(old, lane)| of(&old.state.contributions[stage]).lane(*lane));
                gather(of(good), lanes)
            };
            machine.state.contributions[stage] =
                Contribution { low: lanes(|c| &c.low), high: lanes(|c| &c.high) };
        }
        machine.state.bench.clone_from(&first.state.bench);
        let Self { spoilt, state, .. } = &mut machine;
        for table in spoilt.all_tables_mut() {
            table.stale = true;
            table.refresh(state);
        }
        machine.supply();
        machine.dirty.fill(0);
        machine
    }
}

/// A signal whose lanes from the first faulty one on hold this, and the rest what the good board holds.
fn gather(good: &Planes, lanes: impl Iterator<Item = (bool, bool)>) -> Planes {
    let spread = |bit: bool| if bit { Word::ALL } else { Word::NONE };
    let (one, zero) = good.lane(0);
    let mut planes = Planes { one: spread(one), zero: spread(zero) };
    for (at, (one, zero)) in lanes.enumerate() {
        planes.one.set(at + 1, one);
        planes.zero.set(at + 1, zero);
    }
    planes
}
