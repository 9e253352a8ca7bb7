//! Weighing: every single fault, no fault, and none of these, against every reading.
//!
//! A lamp's reading is compared with what the lanes predict, so it weighs all faults of a group
//! alike; a meter's is compared with the whole board solved with that very fault. "None of these" is
//! a board that does what one of the listed ones does, the good one included, but departs from it in
//! an unknown share of its readings.

use crate::around::Around;
use crate::kept::Kept;
use crate::lean;
use crate::next::Never;
use crate::passive::Passive;
use crate::points::Points;
use crate::posterior::Posterior;
use crate::standing::{LampReading, Standing, Stood, there};
use crate::suspect::Verdict;
use crate::tell::{Lane, Teller};
use dryjoint_board::{NetId, PartId};
use dryjoint_faults::lanes::Shown;
use dryjoint_faults::region::Effect;
use dryjoint_faults::{FaultId, Priors};
use dryjoint_ids::{Id, Side};
use dryjoint_logic::SignalId;
use dryjoint_procedure::Study;
use dryjoint_session::{Reading, ReadingId, Seen, Session, Sight};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

/// Of all units with something wrong, the share whose fault is not on the list. Judgement.
const UNLISTED: f64 = 0.02;

/// Newton steps times nets for one verdict, and again for each way of asking what a meter would show: a person waits for it.
pub(crate) const WORK: usize = 400_000;

/// Rounds of solving for whoever has become likely.
const ROUNDS: usize = 3;

/// Weighs a session from its start.
pub fn weigh(study: &Study, priors: &Priors, session: &Session) -> Verdict {
    Inquiry::new(study, priors).weigh(session)
}

/// What is kept from one verdict of a session to the next.
pub struct Inquiry<'s, 'e, 'b> {
    /// Whether a meter and the supply's display are at hand, so that readings of them may be asked for.
    pub meter: bool,
    /// Whether the lamps of every pair that was played are kept, for sessions with the same looks and other
    /// readings: a score weighs thousands.
    pub keeps_pairs: bool,
    /// Nets on which no lead is asked for: nobody reaches them, or nothing steady was found there.
    pub leave_out: BTreeSet<NetId>,
    pub(crate) study: &'s Study<'e, 'b>,
    pub(crate) teller: Teller<'s, 'e, 'b>,
    /// The lanes of each group: as its table has it, then with what that leaves open settled.
    pub(crate) ways: Vec<Range<usize>>,
    /// How every lane stood to the lamps at the last verdict.
    pub(crate) stood: Stood,
    pub(crate) points: Points,
    pub(crate) around: Around,
    /// The odds of each fault and of each group before anything is seen; the good board's are 1.
    pub(crate) odds: BTreeMap<FaultId, f64>,
    pub(crate) group_odds: Vec<f64>,
    /// The logarithm of each lane's odds: its group's, shared among the ways in which it may lean.
    lane_odds: Vec<f64>,
    pub(crate) unlisted: f64,
    /// The likely groups alone, to try actions on.
    pub(crate) short: Option<Teller<'s, 'e, 'b>>,
    /// The likeliest few, to try what a meter would show elsewhere.
    pub(crate) ahead: Option<Teller<'s, 'e, 'b>>,
    /// What ohms would be estimated at anywhere.
    pub(crate) passive: Option<Passive>,
    /// What pairs of faults do along the looks of the last session whose pairs were weighed.
    pub(crate) kept: Kept,
    /// What the last verdict came from.
    pub(crate) posterior: Option<Posterior>,
    /// Pairs of lanes that no lamps ever surely tell apart.
    pub(crate) never: Never,
}

impl<'s, 'e, 'b> Inquiry<'s, 'e, 'b> {
    /// An inquiry that has heard nothing yet.
    pub fn new(study: &'s Study<'e, 'b>, priors: &Priors) -> Self {
        let board = study.extracted.shape.board;
        let odds_of = |fault: FaultId| {
            let chance = priors.of(board, &study.faults[fault]).clamp(1e-12, 0.5);
            chance / (1.0 - chance)
        };
        let mut odds = BTreeMap::new();
        let mut group_odds = Vec::new();
        for group in study.groups.rows() {
            odds.extend(group.faults.iter().map(|&fault| (fault, odds_of(fault))));
            group_odds.push(group.faults.iter().map(|fault| odds[fault]).sum());
        }
        let undecided = study.effects.iter().filter(|(_, effect)| matches!(effect, Effect::Undecided(_)));
        let undecided: f64 = undecided.map(|(fault, _)| odds_of(fault)).sum();
        let unlisted = UNLISTED * group_odds.iter().sum::<f64>() + undecided;
        let mut lanes = Vec::new();
        let mut ways = Vec::new();
        for (group, row) in study.groups.iter() {
            let first = lanes.len();
            lanes.push(Lane { group, behaviour: row.behaviour.clone() });
            lanes.extend(lean::ways(study, row).into_iter().map(|behaviour| Lane { group, behaviour }));
            ways.push(first..lanes.len());
        }
        let share = |(ways, odds): (&Range<usize>, &f64)| vec![(odds / ways.len() as f64).ln(); ways.len()];
        let lane_odds = ways.iter().zip(&group_odds).flat_map(share).collect();
        let teller = Teller::hearing(study, lanes);
        Self {
            meter: true,
            keeps_pairs: false,
            leave_out: BTreeSet::new(),
            study,
            teller,
            ways,
            stood: Stood::default(),
            points: Points::new(study),
            around: Around::default(),
            odds,
            group_odds,
            lane_odds,
            unlisted,
            short: None,
            ahead: None,
            kept: Kept::default(),
            passive: None,
            posterior: None,
            never: Never::new(),
        }
    }

