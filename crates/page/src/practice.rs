//! Practice: a unit in the circuit solver with a fault hidden in it, and how well someone did.
//!
//! The unit shares nothing with the simulation that the procedure was made with, so what its lamps
//! and the meter show is as good as a real board's.

use crate::subject::Subject;
use crate::work::Stand;
use dryjoint_board::NetId;
use dryjoint_circuit::NoSolution;
use dryjoint_draws::Draws;
use dryjoint_faults::FaultId;
use dryjoint_procedure::{Action, Coverage};
use dryjoint_records::{Entry, Kind, Sort};
use dryjoint_session::{Seen, Session, Sight, Unit};
use dryjoint_units::Ohms;
use dryjoint_verdict::{Deed, Inquiry};

/// After so many deeds whatever is left counts as one.
const MOST_DEEDS: usize = 30;

/// A unit with a fault hidden in it.
#[derive(Debug)]
pub struct Practice {
    subject: Subject,
    seed: u64,
    hidden: FaultId,
    unit: Unit<'static>,
    /// What was done to it since it was made; `None` is power off and on.
    done: Vec<Option<Action>>,
}

/// How someone did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Score {
    /// Looks at the lamps.
    pub looks: usize,
    /// Measurements.
    pub measurements: usize,
    /// Seconds at the bench, by the table of costs.
    pub seconds: f64,
    /// Faults that were left in the first suspect, and whether the hidden one was among them.
    pub left: Option<(usize, bool)>,
}

impl Practice {
    /// Hides a fault that some step shows; the same number hides the same one.
    pub fn new(subject: Subject, seed: u64) -> Result<Self, String> {
        let shown: Vec<FaultId> = subject
            .procedure
            .coverage
            .iter()
            .filter(|(_, coverage)| matches!(coverage, Coverage::Shown(_)))
            .map(|(fault, _)| fault)
            .collect();
        let hidden = shown.get(Draws::new(seed).below(shown.len().max(1))).copied();
        let hidden = hidden.ok_or("no fault of this board can be shown, so none can be hidden")?;
        let unit = switched_on(subject, hidden, seed, 0).map_err(|error| error.to_string())?;
        Ok(Self { subject, seed, hidden, unit, done: Vec::new() })
    }

    /// The fault that is hidden.
    pub fn hidden(&self) -> FaultId {
        self.hidden
    }

    /// The ohms between two nets of the unit with power off.
    pub fn ohms(&mut self, red: NetId, black: NetId) -> Result<Option<Ohms>, NoSolution> {
        self.unit.ohms(red, black)
    }

    /// The unit after what stands in the log, and then these actions.
    pub fn after(&mut self, stand: &Stand, then: &[Action]) -> Result<&Unit<'static>, NoSolution> {
        let mut wanted: Vec<Option<Action>> = Vec::new();
        for entry in &stand.entries {
            let is_on = wanted.last() != Some(&None);
            match entry.kind {
                Kind::Afresh => wanted.push(None),
                // Ohms are measured with power off; several in a row need that once.
                Kind::Measure if is_ohms(entry) => wanted.extend(is_on.then_some(None)),
                Kind::Look | Kind::Measure => {
                    wanted.extend(entry.actions.iter().map(|text| self.subject.read_action(text)));
                }
                _ => {}
            }
        }
        wanted.extend(then.iter().map(|action| Some(*action)));
        let powers = |done: &[Option<Action>]| done.iter().filter(|one| one.is_none()).count() as u64;
        if !wanted.starts_with(&self.done) {
            self.unit = switched_on(self.subject, self.hidden, self.seed, 0)?;
            self.done.clear();
        }
        for at in self.done.len()..wanted.len() {
            match wanted[at] {
                Some(action) => self.unit.act(action)?,
                None => {
                    let before = powers(&wanted[..=at]);
                    self.unit = switched_on(self.subject, self.hidden, self.seed, before)?;
                }
            }
            self.done.push(wanted[at]);
        }
        Ok(&self.unit)
    }
}

fn switched_on(
    subject: Subject,
    hidden: FaultId,
    seed: u64,
    times: u64,
) -> Result<Unit<'static>, NoSolution> {
    let fault = subject.study.faults[hidden];
    Unit::new(subject.study.extracted, &[fault], seed.wrapping_add(times))
}

fn is_ohms(entry: &Entry) -> bool {
    entry.readings.iter().any(|read| read.sort == Sort::Ohms)
}

