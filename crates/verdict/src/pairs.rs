//! Two faults at once, and three.
//!
//! Every pair of groups is weighed. Two faults that are never felt at the same place ([`Reach`]) show each
//! what it shows alone, so their count is a sum. Of the others the sum is a bound as far as they have
//! nothing to do with each other yet; whoever that does not refute runs in a lane with both
//! behaviours in it, so that faults which hide or help each other are seen as they are. They are played
//! up to the first odd lamps, the most promising of them to the end, and whatever is by then far below
//! the best is not played further (branch and bound: A. Land & A. Doig 1960; a count only ever falls). What
//! is left is weighed like single faults, by what it hears of how luck fell as well. Where pairs explain it no better than
//! "none of these", a third fault is tried beside each of the best.

mod close;

use self::close::Weighed;
use crate::Inquiry;
use crate::chance::log_sum;
use crate::hear::Luck;
use crate::inquiry::lit;
use crate::kept::{Kept, Lamps, OPEN_COST, Read, misread, rough};
use crate::posterior::{TELLS, compatible};
use crate::reach::{NEVER, Reach};
use crate::standing::LampReading;
use crate::tell::Lane;
use dryjoint_faults::lanes::{Behaviour, LANES, Machine, Planes, Shown};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::GroupId;
use dryjoint_session::{Reading, Seen, Session};
use rayon::prelude::*;

/// Sets this much less likely than the likeliest are not weighed closely, in natural logarithms.
const FAR: f64 = 12.0;

/// Pairs beside which a third fault is tried.
const PARENTS: usize = 12;

/// More than this for "none of these" after the pairs, and a third fault is tried.
const NONE_FITS: f64 = 0.5;

/// After how many odd lamps the lanes close ranks.
const CLOSE_RANKS: [usize; 4] = [1, 3, 12, usize::MAX];

/// Groups, one fault of each, with the numbers in order.
type Set = Vec<usize>;

/// Sets with their count, or a bound for it.
type Counted = Vec<(f64, Set)>;

/// Pairs of groups, one fault of each, that nothing seen so far tells apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// The groups of each pair, the lower number first; the likeliest pair first.
    pub groups: Vec<[GroupId; 2]>,
    /// The chance that it is one of them, among everything weighed.
    pub probability: f64,
}

/// Three groups, one fault of each.
#[derive(Clone, Debug, PartialEq)]
pub struct Triple {
    /// The groups of each three that nothing seen so far tells apart.
    pub groups: Vec<[GroupId; 3]>,
    /// The chance that it is one of them, among everything weighed.
    pub probability: f64,
}

/// The pairs weighed against a session.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pairs {
    /// The likeliest, most probable first.
    pub pairs: Vec<Pair>,
    /// The chance of two faults, against one, none, three, or something unheard of.
    pub two_faults: f64,
    /// The likeliest threes, where they were tried.
    pub triples: Vec<Triple>,
    /// The chance of three faults.
    pub three_faults: f64,
    /// The chance of something unheard of, now that pairs were tried.
    pub none_of_these: f64,
    /// How many pairs were weighed: all there are.
    pub weighed: usize,
    /// How many sets had to be played in the lanes.
    pub run: usize,
}

impl Pairs {
    /// How sure it is that more than one fault is there.
    pub fn more_than_one(&self) -> f64 {
        self.two_faults + self.three_faults
    }
}

