//! What a meter's reading says of one fault: compared with the whole board solved with that fault,
//! or, for the many that are not worth solving, with the level the lanes give that net.

use crate::Inquiry;
use crate::chance::measured;
use crate::next::Deed;
use crate::passive::{Change, Passive};
use crate::point::{Whose, at_bench};
use crate::points::Points;
use crate::posterior::Posterior;
use crate::suspect::Suspect;
use dryjoint_board::{NetId, PartId, Supply};
use dryjoint_faults::lanes::Shown;
use dryjoint_faults::proof::drained;
use dryjoint_faults::{Fault, FaultId};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_session::{Reading, Seen, Session};
use dryjoint_units::{Ohms, Volts, Watts};
use std::collections::BTreeSet;

/// Faults whose operating point is solved for one reading, at most.
const MOST_SOLVED: usize = 48;

/// A fault this much less likely than the likeliest is not solved for.
const NOT_WORTH_SOLVING: f64 = 1e-6;

/// The decades of a resistance range, in natural logarithms: an ohm to a hundred megohms.
const OHMS_SCALE: f64 = 18.4;

/// Figures closer together than this many spreads are not told apart.
const APART: f64 = 3.0;

/// How far a voltage of this size may be from the computed one: part tolerances and the meter.
pub(crate) fn volts_spread(volts: f64) -> f64 {
    0.06 + 0.05 * volts.abs()
}

/// The same for a supply's current.
pub(crate) fn amps_spread(amps: f64) -> f64 {
    0.003 + 0.05 * amps.abs()
}

/// What junctions leak at the volts of a meter on ohms comes to more than this.
const LEAKS: Ohms = Ohms(300e3);

/// The spread of a resistance's logarithm.
pub(crate) const OHMS_SPREAD: f64 = 0.1;

/// A resistance on the scale on which it is compared: its logarithm, with an ohm for leads and clips, whose
/// own resistance nobody knows (judgement).
pub(crate) fn size(ohms: Ohms) -> f64 {
    (ohms.0.max(0.0) + 1.0).ln()
}

/// The resistance of that size.
pub(crate) fn of_size(size: f64) -> Ohms {
    Ohms((size.exp() - 1.0).max(0.0))
}

/// The power at which a finger calls a small part hot half the time. A transistor's case warms by about
/// 200 K for each watt (datasheets give that for the free TO-92 case), a quarter-watt resistor by about
/// as much, and 50 °C is hot to the touch.
const HOT: f64 = 0.15;

/// The power at which a small part smells: twice what a quarter-watt resistor stands. Judgement.
const BURNT: f64 = 0.5;

/// How sharp both are, in natural logarithms of the power. Judgement.
const SOFT: f64 = 0.3;

/// How often someone notices a hot part at all: nobody touches all of them. Judgement.
const FELT: f64 = 0.3;

/// The chance that someone says that a part is hot which turns so much into heat.
fn felt(heat: Watts, misread: f64) -> f64 {
    FELT * ((1.0 - misread) * beyond(heat, HOT) + misread * 0.1)
}

/// The chance that someone smells something where the hottest part turns so much into heat.
fn burnt(heat: Watts, misread: f64) -> f64 {
    FELT * ((1.0 - misread) * beyond(heat, BURNT) + misread * 0.1)
}

fn beyond(heat: Watts, limit: f64) -> f64 {
    1.0 / (1.0 + (limit / heat.0.max(1e-6)).powf(1.0 / SOFT))
}

/// How far one fault somewhere moves the whole board's current, in amperes: a stage or two (judgement).
const ELSEWHERE: f64 = 0.01;

/// The same for one that joins nothing with the supply, where it moves it far: a lamp's resistor of a tenth (judgement).
const AT_MOST: f64 = 0.05;

/// Figures that hang on how latches woke up, as one unit has shown them so far: how many were as foretold, and not. Such
/// a latch feeds many nets, so where one figure was another, the next may well be too. In front stands what is expected
/// before any was read: one in seven is another, and two readings change that (judgement).
pub(crate) struct Doubtful {
    right: f64,
    wrong: f64,
    /// The density of the reading in hand where it is not as foretold.
    otherwise: f64,
}

