//! What a meter or the supply's display would tell, as the board stands.
//!
//! Every likely fault is solved once for the present look; then every net a lead reaches is compared.

use super::lamps::Looks;
use super::{Case, Deed, Next, Outcome, Sign, Touch, better, bits};
use crate::Inquiry;
use crate::meter::{amps_spread, volts_spread};
use crate::point::Whose;
use dryjoint_board::{Board, NetId, PartId, PartKind, PinId};
use dryjoint_faults::Fault;
use dryjoint_faults::lanes::Shown;
use dryjoint_ids::Id;
use dryjoint_session::{Reading, Seen, Session, Sight};
use dryjoint_units::{Amps, Seconds, Volts};
use std::collections::BTreeSet;

/// Faults solved for the present look, at most.
pub(super) const MOST_SOLVED: usize = 24;

/// Less than this share of the suspects solved, and the lanes' levels have to do.
pub(super) const ENOUGH_SOLVED: f64 = 0.8;

/// A pin whose own joint is this likely to be open is not the net's: what a lead finds there may be another's.
const DOUBTED: f64 = 0.01;

/// Seconds to find a net and hold a lead on it (judgement).
pub(super) const PROBE: f64 = 8.0;

/// The same at a test point or a connector's pin.
pub(super) const PROBE_HANDY: f64 = 5.0;

/// Seconds to read the supply's display.
const GLANCE: f64 = 2.0;

/// Figures this many spreads apart are told apart.
pub(super) const APART: f64 = 3.0;

/// Figures with their cases, from the least on.
pub(super) type Sorted = Vec<(f64, Case)>;

impl Inquiry<'_, '_, '_> {
    /// The best measurement as the board stands.
    pub(super) fn measure(&mut self, looks: &Looks, cases: &[Case]) -> Option<Next> {
        let mut best = self.as_it_stands(looks, cases)?;
        best.seconds = Seconds(best.seconds.0 + looks.seconds(&[]));
        Some(best)
    }

    fn as_it_stands(&mut self, looks: &Looks, cases: &[Case]) -> Option<Next> {
        let session = looks.session;
        let (likely, circuits) = self.likely(cases, MOST_SOLVED);
        let covered: f64 = likely.iter().map(|case| case.probability).sum();
        if circuits < 2 {
            return None;
        }
        if covered < ENOUGH_SOLVED {
            return self.by_level(session, cases).filter(|next| next.bits >= looks.least);
        }
        let look = session.now().index();
        let mut who: Vec<(Whose, Option<usize>)> =
            likely.iter().map(|case| (case.fault, case.lane)).collect();
        if !who.contains(&(None, None)) {
            who.push((None, None));
        }
        self.points.solve(self.study, &self.teller, look, &who);
        // The same lead on the same net tells nothing new.
        let done = |wanted: &dyn Fn(Seen) -> bool| {
            session.readings().any(|(_, reading)| reading.look == session.now() && wanted(reading.seen))
        };
        let fresh = |net: &NetId| !done(&|seen| matches!(seen, Seen::Volts(known, _) if known == *net));
        let reachable = self.reachable().into_iter().filter(fresh);
        let nets = reachable.filter_map(|net| self.net(look, net, likely));
        let display = self.display(look, likely).filter(|_| !done(&|seen| matches!(seen, Seen::Supply(_))));
        nets.chain(display).filter(|next| next.bits >= looks.least).reduce(better)
    }

    /// The likeliest cases that make so many circuits at most, and how many those are.
    pub(super) fn likely<'c>(&self, cases: &'c [Case], most: usize) -> (&'c [Case], usize) {
        let mut circuits = BTreeSet::new();
        let within = |case: &&Case| {
            let whose = self.points.stand_in(case.fault);
            circuits.contains(&whose) || (circuits.len() < most && circuits.insert(whose))
        };
        let count = cases.iter().take_while(within).count();
        (&cases[..count], circuits.len())
    }

    /// Whether the board has power at all, asked when no lamp was ever lit though some should be: the
    /// supply's display, whatever it promises.
    pub(super) fn ask_for_power(&mut self, session: &Session, cases: &[Case]) -> Option<Next> {
        let now = session.now();
        let lamps = session.readings().filter(|(_, reading)| reading.look == now);
        let mut lamps = lamps.filter_map(|(_, reading)| match reading.seen {
            Seen::Lamp(part, _) => Some(part),
            _ => None,
        });
        let lamp_of = &self.study.extracted.lamp_of;
        let good = |part: PartId| lamp_of[part].map(|signal| self.teller.good(now.index(), signal));
        let asked = session.readings().any(|(_, reading)| matches!(reading.seen, Seen::Supply(_)));
        let seen =
            |(_, reading): (_, &Reading)| matches!(reading.seen, Seen::Lamp(_, Sight::Lit | Sight::Dim));
        if asked || session.readings().any(seen) || !lamps.any(|part| good(part) == Some(Shown::One)) {
            return None;
        }
        let mut lanes: Vec<usize> = Vec::new();
        let mut each: Vec<Case> = Vec::new();
        for case in cases {
            let fresh = case.lane.is_some_and(|lane| !lanes.contains(&lane));
            if fresh && each.len() < MOST_SOLVED {
                lanes.extend(case.lane);
                each.push(*case);
            }
        }
        let mut who: Vec<(Whose, Option<usize>)> = each.iter().map(|case| (case.fault, case.lane)).collect();
        who.push((None, None));
        self.points.solve(self.study, &self.teller, now.index(), &who);
        let amps = |whose| self.points.get(whose, now.index()).map(|point| point.supply());
        let parts = split(&each, |case| amps(case.fault).map(|amps| amps.0), amps_spread);
        let sign = |least, most| Sign::Amps(Amps(least), Amps(most));
        (parts.len() > 1).then(|| next(Deed::Supply { good: amps(None) }, GLANCE, parts, &sign))
    }

    pub(super) fn net(&self, look: usize, net: NetId, cases: &[Case]) -> Option<Next> {
        let volts = |whose| self.points.get(whose, look).and_then(|point| point.volts(net));
        let parts = split(cases, |case| volts(case.fault).map(|volts| volts.0), volts_spread);
        self.probe(net, parts, volts(None))
    }

    /// A lead on a net that tells these parts of the cases from each other.
    pub(super) fn probe(&self, net: NetId, parts: Vec<Sorted>, good: Option<Volts>) -> Option<Next> {
        let cases = || parts.iter().flatten().map(|(_, case)| case);
        if parts.len() < 2 {
            return None;
        }
        let (Touch { net, pins }, seconds) = self.touch(net, cases());
        let sign = |least, most| Sign::Volts(Volts(least), Volts(most));
        Some(next(Deed::Volts { actions: Vec::new(), net, pins, good }, seconds, parts, &sign))
    }

    /// Where a lead goes on a net, off the parts that are suspected as far as that can be and never first on a
    /// pin whose own joint may be open, and how long that takes.
    pub(super) fn touch<'c>(&self, net: NetId, cases: impl Iterator<Item = &'c Case>) -> (Touch, f64) {
        let board = self.study.extracted.shape.board;
        let mut parts_at_fault: BTreeSet<PartId> = BTreeSet::new();
        let mut doubtful: BTreeSet<PinId> = BTreeSet::new();
        for (fault, probability) in cases.filter_map(|case| Some((case.fault?, case.probability))) {
            let fault = &self.study.faults[fault];
            parts_at_fault.extend(fault.parts(board));
            if let Fault::JointOpen(pin) = *fault
                && probability > DOUBTED
            {
                doubtful.insert(pin);
            }
        }
        let mut pins: Vec<PinId> = board.nets[net].pins.clone();
        pins.sort_by_key(|&pin| {
            let part = board.pins[pin].part;
            (doubtful.contains(&pin), !is_handy(board, pin), parts_at_fault.contains(&part), pin)
        });
        let handy = pins.first().is_some_and(|&pin| is_handy(board, pin));
        (Touch { net, pins }, if handy { PROBE_HANDY } else { PROBE })
    }

    fn display(&self, look: usize, cases: &[Case]) -> Option<Next> {
        let amps = |whose| self.points.get(whose, look).map(|point| point.supply());
        let parts = split(cases, |case| amps(case.fault).map(|amps| amps.0), amps_spread);
        let sign = |least, most| Sign::Amps(Amps(least), Amps(most));
        (parts.len() > 1).then(|| next(Deed::Supply { good: amps(None) }, GLANCE, parts, &sign))
    }
}

