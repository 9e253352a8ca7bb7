//! What no reading tells apart: the faults of a suspect, held against every reading within one move.
//!
//! A hunt that ends with several faults may have missed a reading, or there may be none. Here nobody saves
//! steps: each circuit is solved in the state the board stands in and in each that one look's actions bring, and
//! compared at every net a lead reaches, at the supply's display, and by ohms between the nets of its parts.

use super::gain::Past;
use super::lamps::Looks;
use super::meter::APART;
use super::ohms::figure;
use crate::Inquiry;
use crate::meter::{OHMS_SPREAD, amps_spread, volts_spread};
use crate::point::Whose;
use crate::suspect::Suspect;
use crate::tell::{Lane, Teller};
use dryjoint_board::NetId;
use dryjoint_faults::FaultId;
use dryjoint_procedure::{Costs, Procedure};
use dryjoint_session::Session;
use std::collections::{BTreeMap, BTreeSet};

/// One circuit of a suspect: who stands for it, the lane that tells what it shows, its faults.
struct Circuit {
    whose: Whose,
    lane: usize,
    faults: Vec<FaultId>,
}

impl Inquiry<'_, '_, '_> {
    /// A suspect's faults in classes: two are in one where no voltage, current or resistance within one look's
    /// actions of where the board stands tells them apart, or tells either from a third in the same class.
    /// The verdict on the session comes first. Takes seconds: for those who ask what was missed.
    pub fn apart(
        &mut self,
        procedure: &Procedure,
        costs: &Costs,
        session: &Session,
        suspect: &Suspect,
    ) -> Vec<Vec<FaultId>> {
        let circuits = self.circuits_in(suspect);
        let count = circuits.len();
        let mut apart = vec![vec![false; count]; count];
        if count > 1 {
            self.by_volts(procedure, costs, session, &circuits, &mut apart);
            self.by_ohms(&circuits, &mut apart);
        }
        let mut class: Vec<usize> = (0..count).collect();
        for (one, row) in apart.iter().enumerate() {
            for other in (0..one).filter(|&other| !row[other] && !apart[other][one]) {
                let (from, to) = (class[one].max(class[other]), class[one].min(class[other]));
                class.iter_mut().filter(|class| **class == from).for_each(|class| *class = to);
            }
        }
        let mut classes: BTreeMap<usize, Vec<FaultId>> = BTreeMap::new();
        for (class, circuit) in class.into_iter().zip(circuits) {
            classes.entry(class).or_default().extend(circuit.faults);
        }
        classes.into_values().collect()
    }

    fn circuits_in(&self, suspect: &Suspect) -> Vec<Circuit> {
        let lane_of = |fault: FaultId| {
            let known = self.posterior.iter().flat_map(|posterior| &posterior.faults);
            let known = known.clone().find(|&&(_, known, _)| known == fault).map(|&(lane, ..)| lane);
            known.or_else(|| Some(self.ways[dryjoint_ids::Id::index(self.study.group_of(fault)?)].start))
        };
        let mut circuits: Vec<Circuit> = Vec::new();
        for &(fault, _) in &suspect.faults {
            let whose = self.points.stand_in(Some(fault));
            match circuits.iter_mut().find(|circuit| circuit.whose == whose) {
                Some(circuit) => circuit.faults.push(fault),
                None => {
                    circuits.extend(lane_of(fault).map(|lane| Circuit { whose, lane, faults: vec![fault] }))
                }
            }
        }
        circuits
    }

    fn by_volts(
        &mut self,
        procedure: &Procedure,
        costs: &Costs,
        session: &Session,
        circuits: &[Circuit],
        apart: &mut [Vec<bool>],
    ) {
        let looks = Looks {
            study: self.study,
            procedure,
            costs,
            session,
            past: Past::default(),
            met: BTreeSet::new(),
            by_lamps: false,
            least: 0.0,
        };
        let mut ways = looks.candidates(&self.teller);
        if !session.is_off() {
            ways.insert(0, (None, Vec::new()));
        }
        let lanes: Vec<Lane> =
            circuits.iter().map(|circuit| self.teller.lanes()[circuit.lane].clone()).collect();
        let mut ahead = Teller::new(self.study, lanes);
        ahead.follow(session);
        ahead.hear_as(&self.teller, &circuits.iter().map(|circuit| circuit.lane).collect::<Vec<_>>());
        let who: Vec<(Whose, Option<usize>)> =
            circuits.iter().enumerate().map(|(at, circuit)| (circuit.whose, Some(at))).collect();
        let nets = self.reachable();
        for (_, actions) in ways {
            let look = ahead.imagine(&actions);
            self.points.allow(usize::MAX);
            self.points.solve(self.study, &ahead, look, &who);
            let point = |at: usize| self.points.get(circuits[at].whose, look);
            for &net in &nets {
                let volts = |at: usize| point(at)?.volts(net).map(|volts| volts.0);
                tell(apart, volts, volts_spread);
            }
            tell(apart, |at| Some(point(at)?.supply().0), amps_spread);
            self.points.forget(look);
            ahead.forget(look);
        }
    }

    fn by_ohms(&mut self, circuits: &[Circuit], apart: &mut [Vec<bool>]) {
        let board = self.study.extracted.shape.board;
        let mut pairs: Vec<(NetId, NetId)> = Vec::new();
        let parts = circuits.iter().flat_map(|circuit| &circuit.faults);
        for part in parts.flat_map(|&fault| self.study.faults[fault].parts(board)) {
            let nets: Vec<NetId> = board.parts[part].pins.iter().map(|&pin| board.pins[pin].net).collect();
            let reached = |net: NetId| board.nets[net].reachable || board.nets[net].supply.is_some();
            for (at, &one) in nets.iter().enumerate() {
                for &other in nets[at + 1..].iter().filter(|&&other| other != one) {
                    if reached(one) && reached(other) && nets.len() <= MOST_PINS {
                        pairs.extend([(one, other), (other, one)]);
                    }
                }
            }
        }
        pairs.sort_unstable();
        pairs.dedup();
        let who: Vec<Whose> = circuits.iter().map(|circuit| circuit.whose).collect();
        for (red, black) in pairs {
            self.solve_ohms(&[(red, black)], &who);
            let ohms = |at: usize| self.points.ohms(circuits[at].whose, red, black).map(figure);
            tell(apart, ohms, |_| OHMS_SPREAD);
        }
    }
}

/// A part with more pins than this is no place to measure across pin by pin.
const MOST_PINS: usize = 3;

/// Marks who differs from whom in a figure by more than a meter's spread.
fn tell(apart: &mut [Vec<bool>], figure: impl Fn(usize) -> Option<f64>, spread: impl Fn(f64) -> f64) {
    let figures: Vec<Option<f64>> = (0..apart.len()).map(figure).collect();
    for (row, one) in apart.iter_mut().zip(&figures) {
        for (apart, other) in row.iter_mut().zip(&figures) {
            if let (Some(one), Some(other)) = (one, other) {
                *apart |= (one - other).abs() > APART * spread(one.abs().max(other.abs()));
            }
        }
    }
}
