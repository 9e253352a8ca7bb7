//! The region of a certificate built a second time, straight from the board, and its currents added up.
//!
//! Every part becomes what flows into its ends at the claimed voltages; nothing is solved. A plain list of parts
//! with the fault written into it, one pass over them for each row.

use super::laws::{junction, resistor, transistor};
use super::soldered::{BRIDGE, JUMPER, Soldered, joined, soldered};
use super::{Certificate, Edge, Objection, Place, Point, Stand};
use crate::Fault;
use dryjoint_board::{NetId, PartId, PartKind, PinId, Supply};
use dryjoint_logic::Extracted;
use dryjoint_parts::{Bipolar, Diode, Lamp, Model};
use dryjoint_units::{Amps, Ohms, Volts};
use std::collections::{BTreeMap, BTreeSet};

/// At no node may more current be missing, amps: a few times what the solver is content with, a tenth of a
/// percent of what one base takes.
const MISSING: f64 = 2e-9;
/// How exactly a source must stand at its voltage.
const HELD: f64 = 1e-6;
/// The collector resistor of a stage, and what a clock source pulls low through.
const COLLECTOR: f64 = 2200.0;
const CLOCK_LOW: f64 = 100.0;

/// One thing that current flows through, with its ends.
enum Element {
    Resistor(f64, [Place; 2]),
    /// A diode or a lamp, from anode to cathode.
    Junction(Diode, [Place; 2], super::Fitted),
    Transistor(Bipolar, [Place; 3], super::Fitted),
}

/// What flows from each end of an element into it, and what is missing behind its series resistances.
struct Flows {
    ends: Vec<(Place, f64)>,
    inside: f64,
}

/// A region in one of its rows, on the good or on the faulty board.
pub(super) struct Region<'c, 'e, 'b> {
    pub extracted: &'e Extracted<'b>,
    pub certificate: &'c Certificate,
    pub row: usize,
    pub faulty: bool,
    elements: Vec<Element>,
    /// Nets and inputs of stand-ins that ideal sources hold.
    held: BTreeMap<Place, f64>,
}

impl<'c, 'e, 'b> Region<'c, 'e, 'b> {
    /// Builds it; `lifted` are the outputs of drivers that stand-ins speak for.
    pub(super) fn new(
        extracted: &'e Extracted<'b>,
        certificate: &'c Certificate,
        lifted: &BTreeSet<PinId>,
        row: usize,
        faulty: bool,
    ) -> Self {
        let held = certificate.held.iter().map(|&(net, volts)| (Place::Net(net), volts.0)).collect();
        let mut region = Self { extracted, certificate, row, faulty, elements: Vec::new(), held };
        region.solder(lifted);
        let mut rest = row;
        for (at, edge) in certificate.edges.iter().enumerate() {
            let (_, stand) = &edge.ways[rest % edge.ways.len()];
            rest /= edge.ways.len();
            region.stand_in(at, edge, stand);
        }
        region
    }