impl Default for Doubtful {
    fn default() -> Self {
        Self { right: 1.7, wrong: 0.3, otherwise: 0.0 }
    }
}

impl Doubtful {
    fn share(&self) -> f64 {
        self.wrong / (self.wrong + self.right)
    }

    /// The density of a reading that is as foretold, or otherwise; which of the two it was counts for the next.
    fn weigh(&mut self, foretold: f64) -> f64 {
        let (right, wrong) = ((1.0 - self.share()) * foretold, self.share() * self.otherwise);
        let all = right + wrong;
        self.right += right / all;
        self.wrong += wrong / all;
        all
    }
}

/// What one fault would have a meter show.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Figure {
    /// A number with its spread, on a scale this long, and whether it is doubted.
    Number(f64, f64, f64, bool),
    /// One of two numbers, or anything between, on a scale this long.
    Either(f64, f64, f64),
    /// Anything from one number to another, or the other: a supply at its limit. On a scale this long.
    UpTo(f64, f64, f64),
    /// No reading: the range is open.
    Open,
}

/// A meter's reading with what does not depend on the fault.
pub(crate) struct Measured<'r> {
    reading: &'r Reading,
    /// What the good board shows there, where that is known.
    good: Option<Figure>,
    /// The density of the reading with someone of whom it is foretold wrongly.
    otherwise: f64,
}

