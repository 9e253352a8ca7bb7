//! Where the bench stands in a sequence: what the good machine and every machine not yet told apart
//! remember.

use dryjoint_faults::gates::{Circuit, Crew, Span, State, StuckAt, Vector};
use dryjoint_faults::lanes::{Planes, Word};
use dryjoint_logic::Logic;
use rayon::prelude::*;

/// How many sequences are tried side by side.
pub(super) const SIDE_BY_SIDE: usize = 8;

/// Up to 63 faulty machines with their good one, eight times over.
#[derive(Clone, Debug)]
struct Squad<'c> {
    crew: Crew<'c>,
    /// The targets, in lane order.
    targets: Vec<u32>,
    /// What all remember; the same in all eight spans.
    state: State,
    /// Lanes already told apart.
    told: u64,
}

/// What one machine remembers, flip-flop by flip-flop.
pub(super) type Memory = Vec<Option<bool>>;

/// A place in a sequence.
#[derive(Clone, Debug)]
pub(super) struct Field<'c> {
    logic: &'c Logic,
    circuit: &'c Circuit,
    faults: &'c [StuckAt],
    squads: Vec<Squad<'c>>,
    /// The vectors so far.
    pub vectors: Vec<Vector>,
    /// For each target the vector that first showed it.
    pub first: Vec<Option<usize>>,
}

/// What a sequence would bring from here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Worth {
    /// Targets it shows.
    pub shown: u32,
    /// Targets whose difference is remembered at its end.
    pub carried: u32,
    /// Vectors up to the last that shows something.
    pub useful: usize,
}

impl<'c> Field<'c> {
    /// Power just came on.
    pub fn new(logic: &'c Logic, circuit: &'c Circuit, faults: &'c [StuckAt]) -> Self {
        let mut field = Self {
            logic,
            circuit,
            faults,
            squads: Vec::new(),
            vectors: Vec::new(),
            first: vec![None; faults.len()],
        };
        let all: Vec<u32> = (0..faults.len() as u32).collect();
        field.squads = all.chunks(63).map(|targets| field.squad(targets)).collect();
        field
    }

