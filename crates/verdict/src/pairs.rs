//! Two faults at once.
//!
//! A pair runs in a lane with both behaviours in it, so faults that hide or help each other are seen as
//! they are. Every pair is run in which one fault, alone, touches the first lamp that was odd; another
//! pair could make that lamp odd only by what neither fault does alone, and there the lanes as a rule
//! know nothing. A pass ends as soon as every lane in it is refuted. What is left is weighed like single
//! faults.

use crate::Inquiry;
use crate::chance::log_sum;
use crate::inquiry::{LampReading, lit, stand};
use crate::posterior::{TELLS, compatible};
use crate::tell::{act, shown};
use dryjoint_faults::lanes::{Behaviour, LANES, Machine, Planes, Shown};
use dryjoint_ids::Id;
use dryjoint_procedure::GroupId;
use dryjoint_session::{Reading, Seen, Session};
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Pairs this much less likely than the likeliest are not weighed closely, in natural logarithms.
const FAR: f64 = 12.0;

/// Pairs weighed closely, at most: one pass of the lanes.
const MOST_CLOSE: usize = LANES - 1;

/// What one lamp of which nothing is known costs in the first, rough count.
const OPEN_COST: f64 = 0.3;

/// Pairs of groups, one fault of each, that nothing seen so far tells apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// The groups of each pair, the lower number first; the likeliest pair first.
    pub groups: Vec<[GroupId; 2]>,
    /// The chance that it is one of them, among everything weighed.
    pub probability: f64,
}

/// The pairs weighed against a session.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pairs {
    /// The likeliest, most probable first.
    pub pairs: Vec<Pair>,
    /// The chance of two faults, against one, none, or something unheard of.
    pub two_faults: f64,
    /// How many pairs were run in the lanes.
    pub run: usize,
}

