//! Where a voltage is the good board's: most faults leave most of the board as it is.
//!
//! A net's voltage comes from the parts on it, and from what stands on the nets behind those. Where a fault has no lead
//! on any of these and all their levels are as on a good board, a meter shows what it shows there. That needs no
//! solving, and whoever it holds of gets no benefit of the doubt.

use crate::inquiry::known;
use crate::tell::Teller;
use dryjoint_board::{Board, NetId, PartId, PartKind};
use dryjoint_faults::{Fault, FaultId};
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

/// Whether a fault may change what the whole board is fed with: at a connector, between supplies alone, or by what a
/// transistor draws that finds its collector joined to a rail, when the supply goes into its limit.
fn feeds(board: &Board, fault: &Fault) -> bool {
    let is_header = |part: PartId| board.parts[part].kind == PartKind::Header;
    let nets = fault.nets(board);
    let mut fed = nets.iter().map(|&net| board.nets[net].supply.is_some());
    let joined = match fault {
        Fault::Bridge(..) | Fault::RailShort(..) => fed.any(|fed| fed),
        _ => fed.all(|fed| fed),
    };
    joined || fault.parts(board).into_iter().any(is_header)
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
            let touches =
                |fault: &Fault| feeds(board, fault) || fault.nets(board).iter().any(|net| near.contains(net));
            study.faults.rows().iter().map(touches).collect()
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

    /// Forgets the looks from this one on; who has a lead where stays.
    pub fn forget(&mut self, look: usize) {
        self.same.retain(|&(at, _), _| at < look);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::latch::with_latch;
    use crate::meter::volts_spread;
    use crate::tell::Lane;
    use dryjoint_procedure::Action;
    use dryjoint_session::{Session, Unit};

    /// Every fault of a latch and every net, against virtual units whose circuit shares nothing with the lanes: what is said
    /// to be as on the good board is, as far as a meter tells.
    #[test]
    fn what_is_said_to_be_the_good_boards_is() {
        with_latch(held_against_units);
    }

    fn held_against_units(study: &Study) {
        let (board, extracted) = (study.extracted.shape.board, study.extracted);
        let set = board.lines.iter().find(|(_, line)| line.name == "/SET").map(|(id, _)| id).expect("a line");
        let mut session = Session::new("1");
        let look = session.act(None, &[Action::Pulse(set)]).index();
        let lane =
            |(group, row): (_, &dryjoint_procedure::Group)| Lane { group, behaviour: row.behaviour.clone() };
        let mut teller = Teller::new(study, study.groups.iter().map(lane).collect());
        teller.follow(&session);
        let mut around = Around::default();
        board.nets.ids().for_each(|net| around.learn(study, &teller, look, net));
        let shown = |faults: &[FaultId]| {
            let faults: Vec<_> = faults.iter().map(|&fault| study.faults[fault]).collect();
            let mut unit = Unit::new(extracted, &faults, 1).ok()?;
            unit.act(Action::Pulse(set)).ok()?;
            Some(board.nets.ids().map(|net| unit.volts(net)).collect::<Vec<_>>())
        };
        let good = shown(&[]).expect("a point");
        let mut held = 0;
        for (group, row) in study.groups.iter() {
            for &fault in &row.faults {
                let Some(own) = shown(&[fault]) else { continue };
                for net in board.nets.ids().filter(|&net| around.is_good(look, net, fault, group.index())) {
                    let (Some(own), Some(good)) = (own[net.index()], good[net.index()]) else { continue };
                    assert!(
                        (own - good).0.abs() < volts_spread(good.0),
                        "{} at {}: {own:?} where a good board has {good:?}",
                        study.faults[fault].name(board),
                        board.nets[net].name
                    );
                    held += 1;
                }
            }
        }
        assert!(held > 500, "{held}");
    }
}
