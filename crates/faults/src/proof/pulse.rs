//! "It only takes the pulse at power-on away", said again by a plain circuit in time.
//!
//! Claimed of a fault at a capacitor between a supply and another net: with it or without, the circuit around that net comes to
//! the same rest, hands off and every button there pressed; and power comes on with a pulse or without one, as is said. What the
//! board does at rest is then as it was, and how it wakes up no step takes for known.

use super::clockwork::cut;
use super::motion::Motion;
use super::soldered::JUMPER;
use super::{Objection, Place};
use crate::Fault;
use dryjoint_board::{Board, NetId, PartId, PartKind};
use dryjoint_logic::Extracted;

/// By then all is at rest, seconds: a hundred times what a reset takes; and in so many steps at most.
const REST: (f64, usize) = (60.0, 60_000);
/// A net that has come so far by this time, seconds, makes no pulse; the rails come up in a millisecond.
const COME: f64 = 0.9;
const SOON: f64 = 2e-3;
/// At rest no net may stand off by more than this, volts: what an electrolytic leaks is less.
const SAME: f64 = 0.05;

/// Whether a fault at a capacitor leaves every rest as it is, and takes the pulse at power-on away or leaves it, as is claimed.
pub fn only_times(extracted: &Extracted, fault: &Fault, gone: bool) -> Result<(), Objection> {
    let board = extracted.shape.board;
    let net = fault.parts(board).first().and_then(|&part| timed(board, part)).ok_or(Objection::NotBuiltIn)?;
    for pressed in [false, true] {
        let [good, faulty] = [None, Some(fault)].map(|fault| rest(board, net, fault, pressed));
        let ((good, was), (faulty, is)) = (good?, faulty?);
        for other in board.nets.ids() {
            if let (Some(a), Some(b)) = (good.volts(Place::Net(other)), faulty.volts(Place::Net(other)))
                && (a - b).abs() > SAME
            {
                return Err(Objection::Rest(other));
            }
        }
        if !pressed && (was || is != gone) {
            return Err(Objection::Pulse(net));
        }
    }
    Ok(())
}

/// The net that a capacitor times: it joins a supply with it, and nothing else.
fn timed(board: &Board, part: PartId) -> Option<NetId> {
    let row = &board.parts[part];
    let [a, b] = row.pins[..] else { return None };
    let (a, b) = (board.pins[a].net, board.pins[b].net);
    let supply = |net: NetId| board.nets[net].supply.is_some();
    match row.kind {
        PartKind::Capacitor { .. } if supply(a) != supply(b) => Some(if supply(a) { b } else { a }),
        _ => None,
    }
}

/// The circuit around a net at rest after power has come on, and whether the net had come most of its way at once.
fn rest(
    board: &Board,
    net: NetId,
    fault: Option<&Fault>,
    pressed: bool,
) -> Result<(Motion, bool), Objection> {
    let mut motion = cut(board, &[net], fault)?;
    if pressed {
        for part in board.parts.rows() {
            let ends: Vec<NetId> = part.pins.iter().map(|&pin| board.pins[pin].net).collect();
            if let (PartKind::Button | PartKind::Toggle, &[a, b]) = (&part.kind, &ends[..])
                && [a, b].iter().any(|&end| motion.moves(Place::Net(end)))
            {
                motion.resistor([a, b].map(Place::Net), JUMPER);
            }
        }
    }
    let lost = Objection::Pulse(net);
    let place = Place::Net(net);
    let (seconds, most) = REST;
    if !motion.go_on(SOON, most) {
        return Err(lost);
    }
    let soon = motion.volts(place).unwrap_or(0.0);
    if !motion.go_on(seconds, most) {
        return Err(lost);
    }
    let end = motion.volts(place).unwrap_or(0.0);
    Ok((motion, soon >= COME * end))
}
