//! Two faults at once, drawn by number: the whole procedure is played, then every pair is weighed.

use crate::unit::{Stuff, Unit};
use dryjoint_draws::Draws;
use dryjoint_faults::Priors;
use dryjoint_procedure::{GroupId, Procedure, Study};
use dryjoint_session::Session;
use dryjoint_verdict::Inquiry;
use rayon::prelude::*;
use std::time::{Duration, Instant};

/// A pair counts as unlike every single fault when it makes its perfect readings so many times likelier than any
/// single fault does, by the verdict's own weighing: one lamp that plainly contradicts makes 200.
const UNLIKE: f64 = 100.0;

/// Pairs weighed on one board.
struct Pairing<'a, 'e, 'b> {
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
    /// The longest that the verdict and all pairs took, with all processors at other hunts.
    pub slowest: Duration,
}

impl<'a, 'e, 'b> Pairing<'a, 'e, 'b> {
    fn new(study: &'a Study<'e, 'b>, procedure: &'a Procedure) -> Self {
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

    /// Looks for pairs: once for each of these shares of lamps that are misread.
    fn fare<const N: usize>(&mut self, pairs: &[[GroupId; 2]], misreads: [f64; N]) -> [Fared; N] {
        let mut fared = misreads.map(|_| Fared::default());
        for &pair in pairs {
            let session = self.session(pair, 0.0);
            self.inquiry.weigh(&session);
            let unlike = self.inquiry.favour(&session, &pair) >= UNLIKE.ln();
            for (fared, misread) in fared.iter_mut().zip(misreads) {
                fared.drawn += 1;
                if unlike {
                    self.hunt(pair, misread, fared);
                }
            }
        }
        fared
    }

    fn hunt(&mut self, pair: [GroupId; 2], misread: f64, fared: &mut Fared) {
        let start = Instant::now();
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
        fared.slowest = fared.slowest.max(start.elapsed());
    }
}

impl Fared {
    fn join(mut self, other: Self) -> Self {
        self.drawn += other.drawn;
        self.unlike += other.unlike;
        self.first += other.first;
        self.three += other.three;
        self.sets += other.sets;
        self.missed.extend(other.missed);
        self.slowest = self.slowest.max(other.slowest);
        self
    }
}

/// Draws so many pairs of these groups, and looks for each, once for each of these shares of lamps that are misread.
pub fn fare<const N: usize>(
    study: &Study,
    procedure: &Procedure,
    (groups, count): (&[GroupId], usize),
    misreads: [f64; N],
) -> [Fared; N] {
    let mut draws = Draws::new(5);
    let mut pairs = Vec::new();
    while pairs.len() < count {
        let mut pair = [0, 1].map(|_| groups[draws.below(groups.len())]);
        pair.sort_unstable();
        if pair[0] != pair[1] {
            pairs.push(pair);
        }
    }
    // Each processor keeps what it played of its own pairs.
    let share = count.div_ceil(rayon::current_num_threads()).max(1);
    let none = || misreads.map(|_| Fared::default());
    let join = |one: [Fared; N], other: [Fared; N]| {
        let mut other = other.into_iter();
        one.map(|one| other.next().map_or_else(Fared::default, |other| one.join(other)))
    };
    let each: Vec<[Fared; N]> =
        pairs.par_chunks(share).map(|some| Pairing::new(study, procedure).fare(some, misreads)).collect();
    each.into_iter().fold(none(), join)
}
