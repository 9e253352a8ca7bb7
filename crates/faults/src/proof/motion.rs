//! A circuit in time as plain as it can be: what flows into every node by the published laws, backward Euler steps so
//! short that nothing moves by more than a twentieth of a volt, Gauss elimination.
//!
//! It is there to disagree with the solver where that is wrong, so it shares the parts' cards with it and nothing else: no laws,
//! no integration rule, no control of the step, no matrix. Slopes are taken by differences. Left out: the ohms inside a transistor and
//! a diode, and that a junction's capacitance moves with its voltage.

use super::Place;
use super::laws::{junction, resistor, transistor_in_time, wrong_way};
use super::soldered::{JUMPER, Soldered};
use dryjoint_board::{Board, PartKind};
use dryjoint_parts::{Bipolar, Diode, Model};
use dryjoint_units::{Farads, Ohms};
use std::collections::BTreeMap;

/// The wiring of a net, against ground, farads (judgement: some centimetres of wire).
const WIRING: f64 = 20e-12;
/// Nothing moves by more than this in a step, volts.
const MOVE: f64 = 0.05;
/// Newton's method has come to its end where it moves nothing by more than this, volts; the next step would move less than a
/// millionth of it.
const SETTLED: f64 = 1e-5;
/// No voltage jumps over the bend of a junction, volts.
const JUMP: f64 = 0.3;
/// For slopes, volts.
const NUDGE: f64 = 1e-6;
/// A node's own slope is good enough for a pivot from this share of the greatest on.
const OWN: f64 = 1e-3;
/// Every node leaks, so that none hangs in the air, siemens.
const LEAK: f64 = 1e-9;
/// An electrolytic leaks .01·C·V the right way round (the rule of datasheets), and has 5·10⁻⁴ Ω·F of electrolyte.
const LEAKAGE: f64 = 0.01;
const ELECTROLYTE: f64 = 5e-4;

/// What carries current between nodes.
#[derive(Clone)]
enum Element {
    Resistor([usize; 2], f64),
    /// With the charge that it holds.
    Capacitor([usize; 2], f64, f64),
    Junction([usize; 2], Box<Diode>),
    /// The oxide of an electrolytic, from its minus to its plus.
    Oxide([usize; 2], f64),
    /// Collector, base, emitter, with the charges held between base and emitter, and base and collector.
    Transistor([usize; 3], Box<Bipolar>, [f64; 2]),
}

/// A circuit, and where it stands. Node 0 is ground; it and the supplies are held, all else moves.
#[derive(Clone)]
pub(super) struct Motion {
    volts: Vec<f64>,
    held: usize,
    elements: Vec<Element>,
    node_of: BTreeMap<Place, usize>,
    pub time: f64,
    step: f64,
}

impl Motion {
    /// An empty circuit with supplies of so many volts, at the nodes from 1 on.
    pub(super) fn new(supplies: &[f64]) -> Self {
        let volts: Vec<f64> = std::iter::once(0.0).chain(supplies.iter().copied()).collect();
        let held = volts.len();
        Self { volts, held, elements: Vec::new(), node_of: BTreeMap::new(), time: 0.0, step: 1e-9 }
    }

    /// Puts a place on a node that is held.
    pub(super) fn hold(&mut self, place: Place, node: usize) {
        self.node_of.insert(place, node);
    }

    /// The node of a place, new where there was none: with its wiring.
    pub(super) fn node(&mut self, place: Place) -> usize {
        if let Some(&node) = self.node_of.get(&place) {
            return node;
        }
        let node = self.inner();
        self.node_of.insert(place, node);
        self.elements.push(Element::Capacitor([node, 0], WIRING, 0.0));
        node
    }

    /// A node within a part.
    fn inner(&mut self) -> usize {
        self.volts.push(0.0);
        self.volts.len() - 1
    }

    /// The volts of a place; nothing where it is none of the circuit.
    pub(super) fn volts(&self, place: Place) -> Option<f64> {
        self.node_of.get(&place).map(|&node| self.volts[node])
    }

