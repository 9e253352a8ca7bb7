//! Looks played early: while hands are still at what was asked for, the lanes already do it.
//!
//! Letting a clock run takes every lane through a hundred rests, and nobody has to wait for that: the hands take longer.
//! What is read then is all that is new. Whoever does something else instead loses nothing but the time: all machines go
//! back to where they stood.

use super::Teller;
use dryjoint_faults::lanes::{Machine, State};
use dryjoint_session::Session;

/// Where everything stood before looks were played early.
pub(super) struct Early {
    /// How many looks were told then.
    looks: usize,
    /// Per machine.
    stand: Vec<State>,
}

impl Teller<'_, '_, '_> {
    /// Plays a session as it will be, once what is asked for is done and before anything is read. Nothing is played early
    /// across a loss of power: machines that were switched on anew have nowhere to go back to.
    pub fn play_early(&mut self, future: &Session) {
        self.go_back();
        if self.told.is_empty() {
            self.follow(future);
            return;
        }
        let looks = self.told.len();
        if !self.is_begun_by(future) || future.looks().rows()[looks..].iter().any(|look| look.power) {
            return;
        }
        let machines = self.sure.iter().chain(self.drawn.iter().flatten()).chain(&self.heard);
        let early = Early { looks, stand: machines.map(Machine::save).collect() };
        for look in &future.looks().rows()[looks..] {
            self.play(look, Vec::new());
        }
        self.foreseen.clear();
        self.early = Some(early);
    }

    /// Goes back to where everything stood before looks were played early.
    pub fn go_back(&mut self) {
        if let Some(Early { looks, stand }) = self.early.take() {
            self.told.truncate(looks);
            let machines = self.sure.iter_mut().chain(self.drawn.iter_mut().flatten()).chain(&mut self.heard);
            machines.zip(&stand).for_each(|(machine, state)| machine.restore(state));
            self.foreseen.clear();
        }
    }

    /// What was played early was done, or something else was.
    pub(super) fn catch_up(&mut self, session: &Session) {
        if !self.is_begun_by(session) {
            self.go_back();
        }
        if self.early.take().is_some() {
            self.close();
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::latch::with_latch;
    use crate::tell::{Lane, Teller};
    use dryjoint_board::LineId;
    use dryjoint_draws::Draws;
    use dryjoint_ids::Id;
    use dryjoint_procedure::{Action, Study};
    use dryjoint_session::{Seen, Session, Sight};

    /// What a teller says of every signal at every look, sure, heard and drawn, and how its machines stand.
    fn told(teller: &Teller, study: &Study, looks: usize) -> Vec<String> {
        let lanes = || (0..teller.lanes().len()).map(Some).chain([None]);
        let mut all = Vec::new();
        for look in 0..looks {
            for signal in study.extracted.logic.signals.ids() {
                for index in lanes() {
                    let sure =
                        index.map_or(teller.good(look, signal), |index| teller.shown(look, index, signal));
                    let heard = teller.heard(look, index, signal);
                    all.push(format!("{sure:?} {heard:?} {:?}", teller.drawn(look, index, signal)));
                }
            }
        }
        let machines = teller.sure.iter().chain(&teller.heard);
        all.extend(machines.map(|machine| format!("{:?}", machine.values())));
        all
    }

    /// Sessions that go on as was thought, or otherwise, or are corrected, or lose power meanwhile: played early or not, the
    /// same is told.
    #[test]
    fn what_was_played_early_changes_nothing() {
        with_latch(|study| {
            let board = study.extracted.shape.board;
            let lanes: Vec<Lane> = (study.groups.iter())
                .map(|(group, row)| Lane { group, behaviour: row.behaviour.clone() })
                .collect();
            for seed in 0..12 {
                let mut draws = Draws::new(seed);
                let mut early = Teller::hearing(study, lanes.clone());
                let mut plain = Teller::hearing(study, lanes.clone());
                let mut session = Session::new("1");
                for _ in 0..8 {
                    let [thought, done] = [(), ()].map(|()| {
                        let line = LineId::at(draws.below(2));
                        [Action::Tie(line), Action::Release(line), Action::Pulse(line)][draws.below(3)]
                    });
                    let mut future = session.clone();
                    future.act(None, &[thought]);
                    early.play_early(&future);
                    match draws.below(5) {
                        0 => drop(session.act(None, &[done])),
                        1 => drop(session.switch_off()),
                        _ => session = future,
                    }
                    for &(lamp, _) in &study.rig.lamps {
                        let sight = [Sight::Lit, Sight::Dark, Sight::NotLooked][draws.below(3)];
                        session.observe(board, session.now(), Seen::Lamp(lamp, sight));
                    }
                    early.follow(&session);
                    plain.follow(&session);
                    let looks = session.looks().len();
                    assert!(told(&early, study, looks) == told(&plain, study, looks), "{session:?}");
                }
            }
        });
    }
}
