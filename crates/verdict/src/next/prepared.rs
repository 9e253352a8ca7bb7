//! A measurement after the board was brought into another state: two things to do, weighed as one.
//!
//! An open base and an open emitter look alike until the transistor is driven, and then one voltage tells
//! them apart. Lamps see neither, so no look promises anything, and as the board stands no lead does. What
//! counts is the state around the suspects: each way of moving on is rated by how many of them it brings
//! into a state in which nothing was measured yet, and for the best few the likeliest suspects are solved.

use super::lamps::Looks;
use super::levels::MOST_ACTIONS;
use super::meter::ENOUGH_SOLVED;
use super::{Case, Deed, Next, better};
use crate::Inquiry;
use crate::inquiry::WORK;
use crate::point::Whose;
use crate::tell::{Lane, Teller};
use dryjoint_board::{NetId, PartId};
use dryjoint_faults::lanes::Shown;
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::Action;
use dryjoint_session::Seen;
use dryjoint_units::Seconds;
use std::collections::BTreeSet;

/// Ways of moving on that are solved, at most.
const MOST_WAYS: usize = 4;

/// Circuits solved for each, at most.
const MOST_SOLVED: usize = 12;

/// Seconds that a measurement takes by itself, for the rating.
const PROBE: f64 = 8.0;

/// What the signals around each suspect are.
type State = Vec<Vec<Shown>>;

/// A way to move on: what it is worth a second, what to do, and the state it brings.
struct Way {
    rate: f64,
    actions: Vec<Action>,
    state: State,
}

impl Inquiry<'_, '_, '_> {
    /// The best measurement that something has to be done for first.
    pub(super) fn prepare(&mut self, looks: &Looks, short: &mut Teller, cases: &[Case]) -> Option<Next> {
        let (likely, circuits) = self.likely(cases, MOST_SOLVED);
        if circuits < 2 {
            return None;
        }
        let covered: f64 = likely.iter().map(|case| case.probability).sum();
        if covered < ENOUGH_SOLVED {
            return self.by_level_after(looks, short, cases).filter(|next| next.bits >= looks.least);
        }
        let ways = self.ways_on(looks, short, likely);
        if ways.is_empty() {
            return None;
        }
        let mut own: Vec<usize> = likely.iter().filter_map(|case| case.lane).collect();
        own.sort_unstable();
        own.dedup();
        let lanes: Vec<Lane> = own.iter().map(|&lane| self.teller.lanes()[lane].clone()).collect();
        let mut ahead = match self.ahead.take() {
            Some(ahead) if ahead.lanes() == lanes => ahead,
            _ => Teller::new(self.study, lanes),
        };
        ahead.follow(looks.session);
        ahead.hear_as(&self.teller, &own);
        let place = |case: &Case| case.lane.and_then(|lane| own.binary_search(&lane).ok());
        let mut who: Vec<(Whose, Option<usize>)> =
            likely.iter().map(|case| (case.fault, place(case))).collect();
        if !who.contains(&(None, None)) {
            who.push((None, None));
        }
        let mut best: Option<Next> = None;
        self.points.allow(WORK);
        for way in ways {
            let look = ahead.imagine(&way.actions);
            self.points.solve(self.study, &ahead, look, &who);
            let there = self
                .reachable()
                .into_iter()
                .filter_map(|net| self.net(look, net, likely))
                .filter(|next| next.bits >= looks.least)
                .reduce(better);
            self.points.forget(look);
            ahead.forget(look);
            let Some(mut next) = there else { continue };
            next.seconds = Seconds(next.seconds.0 + looks.seconds(&way.actions));
            if let Deed::Volts { actions, .. } = &mut next.deed {
                *actions = way.actions;
            }
            best = Some(match best {
                Some(known) => better(known, next),
                None => next,
            });
        }
        self.ahead = Some(ahead);
        best
    }

    /// The ways to move on that promise most, each to a state of its own.
    fn ways_on(&self, looks: &Looks, short: &mut Teller, likely: &[Case]) -> Vec<Way> {
        let near: Vec<Vec<SignalId>> = likely.iter().map(|case| self.near(case)).collect();
        let all: BTreeSet<SignalId> = near.iter().flatten().copied().collect();
        let all: Vec<SignalId> = all.into_iter().collect();
        let state = |rows: &dyn Fn(usize, SignalId) -> Shown| -> State {
            let own = likely.iter().zip(&near);
            own.map(|(case, near)| near.iter().map(|&signal| rows(case.index, signal)).collect()).collect()
        };
        let session = looks.session;
        let measured = session.readings().filter(|(_, reading)| matches!(reading.seen, Seen::Volts(..)));
        let mut past: BTreeSet<usize> = measured.map(|(_, reading)| reading.look.index()).collect();
        past.insert(session.now().index());
        let good = short.lanes().len();
        let known: Vec<State> = past
            .into_iter()
            .map(|look| {
                state(&|index, signal| {
                    if index == good { short.good(look, signal) } else { short.shown(look, index, signal) }
                })
            })
            .collect();
        let mut ways: Vec<Way> = Vec::new();
        for (_, actions) in looks.candidates(short) {
            if actions.len() > MOST_ACTIONS {
                continue;
            }
            let seen = short.foresee(&actions, &all);
            let state = state(&|index, signal| {
                all.binary_search(&signal).map_or(Shown::Unknown, |at| seen[index][at])
            });
            let fresh = |at: &usize| known.iter().all(|known| known[*at] != state[*at]);
            let share: f64 = (0..likely.len()).filter(fresh).map(|at| likely[at].probability).sum();
            let rate = share / (looks.seconds(&actions) + PROBE);
            match ways.iter_mut().find(|way| way.state == state) {
                Some(way) if way.rate >= rate => {}
                Some(way) => *way = Way { rate, actions, state },
                None if share > 0.0 => ways.push(Way { rate, actions, state }),
                None => {}
            }
        }
        ways.sort_by(|a, b| b.rate.total_cmp(&a.rate));
        ways.truncate(MOST_WAYS);
        ways
    }

    /// The signals around a suspect: on the nets of its parts, and across one resistor, diode or other
    /// part of two leads from them.
    fn near(&self, case: &Case) -> Vec<SignalId> {
        let extracted = self.study.extracted;
        let board = extracted.shape.board;
        let Some(fault) = case.fault else { return Vec::new() };
        let nets_of = |part: &PartId| -> Vec<NetId> {
            let pins = board.parts[*part].pins.iter().map(|&pin| board.pins[pin].net);
            pins.filter(|&net| board.nets[net].supply.is_none()).collect()
        };
        let parts = self.study.faults[fault].parts(board);
        let mut nets: BTreeSet<NetId> = parts.iter().flat_map(nets_of).collect();
        let pins = nets.iter().flat_map(|&net| &board.nets[net].pins);
        let beside: BTreeSet<PartId> = pins.map(|&pin| board.pins[pin].part).collect();
        let small = beside.into_iter().filter(|&part| board.parts[part].pins.len() == 2);
        nets.extend(small.flat_map(|part| nets_of(&part)).collect::<Vec<_>>());
        nets.into_iter().filter_map(|net| extracted.signal_of[net]).collect()
    }
}
