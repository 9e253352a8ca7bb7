//! The next best thing to do: the most expected information per second at the bench.
//!
//! Compared are carrying on with the procedure, every other step of it, any one line moved, a meter's
//! lead on any net it reaches, and the supply's current; where those promise little, a lead on a net after
//! the board was brought into another state as well, and ohms with power off. What an action promises is the entropy of its
//! outcomes over the suspects.

mod apart;
mod gain;
mod known;
mod lamps;
mod levels;
mod meter;
mod ohms;
mod pair;
mod prepared;
mod words;

pub(crate) use pair::Never;
pub use words::opened;

use crate::Inquiry;
use crate::end::End;
use crate::inquiry::WORK;
use crate::point::Whose;
use crate::posterior::Posterior;
use crate::suspect::Verdict;
use crate::tell::{Lane, Teller};
use dryjoint_board::{NetId, PartId, PinId};
use dryjoint_faults::FaultId;
use dryjoint_faults::lanes::Shown;
use dryjoint_logic::SignalId;
use dryjoint_procedure::{Action, Costs, Procedure, StepId};
use dryjoint_session::{Seen, Session};
use dryjoint_units::{Amps, Ohms, Seconds, Volts};
use std::collections::{BTreeMap, BTreeSet};

/// Actions that promise less than this many bits are not worth a hand.
const LEAST_BITS: f64 = 0.1;

/// Where it is far from settled whose fault it is, measurements go on down to this: one more takes less time than
/// touching up nine parts.
const LEAST_BITS_LAST: f64 = 0.02;

/// It is settled where less than so many bits are left (judgement).
const SETTLED: f64 = 0.3;

/// Bits a second below which it is asked whether a measurement would tell more elsewhere (judgement: a lead
/// on a net that halves the suspects gives 0.12).
const SLOW: f64 = 0.04;

/// Groups that are told apart, at most; the most probable ones.
const MOST_GROUPS: usize = 96;

/// Something to do.
#[derive(Clone, Debug, PartialEq)]
pub enum Deed {
    /// Do this and look at the lamps.
    Look {
        /// The step of the procedure whose actions stand at the end.
        step: Option<StepId>,
        /// What to do; jumpers that have to come off or go on first included.
        actions: Vec<Action>,
        /// What a good board shows.
        expect: Vec<(PartId, Option<bool>)>,
    },
    /// Hold a meter lead on a net.
    Volts {
        /// What to do first; nothing where the board is measured as it stands.
        actions: Vec<Action>,
        /// The net.
        net: NetId,
        /// Its pins, the handiest first.
        pins: Vec<PinId>,
        /// What a good board shows.
        good: Option<Volts>,
    },
    /// Read the supply's current.
    Supply {
        /// What a good board draws.
        good: Option<Amps>,
    },
    /// Switch off, every jumper away, and hold both leads of a meter on ohms somewhere.
    Ohms {
        /// Where the red lead goes.
        red: Touch,
        /// Where the black one goes.
        black: Touch,
        /// What a good board shows; nothing where that is no reading.
        good: Option<Ohms>,
    },
}

/// Where a meter's lead goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Touch {
    /// The net.
    pub net: NetId,
    /// Its pins, the handiest first.
    pub pins: Vec<PinId>,
}

/// What an outcome looks like.
#[derive(Clone, Debug, PartialEq)]
pub enum Sign {
    /// The lamps by which the outcomes differ.
    Lamps(Vec<(PartId, Shown)>),
    /// Volts, from the least to the most that it would be.
    Volts(Volts, Volts),
    /// Amperes, likewise.
    Amps(Amps, Amps),
    /// Ohms, likewise.
    Ohms(Ohms, Ohms),
    /// The meter on ohms shows no reading.
    Open,
}

/// One outcome of a deed and what it would mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// How it looks.
    pub sign: Sign,
    /// The faults that would show it, most probable first.
    pub faults: Vec<FaultId>,
    /// Whether a good board would show it.
    pub good: bool,
    /// How probable it is.
    pub probability: f64,
}

/// The next thing to do.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// What.
    pub deed: Deed,
    /// What each outcome would mean, most probable first.
    pub outcomes: Vec<Outcome>,
    /// How much it promises to tell.
    pub bits: f64,
    /// Whether power is off when it begins: it goes on first, nothing tied, unless it is a resistance.
    pub off: bool,
    /// How long it takes.
    pub seconds: Seconds,
    /// How long it takes afterwards, on the mean, to bring the board back to where it stood: what is measured
    /// with power off costs that where the hunt goes on.
    pub after: Seconds,
}

impl Next {
    /// A session as it is once this is done, before anything is read.
    pub fn done(&self, session: &Session) -> Session {
        let mut future = session.clone();
        match &self.deed {
            Deed::Look { step, actions, .. } => drop(future.act(*step, actions)),
            Deed::Volts { actions, .. } if !actions.is_empty() => drop(future.act(None, actions)),
            Deed::Volts { .. } | Deed::Supply { .. } => {}
            Deed::Ohms { .. } => drop(future.switch_off()),
        }
        future
    }

