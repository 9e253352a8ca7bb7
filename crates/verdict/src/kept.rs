//! What pairs of faults do along the looks of one session, kept while the looks stay the same.
//!
//! Where two faults meet hangs on what was done, not on what was read. So does what a pair's lamps show; those
//! are kept only where asked for, since a person at the bench weighs pairs once or twice.

use crate::inquiry::lit;
use crate::standing::LampReading;
use dryjoint_faults::lanes::{Planes, Shown};
use dryjoint_procedure::Action;
use dryjoint_session::Session;
use std::collections::BTreeMap;

/// What belongs to one list of looks.
#[derive(Default)]
pub(crate) struct Kept {
    /// Per look whether power came on, and what was done.
    looks: Vec<(bool, Vec<Action>)>,
    /// The look at which each two groups meet: 1 with 0, 2 with 0 and 1, and so on.
    pub meet: Vec<u8>,
    /// The lamps of pairs that were played.
    pub rows: BTreeMap<[usize; 2], Lamps>,
}

impl Kept {
    /// Forgets everything where the session has other looks than the one before.
    pub fn follow(&mut self, session: &Session) {
        let looks = session.looks().rows().iter();
        let looks: Vec<_> = looks.map(|look| (look.power, look.actions.clone())).collect();
        if self.looks != looks {
            *self = Self { looks, ..Self::default() };
        }
    }

    /// Where two groups stand in [`meet`](Self::meet).
    pub fn place(low: usize, high: usize) -> usize {
        high * (high - 1) / 2 + low
    }
}

/// What every lamp shows at every look, a bit each for whether it may be lit and may be dark.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Lamps {
    one: Vec<u64>,
    zero: Vec<u64>,
    count: usize,
}

impl Lamps {
    /// Adds the next lamp, as it is in one lane.
    pub fn push(&mut self, planes: &Planes, lane: usize) {
        let (word, bit) = (self.count / 64, self.count % 64);
        if bit == 0 {
            self.one.push(0);
            self.zero.push(0);
        }
        self.one[word] |= u64::from(planes.one.get(lane)) << bit;
        self.zero[word] |= u64::from(planes.zero.get(lane)) << bit;
        self.count += 1;
    }

    /// What these lamps cost, as [`rough`] has it one by one.
    pub fn rough(&self, read: &Read) -> f64 {
        let (mut cost, mut open) = (0.0, 0);
        for alike in &read.0 {
            let mut misfits = 0;
            for (at, word) in alike.words.iter().enumerate().filter(|(_, word)| word.any() != 0) {
                let (one, zero) = (self.one[at], self.zero[at]);
                let known = one ^ zero;
                misfits += (known & (word.lit & zero | word.dark & one | word.between)).count_ones();
                open += (!known & word.any() & !(one & zero & word.between)).count_ones();
            }
            cost += f64::from(misfits) * alike.misread;
        }
        cost - f64::from(open) * OPEN_COST
    }
}

/// What was read of lamps, laid out as [`Lamps`] are, so that sixty-four are held against each other at a time.
#[derive(Default)]
pub(crate) struct Read(Vec<Alike>);

/// The lamps that are misread equally often.
struct Alike {
    /// What such a lamp costs where it does not fit.
    misread: f64,
    words: Vec<Looked>,
}

/// How sixty-four lamps looked: a bit each.
#[derive(Clone, Copy, Default)]
struct Looked {
    lit: u64,
    dark: u64,
    between: u64,
}

impl Looked {
    fn any(&self) -> u64 {
        self.lit | self.dark | self.between
    }
}

impl Read {
    /// Readings, each with the place of its lamp in the row.
    pub fn of<'a>(lamps: impl Iterator<Item = (usize, &'a LampReading)>) -> Self {
        let mut read = Self::default();
        for (at, lamp) in lamps {
            let misread = misread(lamp);
            let known = read.0.iter().position(|alike| alike.misread.total_cmp(&misread).is_eq());
            let place = known.unwrap_or_else(|| {
                read.0.push(Alike { misread, words: Vec::new() });
                read.0.len() - 1
            });
            let words = &mut read.0[place].words;
            words.resize(words.len().max(at / 64 + 1), Looked::default());
            let word = &mut words[at / 64];
            let looked = match lit(lamp.sight) {
                Some(true) => &mut word.lit,
                Some(false) => &mut word.dark,
                None => &mut word.between,
            };
            *looked |= 1 << (at % 64);
        }
        read
    }
}

/// What one lamp of which nothing is known costs in the first, rough count. Little: where luck fell once, one latch may answer
/// for all lamps that are open at dozens of looks, and only the close weighing hears that.
pub(crate) const OPEN_COST: f64 = 0.1;

/// What one lamp costs a board that shows this, in the first, rough count.
pub(crate) fn rough(told: Shown, lamp: &LampReading) -> f64 {
    match (told, lit(lamp.sight)) {
        (Shown::One, Some(true)) | (Shown::Zero, Some(false)) | (Shown::Dim, None) => 0.0,
        (Shown::One | Shown::Zero, _) => misread(lamp),
        (Shown::Dim | Shown::Unknown, _) => -OPEN_COST,
    }
}

/// What one lamp costs that is plainly otherwise.
pub(crate) fn misread(lamp: &LampReading) -> f64 {
    (lamp.misread / 2.0).ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryjoint_faults::lanes::Word;
    use dryjoint_ids::Id;
    use dryjoint_session::Sight;

    #[test]
    fn every_pair_has_a_place_of_its_own() {
        let places: Vec<usize> =
            (1..5).flat_map(|high| (0..high).map(move |low| Kept::place(low, high))).collect();
        assert_eq!(places, (0..10).collect::<Vec<_>>());
    }

    /// Sixty-four at a time they cost what they cost one by one.
    #[test]
    fn rows_cost_what_their_lamps_cost() {
        let mut draws = dryjoint_draws::Draws::new(3);
        let seen = [Shown::One, Shown::Zero, Shown::Dim, Shown::Unknown];
        let sights = [Sight::Lit, Sight::Dark, Sight::Dim, Sight::Flickering];
        let id = dryjoint_session::ReadingId::at(0);
        let signal = dryjoint_logic::SignalId::at(0);
        for _ in 0..20 {
            let row: Vec<Shown> = (0..200).map(|_| seen[draws.below(4)]).collect();
            let mut lamps = Lamps::default();
            for shown in &row {
                let of = |all: [Shown; 2]| {
                    let mut word = Word::NONE;
                    word.set(3, all.contains(shown));
                    word
                };
                let planes =
                    Planes { one: of([Shown::One, Shown::Dim]), zero: of([Shown::Zero, Shown::Dim]) };
                lamps.push(&planes, 3);
            }
            let read: Vec<(usize, LampReading)> = (0..200)
                .filter(|at| at % 3 != 1)
                .map(|at| {
                    let (sight, misread) = (sights[draws.below(4)], [0.01, 0.05][draws.below(2)]);
                    let reading = LampReading {
                        id,
                        look: 0,
                        signal,
                        sight,
                        misread,
                        good: Shown::One,
                        agrees: None,
                        before: None,
                    };
                    (at, reading)
                })
                .collect();
            let each: f64 = read.iter().map(|(at, lamp)| rough(row[*at], lamp)).sum();
            let all = lamps.rough(&Read::of(read.iter().map(|(at, lamp)| (*at, lamp))));
            assert!((each - all).abs() < 1e-9, "{each} {all}");
        }
    }
}
