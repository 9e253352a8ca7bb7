//! Where a voltage is the good board's: most faults leave most of the board as it is.
//!
//! A net's voltage comes from the parts on it, and from what stands on the nets behind those. Where a fault has no lead
//! on any of these and all their levels are as on a good board, a meter shows what it shows there. That needs no
//! solving, and whoever it holds of gets no benefit of the doubt.

use crate::inquiry::known;
use crate::tell::Teller;
use dryjoint_board::{Board, NetId};
use dryjoint_faults::FaultId;
use dryjoint_ids::Id;
use dryjoint_procedure::Study;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Parts between a net and one that still matters: a stage's resistor, and the transistor behind it.
const PARTS: usize = 2;

/// A part with more pins joins nothing: a header, a pack of many.
const MOST_PINS: usize = 4;

/// The surroundings of the nets that were measured.
#[derive(Debug, Default)]
pub struct Around {
    /// Per net, by the place of each fault: whether it has a lead near.
    touched: BTreeMap<NetId, Vec<bool>>,
    /// Per look and net, by the lane: whether all levels near are as on a good board.
    same: BTreeMap<(usize, NetId), Vec<bool>>,
}

/// The nets within so many parts of one, itself included.
fn near(board: &Board, net: NetId) -> BTreeSet<NetId> {
    let mut all = BTreeSet::from([net]);
    let mut edge = vec![net];
    for _ in 0..PARTS {
        let pins = edge.iter().flat_map(|&net| &board.nets[net].pins);
        let parts = pins.map(|&pin| &board.parts[board.pins[pin].part].pins);
        let next = parts.filter(|pins| pins.len() <= MOST_PINS).flatten().map(|&pin| board.pins[pin].net);
        let next: BTreeSet<NetId> = next.filter(|&net| board.nets[net].supply.is_none()).collect();
        edge = next.into_iter().filter(|&net| all.insert(net)).collect();
    }
    all
}

impl Around {
    /// Learns the surroundings of a net at a look.
    pub fn learn(&mut self, study: &Study, teller: &Teller, look: usize, net: NetId) {
        if self.same.contains_key(&(look, net)) {
            return;
        }
        let board = study.extracted.shape.board;
        let near = near(board, net);
        self.touched.entry(net).or_insert_with(|| {
            let faults = study.faults.rows().iter();
            faults.map(|fault| fault.nets(board).iter().any(|net| near.contains(net))).collect()
        });
        let signals: BTreeSet<_> = near.iter().filter_map(|&net| study.extracted.signal_of[net]).collect();
        let same = |lane: usize| {
            signals.iter().all(|&signal| {
                let good = teller.good(look, signal);
                known(good).is_some() && teller.likely(look, Some(lane), signal) == good
            })
        };
        let same = (0..teller.lanes().len()).into_par_iter().map(same).collect();
        self.same.insert((look, net), same);
    }

    /// Whether a net's voltage with a fault, which this lane tells of, is the good board's; not where that was not learnt.
    pub fn is_good(&self, look: usize, net: NetId, fault: FaultId, lane: usize) -> bool {
        let touched = self.touched.get(&net).is_none_or(|touched| touched[fault.index()]);
        !touched && self.same.get(&(look, net)).is_some_and(|same| same[lane])
    }

    /// Forgets the looks; who has a lead where stays.
    pub fn clear(&mut self) {
        self.same.clear();
    }
}
