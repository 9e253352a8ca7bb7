//! Whether a clock with its switch between two positions keeps still as it stood.
//!
//! A pair of gates behind the oscillators holds the clock either way. When power comes on with the switch there,
//! nobody knows which way it falls; a clock without such a pair stands where the circuit at rest puts it.

use super::apart::contacts;
use super::clocks::{carried, oscillator};
use dryjoint_board::{ClockId, NetId};
use dryjoint_circuit::{Network, NoSolution, Solution, Solver};
use dryjoint_logic::Extracted;
use dryjoint_units::Volts;

/// Whether a clock stays low when it is left low, and high when it is left high, with its switch between two positions.
/// Not so where it has no such switch, and where the circuit does not come to rest.
pub fn keeps(extracted: &Extracted, clock: ClockId) -> bool {
    if contacts(extracted, clock).is_empty() {
        return false;
    }
    let row = &extracted.shape.board.clocks[clock];
    let network = oscillator(extracted, row, row.rates.len());
    let nets = carried(row);
    let middle = extracted.levels[row.net].thresholds.middle();
    let mut solver = Solver::default();
    let mut stays = |high: bool| {
        let from =
            nets.iter().zip([high, !high]).map(|(&net, high)| (net, extracted.levels[net].volts(high)));
        let volts = let_go(&network, from, &mut solver).ok().and_then(|point| point.at(&network, row.net));
        volts.is_some_and(|volts| (volts > middle) == high)
    };
    stays(false) && stays(true)
}

/// Where a network comes to rest when nets that were held at some voltages are let go.
pub(super) fn let_go(
    network: &Network,
    from: impl IntoIterator<Item = (NetId, Volts)>,
    solver: &mut Solver,
) -> Result<Solution, NoSolution> {
    let mut held = network.clone();
    for (net, volts) in from {
        held.force(net, volts);
    }
    solver.solve(&held).and_then(|point| solver.resolve(network, &point))
}
