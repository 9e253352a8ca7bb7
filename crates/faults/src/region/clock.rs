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
use crate::proof::{self, Running, Turning};
use dryjoint_board::{NetId, PartId};
use dryjoint_circuit::Solver;
use dryjoint_logic::{Extracted, Node, SignalId};
use dryjoint_survey::{Course, Oscillator};
use dryjoint_units::{Hertz, Seconds, Volts};

/// A rate off by no more than this share is as good as right (judgement: what resistors and capacitors are off
/// together).
const RATE: f64 = 0.10;
/// A clock more times as fast, or as slow, is another clock: whoever counts its periods goes wrong.
const ANOTHER: f64 = 2.5;
/// For no longer than this may a clock and its complement be alike: a master and its slave, six gates of 0.2 µs, are both open
/// meanwhile (the gates' delay: docs/outside-values.md).
const ALIKE: Seconds = Seconds(1e-6);
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

    /// The first of which something is so.
    pub(super) fn find(&self, is_so: impl Fn(&Oscillator) -> bool) -> Option<&(Oscillator<'e, 'b>, Dial)> {
        self.rows.iter().find(|(oscillator, _)| is_so(oscillator))
    }
}

/// The effect of a fault in an oscillator or its switch; nothing for any other.
pub(super) fn effect(regions: &Regions, fault: &Fault) -> Option<Effect> {
    let (oscillator, dial) = regions.clocks().find(|oscillator| is_at(regions, oscillator, fault))?;
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
        .map(|setting| oscillator.with(setting, &touched, change, &mut solver))
        .collect();
    if courses.iter().any(|course| matches!(course, Course::Lost { .. })) {
        return Some(Effect::Undecided(Why::Unsolved));
    }
    let blackout = shorted(regions, oscillator, dial, fault);
    let table = ClockTable { regions, oscillator, dial, courses };
    let mut effect = table.effect(By::All);
    if let Effect::Nothing(_) = table.effect(By::Levels) {
        let claim = table.claim(fault);
        let stands = claim.is_some_and(|claim| proof::runs(regions.extracted, &claim).is_ok());
        if !stands {
            effect = Effect::Undecided(Why::NotConfirmed);
        }
    }
    Some(with_blackout(effect, blackout))
}

