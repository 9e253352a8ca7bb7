//! "The clock keeps its levels" and "only counting tells", said again by a plain circuit in time.
//!
//! Claimed of a clock with a fault, and checked at every position of its switch: it runs at the rate that is said; it and its
//! complement go low and high by turns as those who read them see it, one the other way round than the other; and where the
//! switch is turned away early, in the middle or late in either half, both stand afterwards as is said. A clock that stands, that is
//! off the rate, that shows a level in between or that falls over as the switch leaves it would refute it.
//!
//! The board is cut anew, from the contacts of the switch on: through everything that conducts, and on from a collector to its
//! base, but not out of a base again. Gates that read the clock belong to it with their collector resistors; what else they
//! read is held low.

use super::motion::Motion;
use super::soldered::{BRIDGE, JUMPER, joined, soldered};
use super::{Objection, Place};
use crate::Fault;
use dryjoint_board::{Board, ClockId, NetId, PartId, PartKind, PinId, Supply};
use dryjoint_logic::Extracted;
use dryjoint_units::{Hertz, Seconds, Volts};
use std::collections::BTreeSet;

/// What is claimed of a clock.
#[derive(Clone, Debug, PartialEq)]
pub struct Running {
    /// The fault; nothing for the good board.
    pub fault: Option<Fault>,
    /// The clock.
    pub clock: ClockId,
    /// At each position of its switch.
    pub positions: Vec<Turning>,
}

/// What is claimed of it at one position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turning {
    /// Full cycles a second.
    pub rate: Hertz,
    /// Whether it stands high once the switch was turned away in the low half, and in the high one; nothing where that is
    /// not claimed.
    pub left: [Option<bool>; 2],
    /// For how long of a cycle at most it reads as its complement does; nothing where that is not claimed.
    pub apart: Option<Seconds>,
}

/// A claimed rate may be off by this share: the two circuits know the charge of a junction in different ways.
const AGREES: f64 = 0.03;
/// Two cycles are alike where they are so to this share.
const ALIKE: f64 = 0.005;
/// So many cycles are waited for, in so many steps at most; and so many cycles are gone on for with the switch turned away.
const PATIENCE: (f64, usize) = (12.0, 60_000);
const AFTERWARDS: f64 = 2.0;
/// When the switch is turned away, as shares of a half.
const MOMENTS: [f64; 3] = [0.125, MIDDLE, 0.875];
const MIDDLE: f64 = 0.5;
/// What the capacitor that is to begin is charged to, as a share of the supply.
const KICK: f64 = 0.8;

/// Whether a clock runs as is claimed; the rate that it was found to run at, by position. Errs with the first thing that
/// does not hold.
pub fn runs(extracted: &Extracted, claim: &Running) -> Result<Vec<Hertz>, Objection> {
    let rates = claim.positions.iter().enumerate().map(|(position, claimed)| {
        let mut clockwork = Clockwork::new(extracted, claim, position)?;
        let Cycle { period, high, alike } = clockwork.cycle(claimed.rate)?;
        let found = Hertz(1.0 / period);
        if (found.0 / claimed.rate.0 - 1.0).abs() > AGREES {
            return Err(Objection::Rate(position, claimed.rate, found));
        }
        if claimed.apart.is_some_and(|most| alike > most) {
            return Err(Objection::Alike(position, alike));
        }
        clockwork.halves(claimed, period, high)?;
        Ok(found)
    });
    rates.collect()
}

/// What one cycle was like.
struct Cycle {
    /// Seconds, and those of them in which the clock is high.
    period: f64,
    high: f64,
    /// How long the clock and its complement were read alike.
    alike: Seconds,
}

/// A clock's circuit with its switch at a position.
struct Clockwork<'e, 'b> {
    extracted: &'e Extracted<'b>,
    motion: Motion,
    position: usize,
    /// The clock, and its complement where it has one.
    nets: Vec<NetId>,
    /// The contact that is closed.
    closed: Option<usize>,
}

