//! Readings as a session: every look they were taken at, in order, and what a good board shows there.

use super::{Observed, Reading, Seen};
use crate::bench::Bench;
use crate::names::{Done, look_up};
use dryjoint_board::{Board, Entity, Notice, PartId};
use dryjoint_ids::Id;
use dryjoint_procedure::{Action, Procedure, Resume, StepId, Study, resume};
use dryjoint_session::{LookId, Misreads, Seen as Noted, Session, Sight};

/// A lamp that was not as a good board has it.
#[derive(Clone, Debug, PartialEq)]
pub struct Odd {
    /// The step, where the reading was of one.
    pub step: Option<StepId>,
    /// The lamp.
    pub lamp: PartId,
    /// Whether a good board has it lit.
    pub lit: bool,
    /// What was seen.
    pub seen: Seen,
}

/// Readings gathered into a session.
pub struct Gathered {
    /// The session.
    pub session: Session,
    /// Lamps that were not as expected, in the order read.
    pub odd: Vec<Odd>,
    /// What the session had to remark, with the place of the reading.
    pub notices: Vec<(String, Notice)>,
    /// Where to go on, where a repair was the last thing.
    pub resume: Option<Resume>,
}

/// Goes through the readings in order; every problem with its place.
pub fn gather(
    study: &Study,
    procedure: &Procedure,
    readings: &[Reading],
    observed: &[Observed],
) -> Result<Gathered, Vec<String>> {
    let board = study.extracted.shape.board;
    let mut gathered =
        Gathered { session: Session::new(""), odd: Vec::new(), notices: Vec::new(), resume: None };
    let mut good = Good::new(study);
    let mut problems = Vec::new();
    for (index, (reading, seen)) in readings.iter().zip(observed).enumerate() {
        if !seen.repaired.is_empty() {
            repaired(study, procedure, &mut gathered, &seen.repaired);
            good = Good::new(study);
            continue;
        }
        gathered.resume = None;
        match look(board, procedure, &mut gathered.session, reading) {
            Ok((at, off)) => {
                let notices = note(&mut good, &mut gathered, at, reading.rest_as_expected, seen);
                gathered.notices.extend(notices.into_iter().map(|notice| (reading.place(index), notice)));
                if off {
                    gathered.session.switch_off();
                }
            }
            Err(problem) => problems.push(format!("{}: {problem}", reading.place(index))),
        }
    }
    if problems.is_empty() { Ok(gathered) } else { Err(problems) }
}

/// The unit is another one from here on: what was read before is left behind.
pub fn repaired(study: &Study, procedure: &Procedure, gathered: &mut Gathered, parts: &[PartId]) {
    let resume = resume(study, procedure, parts);
    let done = resume.step.and_then(|step| step.index().checked_sub(1)).map(StepId::at);
    gathered.session = Session::resumed("", done);
    gathered.odd.clear();
    if !resume.lead.is_empty() {
        gathered.session.act(None, &resume.lead);
    }
    gathered.resume = Some(resume);
}

/// Does what a reading says was done: the look, and whether power is off after it.
fn look(
    board: &Board,
    procedure: &Procedure,
    session: &mut Session,
    reading: &Reading,
) -> Result<(LookId, bool), String> {
    if let Some(step) = reading.step {
        let last = procedure.steps.len();
        if step == 0 || step > last {
            return Err(format!("there is no step {step}; the procedure has steps 1 to {last}"));
        }
        let late = format!(
            "step {step} stands after a later one; give readings in the order in which they were taken"
        );
        let look = session.follow(procedure, StepId::at(step.saturating_sub(1))).ok_or(late)?;
        return Ok((look, false));
    }
    let mut off = false;
    let mut hands: Vec<Action> = Vec::new();
    for action in reading.actions.iter().flatten() {
        for done in look_up(board, action)? {
            match done {
                Done::Hand(hand) => hands.push(hand),
                Done::Power(true) => {
                    session.start_afresh();
                    hands.clear();
                    off = false;
                }
                // What is smelt or felt then is of the board as it stood.
                Done::Power(false) => off = true,
                // The rate of a clock changes no level.
                Done::Select(..) => {}
            }
        }
    }
    Ok((if hands.is_empty() { session.now() } else { session.act(None, &hands) }, off))
}