    fn point(&self) -> &'c Point {
        &self.certificate.rows[self.row][usize::from(self.faulty)]
    }

    /// The claimed voltage of a place; ground is at nothing.
    pub(super) fn volts(&self, place: Place) -> Result<f64, Objection> {
        if self.is_ground(place) {
            return Ok(0.0);
        }
        let claimed = self.point().volts.get(&place).copied().filter(|volts| volts.is_finite());
        claimed.ok_or(Objection::NoVoltage(place))
    }

    fn is_ground(&self, place: Place) -> bool {
        self.supply(place) == Some(Supply::Ground)
    }

    fn supply(&self, place: Place) -> Option<Supply> {
        match place {
            Place::Net(net) => self.extracted.shape.board.nets[net].supply,
            Place::Lifted(_) | Place::StandIn(..) => None,
        }
    }

    fn rail(&self) -> Place {
        Place::Net(self.extracted.shape.rail_net())
    }

    /// The parts of the board, with what is wrong on it.
    fn solder(&mut self, lifted: &BTreeSet<PinId>) {
        let board = self.extracted.shape.board;
        let fault = self.certificate.fault.filter(|_| self.faulty);
        let mut air = lifted.clone();
        for &pin in lifted {
            self.elements.push(Element::Resistor(COLLECTOR, [Place::Lifted(pin), self.rail()]));
        }
        if let Some(Fault::JointOpen(pin)) = fault {
            air.insert(pin);
        }
        for &part in &self.certificate.parts {
            let Some(Soldered { kind, ends, card }) = soldered(board, part, fault.as_ref(), &air) else {
                continue;
            };
            let own = |model| card.clone().unwrap_or_else(|| board.models[model].model.clone());
            self.fit(&kind, &ends, (None, part), own);
        }
        if let Some(ends) = fault.and_then(|fault| joined(board, &fault)) {
            self.elements.push(Element::Resistor(BRIDGE, ends));
        }
    }

    fn fit(
        &mut self,
        kind: &PartKind,
        ends: &[Place],
        fitted: super::Fitted,
        card: impl Fn(dryjoint_board::ModelId) -> Model,
    ) {
        let element = match (kind, ends) {
            (PartKind::Resistor { ohms: Ohms(ohms), .. }, &[a, b]) => Element::Resistor(*ohms, [a, b]),
            (PartKind::Link, &[a, b]) => Element::Resistor(JUMPER, [a, b]),
            // A selector stands at its first position; buttons are up and toggles off.
            (PartKind::Selector, &[common, first, ..]) => Element::Resistor(JUMPER, [common, first]),
            (PartKind::Diode(model) | PartKind::Lamp(model), &[a, k]) => match card(*model) {
                Model::Diode(diode) => Element::Junction(diode, [a, k], fitted),
                Model::Lamp(lamp) => Element::Junction(lamp.junction, [a, k], fitted),
                _ => return,
            },
            (PartKind::Bipolar(model), &[c, b, e]) => match card(*model) {
                Model::Bipolar(bipolar) => Element::Transistor(bipolar, [c, b, e], fitted),
                _ => return,
            },
            _ => return,
        };
        self.elements.push(element);
    }

    /// What one way of driving puts on the region.
    fn stand_in(&mut self, at: usize, edge: &Edge, stand: &Stand) {
        let shape = &self.extracted.shape;
        let board = shape.board;
        let ground = board.nets.iter().find(|(_, net)| net.supply == Some(Supply::Ground));
        let to = |high: bool| if high { Some(self.rail()) } else { ground.map(|(id, _)| Place::Net(id)) };
        let signal = Place::Net(edge.net);
        let (cluster, inputs) = match stand {
            Stand::Nobody => return,
            Stand::Hand(high) => {
                let ends = to(*high).map(|to| [signal, to]);
                self.elements.extend(ends.map(|ends| Element::Resistor(JUMPER, ends)));
                return;
            }
            Stand::Clock(high) => {
                let ohms = if *high { COLLECTOR } else { CLOCK_LOW };
                let ends = to(*high).map(|to| [signal, to]);
                self.elements.extend(ends.map(|ends| Element::Resistor(ohms, ends)));
                return;
            }
            Stand::Copy(cluster, inputs) => (*cluster, inputs),
        };
        for &(net, Volts(volts)) in inputs {
            self.held.insert(Place::StandIn(at, net), volts);
        }
        for &part in &shape.clusters.rows[cluster].parts {
            let pins = board.parts[part].pins.iter().map(|&pin| shape.nodes.first(board.pins[pin].net));
            let own = |net: NetId| match net == edge.net || shape.nodes.is_supply(net) {
                true => Place::Net(net),
                false => Place::StandIn(at, net),
            };
            let ends: Vec<Place> = pins.map(own).collect();
            let card = |model| board.models[model].model.clone();
            self.fit(&board.parts[part].kind, &ends, (Some(at), part), card);
        }
    }

    /// Adds up what flows out of every place; the most that is missing anywhere, and at how many places.
    pub(super) fn add_up(&self) -> Result<(f64, usize), Objection> {
        let mut sums: BTreeMap<Place, f64> = BTreeMap::new();
        let mut most = 0.0;
        for element in &self.elements {
            let Flows { ends, inside } = self.flows(element)?;
            most = f64::max(most, self.bear(inside, ends[0].0)?);
            for (place, amps) in ends {
                *sums.entry(place).or_default() += amps;
            }
        }
        for (&place, &sum) in &sums {
            most = f64::max(most, self.bear(self.missing(place, sum)?, place)?);
        }
        Ok((most, sums.len()))
    }

    /// So much missing current, where that can be borne.
    fn bear(&self, missing: f64, place: Place) -> Result<f64, Objection> {
        if missing.abs() <= MISSING {
            Ok(missing.abs())
        } else {
            Err(Objection::Current(self.row, self.faulty, place, Amps(missing)))
        }
    }

    /// What is missing at a place out of which so much flows into the parts on it.
    fn missing(&self, place: Place, sum: f64) -> Result<f64, Objection> {
        let volts = self.volts(place)?;
        match (self.supply(place), self.held.get(&place)) {
            (Some(Supply::Ground), _) => Ok(0.0),
            // A bench supply gives its voltage up to its limit, and takes nothing back.
            (Some(Supply::Rail { volts: Volts(set), limit: Amps(limit) }), _) => {
                if volts < set - HELD {
                    Ok(sum - limit)
                } else if volts > set + HELD {
                    Ok(sum)
                } else if (-MISSING..=limit + MISSING).contains(&sum) {
                    Ok(0.0)
                } else {
                    Err(Objection::Held(place))
                }
            }
            (None, Some(held)) if (volts - held).abs() <= HELD => Ok(0.0),
            (None, Some(_)) => Err(Objection::Held(place)),
            (None, None) => Ok(sum),
        }
    }

    /// What flows from each end of an element into it, and what is missing behind its series resistances.
    fn flows(&self, element: &Element) -> Result<Flows, Objection> {
        Ok(match element {
            Element::Resistor(ohms, [a, b]) => {
                let i = resistor(ohms.max(1e-6), self.volts(*a)?, self.volts(*b)?);
                Flows { ends: vec![(*a, i), (*b, -i)], inside: 0.0 }
            }
            Element::Junction(card, [a, k], fitted) => {
                let (outer, below) = (self.volts(*a)?, self.volts(*k)?);
                let [inner, _] = self.inner(*fitted, [card.rs.0, 0.0], [outer, outer], *a)?;
                let i = junction(card, inner - below);
                let into = if card.rs.0 > 0.0 { resistor(card.rs.0, outer, inner) } else { i };
                Flows { ends: vec![(*a, into), (*k, -i)], inside: into - i }
            }
            Element::Transistor(card, [c, b, e], fitted) => {
                let [vc, vb, ve] = [self.volts(*c)?, self.volts(*b)?, self.volts(*e)?];
                let series = [card.rc.0, card.rb.0];
                let inner = self.inner(*fitted, series, [vc, vb], *c)?;
                let [ic, ib] = transistor(card, inner[0], inner[1], ve);
                let [into_c, into_b] = if series == [0.0, 0.0] {
                    [ic, ib]
                } else {
                    let [rc, rb] = series.map(|ohms| ohms.max(1e-6));
                    [resistor(rc, vc, inner[0]), resistor(rb, vb, inner[1])]
                };
                // NaN stays NaN, and is refused.
                let inside = (into_c - ic).abs() + (into_b - ib).abs();
                Flows { ends: vec![(*c, into_c), (*b, into_b), (*e, -ic - ib)], inside }
            }
        })
    }

    /// The claimed voltages behind series resistances; those outside where there are none.
    fn inner(
        &self,
        fitted: super::Fitted,
        series: [f64; 2],
        outer: [f64; 2],
        at: Place,
    ) -> Result<[f64; 2], Objection> {
        if series == [0.0, 0.0] {
            return Ok(outer);
        }
        self.point().inner.get(&fitted).copied().ok_or(Objection::NoVoltage(at))
    }

    /// The forward current of a lamp of the board; nothing where it is not fitted.
    pub(super) fn lamp(&self, part: PartId) -> Result<f64, Objection> {
        for element in &self.elements {
            if let Element::Junction(_, _, fitted) = element
                && *fitted == (None, part)
            {
                return Ok(self.flows(element)?.ends[0].1);
            }
        }
        Ok(0.0)
    }

    /// The card of a lamp.
    pub(super) fn looks(&self, part: PartId) -> Option<Lamp> {
        let board = self.extracted.shape.board;
        match board.parts[part].kind {
            PartKind::Lamp(model) => match &board.models[model].model {
                Model::Lamp(lamp) => Some(lamp.clone()),
                _ => None,
            },
            _ => None,
        }
    }

    /// Whether no transistor acts back on itself through another. Places that resistors and junctions join
    /// move together; a transistor's base moves its collector and emitter. Where each round of this has at most one
    /// transistor in it, a circuit of Ebers–Moll transistors and resistors has one operating point (Nielsen
    /// and Willson, Proc. IEEE 68, 1980; from memory).
    pub(super) fn is_alone(&self) -> bool {
        let fixed = |place: Place| self.supply(place).is_some() || self.held.contains_key(&place);
        let mut group: BTreeMap<Place, usize> = BTreeMap::new();
        let mut join = |ends: &[Place]| {
            let ends: Vec<Place> = ends.iter().copied().filter(|&end| !fixed(end)).collect();
            let fresh = group.len();
            let known: Vec<usize> = ends.iter().filter_map(|end| group.get(end).copied()).collect();
            let to = known.iter().copied().min().unwrap_or(fresh);
            group.values_mut().filter(|at| known.contains(at)).for_each(|at| *at = to);
            ends.into_iter().for_each(|end| {
                group.insert(end, to);
            });
        };
        for element in &self.elements {
            match element {
                Element::Resistor(_, ends) | Element::Junction(_, ends, _) => join(ends),
                // Its other two ends move each other.
                Element::Transistor(_, [c, b, e], _) => {
                    join(&[*b]);
                    join(&[*c, *e]);
                }
            }
        }
        let mut moves: BTreeMap<usize, BTreeSet<(usize, usize)>> = BTreeMap::new();
        for (number, element) in self.elements.iter().enumerate() {
            let Element::Transistor(_, [c, b, e], _) = element else { continue };
            let Some(&from) = group.get(b) else { continue };
            for to in [c, e].into_iter().filter_map(|end| group.get(end)) {
                moves.entry(from).or_default().insert((*to, number));
            }
        }
        // A round through two transistors: from one of them on, the other is reached and leads back.
        let reached = |from: usize| -> BTreeSet<usize> {
            let mut seen = BTreeSet::from([from]);
            let mut open = vec![from];
            while let Some(at) = open.pop() {
                for &(to, _) in moves.get(&at).into_iter().flatten() {
                    if seen.insert(to) {
                        open.push(to);
                    }
                }
            }
            seen
        };
        let rounds: Vec<(BTreeSet<usize>, usize, usize)> = moves
            .iter()
            .flat_map(|(&from, all)| all.iter().map(move |&(to, number)| (from, to, number)))
            .map(|(from, to, number)| (reached(to), from, number))
            .filter(|(seen, from, _)| seen.contains(from))
            .collect();
        rounds.iter().all(|(seen, _, number)| {
            rounds.iter().all(|(_, other, another)| number == another || !seen.contains(other))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryjoint_logic::extract;

    #[test]
    fn a_latch_is_not_alone_and_with_its_way_back_cut_it_is() {
        let text = "board pair\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=A\n\
            R1 2k2 VCC A\nR2 22k A b\nQ1 2N3904 B b GND\nR3 2k2 VCC B\nR4 22k B a\nQ2 2N3904 A a GND\n";
        let mut loader = |_: &str| Err("no such file".to_owned());
        let board = dryjoint_netlist::read("pair.board", text, &mut loader).board.expect("a sound board");
        let (extracted, _) = extract(&board);
        let alone = |without: &str| {
            let parts = board.parts.iter().filter(|(_, part)| part.reference != without).map(|(id, _)| id);
            let certificate = Certificate {
                fault: None,
                core: Vec::new(),
                signals: Vec::new(),
                cut_off: None,
                parts: parts.collect(),
                held: Vec::new(),
                edges: Vec::new(),
                rows: vec![Default::default()],
            };
            Region::new(&extracted, &certificate, &BTreeSet::new(), 0, false).is_alone()
        };
        assert!(!alone("") && !alone("R1"));
        assert!(alone("R2") && alone("Q2"));
    }
}