    /// The nets on which a lead can be asked for that is held against ground.
    pub(crate) fn reachable(&self) -> Vec<NetId> {
        let nets = self.study.extracted.shape.board.nets.iter();
        let reached = nets.filter(|(_, net)| net.reachable && net.supply.is_none()).map(|(net, _)| net);
        reached.filter(|net| !self.leave_out.contains(net)).collect()
    }

    /// The verdict on all readings of a session so far.
    pub fn weigh(&mut self, session: &Session) -> Verdict {
        if let Some(look) = self.teller.follow(session) {
            self.points.forget(look);
            self.around.forget(look);
            self.stood.forget(look);
        }
        let readings: Vec<(ReadingId, Reading)> = session.readings().map(|(id, r)| (id, *r)).collect();
        let lamps = self.lamp_readings(&readings);
        let mut stood = std::mem::take(&mut self.stood);
        stood.follow(&self.teller, &self.lane_odds, &lamps);
        self.teller.doubt(stood.deaf());
        let good = stood.good();
        let groups: Vec<Standing> = self.ways.iter().map(|ways| stood.lean(ways)).collect();
        self.stood = stood;
        let measured: Vec<Reading> = readings
            .iter()
            .map(|&(_, reading)| reading)
            .filter(|reading| !matches!(reading.seen, Seen::Lamp(..)))
            .collect();
        for reading in &measured {
            if let Seen::Volts(net, _) = reading.seen {
                self.around.learn(self.study, &self.teller, reading.look.index(), net);
            }
        }
        self.points.allow(WORK);
        let mut posterior = self.posterior(good, &groups, &measured);
        for _ in 0..ROUNDS {
            if !self.solve_for(&measured, &posterior) {
                break;
            }
            posterior = self.posterior(good, &groups, &measured);
        }
        let verdict = Verdict {
            readings: readings.len(),
            suspects: self.merge(&posterior, &lamps, &measured),
            no_fault: posterior.no_fault,
            none_of_these: posterior.none,
            doubts: self.doubts(&posterior, &lamps),
            surprises: lamps.iter().filter(|lamp| lamp.agrees == Some(false)).map(|lamp| lamp.id).collect(),
        };
        self.posterior = Some(posterior);
        verdict
    }

    /// Plays a session as it will be ([`Next::done`](crate::Next::done)) while hands are still at it: the verdict on what is
    /// read then has less left to do. Where something else is done instead nothing is lost.
    pub fn play_early(&mut self, future: &Session) {
        self.teller.play_early(future);
    }

    /// What a lamp shows with a fault, and whether that is sure: as the lanes have it, or what it shows
    /// however latches woke up as far as was tried.
    pub(crate) fn there(&self, lamp: &LampReading, index: Option<usize>) -> (Shown, bool) {
        there(&self.teller, lamp, index)
    }

    /// The lamps' readings in the order of the looks.
    pub(crate) fn lamp_readings(&self, readings: &[(ReadingId, Reading)]) -> Vec<LampReading> {
        let lamp_of: &Side<PartId, Option<SignalId>> = &self.study.extracted.lamp_of;
        let mut lamps: Vec<LampReading> = readings
            .iter()
            .filter_map(|&(id, Reading { look, seen, misread })| {
                let Seen::Lamp(part, sight) = seen else { return None };
                let signal = lamp_of[part].filter(|_| sight != Sight::NotLooked)?;
                let look = look.index();
                let good = self.teller.good(look, signal);
                let agrees = lit(sight).zip(known(good)).map(|(seen, good)| seen == good);
                Some(LampReading { id, look, signal, sight, misread, good, agrees, before: None })
            })
            .collect();
        lamps.sort_by_key(|lamp| lamp.look);
        let mut before: BTreeMap<SignalId, Sight> = BTreeMap::new();
        for lamp in &mut lamps {
            lamp.before = before.insert(lamp.signal, lamp.sight);
        }
        lamps
    }
}

/// A lamp plainly lit or plainly dark.
pub(crate) fn lit(sight: Sight) -> Option<bool> {
    match sight {
        Sight::Lit => Some(true),
        Sight::Dark => Some(false),
        Sight::Dim | Sight::Flickering | Sight::NotLooked => None,
    }
}

pub(crate) fn known(shown: Shown) -> Option<bool> {
    match shown {
        Shown::One => Some(true),
        Shown::Zero => Some(false),
        Shown::Dim | Shown::Unknown => None,
    }
}
