//! Certificates: what is said never to show, in a form that plain sums can hold against the board.
//!
//! "With R5 open every level stays on its side" came out of the circuit solver, and a solver can be wrong. So for
//! every such fault the voltages themselves are handed over, row by row of the region's table, and [`recheck`]
//! trusts none of them: it builds the region once more from the board, puts the fault in, and adds up by the
//! published laws of the parts what flows into every node. Where Kirchhoff's current law holds everywhere, the
//! voltages are a solution, whoever found them; then it is enough to look on which side of each threshold they
//! lie. Reasons of structure, such as "another pin brings the same supply", are held against the copper by
//! [`stands`].
//!
//! What it relies on: the parts' cards, the thresholds and the levels at the region's edge as they were found; inputs
//! of stand-ins at the least high and the greatest low level; and, where a region may rest in several points, that the
//! board takes the one that is reached when power comes on ([`Confirmed::alone`] tells).

mod clockwork;
mod copper;
mod drain;
mod laws;
mod motion;
mod pulse;
mod recheck;
mod region;
mod soldered;

pub use clockwork::{Running, Turning, runs};
pub use copper::stands;
pub use drain::{Drain, drained, only_drains};
pub use pulse::only_times;
pub use recheck::recheck;

use crate::Fault;
use crate::lanes::Drive;
use dryjoint_board::{Board, NetId, PartId, PinId};
use dryjoint_logic::ClusterId;
use dryjoint_units::{Amps, Hertz, Seconds, Volts};
use std::collections::BTreeMap;

/// Where a voltage is claimed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// The copper of a net.
    Net(NetId),
    /// A pin in the air.
    Lifted(PinId),
    /// A net inside the stand-in at this place of the list of edges.
    StandIn(usize, NetId),
}

/// A part, of the region or of the stand-in at this place of the list of edges.
pub type Fitted = (Option<usize>, PartId);

/// What is claimed of one row: the voltage of every place, and those behind the series resistances of a
/// transistor (collector, base), a diode or a lamp (anode).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Point {
    /// The voltages.
    pub volts: BTreeMap<Place, f64>,
    /// Those within parts.
    pub inner: BTreeMap<Fitted, [f64; 2]>,
}

/// What stands in for one way in which the rest of the board drives a signal.
#[derive(Clone, Debug, PartialEq)]
pub enum Stand {
    /// Nothing there.
    Nobody,
    /// A jumper to the rail, or to ground.
    Hand(bool),
    /// A clock source: a transistor that pulls low, a resistor that lifts.
    Clock(bool),
    /// A copy of a cluster with its inputs held.
    Copy(ClusterId, Vec<(NetId, Volts)>),
}

/// One signal of a region with the ways in which a hand, or the stages of the rest of the board, can drive it.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// The signal's node.
    pub net: NetId,
    /// Whether it is the hand, or a clock.
    pub bench: bool,
    /// Each way with what stands in for it: of a stage one for every row of its function, since a NOR with one
    /// input high pulls less than one with two.
    pub ways: Vec<(Drive, Stand)>,
}

/// The claim that a fault leaves every level on its side, with the voltages that show it.
#[derive(Clone, Debug, PartialEq)]
pub struct Certificate {
    /// The fault; nothing where a hand no longer reaches a signal.
    pub fault: Option<Fault>,
    /// The clusters it sits in.
    pub core: Vec<ClusterId>,
    /// The signals of its region, by node.
    pub signals: Vec<NetId>,
    /// The signal that the hand no longer reaches.
    pub cut_off: Option<NetId>,
    /// The parts of the region.
    pub parts: Vec<PartId>,
    /// Signals at its edge, held at a voltage.
    pub held: Vec<(NetId, Volts)>,
    /// How the rest of the board drives it.
    pub edges: Vec<Edge>,
    /// For each combination of ways, the first edge counting fastest, the good board and the faulty one.
    pub rows: Vec<[Point; 2]>,
}

/// A certificate that holds, in figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Confirmed {
    /// How many rows were added up, on the good and on the faulty board.
    pub rows: usize,
    /// At how many nodes, in the row that has most.
    pub nodes: usize,
    /// The most current that is missing at any node.
    pub missing: Amps,
    /// The least distance of a level from a threshold; nothing where nobody reads one.
    pub nearest: Option<Volts>,
    /// Whether the region can rest in no other point: no transistor acts back on itself through another.
    pub alone: bool,
}

