//! Faults behind a declared clock: what the clock does at each position of its switch.
//!
//! The oscillator is followed with the fault in it (see `survey`), and what comes out is read by the
//! thresholds of whoever reads the clock. A clock that runs with its levels in order changes nothing that
//! lamps can tell at rest, only its rate.

use super::solve::{Column, Regions, Site, View, conclude};
use super::{Effect, Off, Why, whole};
use crate::Fault;
use crate::apply::apply;
use crate::dial::Dial;
use crate::lanes::{Behaviour, Drive, Read, Shown};
use dryjoint_board::{NetId, PartId};
use dryjoint_circuit::Solver;
use dryjoint_logic::{Extracted, Node, SignalId};
use dryjoint_survey::{Course, Oscillator};
use dryjoint_units::Volts;

/// A rate off by no more than this share is as good as right (judgement: what resistors and capacitors are off
/// together).
const RATE: f64 = 0.10;
/// A clock more times as fast, or as slow, is another clock: whoever counts its periods goes wrong.
const ANOTHER: f64 = 2.5;
/// Positions that are told apart.
const MOST_POSITIONS: usize = 5;

/// A board's clocks with their dials.
pub(super) struct Clocks<'e, 'b> {
    rows: Vec<(Oscillator<'e, 'b>, Dial)>,
}

impl<'e, 'b> Clocks<'e, 'b> {
    pub(super) fn new(extracted: &'e Extracted<'b>) -> Self {
        let dials = Dial::all(extracted).into_iter();
        let rows = dials.filter_map(|dial| Some((Oscillator::new(extracted, dial.clock)?, dial)));
        Self { rows: rows.filter(|(_, dial)| dial.contacts.len() <= MOST_POSITIONS).collect() }
    }
}

/// The effect of a fault in an oscillator or its switch; nothing for any other.
pub(super) fn effect(regions: &Regions, fault: &Fault) -> Option<Effect> {
    let clocks = regions.clocks();
    let (oscillator, dial) = clocks.rows.iter().find(|(oscillator, _)| is_at(regions, oscillator, fault))?;
    let board = regions.extracted.shape.board;
    // A part of two leads with either off is a part that is not there.
    let fault = &match *fault {
        Fault::JointOpen(pin) if board.parts[board.pins[pin].part].pins.len() == 2 => {
            Fault::Missing(board.pins[pin].part)
        }
        other => other,
    };
    let touched: Vec<PartId> = fault.parts(board);
    let mut solver = Solver::default();
    let change = &|network: &mut dryjoint_circuit::Network| {
        apply(board, fault, network);
    };
    let courses: Vec<Course> = (0..oscillator.settings())
        .map(|setting| oscillator.with((setting, false), &touched, change, &mut solver))
        .collect();
    if courses.iter().any(|course| matches!(course, Course::Lost { .. })) {
        return Some(Effect::Undecided(Why::Unsolved));
    }
    let blackout = shorted(regions, oscillator, dial, fault);
    let table = ClockTable { regions, oscillator, dial, courses };
    let mut turned = (0..oscillator.contacts().len())
        .map(|setting| oscillator.with((setting, true), &touched, change, &mut solver));
    let effect = match table.effect() {
        Effect::Nothing(_) if !turned.all(|course| table.stays(&course)) => Effect::Undecided(Why::FallsOver),
        effect => effect,
    };
    Some(with_blackout(effect, blackout))
}

/// Whether a fault sits in an oscillator, what makes the clock of it, or its switch, and nowhere else.
fn is_at(regions: &Regions, oscillator: &Oscillator, fault: &Fault) -> bool {
    let shape = &regions.extracted.shape;
    let board = shape.board;
    let joins = |a: NetId, b: NetId| {
        let known = |net: NetId| {
            oscillator.is_own(net)
                || shape.nodes.is_supply(net)
                || oscillator.nets().contains(&shape.nodes.first(net))
        };
        known(a) && known(b) && (oscillator.is_own(a) || oscillator.is_own(b))
    };
    match *fault {
        Fault::Bridge(a, b) => joins(board.pins[a].net, board.pins[b].net),
        Fault::RailShort(a, b) => joins(a, b),
        Fault::Shifted(..) => false,
        _ => fault.parts(board).iter().all(|&part| oscillator.holds(part)),
    }
}

/// The contact of the switch at which the supply is shorted through a fault.
fn shorted(regions: &Regions, oscillator: &Oscillator, dial: &Dial, fault: &Fault) -> Option<SignalId> {
    let shape = &regions.extracted.shape;
    let (a, b) = match *fault {
        Fault::Bridge(a, b) => (shape.board.pins[a].net, shape.board.pins[b].net),
        Fault::RailShort(a, b) => (a, b),
        _ => return None,
    };
    let switch = shape.board.clocks[dial.clock].selector?;
    let at = |net: NetId| oscillator.contacts().iter().position(|&known| known == shape.nodes.first(net));
    let grounded = |net: NetId| shape.nodes.kind(net) == Node::Ground;
    let position = at(a).filter(|_| grounded(b)).or_else(|| at(b).filter(|_| grounded(a)))?;
    whole::is_dark_at(regions, fault, switch, position).then(|| dial.contacts[position])
}