impl<'e, 'b> Clockwork<'e, 'b> {
    fn new(extracted: &'e Extracted<'b>, claim: &Running, position: usize) -> Result<Self, Objection> {
        let board = extracted.shape.board;
        let row = &board.clocks[claim.clock];
        let nets: Vec<NetId> = std::iter::once(row.net).chain(row.complement).collect();
        let net_of = |pin: PinId| board.pins[pin].net;
        let contacts: Vec<NetId> = match row.selector.map(|part| &board.parts[part]) {
            Some(switch) if switch.kind == PartKind::Selector => {
                switch.pins[1..].iter().map(|&pin| net_of(pin)).collect()
            }
            Some(_) => return Err(Objection::NotFollowed(position)),
            None => Vec::new(),
        };
        let fault = claim.fault.as_ref();
        let seeds: Vec<NetId> = contacts.iter().chain(&nets).copied().collect();
        let mut motion = cut(board, &seeds, fault)?;
        let mut closed = None;
        if let Some(switch) = row.selector.and_then(|part| soldered(board, part, fault, &BTreeSet::new())) {
            let contact = switch.ends.get(position + 1).ok_or(Objection::NotFollowed(position))?;
            closed = Some(motion.resistor([switch.ends[0], *contact], JUMPER));
        }
        let fed = contacts.get(position).copied().into_iter().collect::<Vec<NetId>>();
        motion.kick(&beginning(board, &fed), KICK * extracted.shape.rail.0);
        Ok(Self { extracted, motion, position, nets, closed })
    }

    /// Runs until two cycles are alike. The clock has then just risen.
    fn cycle(&mut self, rate: Hertz) -> Result<Cycle, Objection> {
        let clock = Place::Net(self.nets[0]);
        let middle = self.extracted.levels[self.nets[0]].thresholds.middle().0;
        let stands = Objection::Stands(self.position);
        let (cycles, most) = PATIENCE;
        let (mut rises, mut fall, mut alike) = (Vec::new(), 0.0, 0.0);
        let mut was = self.motion.volts(clock).unwrap_or(0.0);
        for _ in 0..most {
            let before = self.motion.time;
            if !self.motion.advance() {
                return Err(Objection::NotFollowed(self.position));
            }
            let (now, time) = (self.motion.volts(clock).unwrap_or(0.0), self.motion.time);
            if time > cycles / rate.0 {
                return Err(stands);
            }
            let read = self.read(self.nets[0]);
            if read.is_some() && self.nets[1..].iter().any(|&net| self.read(net) == read) {
                alike += time - before;
            }
            if was >= middle && now < middle {
                fall = time;
            }
            if was < middle && now >= middle {
                rises.push(time);
                if let [_, .., a, b, c] = rises[..]
                    && ((b - a) / (c - b) - 1.0).abs() < ALIKE
                {
                    return Ok(Cycle { period: c - b, high: fall - b, alike: Seconds(alike) });
                }
                alike = 0.0;
            }
            was = now;
        }
        Err(Objection::NotFollowed(self.position))
    }

    fn read(&self, net: NetId) -> Option<bool> {
        let volts = self.motion.volts(Place::Net(net))?;
        self.extracted.levels[net].thresholds.read(Volts(volts))
    }

    /// Goes through a high half and a low one, and turns the switch away in each.
    fn halves(&mut self, claimed: &Turning, period: f64, high: f64) -> Result<(), Objection> {
        let mut gone = 0.0;
        for (is_high, from, seconds) in [(true, 0.0, high), (false, high, period - high)] {
            for share in MOMENTS {
                let then = from + share * seconds;
                self.go_on(then - gone)?;
                gone = then;
                if share == MIDDLE && self.is_high() != Some(is_high) {
                    return Err(Objection::Levels(self.position, is_high));
                }
                let Some(left) = claimed.left[usize::from(is_high)] else { continue };
                let Some(closed) = self.closed else { continue };
                let mut turned = Self {
                    extracted: self.extracted,
                    motion: self.motion.clone(),
                    position: self.position,
                    nets: self.nets.clone(),
                    closed: None,
                };
                turned.motion.open(closed);
                turned.go_on(AFTERWARDS * period)?;
                if turned.is_high() != Some(left) {
                    return Err(Objection::Left(self.position, is_high));
                }
            }
        }
        Ok(())
    }

    fn go_on(&mut self, seconds: f64) -> Result<(), Objection> {
        let done = self.motion.go_on(seconds, PATIENCE.1);
        if done { Ok(()) } else { Err(Objection::NotFollowed(self.position)) }
    }

    /// How the clock is read; nothing where it or its complement is not, or where both are alike.
    fn is_high(&self) -> Option<bool> {
        let high = self.read(self.nets[0])?;
        self.nets[1..].iter().all(|&net| self.read(net) == Some(!high)).then_some(high)
    }
}

