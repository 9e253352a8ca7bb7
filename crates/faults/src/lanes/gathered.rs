//! Boards in other lanes: where the faults of many lanes are of no more account, the rest goes on closer together.
//!
//! A lane ends the same whoever its neighbours are, so nothing has to be played again: what each board holds is put into its
//! new lane.

use super::behaviour::Behaviour;
use super::machine::Machine;
use super::state::{Contribution, State};
use super::word::{Planes, Word};
use dryjoint_logic::SignalId;
use std::collections::BTreeSet;

impl Machine<'_> {
    /// Machines at rest go on in fewer lanes: lane `k + 1` carries `behaviours[k]`, with which it stands as the lane of
    /// the machine in `from[k]` does, and all others are the good board of this one. The hands hold the same in all of them.
    ///
    /// # Panics
    ///
    /// Where `from` has more machines than there are lanes.
    #[must_use]
    pub fn gathered(&self, behaviours: Vec<Behaviour>, from: &[(&Self, usize)]) -> Self {
        let mut machine = Self::new(self.program, behaviours);
        for (signal, value) in self.state.values.iter() {
            let lanes = from.iter().map(|(old, lane)| old.state.values[signal].lane(*lane));
            machine.state.values[signal] = gather(value, lanes);
        }
        for (stage, good) in self.state.contributions.iter() {
            let lanes = |of: fn(&Contribution) -> &Planes| {
                let lanes =
                    from.iter().map(move |(old, lane)| of(&old.state.contributions[stage]).lane(*lane));
                gather(of(good), lanes)
            };
            machine.state.contributions[stage] =
                Contribution { low: lanes(|c| &c.low), high: lanes(|c| &c.high) };
        }
        machine.state.bench.clone_from(&self.state.bench);
        let states = || std::iter::once(&self.state).chain(from.iter().map(|(old, _)| &old.state));
        let stand: BTreeSet<SignalId> = states().flat_map(State::standing).collect();
        for signal in stand {
            let lanes = from.iter().map(|(old, lane)| old.state.stands(signal).lane(*lane));
            machine.state.stands.push((signal, gather(&self.state.stands(signal), lanes)));
        }
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