/// Takes what was seen at a look; what there is to remark on it.
fn note(
    good: &mut Good,
    gathered: &mut Gathered,
    at: LookId,
    rest_as_expected: bool,
    observed: &Observed,
) -> Vec<Notice> {
    let board = good.study.extracted.shape.board;
    let step = gathered.session.looks()[at].step;
    let mut taken = Vec::new();
    for (lamp, good) in good.expected(&gathered.session, at) {
        match (observed.seen.get(&lamp), good) {
            (Some(seen), Some(lit)) if *seen != seen_of(lit) => {
                gathered.odd.push(Odd { step, lamp, lit, seen: *seen });
            }
            (None, Some(lit)) if rest_as_expected => taken.push(Noted::Lamp(lamp, sight(seen_of(lit)))),
            _ => {}
        }
    }
    taken.extend(observed.seen.iter().map(|(lamp, seen)| Noted::Lamp(*lamp, sight(*seen))));
    taken.extend(observed.volts.iter().map(|(net, volts)| Noted::Volts(*net, *volts)));
    taken.extend(observed.supply.map(Noted::Supply));
    taken.extend(observed.hot.iter().map(|part| Noted::Hot(*part)));
    taken.extend(observed.sound.iter().map(|part| Noted::Sound(*part)));
    taken.extend(observed.smelt.then_some(Noted::Smelt));
    let mut taken: Vec<(LookId, Noted)> = taken.into_iter().map(|seen| (at, seen)).collect();
    for &(a, b, ohms) in &observed.ohms {
        taken.push((gathered.session.switch_off(), Noted::Ohms(a, b, ohms)));
    }
    let mut remarks = Vec::new();
    for (at, seen) in taken {
        let (id, notices) = gathered.session.observe(board, at, seen);
        remarks.extend(notices);
        if let Some(id) = id.filter(|_| observed.unsure.contains(&about(seen))) {
            gathered.session.doubt(id, Misreads::UNSURE);
        }
    }
    remarks
}

/// What a reading is of.
fn about(seen: Noted) -> Entity {
    match seen {
        Noted::Lamp(part, _) | Noted::Hot(part) | Noted::Sound(part) => Entity::Part(part),
        Noted::Volts(net, _) | Noted::Ohms(net, ..) => Entity::Net(net),
        Noted::Supply(_) | Noted::Smelt => Entity::Board,
    }
}

/// A good board that goes along with a session, look by look.
pub struct Good<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    bench: Bench<'e, 'b>,
    /// Looks that it has gone through.
    done: usize,
}

impl<'s, 'e, 'b> Good<'s, 'e, 'b> {
    /// The board at the beginning of a session.
    pub fn new(study: &'s Study<'e, 'b>) -> Self {
        Self { study, bench: Bench::new(study.extracted, None), done: 0 }
    }

    /// What its lamps show at a look, lamp by lamp; looks are asked for in their order.
    pub fn expected(&mut self, session: &Session, at: LookId) -> Vec<(PartId, Option<bool>)> {
        for look in &session.looks().rows()[self.done.min(at.index() + 1)..=at.index()] {
            if look.power {
                self.bench = Bench::new(self.study.extracted, None);
            }
            for action in &look.actions {
                self.bench.hand(*action);
            }
        }
        self.done = self.done.max(at.index() + 1);
        self.study.rig.lamps.iter().map(|(lamp, signal)| (*lamp, self.bench.level(*signal).value())).collect()
    }
}

/// A lamp plainly lit or plainly dark.
pub fn seen_of(lit: bool) -> Seen {
    if lit { Seen::Lit } else { Seen::Dark }
}

fn sight(seen: Seen) -> Sight {
    match seen {
        Seen::Lit => Sight::Lit,
        Seen::Dark => Sight::Dark,
        Seen::Dim => Sight::Dim,
        Seen::Flickering => Sight::Flickering,
    }
}
