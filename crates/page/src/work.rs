//! The work on one unit: its log on the disk, and where that log leaves the bench.
//!
//! Everything shown is made from the log alone. A process that is killed reads the log again and
//! stands where it stood.

use crate::subject::Subject;
use dryjoint_board::PartId;
use dryjoint_ids::Id;
use dryjoint_procedure::{Action, StepId};
use dryjoint_records::{Entry, Kept, Kind, Millis, Read, SessionId, Sort, Store, StoreError, standing};
use dryjoint_session::{Seen, Session, Sight};
use dryjoint_units::{Amps, Ohms, Volts};
use std::time::{SystemTime, UNIX_EPOCH};

/// The work on one unit.
#[derive(Debug)]
pub struct Work {
    /// The board.
    pub subject: Subject,
    /// The store.
    pub store: Store,
    /// The unit's serial number.
    pub serial: String,
    /// The number of the hidden fault, for practice.
    pub practice: Option<u64>,
    /// Whether a meter is at hand: a matter of the bench, not of the unit, so it is in no log.
    pub meter: bool,
    session: SessionId,
    entries: Vec<Entry>,
    stand: Stand,
    others: i64,
}

/// What an opinion rests on: made on another one, it is an older one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Basis {
    /// How many entries of the log can change it.
    pub entries: usize,
    /// Whether a meter is at hand.
    pub meter: bool,
}

/// Where the log leaves the bench.
#[derive(Clone, Debug)]
pub struct Stand {
    /// What was done and read since the unit was last as it is now.
    pub session: Session,
    /// What has to be done before the next step's own actions, after a repair.
    pub lead: Vec<Action>,
    /// Entries that stand, oldest first.
    pub entries: Vec<Entry>,
    /// Whether a lamp was not as expected since then.
    pub surprised: bool,
    /// Whether every look since power came on was the procedure's next step.
    pub in_order: bool,
    /// Whether the procedure was gone through as expected.
    pub passed: bool,
    /// Whether the practice is over.
    pub over: bool,
}

/// Why something was not taken, in words for the page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// Something else was taken since the page was made.
    Late,
    /// What was sent cannot be taken.
    Unfit(String),
    /// The store did not take it.
    Store(String),
}

impl From<StoreError> for Refusal {
    fn from(error: StoreError) -> Self {
        Self::Store(error.to_string())
    }
}

