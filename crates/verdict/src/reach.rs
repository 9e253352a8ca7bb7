//! Where each fault is felt, and from when on: which two faults can have anything to do with each other.
//!
//! Two faults that are never felt at the same place change the board each by itself: what the pair
//! shows is what the one shows where it shows anything, what the other shows where that one does, and a
//! good board's levels everywhere else. So most pairs need not be played. A place is a signal or a
//! stage; a fault is felt at the signals it changes or writes, at the stages whose inputs it changes, and at
//! what those drive. What its own table looks at counts when the other fault is felt there.

use crate::tell::Lane;
use dryjoint_faults::lanes::{LANES, Machine, Planes, Target, Word};
use dryjoint_ids::Id;
use dryjoint_logic::{SignalId, StageId};
use dryjoint_procedure::{Study, act_seen};
use dryjoint_session::Session;
use rayon::prelude::*;

/// Faults that are never felt at the same place.
pub const NEVER: u8 = u8::MAX;

/// Looks are counted up to here; a place first felt later counts as felt here, which is too careful and
/// never wrong.
const LAST: usize = 254;

/// For each of a list of faults the look at which it is first felt at each place.
pub struct Reach {
    places: usize,
    felt: Vec<u8>,
    /// The places that each fault's own table looks at.
    asks: Vec<Vec<usize>>,
}

impl Reach {
    /// Plays a session on a list of lanes, one fault each.
    pub fn of(study: &Study, session: &Session, lanes: &[Lane]) -> Self {
        let signals = study.extracted.logic.signals.len();
        let places = signals + study.extracted.logic.stages.len();
        let felt: Vec<Vec<u8>> =
            lanes.par_chunks(LANES - 1).map(|some| felt(study, session, some, places)).collect();
        let stage = |stage: StageId| signals + stage.index();
        let asks = |lane: &Lane| {
            let reads = lane.behaviour.reads.iter();
            reads
                .flat_map(|read| {
                    let drivers = read.stages.iter().map(|&driver| stage(driver));
                    std::iter::once(read.signal.index()).chain(drivers)
                })
                .collect()
        };
        Self { places, felt: felt.concat(), asks: lanes.iter().map(asks).collect() }
    }

    fn row(&self, fault: usize) -> &[u8] {
        &self.felt[fault * self.places..][..self.places]
    }

    /// The first look at which two faults may have to do with each other, or [`NEVER`].
    pub fn meet(&self, one: usize, other: usize) -> u8 {
        let (a, b) = (self.row(one), self.row(other));
        let shared = a.iter().zip(b).fold(NEVER, |least, (&a, &b)| least.min(a.max(b)));
        let asked = |asks: &[usize], felt: &[u8]| asks.iter().map(|&at| felt[at]).min().unwrap_or(NEVER);
        shared.min(asked(&self.asks[one], b)).min(asked(&self.asks[other], a))
    }
}

/// One machine's worth of lanes.
fn felt(study: &Study, session: &Session, lanes: &[Lane], places: usize) -> Vec<u8> {
    let logic = &study.extracted.logic;
    let signals = logic.signals.len();
    let mut felt = vec![NEVER; lanes.len() * places];
    for (lane, row) in lanes.iter().zip(felt.chunks_mut(places)) {
        for write in &lane.behaviour.writes {
            match write {
                Target::Signal(signal) => row[signal.index()] = 0,
                Target::Pin(stage, _) => row[signals + stage.index()] = 0,
            }
        }
    }
    let mut readers: Vec<Vec<StageId>> = vec![Vec::new(); signals];
    for (id, stage) in logic.stages.iter() {
        for input in &stage.inputs {
            readers[input.index()].push(id);
        }
    }
    let mut known: Vec<Word> = vec![Word::NONE; signals];
    let mut note = |machine: &Machine, look: usize| {
        let look = look.min(LAST) as u8;
        for signal in (0..signals).map(SignalId::at) {
            let fresh = differs(machine.value(signal)) & !known[signal.index()];
            if fresh.is_none() {
                continue;
            }
            known[signal.index()] = known[signal.index()] | fresh;
            for at in fresh.lanes().filter_map(|lane| lane.checked_sub(1)).filter(|&at| at < lanes.len()) {
                let row = &mut felt[at * places..][..places];
                let mut mark = |place: usize| row[place] = row[place].min(look);
                mark(signal.index());
                for &reader in &readers[signal.index()] {
                    mark(signals + reader.index());
                    mark(logic.stages[reader].output.index());
                }
            }
        }
    };
    let start = || {
        let behaviours: Vec<_> = lanes.iter().map(|lane| lane.behaviour.clone()).collect();
        study.at_power_on(Machine::new(&study.program, behaviours))
    };
    let mut machine = start();
    for (look, row) in session.looks().iter() {
        if row.power && look.index() > 0 {
            machine = start();
        }
        note(&machine, look.index());
        act_seen(study, &mut machine, &row.actions, &mut |machine| note(machine, look.index()));
    }
    felt
}

/// Lanes that are not as the good board's, in whatever way.
fn differs(planes: &Planes) -> Word {
    let spread = |word: &Word| if word.get(0) { Word::ALL } else { Word::NONE };
    (planes.one ^ spread(&planes.one)) | (planes.zero ^ spread(&planes.zero))
}