    /// Whether a place is one of the circuit that nothing holds.
    pub(super) fn moves(&self, place: Place) -> bool {
        self.node_of.get(&place).is_some_and(|&node| node >= self.held)
    }

    /// A resistor; its number.
    pub(super) fn resistor(&mut self, ends: [Place; 2], ohms: f64) -> usize {
        let ends = ends.map(|end| self.node(end));
        self.elements.push(Element::Resistor(ends, ohms));
        self.elements.len() - 1
    }

    /// Takes a resistor off.
    pub(super) fn open(&mut self, number: usize) {
        if let Some(Element::Resistor(_, ohms)) = self.elements.get_mut(number) {
            *ohms = f64::INFINITY;
        }
    }

    /// Puts a part in. Switches are open, and what only a connector or a test point has hangs in the air.
    pub(super) fn fit(&mut self, board: &Board, part: Soldered) {
        let Soldered { kind, ends, card } = part;
        let nodes: Vec<usize> = ends.into_iter().map(|end| self.node(end)).collect();
        let card = |model| card.clone().unwrap_or_else(|| board.models[model].model.clone());
        match (kind, &nodes[..]) {
            (PartKind::Resistor { ohms: Ohms(ohms), .. }, &[a, b]) => {
                self.elements.push(Element::Resistor([a, b], ohms));
            }
            (PartKind::Link, &[a, b]) => self.elements.push(Element::Resistor([a, b], JUMPER)),
            (PartKind::Capacitor { farads: Farads(farads), polar }, &[plus, minus]) => {
                self.elements.push(Element::Capacitor([plus, minus], farads, 0.0));
                if polar {
                    let inner = self.inner();
                    self.elements.push(Element::Resistor([plus, minus], 1.0 / (LEAKAGE * farads)));
                    self.elements.push(Element::Resistor([minus, inner], ELECTROLYTE / farads));
                    self.elements.push(Element::Oxide([inner, plus], farads));
                }
            }
            (PartKind::Diode(model) | PartKind::Lamp(model), &[a, k]) => {
                let card = match card(model) {
                    Model::Diode(diode) => diode,
                    Model::Lamp(lamp) => lamp.junction,
                    _ => return,
                };
                self.elements.push(Element::Junction([a, k], Box::new(card)));
            }
            (PartKind::Bipolar(model), &[c, b, e]) => {
                if let Model::Bipolar(card) = card(model) {
                    self.elements.push(Element::Transistor([c, b, e], Box::new(card), [0.0; 2]));
                }
            }
            _ => {}
        }
    }

    /// Charges the first capacitor whose ends both lie among some nets, to so many volts: so that the base that it hangs on is
    /// held off. A pair of transistors that are quite alike would else not know which is to begin.
    pub(super) fn kick(&mut self, among: &[Place], volts: f64) {
        let among: Vec<usize> = among.iter().filter_map(|place| self.node_of.get(place).copied()).collect();
        let is_base = |node: usize| {
            self.elements
                .iter()
                .any(|one| matches!(one, Element::Transistor([_, base, _], ..) if *base == node))
        };
        let first = self.elements.iter().enumerate().find_map(|(at, one)| match one {
            Element::Capacitor(ends, farads, _) if ends.iter().all(|end| among.contains(end)) => {
                Some((at, if is_base(ends[1]) { *farads } else { -farads }))
            }
            _ => None,
        });
        if let Some((at, farads)) = first
            && let Element::Capacitor(_, _, charge) = &mut self.elements[at]
        {
            *charge = farads * volts;
        }
    }

    /// Goes on for so many seconds, in so many steps at most; false where it does not come to that.
    #[must_use]
    pub(super) fn go_on(&mut self, seconds: f64, most: usize) -> bool {
        let until = self.time + seconds;
        for _ in 0..most {
            // As near as rounding allows.
            let left = until - self.time;
            if left <= 1e-12 * until {
                return true;
            }
            self.step = self.step.min(left);
            if !self.advance() {
                return false;
            }
        }
        false
    }