    fn rate(&self) -> f64 {
        self.bits / (self.seconds + self.after).0.max(0.1)
    }
}

/// A possibility below this share is left out of the plan.
const LEAST_CASE: f64 = 1e-5;

/// Where lamps are all there is, one below this is not asked about any more: luck may have made the true one look so unlikely.
const LEAST_FAINT: f64 = 1e-8;

/// One of the possibilities that a deed is to tell apart.
#[derive(Clone, Copy, Debug)]
struct Case {
    /// Nothing for the good board.
    fault: Option<FaultId>,
    /// The lane that tells what it shows.
    lane: Option<usize>,
    /// Where that lane stands in the short list; the good board stands behind all.
    index: usize,
    probability: f64,
}

impl Inquiry<'_, '_, '_> {
    /// The best thing to do after the verdict on a session, or why nothing promises anything.
    ///
    /// While every reading was as expected the procedure just goes on. While little was seen the
    /// verdict is not quite believed: likely faults count less, unlikely ones more than they should. A
    /// board that stays dark is first asked whether it has power.
    pub fn next(
        &mut self,
        procedure: &Procedure,
        costs: &Costs,
        session: &Session,
        verdict: &Verdict,
    ) -> Result<Next, End> {
        self.teller.go_back();
        let posterior = self.posterior.take().ok_or(End::NoSuspect)?;
        let list = short_list(&posterior);
        let lanes: Vec<Lane> = list.iter().map(|&index| self.teller.lanes()[index].clone()).collect();
        let mut teller = match self.short.take() {
            Some(teller) if teller.lanes() == lanes => teller,
            _ => Teller::sure(self.study, lanes),
        };
        teller.follow(session);
        teller.hear_as(&self.teller, &list);
        self.points.allow(WORK);
        let looks = lamps::Looks {
            study: self.study,
            procedure,
            costs,
            session,
            past: self.past(session, &list),
            met: if session.is_off() { BTreeSet::new() } else { teller.met() },
            by_lamps: !self.meter,
            least: LEAST_BITS,
        };
        let believed = cases(&posterior, &list, 1.0, LEAST_CASE);
        let doubted = cases(&posterior, &list, 0.25, LEAST_CASE);
        let faint = cases(&posterior, &list, 1.0, LEAST_FAINT);
        let power = if self.meter { self.ask_for_power(session, &doubted) } else { None };
        let best = if let Some(power) = power {
            Ok(power)
        } else if verdict.surprises.is_empty()
            && (verdict.readings == 0 || verdict.no_fault + verdict.none_of_these > 0.5)
        {
            looks.carry_on(&mut teller, &believed).ok_or(End::Done)
        } else {
            let best = self.best(&looks, &mut teller, &believed, &faint);
            // An odd lamp that was misread is no reason to leave the procedure.
            let on = |teller: &mut Teller| {
                if verdict.no_fault > 0.5 { looks.carry_on(teller, &believed) } else { None }
            };
            best.or_else(|end| on(&mut teller).ok_or(end)).or_else(|end| {
                if !is_thin(session, verdict) {
                    return Err(end);
                }
                let best = self.best(&looks, &mut teller, &doubted, &faint);
                best.or_else(|end| looks.carry_on(&mut teller, &doubted).ok_or(end))
            })
        };
        self.short = Some(teller);
        self.posterior = Some(posterior);
        best.map(|best| Next { off: session.is_off(), ..best }).map_err(|end| End::of(verdict, end))
    }

    /// What was read of the lamps, as the lanes of a short list and the good board take it.
    fn past(&self, session: &Session, list: &[usize]) -> gain::Past {
        let readings: Vec<_> = session.readings().map(|(id, reading)| (id, *reading)).collect();
        let lamps = self.lamp_readings(&readings);
        let of = |index: Option<usize>| self.stood.open(index);
        let runs: Vec<_> = list.iter().map(|&index| of(Some(index))).chain([of(None)]).collect();
        let last = |&(_, signal): &(PartId, SignalId)| {
            lamps.iter().rev().find(|lamp| lamp.signal == signal).map(|lamp| lamp.sight)
        };
        gain::Past::of(self.study.rig.lamps.iter().map(last).collect(), &runs)
    }

    fn best(
        &mut self,
        looks: &lamps::Looks,
        teller: &mut Teller,
        cases: &[Case],
        faint: &[Case],
    ) -> Result<Next, End> {
        if !self.meter {
            let by_lamps = looks.best(teller, cases, LEAST_BITS);
            return by_lamps.map_or_else(|| looks.part(teller, faint, &mut self.never), Ok);
        }
        let best = self.best_with_meter(looks, teller, cases);
        if best.is_some() || self.spread(cases) < SETTLED {
            return best.ok_or(End::NothingClose);
        }
        let looks = lamps::Looks {
            past: gain::Past::default(),
            met: BTreeSet::new(),
            least: LEAST_BITS_LAST,
            by_lamps: false,
            ..*looks
        };
        self.best_with_meter(&looks, teller, cases).ok_or(End::NothingClose)
    }

    fn best_with_meter(&mut self, looks: &lamps::Looks, teller: &mut Teller, cases: &[Case]) -> Option<Next> {
        let doubt = 0.5f64.powi(looked(looks.session).saturating_sub(LOOKS_IN_A_ROW) as i32);
        let rate = |next: &Next| match next.deed {
            Deed::Look { .. } => doubt * next.rate(),
            _ => next.rate(),
        };
        // The first of equals.
        let better = |a: Next, b: Next| if rate(&b) > rate(&a) { b } else { a };
        let by_lamps = looks.best(teller, cases, looks.least);
        let by_meter = self.measure(looks, cases);
        let best = by_lamps.into_iter().chain(by_meter).reduce(better);
        let quick = |best: &Option<Next>| best.as_ref().is_some_and(|best| rate(best) >= SLOW);
        // With power off already the next two leads cost no more than those.
        let ohms = if quick(&best) && !looks.session.is_off() { None } else { self.ohms(looks, cases) };
        let ohms = ohms.filter(|next| next.bits >= looks.least);
        let best = best.into_iter().chain(ohms).reduce(better);
        if quick(&best) {
            return best;
        }
        let prepared = self.prepare(looks, teller, cases);
        best.into_iter().chain(prepared).reduce(better)
    }

    /// How far from settled it is which circuit the unit is, in bits.
    fn spread(&self, cases: &[Case]) -> f64 {
        let mut shares: BTreeMap<Whose, f64> = BTreeMap::new();
        cases.iter().for_each(|case| {
            *shares.entry(self.points.stand_in(case.fault)).or_default() += case.probability
        });
        bits(shares.into_values())
    }
}

