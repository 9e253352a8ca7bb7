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

/// A lane this far behind, in natural logarithms, is no part of what everybody expects.
const NEGLIGIBLE: f64 = -30.0;

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
    fn add(&mut self, lamp: &LampReading, (there, sure): (Shown, bool), crowd: Option<f64>) {
        let hints = (lamp.agrees, lamp.before);
        match there {
            Shown::Dim => self.dim.add(there, lamp.sight, hints, crowd),
            Shown::Unknown => self.unknown.add(there, lamp.sight, hints, crowd),
            Shown::One | Shown::Zero if !sure => self.likely += chance(lamp, there, sure).ln(),
            Shown::One | Shown::Zero => {
                let fits = known(there) == lit(lamp.sight);
                *(if fits { &mut self.right } else { &mut self.wrong }) += 1;
                self.sure += chance(lamp, there, sure).ln();
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

/// The chance of a reading with a board of which it is known what the lamp shows.
fn chance(lamp: &LampReading, there: Shown, sure: bool) -> f64 {
    let as_said = chance::lamp(there, lamp.sight, lamp.misread);
    if sure || there == Shown::Dim {
        return as_said;
    }
    SURE * as_said + (1.0 - SURE) * chance::lamp(Shown::Unknown, lamp.sight, lamp.misread)
}

/// How every lane stands to the readings counted so far.
#[derive(Default)]
pub(crate) struct Stood {
    lamps: Vec<LampReading>,
    lanes: Vec<Count>,
    good: Count,
}

/// What a lane with nothing to say of a lamp weighs in what everybody expects.
const SILENT: f64 = 0.02;

impl Stood {
    /// Counts the readings that are new; all of them where one that was counted is no more. `odds` has the logarithm
    /// of each lane's odds before anything is seen.
    pub fn follow(&mut self, teller: &Teller, odds: &[f64], lamps: &[LampReading]) {
        if !lamps.starts_with(&self.lamps) || self.lanes.len() != teller.lanes().len() {
            *self = Self { lanes: vec![Count::default(); teller.lanes().len()], ..Self::default() };
        }
        let fresh = &lamps[self.lamps.len()..];
        let told = |index: usize| fresh.iter().map(|lamp| there(teller, lamp, Some(index))).collect();
        let told: Vec<Vec<(Shown, bool)>> = (0..self.lanes.len()).into_par_iter().map(told).collect();
        for (at, lamp) in fresh.iter().enumerate() {
            let crowd = self.crowd(odds, lamp, |index| told[index][at]);
            self.lanes.iter_mut().zip(&told).for_each(|(count, told)| count.add(lamp, told[at], Some(crowd)));
            self.good.add(lamp, there(teller, lamp, None), Some(crowd));
        }
        self.lamps.extend(fresh);
    }

    /// The chance of a reading with all lanes of which it is known what they show, each as likely as it is by what was
    /// counted so far.
    fn crowd(&self, odds: &[f64], lamp: &LampReading, told: impl Fn(usize) -> (Shown, bool)) -> f64 {
        let logs: Vec<f64> = self.lanes.iter().zip(odds).map(|(count, odds)| count.log() + odds).collect();
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let (mut all, mut known, mut fit) = (0.0, 0.0, 0.0);
        for (index, log) in logs.into_iter().enumerate().filter(|(_, log)| log - most > NEGLIGIBLE) {
            let share = (log - most).exp();
            all += share;
            let (there, sure) = told(index);
            if there != Shown::Unknown {
                known += share;
                fit += share * chance(lamp, there, sure);
            }
        }
        let silent = SILENT * all;
        (fit + silent * chance::lamp(Shown::Unknown, lamp.sight, lamp.misread)) / (known + silent)
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
    lamps.iter().for_each(|lamp| count.add(lamp, (shown(lamp), true), None));
    count.log()
}
