//! Actions that are tried from where the lanes stand, and not done.

use super::Teller;
use dryjoint_faults::lanes::{Machine, Planes, Shown};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::{Action, Study};
use std::collections::BTreeSet;

impl<'s> Teller<'s, '_, '_> {
    /// What some signals would show after some more actions, as far as that is known: of each lane of the
    /// list, and last of the good board. Nothing is done.
    pub fn foresee(&mut self, actions: &[Action], signals: &[SignalId]) -> Vec<Vec<Shown>> {
        let known = self.foreseen.iter().position(|(known, _)| known == actions);
        let at = known.unwrap_or_else(|| {
            let played = self.tried(actions);
            self.foreseen.push((actions.to_vec(), played));
            self.foreseen.len() - 1
        });
        let (sure, drawn, heard) = &self.foreseen[at].1;
        let hears = |machine: usize, signal: SignalId| {
            heard.get(machine).map_or(Planes::UNKNOWN, |heard| heard[signal.index()])
        };
        let row = |(index, (machine, lane)): (Option<usize>, (usize, usize))| -> Vec<Shown> {
            let open = match index {
                _ if self.drawn.is_empty() => None,
                None => Some((0, 0)),
                Some(index) => self.open.binary_search(&index).ok().map(Study::lane),
            };
            let one = |&signal: &SignalId| {
                let known = sure[machine][signal.index()].shown(lane);
                let known = if known == Shown::Unknown { hears(machine, signal).shown(lane) } else { known };
                let Some((machine, lane)) = open.filter(|_| known == Shown::Unknown) else { return known };
                let way = |wake: usize| drawn[wake][machine][signal.index()].shown(lane);
                let first = way(0);
                if (1..self.drawn.len()).all(|wake| way(wake) == first) { first } else { Shown::Unknown }
            };
            signals.iter().map(one).collect()
        };
        let lanes = (0..self.lanes.len()).map(|index| (Some(index), Study::lane(index)));
        lanes.chain([(None, (0, 0))]).map(row).collect()
    }

    /// Two lanes of the list alone, as they surely stand: lanes 1 and 2 of a machine.
    pub fn two(&self, pair: [usize; 2]) -> Machine<'s> {
        let from = pair.map(Study::lane).map(|(machine, lane)| (&self.sure[machine], lane));
        let behaviours = pair.map(|index| self.lanes[index].behaviour.clone());
        self.sure[0].gathered(behaviours.to_vec(), &from)
    }

    /// A number for what every signal surely was in every lane, for each look that was taken since power last came on.
    pub fn met(&self) -> BTreeSet<u64> {
        let since = self.told.iter().rposition(|told| told.look.power).unwrap_or(0);
        self.told[since..].iter().map(|told| key(told.sure.iter().flatten())).collect()
    }

    /// The same after some more actions, which were foreseen.
    pub fn key_after(&self, actions: &[Action]) -> Option<u64> {
        let known = self.foreseen.iter().find(|(known, _)| known == actions);
        known.map(|(_, (sure, ..))| key(sure.iter().flatten()))
    }
}

/// A number for planes (the 64-bit hash of G. Fowler, L. Noll and K.-P. Vo, word by word): two states that share one
/// are taken for the same, and nothing worse.
fn key<'p>(planes: impl Iterator<Item = &'p Planes>) -> u64 {
    let words = planes.flat_map(|planes| planes.one.0.iter().chain(&planes.zero.0));
    words.fold(0xcbf2_9ce4_8422_2325u64, |key, &word| {
        (key ^ word).wrapping_mul(0x0000_0100_0000_01b3).rotate_left(29)
    })
}
