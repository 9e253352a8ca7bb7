//! From the standing of every group to probabilities, suspects and doubts.

use crate::Inquiry;
use crate::chance::log_sum;
use crate::inquiry::{known, lit};
use crate::meter::{Doubtful, Measured};
use crate::standing::{LampReading, Standing};
use crate::suspect::{Doubt, Suspect, Verdict};
use dryjoint_faults::FaultId;
use dryjoint_faults::lanes::Shown;
use dryjoint_procedure::{Group, GroupId};
use dryjoint_session::Reading;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// A fault less probable than this is not followed further.
const NEGLIGIBLE: f64 = 1e-12;

/// So far behind by lamps alone, in natural logarithms, nobody is heard of again, and so much further for each
/// measurement: it fits one as well as anything can and is a misreading for the other.
const FAR: f64 = 30.0;
const FAR_EACH: f64 = 12.0;

/// A fault less probable than this is no suspect.
const NO_SUSPECT: f64 = 1e-6;

/// Readings that favour one of two faults by less than this, and contradict neither, do not tell them
/// apart: what the lanes do not know about one is no evidence for the other.
pub(crate) const TELLS: f64 = 10.0;

/// So much, in natural logarithms, a fault may have spent on learning how luck falls and still be taken for one that needed no luck:
/// a hundredfold (judgement). Whatever needs more is another suspect.
const FORGIVEN: f64 = 4.6;

/// Faults that predict the same for every reading taken, and fitted as well: who knows nothing of a reading predicts
/// the same whatever is known of its neighbours.
struct Alike {
    log: f64,
    groups: Vec<GroupId>,
    faults: Vec<(FaultId, f64)>,
    probability: f64,
    /// The same had nothing been spent on learning how luck falls.
    unspent: f64,
}

impl Alike {
    fn of(log: f64) -> Self {
        Self { log, groups: Vec::new(), faults: Vec::new(), probability: 0.0, unspent: 0.0 }
    }

    /// Whether readings speak as loudly for it as for whoever has this evidence.
    fn is_close(&self, log: f64) -> bool {
        (self.log - log).abs() < TELLS.ln()
    }

    fn add(&mut self, group: GroupId, fault: FaultId, (probability, spent): (f64, f64)) {
        self.unspent += probability * spent.exp();
        if self.groups.last() != Some(&group) {
            self.groups.push(group);
        }
        self.faults.push((fault, probability));
        self.probability += probability;
    }
}

/// Predictions for the lamps, bins of the measurements, and who shares them.
type Row = (Vec<Shown>, Vec<u32>, Alike);

/// Whether no prediction of one contradicts the other's.
pub(crate) fn compatible(a: &[Shown], b: &[Shown]) -> bool {
    a.iter().zip(b).all(|(a, b)| a == b || *a == Shown::Unknown || *b == Shown::Unknown)
}

fn together(members: Vec<Row>) -> Suspect {
    let mut suspect = Suspect { groups: Vec::new(), faults: Vec::new(), probability: 0.0, circuits: 0 };
    for (.., alike) in members {
        suspect.groups.extend(alike.groups);
        suspect.faults.extend(alike.faults);
        suspect.probability += alike.probability;
    }
    suspect.groups.sort_unstable();
    suspect.groups.dedup();
    suspect.faults.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    suspect
}

/// Probabilities that add up to one, but for the negligible.
pub(crate) struct Posterior {
    pub no_fault: f64,
    pub none: f64,
    /// The logarithm of what all of them together came to before it was made one.
    pub total: f64,
    /// Faults with the lane that tells what they show, group by group.
    pub faults: Vec<(usize, FaultId, f64)>,
}

impl Posterior {
    /// The groups that are left, with their probability.
    pub fn groups(&self) -> Vec<(usize, f64)> {
        let mut groups: Vec<(usize, f64)> = Vec::new();
        for &(index, _, probability) in &self.faults {
            match groups.last_mut() {
                Some((last, sum)) if *last == index => *sum += probability,
                _ => groups.push((index, probability)),
            }
        }
        groups
    }
}

