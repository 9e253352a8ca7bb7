//! A network made ready for solving: unknowns numbered, every stamp's place in the matrix found.
//!
//! Nodes that a source holds are no unknowns, so the matrix has no rows for rails and no zero
//! diagonals. The series resistances inside a device are no unknowns either: its inner voltages
//! are eliminated within the device (see `devices.rs`), which leaves Newton's steps exactly as they
//! would be with rows of their own.

use crate::network::{Card, JUMPER, Kind, Network, Source};
use crate::sparse::Pattern;
use dryjoint_ids::Id;
use dryjoint_parts::{BipolarLaw, DiodeLaw, Leakage, MosfetLaw};
use dryjoint_units::Farads;

pub(crate) const NONE: u32 = u32::MAX;

/// Up to this many unknowns the matrix is dense.
const DENSE_UP_TO: usize = 40;

/// What a source does at the operating point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Regulation {
    /// It holds its voltage.
    Voltage,
    /// It is at its current limit, below its voltage.
    Current,
    /// Something else holds the rail above its voltage; it delivers nothing.
    Idle,
}

/// Leaves out what a comparison leaves out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Detail {
    /// Whether the series resistances RB, RC and RS of cards count.
    pub series_resistances: bool,
}

impl Default for Detail {
    fn default() -> Self {
        Self { series_resistances: true }
    }
}

pub(crate) struct Conductance {
    pub(crate) a: u32,
    pub(crate) b: u32,
    pub(crate) g: f64,
}

/// A linear capacitance; its charge has a number of its own among all charges.
pub(crate) struct Store {
    pub(crate) a: u32,
    pub(crate) b: u32,
    pub(crate) c: f64,
    pub(crate) places: [u32; 4],
}

pub(crate) struct DiodeSlot {
    pub(crate) a: u32,
    pub(crate) k: u32,
    pub(crate) law: u32,
    /// 1/RS, or zero for none.
    pub(crate) gs: f64,
    pub(crate) places: [u32; 4],
    pub(crate) element: u32,
}

pub(crate) struct BipolarSlot {
    /// Collector, base, emitter.
    pub(crate) nodes: [u32; 3],
    pub(crate) law: u32,
    pub(crate) sign: f64,
    /// 1/RB and 1/RC; both zero for none.
    pub(crate) gb: f64,
    pub(crate) gc: f64,
    pub(crate) places: [u32; 9],
    pub(crate) element: u32,
}

pub(crate) struct MosfetSlot {
    /// Drain, gate, source.
    pub(crate) nodes: [u32; 3],
    pub(crate) law: MosfetLaw,
    pub(crate) sign: f64,
    pub(crate) places: [u32; 9],
    pub(crate) element: u32,
}

/// The matrix's shape.
pub(crate) enum Shape {
    Dense,
    Sparse(Pattern),
}

/// The equations of a network with its sources in given regulations.
pub(crate) struct System {
    pub(crate) n: usize,
    /// Per node its unknown, or [`NONE`] where a source or ground holds it.
    pub(crate) unknown: Vec<u32>,
    /// Per unknown its node.
    pub(crate) node: Vec<u32>,
    pub(crate) held: Vec<(u32, f64)>,
    /// No node's voltage lies outside these, volts: where nothing but sources to ground drives the
    /// network, no part can lift a node above the highest source nor draw it below the lowest.
    pub(crate) bounds: (f64, f64),
    /// Currents put into nodes from outside.
    pub(crate) injected: Vec<(u32, f64)>,
    pub(crate) shape: Shape,
    /// The matrix of all linear conductances.
    pub(crate) base: Vec<f64>,
    /// Place of each unknown's diagonal.
    pub(crate) diagonal: Vec<u32>,
    pub(crate) conductances: Vec<Conductance>,
    pub(crate) stores: Vec<Store>,
    pub(crate) diodes: Vec<DiodeSlot>,
    pub(crate) bipolars: Vec<BipolarSlot>,
    pub(crate) mosfets: Vec<MosfetSlot>,
    pub(crate) diode_laws: Vec<DiodeLaw>,
    pub(crate) bipolar_laws: Vec<BipolarLaw>,
}

impl System {
    pub(crate) fn new(network: &Network, regulation: &[Regulation], detail: Detail) -> Self {
        let mut system = Self::empty((0.0, 0.0));
        system.number(network, regulation);
        system.gather(network, detail);
        system.place();
        system
    }