impl Inquiry<'_, '_, '_> {
    /// Weighs pairs of faults against the lamps of a session; the verdict on it comes first. Takes
    /// a second, not a moment: for when no single fault explains what was seen.
    pub fn pairs(&mut self, session: &Session) -> Pairs {
        let Some((single, none)) = self.posterior.as_ref().map(|posterior| (posterior.total, posterior.none))
        else {
            return Pairs::default();
        };
        let readings: Vec<_> = session.readings().map(|(id, reading)| (id, *reading)).collect();
        let lamps = self.lamp_readings(&readings);
        if !lamps.iter().any(|lamp| lamp.agrees == Some(false)) {
            return Pairs { none_of_these: none, ..Pairs::default() };
        }
        let measured = readings.iter().map(|(_, reading)| reading);
        let measured = measured.filter(|reading| !matches!(reading.seen, Seen::Lamp(..)));
        let unheard: f64 = measured.map(|reading: &Reading| self.unheard(reading).ln()).sum();
        let mut kept = std::mem::take(&mut self.kept);
        kept.follow(session);
        let luck = Luck::of(self.study);
        let work = Weighing { inquiry: self, session, lamps: &lamps, luck, unheard };
        let mut least = single - unheard - FAR;
        let (rough, run) = work.all_pairs(&mut least, &mut kept);
        let mut run = run;
        let pairs = work.closely(rough);
        let mut total = log_sum(pairs.iter().map(|one| one.chance).chain([single]));
        let mut triples = Vec::new();
        if (none.ln() + single - total).exp() > NONE_FITS || pairs.is_empty() {
            let sets = work.thirds(&pairs);
            run += sets.len();
            triples = work.closely(work.sieve(sets, &mut least));
            total = log_sum(triples.iter().map(|one| one.chance).chain([total]));
        }
        self.kept = kept;
        let all = self.study.groups.len();
        let pairs = answers(pairs, total).into_iter();
        let pairs: Vec<Pair> = pairs.map(|(groups, probability)| Pair { groups, probability }).collect();
        let triples = answers(triples, total).into_iter();
        let triples: Vec<Triple> =
            triples.map(|(groups, probability)| Triple { groups, probability }).collect();
        Pairs {
            two_faults: pairs.iter().map(|pair| pair.probability).sum(),
            three_faults: triples.iter().map(|triple| triple.probability).sum(),
            none_of_these: (none.ln() + single - total).exp(),
            weighed: all * all.saturating_sub(1) / 2,
            run,
            pairs,
            triples,
        }
    }

    /// How much the lamps speak for these faults together against the single fault that explains them best, or
    /// none: the logarithm of how many times likelier they make what was read, chances from before left out. The
    /// verdict on the session comes first.
    pub fn favour(&self, session: &Session, together: &[GroupId]) -> f64 {
        let readings: Vec<_> = session.readings().map(|(id, reading)| (id, *reading)).collect();
        let lamps = self.lamp_readings(&readings);
        let single = self.ways.iter().map(|ways| self.stood.lean(ways).log);
        let single = single.fold(self.stood.good().log, f64::max);
        let set: Set = together.iter().map(|group| group.index()).collect();
        let luck = Luck::of(self.study);
        let work = Weighing { inquiry: self, session, lamps: &lamps, luck, unheard: 0.0 };
        work.closely(vec![(0.0, set)]).first().map_or(f64::NEG_INFINITY, |one| one.log) - single
    }
}

/// Sets together that nothing tells apart, most probable first.
fn answers<const N: usize>(mut weighed: Vec<Weighed>, total: f64) -> Vec<(Vec<[GroupId; N]>, f64)> {
    weighed.sort_by(|a, b| b.chance.total_cmp(&a.chance).then(a.set.cmp(&b.set)));
    let mut answers: Vec<(Vec<[GroupId; N]>, f64, Vec<Weighed>)> = Vec::new();
    for one in weighed {
        let probability = (one.chance - total).exp();
        let joins = |members: &[Weighed]| {
            members
                .iter()
                .all(|known| (known.log - one.log).abs() < TELLS.ln() && compatible(&known.told, &one.told))
        };
        let groups: [GroupId; N] = std::array::from_fn(|at| GroupId::at(one.set[at]));
        match answers.iter_mut().find(|(.., members)| joins(members)) {
            Some((sets, sum, members)) => {
                sets.push(groups);
                *sum += probability;
                members.push(one);
            }
            None => answers.push((vec![groups], probability, vec![one])),
        }
    }
    let mut answers: Vec<_> = answers.into_iter().map(|(sets, sum, _)| (sets, sum)).collect();
    answers.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    answers
}

/// Sets of faults weighed against one session.
struct Weighing<'i, 's, 'e, 'b> {
    inquiry: &'i Inquiry<'s, 'e, 'b>,
    session: &'i Session,
    lamps: &'i [LampReading],
    luck: Luck,
    unheard: f64,
}

impl Weighing<'_, '_, '_, '_> {
    fn odds(&self, set: &[usize]) -> f64 {
        set.iter().map(|&at| self.inquiry.group_odds[at].ln()).sum()
    }

    /// Every pair that is not refuted with its count, and how many were played. `least` rises with the
    /// best found.
    fn all_pairs(&self, least: &mut f64, kept: &mut Kept) -> (Counted, usize) {
        let (mut left, meeting) = self.bounds(*least, kept);
        rise(&left, least);
        // Those of which one touches the first odd lamp by itself are the likeliest to be it.
        let first = self.lamps.iter().find(|lamp| lamp.agrees == Some(false));
        let touches: Vec<bool> = self
            .inquiry
            .ways
            .iter()
            .map(|ways| first.is_some_and(|lamp| self.told(ways.start, lamp) != lamp.good))
            .collect();
        let (likely, other): (Vec<_>, Vec<_>) =
            meeting.into_iter().partition(|(_, set)| set.iter().any(|&at| touches[at]));
        let mut run = 0;
        for some in [likely, other] {
            let sets: Vec<Set> =
                some.into_iter().filter(|(bound, _)| *bound > *least).map(|(_, set)| set).collect();
            run += sets.len();
            if self.inquiry.keeps_pairs {
                let counted = self.recalled(sets, kept);
                rise(&counted, least);
                left.extend(counted);
            } else {
                left.extend(self.sieve(sets, least));
            }
        }
        left.retain(|(log, _)| *log > *least);
        (left, run)
    }

