//! Two faults at once, drawn by number: the whole procedure is played, then every pair is weighed.

use crate::unit::{Stuff, Unit};
use dryjoint_draws::Draws;
use dryjoint_faults::Priors;
use dryjoint_procedure::{GroupId, Procedure, Study};
use dryjoint_session::Session;
use dryjoint_verdict::Inquiry;

/// A pair counts as unlike every single fault when it makes its perfect readings so many times likelier than any
/// single fault does, by the verdict's own weighing: one lamp that plainly contradicts makes 200.
const UNLIKE: f64 = 100.0;

/// Pairs weighed on one board.
pub struct Pairing<'a, 'e, 'b> {
    study: &'a Study<'e, 'b>,
    procedure: &'a Procedure,
    inquiry: Inquiry<'a, 'e, 'b>,
}

/// How the pairs fared.
#[derive(Default)]
pub struct Fared {
    pub drawn: usize,
    /// Unlike every single fault.
    pub unlike: usize,
    /// Of those, in the first answer, and in the first three.
    pub first: usize,
    pub three: usize,
    /// Sets in the answers up to the true one, added up over those found.
    pub sets: usize,
    /// Those that were not found.
    pub missed: Vec<[GroupId; 2]>,
}

impl<'a, 'e, 'b> Pairing<'a, 'e, 'b> {
    pub fn new(study: &'a Study<'e, 'b>, procedure: &'a Procedure) -> Self {
        let mut inquiry = Inquiry::new(study, &Priors::default());
        inquiry.keeps_pairs = true;
        Self { study, procedure, inquiry }
    }

    fn session(&self, pair: [GroupId; 2], misread: f64) -> Session {
        let mut unit = Unit::new(self.study, &pair, misread, Stuff::Lanes);
        let mut session = Session::new("2");
        for (id, step) in self.procedure.steps.iter() {
            let Some(look) = session.follow(self.procedure, id) else { break };
            step.actions.iter().for_each(|&action| unit.act(action));
            unit.read(&mut session, look);
        }
        session
    }

    /// Draws pairs of these groups and looks for each.
    pub fn fare(&mut self, groups: &[GroupId], count: usize, misread: f64) -> Fared {
        let mut draws = Draws::new(5);
        let mut fared = Fared::default();
        while fared.drawn < count {
            let mut pair = [0, 1].map(|_| groups[draws.below(groups.len())]);
            pair.sort_unstable();
            if pair[0] == pair[1] {
                continue;
            }
            fared.drawn += 1;
            let session = self.session(pair, 0.0);
            self.inquiry.weigh(&session);
            if self.inquiry.favour(&session, &pair) < UNLIKE.ln() {
                continue;
            }
            fared.unlike += 1;
            let session = self.session(pair, misread);
            self.inquiry.weigh(&session);
            let pairs = self.inquiry.pairs(&session).pairs;
            match pairs.iter().take(3).position(|answer| answer.groups.contains(&pair)) {
                Some(place) => {
                    fared.three += 1;
                    fared.first += usize::from(place == 0);
                    fared.sets += pairs[..=place].iter().map(|answer| answer.groups.len()).sum::<usize>();
                }
                None => fared.missed.push(pair),
            }
        }
        fared
    }
}
