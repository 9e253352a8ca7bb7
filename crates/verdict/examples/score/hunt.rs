//! One fault hunted as a person would: the procedure up to the first odd lamp, then whatever promises to tell most.

use crate::unit::{Stuff, Unit};
use dryjoint_board::{Board, NetId};
use dryjoint_faults::Priors;
use dryjoint_procedure::{Action, Costs, GroupId, Procedure, Study};
use dryjoint_session::Session;
use dryjoint_verdict::{Deed, Inquiry, Verdict};
use std::time::{Duration, Instant};

/// Deeds after the first odd lamp, at most.
const MOST_DEEDS: usize = 40;

/// How units are hunted on one board.
pub struct Hunter<'a, 'e, 'b> {
    pub study: &'a Study<'e, 'b>,
    pub procedure: &'a Procedure,
    pub costs: Costs,
    /// Whether a meter is at hand.
    pub meter: bool,
    /// The share of lamps read the wrong way round.
    pub misread: f64,
    /// What the units are made of.
    pub stuff: Stuff,
}

/// How a hunt went.
pub struct Hunt<'s, 'e, 'b> {
    pub inquiry: Inquiry<'s, 'e, 'b>,
    pub session: Session,
    pub verdict: Verdict,
    pub actions: usize,
    /// Measurements for which no point of the unit was found.
    pub unforetold: usize,
    /// Whether no point of the unit was found at all at some time, so that nothing could be read of it any more.
    pub lost: bool,
    /// The deeds after the procedure, in short.
    pub deeds: Vec<String>,
    /// At the bench.
    pub seconds: f64,
    /// What each verdict took, each advice, and each look that was played while hands were at it.
    pub weighing: Vec<Duration>,
    pub advising: Vec<Duration>,
    pub playing: Vec<Duration>,
}

impl<'s, 'e, 'b> Hunt<'s, 'e, 'b> {
    fn weigh(&mut self) {
        let start = Instant::now();
        self.verdict = self.inquiry.weigh(&self.session);
        self.weighing.push(start.elapsed());
    }

    fn play_early(&mut self, future: &Session) {
        let start = Instant::now();
        self.inquiry.play_early(future);
        self.playing.push(start.elapsed());
    }
}

impl<'a, 'e, 'b> Hunter<'a, 'e, 'b> {
    /// Hunts a unit with the first fault of a group in it.
    pub fn hunt(&self, truth: GroupId) -> Hunt<'a, 'e, 'b> {
        let study = self.study;
        let board = study.extracted.shape.board;
        let mut unit = Unit::new(study, &[truth], self.misread, self.stuff);
        let mut inquiry = Inquiry::new(study, &Priors::default());
        inquiry.meter = self.meter;
        let mut hunt = Hunt {
            inquiry,
            session: Session::new("1"),
            verdict: Verdict::default(),
            actions: 0,
            unforetold: 0,
            lost: false,
            deeds: Vec::new(),
            seconds: 0.0,
            weighing: Vec::new(),
            advising: Vec::new(),
            playing: Vec::new(),
        };
        for (id, step) in self.procedure.steps.iter() {
            let Some(look) = hunt.session.follow(self.procedure, id) else { break };
            hunt.play_early(&hunt.session.clone());
            step.actions.iter().for_each(|&action| unit.act(action));
            hunt.actions += step.actions.len();
            hunt.seconds += step.seconds.0;
            let odd = unit.read(&mut hunt.session, look);
            let expect = step.expect.iter().map(|(_, good)| *good);
            hunt.weigh();
            if odd.iter().zip(expect).any(|(seen, good)| good.is_some() && seen.is_some() && *seen != good) {
                break;
            }
        }
        for _ in 0..MOST_DEEDS {
            let start = Instant::now();
            let next = hunt.inquiry.next(self.procedure, &self.costs, &hunt.session, &hunt.verdict);
            hunt.advising.push(start.elapsed());
            let Ok(next) = next else { break };
            let done = next.done(&hunt.session);
            hunt.play_early(&done);
            hunt.deeds.push(short(board, &next.deed));
            hunt.seconds += next.seconds.0;
            if hunt.session.is_off() && !matches!(next.deed, Deed::Ohms { .. }) {
                unit.wake();
            }
            match &next.deed {
                Deed::Look { actions, .. } => {
                    actions.iter().for_each(|&action| unit.act(action));
                    hunt.actions += actions.len();
                    hunt.session = done;
                    let look = hunt.session.now();
                    unit.read(&mut hunt.session, look);
                }
                deed => {
                    if !self.measure(&mut hunt, &mut unit, deed) {
                        break;
                    }
                }
            }
            hunt.weigh();
        }
        hunt.lost = unit.is_lost();
        hunt
    }

    /// Takes a measurement, after what has to be done for it. Nothing where no point of the unit is found: then its net is left
    /// out from now on. Whether the hunt goes on.
    fn measure(&self, hunt: &mut Hunt, unit: &mut Unit, deed: &Deed) -> bool {
        if let Deed::Volts { actions, .. } = deed
            && !actions.is_empty()
        {
            actions.iter().for_each(|&action| unit.act(action));
            hunt.actions += actions.len();
            hunt.session.act(None, actions);
            hunt.weigh();
        }
        if matches!(deed, Deed::Ohms { .. }) {
            hunt.session.switch_off();
        }
        let seen = unit.measure(&hunt.inquiry, &hunt.session, deed);
        let Some(seen) = seen else {
            hunt.unforetold += 1;
            hunt.deeds.push("nothing steady there".to_owned());
            return match deed {
                Deed::Volts { net, .. } => hunt.inquiry.leave_out.insert(*net),
                Deed::Ohms { red, .. } => hunt.inquiry.leave_out.insert(red.net),
                Deed::Look { .. } | Deed::Supply { .. } => false,
            };
        };
        let now = hunt.session.now();
        hunt.session.observe(self.study.extracted.shape.board, now, seen);
        hunt.actions += 1;
        true
    }
}

/// A deed in few words.
fn short(board: &Board, deed: &Deed) -> String {
    let done =
        |actions: &[Action]| actions.iter().map(|action| action.words(board) + ", ").collect::<String>();
    let name = |net: NetId| board.nets[net].name.as_str();
    match deed {
        Deed::Look { actions, .. } => done(actions) + "look",
        Deed::Volts { actions, net, .. } => format!("{}volts {}", done(actions), name(*net)),
        Deed::Supply { .. } => "supply".to_owned(),
        Deed::Ohms { red, black, .. } => format!("ohms {} {}", name(red.net), name(black.net)),
    }
}
