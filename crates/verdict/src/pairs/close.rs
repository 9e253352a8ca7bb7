//! Sets of faults weighed closely: by all that they show, and by what they hear of how luck fell.
//!
//! Hearing is what takes the time, and a count only ever falls. So a few passes of the lanes are heard at a time, the
//! most promising sets first; a lane that falls far below the best of the passes before hears no more, and a pass in
//! which nobody is left ends.

use super::{Counted, FAR, Set, Weighing};
use crate::chance::log_sum;
use crate::hear::{Heard, Lamp, hear};
use crate::inquiry::lit;
use crate::standing::{LampReading, Stand};
use dryjoint_faults::lanes::{Behaviour, LANES, Planes, Shown, Word};
use dryjoint_ids::Id;
use rayon::prelude::*;

/// Sets weighed closely, at most: some passes of the lanes. Hundreds may explain all that was read alike, and the
/// rare ones among them belong to the same answer.
pub(super) const MOST: usize = 8 * (LANES - 1);

/// Ways in which one fault's table is settled among others, at most.
const MOST_WAYS: usize = 3;

/// Passes of the lanes heard at a time. Not as many as there are processors: the answer hangs on it.
const PASSES: usize = 4;

/// A set weighed closely: how likely it makes the lamps, that with its odds, and what it shows for each
/// reading.
pub(super) struct Weighed {
    pub set: Set,
    pub log: f64,
    pub chance: f64,
    pub told: Vec<Shown>,
}

/// A set with what its tables leave open settled in one way.
struct Way<'a> {
    /// Which of the sets, and the logarithm of its odds.
    set: usize,
    odds: f64,
    behaviours: Vec<&'a Behaviour>,
}

/// How likely one way makes the lamps, and what it shows for each reading.
type Stood = (f64, Vec<Shown>);

impl Weighing<'_, '_, '_, '_> {
    /// The best of what is left, weighed as single faults are: each with what its tables leave open settled in
    /// every way or not at all, and as likely as these are on the mean. What turns out far less likely than the best is
    /// left out.
    pub(super) fn closely(&self, mut left: Counted) -> Vec<Weighed> {
        left.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        left.truncate(MOST);
        let best = left.first().map_or(0.0, |first| first.0);
        left.retain(|&(log, _)| log > best - FAR);
        let sets: Vec<Set> = left.into_iter().map(|(_, set)| set).collect();
        let ways: Vec<Vec<Vec<&Behaviour>>> = sets.iter().map(|set| self.settled(set)).collect();
        let counts: Vec<usize> = ways.iter().map(Vec::len).collect();
        let each = ways.into_iter().enumerate().flat_map(|(at, ways)| {
            let odds = self.odds(&sets[at]);
            ways.into_iter().map(move |behaviours| Way { set: at, odds, behaviours })
        });
        let mut each: Vec<Way> = each.collect();
        let mut least = f64::NEG_INFINITY;
        let mut rows: Vec<Vec<Stood>> = vec![Vec::new(); sets.len()];
        for some in each.chunks_mut(PASSES * (LANES - 1)) {
            // Sets with a fault in common leave much the same open: in one pass they ask for it once.
            some.sort_by(|a, b| sets[a.set].cmp(&sets[b.set]));
            let stood: Vec<Option<Stood>> =
                some.par_chunks(LANES - 1).flat_map_iter(|ways| self.stood(ways, least)).collect();
            for (way, stood) in some.iter().zip(stood).filter_map(|(way, stood)| Some((way, stood?))) {
                least = least.max(way.odds + stood.0 - FAR);
                rows[way.set].push(stood);
            }
        }
        let told = |((mut ways, set), count): ((Vec<Stood>, Set), usize)| {
            let log = log_sum(ways.iter().map(|way| way.0)) - (count as f64).ln();
            let best = (1..ways.len()).fold(0, |best, at| if ways[at].0 > ways[best].0 { at } else { best });
            let told = ways.swap_remove(best).1;
            Weighed { chance: log + self.odds(&set) + self.unheard, set, log, told }
        };
        rows.into_iter().zip(sets).zip(counts).filter(|((ways, _), _)| !ways.is_empty()).map(told).collect()
    }

    /// The behaviours of a set, with what their tables leave open settled in each way; the first not at all.
    fn settled(&self, set: &[usize]) -> Vec<Vec<&Behaviour>> {
        let inquiry = self.inquiry;
        let mut all: Vec<Vec<&Behaviour>> = vec![Vec::new()];
        for &at in set {
            let mut longer = Vec::new();
            for lane in inquiry.ways[at].clone().take(MOST_WAYS) {
                let one = &inquiry.teller.lanes()[lane].behaviour;
                longer.extend(all.iter().map(|known| [&known[..], &[one]].concat()));
            }
            all = longer;
        }
        all
    }