    /// One backward Euler step, shorter where anything would move too far; false where no step is short enough.
    #[must_use]
    pub(super) fn advance(&mut self) -> bool {
        while self.step > 1e-15 {
            let Some(next) = self.solved() else {
                self.step /= 4.0;
                continue;
            };
            let moved =
                next.iter().zip(&self.volts).map(|(next, now)| (next - now).abs()).fold(0.0, f64::max);
            if moved > MOVE && self.time > 0.0 {
                self.step *= (0.8 * MOVE / moved).clamp(0.1, 0.8);
                continue;
            }
            self.volts = next;
            self.charge();
            self.time += self.step;
            self.step *= (0.8 * MOVE / moved.max(1e-9)).clamp(0.5, 2.0);
            return true;
        }
        false
    }

    /// Every charge as the voltages have it.
    fn charge(&mut self) {
        let volts = &self.volts;
        for element in &mut self.elements {
            match element {
                Element::Capacitor([a, b], farads, charge) => *charge = *farads * (volts[*a] - volts[*b]),
                Element::Transistor([c, b, e], card, charges) => {
                    *charges = transistor_in_time(card, volts[*c], volts[*b], volts[*e]).1;
                }
                _ => {}
            }
        }
    }

    /// The row of each node that moves: those on which least hangs come first, so that few rows meet in the elimination.
    fn rows(&self) -> Vec<Option<usize>> {
        let mut hang = vec![0; self.volts.len()];
        self.elements.iter().flat_map(Element::ends).for_each(|&end| hang[end] += 1);
        let mut order: Vec<usize> = (self.held..self.volts.len()).collect();
        order.sort_by_key(|&node| hang[node]);
        let mut rows = vec![None; self.volts.len()];
        order.into_iter().enumerate().for_each(|(row, node)| rows[node] = Some(row));
        rows
    }

    /// The voltages after a step, by Newton's method.
    fn solved(&self) -> Option<Vec<f64>> {
        let mut volts = self.volts.clone();
        let mut sums = Sums::new(self.rows());
        for _ in 0..60 {
            sums.clear();
            for element in &self.elements {
                element.flow(&volts, self.step, &mut sums);
            }
            for (node, &volts) in volts.iter().enumerate() {
                sums.between([node, 0], volts * LEAK, LEAK);
            }
            sums.eliminate()?;
            let most = sums.right.iter().fold(0.0f64, |most, change| most.max(change.abs()));
            let share = (JUMP / most.max(1e-30)).min(1.0);
            for (volts, row) in volts.iter_mut().zip(&sums.row_of) {
                *volts -= row.map_or(0.0, |row| share * sums.right[row]);
            }
            if most < SETTLED {
                return Some(volts);
            }
        }
        None
    }
}

/// What flows out of every node that moves, and how that changes with the voltage of each.
struct Sums {
    /// By node.
    row_of: Vec<Option<usize>>,
    count: usize,
    right: Vec<f64>,
    /// Row by row.
    slopes: Vec<f64>,
}

impl Sums {
    fn new(row_of: Vec<Option<usize>>) -> Self {
        let count = row_of.iter().flatten().count();
        Self { row_of, count, right: vec![0.0; count], slopes: vec![0.0; count * count] }
    }

    fn clear(&mut self) {
        self.right.fill(0.0);
        self.slopes.fill(0.0);
    }

    fn amps(&mut self, from: usize, amps: f64) {
        if let Some(at) = self.row_of[from] {
            self.right[at] += amps;
        }
    }

    fn slope(&mut self, from: usize, with: usize, slope: f64) {
        if let (Some(row), Some(column)) = (self.row_of[from], self.row_of[with]) {
            self.slopes[row * self.count + column] += slope;
        }
    }

    /// A current from one node to another that changes with the volts across.
    fn between(&mut self, [a, b]: [usize; 2], amps: f64, slope: f64) {
        self.amps(a, amps);
        self.amps(b, -amps);
        for (from, with, sign) in [(a, a, 1.0), (a, b, -1.0), (b, a, -1.0), (b, b, 1.0)] {
            self.slope(from, with, sign * slope);
        }
    }

