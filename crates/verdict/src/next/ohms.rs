//! A resistance with power off: what both leads of a meter would tell, and what it costs.
//!
//! A resistor that is missing and a short behind it leave the same volts on a net; without power the one
//! reads open and the other nothing. Any two of the nets around the likely suspects are compared by what the
//! resistors alone come to there; for the best few pairs the likely suspects' whole circuits are solved.
//! Power off loses what the latches held, so the way back counts where the hunt goes on afterwards; with power off
//! already, two leads cost no more than themselves.

use super::lamps::Looks;
use super::meter::{APART, PROBE, PROBE_HANDY, Sorted, is_handy, next, split};
use super::{Case, Deed, Next, Sign, better, bits};
use crate::Inquiry;
use crate::inquiry::WORK;
use crate::meter::{OHMS_SPREAD, of_size, size};
use crate::passive::{Change, Passive};
use crate::point::Whose;
use dryjoint_board::{NetId, Supply};
use dryjoint_session::{Seen, Session};
use dryjoint_units::{Ohms, Seconds};
use std::collections::{BTreeMap, BTreeSet};

/// Circuits of suspects that are compared, at most.
const MOST_SOLVED: usize = 16;

/// Nets that a lead is tried on, at most; the nets of the likeliest suspects.
const MOST_NETS: usize = 24;

/// Pairs of nets for which the circuits are solved, at most.
const TRIED: usize = 3;

/// One that keeps this share of what the resistors promised is taken, and no other tried.
const HELD: f64 = 0.8;

/// Where no reading stands on the scale of sizes: above all that a meter shows.
const OPEN: f64 = 40.0;

/// More than this a meter does not show.
const MOST_SHOWN: Ohms = Ohms(20e6);

/// A suspect's circuit, as far as ohms go.
struct Suspected {
    change: Option<Change>,
    probability: f64,
}

/// The figure of a resistance, no reading included.
pub(super) fn figure(ohms: Option<Ohms>) -> f64 {
    ohms.filter(|ohms| *ohms < MOST_SHOWN).map_or(OPEN, size)
}

fn sign(least: f64, most: f64) -> Sign {
    if most < OPEN { Sign::Ohms(of_size(least), of_size(most)) } else { Sign::Open }
}

