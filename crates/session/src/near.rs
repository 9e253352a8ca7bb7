//! The clocks of a virtual unit that its faults come near.
//!
//! A fault in an oscillator makes another clock of it: that is followed in time ([`Clockwork`](crate::clockwork)). A fault
//! that only touches what the clock drives leaves the oscillator alone, but an ideal lead on the clock in its place would
//! win against any bridge. So there the gates that make the clock stay in the circuit, and what is held is the
//! oscillator's own output.

use dryjoint_board::{ClockId, NetId, PartId};
use dryjoint_faults::Fault;
use dryjoint_faults::dial::Dial;
use dryjoint_logic::Extracted;
use dryjoint_survey::{Oscillator, Output};
use dryjoint_units::Volts;

/// Clocks near some faults, with their oscillators; none where no fault comes near any.
pub(crate) struct Near<'e, 'b> {
    pub(crate) clocks: Vec<(Dial, Oscillator<'e, 'b>)>,
}

impl<'e, 'b> Near<'e, 'b> {
    pub(crate) fn new(extracted: &'e Extracted<'b>, faults: &[Fault]) -> Self {
        let board = extracted.shape.board;
        let source = |fault: &Fault| fault.parts(board).iter().any(|&part| is_near(extracted, part));
        let dials = if faults.iter().any(source) { Dial::all(extracted) } else { Vec::new() };
        let clocks = dials.into_iter().filter_map(|dial| {
            let oscillator = Oscillator::new(extracted, dial.clock)?;
            Some((dial, oscillator))
        });
        Self { clocks: clocks.collect() }
    }

    /// The position at which periods are counted.
    pub(crate) fn slowest(&self) -> usize {
        self.clocks.first().map_or(0, |(dial, _)| dial.slowest)
    }
}

/// A clock whose gates are in the circuit.
#[derive(Clone, Debug)]
pub(crate) struct Gates {
    pub(crate) clock: ClockId,
    /// What the oscillator puts out at each position.
    outputs: Vec<Output>,
}

impl Gates {
    /// The clocks that some faults touch from outside.
    pub(crate) fn all(extracted: &Extracted, near: &Near, faults: &[Fault]) -> Vec<Self> {
        let nodes = &extracted.shape.nodes;
        let board = extracted.shape.board;
        let is_of = |oscillator: &Oscillator, net: NetId| oscillator.nets().contains(&nodes.first(net));
        let meets = |oscillator: &Oscillator, fault: &Fault| {
            let moved = matches!(fault, Fault::Shifted(..));
            !moved && fault.nets(board).into_iter().any(|net| is_of(oscillator, net))
        };
        let outside = near.clocks.iter().filter(|(_, oscillator)| {
            faults.iter().any(|fault| meets(oscillator, fault))
                && !faults.iter().any(|fault| touches(extracted, oscillator, fault))
        });
        let gates = |(dial, oscillator): &(Dial, Oscillator)| {
            Some(Self { clock: dial.clock, outputs: oscillator.outputs()? })
        };
        outside.filter_map(gates).collect()
    }

    /// What the oscillator puts out with its switch at a position or between two, in one half of its clock.
    pub(crate) fn volts(&self, position: Option<usize>, high: bool) -> Vec<(NetId, Volts)> {
        let outputs = position.and_then(|at| self.outputs.get(at)).into_iter().flatten();
        outputs.map(|&(net, halves)| (net, halves[usize::from(high)])).collect()
    }
}

/// Whether a fault sits in an oscillator, in what makes the clock of it, or in its switch.
pub(crate) fn touches(extracted: &Extracted, oscillator: &Oscillator, fault: &Fault) -> bool {
    let board = extracted.shape.board;
    let joins = |a: NetId, b: NetId| oscillator.joins(a, b) || oscillator.is_own(a) || oscillator.is_own(b);
    match *fault {
        Fault::Shifted(..) => false,
        Fault::Bridge(a, b) => joins(board.pins[a].net, board.pins[b].net),
        Fault::RailShort(a, b) => joins(a, b),
        _ => fault.parts(board).iter().any(|&part| oscillator.holds(part)),
    }
}

/// Whether a part may belong to a clock: it touches a source, or switches one.
fn is_near(extracted: &Extracted, part: PartId) -> bool {
    let shape = &extracted.shape;
    let of_source = |net: &NetId| {
        let mut pins = shape.nodes.pins(shape.board, *net);
        pins.any(|pin| {
            let cluster = shape.clusters.of_part[shape.board.pins[pin].part];
            cluster.is_some_and(|id| shape.clusters.rows[id].is_source)
        })
    };
    let ends = shape.nodes.ends(shape.board, part);
    ends.iter().filter(|net| !shape.nodes.is_supply(**net)).any(of_source)
}
