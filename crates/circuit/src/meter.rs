//! A meter on a board without power: ohms, and the diode position.
//!
//! The meter floats: what it sends into the one lead comes back through the other, wherever the board's
//! ground is. On ohms it takes the range in which no more than 0.2 V stands across the leads, too little
//! to wake a junction. In the diode position it is 3 V behind 2k2: about 1 mA through a junction
//! (usual handheld meters; common practice, no source).

use crate::failure::NoSolution;
use crate::network::{Network, NodeId, Spot};
use crate::solution::Solution;
use crate::solver::Solver;
use dryjoint_units::{Amps, Ohms, Volts};

/// What an ohms range shows at most, and what then stands across the leads.
const RANGES: [f64; 6] = [200.0, 2e3, 20e3, 200e3, 2e6, 20e6];
const FULL: f64 = 0.2;
/// Across the leads inside the meter, so that open leads have a voltage.
const INSIDE: f64 = 1e9;
/// The diode position.
const DIODE: (Volts, Ohms) = (Volts(3.0), Ohms(2200.0));
/// It shows no more than this.
const DIODE_SHOWS: f64 = 2.0;

impl Network {
    /// This network with the supply unplugged and every other source taken off.
    pub fn unpowered(&self) -> Self {
        let mut network = self.clone();
        network.sources.clear();
        network
    }
}

impl Solver {
    /// What a meter on ohms shows between two spots of an unpowered network; nothing above 20 MΩ or where
    /// a spot is not in the network. `at_rest` is the solution of the network itself.
    pub fn ohms(
        &mut self,
        dead: &Network,
        at_rest: &Solution,
        red: impl Into<Spot>,
        black: impl Into<Spot>,
    ) -> Result<Option<Ohms>, NoSolution> {
        let (Some(red), Some(black)) = (dead.find(red), dead.find(black)) else { return Ok(None) };
        if red == black {
            return Ok(Some(Ohms(0.0)));
        }
        let mut on = |range: usize| {
            let amps = FULL / RANGES[range];
            let volts = self.across(dead, at_rest, (red, black), (Amps(amps), Ohms(INSIDE)))?;
            Ok((volts.0 <= FULL).then(|| Ohms((volts.0 / amps).max(0.0))))
        };
        // From the highest range, where every junction sleeps, at once to the one that its figure asks for,
        // and from there to the lowest that still shows one: more current never makes a board's ohms more.
        let mut range = RANGES.len() - 1;
        let Some(mut shown) = on(range)? else { return Ok(None) };
        let asked = RANGES.iter().position(|&most| shown.0 <= most).unwrap_or(range);
        let mut next = asked.min(range.saturating_sub(1));
        while next < range {
            match on(next)? {
                Some(ohms) => {
                    (shown, range) = (ohms, next);
                    next = range.saturating_sub(1);
                }
                None if next + 1 < range => next += 1,
                None => break,
            }
        }
        Ok(Some(shown))
    }

    /// What a meter in the diode position shows, its red lead on `red`; nothing above 2 V.
    pub fn diode(
        &mut self,
        dead: &Network,
        at_rest: &Solution,
        red: impl Into<Spot>,
        black: impl Into<Spot>,
    ) -> Result<Option<Volts>, NoSolution> {
        let (Some(red), Some(black)) = (dead.find(red), dead.find(black)) else { return Ok(None) };
        let (volts, ohms) = DIODE;
        let shown = self.across(dead, at_rest, (red, black), (volts / ohms, ohms))?;
        Ok((shown.0 <= DIODE_SHOWS).then_some(shown))
    }

    /// Across the leads of a meter that is a current with a resistance beside it.
    fn across(
        &mut self,
        dead: &Network,
        at_rest: &Solution,
        (red, black): (NodeId, NodeId),
        (amps, inside): (Amps, Ohms),
    ) -> Result<Volts, NoSolution> {
        let mut network = dead.clone();
        network.current(black, red, amps);
        network.resistor(red, black, inside);
        let solution = self.solve_from(&network, at_rest)?;
        Ok(solution.node(red) - solution.node(black))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::GROUND;
    use crate::solver::solve;
    use dryjoint_parts::{Model, library};

    #[test]
    fn a_resistor_reads_its_value_away_from_ground_too() {
        let mut network = Network::new();
        let (a, b, island) = (network.node(), network.node(), network.node());
        network.resistor(a, b, Ohms(4700.0));
        network.resistor(b, GROUND, Ohms(1e6));
        let (rest, mut solver) = (solve(&network).unwrap(), Solver::default());
        let ohms = solver.ohms(&network, &rest, a, b).unwrap().unwrap();
        assert!((ohms.0 - 4700.0).abs() < 1.0, "{ohms}");
        assert_eq!(solver.ohms(&network, &rest, a, island).unwrap(), None);
        assert_eq!(solver.diode(&network, &rest, a, island).unwrap(), None);
    }

    #[test]
    fn a_junction_shows_in_the_diode_position_only() {
        // 1N4148 datasheet: 0.62 to 0.72 V at 5 mA; a diode test shows 0.5 to 0.7 V, "OL" the other way
        // round (common practice, no source).
        let Some(Model::Diode(card)) = library("1N4148") else { panic!() };
        let mut network = Network::new();
        let a = network.node();
        network.diode(a, GROUND, &card);
        let (rest, mut solver) = (solve(&network).unwrap(), Solver::default());
        let volts = solver.diode(&network, &rest, a, GROUND).unwrap().unwrap();
        assert!((0.5..0.7).contains(&volts.0), "{volts}");
        assert_eq!(solver.diode(&network, &rest, GROUND, a).unwrap(), None);
        assert!(solver.ohms(&network, &rest, a, GROUND).unwrap().is_none_or(|ohms| ohms.0 > 100e3));
    }

    #[test]
    fn nothing_holds_an_unpowered_board() {
        let mut network = Network::new();
        let rail = network.node();
        network.supply(rail, Volts(5.0), Amps(0.5));
        network.resistor(rail, GROUND, Ohms(100.0));
        let dead = network.unpowered();
        let rest = solve(&dead).unwrap();
        assert!(rest.node(rail).0.abs() < 1e-6);
        let ohms = Solver::default().ohms(&dead, &rest, rail, GROUND).unwrap().unwrap();
        assert!((ohms.0 - 100.0).abs() < 1e-3, "{ohms}");
    }
}
