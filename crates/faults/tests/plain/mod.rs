//! A circuit in time as plain as it can be: currents into every node by the published laws, backward Euler steps short
//! enough that nothing moves by more than a twentieth of a volt, Gauss elimination. It shares the parts' cards with the
//! solver, and nothing else: no laws, no integration rule, no control of the step, no cut of the board.
//!
//! Laws: Ebers and Moll 1954 in the transport form with the Early voltage and high injection of Gummel and Poon 1970, and the
//! charge that either current keeps in the base (TF, TR); the capacitances of the junctions are taken at no bias.

use dryjoint_board::{Board, NetId, PartId, PartKind, PinId, Supply};
use dryjoint_faults::Fault;
use dryjoint_parts::{Bipolar, Model};
use std::collections::BTreeMap;

/// kT/q at 27 °C.
const VT: f64 = 1.380_649e-23 * 300.15 / 1.602_176_634e-19;
/// The wiring of a net, against ground.
const WIRING: f64 = 20e-12;
/// Nothing moves by more than this in a step, volts.
const MOVE: f64 = 0.05;
/// A gate of this family reads less than this as low, and more than that as high (reference values C: VIL 1.16, VIH 1.72 V,
/// computed by an independent program).
pub const READS: (f64, f64) = (1.16, 1.72);

/// What carries current between two nodes, or three.
enum Element {
    Resistor([usize; 2], f64),
    /// With the charge that it holds.
    Capacitor([usize; 2], f64, f64),
    /// With the charges that it holds between base and emitter, and base and collector.
    Transistor([usize; 3], Box<Bipolar>, [f64; 2]),
    /// An electrolytic the wrong way round, from its minus to its plus: 1 µA a microfarad at one volt, ten times as much
    /// every quarter of a volt, behind 5·10⁻⁴ Ω·F.
    WrongWay([usize; 2], f64),
}

/// The clock's circuit, its switch at a position or between two.
pub struct Clockwork {
    /// By node; ground first, then the rail.
    volts: Vec<f64>,
    elements: Vec<Element>,
    node_of: BTreeMap<NetId, usize>,
    time: f64,
    step: f64,
}

/// What the clock did.
#[derive(Clone, Debug, PartialEq)]
pub struct Ran {
    /// Seconds a cycle.
    pub period: f64,
    /// Seconds of it in which the clock is high.
    pub high: f64,
    /// Clock and complement in the middle of the low half, and of the high one.
    pub halves: [[f64; 2]; 2],
}

impl Clockwork {
    /// Everything that hangs together with the clock, up to the collectors of the gates that read it.
    pub fn new(board: &Board, position: Option<usize>, fault: Option<&Fault>) -> Self {
        let clock = &board.clocks.rows()[0];
        let switch = clock.selector.expect("a clock with a switch");
        let net_of = |pin: &PinId| board.pins[*pin].net;
        let contacts: Vec<NetId> = board.parts[switch].pins[1..].iter().map(net_of).collect();
        let (met, mut parts) =
            reached(board, contacts.iter().copied().chain([clock.net]).chain(clock.complement));
        let mut all = Self {
            volts: vec![0.0, 5.0],
            elements: Vec::new(),
            node_of: BTreeMap::new(),
            time: 0.0,
            step: 1e-9,
        };
        for (net, row) in board.nets.iter() {
            let fed = position.is_some_and(|position| contacts[position] == net);
            let readers = parts.iter().any(|&part| {
                matches!(board.parts[part].kind, PartKind::Bipolar(_))
                    && net_of(&board.parts[part].pins[0]) == net
            });
            let node = match row.supply {
                Some(Supply::Rail { .. }) => 1,
                None if fed => 1,
                None if met.contains(&net) || readers => {
                    all.volts.push(0.0);
                    all.volts.len() - 1
                }
                // Ground, or the other inputs of a gate that reads the clock: low.
                _ => 0,
            };
            all.node_of.insert(net, node);
            // What lifts the collector of a gate that reads the clock.
            if readers {
                parts.extend(row.pins.iter().map(|&pin| board.pins[pin].part).filter(|&part| {
                    let on_rail =
                        |pin: &PinId| matches!(board.nets[net_of(pin)].supply, Some(Supply::Rail { .. }));
                    matches!(board.parts[part].kind, PartKind::Resistor { .. })
                        && board.parts[part].pins.iter().any(on_rail)
                }));
            }
        }
        parts.sort_unstable();
        parts.dedup();
        for part in parts {
            all.add(board, part, fault);
        }
        if let Some(&Fault::Bridge(a, b)) = fault {
            let ends = [a, b].map(|pin| all.node_of[&board.pins[pin].net]);
            all.elements.push(Element::Resistor(ends, 0.1));
        }
        for node in 2..all.volts.len() {
            all.elements.push(Element::Capacitor([node, 0], WIRING, 0.0));
        }
        all
    }

