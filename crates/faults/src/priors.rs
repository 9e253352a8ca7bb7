//! How likely each kind of fault is before anything was seen.
//!
//! No controlled figures for hand-built boards are known, so the table is judgement, with two
//! published anchors for its proportions: machine insertion puts in a diode wrongly 564 times in a
//! million, resistors 28 to 249 times, jumpers 93 times (Kenett & Zacks, the insertion data of
//! *Modern Industrial Statistics*), and a hand-soldered joint fails about 19 times as often as a
//! reflowed one (ratio of the handbook constants). The log of a workshop replaces the judgement.

use crate::Fault;
use dryjoint_board::{Board, PartKind};

/// Chances that one opportunity goes wrong, in parts per million.
#[derive(Clone, Debug, PartialEq)]
pub struct Priors {
    /// One joint open.
    pub joint_open: f64,
    /// One part missing.
    pub missing: f64,
    /// One particular wrong value of one resistor.
    pub wrong_value: f64,
    /// One diode, lamp or electrolytic reversed.
    pub reversed: f64,
    /// One transistor with one particular exchange of leads.
    pub leads: f64,
    /// One transistor of the wrong polarity.
    pub wrong_type: f64,
    /// One particular pair of pins bridged.
    pub bridge: f64,
    /// One net touching one rail.
    pub rail_short: f64,
    /// One connector one pin off, to one side.
    pub shifted: f64,
    /// One lamp dead.
    pub dead: f64,
}

impl Default for Priors {
    fn default() -> Self {
        Self {
            joint_open: 600.0,
            missing: 100.0,
            wrong_value: 100.0,
            reversed: 564.0,
            leads: 300.0,
            wrong_type: 50.0,
            bridge: 60.0,
            rail_short: 10.0,
            shifted: 200.0,
            dead: 50.0,
        }
    }
}

impl Priors {
    /// The chance of this very fault, as a probability.
    pub fn of(&self, board: &Board, fault: &Fault) -> f64 {
        let ppm = match *fault {
            // A connector's joints are made under the eye of the builder on a long row; a link's are
            // like any other. No figure tells them apart, so none is made up.
            Fault::JointOpen(_) => self.joint_open,
            Fault::Missing(_) => self.missing,
            Fault::WrongValue(..) => self.wrong_value,
            Fault::Reversed(part) => match board.parts[part].kind {
                // The markings of an electrolytic are hard to miss.
                PartKind::Capacitor { .. } => self.reversed / 2.0,
                _ => self.reversed,
            },
            Fault::Leads(..) => self.leads,
            Fault::WrongType(_) => self.wrong_type,
            Fault::Bridge(..) => self.bridge,
            Fault::RailShort(..) => self.rail_short,
            Fault::Shifted(..) => self.shifted,
            Fault::Dead(_) => self.dead,
        };
        ppm * 1e-6
    }
}
