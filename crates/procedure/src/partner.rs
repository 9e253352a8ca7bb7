//! Proof that luck can hide a fault, without walking: every good board has a partner with the fault.
//!
//! A board of six bits and twelve lines has millions of states, and a fault in one latch differs from the good board in a
//! few signals of a few of them. So nothing is walked. For any state in which the good board can rest, the *partner*
//! is a board with the fault that stands at the same levels but in a few signals; these stand as the fault has them, and
//! where it leaves them open, as on the good board. It is shown that
//!
//! - the partner is at rest, and its lamps show what the good board's do;
//! - when one hand moves, or a clock goes over into its other half, and the good board comes to rest again, the partner
//!   may come to rest as that one's partner: this contradicts nothing that is known of it after the same move.
//!
//! So a board with the fault may go from partner to partner for ever, and no list of actions, of whatever length, surely
//! shows it. Both are one formula over all states at once, whether hands can bring them about or not, and its
//! refutation is followed a second time. The move is followed tick by tick as in the lanes; where something still moves
//! after as many ticks as these wait, it is left open. Lanes then leave open whatever has moved, so no more is known in them than
//! here, and what contradicts nothing here contradicts nothing there.
//!
//! Which signals the partner needs is found by asking: where it is not at rest, the signals that would move join it.
//!
//! Example: a latch that is open with one input cut may have both its halves low. Once it closes they race, and luck lets
//! that half win which is high on the good board; the partner differs only while the latch is open.

use crate::gates::{Answer, Literal, Manner, Refuted, solve};
use crate::moves::{Moves, moves};
use crate::ternary::{Hands, Levels, PutOut, Rails, Ternary, levels_say_all};
use crate::{GroupId, Study};
use dryjoint_faults::lanes::Behaviour;
use dryjoint_ids::Side;
use dryjoint_logic::{Role, SignalId};

/// Signals in which a partner may differ.
const MOST_APART: usize = 24;
/// How often all signals are gone through until nothing more becomes known; that it was enough is asked too.
const SWEEPS: usize = 3;
/// Whether the good board is at rest is asked after every so many ticks.
const TICKS: usize = 8;
/// How the solver goes about it, and after how many conflicts a question stays open.
const MANNER: Manner = Manner { random: 0, conflicts: 50_000, prefer: &|_| None };

/// All good boards at rest, before a move of one hand or of a clock and after it.
#[derive(Clone)]
pub(crate) struct Partners<'s, 'e, 'b> {
    ternary: Ternary<'s, 'e, 'b>,
    /// What hands and clocks do.
    moves: Moves,
    /// The good board before, and after so many ticks, when it is at rest again.
    good: Levels,
    rest: (Levels, PutOut),
    ticks: usize,
    /// The proof of that.
    comes_to_rest: Refuted,
}

impl<'s, 'e, 'b> Partners<'s, 'e, 'b> {
    /// Of a board; nothing for one with two lines on one net, or one that may go on for ever from a state in which it can
    /// rest, whether hands can bring that about or not: a ring of six steps that stands at none of them may.
    pub fn new(study: &'s Study<'e, 'b>) -> Option<Self> {
        let mut ternary = Ternary::new(study)?;
        let moves = moves(&mut ternary)?;
        let good = at_rest(&mut ternary, &moves.hands[0]);
        let mut put_out = ternary.put_out(&good);
        let mut after = good.clone();
        for tick in 1..=study.program.patience() {
            (after, put_out) = ternary.tick((&after, &put_out), [&moves.hands[1]; 2], None, None);
            // Few boards take as long as the lanes wait, and the formula is the shorter for each tick less.
            if tick % TICKS != 0 {
                continue;
            }
            let mut asked = ternary.clone();
            let moving = each(&mut asked, &after, &moves.hands[1], None, |ternary, made, now| {
                let open = ternary.and(!now.one, !now.zero);
                let moves = ternary.exceeds(now, made);
                ternary.or(open, moves)
            });
            if let Some(comes_to_rest) = refuted(&mut asked, &moving) {
                let put_out = ternary.put_out(&after);
                let rest = (after, put_out);
                return Some(Self { ternary, moves, good, rest, ticks: tick, comes_to_rest });
            }
        }
        None
    }

    /// The checked proof that luck can hide a group; nothing where it cannot, or where that is not known.
    pub fn hide(&self, group: GroupId) -> Option<Refuted> {
        let fault = &self.ternary.study.groups[group].behaviour;
        if !levels_say_all(fault) || self.moves.are_not_all_of(self.ternary.study, fault) {
            return None;
        }
        let apart = self.apart(fault)?;
        let mut asked = self.clone();
        let partner = [0, 1].map(|at| asked.partner(at, fault, &apart));
        let after = asked.after(&partner[0], fault);
        let (known, unfinished) = asked.calmed(&after, fault);
        let mut wrong = unfinished;
        for (signal, &known) in known.iter() {
            wrong.push(asked.ternary.contradicts(known, partner[1][signal]));
        }
        for (levels, hands) in partner.iter().zip(&self.moves.hands) {
            wrong.extend(each(&mut asked.ternary, levels, hands, Some(fault), Ternary::contradicts));
        }
        refuted(&mut asked.ternary, &wrong).map(|proof| self.comes_to_rest + proof)
    }

