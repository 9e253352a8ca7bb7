//! Faults that join a clock with something outside its oscillators: the gates that make the clock stay in the circuit.
//!
//! An ideal lead on the clock would win against any solder. So what is held is the output of the oscillator that the switch
//! feeds, in either half of a cycle, and nothing at all with the switch between two positions: there the pair of gates is
//! let go from where the half left it. A pair that then keeps what it holds, whatever drives the nets that are joined with
//! it, stands as it was left. Where some drive makes it fall over, it may have done so before, and only what is the same
//! from either side is known.
//!
//! Example: solder from a clock's complement to the base of a transistor that it feeds through a resistor leaves the
//! complement near .7 V. Fed, the other gate follows its oscillator; unfed, nothing holds it down, and the clock goes high.

use super::row::Around;
use super::solve::{Column, Edge, MOST_ROWS, MOST_SIGNALS, Regions, Site, Ways, combinations};
use super::solve::{conclude, row_of, see};
use super::{Effect, Why};
use crate::Fault;
use crate::dial::Dial;
use crate::lanes::{Drive, Read, Shown};
use crate::proof::Stand;
use dryjoint_board::{NetId, PartId};
use dryjoint_circuit::{Method, Network, Solution, Solver};
use dryjoint_survey::{Oscillator, Output};
use dryjoint_units::Volts;

/// The effect of a fault that joins signals with a clock; nothing where none of them is one.
pub(super) fn effect(regions: &Regions, site: &Site, joined: &[NetId]) -> Option<Effect> {
    let of_clock = |oscillator: &Oscillator| joined.iter().any(|net| oscillator.nets().contains(net));
    let (oscillator, dial) = regions.clocks().find(of_clock)?;
    // Without a switch that tells which oscillator is at work there is nothing to hold.
    let outputs = oscillator.outputs()?;
    let mut signals: Vec<NetId> = site.signals.iter().chain(oscillator.nets()).copied().collect();
    signals.sort_unstable();
    signals.dedup();
    let site = &Site { fault: site.fault, core: site.core.clone(), signals, cut_off: None };
    if site.signals.len() > MOST_SIGNALS {
        return Some(Effect::Undecided(Why::TooWide));
    }
    let is_hand = |edge: &Edge| oscillator.nets().contains(&edge.net) && edge.read.bench;
    let edges = site.signals.iter().flat_map(|&net| regions.edges(site, net));
    let edges = edges.filter(|edge| !is_hand(edge)).collect();
    let gated = Gated { regions, oscillator, outputs, dial, site, edges, columns: regions.columns(site) };
    Some(gated.effect())
}

/// A region with the gates of a clock in it.
struct Gated<'a, 'e, 'b> {
    regions: &'a Regions<'e, 'b>,
    oscillator: &'a Oscillator<'e, 'b>,
    /// What it puts out at each position.
    outputs: Vec<Output>,
    dial: &'a Dial,
    site: &'a Site<'a>,
    /// What drives the region but for the clock.
    edges: Vec<Edge>,
    columns: Vec<Column>,
}

/// What the columns show.
type Seen = Vec<Shown>;

/// What the columns show with the rest of the board driving the region in one way; each while the clock is low, and while it
/// is high.
struct Driven {
    /// On a good board.
    good: [Seen; 2],
    /// With the switch at a position, whichever.
    fed: [Seen; 2],
    /// With the switch turned away in that half, and whether the clock then stands high.
    left: [(Seen, Option<bool>); 2],
}

/// The drives by which a table hears of the switch: between two positions since power came on, between two after it was at one
/// of them, and at one.
const SWITCH: [Drive; 3] = [Drive::Free, Drive::Low, Drive::High];