fn with_blackout(effect: Effect, blackout: Option<SignalId>) -> Effect {
    match effect {
        _ if blackout.is_none() => effect,
        Effect::Changes(behaviour) => Effect::Changes(Behaviour { blackout, ..behaviour }),
        _ => Effect::Changes(Behaviour { blackout, ..Behaviour::default() }),
    }
}

/// Where the switch stands, as the reads of a table tell it.
#[derive(Clone, Copy)]
enum Stand {
    /// Between two positions since power came on.
    Fresh,
    /// At a position.
    At(usize),
    /// Between two positions, after this one.
    Beside(usize),
}

/// What a fault makes of a clock, to be put into a table.
struct ClockTable<'a, 'e, 'b> {
    regions: &'a Regions<'e, 'b>,
    oscillator: &'a Oscillator<'e, 'b>,
    dial: &'a Dial,
    courses: Vec<Course>,
}

impl ClockTable<'_, '_, '_> {
    fn effect(&self) -> Effect {
        let signals: Vec<NetId> = self.oscillator.nets().to_vec();
        let site = Site { fault: None, core: Vec::new(), signals, cut_off: None };
        let columns = self.regions.columns(&site);
        let (good, faulty) = (self.rows(&columns, false, false), self.rows(&columns, true, false));
        let effect = conclude(&site, self.reads(), &columns, &good, faulty);
        match effect {
            Effect::Nothing(_) => Effect::Nothing(self.off().map_or(Why::KeepsRate, Why::Rate)),
            _ => conclude(&site, self.reads(), &columns, &good, self.rows(&columns, true, true)),
        }
    }

    /// The first position, from the slowest on, at which the rate is off.
    fn off(&self) -> Option<Off> {
        let positions = self.oscillator.contacts().len().max(1);
        (0..positions).find_map(|position| {
            let (is, should) = self.rates(position)?;
            let wrong = (is / should - 1.0).abs() > RATE;
            wrong.then(|| Off::new(self.dial.clock, position, is, should))
        })
    }

    /// The rate at a position, and the good board's.
    fn rates(&self, position: usize) -> Option<(f64, f64)> {
        match (&self.courses[position], self.oscillator.good(position)) {
            (Course::Runs { rate: is, .. }, Course::Runs { rate: should, .. }) => Some((is.0, should.0)),
            _ => None,
        }
    }

    fn reads(&self) -> Vec<Read> {
        let read = |signal: SignalId, drives: &[Drive]| Read {
            signal,
            stages: Vec::new(),
            bench: true,
            drives: drives.to_vec(),
        };
        let either = [Drive::Low, Drive::High];
        let contacts = self.dial.contacts.iter();
        std::iter::once(read(self.dial.signal, &either))
            .chain(contacts.map(|&contact| read(contact, &[Drive::Free, Drive::Low, Drive::High])))
            .chain(self.before().map(|signal| read(signal, &either)))
            .collect()
    }

    /// The signal that says how a clock stood before, where it stands as it did: luck; or what is known of it where
    /// it runs at the slowest position and wherever else its switch can have been.
    fn before(&self) -> Option<SignalId> {
        let mut positions = 0..self.dial.contacts.len();
        let kept = positions.clone().filter(|&position| self.hangs_on_luck(position)).count();
        let runs = |position: usize| matches!(self.courses[position], Course::Runs { .. });
        let others = positions.all(|position| runs(position) || self.hangs_on_luck(position));
        if kept == 1 && others && runs(self.dial.slowest) {
            self.dial.held
        } else if kept == self.dial.contacts.len() {
            self.dial.luck
        } else {
            self.dial.woken
        }
    }

    /// All rows: what each column shows, with the fault or without; `another` leaves open what a clock does that
    /// runs at quite another rate.
    fn rows(&self, columns: &[Column], faulty: bool, another: bool) -> Vec<Shown> {
        let contacts = self.dial.contacts.len();
        let stands = 3usize.pow(contacts as u32);
        let lucks = if self.before().is_some() { 2 } else { 1 };
        let mut all = Vec::new();
        for row in 0..2 * stands * lucks {
            let (high, stand) = (row % 2 == 1, self.stand(row / 2 % stands));
            let luck = self.before().map(|_| row / 2 / stands == 1);
            all.extend(if faulty {
                self.shown(columns, stand, high, luck, another)
            } else {
                self.read(columns, self.good(high))
            });
        }
        all
    }

    /// The switch's stand of a row's contacts. Of two that are driven, which never happens, the first counts.
    fn stand(&self, code: usize) -> Stand {
        let digits = (0..self.dial.contacts.len()).map(|at| (at, code / 3usize.pow(at as u32) % 3));
        digits
            .into_iter()
            .find_map(|(at, digit)| match digit {
                1 => Some(Stand::Beside(at)),
                2 => Some(Stand::At(at)),
                _ => None,
            })
            .unwrap_or(Stand::Fresh)
    }

    fn good(&self, high: bool) -> &[Volts] {
        match self.oscillator.good(self.dial.slowest) {
            Course::Runs { halves, .. } | Course::Stands { halves } => &halves[usize::from(high)],
            Course::Uneven | Course::Lost { .. } => &[],
        }
    }

    fn read(&self, columns: &[Column], volts: &[Volts]) -> Vec<Shown> {
        let shown = |column: &Column| match column.view {
            View::Input { at, points, .. } => match volts.get(at).and_then(|&volts| points.read(volts)) {
                Some(true) => Shown::One,
                Some(false) => Shown::Zero,
                None => Shown::Unknown,
            },
            View::Lamp(_) => Shown::Unknown,
        };
        columns.iter().map(shown).collect()
    }

    /// What the columns show with the switch at a stand, the clock low or high for all that the bench knows.
    fn shown(
        &self,
        columns: &[Column],
        stand: Stand,
        high: bool,
        luck: Option<bool>,
        another: bool,
    ) -> Vec<Shown> {
        let unknown = || vec![Shown::Unknown; columns.len()];
        let between = self.dial.contacts.len();
        let half = |volts: &[Vec<Volts>; 2], high: bool| self.read(columns, &volts[usize::from(high)]);
        match stand {
            Stand::At(_) | Stand::Beside(_) | Stand::Fresh if self.dial.contacts.is_empty() => {
                self.at(columns, self.dial.slowest, high, luck, another).unwrap_or_else(unknown)
            }
            Stand::At(position) => self.at(columns, position, high, luck, another).unwrap_or_else(unknown),
            Stand::Beside(position) => match (&self.courses[between], self.left(position, high, luck)) {
                (Course::Stands { halves }, Some(high)) => half(halves, high),
                (Course::Stands { halves }, None) if half(halves, false) == half(halves, true) => {
                    half(halves, high)
                }
                _ => unknown(),
            },
            Stand::Fresh => match &self.courses[between] {
                Course::Stands { halves } => {
                    let never = (0..between).all(|position| self.hangs_on_luck(position));
                    half(halves, luck.filter(|_| never).unwrap_or(high))
                }
                _ => unknown(),
            },
        }
    }

    /// The same at a position.
    fn at(
        &self,
        columns: &[Column],
        position: usize,
        high: bool,
        luck: Option<bool>,
        another: bool,
    ) -> Option<Vec<Shown>> {
        match &self.courses[position] {
            Course::Runs { halves, .. } => {
                let (is, should) = self.rates(position)?;
                let far = is > should * ANOTHER || is * ANOTHER < should;
                (!(far && another)).then(|| self.read(columns, &halves[usize::from(high)]))
            }
            Course::Stands { halves } => {
                let [low, high] = [0, 1].map(|half| self.read(columns, &halves[half]));
                if low == high { Some(low) } else { luck.map(|luck| if luck { high } else { low }) }
            }
            Course::Uneven | Course::Lost { .. } => None,
        }
    }

    /// Whether a clock that stands at a position stands there as it stood before.
    fn hangs_on_luck(&self, position: usize) -> bool {
        match &self.courses[position] {
            Course::Stands { halves } => self.is_high(&halves[0]) != self.is_high(&halves[1]),
            _ => false,
        }
    }

    /// Whether a clock that runs stands as it stood once the switch was turned away, in either half.
    fn stays(&self, course: &Course) -> bool {
        let Course::Runs { halves, left, .. } = course else { return false };
        halves.iter().zip(left).all(|(stood, left)| {
            let left = left.as_ref().and_then(|volts| self.is_high(volts));
            left.is_some() && left == self.is_high(stood)
        })
    }

    /// How a position leaves the clock when the switch is turned away, in the half that the bench takes it for.
    fn left(&self, position: usize, high: bool, luck: Option<bool>) -> Option<bool> {
        match &self.courses[position] {
            Course::Runs { halves, .. } => self.is_high(&halves[usize::from(high)]),
            Course::Stands { .. } if self.hangs_on_luck(position) => luck,
            Course::Stands { halves } => self.is_high(&halves[0]),
            Course::Uneven | Course::Lost { .. } => None,
        }
    }

    /// Whether the clock is high at some voltages of its nets.
    fn is_high(&self, volts: &[Volts]) -> Option<bool> {
        let net = *self.oscillator.nets().first()?;
        self.regions.extracted.levels[net].thresholds.read(*volts.first()?)
    }
}
