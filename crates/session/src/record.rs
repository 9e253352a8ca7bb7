//! The record of one stretch of work: what the hands did, look by look, and what was read.
//!
//! A reading that cannot be true is refused with a notice; one that is hard to believe, or that
//! contradicts another, is taken with a notice. What to make of it is the verdict's affair.

use crate::{Misreads, Reading, ReadingId, Seen, Sight};
use dryjoint_board::{Board, Entity, NetId, Notice, PartKind, Supply};
use dryjoint_ids::{Id, Table, id};
use dryjoint_procedure::{Action, Procedure, StepId};
use dryjoint_units::{Amps, Volts};

id!(
    /// A look of a session.
    LookId, "look"
);

/// One stop at the bench: something done, then a look.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Look {
    /// The step of the procedure it was, if any.
    pub step: Option<StepId>,
    /// Whether power came on before the actions: the first look, and every start afresh.
    pub power: bool,
    /// What the hands did.
    pub actions: Vec<Action>,
}

/// A stretch of work on one unit.
///
/// **Invariant:** the first look has `power`; every reading names a look of the session.
#[derive(Clone, Debug, PartialEq)]
pub struct Session {
    /// The unit's serial number, as its owner writes it.
    pub unit: String,
    /// How often readings are wrong, for readings taken from now on.
    pub misreads: Misreads,
    looks: Table<LookId, Look>,
    readings: Table<ReadingId, Kept>,
    off: bool,
}

#[derive(Clone, Debug, PartialEq)]
struct Kept {
    reading: Reading,
    withdrawn: bool,
}

impl Session {
    /// A session that begins with power coming on, nothing tied.
    pub fn new(unit: impl Into<String>) -> Self {
        let mut looks = Table::new();
        looks.push(Look { step: None, power: true, actions: Vec::new() });
        Self { unit: unit.into(), misreads: Misreads::default(), looks, readings: Table::new(), off: false }
    }

    /// A session that goes on after a repair as if `done` were the last step made: power comes on, nothing
    /// tied, and what was read before is left behind.
    pub fn resumed(unit: impl Into<String>, done: Option<StepId>) -> Self {
        let mut session = Self::new(unit);
        if let Some(done) = done {
            session.mark(session.now(), done);
        }
        session
    }

    /// The looks so far, in order.
    pub fn looks(&self) -> &Table<LookId, Look> {
        &self.looks
    }

    /// The present look.
    pub fn now(&self) -> LookId {
        self.looks.ids().next_back().expect("a session begins with a look")
    }

    /// The hands do something, a step of the procedure or not; the look that follows.
    pub fn act(&mut self, step: Option<StepId>, actions: &[Action]) -> LookId {
        self.off = false;
        self.looks.push(Look { step, power: false, actions: actions.to_vec() })
    }

    /// Every jumper comes off, the supply is switched off and on again.
    pub fn start_afresh(&mut self) -> LookId {
        if std::mem::take(&mut self.off) {
            return self.now();
        }
        self.looks.push(Look { step: None, power: true, actions: Vec::new() })
    }

    /// Every jumper comes off and the supply is switched off, so that ohms can be measured. What the latches
    /// held is lost: the look is that of the board as power will bring it up, and no new one where power
    /// is off already or nothing was yet done with it.
    pub fn switch_off(&mut self) -> LookId {
        let now = self.now();
        let at_now = |kept: &&Kept| kept.reading.look == now;
        let mut here = self.readings.rows().iter().filter(at_now).map(|kept| kept.reading.seen);
        let row = &self.looks[now];
        let untouched = row.power && row.actions.is_empty() && here.all(|seen| !seen.needs_power());
        self.off = true;
        if untouched {
            return now;
        }
        self.looks.push(Look { step: None, power: true, actions: Vec::new() })
    }

    /// Whether power is off since something was measured without it.
    pub fn is_off(&self) -> bool {
        self.off
    }

    /// The last step made in the procedure's order since power last came on. A step made out of order
    /// does not count: those before it are still to be made.
    pub fn done(&self) -> Option<StepId> {
        self.since_power().fold(None, |done: Option<StepId>, (_, look)| {
            let next = StepId::at(done.map_or(0, |step| step.index() + 1));
            // Power may have come on in the middle, after a repair.
            if look.step == Some(next) || (look.power && look.step.is_some()) { look.step } else { done }
        })
    }

    fn since_power(&self) -> impl Iterator<Item = (LookId, &Look)> {
        let start = self.looks.iter().rev().find(|(_, look)| look.power).map(|(id, _)| id);
        self.looks.iter().filter(move |(id, _)| Some(*id) >= start)
    }