impl Gated<'_, '_, '_> {
    fn effect(&self) -> Effect {
        let others: usize = self.edges.iter().map(|edge| edge.read.drives.len()).product();
        let reads = self.reads();
        let own: usize = reads.iter().map(|read| read.drives.len()).product();
        if others * own > MOST_ROWS {
            return Effect::Undecided(Why::TooWide);
        }
        let mut solver = Solver::default();
        // The first way of each drive: as many as there are rows, and in their order.
        let mut combinations: Vec<Vec<usize>> = combinations(&self.edges, Ways::First).collect();
        combinations.sort_by_key(|combination| row_of(&self.edges, combination));
        let driven = combinations.iter().map(|combination| self.driven(combination, &mut solver));
        let Some(driven) = driven.collect::<Option<Vec<Driven>>>() else {
            return Effect::Undecided(Why::Unsolved);
        };
        let stands = stands(&driven);
        let (mut good, mut faulty) = (Vec::new(), Vec::new());
        for driven in &driven {
            for row in 0..own {
                let [high, not] = [row % 2 == 1, row / 2 % 2 == 1];
                let (switch, apart) = match self.dial.complement {
                    Some(_) => (row / 4, high != not),
                    None => (row / 2, true),
                };
                let switch = self.dial.fed.map(|_| SWITCH[switch]);
                // Nobody ever puts the same on a clock and its complement.
                let either = |half: &dyn Fn(bool) -> Seen| {
                    if apart { half(high) } else { common(half(false), &half(true)) }
                };
                good.extend(either(&|high| driven.good[usize::from(high)].clone()));
                faulty.extend(either(&|high| driven.shown(&stands, switch, high)));
            }
        }
        let reads = reads.into_iter().chain(self.edges.iter().map(|edge| edge.read.clone())).collect();
        conclude(self.site, reads, &self.columns, &good, faulty)
    }

    /// The clock as the bench has it, its complement with it so that both move at once, and whether the switch feeds an
    /// oscillator.
    fn reads(&self) -> Vec<Read> {
        let either = [Drive::Low, Drive::High];
        std::iter::once(Read::of_bench(self.dial.signal, &either))
            .chain(self.dial.complement.map(|signal| Read::of_bench(signal, &either)))
            .chain(self.dial.fed.map(|signal| Read::of_bench(signal, &SWITCH)))
            .collect()
    }

    /// Everything with the region driven in one way; nothing where a good board finds no solution.
    fn driven(&self, combination: &[usize], solver: &mut Solver) -> Option<Driven> {
        let network = self.network(combination, None, Around::Low);
        let mut good = |high: bool| self.asked(&self.held(&network, self.dial.slowest, high), solver);
        let good = [good(false)?, good(true)?];
        let faulty = |around: Around| self.network(combination, self.site.fault, around);
        let networks = [Around::Low, Around::High].map(faulty);
        let [(low, left_low), (high, left_high)] =
            [false, true].map(|high| self.half(&networks, high, solver));
        Some(Driven { good, fed: [low, high], left: [left_low, left_high] })
    }

    /// What the columns show in one half, and with the switch turned away then, whatever others read beside the region. The
    /// slowest position stands for all where that matters, and where the switch is turned away: at each its oscillator is
    /// at the same levels.
    fn half(&self, around: &[Network; 2], high: bool, solver: &mut Solver) -> (Seen, (Seen, Option<bool>)) {
        let unknown = || vec![Shown::Unknown; self.columns.len()];
        let mut at = |network: &Network| {
            let held = self.held(network, self.dial.slowest, high);
            let point = solver.solve(&held).ok();
            let fed = point.as_ref().map_or_else(unknown, |point| self.read(&held, point));
            let left = point.and_then(|point| self.let_go(network, &point, solver));
            (fed, left.unwrap_or_else(|| (unknown(), None)))
        };
        let [(mut fed, (left, stands)), (other_fed, (other_left, other_stands))] =
            around.each_ref().map(&mut at);
        fed = common(fed, &other_fed);
        let positions = 0..self.outputs.len();
        for position in positions.filter(|&position| position != self.dial.slowest) {
            let seen = self.asked(&self.held(&around[0], position, high), solver);
            fed = common(fed, &seen.unwrap_or_else(unknown));
        }
        (fed, (common(left, &other_left), stands.filter(|_| stands == other_stands)))
    }

    /// The region's circuit with everything that makes the clock in it, but for its switch.
    fn network(&self, combination: &[usize], fault: Option<&Fault>, around: Around) -> Network {
        let stands = self.edges.iter().zip(combination);
        let stands =
            stands.map(|(edge, &way)| (edge.net, &edge.ways[way].1)).collect::<Vec<(NetId, &Stand)>>();
        let mut patch = self.regions.patch(self.site, around);
        let clusters = self.regions.extracted.shape.clusters.rows.rows().iter();
        patch.parts.extend(clusters.filter(|cluster| cluster.is_source).flat_map(|cluster| &cluster.parts));
        patch.parts.sort_unstable();
        patch.parts.dedup();
        self.regions.built(self.site, patch, stands.into_iter(), fault).network
    }

    /// The same with what the oscillator at a position puts out in one half.
    fn held(&self, network: &Network, position: usize, high: bool) -> Network {
        let mut held = network.clone();
        for &(net, halves) in &self.outputs[position] {
            held.force(net, halves[usize::from(high)]);
        }
        held
    }

    fn asked(&self, network: &Network, solver: &mut Solver) -> Option<Seen> {
        self.regions.asked(self.site, network, &self.columns, solver)
    }

    /// What the columns show once nothing is held any more, and whether the clock is high; nothing where that does not come
    /// to rest.
    fn let_go(
        &self,
        network: &Network,
        from: &Solution,
        solver: &mut Solver,
    ) -> Option<(Seen, Option<bool>)> {
        let point =
            solver.resolve(network, from).ok().filter(|point| point.method == Method::PseudoTransient)?;
        let clock = *self.oscillator.nets().first()?;
        let points = self.regions.extracted.levels[clock].thresholds;
        Some((self.read(network, &point), point.at(network, clock).and_then(|volts| points.read(volts))))
    }

    fn read(&self, network: &Network, point: &Solution) -> Seen {
        let volts: Vec<Volts> =
            self.site.signals.iter().map(|&net| point.at(network, net).unwrap_or_default()).collect();
        let glow = |lamp: PartId| point.lamp(network, lamp).map(|(_, glow)| glow);
        see(&self.columns, &volts, glow)
    }
}