/// What the log of a practice comes to.
pub fn score(subject: Subject, stand: &Stand, hidden: FaultId) -> Score {
    let mut score = Score { seconds: subject.costs.power, ..Score::default() };
    let mut off = false;
    for entry in &stand.entries {
        let ohms = is_ohms(entry);
        if ohms && !off {
            score.seconds += subject.costs.off;
        }
        if off && !ohms && matches!(entry.kind, Kind::Look | Kind::Measure) {
            score.seconds += subject.costs.power;
        }
        off = ohms || off && !matches!(entry.kind, Kind::Look | Kind::Measure | Kind::Afresh);
        match entry.kind {
            Kind::Look => {
                let actions: Vec<Action> =
                    entry.actions.iter().filter_map(|text| subject.read_action(text)).collect();
                score.looks += 1;
                score.seconds += subject.look_seconds(&actions);
            }
            Kind::Measure => {
                score.measurements += entry.readings.len();
                score.seconds +=
                    entry.readings.iter().map(|read| subject.measure_seconds(read.sort)).sum::<f64>();
                let actions = entry.actions.iter().filter_map(|text| subject.read_action(text));
                score.seconds += subject.acting_seconds(&actions.collect::<Vec<_>>());
            }
            Kind::Afresh => score.seconds += subject.costs.power,
            Kind::Repair => {
                let named = subject.fault(&entry.fault);
                let same = named.is_some_and(|named| named == hidden || alike(subject, named, hidden));
                score.left = Some((1, same));
            }
            _ => {}
        }
    }
    score
}

/// Whether two faults do the same, so that nothing at the bench tells them apart.
pub fn alike(subject: Subject, a: FaultId, b: FaultId) -> bool {
    let group = subject.study.group_of(a);
    group.is_some() && group == subject.study.group_of(b)
}

/// Plays the same unit through, always doing what promises to tell most: the best that is possible with
/// what the program knows, and the meter, if there is one.
pub fn best(subject: Subject, (hidden, seed): (FaultId, u64), meter: bool) -> Result<Score, NoSolution> {
    let mut unit = switched_on(subject, hidden, seed, 0)?;
    let mut session = Session::new("");
    let mut inquiry = Inquiry::new(subject.study, subject.priors);
    inquiry.meter = meter;
    let mut score = Score { seconds: subject.costs.power, ..Score::default() };
    let mut surprised = false;
    for (id, step) in subject.procedure.steps.iter() {
        for &action in &step.actions {
            unit.act(action)?;
        }
        let Some(look) = session.follow(subject.procedure, id) else { continue };
        score.looks += 1;
        score.seconds += subject.look_seconds(&step.actions);
        surprised |= read_lamps(subject, &unit, &mut session, look, &step.expect);
        if surprised {
            break;
        }
    }
    for _ in 0..MOST_DEEDS {
        let verdict = inquiry.weigh(&session);
        let first = verdict.suspects.first();
        score.left =
            first.map(|first| (first.faults.len(), first.faults.iter().any(|&(fault, _)| fault == hidden)));
        if !surprised {
            break;
        }
        let next = inquiry.next(subject.procedure, subject.costs, &session, &verdict);
        let Ok(next) = next else { break };
        if next.off && !matches!(next.deed, Deed::Ohms { .. }) {
            unit = switched_on(subject, hidden, seed, 1)?;
            score.seconds += subject.costs.power;
        }
        match &next.deed {
            Deed::Look { step, actions, expect } => {
                for &action in actions {
                    unit.act(action)?;
                }
                let look = session.act(*step, actions);
                score.looks += 1;
                score.seconds += subject.look_seconds(actions);
                read_lamps(subject, &unit, &mut session, look, expect);
            }
            Deed::Volts { actions, net, .. } => {
                for &action in actions {
                    unit.act(action)?;
                }
                if !actions.is_empty() {
                    session.act(None, actions);
                }
                score.measurements += 1;
                score.seconds += subject.acting_seconds(actions) + subject.measure_seconds(Sort::Volts);
                let Some(volts) = unit.volts(*net) else { break };
                session.observe(subject.board(), session.now(), Seen::Volts(*net, volts));
            }
            Deed::Supply { .. } => {
                score.measurements += 1;
                score.seconds += subject.measure_seconds(Sort::Supply);
                session.observe(subject.board(), session.now(), Seen::Supply(unit.supply()));
            }
            Deed::Ohms { red, black, .. } => {
                score.measurements += 1;
                score.seconds +=
                    subject.measure_seconds(Sort::Ohms) + if next.off { 0.0 } else { subject.costs.off };
                let ohms = unit.ohms(red.net, black.net)?.unwrap_or(Ohms(f64::INFINITY));
                let look = session.switch_off();
                session.observe(subject.board(), look, Seen::Ohms(red.net, black.net, ohms));
            }
        }
    }
    Ok(score)
}

/// Reads every lamp; whether one was not as expected.
fn read_lamps(
    subject: Subject,
    unit: &Unit,
    session: &mut Session,
    look: dryjoint_session::LookId,
    expect: &[(dryjoint_board::PartId, Option<bool>)],
) -> bool {
    let mut odd = false;
    for &(lamp, good) in expect {
        let Some(sight) = unit.lamp(lamp) else { continue };
        let wanted = good.map(|lit| if lit { Sight::Lit } else { Sight::Dark });
        odd |= wanted.is_some_and(|wanted| wanted != sight);
        session.observe(subject.board(), look, Seen::Lamp(lamp, sight));
    }
    odd
}