/// After so many looks without a measurement between them each further one is believed half as much as the one before:
/// where a fault leaves latches to luck, looks promise what they do not hold (judgement).
const LOOKS_IN_A_ROW: usize = 2;

/// How many looks were made since something was last measured, but for those of the procedure in its order.
fn looked(session: &Session) -> usize {
    let measured = session.readings().filter(|(_, reading)| !matches!(reading.seen, Seen::Lamp(..)));
    let measured = measured.map(|(_, reading)| reading.look).max();
    let looks = session.looks().iter();
    looks.filter(|(id, look)| Some(*id) > measured && look.step.is_none() && !look.power).count()
}

/// Looks that were odd, and measurements, below which a verdict is not quite believed.
const ENOUGH: usize = 3;

fn is_thin(session: &Session, verdict: &Verdict) -> bool {
    let odd = session.readings().filter(|(id, _)| verdict.surprises.contains(id));
    let odd: BTreeSet<_> = odd.map(|(_, reading)| reading.look).collect();
    let measured = session.readings().filter(|(_, reading)| !matches!(reading.seen, Seen::Lamp(..)));
    odd.len() + measured.count() < ENOUGH
}

/// The first of equals, so that the order of the candidates decides and nothing else.
fn better(a: Next, b: Next) -> Next {
    if b.rate() > a.rate() { b } else { a }
}

/// The lanes of the most probable groups, in order.
fn short_list(posterior: &Posterior) -> Vec<usize> {
    let mut groups = posterior.groups();
    groups.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    groups.truncate(MOST_GROUPS);
    let mut lanes: Vec<usize> = groups.into_iter().map(|(index, _)| index).collect();
    lanes.sort_unstable();
    lanes
}

/// The possibilities with their shares of what is listed, each raised to a power, down to the least.
fn cases(posterior: &Posterior, list: &[usize], power: f64, least: f64) -> Vec<Case> {
    let mut cases = Vec::new();
    for &(lane, fault, probability) in &posterior.faults {
        let place = list.binary_search(&lane).ok();
        cases.extend(place.map(|index| Case { fault: Some(fault), lane: Some(lane), index, probability }));
    }
    cases.push(Case { fault: None, lane: None, index: list.len(), probability: posterior.no_fault });
    cases.iter_mut().for_each(|case| case.probability = case.probability.powf(power));
    let all: f64 = cases.iter().map(|case| case.probability).sum();
    cases.iter_mut().for_each(|case| case.probability /= all);
    cases.retain(|case| case.probability > least);
    cases.sort_by(|a, b| b.probability.total_cmp(&a.probability).then(a.fault.cmp(&b.fault)));
    cases
}

/// The entropy of a partition, in bits.
fn bits(shares: impl Iterator<Item = f64>) -> f64 {
    shares.filter(|share| *share > 0.0).map(|share| -share * share.log2()).sum::<f64>().max(0.0)
}