/// What hangs together with some nets as a circuit at rest without power, a fault in it.
pub(super) fn cut(board: &Board, seeds: &[NetId], fault: Option<&Fault>) -> Result<Motion, Objection> {
    let (met, parts) = reached(board, seeds);
    let supply = |net: NetId| board.nets[net].supply;
    let rails: Vec<(NetId, f64)> = board
        .nets
        .iter()
        .filter_map(|(net, row)| match row.supply {
            Some(Supply::Rail { volts, .. }) => Some((net, volts.0)),
            _ => None,
        })
        .collect();
    let mut motion = Motion::new(&rails.iter().map(|(_, volts)| *volts).collect::<Vec<f64>>());
    for (at, (net, _)) in rails.iter().enumerate() {
        motion.hold(Place::Net(*net), at + 1);
    }
    for net in board.nets.ids().filter(|net| supply(*net).is_none_or(|supply| supply == Supply::Ground)) {
        // Ground, or what else a gate reads that reads the clock.
        if !met.contains(&net) {
            motion.hold(Place::Net(net), 0);
        }
    }
    if let Some(fault) = fault {
        let there = |net: &NetId| met.contains(net) || supply(*net).is_some();
        if !fault.nets(board).iter().all(there) {
            return Err(Objection::NotBuiltIn);
        }
    }
    for part in parts {
        if let Some(part) = soldered(board, part, fault, &BTreeSet::new()) {
            motion.fit(board, part);
        }
    }
    if let Some(ends) = fault.and_then(|fault| joined(board, fault)) {
        motion.resistor(ends, BRIDGE);
    }
    Ok(motion)
}

/// The far ends of the resistors that feed an oscillator: those at the closed contact, or at any rail.
fn beginning(board: &Board, fed: &[NetId]) -> Vec<Place> {
    let is_fed = |net: NetId| match fed {
        [] => matches!(board.nets[net].supply, Some(Supply::Rail { .. })),
        _ => fed.contains(&net),
    };
    let resistors = board.parts.rows().iter().filter(|part| matches!(part.kind, PartKind::Resistor { .. }));
    let ends = resistors.filter_map(|part| {
        let [a, b] = [0, 1].map(|end| board.pins[part.pins[end]].net);
        if is_fed(a) { Some(b) } else { is_fed(b).then_some(a) }
    });
    ends.map(Place::Net).collect()
}

/// The nets that hang together with some, and the parts on them: through whatever conducts, and from a collector to its
/// base, but not out of a base again. A gate's collector belongs to it with what lifts it.
fn reached(board: &Board, seeds: &[NetId]) -> (BTreeSet<NetId>, BTreeSet<PartId>) {
    let net_of = |part: PartId, pin: usize| board.pins[board.parts[part].pins[pin]].net;
    let on = |net: NetId| board.nets[net].pins.iter().map(|&pin| board.pins[pin].part);
    let is_bipolar = |part: PartId| matches!(board.parts[part].kind, PartKind::Bipolar(_));
    let inside = |net: &NetId| board.nets[*net].supply.is_none();
    let mut met: BTreeSet<NetId> = seeds.iter().copied().filter(inside).collect();
    let mut open: Vec<NetId> = met.iter().copied().collect();
    let mut parts = BTreeSet::new();
    while let Some(net) = open.pop() {
        let is_base = on(net).any(|part| is_bipolar(part) && net_of(part, 1) == net);
        for part in on(net) {
            let row = &board.parts[part];
            let next: Vec<NetId> = match row.kind {
                PartKind::Header
                | PartKind::TestPoint
                | PartKind::Button
                | PartKind::Toggle
                | PartKind::Selector => continue,
                PartKind::Bipolar(_) if net_of(part, 0) == net => vec![net_of(part, 1)],
                PartKind::Bipolar(_) => Vec::new(),
                _ if is_base => Vec::new(),
                _ => row.pins.iter().map(|&pin| board.pins[pin].net).collect(),
            };
            parts.insert(part);
            open.extend(next.into_iter().filter(inside).filter(|&net| met.insert(net)));
        }
    }
    let gates: Vec<NetId> =
        parts.iter().filter(|part| is_bipolar(**part)).map(|&part| net_of(part, 0)).collect();
    for net in gates.into_iter().filter(|net| inside(net) && met.insert(*net)) {
        parts.extend(on(net).filter(|&part| {
            let row = &board.parts[part];
            let lifts = row
                .pins
                .iter()
                .any(|&pin| matches!(board.nets[board.pins[pin].net].supply, Some(Supply::Rail { .. })));
            lifts && matches!(row.kind, PartKind::Resistor { .. })
        }));
    }
    (met, parts)
}
