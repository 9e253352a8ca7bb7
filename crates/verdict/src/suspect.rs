//! What a verdict says.

use dryjoint_board::Board;
use dryjoint_faults::{FaultId, Spoken, spoken};
use dryjoint_procedure::{GroupId, Study};
use dryjoint_session::ReadingId;

/// Faults that nothing seen so far can tell apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// The groups they belong to: what lamps will never tell apart shares a group.
    pub groups: Vec<GroupId>,
    /// Its faults, the most probable first, each with its own probability.
    pub faults: Vec<(FaultId, f64)>,
    /// Their probability together.
    pub probability: f64,
    /// How many circuits they make: those of one are the same to any meter.
    pub circuits: usize,
}

impl Suspect {
    /// The faults by name, most probable first.
    pub fn names(&self, study: &Study) -> Vec<String> {
        let board = study.extracted.shape.board;
        self.faults.iter().map(|&(fault, _)| study.faults[fault].name(board)).collect()
    }

    /// The faults as people speak of them, place by place, the most probable place first.
    pub fn causes(&self, study: &Study) -> Vec<Cause> {
        let board: &Board = study.extracted.shape.board;
        let faults: Vec<FaultId> = self.faults.iter().map(|&(fault, _)| fault).collect();
        let share = |wanted: FaultId| {
            self.faults.iter().find(|(fault, _)| *fault == wanted).map_or(0.0, |&(_, share)| share)
        };
        let mut causes: Vec<Cause> = spoken(board, &study.faults, &faults)
            .into_iter()
            .map(|spoken| Cause {
                probability: spoken.faults.iter().map(|&fault| share(fault)).sum(),
                spoken,
            })
            .collect();
        causes.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        causes
    }

    /// Where to look and what to do, fault by fault; what says the same twice is said once.
    pub fn looks(&self, study: &Study) -> Vec<String> {
        let board: &Board = study.extracted.shape.board;
        let mut looks: Vec<String> = Vec::new();
        for &(fault, _) in &self.faults {
            let look = study.faults[fault].look(board);
            if !looks.contains(&look) {
                looks.push(look);
            }
        }
        looks
    }
}

/// One thing to look at: faults of one kind at one part.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// The faults in words, what to look at, what mends it.
    pub spoken: Spoken,
    /// Their probability together.
    pub probability: f64,
}

/// A reading to be taken again: much of what is probable does not fit it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Doubt {
    /// The reading.
    pub reading: ReadingId,
    /// How probable it is that this reading is wrong, whoever is at fault.
    pub wrong: f64,
}

impl Doubt {
    /// A reading this likely wrong is asked for again: another look at one lamp takes a second (judgement).
    pub const LEAST: f64 = 1.0 / 3.0;

    /// Nothing on the list fits it, or hardly anything.
    const NOTHING: f64 = 0.9;

    /// Why it should be read again.
    pub fn why(&self) -> String {
        if self.wrong > Self::NOTHING {
            "it fits nothing else".to_owned()
        } else {
            format!("the chance that it was read wrong is {:.0} %", 100.0 * self.wrong)
        }
    }
}

/// Who could have caused all that was seen.
///
/// **Invariant:** the probabilities of the suspects, of no fault and of none of these add up to one,
/// but for what was cut off below [`Verdict::LEAST`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Verdict {
    /// How many readings were weighed.
    pub readings: usize,
    /// The suspects, most probable first.
    pub suspects: Vec<Suspect>,
    /// The probability that the unit has no fault.
    pub no_fault: f64,
    /// The probability of something that is not on the list: two faults at once, or one unheard of.
    pub none_of_these: f64,
    /// Readings to be taken again, the least fitting first.
    pub doubts: Vec<Doubt>,
    /// Lamps that were not as on a good board.
    pub surprises: Vec<ReadingId>,
}

impl Verdict {
    /// Suspects less probable than this are left out.
    pub const LEAST: f64 = 1e-4;

    /// Where a fault stands among the suspects, the first being 0.
    pub fn place_of(&self, fault: FaultId) -> Option<usize> {
        self.suspects.iter().position(|suspect| suspect.faults.iter().any(|&(known, _)| known == fault))
    }
}