pub(super) fn is_handy(board: &Board, pin: PinId) -> bool {
    matches!(board.parts[board.pins[pin].part].kind, PartKind::TestPoint | PartKind::Header)
}

/// Cases by what they would show, neighbours together; those without a figure go to the likeliest part.
pub(super) fn split(
    cases: &[Case],
    figure: impl Fn(&Case) -> Option<f64>,
    spread: impl Fn(f64) -> f64,
) -> Vec<Sorted> {
    let mut sorted: Sorted = Vec::new();
    let mut without: Vec<Case> = Vec::new();
    for case in cases {
        match figure(case) {
            Some(figure) => sorted.push((figure, *case)),
            None => without.push(*case),
        }
    }
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.fault.cmp(&b.1.fault)));
    let mut parts: Vec<Sorted> = Vec::new();
    for (figure, case) in sorted {
        match parts.last_mut() {
            Some(part) if part.last().is_some_and(|&(last, _)| figure - last <= APART * spread(figure)) => {
                part.push((figure, case));
            }
            _ => parts.push(vec![(figure, case)]),
        }
    }
    let weight = |part: &Sorted| part.iter().map(|(_, case)| case.probability).sum::<f64>();
    if let Some(part) = parts.iter_mut().max_by(|a, b| weight(a).total_cmp(&weight(b))) {
        let middle = part[part.len() / 2].0;
        part.extend(without.into_iter().map(|case| (middle, case)));
    }
    parts
}

pub(super) fn next(deed: Deed, seconds: f64, parts: Vec<Sorted>, sign: &dyn Fn(f64, f64) -> Sign) -> Next {
    let mut outcomes: Vec<Outcome> = parts
        .into_iter()
        .map(|mut part| {
            let least = part.iter().map(|&(figure, _)| figure).fold(f64::INFINITY, f64::min);
            let most = part.iter().map(|&(figure, _)| figure).fold(f64::NEG_INFINITY, f64::max);
            part.sort_by(|a, b| b.1.probability.total_cmp(&a.1.probability).then(a.1.fault.cmp(&b.1.fault)));
            Outcome {
                sign: sign(least, most),
                faults: part.iter().filter_map(|(_, case)| case.fault).collect(),
                good: part.iter().any(|(_, case)| case.fault.is_none()),
                probability: part.iter().map(|(_, case)| case.probability).sum(),
            }
        })
        .collect();
    outcomes.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    Next {
        bits: bits(outcomes.iter().map(|outcome| outcome.probability)),
        outcomes,
        seconds: Seconds(seconds),
        after: Seconds(0.0),
        off: false,
        deed,
    }
}
