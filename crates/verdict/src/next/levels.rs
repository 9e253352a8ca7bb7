//! The best net to measure where there are too many suspects to solve: by the levels that the lanes give it.
//!
//! As the board stands, or after what one look's actions bring: a fault that leaves latches to luck leaves most levels
//! to luck too, until a reset or a tied line makes them known. What nobody knows of a suspect counts for nothing.

use super::lamps::Looks;
use super::meter::{PROBE, split};
use super::{Case, Deed, Next};
use crate::Inquiry;
use crate::inquiry::known;
use crate::meter::volts_spread;
use crate::tell::Teller;
use dryjoint_board::NetId;
use dryjoint_faults::lanes::Shown;
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::Action;
use dryjoint_session::{Seen, Session};
use dryjoint_units::{Seconds, Volts};

/// More actions than this before one measurement are too many for a person to get right (judgement).
pub(super) const MOST_ACTIONS: usize = 6;

/// A net that was measured so often has told what it can.
const OFTEN: usize = 3;

impl Inquiry<'_, '_, '_> {
    /// The best net as the board stands.
    pub(super) fn by_level(&self, session: &Session, cases: &[Case]) -> Option<Next> {
        let look = session.now().index();
        let here = |net: NetId| {
            session.readings().any(|(_, reading)| {
                reading.look == session.now() && matches!(reading.seen, Seen::Volts(known, _) if known == net)
            })
        };
        let mut best: Option<(f64, NetId, SignalId)> = None;
        for (net, signal) in self.signals(session).into_iter().filter(|&(net, _)| !here(net)) {
            let bits = told(cases, |case| self.teller.likely(look, case.lane, signal));
            if best.is_none_or(|(known, ..)| bits > known) {
                best = Some((bits, net, signal));
            }
        }
        let (bits, net, signal) = best?;
        self.at_level(cases, net, bits, |case| {
            self.teller.likely(look, case.and_then(|case| case.lane), signal)
        })
    }

    /// The best net after one look's actions.
    pub(super) fn by_level_after(&self, looks: &Looks, short: &mut Teller, cases: &[Case]) -> Option<Next> {
        let nets = self.signals(looks.session);
        let signals: Vec<SignalId> = nets.iter().map(|&(_, signal)| signal).collect();
        let mut best: Option<(f64, f64, usize, Vec<Action>)> = None;
        for (_, actions) in looks.candidates(short) {
            if actions.len() > MOST_ACTIONS {
                continue;
            }
            let seen = short.foresee(&actions, &signals);
            let seconds = looks.seconds(&actions) + PROBE;
            for (at, _) in nets.iter().enumerate() {
                let bits = told(cases, |case| seen[case.index][at]);
                if best.as_ref().is_none_or(|&(rate, ..)| bits / seconds > rate) {
                    best = Some((bits / seconds, bits, at, actions.clone()));
                }
            }
        }
        let (_, bits, at, actions) = best?;
        let seen = short.foresee(&actions, &signals);
        let good = short.lanes().len();
        let shown = |case: Option<&Case>| seen[case.map_or(good, |case| case.index)][at];
        let mut next = self.at_level(cases, nets[at].0, bits, shown)?;
        next.seconds = Seconds(next.seconds.0 + looks.seconds(&actions));
        if let Deed::Volts { actions: before, .. } = &mut next.deed {
            *before = actions;
        }
        Some(next)
    }

    /// The nets that a lead reaches, with their signals.
    fn signals(&self, session: &Session) -> Vec<(NetId, SignalId)> {
        let extracted = self.study.extracted;
        let often = |net: NetId| {
            let there = |seen: Seen| matches!(seen, Seen::Volts(known, _) if known == net);
            session.readings().filter(|(_, reading)| there(reading.seen)).count() >= OFTEN
        };
        let nets = self.reachable().into_iter().filter(|&net| !often(net));
        nets.filter_map(|net| Some((net, extracted.signal_of[net]?))).collect()
    }

    /// A lead on a net, at the volts that its level has on a good board.
    fn at_level(
        &self,
        cases: &[Case],
        net: NetId,
        bits: f64,
        shown: impl Fn(Option<&Case>) -> Shown,
    ) -> Option<Next> {
        let volts = |shown: Shown| known(shown).map(|high| self.study.extracted.levels[net].volts(high));
        let figure = |case: &Case| volts(shown(case.fault.map(|_| case))).map(|Volts(volts)| volts);
        let next = self.probe(net, split(cases, figure, volts_spread), volts(shown(None)))?;
        Some(Next { bits, ..next })
    }
}

/// How much a level tells of those whose level is known, in bits.
fn told(cases: &[Case], shown: impl Fn(&Case) -> Shown) -> f64 {
    let (mut high, mut low, mut open) = (0.0, 0.0, 0.0);
    for case in cases {
        *match shown(case) {
            Shown::One => &mut high,
            Shown::Zero => &mut low,
            Shown::Dim | Shown::Unknown => &mut open,
        } += case.probability;
    }
    let of = |share: f64| -share * (share + open).clamp(f64::MIN_POSITIVE, 1.0).log2();
    of(high) + of(low)
}