/// The time now.
pub fn now() -> Millis {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Millis(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}

impl Work {
    /// Takes up the work on a unit where its log ends, or begins it.
    pub fn open(
        subject: Subject,
        mut store: Store,
        serial: &str,
        practice: Option<u64>,
    ) -> Result<Self, StoreError> {
        let board = &subject.board().name;
        let seed = practice.map(|seed| i64::try_from(seed).unwrap_or(i64::MAX));
        let unit = store.unit(board, serial, seed, now())?;
        let mark = subject.text_mark();
        let last = store.sessions(unit)?.pop().filter(|session| session.text_mark == mark);
        let session = match last {
            Some(session) => session.id,
            None => store.begin(unit, &random_key(), &mark, now())?,
        };
        let entries = store.entries(session)?;
        let stand = stand(subject, serial, &entries, practice.is_some());
        let others = store.others_changes()?;
        let serial = serial.to_owned();
        let meter = true;
        let mut work = Self { subject, store, serial, practice, meter, session, entries, stand, others };
        work.note_pass()?;
        Ok(work)
    }

    /// Where the bench stands.
    pub fn stand(&self) -> &Stand {
        &self.stand
    }

    /// How many entries there are; what a page must have seen before it may add another.
    pub fn count(&self) -> usize {
        self.entries.len()
    }

    /// What an opinion made now rests on.
    pub fn basis(&self) -> Basis {
        let weighed = self.entries.iter().filter(|entry| !matches!(entry.kind, Kind::Note | Kind::Verdict));
        Basis { entries: weighed.count(), meter: self.meter }
    }

    /// All entries, oldest first.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Reads the log again where another process wrote to it.
    pub fn catch_up(&mut self) -> Result<bool, StoreError> {
        let others = self.store.others_changes()?;
        if others == self.others {
            return Ok(false);
        }
        self.others = others;
        let before = self.entries.len();
        self.read_again()?;
        Ok(self.entries.len() != before)
    }

    fn read_again(&mut self) -> Result<(), StoreError> {
        self.entries = self.store.entries(self.session)?;
        self.restand();
        Ok(())
    }

    fn restand(&mut self) {
        self.stand = stand(self.subject, &self.serial, &self.entries, self.practice.is_some());
    }

    /// Keeps an entry that was made when the log had `after` entries. It is on the disk when this
    /// returns.
    pub fn keep(&mut self, after: usize, entry: Entry) -> Result<(), Refusal> {
        match self.store.keep(self.session, after, &entry)? {
            Kept::Taken if after == self.entries.len() => {
                self.entries.push(entry);
                self.restand();
            }
            Kept::Taken | Kept::Known => self.read_again()?,
            Kept::Late => {
                self.read_again()?;
                return Err(Refusal::Late);
            }
        }
        self.note_pass()?;
        Ok(())
    }

    /// Notes that the whole procedure was as expected, once.
    fn note_pass(&mut self) -> Result<(), StoreError> {
        let done = self.stand.session.done().map(Id::index);
        let all = done.is_some_and(|done| done + 1 == self.subject.procedure.steps.len());
        if !all || self.stand.surprised || !self.stand.in_order || self.stand.passed {
            return Ok(());
        }
        let entry = Entry::new(random_key(), now(), Kind::Passed);
        self.store.keep(self.session, self.entries.len(), &entry)?;
        self.read_again()
    }

    /// The procedure's next step, while all went in its order.
    pub fn next_step(&self) -> Option<StepId> {
        if !self.stand.in_order {
            return None;
        }
        let next = StepId::at(self.stand.session.done().map_or(0, |done| done.index() + 1));
        self.subject.procedure.steps.get(next).map(|_| next)
    }

    /// The entry of a look: what the hands did and what was seen, `marks` in place of what was expected.
    pub fn look(
        &self,
        key: &str,
        step: Option<StepId>,
        actions: &[Action],
        expect: &[(PartId, Option<bool>)],
        marks: &[(PartId, Sight)],
    ) -> Entry {
        let mut entry = Entry::new(key, now(), Kind::Look);
        entry.step = step.map(|step| u32::try_from(step.index() + 1).unwrap_or(u32::MAX));
        entry.actions = actions.iter().map(|action| self.subject.written(*action)).collect();
        for &(lamp, good) in expect {
            let mark = marks.iter().find(|(marked, _)| *marked == lamp).map(|(_, sight)| *sight);
            let good = good.map(sight_of);
            let Some(sight) = mark.or(good).filter(|sight| *sight != Sight::NotLooked) else { continue };
            let name = &self.subject.board().parts[lamp].reference;
            entry.readings.push(Read::lamp(name, sight.word(), good.map_or("", Sight::word)));
        }
        entry
    }

    /// The entries that `undo` would take back: the last reading, and the pass that it may have brought.
    pub fn last(&self) -> Option<&Entry> {
        self.stand.entries.iter().rev().find(|entry| !matches!(entry.kind, Kind::Passed | Kind::Verdict))
    }

    /// Takes the last entry back.
    pub fn undo(&mut self, key: &str, after: usize) -> Result<(), Refusal> {
        let known = self.entries.iter().any(|entry| entry.key == key);
        let about = match self.last() {
            Some(last) => last.key.clone(),
            None if known => return Ok(()),
            None => return Err(Refusal::Unfit("there is nothing to take back".to_owned())),
        };
        let mut undo = Entry::new(key, now(), Kind::Undo);
        undo.about = about;
        self.keep(after, undo)
    }

    /// What a repair found, for the records.
    pub fn repair(&self, key: &str, fault: &str, probability: Option<f64>, text: &str) -> Entry {
        let mut entry = Entry::new(key, now(), Kind::Repair);
        if let Some(id) = self.subject.fault(fault) {
            fault.clone_into(&mut entry.fault);
            self.subject.study.faults[id].kind().words().clone_into(&mut entry.fault_kind);
            entry.probability = probability;
        }
        text.clone_into(&mut entry.text);
        entry
    }
}

/// A key nobody else has.
pub fn random_key() -> String {
    let mut bytes = [0; 16];
    // Without the system's source of chance no address could be kept secret either.
    getrandom::fill(&mut bytes).expect("the system has a source of random numbers");
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// A lamp plainly lit or dark.
pub fn sight_of(lit: bool) -> Sight {
    if lit { Sight::Lit } else { Sight::Dark }
}

/// The sight of a word.
pub fn sight_named(word: &str) -> Option<Sight> {
    [Sight::Lit, Sight::Dark, Sight::Dim, Sight::Flickering, Sight::NotLooked]
        .into_iter()
        .find(|sight| sight.word() == word)
}

/// Goes through the log.
fn stand(subject: Subject, serial: &str, entries: &[Entry], practice: bool) -> Stand {
    let entries = standing(entries);
    let mut stand = Stand {
        session: Session::new(serial),
        lead: Vec::new(),
        entries: Vec::new(),
        surprised: false,
        in_order: true,
        passed: false,
        over: false,
    };
    // Only the last repair says where to go on.
    let last = entries.iter().rposition(|entry| entry.kind == Kind::Repair);
    for (at, entry) in entries.iter().enumerate() {
        stand.add(subject, entry, practice);
        if Some(at) == last && !practice {
            stand.resume(subject, entry);
        }
    }
    // A pass stands only as long as the look that brought it.
    stand.entries = entries;
    stand
}

impl Stand {
    fn add(&mut self, subject: Subject, entry: &Entry, practice: bool) {
        match entry.kind {
            Kind::Look => self.look(subject, entry),
            Kind::Measure if entry.readings.iter().any(|read| read.sort == Sort::Ohms) => {
                self.without_power(subject, entry);
            }
            Kind::Measure if entry.actions.is_empty() => self.readings(subject, entry),
            // Something was done before it was measured.
            Kind::Measure => self.look(subject, entry),
            Kind::Afresh => {
                self.session.start_afresh();
                self.lead.clear();
                self.in_order = true;
                self.passed = false;
            }
            // What was read before tells nothing of the unit as it is now.
            Kind::Repair => {
                self.session = Session::new(self.session.unit.clone());
                self.lead.clear();
                (self.surprised, self.in_order, self.passed) = (false, true, false);
                self.over = practice;
            }
            Kind::Passed => {
                let last = subject.procedure.steps.len().checked_sub(1).map(StepId::at);
                self.passed = self.session.done() == last && !self.surprised;
                self.over |= practice && self.passed;
            }
            Kind::Undo | Kind::Correction | Kind::Note | Kind::Verdict => {}
        }
    }

    fn resume(&mut self, subject: Subject, repair: &Entry) {
        let resume = subject.resume(&repair.fault);
        let done = resume.step.and_then(|step| step.index().checked_sub(1)).map(StepId::at);
        self.session = Session::resumed(self.session.unit.clone(), done);
        self.lead = resume.lead;
    }

    fn look(&mut self, subject: Subject, entry: &Entry) {
        let actions: Vec<Action> =
            entry.actions.iter().filter_map(|text| subject.read_action(text)).collect();
        let step = entry.step.and_then(|step| usize::try_from(step).ok()?.checked_sub(1)).map(StepId::at);
        let next = StepId::at(self.session.done().map_or(0, |done| done.index() + 1));
        self.in_order &= step == Some(next);
        self.lead.clear();
        match step {
            Some(step) if actions.is_empty() => {
                self.session.follow(subject.procedure, step);
            }
            step => {
                self.session.act(step, &actions);
            }
        }
        self.readings(subject, entry);
    }

    /// Ohms: power is off from here on, and the procedure begins anew where it was on before.
    fn without_power(&mut self, subject: Subject, entry: &Entry) {
        let before = self.session.now();
        if self.session.switch_off() != before {
            self.lead.clear();
            (self.in_order, self.passed) = (true, false);
        }
        self.readings(subject, entry);
    }

    fn readings(&mut self, subject: Subject, entry: &Entry) {
        self.surprised |= entry.readings.iter().any(Read::is_odd);
        let mut look = self.session.now();
        // What smelt or got hot did so while power was on.
        let powered = entry.readings.iter().any(|read| matches!(read.sort, Sort::Hot | Sort::Smelt));
        if powered && self.session.is_off() {
            look = self.session.looks().ids().rev().nth(1).unwrap_or(look);
        }
        for seen in entry.readings.iter().filter_map(|read| seen(subject, read)) {
            self.session.observe(subject.board(), look, seen);
        }
    }
}

/// What was read, as the verdict knows it; nothing where this board has no such thing.
fn seen(subject: Subject, read: &Read) -> Option<Seen> {
    let part = || subject.part(&read.what);
    Some(match read.sort {
        Sort::Lamp => Seen::Lamp(part()?, sight_named(&read.sight)?),
        Sort::Volts => Seen::Volts(subject.net(&read.what)?, Volts(read.value?)),
        Sort::Supply => Seen::Supply(Amps(read.value?)),
        // Without a value the meter showed no reading.
        Sort::Ohms => {
            let ohms = Ohms(read.value.unwrap_or(f64::INFINITY));
            Seen::Ohms(subject.net(&read.what)?, subject.net(&read.other)?, ohms)
        }
        Sort::Hot => Seen::Hot(part()?),
        Sort::Smelt => Seen::Smelt,
        Sort::Sound => Seen::Sound(part()?),
    })
}