/// Whether a fault sits in an oscillator, what makes the clock of it, or its switch, and nowhere else.
fn is_at(regions: &Regions, oscillator: &Oscillator, fault: &Fault) -> bool {
    let board = regions.extracted.shape.board;
    match *fault {
        Fault::Bridge(a, b) => oscillator.joins(board.pins[a].net, board.pins[b].net),
        Fault::RailShort(a, b) => oscillator.joins(a, b),
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

/// By what a table tells a faulty clock from a good one.
#[derive(Clone, Copy, PartialEq)]
enum By {
    /// Its levels in the middle of either half.
    Levels,
    /// Also how it stands once its switch was turned away, and whether its complement is one all the time.
    All,
}

impl ClockTable<'_, '_, '_> {
    fn effect(&self, by: By) -> Effect {
        let signals: Vec<NetId> = self.oscillator.nets().to_vec();
        let site = Site { fault: None, core: Vec::new(), signals, cut_off: None };
        let columns = self.regions.columns(&site);
        let (good, faulty) = (self.rows(&columns, None), self.rows(&columns, Some((by, false))));
        let effect = conclude(&site, self.reads(), &columns, &good, faulty);
        match effect {
            Effect::Nothing(_) => Effect::Nothing(self.off().map_or(Why::KeepsRate, Why::Rate)),
            _ => conclude(&site, self.reads(), &columns, &good, self.rows(&columns, Some((by, true)))),
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
        let either = [Drive::Low, Drive::High];
        let contacts = self.dial.contacts.iter();
        std::iter::once(Read::of_bench(self.dial.signal, &either))
            .chain(contacts.map(|&contact| Read::of_bench(contact, &[Drive::Free, Drive::Low, Drive::High])))
            .chain(self.before().map(|signal| Read::of_bench(signal, &either)))
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

    /// All rows: what each column shows, on the good board or `faulty`: then by what, and whether it is left open what a
    /// clock does that runs at quite another rate.
    fn rows(&self, columns: &[Column], faulty: Option<(By, bool)>) -> Vec<Shown> {
        let contacts = self.dial.contacts.len();
        let stands = 3usize.pow(contacts as u32);
        let lucks = if self.before().is_some() { 2 } else { 1 };
        let mut all = Vec::new();
        for row in 0..2 * stands * lucks {
            let (high, stand) = (row % 2 == 1, self.stand(row / 2 % stands));
            let luck = self.before().map(|_| row / 2 / stands == 1);
            all.extend(match faulty {
                Some(asked) => self.shown(columns, stand, high, luck, asked),
                None => self.read(columns, self.good(high)),
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
        asked: (By, bool),
    ) -> Vec<Shown> {
        let unknown = || vec![Shown::Unknown; columns.len()];
        let between = self.dial.contacts.len();
        let half = |volts: &[Vec<Volts>; 2], high: bool| self.read(columns, &volts[usize::from(high)]);
        match stand {
            Stand::At(_) | Stand::Beside(_) | Stand::Fresh if self.dial.contacts.is_empty() => {
                self.at(columns, self.dial.slowest, high, luck, asked).unwrap_or_else(unknown)
            }
            Stand::At(position) => self.at(columns, position, high, luck, asked).unwrap_or_else(unknown),
            Stand::Beside(position) => {
                match (&self.courses[between], self.left(position, high, luck, asked.0)) {
                    (Course::Stands { halves }, Some(high)) => half(halves, high),
                    (Course::Stands { halves }, None) if half(halves, false) == half(halves, true) => {
                        half(halves, high)
                    }
                    _ => unknown(),
                }
            }
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
        (by, another): (By, bool),
    ) -> Option<Vec<Shown>> {
        match &self.courses[position] {
            Course::Runs { halves, .. } => {
                let (is, should) = self.rates(position)?;
                let far = is > should * ANOTHER || is * ANOTHER < should;
                let open = by == By::All && (high && self.starts_anew() || !self.is_apart(position));
                (!(open || far && another)).then(|| self.read(columns, &halves[usize::from(high)]))
            }
            Course::Stands { halves } => {
                let [low, high] = [0, 1].map(|half| self.read(columns, &halves[half]));
                if low == high { Some(low) } else { luck.map(|luck| if luck { high } else { low }) }
            }
            Course::Uneven | Course::Lost { .. } => None,
        }
    }

    /// Whether the clock may stand high where the bench, after whole periods, takes it for low. Then nobody knows how
    /// often it rises as the switch comes to a position: it may go low first. That it is low before the switch leaves is known.
    fn starts_anew(&self) -> bool {
        let runs = |course: &&Course| matches!(course, Course::Runs { left, .. } if !left[0].is_empty());
        self.courses.iter().filter(runs).any(|course| self.left_by(course)[0] != Some(false))
    }

    /// Whether the clock and its complement are never alike at a position for so long that what one gate takes passes the next;
    /// or are so in the middle of a half, where the table tells it by their levels.
    fn is_apart(&self, position: usize) -> bool {
        let Course::Runs { alike, halves, .. } = &self.courses[position] else { return false };
        *alike <= ALIKE || !halves.iter().all(|volts| self.is_opposite(volts))
    }

    /// Whether the clock's complement, where it has one, reads as the other level than the clock.
    fn is_opposite(&self, volts: &[Volts]) -> bool {
        let nets = self.oscillator.nets().iter().zip(volts);
        let read =
            |(net, volts): (&NetId, &Volts)| self.regions.extracted.levels[*net].thresholds.read(*volts);
        let all: Vec<Option<bool>> = nets.map(read).collect();
        !matches!(all[..], [Some(clock), Some(complement)] if clock == complement)
    }

    /// Whether a clock that stands at a position stands there as it stood before.
    fn hangs_on_luck(&self, position: usize) -> bool {
        match &self.courses[position] {
            Course::Stands { halves } => self.is_high(&halves[0]) != self.is_high(&halves[1]),
            _ => false,
        }
    }

    /// How a clock that runs stands once the switch was turned away, in either half; nothing where it hangs on the moment, as it
    /// does where it and its complement are alike at times, and where there is nothing between two positions.
    fn left_by(&self, course: &Course) -> [Option<bool>; 2] {
        let Course::Runs { left, alike, .. } = course else { return [None, None] };
        if *alike > ALIKE {
            return [None, None];
        }
        left.each_ref().map(|moments| {
            let mut stands = moments.iter().map(|volts| self.is_high(volts.as_ref()?));
            let first = stands.next()?;
            first.filter(|_| stands.all(|other| other == first))
        })
    }

    /// What is said of a clock that runs at every position; nothing where it does not.
    fn claim(&self, fault: &Fault) -> Option<Running> {
        let positions = 0..self.oscillator.contacts().len().max(1);
        let turning = |position: usize| {
            let (rate, _) = self.rates(position)?;
            let left = self.left_by(&self.courses[position]);
            Some(Turning { rate: Hertz(rate), left, apart: self.is_apart(position).then_some(ALIKE) })
        };
        let positions = positions.map(turning).collect::<Option<_>>()?;
        Some(Running { fault: Some(*fault), clock: self.dial.clock, positions })
    }

    /// How a position leaves the clock when the switch is turned away, in the half that the bench takes it for.
    fn left(&self, position: usize, high: bool, luck: Option<bool>, by: By) -> Option<bool> {
        match &self.courses[position] {
            Course::Runs { left, .. } if by == By::All && !left[0].is_empty() => {
                self.left_by(&self.courses[position])[usize::from(high)]
            }
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