    /// A part as it was fitted.
    fn add(&mut self, board: &Board, part: PartId, fault: Option<&Fault>) {
        let row = &board.parts[part];
        let gone = match fault {
            Some(Fault::Missing(missing)) => *missing == part,
            Some(Fault::JointOpen(pin)) => board.pins[*pin].part == part,
            _ => false,
        };
        if gone {
            assert!(row.pins.len() == 2, "{} is half off the board", row.reference);
            return;
        }
        let nodes: Vec<usize> = row.pins.iter().map(|&pin| self.node_of[&board.pins[pin].net]).collect();
        match row.kind {
            PartKind::Resistor { ohms, .. } => {
                let fitted = match fault {
                    Some(Fault::WrongValue(wrong, other)) if *wrong == part => other.0,
                    _ => ohms.0,
                };
                self.elements.push(Element::Resistor([nodes[0], nodes[1]], fitted));
            }
            PartKind::Capacitor { farads, .. } => {
                self.elements.push(Element::Capacitor([nodes[0], nodes[1]], farads.0, 0.0));
                if fault == Some(&Fault::Reversed(part)) {
                    // What is marked plus sits on the net of the minus.
                    let inner = self.volts.len();
                    self.volts.push(0.0);
                    self.elements.push(Element::Resistor([nodes[0], inner], 5e-4 / farads.0));
                    self.elements.push(Element::WrongWay([inner, nodes[1]], farads.0));
                }
            }
            PartKind::Bipolar(model) => {
                let Model::Bipolar(card) = &board.models[model].model else { panic!("a transistor's card") };
                self.elements.push(Element::Transistor(
                    [nodes[0], nodes[1], nodes[2]],
                    Box::new(card.clone()),
                    [0.0; 2],
                ));
            }
            _ => {}
        }
    }

    /// Has the first capacitor on a net's oscillator be charged as in the middle of a half, so that it starts.
    pub fn kick(&mut self, board: &Board, contact: NetId) {
        let resistors = board.nets[contact].pins.iter().map(|&pin| board.pins[pin].part);
        let far: Vec<usize> = resistors
            .flat_map(|part| board.parts[part].pins.iter().map(|&pin| board.pins[pin].net))
            .filter(|net| *net != contact)
            .filter_map(|net| self.node_of.get(&net).copied())
            .collect();
        let base = |elements: &[Element], node: usize| {
            elements.iter().any(|one| matches!(one, Element::Transistor([_, base, _], ..) if *base == node))
        };
        for at in 0..self.elements.len() {
            let Element::Capacitor(ends, farads, _) = self.elements[at] else { continue };
            if !ends.iter().all(|end| far.contains(end)) {
                continue;
            }
            let sign = if base(&self.elements, ends[1]) { 1.0 } else { -1.0 };
            self.elements[at] = Element::Capacitor(ends, farads, sign * 4.0 * farads);
            return;
        }
    }

    /// Runs until two cycles are alike within half a percent; nothing where it does not come to that.
    pub fn run(&mut self, board: &Board) -> Option<Ran> {
        let clock = &board.clocks.rows()[0];
        let nodes = [clock.net, clock.complement?].map(|net| self.node_of[&net]);
        let (mut rises, mut trace): (Vec<f64>, Vec<(f64, [f64; 2])>) = (Vec::new(), Vec::new());
        let middle = (READS.0 + READS.1) / 2.0;
        for _ in 0..60_000 {
            let before = self.volts[nodes[0]];
            self.advance()?;
            trace.push((self.time, nodes.map(|node| self.volts[node])));
            if before < middle && self.volts[nodes[0]] >= middle {
                rises.push(self.time);
            }
            let [.., a, b, c] = rises[..] else { continue };
            if ((b - a) / (c - b) - 1.0).abs() > 0.005 || rises.len() < 4 {
                rises.truncate(12);
                continue;
            }
            let fall = trace.iter().find(|(time, volts)| *time > b && volts[0] < middle)?.0;
            let at = |time: f64| trace.iter().find(|(then, _)| *then >= time).map(|(_, volts)| *volts);
            return Some(Ran {
                period: c - b,
                high: fall - b,
                halves: [at((fall + c) / 2.0)?, at((b + fall) / 2.0)?],
            });
        }
        None
    }