    /// The signals in which the partner differs; nothing where a lamp is one, or there are too many.
    fn apart(&self, fault: &Behaviour) -> Option<Vec<SignalId>> {
        let signals = &self.ternary.study.extracted.logic.signals;
        let mut apart: Vec<SignalId> = Vec::new();
        loop {
            let mut asked = self.clone();
            let partner = asked.partner(0, fault, &apart);
            let moves =
                each(&mut asked.ternary, &partner, &self.moves.hands[0], Some(fault), Ternary::contradicts);
            asked.ternary.formula.clause(&moves);
            let found = match solve(&asked.ternary.formula, MANNER) {
                Answer::Can(found) => found,
                Answer::Cannot(_) => return Some(apart),
                Answer::Open => return None,
            };
            let holds = |literal: Literal| found[literal.variable() as usize] != literal.is_complement();
            let before = apart.len();
            apart.extend(signals.ids().zip(&moves).filter(|(_, moves)| holds(**moves)).map(|(it, _)| it));
            apart.sort_unstable();
            apart.dedup();
            let shows = apart.iter().any(|&signal| signals[signal].role == Role::Seen);
            if apart.len() == before || apart.len() > MOST_APART || shows {
                return None;
            }
        }
    }

    /// The partner of the good board before the move, or after it.
    fn partner(&mut self, at: usize, fault: &Behaviour, apart: &[SignalId]) -> Levels {
        let (good, hands) = ([&self.good, &self.rest.0][at], &self.moves.hands[at]);
        let mut levels = good.clone();
        // Once more for a latch, whose halves hang on each other.
        for _ in 0..2 {
            for &signal in self.ternary.study.program.in_order().iter().filter(|it| apart.contains(it)) {
                let made = self.ternary.made(signal, &levels, hands, Some(fault));
                let as_good = self.ternary.and(!made.zero, good[signal].one);
                levels[signal] = Rails::known(self.ternary.or(made.one, as_good));
            }
        }
        levels
    }

    /// A board with a fault after the move, when it has had time to come to rest.
    fn after(&mut self, levels: &Levels, fault: &Behaviour) -> Levels {
        let mut put_out = self.ternary.put_out(levels);
        let mut levels = levels.clone();
        for tick in 1..=self.ternary.study.program.patience() {
            let rest = (tick > self.ticks).then_some(&self.rest);
            // What stands for a stage sees a hand that moved a tick later.
            let hands = [&self.moves.hands[usize::from(tick > 1)], &self.moves.hands[1]];
            (levels, put_out) = self.ternary.tick((&levels, &put_out), hands, Some(fault), rest);
        }
        levels
    }

    /// What is known of a board with a fault where what still moves is left open, and what is missing there: more might be
    /// known in the end.
    fn calmed(&mut self, levels: &Levels, fault: &Behaviour) -> (Levels, Vec<Literal>) {
        let order = self.ternary.study.program.in_order();
        let hands = self.moves.hands[1].clone();
        let mut levels = levels.clone();
        for _ in 0..SWEEPS {
            for &signal in order {
                let made = self.ternary.made(signal, &levels, &hands, Some(fault));
                levels[signal] = self.ternary.common(levels[signal], made);
            }
        }
        for _ in 0..SWEEPS {
            for &signal in order {
                levels[signal] = self.ternary.made(signal, &levels, &hands, Some(fault));
            }
        }
        let missing = each(&mut self.ternary, &levels, &hands, Some(fault), Ternary::exceeds);
        (levels, missing)
    }
}

/// Of every signal something about what is made of it and what it is.
fn each<'s, 'e, 'b>(
    ternary: &mut Ternary<'s, 'e, 'b>,
    levels: &Levels,
    hands: &Hands,
    fault: Option<&Behaviour>,
    of: impl Fn(&mut Ternary<'s, 'e, 'b>, Rails, Rails) -> Literal,
) -> Vec<Literal> {
    let signals = levels.iter().map(|(signal, &now)| {
        let made = ternary.made(signal, levels, hands, fault);
        of(ternary, made, now)
    });
    signals.collect()
}

/// The checked proof that none of these can be.
fn refuted(ternary: &mut Ternary, wrong: &[Literal]) -> Option<Refuted> {
    let formula = &mut ternary.formula;
    formula.clause(wrong);
    match solve(formula, MANNER) {
        Answer::Cannot(learnt) => Refuted::sealed(formula, &learnt),
        Answer::Can(_) | Answer::Open => None,
    }
}

/// A good board at rest: what is known of a signal is what it is.
fn at_rest(ternary: &mut Ternary, hands: &Hands) -> Levels {
    let signals = &ternary.study.extracted.logic.signals;
    let levels = Side::new(signals, |_| Rails::known(ternary.formula.variable()));
    for signal in signals.ids() {
        let made = ternary.made(signal, &levels, hands, None);
        ternary.formula.clause(&[!made.one, levels[signal].one]);
        ternary.formula.clause(&[!made.zero, levels[signal].zero]);
    }
    levels
}