    /// How ways stand to the lamps. They are played as lanes of which nothing is known, and beside that as the same ones that
    /// are told what was read, from the first odd lamp on. None of those that fall to `least` or below.
    fn stood(&self, ways: &[Way], least: f64) -> Vec<Option<Stood>> {
        let behaviours: Vec<Vec<&Behaviour>> = ways.iter().map(|way| way.behaviours.clone()).collect();
        let mut both = [self.machine(&behaviours), self.machine(&behaviours)];
        let mut ear = Heard::default();
        let mut stands = vec![Stand::default(); ways.len()];
        let mut told: Vec<[Planes; 2]> = Vec::with_capacity(self.lamps.len());
        // With the good board, which tells the others how latches stand as a rule.
        let mut left: Word = (0..=ways.len()).fold(Word::NONE, |mut all, lane| {
            all.set(lane, true);
            all
        });
        let mut odd = false;
        for (look, row) in self.session.looks().iter() {
            if row.power && look.index() > 0 {
                both = [self.machine(&behaviours), self.machine(&behaviours)];
            }
            for machine in &mut both {
                dryjoint_procedure::act(self.inquiry.study, machine, &row.actions);
            }
            let here: Vec<&LampReading> =
                self.lamps.iter().filter(|lamp| lamp.look == look.index()).collect();
            odd |= here.iter().any(|lamp| lamp.agrees == Some(false));
            let read: Vec<Lamp> =
                here.iter().filter_map(|lamp| Some((lamp.signal, lit(lamp.sight)?))).collect();
            let [sure, heard] = &mut both;
            if odd {
                ear = hear(heard, &sure.save(), &self.luck, (&read, left), &ear);
            }
            for lamp in here {
                let planes = [*sure.value(lamp.signal), *heard.value(lamp.signal)];
                stands.iter_mut().enumerate().for_each(|(at, stand)| {
                    stand.add(lamp, (planes[0].shown(at + 1), planes[1].shown(at + 1)));
                });
                told.push(planes);
            }
            for (at, (way, stand)) in ways.iter().zip(&stands).enumerate() {
                if way.odds + stand.log(ear.luck(at + 1)) <= least {
                    left.set(at + 1, false);
                }
            }
            if left.lanes().all(|lane| lane == 0) {
                break;
            }
        }
        let of = |(at, stand): (usize, &Stand)| {
            let lane = at + 1;
            left.get(lane)
                .then(|| (stand.log(ear.luck(lane)), told.iter().map(|[sure, _]| sure.shown(lane)).collect()))
        };
        stands.iter().enumerate().map(of).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Inquiry;
    use crate::hear::Luck;
    use crate::latch::with_latch;
    use dryjoint_draws::Draws;
    use dryjoint_faults::Priors;
    use dryjoint_procedure::{Action, Study};
    use dryjoint_session::{Seen, Session, Sight};

    /// Lamps read by chance after drawn moves of the hands: who is heard no further falls to the bound when heard to the
    /// end, and the others stand as they do where everybody is heard.
    #[test]
    fn who_is_heard_no_further_would_have_fallen_to_the_bound() {
        with_latch(|study| (0..6).for_each(|seed| held_against_all(study, seed)));
    }

    fn held_against_all(study: &Study, seed: u64) {
        let board = study.extracted.shape.board;
        let mut draws = Draws::new(seed);
        let lines: Vec<_> = board.lines.ids().collect();
        let mut session = Session::new("1");
        for _ in 0..6 {
            let line = lines[draws.below(lines.len())];
            let action = [Action::Tie(line), Action::Release(line), Action::Pulse(line)][draws.below(3)];
            let look = session.act(None, &[action]);
            for &(lamp, _) in &study.rig.lamps {
                let sight = [Sight::Lit, Sight::Dark, Sight::Dim][draws.below(3)];
                let (taken, notices) = session.observe(board, look, Seen::Lamp(lamp, sight));
                assert!(taken.is_some(), "{notices:?}");
            }
        }
        let mut inquiry = Inquiry::new(study, &Priors::default());
        inquiry.weigh(&session);
        let readings: Vec<_> = session.readings().map(|(id, reading)| (id, *reading)).collect();
        let lamps = inquiry.lamp_readings(&readings);
        let luck = Luck::of(study);
        let work = Weighing { inquiry: &inquiry, session: &session, lamps: &lamps, luck, unheard: 0.0 };
        let all = study.groups.len();
        let sets: Vec<Set> = (0..60).map(|_| vec![draws.below(all), draws.below(all)]).collect();
        let way = |(at, set): (usize, &Set)| {
            let odds = work.odds(set);
            work.settled(set).into_iter().map(|behaviours| Way { set: at, odds, behaviours }).collect()
        };
        let ways: Vec<Way> = sets.iter().enumerate().flat_map(|one| -> Vec<Way> { way(one) }).collect();
        let ways = &ways[..ways.len().min(LANES - 1)];
        let whole = work.stood(ways, f64::NEG_INFINITY);
        let log = |at: usize| whole[at].as_ref().map_or(f64::NEG_INFINITY, |stood| stood.0) + ways[at].odds;
        let mut logs: Vec<f64> = (0..ways.len()).map(log).collect();
        logs.sort_by(f64::total_cmp);
        let least = logs[logs.len() * 2 / 3];
        let cut = work.stood(ways, least);
        for (at, stood) in cut.iter().enumerate() {
            let falls = log(at) <= least;
            assert_eq!(stood.is_none(), falls, "{:?} at {}", sets[ways[at].set], log(at));
            assert!(falls || *stood == whole[at]);
        }
        assert!(cut.iter().filter(|stood| stood.is_none()).count() > 20);
    }
}