    fn told(&self, lane: usize, lamp: &LampReading) -> Shown {
        self.inquiry.teller.shown(lamp.look, lane, lamp.signal)
    }

    /// A bound for every pair that is not refuted by it: first those of which one has nothing to do with
    /// the other, whose bound is their count, then those that have to be played.
    fn bounds(&self, least: f64, kept: &mut Kept) -> (Counted, Counted) {
        let inquiry = self.inquiry;
        if kept.meet.is_empty() {
            kept.meet = self.meetings();
        }
        let looks = self.session.looks().len();
        let good = self.sums(looks, |lamp| rough(lamp.good, lamp));
        let own = |ways: &std::ops::Range<usize>| {
            self.sums(looks, |lamp| rough(self.told(ways.start, lamp), lamp) - rough(lamp.good, lamp))
        };
        let own: Vec<Vec<f64>> = inquiry.ways.iter().map(own).collect();
        let odds: Vec<f64> = inquiry.group_odds.iter().map(|odds| odds.ln()).collect();
        let rows: Vec<[Counted; 2]> = (0..own.len())
            .into_par_iter()
            .map(|one| {
                let mut lists = [Vec::new(), Vec::new()];
                for other in one + 1..own.len() {
                    let meet = kept.meet[Kept::place(one, other)];
                    let until = if meet == NEVER { looks } else { usize::from(meet).min(looks) };
                    let bound = odds[one] + odds[other] + good[until] + own[one][until] + own[other][until];
                    if bound > least {
                        lists[usize::from(meet != NEVER)].push((bound, vec![one, other]));
                    }
                }
                lists
            })
            .collect();
        let (mut apart, mut meeting) = (Vec::new(), Vec::new());
        for [one, other] in rows {
            apart.extend(one);
            meeting.extend(other);
        }
        (apart, meeting)
    }

    /// The look at which each two groups meet.
    fn meetings(&self) -> Vec<u8> {
        let inquiry = self.inquiry;
        let alone: Vec<Lane> =
            inquiry.ways.iter().map(|ways| inquiry.teller.lanes()[ways.start].clone()).collect();
        let reach = Reach::of(inquiry.study, self.session, &alone);
        let all = (0..alone.len()).into_par_iter();
        all.flat_map_iter(|high| (0..high).map(move |low| (low, high)).collect::<Vec<_>>())
            .map(|(low, high)| reach.meet(low, high))
            .collect()
    }

    /// The count of pairs, whose lamps are played once and kept.
    fn recalled(&self, sets: Vec<Set>, kept: &mut Kept) -> Counted {
        let fresh: Vec<Set> =
            sets.iter().filter(|set| !kept.rows.contains_key(&[set[0], set[1]])).cloned().collect();
        let signals: Vec<SignalId> = self.inquiry.study.rig.lamps.iter().map(|&(_, signal)| signal).collect();
        let played: Vec<Vec<Lamps>> = fresh
            .par_chunks(LANES - 1)
            .map(|sets| {
                let mut rows = vec![Lamps::default(); sets.len()];
                self.play(sets, |_, machine| {
                    for (at, row) in rows.iter_mut().enumerate() {
                        signals.iter().for_each(|&signal| row.push(machine.value(signal), at + 1));
                    }
                    true
                });
                rows
            })
            .collect();
        kept.rows.extend(fresh.iter().map(|set| [set[0], set[1]]).zip(played.concat()));
        let place = |lamp: &LampReading| {
            signals.iter().position(|&signal| signal == lamp.signal).map(|at| lamp.look * signals.len() + at)
        };
        let read = Read::of(self.lamps.iter().filter_map(|lamp| Some((place(lamp)?, lamp))));
        let count = |set: Set| (self.odds(&set) + kept.rows[&[set[0], set[1]]].rough(&read), set);
        sets.into_par_iter().map(count).collect()
    }

    /// The sum of something over the lamps read before each look, and last over all.
    fn sums(&self, looks: usize, of: impl Fn(&LampReading) -> f64) -> Vec<f64> {
        let mut sums = vec![0.0; looks + 1];
        for lamp in self.lamps {
            sums[lamp.look + 1] += of(lamp);
        }
        for look in 0..looks {
            sums[look + 1] += sums[look];
        }
        sums
    }