    fn squad(&self, targets: &[u32]) -> Squad<'c> {
        let faults: Vec<StuckAt> = targets.iter().map(|&t| self.faults[t as usize]).collect();
        let crew = Crew::new(self.logic, self.circuit, Span::Eighth, &faults);
        Squad { state: crew.power_on(), crew, targets: targets.to_vec(), told: 0 }
    }

    /// How many inputs a vector has.
    pub fn inputs(&self) -> usize {
        self.circuit.inputs().len()
    }

    /// Targets not yet shown.
    pub fn open(&self) -> Vec<u32> {
        (0_u32..).zip(&self.first).filter(|(_, first)| first.is_none()).map(|(target, _)| target).collect()
    }

    /// Goes one clock period on; how many targets that shows.
    pub fn advance(&mut self, vector: &Vector) -> usize {
        let words: Vec<Word> =
            vector.0.iter().map(|&high| if high { Word::ALL } else { Word::NONE }).collect();
        let now = self.vectors.len();
        let mut shown = 0;
        let mut scratch = Vec::new();
        for squad in &mut self.squads {
            let seen = squad.crew.step(&words, &mut squad.state, &mut scratch);
            let fresh = seen.differs.0[0] & !squad.told;
            squad.told |= fresh;
            for (lane, &target) in squad.targets.iter().enumerate() {
                if fresh >> (lane + 1) & 1 != 0 {
                    self.first[target as usize] = Some(now);
                    shown += 1;
                }
            }
        }
        self.vectors.push(vector.clone());
        shown
    }

    /// Puts the machines that are still in question together, once enough others are told apart.
    pub fn close_ranks(&mut self) {
        let open: usize = self.squads.iter().map(|s| s.targets.len() - s.told.count_ones() as usize).sum();
        if open.div_ceil(63) >= self.squads.len() {
            return;
        }
        let mut left: Vec<(u32, Vec<Option<bool>>)> = Vec::with_capacity(open);
        let good = self.squads[0].state.0.iter().map(|planes| level(planes, 0)).collect::<Vec<_>>();
        for squad in &self.squads {
            for (lane, &target) in (1..).zip(&squad.targets) {
                if squad.told >> lane & 1 == 0 {
                    left.push((target, squad.state.0.iter().map(|planes| level(planes, lane)).collect()));
                }
            }
        }
        let squads = left.chunks(63).map(|rows| {
            let targets: Vec<u32> = rows.iter().map(|(target, _)| *target).collect();
            let mut squad = self.squad(&targets);
            for (flop, planes) in squad.state.0.iter_mut().enumerate() {
                let machines = std::iter::once(good[flop]).chain(rows.iter().map(|(_, levels)| levels[flop]));
                let (mut one, mut zero) = (0_u64, 0_u64);
                for (lane, machine) in machines.enumerate() {
                    one |= u64::from(machine == Some(true)) << lane;
                    zero |= u64::from(machine == Some(false)) << lane;
                }
                *planes = Planes { one: Word([one; 8]), zero: Word([zero; 8]) };
            }
            squad
        });
        self.squads = squads.collect();
    }

    /// What each of the sequences (all of one length, eight at most) would bring.
    pub fn try_out(&self, sequences: &[Vec<Vector>]) -> Vec<Worth> {
        let length = sequences.first().map_or(0, Vec::len);
        let steps: Vec<Vec<Word>> = (0..length)
            .map(|step| {
                let mut words = vec![Word::NONE; self.circuit.inputs().len()];
                for (limb, sequence) in sequences.iter().enumerate() {
                    for (word, &high) in words.iter_mut().zip(&sequence[step].0) {
                        word.0[limb] = if high { u64::MAX } else { 0 };
                    }
                }
                words
            })
            .collect();
        let mut worth = vec![Worth::default(); sequences.len()];
        let mut scratch = Vec::new();
        for squad in &self.squads {
            let mut state = squad.state.clone();
            let mut told = [squad.told; SIDE_BY_SIDE];
            let mut carries = [0; SIDE_BY_SIDE];
            for (step, words) in steps.iter().enumerate() {
                let seen = squad.crew.step(words, &mut state, &mut scratch);
                for (limb, worth) in worth.iter_mut().enumerate() {
                    let fresh = seen.differs.0[limb] & !told[limb];
                    if fresh != 0 {
                        worth.shown += fresh.count_ones();
                        worth.useful = worth.useful.max(step + 1);
                        told[limb] |= fresh;
                    }
                    carries[limb] = seen.carries.0[limb];
                }
            }
            for (limb, worth) in worth.iter_mut().enumerate() {
                worth.carried += (carries[limb] & !told[limb]).count_ones();
            }
        }
        worth
    }

    /// The same for any number of sequences, on all processors; the answers are in the order asked.
    pub fn try_all(&self, sequences: &[Vec<Vector>]) -> Vec<Worth> {
        sequences.par_chunks(SIDE_BY_SIDE).flat_map_iter(|chunk| self.try_out(chunk)).collect()
    }

    /// What the good machine and the target's machine remember.
    pub fn memory(&self, target: u32) -> Option<(Memory, Memory)> {
        self.squads.iter().find_map(|squad| {
            let lane = 1 + squad.targets.iter().position(|&t| t == target)?;
            let of = |lane| squad.state.0.iter().map(|planes| level(planes, lane)).collect();
            Some((of(0), of(lane)))
        })
    }
}

fn level(planes: &Planes, lane: usize) -> Option<bool> {
    if planes.one.get(lane) {
        Some(true)
    } else if planes.zero.get(lane) {
        Some(false)
    } else {
        None
    }
}