    /// No unknowns yet.
    pub(crate) fn empty(bounds: (f64, f64)) -> Self {
        Self {
            n: 0,
            unknown: Vec::new(),
            node: Vec::new(),
            held: Vec::new(),
            bounds,
            injected: Vec::new(),
            shape: Shape::Dense,
            base: Vec::new(),
            diagonal: Vec::new(),
            conductances: Vec::new(),
            stores: Vec::new(),
            diodes: Vec::new(),
            bipolars: Vec::new(),
            mosfets: Vec::new(),
            diode_laws: Vec::new(),
            bipolar_laws: Vec::new(),
        }
    }

    fn number(&mut self, network: &Network, regulation: &[Regulation]) {
        let count = network.nodes.len();
        self.unknown = vec![0; count];
        self.unknown[0] = NONE;
        self.held.push((0, 0.0));
        for (Source { node, volts, limit }, regulation) in network.sources.iter().zip(regulation) {
            let node = node.index();
            self.bounds = (self.bounds.0.min(*volts), self.bounds.1.max(*volts));
            match regulation {
                Regulation::Voltage => {
                    self.unknown[node] = NONE;
                    self.held.push((node as u32, *volts));
                }
                Regulation::Current => self.injected.push((node as u32, limit.unwrap_or(0.0))),
                Regulation::Idle => {}
            }
        }
        for (node, unknown) in self.unknown.iter_mut().enumerate() {
            if *unknown != NONE {
                *unknown = self.node.len() as u32;
                self.node.push(node as u32);
            }
        }
        self.n = self.node.len();
    }

    fn gather(&mut self, network: &Network, detail: Detail) {
        let over = |resistance: f64| {
            if detail.series_resistances && resistance > 0.0 { 1.0 / resistance.max(1e-6) } else { 0.0 }
        };
        let laws: Vec<u32> = network.cards.iter().map(|card| self.law(card)).collect();
        for (number, element) in network.elements.iter().enumerate() {
            let element_number = number as u32;
            let [a, b, c] = [0, 1, 2].map(|end| network.end(element, end).index() as u32);
            match element.kind {
                Kind::Open => {}
                Kind::Resistor(ohms) => {
                    let g = if ohms.is_nan() { 0.0 } else { 1.0 / ohms.max(1e-6) };
                    self.conductances.push(Conductance { a, b, g });
                }
                Kind::Contact(closed) => {
                    let g = if closed { 1.0 / JUMPER.0 } else { 0.0 };
                    self.conductances.push(Conductance { a, b, g });
                }
                Kind::Current(amps) => {
                    self.injected.push((a, -amps));
                    self.injected.push((b, amps));
                    self.bounds = (f64::NEG_INFINITY, f64::INFINITY);
                }
                Kind::Capacitor(c) => self.store(a, b, c),
                Kind::Electrolytic(c) => self.electrolytic(a, b, c, element_number),
                Kind::Device(card) => {
                    let law = laws[card as usize];
                    self.device(&network.cards[card as usize], law, [a, b, c], element_number, over);
                }
            }
        }
    }

    /// Adds a card's law, a MOSFET's being that of its body diode; returns its number.
    fn law(&mut self, card: &Card) -> u32 {
        match card {
            Card::Diode { law, .. } | Card::Mosfet { body: law, .. } => {
                self.diode_laws.push(*law);
                self.diode_laws.len() as u32 - 1
            }
            Card::Bipolar { law, .. } => {
                self.bipolar_laws.push(*law);
                self.bipolar_laws.len() as u32 - 1
            }
        }
    }

    fn device(&mut self, card: &Card, law: u32, nodes: [u32; 3], element: u32, over: impl Fn(f64) -> f64) {
        let [a, b, c] = nodes;
        match *card {
            Card::Diode { rs, .. } => {
                let gs = over(rs);
                self.diodes.push(DiodeSlot { a, k: b, law, gs, places: [0; 4], element });
            }
            Card::Bipolar { sign, rb, rc, .. } => {
                let (gb, gc) = match (over(rb), over(rc)) {
                    (0.0, 0.0) => (0.0, 0.0),
                    // one without the other: the missing one is a microohm
                    (gb, gc) => (if gb == 0.0 { 1e6 } else { gb }, if gc == 0.0 { 1e6 } else { gc }),
                };
                self.bipolars.push(BipolarSlot { nodes, law, sign, gb, gc, places: [0; 9], element });
            }
            Card::Mosfet { law: channel, sign, cgs, cgd, .. } => {
                self.mosfets.push(MosfetSlot { nodes, law: channel, sign, places: [0; 9], element });
                let (anode, cathode) = if sign > 0.0 { (c, a) } else { (a, c) };
                self.diodes.push(DiodeSlot { a: anode, k: cathode, law, gs: 0.0, places: [0; 4], element });
                self.store(b, c, cgs);
                self.store(b, a, cgd);
            }
        }
    }