    /// Each of the best pairs with a third fault.
    fn thirds(&self, pairs: &[Weighed]) -> Vec<Set> {
        let mut best: Vec<&Weighed> = pairs.iter().collect();
        best.sort_by(|a, b| b.chance.total_cmp(&a.chance).then(a.set.cmp(&b.set)));
        let mut sets: Vec<Set> = Vec::new();
        for pair in best.into_iter().take(PARENTS) {
            let all = 0..self.inquiry.study.groups.len();
            for third in all.filter(|third| !pair.set.contains(third)) {
                let mut set = [&pair.set[..], &[third]].concat();
                set.sort_unstable();
                sets.push(set);
            }
        }
        sets.sort_unstable();
        sets.dedup();
        sets
    }

    /// Plays sets in the lanes; those that are not refuted, with their count.
    fn sieve(&self, mut sets: Vec<Set>, least: &mut f64) -> Counted {
        let looks = self.session.looks().len();
        let mut left = Counted::new();
        for odd in CLOSE_RANKS {
            let odd = self.lamps.iter().filter(|lamp| lamp.agrees == Some(false)).nth(odd - 1);
            let until = odd.map_or(looks, |lamp| lamp.look + 1);
            left = self.played(&sets, until, *least);
            if until < looks {
                left.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
                let first: Vec<Set> = left.iter().take(close::MOST).map(|(_, set)| set.clone()).collect();
                rise(&self.played(&first, looks, *least), least);
            } else {
                rise(&left, least);
            }
            left.retain(|(log, _)| *log > *least);
            sets = left.iter().map(|(_, set)| set.clone()).collect();
        }
        left
    }

    /// Sets that the first looks do not refute, with their count.
    fn played(&self, sets: &[Set], until: usize, least: f64) -> Counted {
        let all = sets.par_chunks(LANES - 1).flat_map_iter(|sets| {
            let counted = self.count(sets, until, least).into_iter().zip(sets.iter().cloned());
            counted.filter(|(log, _)| *log > least)
        });
        all.collect()
    }

    fn machine(&self, lanes: &[Vec<&Behaviour>]) -> Machine<'_> {
        let study = self.inquiry.study;
        study.at_power_on(Machine::with(&study.program, lanes))
    }

    /// Plays the session on sets; `at` hears of each look, and ends the play by answering no.
    fn play(&self, sets: &[Set], mut at: impl FnMut(usize, &Machine) -> bool) {
        let study = self.inquiry.study;
        let behaviour = |&at: &usize| &study.groups[GroupId::at(at)].behaviour;
        let lanes: Vec<Vec<&Behaviour>> =
            sets.iter().map(|set| set.iter().map(behaviour).collect()).collect();
        let mut machine = self.machine(&lanes);
        for (look, row) in self.session.looks().iter() {
            if row.power && look.index() > 0 {
                machine = self.machine(&lanes);
            }
            dryjoint_procedure::act(self.inquiry.study, &mut machine, &row.actions);
            if !at(look.index(), &machine) {
                return;
            }
        }
    }

    /// Roughly how likely each set makes the lamps of the first looks, starting from its odds. Sets
    /// that fall below what is refuted come out below it, but not exactly.
    fn count(&self, sets: &[Set], until: usize, least: f64) -> Vec<f64> {
        let mut logs: Vec<f64> = sets.iter().map(|set| self.odds(set)).collect();
        let mut next = 0;
        self.play(sets, |look, machine| {
            while let Some(lamp) = self.lamps.get(next).filter(|lamp| lamp.look == look) {
                next += 1;
                add(machine.value(lamp.signal), lamp, &mut logs);
            }
            look + 1 < until && logs.iter().any(|log| *log > least)
        });
        logs
    }
}

/// Whatever is far below the best is refuted.
fn rise(counted: &[(f64, Set)], least: &mut f64) {
    *least = counted.iter().fold(*least, |least, (log, _)| least.max(log - FAR));
}

/// Adds one lamp to the count of every lane that does not fit it for sure.
fn add(planes: &Planes, lamp: &LampReading, logs: &mut [f64]) {
    let (fits, misfits) = match lit(lamp.sight) {
        Some(true) => (planes.one & !planes.zero, planes.zero & !planes.one),
        Some(false) => (planes.zero & !planes.one, planes.one & !planes.zero),
        None => (planes.one & planes.zero, planes.one ^ planes.zero),
    };
    let misread = misread(lamp);
    for lane in misfits.lanes() {
        if let Some(log) = lane.checked_sub(1).and_then(|at| logs.get_mut(at)) {
            *log += misread;
        }
    }
    for lane in (!(fits | misfits)).lanes() {
        if let Some(log) = lane.checked_sub(1).and_then(|at| logs.get_mut(at)) {
            *log -= OPEN_COST;
        }
    }
}