    /// Carries the procedure on up to `step`, those on the way included, and returns its look. A
    /// step that was made since power last came on is not made again. Nothing where the procedure has
    /// no such step.
    pub fn follow(&mut self, procedure: &Procedure, step: StepId) -> Option<LookId> {
        procedure.steps.get(step)?;
        let made = self.since_power().find(|(_, look)| look.step == Some(step)).map(|(id, _)| id);
        if made.is_some() {
            return made;
        }
        let done = self.done();
        let mut at = None;
        for (id, row) in procedure.steps.iter().filter(|(id, _)| Some(*id) > done && *id <= step) {
            let now = self.now();
            let fresh = self.looks[now].power && self.looks[now].step.is_none();
            // The first step is a look at the board as it came up.
            at = Some(if row.actions.is_empty() && fresh {
                self.off = false;
                self.mark(now, id);
                now
            } else {
                self.act(Some(id), &row.actions)
            });
        }
        at
    }

    fn mark(&mut self, look: LookId, step: StepId) {
        if let Some((_, row)) = self.looks.iter_mut().find(|(id, _)| *id == look) {
            row.step = Some(step);
        }
    }

    /// The readings that stand, in the order taken.
    pub fn readings(&self) -> impl Iterator<Item = (ReadingId, &Reading)> {
        self.readings.iter().filter(|(_, kept)| !kept.withdrawn).map(|(id, kept)| (id, &kept.reading))
    }

    /// Takes a reading at a look. Nothing is taken where the notices hold an error.
    pub fn observe(&mut self, board: &Board, look: LookId, seen: Seen) -> (Option<ReadingId>, Vec<Notice>) {
        let mut notices = impossible(board, seen);
        if self.looks.get(look).is_none() {
            let text = format!("there was no {look:?}; the session has {}", self.looks.len());
            notices.push(Notice::error("reading-nowhere", about(seen), text, "name a look that was made"));
        }
        if notices.iter().any(|notice| notice.severity == dryjoint_board::Severity::Error) {
            return (None, notices);
        }
        notices.extend(self.contradiction(board, look, seen, None));
        if look == self.now() && seen.needs_power() {
            self.off = false;
        }
        let misread = self.misreads.of(seen);
        let reading = Reading { look, seen, misread };
        (Some(self.readings.push(Kept { reading, withdrawn: false })), notices)
    }

    /// Whoever read it is not sure of it, or is after all: the chance that it was misread.
    pub fn doubt(&mut self, id: ReadingId, misread: f64) {
        if let Some((_, kept)) = self.readings.iter_mut().find(|(known, _)| *known == id) {
            kept.reading.misread = misread.clamp(0.0, 0.5);
        }
    }

    /// Puts something else in the place of an earlier reading, or takes it back (`None`).
    pub fn correct(&mut self, board: &Board, id: ReadingId, seen: Option<Seen>) -> Vec<Notice> {
        let Some(look) = self.readings.get(id).map(|kept| kept.reading.look) else {
            let text = format!("there is no {id:?} to correct");
            return vec![Notice::error(
                "reading-unknown",
                Entity::Board,
                text,
                "name a reading that was taken",
            )];
        };
        let mut notices = Vec::new();
        if let Some(seen) = seen {
            notices = impossible(board, seen);
            if notices.iter().any(|notice| notice.severity == dryjoint_board::Severity::Error) {
                return notices;
            }
            notices.extend(self.contradiction(board, look, seen, Some(id)));
        }
        let misread = seen.map(|seen| self.misreads.of(seen));
        if let Some((_, kept)) = self.readings.iter_mut().find(|(known, _)| *known == id) {
            kept.withdrawn = seen.is_none();
            if let (Some(seen), Some(misread)) = (seen, misread) {
                kept.reading = Reading { look, seen, misread };
            }
        }
        notices
    }

    /// The same thing read otherwise at the same look.
    fn contradiction(
        &self,
        board: &Board,
        look: LookId,
        seen: Seen,
        but: Option<ReadingId>,
    ) -> Option<Notice> {
        let Seen::Lamp(lamp, sight) = seen else { return None };
        let other = self.readings().find_map(|(id, reading)| match reading.seen {
            Seen::Lamp(known, before) if known == lamp && reading.look == look && Some(id) != but => {
                (before != sight && before != Sight::NotLooked && sight != Sight::NotLooked).then_some(before)
            }
            _ => None,
        })?;
        let name = &board.parts[lamp].reference;
        let text = format!("{name} is {} here and was {} at the same look", sight.word(), other.word());
        let mend = "look again, and correct the one that is wrong; if both are right it flickers";
        Some(Notice::warning("reading-contradicts", Entity::Part(lamp), text, mend))
    }
}