    fn electrolytic(&mut self, plus: u32, minus: u32, c: f64, element: u32) {
        self.store(plus, minus, c);
        let leakage = Leakage::of(Farads(c));
        self.conductances.push(Conductance { a: plus, b: minus, g: 1.0 / leakage.leak.0 });
        let (law, gs) = (self.diode_laws.len() as u32, 1.0 / leakage.electrolyte.0);
        self.diode_laws.push(leakage.wrong_way);
        self.diodes.push(DiodeSlot { a: minus, k: plus, law, gs, places: [0; 4], element });
    }

    fn store(&mut self, a: u32, b: u32, c: f64) {
        if c > 0.0 && c.is_finite() && a != b {
            self.stores.push(Store { a, b, c, places: [0; 4] });
        }
    }

    /// Finds the matrix's shape and each stamp's place in it; stamps on held nodes go to the spare
    /// place behind the last.
    pub(crate) fn place(&mut self) {
        let n = self.n;
        let shape = if n <= DENSE_UP_TO { Shape::Dense } else { Shape::Sparse(self.pattern()) };
        let spare = match &shape {
            Shape::Dense => n * n,
            Shape::Sparse(pattern) => pattern.rows.len(),
        } as u32;
        let unknown = &self.unknown;
        let at = |row: u32, column: u32| -> u32 {
            let (row, column) = (unknown[row as usize], unknown[column as usize]);
            if row == NONE || column == NONE {
                return spare;
            }
            match &shape {
                Shape::Dense => column * n as u32 + row,
                Shape::Sparse(pattern) => {
                    let (first, last) =
                        (pattern.starts[column as usize], pattern.starts[column as usize + 1]);
                    let rows = &pattern.rows[first as usize..last as usize];
                    rows.binary_search(&row).map_or(spare, |offset| first + offset as u32)
                }
            }
        };
        let pair = |a: u32, b: u32| [at(a, a), at(a, b), at(b, a), at(b, b)];
        let triple = |n: [u32; 3]| {
            let mut places = [0; 9];
            for row in 0..3 {
                for column in 0..3 {
                    places[3 * row + column] = at(n[row], n[column]);
                }
            }
            places
        };
        self.base = vec![0.0; spare as usize + 1];
        for Conductance { a, b, g } in &self.conductances {
            let [aa, ab, ba, bb] = pair(*a, *b);
            self.base[aa as usize] += g;
            self.base[ab as usize] -= g;
            self.base[ba as usize] -= g;
            self.base[bb as usize] += g;
        }
        self.diagonal = self.node.iter().map(|node| at(*node, *node)).collect();
        for slot in &mut self.stores {
            slot.places = pair(slot.a, slot.b);
        }
        for slot in &mut self.diodes {
            slot.places = pair(slot.a, slot.k);
        }
        for slot in &mut self.bipolars {
            slot.places = triple(slot.nodes);
        }
        for slot in &mut self.mosfets {
            slot.places = triple(slot.nodes);
        }
        self.shape = shape;
    }

    fn pattern(&self) -> Pattern {
        let mut places: Vec<u64> = (0..self.n as u64).map(|k| k << 32 | k).collect();
        let mut join = |nodes: &[u32]| {
            for row in nodes {
                for column in nodes {
                    let (row, column) = (self.unknown[*row as usize], self.unknown[*column as usize]);
                    if row != NONE && column != NONE && row != column {
                        places.push(u64::from(column) << 32 | u64::from(row));
                    }
                }
            }
        };
        self.conductances.iter().for_each(|slot| join(&[slot.a, slot.b]));
        self.stores.iter().for_each(|slot| join(&[slot.a, slot.b]));
        self.diodes.iter().for_each(|slot| join(&[slot.a, slot.k]));
        self.bipolars.iter().for_each(|slot| join(&slot.nodes));
        self.mosfets.iter().for_each(|slot| join(&slot.nodes));
        places.sort_unstable();
        places.dedup();
        let mut starts = vec![0u32; self.n + 1];
        for place in &places {
            starts[(place >> 32) as usize + 1] += 1;
        }
        for k in 0..self.n {
            starts[k + 1] += starts[k];
        }
        Pattern { starts, rows: places.iter().map(|place| *place as u32).collect() }
    }

    /// How many charges there are: one per store and diode, two per transistor, in that order.
    pub(crate) fn charge_count(&self) -> usize {
        self.stores.len() + self.diodes.len() + 2 * self.bipolars.len()
    }
}