impl Inquiry<'_, '_, '_> {
    /// Weighs pairs of faults against the lamps of a session; the verdict on it comes first. Takes
    /// seconds, not a moment: for when no single fault explains what was seen.
    pub fn pairs(&mut self, session: &Session) -> Pairs {
        let Some(single) = self.posterior.as_ref().map(|posterior| posterior.total) else {
            return Pairs::default();
        };
        let readings: Vec<_> = session.readings().map(|(id, reading)| (id, *reading)).collect();
        let lamps = self.lamp_readings(&readings);
        let measured = readings.iter().map(|(_, reading)| reading);
        let measured = measured.filter(|reading| !matches!(reading.seen, Seen::Lamp(..)));
        let unheard: f64 = measured.map(|reading: &Reading| self.unheard(reading).ln()).sum();
        let candidates = self.candidates(&lamps);
        let odds = |pair: &[usize; 2]| -> f64 { pair.iter().map(|&at| self.group_odds[at].ln()).sum() };
        let least = single - unheard - FAR;
        let mut rough: Vec<(f64, [usize; 2])> = candidates
            .par_chunks(LANES - 1)
            .flat_map_iter(|pairs| {
                let bounds: Vec<f64> = pairs.iter().map(odds).collect();
                let counted = self.count(session, &lamps, pairs, bounds, least);
                counted.into_iter().zip(pairs.iter().copied())
            })
            .collect();
        rough.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        rough.truncate(MOST_CLOSE);
        let best = rough.first().map_or(0.0, |first| first.0);
        rough.retain(|&(log, _)| log > best - FAR);
        let close: Vec<[usize; 2]> = rough.into_iter().map(|(_, pair)| pair).collect();
        let mut weighed: Vec<Weighed> = self.weigh_closely(session, &lamps, &close);
        let chance = |one: &Weighed| one.log + odds(&one.pair) + unheard;
        let total = log_sum(weighed.iter().map(chance).chain([single]));
        weighed.sort_by(|a, b| chance(b).total_cmp(&chance(a)).then(a.pair.cmp(&b.pair)));
        let mut answers: Vec<(Pair, Vec<Weighed>)> = Vec::new();
        for one in weighed {
            let probability = (chance(&one) - total).exp();
            let joins = |members: &[Weighed]| {
                members.iter().all(|known| {
                    (known.log - one.log).abs() < TELLS.ln() && compatible(&known.told, &one.told)
                })
            };
            match answers.iter_mut().find(|(_, members)| joins(members)) {
                Some((pair, members)) => {
                    pair.groups.push(one.pair.map(GroupId::at));
                    pair.probability += probability;
                    members.push(one);
                }
                None => {
                    let pair = Pair { groups: vec![one.pair.map(GroupId::at)], probability };
                    answers.push((pair, vec![one]));
                }
            }
        }
        let mut pairs: Vec<Pair> = answers.into_iter().map(|(pair, _)| pair).collect();
        pairs.sort_by(|a, b| b.probability.total_cmp(&a.probability).then(a.groups.cmp(&b.groups)));
        let two_faults = pairs.iter().map(|pair| pair.probability).sum();
        Pairs { pairs, two_faults, run: candidates.len() }
    }

    /// The pairs that the first odd lamp does not refute.
    fn candidates(&self, lamps: &[LampReading]) -> Vec<[usize; 2]> {
        let Some(first) = lamps.iter().find(|lamp| lamp.agrees == Some(false)) else { return Vec::new() };
        let all = 0..self.study.groups.len();
        let touches =
            |index: usize| self.teller.shown(first.look, self.ways[index].start, first.signal) != first.good;
        let mut pairs = BTreeSet::new();
        for one in all.clone().filter(|&index| touches(index)) {
            pairs.extend(
                all.clone().filter(|&other| other != one).map(|other| [one.min(other), one.max(other)]),
            );
        }
        pairs.into_iter().collect()
    }

    fn machine(&self, pairs: &[[usize; 2]]) -> Machine<'_> {
        let behaviour = |at: usize| &self.study.groups[GroupId::at(at)].behaviour;
        let lanes: Vec<Vec<&Behaviour>> = pairs.iter().map(|pair| pair.map(behaviour).to_vec()).collect();
        let mut machine = Machine::with(&self.study.program, &lanes);
        for (signal, level) in self.study.rig.start() {
            machine.bench(signal, level);
        }
        machine.settle();
        machine
    }

    /// Plays a session on pairs; `at` hears of each look, and ends the play by answering no.
    fn play(&self, session: &Session, pairs: &[[usize; 2]], mut at: impl FnMut(usize, &Machine) -> bool) {
        let mut machine = self.machine(pairs);
        for (look, row) in session.looks().iter() {
            if row.power && look.index() > 0 {
                machine = self.machine(pairs);
            }
            row.actions.iter().for_each(|&action| act(self.study, &mut machine, action));
            if !at(look.index(), &machine) {
                return;
            }
        }
    }

    /// Roughly how likely each pair makes the lamps, starting from its odds. Pairs that fall below
    /// `least` come out below it, but not exactly.
    fn count(
        &self,
        session: &Session,
        lamps: &[LampReading],
        pairs: &[[usize; 2]],
        mut logs: Vec<f64>,
        least: f64,
    ) -> Vec<f64> {
        let mut next = 0;
        self.play(session, pairs, |look, machine| {
            while let Some(lamp) = lamps.get(next).filter(|lamp| lamp.look == look) {
                next += 1;
                add(machine.value(lamp.signal), lamp, &mut logs);
            }
            logs.iter().any(|log| *log > least)
        });
        logs
    }

    /// How likely each pair makes the lamps, weighed as single faults are.
    fn weigh_closely(&self, session: &Session, lamps: &[LampReading], pairs: &[[usize; 2]]) -> Vec<Weighed> {
        if pairs.is_empty() {
            return Vec::new();
        }
        let mut told: Vec<Planes> = Vec::with_capacity(lamps.len());
        self.play(session, pairs, |look, machine| {
            let of_look = lamps.iter().filter(|lamp| lamp.look == look);
            told.extend(of_look.map(|lamp| *machine.value(lamp.signal)));
            true
        });
        let lanes = pairs.iter().enumerate();
        lanes
            .map(|(at, &pair)| {
                let told: Vec<Shown> = told.iter().map(|planes| shown(planes, at + 1)).collect();
                let mut next = told.iter();
                let log = stand(lamps, |_| (next.next().map_or(Shown::Unknown, |&shown| shown), true)).log;
                Weighed { pair, log, told }
            })
            .collect()
    }
}

/// A pair weighed closely: how likely it makes the lamps, and what it shows for each reading.
struct Weighed {
    pair: [usize; 2],
    log: f64,
    told: Vec<Shown>,
}

/// Adds one lamp to the count of every lane that does not fit it for sure.
fn add(planes: &Planes, lamp: &LampReading, logs: &mut [f64]) {
    let (fits, misfits) = match lit(lamp.sight) {
        Some(true) => (planes.one & !planes.zero, planes.zero & !planes.one),
        Some(false) => (planes.zero & !planes.one, planes.one & !planes.zero),
        None => (planes.one & planes.zero, planes.one ^ planes.zero),
    };
    let misread = (lamp.misread / 2.0).ln();
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
