//! A unit at the bench that lives in the lanes: the first faulty lane carries its faults. A lamp of which the lanes do
//! not know how it looks is lit or dark all the same, as drawn.

use dryjoint_draws::Draws;
use dryjoint_faults::lanes::{Machine, Shown};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::{Action, GroupId, Study};
use dryjoint_session::{LookId, Seen, Session, Sight};

/// A unit in the lanes: the first faulty lane carries the faults.
pub struct Unit<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    truth: Vec<GroupId>,
    machine: Machine<'s>,
    misread: f64,
    /// For misreads.
    draws: Draws,
    /// For what the lanes do not know.
    luck: Draws,
}

/// The lanes as power comes on.
fn awake<'s>(study: &'s Study, truth: &[GroupId]) -> Machine<'s> {
    let behaviours = truth.iter().map(|&group| &study.groups[group].behaviour).collect();
    let mut machine = Machine::with(&study.program, &[behaviours]);
    study.rig.start().into_iter().for_each(|(signal, level)| machine.bench(signal, level));
    machine.settle();
    machine
}

impl<'s, 'e, 'b> Unit<'s, 'e, 'b> {
    pub fn new(study: &'s Study<'e, 'b>, truth: &[GroupId], misread: f64) -> Self {
        let seed = truth.iter().fold(1, |seed, group| seed * 10_007 + group.index() as u64);
        let (draws, luck) = (Draws::new(seed), Draws::new(seed + 1));
        Self { study, truth: truth.to_vec(), machine: awake(study, truth), misread, draws, luck }
    }

    /// Power comes on again, nothing tied.
    pub fn wake(&mut self) {
        self.machine = awake(self.study, &self.truth);
    }

    pub fn act(&mut self, action: Action) {
        dryjoint_procedure::act(self.study, &mut self.machine, &[action]);
    }

    /// What a signal is, as far as the lanes know.
    pub fn level(&self, signal: SignalId) -> Shown {
        self.machine.value(signal).shown(1)
    }

    /// Reads every lamp; lit, dark, or neither, as read.
    pub fn read(&mut self, session: &mut Session, look: LookId) -> Vec<Option<bool>> {
        let board = self.study.extracted.shape.board;
        let mut seen = Vec::new();
        for &(lamp, signal) in &self.study.rig.lamps {
            let sight = match self.level(signal) {
                Shown::One => Sight::Lit,
                Shown::Zero => Sight::Dark,
                Shown::Dim => Sight::Dim,
                Shown::Unknown if self.luck.below(2) == 0 => Sight::Lit,
                Shown::Unknown => Sight::Dark,
            };
            let wrong = self.draws.unit() < self.misread;
            let sight = match sight {
                Sight::Lit if wrong => Sight::Dark,
                Sight::Dark if wrong => Sight::Lit,
                sight => sight,
            };
            seen.push(match sight {
                Sight::Lit => Some(true),
                Sight::Dark => Some(false),
                _ => None,
            });
            session.observe(board, look, Seen::Lamp(lamp, sight));
        }
        seen
    }
}