impl Inquiry<'_, '_, '_> {
    pub(crate) fn posterior(&self, good: Standing, groups: &[Standing], measured: &[Reading]) -> Posterior {
        let held: Vec<Measured> = measured.iter().map(|reading| self.measured(reading)).collect();
        let meters = |whose, index| -> f64 {
            let mut doubt = Doubtful::default();
            held.iter().map(|held| self.meter(held, whose, index, &mut doubt).ln()).sum()
        };
        let no_fault = good.log + meters(None, None);
        // Whoever no measurement could bring back is not compared with any.
        let leading = groups.iter().zip(&self.group_odds).map(|(standing, odds)| odds.ln() + standing.log);
        let leading = leading.fold(good.log, f64::max);
        let far = FAR + FAR_EACH * measured.len() as f64;
        let heard = |(standing, group): (&Standing, &Group)| group.prior.ln() + standing.log >= leading - far;
        let listed: Vec<_> =
            groups.iter().zip(self.study.groups.rows()).filter(|&listed| heard(listed)).collect();
        let log = |&(standing, group): &(&Standing, &Group)| -> Vec<(usize, FaultId, f64)> {
            let index = standing.index;
            let of = |&fault: &FaultId| {
                (index, fault, self.odds[&fault].ln() + standing.log + meters(Some(fault), Some(index)))
            };
            group.faults.iter().map(of).collect()
        };
        let logs: Vec<(usize, FaultId, f64)> = listed.par_iter().flat_map_iter(log).collect();
        // A board that departs from one of the listed, in proportion to how likely that one is.
        let all_odds = 1.0 + self.group_odds.iter().sum::<f64>();
        let loose = groups.iter().zip(&self.group_odds).map(|(standing, odds)| odds.ln() + standing.loose);
        let departing = log_sum(loose.chain([good.loose])) - all_odds.ln();
        let unheard: f64 = measured.iter().map(|reading| self.unheard(reading).ln()).sum();
        let none = self.unlisted.ln() + departing + unheard;
        let total = log_sum(logs.iter().map(|&(_, _, log)| log).chain([no_fault, none]));
        let share = |log: f64| (log - total).exp();
        let faults = logs.into_iter().map(|(index, fault, log)| (index, fault, share(log)));
        Posterior {
            no_fault: share(no_fault),
            none: share(none),
            total,
            faults: faults.filter(|&(_, _, probability)| probability > NEGLIGIBLE).collect(),
        }
    }

    /// Faults of which nothing read so far says that they differ, together.
    pub(crate) fn merge(
        &self,
        posterior: &Posterior,
        lamps: &[LampReading],
        measured: &[Reading],
    ) -> Vec<Suspect> {
        // What was spent on learning how luck falls makes nobody less of a suspect, within reason.
        let spent = |index: usize| self.stood.spent(index).min(FORGIVEN);
        let suspected = |&&(index, _, probability): &&(usize, FaultId, f64)| {
            probability * spent(index).exp() > NO_SUSPECT
        };
        let faults: Vec<&(usize, FaultId, f64)> = posterior.faults.iter().filter(suspected).collect();
        let whose: Vec<(FaultId, usize)> = faults.iter().map(|&&(index, fault, _)| (fault, index)).collect();
        let bins: Vec<Vec<u32>> = measured.iter().map(|reading| self.bins(reading, &whose)).collect();
        let mut alike: BTreeMap<(Vec<Shown>, Vec<u32>), Vec<Alike>> = BTreeMap::new();
        for (at, &&(index, fault, probability)) in faults.iter().enumerate() {
            let told = lamps.iter().map(|lamp| self.teller.believed(lamp.look, index, lamp.signal));
            let bins: Vec<u32> = bins.iter().map(|bins| bins[at]).collect();
            let log = probability.ln() - self.odds[&fault].ln() + spent(index);
            let rows = alike.entry((told.collect(), bins)).or_default();
            let at = rows.iter().position(|row| row.is_close(log)).unwrap_or(rows.len());
            if at == rows.len() {
                rows.push(Alike::of(log));
            }
            rows[at].add(self.teller.lanes()[index].group, fault, (probability, spent(index)));
        }
        let apart = |((told, bins), rows): ((Vec<Shown>, Vec<u32>), Vec<Alike>)| {
            rows.into_iter().map(move |alike| (told.clone(), bins.clone(), alike))
        };
        let mut rows: Vec<Row> = alike.into_iter().flat_map(apart).collect();
        rows.sort_by(|a, b| b.2.probability.total_cmp(&a.2.probability).then(a.2.groups.cmp(&b.2.groups)));
        rows.retain(|(.., alike)| alike.unspent >= Verdict::LEAST);
        let mut merged: Vec<Vec<Row>> = Vec::new();
        for row in rows {
            let joins = |members: &&mut Vec<Row>| {
                members.iter().all(|(told, bins, other)| {
                    other.is_close(row.2.log) && *bins == row.1 && compatible(told, &row.0)
                })
            };
            match merged.iter_mut().find(joins) {
                Some(members) => members.push(row),
                None => merged.push(vec![row]),
            }
        }
        let mut suspects: Vec<Suspect> = merged.into_iter().map(together).collect();
        suspects.iter_mut().for_each(|suspect| suspect.circuits = self.circuits(suspect));
        suspects.sort_by(|a, b| b.probability.total_cmp(&a.probability).then(a.groups.cmp(&b.groups)));
        suspects
    }

    /// Lamps that whoever is likely at fault would not show.
    pub(crate) fn doubts(&self, posterior: &Posterior, lamps: &[LampReading]) -> Vec<Doubt> {
        let likely: Vec<(Option<usize>, f64)> = posterior
            .groups()
            .into_iter()
            .map(|(index, probability)| (Some(index), probability))
            .chain([(None, posterior.no_fault)])
            .filter(|&(_, probability)| probability > Verdict::LEAST)
            .collect();
        let listed: f64 = likely.iter().map(|(_, probability)| probability).sum();
        let mut doubts: Vec<Doubt> = Vec::new();
        for lamp in lamps {
            let misfit = |&(index, probability): &(Option<usize>, f64)| {
                let (there, _) = self.there(lamp, index);
                let fits = known(there).is_none() || known(there) == lit(lamp.sight);
                if fits { 0.0 } else { probability }
            };
            let misfits: f64 = likely.iter().map(misfit).sum();
            let wrong = misfits / listed;
            // What is on no list may fit anything; but where most of the list does not fit, that is worth a look.
            if misfits / (listed + posterior.none) > Doubt::LEAST || wrong > 0.5 {
                doubts.push(Doubt { reading: lamp.id, wrong });
            }
        }
        doubts.sort_by(|a, b| b.wrong.total_cmp(&a.wrong).then(a.reading.cmp(&b.reading)));
        doubts
    }
}