/// Why a claim does not hold.
#[derive(Clone, Debug, PartialEq)]
pub enum Objection {
    /// So many rows are listed, and so many there must be.
    Rows(usize, usize),
    /// The ways in which this signal can be driven are not those listed.
    Drives(NetId),
    /// What stands in for a driver of this signal does not do what it stands for.
    StandIn(NetId),
    /// This part is soldered to the region and was left out.
    LeftOut(PartId),
    /// The fault is not in the region.
    NotBuiltIn,
    /// No voltage is claimed there.
    NoVoltage(Place),
    /// A rail, an input or an edge does not stand where it is said to.
    Held(Place),
    /// Row, faulty board or not, and the current missing at a node.
    Current(usize, bool, Place, Amps),
    /// Row, and the signal that leaves its side or lies between the thresholds.
    Side(usize, NetId),
    /// Row, and the lamp that changes.
    Lamp(usize, PartId),
    /// It takes something off the board that carries current, or puts something on.
    Hangs(NetId),
    /// At this position of its switch the clock stands.
    Stands(usize),
    /// At this position it runs at another rate than is claimed: claimed, and found.
    Rate(usize, Hertz, Hertz),
    /// At this position it or its complement does not read as it should in the low or the high half.
    Levels(usize, bool),
    /// At this position it and its complement are alike for so long in a cycle.
    Alike(usize, Seconds),
    /// It does not stand as is claimed once the switch was turned away from this position in the low or the high half.
    Left(usize, bool),
    /// This net comes to another rest.
    Rest(NetId),
    /// The pulse that power makes on this net is not as is claimed.
    Pulse(NetId),
    /// At this position it could not be followed to the end.
    NotFollowed(usize),
}

impl Objection {
    /// The objection in words.
    pub fn words(&self, board: &Board) -> String {
        let net = |net: NetId| &board.nets[net].name;
        let part = |part: PartId| &board.parts[part].reference;
        let side = |high: bool| if high { "high" } else { "low" };
        let place = |place: Place| match place {
            Place::Net(at) => format!("net {}", net(at)),
            Place::Lifted(pin) => {
                format!("{}.{} in the air", part(board.pins[pin].part), board.pins[pin].name)
            }
            Place::StandIn(_, at) => format!("net {} of a stand-in", net(at)),
        };
        match *self {
            Self::Rows(listed, wanted) => format!("{listed} rows are listed of {wanted}"),
            Self::Drives(at) => format!("not all ways of driving {} are listed", net(at)),
            Self::StandIn(at) => format!("a stand-in for a driver of {} does something else", net(at)),
            Self::LeftOut(at) => format!("{} was left out", part(at)),
            Self::NotBuiltIn => "the fault was not built in".to_owned(),
            Self::NoVoltage(at) => format!("no voltage is claimed at {}", place(at)),
            Self::Held(at) => format!("{} does not stand where it must", place(at)),
            Self::Current(row, faulty, at, amps) => {
                let which = if faulty { "faulty" } else { "good" };
                format!("in row {} of the {which} board {amps} are missing at {}", row + 1, place(at))
            }
            Self::Side(row, at) => format!("in row {} net {} does not keep its side", row + 1, net(at)),
            Self::Lamp(row, at) => format!("in row {} lamp {} changes", row + 1, part(at)),
            Self::Stands(at) => format!("the clock stands at position {} of its switch", at + 1),
            Self::Rate(at, claimed, found) => {
                format!("the clock runs at {found} and not at {claimed} at position {} of its switch", at + 1)
            }
            Self::Levels(at, high) => {
                format!(
                    "the clock does not read {} by turns at position {} of its switch",
                    side(high),
                    at + 1
                )
            }
            Self::Alike(at, time) => format!(
                "the clock and its complement are alike for {time} of a cycle at position {} of its switch",
                at + 1
            ),
            Self::Left(at, high) => format!(
                "the clock stands otherwise than is claimed after its switch left position {} while it was {}",
                at + 1,
                side(high)
            ),
            Self::Rest(at) => format!("net {} comes to another rest", net(at)),
            Self::Pulse(at) => format!("what power does on net {} is not as is claimed", net(at)),
            Self::NotFollowed(at) => {
                format!("the clock could not be followed to the end at position {} of its switch", at + 1)
            }
            Self::Hangs(at) => format!("something hangs on it: net {} is fed in another way", net(at)),
        }
    }
}