impl Inquiry<'_, '_, '_> {
    /// What does not depend on the fault in a reading.
    pub(crate) fn measured<'r>(&self, reading: &'r Reading) -> Measured<'r> {
        Measured { reading, good: self.figure(reading, None), otherwise: self.otherwise(reading) }
    }

    /// Solves what these readings need, for the good board and whoever is likely. Whether anything
    /// was solved that was not known before.
    pub(crate) fn solve_for(&mut self, readings: &[Reading], posterior: &Posterior) -> bool {
        if readings.is_empty() {
            return false;
        }
        let mut likely = posterior.faults.clone();
        likely.sort_by(|a, b| b.2.total_cmp(&a.2).then(a.1.cmp(&b.1)));
        let least = likely.first().map_or(0.0, |first| first.2) * NOT_WORTH_SOLVING;
        let mut circuits = BTreeSet::new();
        let worth = likely
            .into_iter()
            .take_while(|&(.., probability)| probability > least)
            .map(|(index, fault, _)| (self.points.stand_in(Some(fault)), Some(index)))
            .filter(|&(whose, _)| circuits.insert(whose));
        let who: Vec<(Whose, Option<usize>)> =
            std::iter::once((None, None)).chain(worth.take(MOST_SOLVED)).collect();
        let before = self.points.len();
        // The good board at every look before anybody at one: all others are held against it.
        let with_power = |seen: Seen| !matches!(seen, Seen::Lamp(..) | Seen::Ohms(..) | Seen::Sound(_));
        for reading in readings.iter().filter(|reading| with_power(reading.seen)) {
            self.points.solve(self.study, &self.teller, reading.look.index(), &[(None, None)]);
        }
        for reading in readings {
            match reading.seen {
                Seen::Volts(..) => {
                    let open = |&(whose, lane): &(Whose, Option<usize>)| !self.is_good(reading, whose, lane);
                    let who: Vec<(Whose, Option<usize>)> = who.iter().copied().filter(open).collect();
                    self.points.solve(self.study, &self.teller, reading.look.index(), &who);
                }
                Seen::Supply(_) | Seen::Hot(_) | Seen::Smelt => {
                    self.points.solve(self.study, &self.teller, reading.look.index(), &who);
                }
                Seen::Ohms(a, b, _) => {
                    let whose: Vec<Whose> = who.iter().map(|&(whose, _)| whose).collect();
                    self.solve_ohms(&[(a, b)], &whose);
                }
                Seen::Lamp(..) | Seen::Sound(_) => {}
            }
        }
        self.points.len() > before
    }

    /// Solves ohms between pairs of nets, red and black. Where a good board's figure is far below what
    /// junctions leak, a fault that changes nothing there leaves it as it is, and is not solved.
    pub(crate) fn solve_ohms(&mut self, pairs: &[(NetId, NetId)], who: &[Whose]) {
        let board = self.study.extracted.shape.board;
        self.points.solve_ohms(self.study, pairs, &[None]);
        let passive = self.passive.get_or_insert_with(|| Passive::new(board));
        passive.learn(&pairs.iter().flat_map(|&(red, black)| [red, black]).collect::<Vec<_>>());
        for &(red, black) in pairs {
            let good = self.points.ohms(None, red, black).flatten().filter(|ohms| *ohms < LEAKS);
            let Some(good) = good else { continue };
            for fault in who.iter().flatten() {
                let change = Change::of(board, &self.study.faults[*fault]);
                if !change.is_some_and(|change| passive.matters(red, black, &change)) {
                    self.points.presume_ohms(Some(*fault), red, black, Some(good));
                }
            }
        }
        self.points.solve_ohms(self.study, pairs, who);
    }

    /// Whether a voltage with a fault is the good board's, as far as is known without solving it.
    fn is_good(&self, reading: &Reading, whose: Whose, lane: Option<usize>) -> bool {
        match (reading.seen, whose, lane) {
            (Seen::Volts(net, _), Some(fault), Some(lane)) => {
                self.around.is_good(reading.look.index(), net, fault, lane)
            }
            _ => false,
        }
    }

    /// What a fault would have the meter show, where it was solved.
    fn figure(&self, reading: &Reading, whose: Whose) -> Option<Figure> {
        match reading.seen {
            Seen::Volts(net, _) => {
                let point = self.points.get(whose, reading.look.index())?;
                let (low, high) = point.both(net)?;
                let scale = self.volts_scale();
                Some(if (low - high).0.abs() < volts_spread(low.0) {
                    Figure::Number(low.0, volts_spread(low.0), scale, !point.is_sure())
                } else {
                    Figure::Either(low.0, high.0, scale)
                })
            }
            Seen::Supply(_) => {
                let scale = self.amps_scale();
                if self.is_drained(whose) {
                    // How an electrolytic conducts the wrong way round is judgement to a decade.
                    let good = self.points.get(None, reading.look.index())?.supply().0;
                    return Some(Figure::UpTo(good.min(scale), scale, scale));
                }
                let point = self.points.get(whose, reading.look.index())?;
                let amps = point.supply().0;
                // A few latches more or less lit hardly matter to the whole current.
                Some(Figure::Number(amps, amps_spread(amps), scale, false))
            }
            Seen::Ohms(a, b, _) => Some(match self.points.ohms(whose, a, b)? {
                Some(ohms) => Figure::Number(size(ohms), OHMS_SPREAD, OHMS_SCALE, false),
                None => Figure::Open,
            }),
            Seen::Lamp(..) | Seen::Hot(_) | Seen::Smelt | Seen::Sound(_) => None,
        }
    }

    /// What a meter or the supply's display would show at the session's present look on the unit at the bench, which has
    /// this fault or none and on which each signal is at this level; the verdict on the session comes first, and learns
    /// nothing by it. Nothing for a look at lamps, and where no point is found.
    pub fn foretell(
        &self,
        session: &Session,
        fault: Option<FaultId>,
        level: &dyn Fn(SignalId) -> Shown,
        deed: &Deed,
    ) -> Option<Seen> {
        let point = || at_bench(self.study, fault, (&self.teller, session.now().index()), level);
        match *deed {
            Deed::Look { .. } => None,
            Deed::Volts { net, .. } => Some(Seen::Volts(net, point()?.both(net)?.0)),
            Deed::Supply { .. } => Some(Seen::Supply(point()?.supply())),
            Deed::Ohms { ref red, ref black, .. } => {
                let (red, black) = (red.net, black.net);
                let mut points = Points::default();
                points.allow(usize::MAX);
                points.solve_ohms(self.study, &[(red, black)], &[fault]);
                let ohms = points.ohms(fault, red, black)?;
                Some(Seen::Ohms(red, black, ohms.unwrap_or(Ohms(f64::INFINITY))))
            }
        }
    }

    /// How many of a suspect's faults make circuits of their own: the rest are to any meter the same as one
    /// of them, such as the two ends of one resistor.
    pub fn circuits(&self, suspect: &Suspect) -> usize {
        let each = suspect.faults.iter().map(|&(fault, _)| self.points.stand_in(Some(fault)));
        each.collect::<BTreeSet<Whose>>().len()
    }

    /// The density of a meter's reading under one fault; `index` is where its group stands. `doubt` has what became of
    /// its doubtful figures before this one.
    pub(crate) fn meter(
        &self,
        &Measured { reading, good, otherwise }: &Measured,
        whose: Whose,
        index: Option<usize>,
        doubt: &mut Doubtful,
    ) -> f64 {
        let misread = reading.misread;
        doubt.otherwise = otherwise;
        let mut against = |figure: Figure| match (figure, read(reading)) {
            (Figure::Number(computed, spread, scale, doubtful), Some(seen)) => {
                let foretold = measured(computed, seen, spread, misread, scale);
                if doubtful { doubt.weigh(foretold) } else { foretold }
            }
            (Figure::Either(low, high, scale), Some(seen)) => {
                let at = |computed| measured(computed, seen, volts_spread(computed), misread, scale);
                0.4 * at(low) + 0.4 * at(high) + 0.2 * doubt.otherwise
            }
            (Figure::UpTo(least, most, scale), Some(seen)) => {
                let room = (most - least).max(amps_spread(most));
                let inside = (least..=least + room).contains(&seen);
                let inside = if inside { (1.0 - misread) / room } else { misread / scale };
                0.5 * measured(most, seen, amps_spread(most), misread, scale) + 0.5 * inside
            }
            (Figure::Open, None) => 1.0 - misread,
            (Figure::Number(..) | Figure::Either(..) | Figure::UpTo(..), None) | (Figure::Open, Some(_)) => {
                misread / OHMS_SCALE
            }
        };
        if let Some(figure) = self.figure(reading, whose) {
            return against(figure);
        }
        let mut as_good = || good.map(&mut against);
        match reading.seen {
            Seen::Volts(net, volts) => {
                let good = if self.is_good(reading, whose, index) { as_good() } else { None };
                let level = || self.level(reading.look.index(), net, index, volts.0, misread);
                good.map_or_else(level, |good| 0.95 * good + 0.05 * self.unheard(reading))
            }
            // As with a voltage: whoever may change it gets the benefit of the doubt.
            Seen::Ohms(a, b, _) if self.lies_between(whose, a, b) || self.matters(whose, a, b) => {
                0.5 * measured(0.0, 0.0, OHMS_SPREAD, misread, OHMS_SCALE)
            }
            // Most faults leave most of the board as it is.
            Seen::Ohms(..) => 0.8 * as_good().unwrap_or(0.0) + 0.2 * self.unheard(reading),
            // But a whole board's current changes a little with most.
            Seen::Supply(seen) => {
                let unheard = self.unheard(reading);
                match good {
                    Some(Figure::Number(amps, ..)) => {
                        let off = |scale: f64| (-(seen.0 - amps).abs() / scale).exp() / (2.0 * scale);
                        let far = if self.joins(whose) { unheard } else { off(AT_MOST) };
                        0.5 * as_good().unwrap_or(0.0) + 0.4 * off(ELSEWHERE) + 0.1 * far
                    }
                    _ => unheard,
                }
            }
            Seen::Hot(part) => match self.points.get(whose, reading.look.index()) {
                Some(point) => felt(point.heat(part), misread),
                None if self.touches(whose, part) => FELT,
                None => self.unheard(reading),
            },
            Seen::Smelt => match self.points.get(whose, reading.look.index()) {
                Some(point) => burnt(point.hottest(), misread),
                None => self.unheard(reading),
            },
            Seen::Sound(part) if self.touches(whose, part) => misread,
            Seen::Sound(_) => 1.0,
            Seen::Lamp(..) => 1.0,
        }
    }

    /// Whether what a fault changes has to do with the resistance between two nets that was measured.
    fn matters(&self, whose: Whose, a: NetId, b: NetId) -> bool {
        let board = self.study.extracted.shape.board;
        let change = whose.and_then(|fault| Change::of(board, &self.study.faults[fault]));
        let passive = self.passive.as_ref();
        passive.zip(change).is_some_and(|(passive, change)| passive.matters(a, b, &change))
    }

    /// The density of a reading with someone of whom it is foretold wrongly: as a rule a net that is not at the one
    /// voltage is at another at which some unit has it.
    fn otherwise(&self, reading: &Reading) -> f64 {
        let unheard = self.unheard(reading);
        let (Seen::Volts(net, _), Some(seen)) = (reading.seen, read(reading)) else { return unheard };
        let volts = self.points.all(reading.look.index()).filter_map(|point| point.volts(net));
        let fits = |Volts(volts)| measured(volts, seen, volts_spread(volts), 0.0, 1.0);
        let (sum, count) = volts.map(fits).fold((0.0, 0), |(sum, count), fit| (sum + fit, count + 1));
        if count == 0 { unheard } else { 0.5 * unheard + 0.5 * sum / f64::from(count) }
    }

    fn touches(&self, whose: Whose, part: PartId) -> bool {
        let board = self.study.extracted.shape.board;
        whose.is_some_and(|fault| self.study.faults[fault].parts(board).contains(&part))
    }

    /// Whether a fault joins something with the supply: then any current may flow.
    fn joins(&self, whose: Whose) -> bool {
        let board = self.study.extracted.shape.board;
        let Some(fault) = whose.map(|fault| &self.study.faults[fault]) else { return false };
        let is_joined = matches!(fault, Fault::Bridge(..) | Fault::RailShort(..) | Fault::Shifted(..));
        is_joined && fault.nets(board).iter().any(|&net| board.nets[net].supply.is_some())
    }

    /// Whether a fault is an electrolytic the wrong way round between the supply's leads.
    fn is_drained(&self, whose: Whose) -> bool {
        let board = self.study.extracted.shape.board;
        whose.is_some_and(|fault| drained(board, &self.study.faults[fault]).is_some())
    }

    /// Whether a fault's parts have a pin on each of two nets.
    pub(crate) fn lies_between(&self, whose: Whose, a: NetId, b: NetId) -> bool {
        let board = self.study.extracted.shape.board;
        let Some(fault) = whose.map(|fault| &self.study.faults[fault]) else { return false };
        let at = fault.nets(board);
        at.contains(&a) && at.contains(&b)
    }

    /// The density of a voltage where only the level is known. Whoever is not solved gets the benefit
    /// of the doubt, as if it were just what was read, if the level is right: who seems likely by that is
    /// solved next, and then no doubt is left.
    fn level(&self, look: usize, net: NetId, index: Option<usize>, volts: f64, misread: f64) -> f64 {
        let extracted = self.study.extracted;
        let scale = self.volts_scale();
        let rail = extracted.shape.rail.0;
        if !(-volts_spread(0.0)..=rail + volts_spread(rail)).contains(&volts) {
            // No board has that, whoever is at fault.
            return misread / scale;
        }
        let hit = measured(volts, volts, volts_spread(volts), misread, scale);
        let signal = extracted.signal_of[net];
        let shown = signal.map_or(Shown::Unknown, |signal| self.teller.likely(look, index, signal));
        let told = signal.zip(index).map(|(signal, index)| self.teller.shown(look, index, signal));
        let thresholds = extracted.levels[net].thresholds;
        let fits = match shown {
            Shown::One => volts > thresholds.high.0,
            Shown::Zero => volts < thresholds.low.0,
            Shown::Unknown | Shown::Dim => return 0.7 * hit + 0.3 / scale,
        };
        match fits {
            true => hit,
            // What hangs on how latches woke up may be otherwise.
            false if told == Some(Shown::Unknown) => Doubtful::default().share() / scale,
            false => misread / scale,
        }
    }

    /// The density of a reading when nothing is known of what is at fault.
    pub(crate) fn unheard(&self, reading: &Reading) -> f64 {
        match reading.seen {
            Seen::Volts(..) => 1.0 / self.volts_scale(),
            Seen::Supply(_) => 1.0 / self.amps_scale(),
            Seen::Ohms(..) => 1.0 / OHMS_SCALE,
            Seen::Hot(_) => 0.1 * FELT,
            Seen::Smelt => 0.1 * FELT,
            Seen::Sound(_) => 1.0,
            Seen::Lamp(..) => 1.0,
        }
    }

    fn volts_scale(&self) -> f64 {
        self.study.extracted.shape.rail.0 + 2.0
    }

    fn amps_scale(&self) -> f64 {
        let board = self.study.extracted.shape.board;
        let limits = board.nets.iter().filter_map(|(_, net)| match net.supply {
            Some(Supply::Rail { limit, .. }) => Some(limit.0),
            _ => None,
        });
        limits.sum::<f64>().max(0.1)
    }

    /// Faults in bins, by what a reading tells apart: neighbours in size that lie within a few spreads
    /// share one. Those that were not solved share theirs. With each fault comes the lane that tells what it shows.
    pub(crate) fn bins(&self, reading: &Reading, who: &[(FaultId, usize)]) -> Vec<u32> {
        let figure = |&(fault, lane): &(FaultId, usize)| {
            let own = self.figure(reading, Some(fault));
            let good = || self.is_good(reading, Some(fault), Some(lane)).then(|| self.figure(reading, None));
            own.or_else(|| good().flatten())
        };
        let figures: Vec<Option<Figure>> = who.iter().map(figure).collect();
        let numbers = figures.iter().enumerate().filter_map(|(at, figure)| match figure {
            Some(Figure::Number(number, spread, ..)) => Some((*number, *spread, at)),
            _ => None,
        });
        let mut sorted: Vec<(f64, f64, usize)> = numbers.collect();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
        if let Seen::Hot(_) | Seen::Smelt = reading.seen {
            let held = self.measured(reading);
            let bin = |&(fault, _): &(FaultId, usize)| {
                let point = self.points.get(Some(fault), reading.look.index());
                let chance = point.map(|_| self.meter(&held, Some(fault), None, &mut Doubtful::default()));
                chance.map_or(0, |chance| if chance > 0.5 * FELT { 1 } else { 2 })
            };
            return who.iter().map(bin).collect();
        }
        let apart = |figure: &Option<Figure>| match figure {
            Some(Figure::Open) => 1,
            Some(Figure::UpTo(..)) => u32::MAX,
            _ => 0,
        };
        let mut bins: Vec<u32> = figures.iter().map(apart).collect();
        let mut bin = 2;
        for (at, &(number, spread, who)) in sorted.iter().enumerate() {
            if at > 0 && number - sorted[at - 1].0 > APART * spread {
                bin += 1;
            }
            bins[who] = bin;
        }
        bins
    }
}

/// The number that was read; nothing where the meter showed no reading.
fn read(reading: &Reading) -> Option<f64> {
    match reading.seen {
        Seen::Volts(_, volts) => Some(volts.0),
        Seen::Supply(amps) => Some(amps.0),
        Seen::Ohms(_, _, Ohms(ohms)) => ohms.is_finite().then(|| size(Ohms(ohms))),
        Seen::Lamp(..) | Seen::Hot(_) | Seen::Smelt | Seen::Sound(_) => None,
    }
}