    /// Solves for what would bring all sums to nothing, by Gauss elimination; the pivot is the node's own where that is not much
    /// less than the greatest. It stands in `right` then; nothing where there is no answer.
    fn eliminate(&mut self) -> Option<()> {
        let (n, rows, right) = (self.count, &mut self.slopes, &mut self.right);
        for at in 0..n {
            let size = |row: &usize| rows[row * n + at].abs();
            let pivot = (at..n).max_by(|a, b| size(a).total_cmp(&size(b)))?;
            if size(&at) < OWN * size(&pivot) {
                let (above, below) = rows.split_at_mut(pivot * n);
                above[at * n + at..(at + 1) * n].swap_with_slice(&mut below[at..n]);
                right.swap(at, pivot);
            }
            let (above, below) = rows.split_at_mut((at + 1) * n);
            let top = &above[at * n + at..];
            if top[0] == 0.0 {
                return None;
            }
            for (row, below) in below.chunks_exact_mut(n).enumerate() {
                let own = &mut below[at..];
                if own[0] != 0.0 {
                    let factor = own[0] / top[0];
                    own.iter_mut().zip(top).for_each(|(own, top)| *own -= factor * top);
                    right[at + 1 + row] -= factor * right[at];
                }
            }
        }
        for at in (0..n).rev() {
            let row = &rows[at * n..(at + 1) * n];
            let known: f64 = row[at + 1..].iter().zip(&right[at + 1..]).map(|(a, b)| a * b).sum();
            right[at] = (right[at] - known) / row[at];
        }
        right.iter().all(|change| change.is_finite()).then_some(())
    }
}

impl Element {
    fn ends(&self) -> &[usize] {
        match self {
            Self::Resistor(ends, _) | Self::Capacitor(ends, ..) => ends,
            Self::Junction(ends, _) | Self::Oxide(ends, _) => ends,
            Self::Transistor(ends, ..) => ends,
        }
    }

    /// Adds what flows out of each node during a step, and how that changes with every voltage.
    fn flow(&self, volts: &[f64], step: f64, sums: &mut Sums) {
        let law = |[a, b]: [usize; 2], law: &dyn Fn(f64) -> f64, sums: &mut Sums| {
            let across = volts[a] - volts[b];
            let amps = law(across);
            sums.between([a, b], amps, (law(across + NUDGE) - amps) / NUDGE);
        };
        match self {
            Self::Resistor([a, b], ohms) => {
                sums.between([*a, *b], resistor(*ohms, volts[*a], volts[*b]), 1.0 / ohms);
            }
            Self::Capacitor([a, b], farads, charge) => {
                let amps = (farads * (volts[*a] - volts[*b]) - charge) / step;
                sums.between([*a, *b], amps, farads / step);
            }
            Self::Junction(ends, card) => law(*ends, &|v| junction(card, v), sums),
            Self::Oxide(ends, farads) => law(*ends, &|v| wrong_way(*farads, v), sums),
            Self::Transistor(ends @ [c, b, e], card, charges) => {
                let flow = |c: f64, b: f64, e: f64| {
                    let ([ic, ib], held) = transistor_in_time(card, c, b, e);
                    let [be, bc] = [0, 1].map(|k| (held[k] - charges[k]) / step);
                    [ic - bc, ib + be + bc, -ic - ib - be]
                };
                let (vc, vb, ve) = (volts[*c], volts[*b], volts[*e]);
                let now = flow(vc, vb, ve);
                let by = |moved: [f64; 3]| [0, 1, 2].map(|row| (moved[row] - now[row]) / NUDGE);
                let (by_collector, by_emitter) = (by(flow(vc + NUDGE, vb, ve)), by(flow(vc, vb, ve + NUDGE)));
                for (row, &from) in ends.iter().enumerate() {
                    sums.amps(from, now[row]);
                    sums.slope(from, *c, by_collector[row]);
                    sums.slope(from, *e, by_emitter[row]);
                    // Where all three move together nothing changes.
                    sums.slope(from, *b, -by_collector[row] - by_emitter[row]);
                }
            }
        }
    }
}
