//! How likely each kind of fault is before anything was seen.
//!
//! No controlled figures for hand-built boards are known, so the table is judgement, with two
//! published anchors for its proportions: machine insertion puts in a diode wrongly 564 times in a
//! million, resistors 28 to 249 times, jumpers 93 times (Kenett & Zacks, the insertion data of
//! *Modern Industrial Statistics*), and a hand-soldered joint fails about 19 times as often as a
//! reflowed one (ratio of the handbook constants). The log of a workshop replaces the judgement.

use crate::{Fault, Kind};
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

/// How many repairs the judgement counts for against those of the log.
const JUDGEMENT: f64 = 20.0;

impl Priors {
    /// The figure of one kind, in parts per million.
    pub fn get(&self, kind: Kind) -> f64 {
        match kind {
            Kind::OpenJoint => self.joint_open,
            Kind::Missing => self.missing,
            Kind::WrongValue => self.wrong_value,
            Kind::Reversed => self.reversed,
            Kind::Leads => self.leads,
            Kind::WrongType => self.wrong_type,
            Kind::Bridge => self.bridge,
            Kind::RailShort => self.rail_short,
            Kind::Shifted => self.shifted,
            Kind::Dead => self.dead,
        }
    }

    /// Sets the figure of one kind, in parts per million.
    pub fn set(&mut self, kind: Kind, ppm: f64) {
        *match kind {
            Kind::OpenJoint => &mut self.joint_open,
            Kind::Missing => &mut self.missing,
            Kind::WrongValue => &mut self.wrong_value,
            Kind::Reversed => &mut self.reversed,
            Kind::Leads => &mut self.leads,
            Kind::WrongType => &mut self.wrong_type,
            Kind::Bridge => &mut self.bridge,
            Kind::RailShort => &mut self.rail_short,
            Kind::Shifted => &mut self.shifted,
            Kind::Dead => &mut self.dead,
        } = ppm;
    }

    /// How many faults of a kind a copy of the board has on the mean.
    pub fn expected(&self, board: &Board, faults: &[Fault], kind: Kind) -> f64 {
        faults.iter().filter(|fault| fault.kind() == kind).map(|fault| self.of(board, fault)).sum()
    }

    /// The table after a number of repairs of each kind on copies of a board: the shares of the kinds are
    /// drawn towards those found, the total stays. (A Dirichlet distribution over the shares, its
    /// parameters 20 times the shares of the judgement, with the repairs counted on.)
    pub fn learnt(&self, board: &Board, faults: &[Fault], found: &[(Kind, usize)]) -> Self {
        let expected = Kind::ALL.map(|kind| self.expected(board, faults, kind));
        let all: f64 = expected.iter().sum();
        let found_of = |kind: Kind| -> usize {
            found.iter().filter(|(known, _)| *known == kind).map(|(_, count)| count).sum()
        };
        // A kind that this board cannot have says nothing about it.
        let counts: Vec<usize> = Kind::ALL
            .iter()
            .zip(&expected)
            .map(|(&kind, expected)| if *expected > 0.0 { found_of(kind) } else { 0 })
            .collect();
        let repairs: usize = counts.iter().sum();
        let mut learnt = self.clone();
        for ((kind, expected), count) in Kind::ALL.into_iter().zip(expected).zip(counts) {
            if expected > 0.0 {
                let share = expected / all;
                let now = (JUDGEMENT * share + count as f64) / (JUDGEMENT + repairs as f64);
                learnt.set(kind, self.get(kind) * now / share);
            }
        }
        learnt
    }

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

#[cfg(test)]
mod tests {
    use super::*;

    fn board() -> Board {
        let text =
            "board two\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=A\nR1 22k A GND\n";
        let mut loader = |_: &str| Err("no such file".to_owned());
        dryjoint_netlist::read("two.board", text, &mut loader).board.expect("a sound board")
    }

    #[test]
    fn without_repairs_the_judgement_stands() {
        let board = board();
        let faults = crate::enumerate(&board);
        let learnt = Priors::default().learnt(&board, &faults, &[]);
        for kind in Kind::ALL {
            assert!((learnt.get(kind) / Priors::default().get(kind) - 1.0).abs() < 1e-12, "{kind:?}");
        }
    }

    /// The mean of a Dirichlet distribution after counting (any textbook on Bayesian statistics):
    /// (α + n) / (Σα + N). Twenty bridges in twenty repairs bring their share half way to one.
    #[test]
    fn twenty_repairs_count_as_much_as_the_judgement() {
        let board = board();
        let faults = crate::enumerate(&board);
        let share = |priors: &Priors, kind| {
            let all: f64 = Kind::ALL.iter().map(|&kind| priors.expected(&board, &faults, kind)).sum();
            priors.expected(&board, &faults, kind) / all
        };
        let before = Priors::default();
        // Lamps this board has none of: they count for nothing.
        let after = before.learnt(&board, &faults, &[(Kind::Bridge, 20), (Kind::Dead, 7)]);
        let halfway = f64::midpoint(share(&before, Kind::Bridge), 1.0);
        assert!((share(&after, Kind::Bridge) - halfway).abs() < 1e-9);
        assert!((share(&after, Kind::OpenJoint) - share(&before, Kind::OpenJoint) / 2.0).abs() < 1e-9);
        assert_eq!(after.dead, before.dead);
    }
}
