//! The surroundings that all parts of a board share: its rail and its temperature.
//!
//! Two stages of one board may differ in every part, but they sit on the same rail and in the same room.
//! So the worst of a driver and the worst of its receiver are sought in the same surroundings, one corner
//! of them after the other.

use dryjoint_board::Board;
use dryjoint_circuit::{Conditions, Network, Tolerance, Variable};
use dryjoint_units::{Celsius, Spread};

/// One value for each corner of the surroundings.
pub(crate) type AtCorners = [f64; 4];

/// A corner: the rail's factor and the temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Corner {
    rail: f64,
    temperature: Celsius,
}

/// The four corners of the usual conditions (see [`Conditions::default`]).
pub(crate) fn corners_of(conditions: &Conditions) -> [Corner; 4] {
    let Spread { min, max, .. } = conditions.temperature;
    let corner = |rail: f64, temperature| Corner { rail: 1.0 + rail, temperature };
    [
        corner(-conditions.rail, min),
        corner(-conditions.rail, max),
        corner(conditions.rail, min),
        corner(conditions.rail, max),
    ]
}

impl Corner {
    /// The network in these surroundings.
    pub(crate) fn around(self, network: &Network, board: &Board) -> Network {
        let mut settings = vec![(Variable::Temperature, self.temperature.0)];
        for (net, row) in board.nets.iter().filter(|(_, row)| row.supply.is_some()) {
            if let (Some(node), Some(dryjoint_board::Supply::Rail { .. })) = (network.find(net), row.supply) {
                settings.push((Variable::Rail(node), self.rail));
            }
        }
        network.varied(&settings)
    }

    /// What still varies there: the parts.
    pub(crate) fn tolerances(self, network: &Network, board: &Board) -> Vec<Tolerance> {
        let temperature = Spread::exact(self.temperature);
        network.tolerances(board, &Conditions { rail: 0.0, temperature })
    }
}