impl Inquiry<'_, '_, '_> {
    /// The best two nets to measure ohms between.
    pub(super) fn ohms(&mut self, looks: &Looks, cases: &[Case]) -> Option<Next> {
        let (likely, circuits) = self.likely(cases, MOST_SOLVED);
        if circuits < 2 {
            return None;
        }
        let board = self.study.extracted.shape.board;
        let who: Vec<Whose> = likely.iter().map(|case| case.fault).chain([None]).collect();
        let mut best: Option<Next> = None;
        // An allowance of their own: what volts cost must not keep leads on ohms from being tried.
        self.points.allow(WORK);
        for (promised, red, black) in self.promising(looks, likely) {
            self.solve_ohms(&[(red, black)], &who);
            let Some(good) = self.points.ohms(None, red, black) else { continue };
            // Of the rest, most leave the board there as it is; whoever lies between the leads is estimated.
            let shows = |case: &Case| match self.points.ohms(case.fault, red, black) {
                Some(ohms) => Some(figure(ohms)),
                None if self.lies_between(case.fault, red, black) => {
                    let change = case.fault.and_then(|fault| Change::of(board, &self.study.faults[fault]));
                    Some(figure(self.passive.as_ref()?.between(red, black, change.as_ref())))
                }
                None => Some(figure(good)),
            };
            let parts = split(cases, shows, |_| OHMS_SPREAD);
            if parts.len() < 2 {
                continue;
            }
            let found = self.both_leads(looks, (red, black), parts, good);
            let held = found.bits >= HELD * promised;
            best = Some(match best {
                Some(known) => better(known, found),
                None => found,
            });
            if held {
                break;
            }
        }
        best
    }

    fn both_leads(
        &self,
        looks: &Looks,
        (red, black): (NetId, NetId),
        parts: Vec<Sorted>,
        good: Option<Ohms>,
    ) -> Next {
        let cases = || parts.iter().flatten().map(|(_, case)| case);
        let (red, first) = self.touch(red, cases());
        let (black, second) = self.touch(black, cases());
        let goes_on: f64 = parts
            .iter()
            .filter(|part| self.circuits_of(part) > 1)
            .flatten()
            .map(|(_, case)| case.probability)
            .sum();
        let (off, back) = way_back(looks);
        let mut found = next(Deed::Ohms { red, black, good }, off + first + second, parts, &sign);
        found.after = Seconds(goes_on * back);
        found
    }

    /// How many circuits some cases make.
    fn circuits_of(&self, part: &Sorted) -> usize {
        let whose: BTreeSet<Whose> = part.iter().map(|(_, case)| self.points.stand_in(case.fault)).collect();
        whose.len()
    }

    /// The pairs of nets that tell the likely suspects apart best a second, going by their resistors alone: how
    /// much in bits, red, black.
    fn promising(&mut self, looks: &Looks, likely: &[Case]) -> Vec<(f64, NetId, NetId)> {
        let board = self.study.extracted.shape.board;
        let mut suspected: BTreeMap<Whose, Suspected> = BTreeMap::new();
        let mut nets: Vec<NetId> = Vec::new();
        for case in likely {
            let change = case.fault.and_then(|fault| Change::of(board, &self.study.faults[fault]));
            let one = suspected.entry(self.points.stand_in(case.fault));
            one.or_insert(Suspected { change, probability: 0.0 }).probability += case.probability;
            let reached = case.fault.map_or(Vec::new(), |fault| self.study.faults[fault].nets(board));
            nets.extend(reached.into_iter().filter(|&net| board.nets[net].reachable));
        }
        let supplies = board.nets.iter().filter(|(_, net)| net.supply.is_some()).map(|(id, _)| id);
        nets.splice(0..0, supplies);
        let mut once = BTreeSet::new();
        nets.retain(|net| once.insert(*net) && !self.leave_out.contains(net));
        nets.truncate(MOST_NETS);
        let suspected: Vec<Suspected> = suspected.into_values().collect();
        let passive = self.passive.get_or_insert_with(|| Passive::new(board));
        let ends = suspected.iter().filter_map(|one| one.change).flat_map(|change| change.nets);
        passive.learn(&nets.iter().copied().chain(ends).collect::<Vec<_>>());
        let grounds = |net: NetId| board.nets[net].supply == Some(Supply::Ground);
        let pairs = nets.iter().enumerate().flat_map(|(at, &a)| nets[at + 1..].iter().map(move |&b| (a, b)));
        let (off, _) = way_back(looks);
        let touch = |net: NetId| {
            let handy = board.nets[net].pins.iter().any(|&pin| is_handy(board, pin));
            if handy { PROBE_HANDY } else { PROBE }
        };
        let mut rated: Vec<(f64, f64, NetId, NetId)> = pairs
            .map(|(a, b)| if grounds(a) { (b, a) } else { (a, b) })
            .filter(|&(red, black)| !is_known(looks.session, red, black))
            .map(|(red, black)| (told(passive, &suspected, red, black), red, black))
            .filter(|(bits, ..)| *bits > 0.0)
            .map(|(bits, red, black)| (bits / (off + touch(red) + touch(black)), bits, red, black))
            .collect();
        rated.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.2, a.3).cmp(&(b.2, b.3))));
        rated.truncate(TRIED);
        rated.into_iter().map(|(_, bits, red, black)| (bits, red, black)).collect()
    }
}

/// Whether ohms were read there before: they do not change.
fn is_known(session: &Session, red: NetId, black: NetId) -> bool {
    session.readings().any(|(_, reading)| match reading.seen {
        Seen::Ohms(a, b, _) => (a, b) == (red, black) || (a, b) == (black, red),
        _ => false,
    })
}

/// How much two leads would tell of some suspects.
fn told(passive: &Passive, suspected: &[Suspected], red: NetId, black: NetId) -> f64 {
    let shows = |one: &Suspected| (figure(passive.between(red, black, one.change.as_ref())), one.probability);
    let mut figures: Vec<(f64, f64)> = suspected.iter().map(shows).collect();
    figures.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut parts: Vec<(f64, f64)> = Vec::new();
    for (figure, probability) in figures {
        match parts.last_mut() {
            Some((last, sum)) if figure - *last <= APART * OHMS_SPREAD => {
                *last = figure;
                *sum += probability;
            }
            _ => parts.push((figure, probability)),
        }
    }
    if parts.len() < 2 { 0.0 } else { bits(parts.into_iter().map(|(_, share)| share)) }
}

/// Seconds until power is off and the jumpers are away, and those back to where the board stands now.
fn way_back(looks: &Looks) -> (f64, f64) {
    let session = looks.session;
    if session.is_off() {
        return (0.0, 0.0);
    }
    let mut since: Vec<_> = session.looks().rows().iter().rev().collect();
    let up = since.iter().position(|look| look.power).map_or(since.len(), |at| at + 1);
    since.truncate(up);
    let mut tied = BTreeSet::new();
    since.iter().rev().flat_map(|look| &look.actions).for_each(|action| action.leave(&mut tied));
    let actions: f64 = since.iter().map(|look| looks.seconds(&look.actions)).sum();
    (looks.costs.off + looks.costs.jumper * tied.len() as f64, looks.costs.power + actions)
}