impl Driven {
    /// What the columns show with the switch so, the clock low or high for all that the bench knows. Where the switch is not
    /// told of, what is the same wherever it is.
    fn shown(&self, stands: &[[bool; 2]; 2], switch: Option<Drive>, high: bool) -> Seen {
        let fed = &self.fed[usize::from(high)];
        let standing = |can: [bool; 2]| {
            let [(low, _), (high, _)] = &self.left;
            match can {
                [true, false] => low.clone(),
                [false, true] => high.clone(),
                _ => common(low.clone(), high),
            }
        };
        let left = || standing(stands[usize::from(high)]);
        // A pair that keeps whatever it holds woke up as luck has it, as a good one does.
        let keeps = *stands == [[true, false], [false, true]];
        let woken = || if keeps { left() } else { standing([true, true]) };
        match switch {
            Some(Drive::Free) => woken(),
            Some(Drive::Low) => left(),
            Some(Drive::High) => fed.clone(),
            None => common(common(fed.clone(), &left()), &woken()),
        }
    }
}

/// Whether the clock can stand low, and whether high, with its switch between two positions: when it was left low, and when it
/// was left high. What drives the region may have changed since, and the pair fallen over.
fn stands(driven: &[Driven]) -> [[bool; 2]; 2] {
    let from = |half: usize| -> [bool; 2] {
        let ends = driven.iter().map(|driven| driven.left[half].1);
        let can = |level: bool| ends.clone().any(|end| end.is_none_or(|high| high == level));
        [half == 0 || can(false), half == 1 || can(true)]
    };
    let [low, high] = [from(0), from(1)];
    // Once it fell over, what becomes of the other half may become of it.
    let with = |own: [bool; 2], falls: bool, other: [bool; 2]| {
        if falls { [own[0] || other[0], own[1] || other[1]] } else { own }
    };
    [with(low, low[1], high), with(high, high[0], low)]
}

/// What two have in common.
fn common(mut one: Seen, other: &[Shown]) -> Seen {
    for (one, other) in one.iter_mut().zip(other) {
        *one = if one == other { *one } else { Shown::Unknown };
    }
    one
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Where a pair ends that was left low, and left high, by one drive of the region after the other.
    fn ends(all: &[[Option<bool>; 2]]) -> [[bool; 2]; 2] {
        let driven = all.iter().map(|ends| Driven {
            good: Default::default(),
            fed: Default::default(),
            left: ends.map(|end| (Vec::new(), end)),
        });
        stands(&driven.collect::<Vec<_>>())
    }

    #[test]
    fn a_pair_may_stand_wherever_some_drive_can_have_taken_it() {
        let (low, high) = (Some(false), Some(true));
        let (only_low, only_high, either) = ([true, false], [false, true], [true, true]);
        assert_eq!(ends(&[[low, high], [low, high]]), [only_low, only_high]);
        // Where one drive takes it low: left low it stays, left high it may have fallen over.
        assert_eq!(ends(&[[low, high], [low, low]]), [only_low, either]);
        // One takes it high and another low, and of what is not known it may be either.
        assert_eq!(ends(&[[high, high], [low, low]]), [either, either]);
        assert_eq!(ends(&[[low, high], [low, None]]), [only_low, either]);
    }
}