    /// The clock and its complement as they stand.
    fn stands(&self, board: &Board) -> Option<[f64; 2]> {
        let clock = &board.clocks.rows()[0];
        Some([clock.net, clock.complement?].map(|net| self.volts[self.node_of[&net]]))
    }

    /// The clock and its complement after so many seconds with the switch between two positions, from where they stand.
    pub fn let_go(&mut self, other: &Self, seconds: f64, board: &Board) -> Option<[f64; 2]> {
        for (net, &node) in &other.node_of {
            if let Some(&own) = self.node_of.get(net) {
                self.volts[own] = other.volts[node];
            }
        }
        self.charge();
        self.go_on(seconds, board)
    }

    /// The same after so many seconds more.
    pub fn go_on(&mut self, seconds: f64, board: &Board) -> Option<[f64; 2]> {
        let until = self.time + seconds;
        while self.time < until {
            self.advance()?;
        }
        self.stands(board)
    }

    /// One backward Euler step, shorter where anything would move too far.
    fn advance(&mut self) -> Option<()> {
        while self.step > 1e-15 {
            let Some(next) = self.solved(self.step) else {
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
            return Some(());
        }
        None
    }

    /// Every charge as the voltages have it.
    fn charge(&mut self) {
        for element in &mut self.elements {
            match element {
                Element::Capacitor([a, b], farads, charge) => {
                    *charge = *farads * (self.volts[*a] - self.volts[*b]);
                }
                Element::Transistor(ends, card, charges) => {
                    *charges = stored(card, ends.map(|end| self.volts[end]));
                }
                _ => {}
            }
        }
    }

    /// The voltages after a step, by Newton's method.
    fn solved(&self, step: f64) -> Option<Vec<f64>> {
        let count = self.volts.len();
        let mut volts = self.volts.clone();
        for _ in 0..60 {
            let (mut sums, mut slopes) = (vec![0.0; count], vec![vec![0.0; count]; count]);
            for element in &self.elements {
                element.flow(&volts, step, &mut sums, &mut slopes);
            }
            for node in 2..count {
                // A leak of a gigaohm, so that nothing hangs in the air.
                sums[node] += volts[node] * 1e-9;
                slopes[node][node] += 1e-9;
            }
            let change = eliminated(slopes, &sums)?;
            let most = change.iter().fold(0.0f64, |most, change| most.max(change.abs()));
            // No voltage jumps over the bend of a junction.
            let share = (0.3 / most.max(1e-30)).min(1.0);
            volts.iter_mut().zip(&change).for_each(|(volts, change)| *volts -= share * change);
            if most < 1e-7 {
                return Some(volts);
            }
        }
        None
    }
}

/// The nets that hang together with some, and the parts on them: through resistors and capacitors, and from a collector to
/// its base, but not out of a base again.
fn reached(board: &Board, from: impl Iterator<Item = NetId>) -> (Vec<NetId>, Vec<PartId>) {
    let net_of = |pin: &PinId| board.pins[*pin].net;
    let (mut met, mut parts) = (from.collect::<Vec<NetId>>(), Vec::new());
    let mut at = 0;
    while let Some(&net) = met.get(at) {
        at += 1;
        let on: Vec<(PartId, usize)> = board.nets[net]
            .pins
            .iter()
            .map(|&pin| board.pins[pin].part)
            .filter_map(|part| {
                Some((part, board.parts[part].pins.iter().position(|pin| net_of(pin) == net)?))
            })
            .collect();
        let is_base =
            on.iter().any(|&(part, pin)| matches!(board.parts[part].kind, PartKind::Bipolar(_)) && pin == 1);
        for (part, pin) in on {
            let ends = board.parts[part].pins.iter().map(net_of);
            let next: Vec<NetId> = match board.parts[part].kind {
                PartKind::Resistor { .. } | PartKind::Capacitor { .. } if is_base => Vec::new(),
                PartKind::Resistor { .. } | PartKind::Capacitor { .. } => ends.collect(),
                PartKind::Bipolar(_) if pin == 0 => ends.skip(1).take(1).collect(),
                PartKind::Bipolar(_) => Vec::new(),
                _ => continue,
            };
            parts.push(part);
            for net in next.into_iter().filter(|&net| board.nets[net].supply.is_none()) {
                if !met.contains(&net) {
                    met.push(net);
                }
            }
        }
    }
    (met, parts)
}

/// e^x, going on in a straight line where no junction here ever gets to.
fn growth(x: f64) -> f64 {
    if x > 60.0 { 60f64.exp() * (x - 59.0) } else { x.exp() }
}

impl Element {
    /// Adds what flows out of each node, and how that changes with every voltage, by differences.
    fn flow(&self, volts: &[f64], step: f64, sums: &mut [f64], slopes: &mut [Vec<f64>]) {
        let two = |[a, b]: [usize; 2], amps: f64, slope: f64, sums: &mut [f64], slopes: &mut [Vec<f64>]| {
            sums[a] += amps;
            sums[b] -= amps;
            slopes[a][a] += slope;
            slopes[a][b] -= slope;
            slopes[b][a] -= slope;
            slopes[b][b] += slope;
        };
        match self {
            Self::Resistor([a, b], ohms) => {
                two([*a, *b], (volts[*a] - volts[*b]) / ohms, 1.0 / ohms, sums, slopes)
            }
            Self::Capacitor([a, b], farads, charge) => {
                let amps = (farads * (volts[*a] - volts[*b]) - charge) / step;
                two([*a, *b], amps, farads / step, sums, slopes);
            }
            Self::WrongWay([a, b], farads) => {
                let scale = 0.25 / std::f64::consts::LN_10;
                let is = farads / ((1.0 / scale).exp() - 1.0);
                let law = |v: f64| is * (growth(v / scale) - 1.0);
                let v = volts[*a] - volts[*b];
                two([*a, *b], law(v), (law(v + 1e-6) - law(v)) / 1e-6, sums, slopes);
            }
            Self::Transistor(ends, card, charges) => {
                let at = ends.map(|end| volts[end]);
                let flow = |at: [f64; 3]| {
                    let ([c, b, e], kept) = (transistor(card, at), stored(card, at));
                    let [be, bc] = [0, 1].map(|k| (kept[k] - charges[k]) / step);
                    [c - bc, b + be + bc, e - be]
                };
                let now = flow(at);
                for (k, &end) in ends.iter().enumerate() {
                    sums[end] += now[k];
                    let mut moved = at;
                    moved[k] += 1e-6;
                    let then = flow(moved);
                    for (row, &from) in ends.iter().enumerate() {
                        slopes[from][end] += (then[row] - now[row]) / 1e-6;
                    }
                }
            }
        }
    }
}

/// The currents into collector, base and emitter of an NPN.
fn transistor(card: &Bipolar, [c, b, e]: [f64; 3]) -> [f64; 3] {
    let forward = card.is.0 * (growth((b - e) / VT) - 1.0);
    let reverse = card.is.0 * (growth((b - c) / VT) - 1.0);
    let early = 1.0 / (1.0 - (b - c) / card.vaf.0);
    let charge = early / 2.0 * (1.0 + (1.0 + 4.0 * forward / card.ikf.0).max(0.0).sqrt());
    let leak = card.ise.0 * (growth((b - e) / (card.ne * VT)) - 1.0);
    let ic = (forward - reverse) / charge - reverse / card.br;
    let ib = forward / card.bf + leak + reverse / card.br;
    [ic, ib, -ic - ib]
}

/// The charges between base and emitter, and base and collector.
fn stored(card: &Bipolar, [c, b, e]: [f64; 3]) -> [f64; 2] {
    let through = |v: f64| card.is.0 * (growth(v / VT) - 1.0);
    [card.cje.0 * (b - e) + card.tf.0 * through(b - e), card.cjc.0 * (b - c) + card.tr.0 * through(b - c)]
}

/// What solves the equations of all nodes but ground and the rail: Gauss elimination with the greatest pivot.
fn eliminated(mut rows: Vec<Vec<f64>>, sums: &[f64]) -> Option<Vec<f64>> {
    let count = sums.len();
    let mut right = sums.to_vec();
    for at in 2..count {
        let pivot = (at..count).max_by(|&a, &b| rows[a][at].abs().total_cmp(&rows[b][at].abs()))?;
        rows.swap(at, pivot);
        right.swap(at, pivot);
        let (above, below) = rows.split_at_mut(at + 1);
        let top = &above[at];
        if top[at] == 0.0 {
            return None;
        }
        for (row, value) in below.iter_mut().zip(at + 1..count) {
            let factor = row[at] / top[at];
            if factor != 0.0 {
                row[at..].iter_mut().zip(&top[at..]).for_each(|(own, top)| *own -= factor * top);
                right[value] -= factor * right[at];
            }
        }
    }
    let mut change = vec![0.0; count];
    for at in (2..count).rev() {
        let known: f64 = (at + 1..count).map(|other| rows[at][other] * change[other]).sum();
        change[at] = (right[at] - known) / rows[at][at];
    }
    change.iter().all(|change| change.is_finite()).then_some(change)
}
