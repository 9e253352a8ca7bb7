//! How every lane stands to the lamps that were read: how likely it makes them.
//!
//! What was counted is kept, so that the next reading adds only itself.

use crate::chance::{self, OpenRun, departures, log_sum};
use crate::inquiry::{known, lit};
use crate::tell::Teller;
use dryjoint_faults::lanes::Shown;
use dryjoint_logic::SignalId;
use dryjoint_session::{ReadingId, Sight};
use rayon::prelude::*;
use std::ops::Range;

/// How far what two ways of waking up agree on is believed.
const SURE: f64 = 0.97;

/// A lamp's reading with what does not depend on the fault.
#[derive(Clone, Copy, PartialEq)]
pub(crate) struct LampReading {
    pub id: ReadingId,
    pub look: usize,
    pub signal: SignalId,
    pub sight: Sight,
    pub misread: f64,
    pub good: Shown,
    /// Whether it is as on a good board, and how this lamp looked before.
    pub agrees: Option<bool>,
    pub before: Option<Sight>,
}

/// How one group, or the good board, stands to the lamps.
#[derive(Clone, Copy, Default)]
pub(crate) struct Standing {
    /// The logarithm of the readings' chance.
    pub log: f64,
    /// The same for a board that departs from this one now and then.
    pub loose: f64,
    /// The lane that tells what it shows; of no account for the good board.
    pub index: usize,
}

/// Readings as one board has them, counted as they come.
#[derive(Clone, Copy, Default)]
struct Count {
    /// The logarithm of the chance of those that are known for sure, and of those that are likely.
    sure: f64,
    likely: f64,
    right: usize,
    wrong: usize,
    dim: OpenRun,
    unknown: OpenRun,
}

impl Count {
    fn add(&mut self, lamp: &LampReading, (there, sure): (Shown, bool)) {
        match there {
            Shown::Dim => self.dim.add(there, lamp.sight, lamp.agrees, lamp.before),
            Shown::Unknown => self.unknown.add(there, lamp.sight, lamp.agrees, lamp.before),
            Shown::One | Shown::Zero if !sure => {
                let as_said = chance::lamp(there, lamp.sight, lamp.misread);
                let else_where = chance::lamp(Shown::Unknown, lamp.sight, lamp.misread);
                self.likely += (SURE * as_said + (1.0 - SURE) * else_where).ln();
            }
            Shown::One | Shown::Zero => {
                let fits = known(there) == lit(lamp.sight);
                *(if fits { &mut self.right } else { &mut self.wrong }) += 1;
                self.sure += chance::lamp(there, lamp.sight, lamp.misread).ln();
            }
        }
    }

    fn log(&self) -> f64 {
        self.sure + self.likely + self.dim.log() + self.unknown.log()
    }

    fn loose(&self) -> f64 {
        self.likely + self.dim.log() + self.unknown.log() + departures(self.wrong, self.right)
    }
}

/// How every lane stands to the readings counted so far.
#[derive(Default)]
pub(crate) struct Stood {
    lamps: Vec<LampReading>,
    lanes: Vec<Count>,
    good: Count,
}

impl Stood {
    /// Counts the readings that are new; all of them where one that was counted is no more.
    pub fn follow(&mut self, teller: &Teller, lamps: &[LampReading]) {
        if !lamps.starts_with(&self.lamps) || self.lanes.len() != teller.lanes().len() {
            *self = Self { lanes: vec![Count::default(); teller.lanes().len()], ..Self::default() };
        }
        let fresh = &lamps[self.lamps.len()..];
        self.lanes.par_iter_mut().enumerate().for_each(|(index, count)| {
            fresh.iter().for_each(|lamp| count.add(lamp, there(teller, lamp, Some(index))));
        });
        fresh.iter().for_each(|lamp| self.good.add(lamp, there(teller, lamp, None)));
        self.lamps.extend(fresh);
    }

    /// The good board's standing.
    pub fn good(&self) -> Standing {
        Standing { log: self.good.log(), loose: self.good.loose(), index: 0 }
    }

    /// How a group stands: the mean over the ways in which it may lean, told by the best of them.
    pub fn lean(&self, ways: &Range<usize>) -> Standing {
        let logs: Vec<f64> = self.lanes[ways.clone()].iter().map(Count::log).collect();
        let loose: Vec<f64> = self.lanes[ways.clone()].iter().map(Count::loose).collect();
        let mean = |all: &[f64]| log_sum(all.iter().copied()) - (all.len() as f64).ln();
        let best = (1..logs.len()).fold(0, |best, at| if logs[at] > logs[best] { at } else { best });
        Standing { log: mean(&logs), loose: mean(&loose), index: ways.start + best }
    }

    /// How the readings went of lamps of which a lane, or the good board, knows nothing.
    pub fn open(&self, index: Option<usize>) -> OpenRun {
        index.map_or(&self.good, |index| &self.lanes[index]).unknown
    }
}

/// What a lamp shows with a fault, and whether that is sure: as the lanes have it, or what it shows
/// however latches woke up as far as was tried.
pub(crate) fn there(teller: &Teller, lamp: &LampReading, index: Option<usize>) -> (Shown, bool) {
    let told = match index {
        Some(index) => teller.shown(lamp.look, index, lamp.signal),
        None => lamp.good,
    };
    if told == Shown::Unknown { (teller.likely(lamp.look, index, lamp.signal), false) } else { (told, true) }
}

/// The logarithm of the chance of readings with a board that shows this for sure; the lamps are asked for in order.
pub(crate) fn stand(lamps: &[LampReading], mut shown: impl FnMut(&LampReading) -> Shown) -> f64 {
    let mut count = Count::default();
    lamps.iter().for_each(|lamp| count.add(lamp, (shown(lamp), true)));
    count.log()
}