fn about(seen: Seen) -> Entity {
    match seen {
        Seen::Lamp(part, _) | Seen::Hot(part) | Seen::Sound(part) => Entity::Part(part),
        Seen::Volts(net, _) | Seen::Ohms(net, ..) => Entity::Net(net),
        Seen::Supply(_) | Seen::Smelt => Entity::Board,
    }
}

/// What cannot be true of a reading, or is hard to believe.
fn impossible(board: &Board, seen: Seen) -> Vec<Notice> {
    let mut notices = Vec::new();
    match seen {
        Seen::Lamp(part, _) => match board.parts.get(part) {
            Some(row) if matches!(row.kind, PartKind::Lamp(_)) => {}
            Some(row) => {
                let text = format!("{} is no lamp", row.reference);
                notices.push(Notice::error("reading-no-lamp", Entity::Part(part), text, "name a lamp"));
            }
            None => notices.push(missing("part", about(seen))),
        },
        Seen::Hot(part) | Seen::Sound(part) => {
            if board.parts.get(part).is_none() {
                notices.push(missing("part", about(seen)));
            }
        }
        Seen::Volts(net, volts) => {
            notices.extend(lead(board, net));
            notices.extend(believable(board, net, volts));
        }
        Seen::Supply(amps) => notices.extend(current(board, amps)),
        Seen::Smelt => {}
        Seen::Ohms(a, b, ohms) => {
            notices.extend([a, b].into_iter().flat_map(|net| lead(board, net)));
            if ohms.0.is_nan() || ohms.0 < 0.0 {
                let text = format!("{ohms} is no resistance");
                let mend = "power off, wait for the capacitors, and measure again";
                notices.push(Notice::error("reading-impossible", about(seen), text, mend));
            }
        }
    }
    notices
}

fn missing(what: &str, about: Entity) -> Notice {
    let text = format!("the reading is about a {what} that this board does not have");
    Notice::error("reading-unknown", about, text, "check that it is the right board")
}

fn lead(board: &Board, net: NetId) -> Option<Notice> {
    match board.nets.get(net) {
        None => Some(missing("net", Entity::Net(net))),
        Some(row) if !row.reachable => {
            let text = format!("no meter lead reaches `{}`", row.name);
            let mend = "check on which pin the lead was; the reading is taken as it stands";
            Some(Notice::warning("reading-hidden", Entity::Net(net), text, mend))
        }
        Some(_) => None,
    }
}

/// Voltages between the rails are possible, a diode's drop beyond them just so.
fn believable(board: &Board, net: NetId, volts: Volts) -> Option<Notice> {
    if !volts.0.is_finite() {
        let text = format!("{volts} is no voltage");
        return Some(Notice::error("reading-impossible", Entity::Net(net), text, "measure again"));
    }
    let rail = highest_rail(board);
    if volts.0 > -1.0 && volts.0 < rail.0 + 1.0 {
        return None;
    }
    let text = format!("{volts} lies outside the supply, 0 V to {rail}");
    let mend = "check the meter's range and that its black lead is on ground";
    Some(Notice::warning("reading-outside", Entity::Net(net), text, mend))
}

fn current(board: &Board, amps: Amps) -> Option<Notice> {
    if !amps.0.is_finite() || amps.0 < 0.0 {
        let text = format!("{amps} is no current of a supply");
        return Some(Notice::error(
            "reading-impossible",
            Entity::Board,
            text,
            "read the supply's meter again",
        ));
    }
    let limit = board.nets.iter().filter_map(|(_, net)| match net.supply {
        Some(Supply::Rail { limit, .. }) => Some(limit.0),
        _ => None,
    });
    let limit = Amps(limit.sum());
    (amps.0 > limit.0 * 1.05).then(|| {
        let text = format!("{amps} is more than the limit of {limit}");
        let mend = "set the supply's limit before anything else";
        Notice::warning("reading-outside", Entity::Board, text, mend)
    })
}

pub(crate) fn highest_rail(board: &Board) -> Volts {
    let rails = board.nets.iter().filter_map(|(_, net)| match net.supply {
        Some(Supply::Rail { volts, .. }) => Some(volts.0),
        _ => None,
    });
    Volts(rails.fold(0.0, f64::max))
}
