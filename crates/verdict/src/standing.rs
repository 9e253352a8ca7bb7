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

    /// The same had it been known how open lamps look, and had what is only likely not been taken for more.
    fn learned(&self) -> f64 {
        self.sure + self.dim.learned() + self.unknown.learned()
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

/// How likely it is, in natural logarithms, that what was heard of luck is of no use (judgement).
const ALONE: f64 = -4.0;

/// The same by what is known of it alone, and by what was heard of how luck fell. Which of the two is to be believed is
/// not known: a lamp that was misread tells it wrong.
#[derive(Clone, Copy, Default)]
struct Both {
    alone: Count,
    heard: Count,
    /// The logarithm of the chance that luck fell as it was heard, and the same had it been known how it falls.
    luck: f64,
    learned: f64,
}

impl Both {
    fn log(&self) -> f64 {
        log_sum([self.alone.log() + ALONE, self.heard.log() + self.luck])
    }

    fn loose(&self) -> f64 {
        log_sum([self.alone.loose() + ALONE, self.heard.loose() + self.luck])
    }

    /// The logarithm of what was spent on learning how luck falls and how open lamps look: no evidence for anybody else.
    fn spent(&self) -> f64 {
        (self.alone.learned() + ALONE).max(self.heard.learned() + self.learned) - self.log()
    }

    /// Whether it fits better without what was heard.
    fn is_deaf(&self) -> bool {
        self.alone.log() + ALONE > self.heard.log() + self.luck
    }

    /// The one that fits better.
    fn best(&self) -> &Count {
        if self.is_deaf() { &self.alone } else { &self.heard }
    }
}

/// What a lamp shows, and whether that is sure, by what is known alone and by what was heard.
type Told = [(Shown, bool); 2];

/// How every lane stands to the readings counted so far.
#[derive(Default)]
pub(crate) struct Stood {
    lamps: Vec<LampReading>,
    lanes: Vec<Both>,
    good: Both,
}

/// What a lane with nothing to say of a lamp weighs in what everybody expects.
const SILENT: f64 = 0.02;

impl Stood {
    /// Counts the readings that are new; all of them where one that was counted is no more. `odds` has the logarithm
    /// of each lane's odds before anything is seen.
    pub fn follow(&mut self, teller: &Teller, odds: &[f64], lamps: &[LampReading]) {
        if !lamps.starts_with(&self.lamps) || self.lanes.len() != teller.lanes().len() {
            *self = Self { lanes: vec![Both::default(); teller.lanes().len()], ..Self::default() };
        }
        let fresh = &lamps[self.lamps.len()..];
        let told = |index: usize| fresh.iter().map(|lamp| told(teller, lamp, Some(index))).collect();
        let told: Vec<Vec<Told>> = (0..self.lanes.len()).into_par_iter().map(told).collect();
        for (at, lamp) in fresh.iter().enumerate() {
            let crowd = Some(self.crowd(odds, lamp, |index| told[index][at][1]));
            let add = |both: &mut Both, [alone, heard]: Told| {
                both.alone.add(lamp, alone, crowd);
                both.heard.add(lamp, heard, crowd);
            };
            self.lanes.iter_mut().zip(&told).for_each(|(both, told)| add(both, told[at]));
            add(&mut self.good, self::told(teller, lamp, None));
        }
        self.lamps.extend(fresh);
        let ear = |both: &mut Both, index: Option<usize>| {
            if let Some((ear, lane)) = teller.ear(index) {
                (both.luck, both.learned) = (ear.luck(lane), ear.learned(lane));
            }
        };
        self.lanes.iter_mut().enumerate().for_each(|(at, both)| ear(both, Some(at)));
        ear(&mut self.good, None);
    }

    /// Forgets everything where lamps were counted that were read at this look or later.
    pub fn forget(&mut self, look: usize) {
        if self.lamps.iter().any(|lamp| lamp.look >= look) {
            *self = Self::default();
        }
    }

    /// The chance of a reading with all lanes of which it is known what they show, each as likely as it is by what was
    /// counted so far.
    fn crowd(&self, odds: &[f64], lamp: &LampReading, told: impl Fn(usize) -> (Shown, bool)) -> f64 {
        let logs: Vec<f64> = self.lanes.iter().zip(odds).map(|(both, odds)| both.log() + odds).collect();
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

    /// Which lanes, and last the good board, fit better without what was heard.
    pub fn deaf(&self) -> Vec<bool> {
        self.lanes.iter().chain([&self.good]).map(Both::is_deaf).collect()
    }

    /// The good board's standing.
    pub fn good(&self) -> Standing {
        Standing { log: self.good.log(), loose: self.good.loose(), index: 0 }
    }

    /// How a group stands: the mean over the ways in which it may lean, told by the best of them.
    pub fn lean(&self, ways: &Range<usize>) -> Standing {
        let logs: Vec<f64> = self.lanes[ways.clone()].iter().map(Both::log).collect();
        let loose: Vec<f64> = self.lanes[ways.clone()].iter().map(Both::loose).collect();
        let mean = |all: &[f64]| log_sum(all.iter().copied()) - (all.len() as f64).ln();
        let best = (1..logs.len()).fold(0, |best, at| if logs[at] > logs[best] { at } else { best });
        Standing { log: mean(&logs), loose: mean(&loose), index: ways.start + best }
    }

    /// The logarithm of what was spent on learning how luck falls in a lane.
    pub fn spent(&self, index: usize) -> f64 {
        self.lanes[index].spent()
    }

    /// How the readings went of lamps of which a lane, or the good board, knows nothing.
    pub fn open(&self, index: Option<usize>) -> OpenRun {
        index.map_or(&self.good, |index| &self.lanes[index]).best().unknown
    }
}

/// What a lamp shows with a fault, and whether that is sure: as the lanes have it, by what was heard where that is believed, or
/// what it shows however latches woke up as far as was tried.
pub(crate) fn there(teller: &Teller, lamp: &LampReading, index: Option<usize>) -> (Shown, bool) {
    match index.map_or(lamp.good, |index| teller.shown(lamp.look, index, lamp.signal)) {
        Shown::Unknown => (teller.likely(lamp.look, index, lamp.signal), false),
        sure => (sure, true),
    }
}

fn told(teller: &Teller, lamp: &LampReading, index: Option<usize>) -> Told {
    let sure = index.map_or(lamp.good, |index| teller.shown(lamp.look, index, lamp.signal));
    if sure != Shown::Unknown {
        return [(sure, true); 2];
    }
    let alone = (teller.unheard(lamp.look, index, lamp.signal), false);
    match teller.heard(lamp.look, index, lamp.signal) {
        Shown::Unknown => [alone; 2],
        heard => [alone, (heard, true)],
    }
}

/// How a board stands to readings as they come, by what it shows for sure, or by what it was told of how luck fell.
#[derive(Clone, Copy, Default)]
pub(crate) struct Stand(Both);

impl Stand {
    /// One more reading of a lamp, with what it shows for sure and by what was told.
    pub fn add(&mut self, lamp: &LampReading, (sure, heard): (Shown, Shown)) {
        self.0.alone.add(lamp, (sure, true), None);
        self.0.heard.add(lamp, (if sure == Shown::Unknown { heard } else { sure }, true), None);
    }

    /// The logarithm of the readings' chance; that luck fell so has its chance too. It only ever falls.
    pub fn log(&self, luck: f64) -> f64 {
        Both { luck, ..self.0 }.log()
    }
}
