//! The board's logic as a formula, three-valued.
//!
//! Each level is a pair of literals, "surely high" and "surely low", so that a formula can say not only what a board does
//! but what is *known* of it: evaluated with some levels left open, a stage is known where every way of filling them in
//! agrees. The same gate of the formula is never made twice: where a faulty board is given what the good one is given,
//! it becomes the same literals, and the solver has nothing to prove there.

use crate::Study;
use crate::gates::{Formula, Literal};
use dryjoint_faults::lanes::{Behaviour, Cube, Drive, Read, Shown, Target, primes};
use dryjoint_ids::Side;
use dryjoint_logic::{Function, Level, SignalId, StageId};
use std::collections::HashMap;

/// Whether a level is surely high, and whether surely low.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Rails {
    pub one: Literal,
    pub zero: Literal,
}

impl Rails {
    /// A level that is known, and high where the literal holds.
    pub fn known(high: Literal) -> Self {
        Self { one: high, zero: !high }
    }
}

/// Whether somebody pulls low, and whether somebody drives high.
type Pulls = [Rails; 2];

/// What every stage puts on its signal.
pub(crate) type PutOut = Side<StageId, Pulls>;

/// What every signal is.
pub(crate) type Levels = Side<SignalId, Rails>;

/// What hands do to every signal.
pub(crate) type Hands = Side<SignalId, Pulls>;

/// When a stage pulls low and when it surely does not, when it drives high and when not.
#[derive(Clone, Debug)]
struct Covers {
    does: [Vec<Cube>; 2],
    does_not: [Vec<Cube>; 2],
    /// It gives way to the hand.
    weak: bool,
}

/// A formula that grows by gates, over the logic of one board.
#[derive(Clone, Debug)]
pub(crate) struct Ternary<'s, 'e, 'b> {
    pub study: &'s Study<'e, 'b>,
    pub formula: Formula,
    truth: Literal,
    ands: HashMap<[Literal; 2], Literal>,
    covers: Side<StageId, Covers>,
    drivers: Side<SignalId, Vec<StageId>>,
    rest: Side<SignalId, Option<bool>>,
}

impl<'s, 'e, 'b> Ternary<'s, 'e, 'b> {
    /// Nothing asked yet; nothing where the board is not all stages whose function was found.
    pub fn new(study: &'s Study<'e, 'b>) -> Option<Self> {
        let logic = &study.extracted.logic;
        let mut formula = Formula::default();
        let truth = formula.variable();
        formula.clause(&[truth]);
        let mut rest: Side<SignalId, Level> = Side::filled(&logic.signals, Level::Floating);
        let mut drivers: Side<SignalId, Vec<StageId>> = Side::filled(&logic.signals, Vec::new());
        for (id, stage) in logic.stages.iter() {
            let Function::Found(rows) = &stage.function else { return None };
            if stage.inputs.is_empty() {
                rest[stage.output] = rest[stage.output].resolve(rows[0]);
            } else {
                drivers[stage.output].push(id);
            }
        }
        let covers = Side::new(&logic.stages, |id| {
            let stage = &logic.stages[id];
            let Function::Found(rows) = &stage.function else { unreachable!("looked at above") };
            covers(rows, stage.inputs.len())
        });
        let rest = rest.map(|_, level| level.value());
        Some(Self { study, formula, truth, ands: HashMap::new(), covers, drivers, rest })
    }

    /// Whether nobody drives a signal, no resistor holds it, and no stage reads it.
    pub fn is_left_alone(&self, signal: SignalId) -> bool {
        let stages = self.study.extracted.logic.stages.rows();
        self.drivers[signal].is_empty()
            && self.rest[signal].is_none()
            && stages.iter().all(|stage| !stage.inputs.contains(&signal))
    }

    /// The literal that always holds, or never.
    pub fn constant(&self, holds: bool) -> Literal {
        self.truth.is(holds)
    }

    /// Both.
    pub fn and(&mut self, a: Literal, b: Literal) -> Literal {
        let never = !self.truth;
        if a == never || b == never || a == !b {
            return never;
        }
        if a == self.truth || a == b {
            return b;
        }
        if b == self.truth {
            return a;
        }
        let pair = if a < b { [a, b] } else { [b, a] };
        if let Some(&made) = self.ands.get(&pair) {
            return made;
        }
        let both = self.formula.variable();
        self.formula.clause(&[!both, a]);
        self.formula.clause(&[!both, b]);
        self.formula.clause(&[both, !a, !b]);
        self.ands.insert(pair, both);
        both
    }

    /// Either.
    pub fn or(&mut self, a: Literal, b: Literal) -> Literal {
        !self.and(!a, !b)
    }

    /// Known where both say the same.
    pub fn common(&mut self, a: Rails, b: Rails) -> Rails {
        Rails { one: self.and(a.one, b.one), zero: self.and(a.zero, b.zero) }
    }

    /// Whether what one says surely is contradicted by the other.
    pub fn contradicts(&mut self, a: Rails, b: Rails) -> Literal {
        let (high, low) = (self.and(a.one, b.zero), self.and(a.zero, b.one));
        self.or(high, low)
    }

    /// Whether something is known of the first that is not known of the second.
    pub fn exceeds(&mut self, a: Rails, b: Rails) -> Literal {
        let (high, low) = (self.and(a.one, !b.one), self.and(a.zero, !b.zero));
        self.or(high, low)
    }

    /// What is known of a signal where the others stand so, on a board with a fault or without one.
    pub fn made(
        &mut self,
        signal: SignalId,
        levels: &Levels,
        hands: &Hands,
        fault: Option<&Behaviour>,
    ) -> Rails {
        self.set(signal, [hands; 2], fault, &mut |ternary, stage, _| {
            let pins = ternary.seen(stage, levels, fault, &mut |ternary, fault, column| {
                ternary.says(column, hands, fault, &mut |ternary, stage| ternary.plain_pulls(stage, levels))
            });
            ternary.covered(stage, &pins)
        })
    }

    /// What stages put out where signals stand so, but for those with an input that the fault sets.
    pub fn put_out(&mut self, levels: &Levels) -> PutOut {
        let stages = &self.study.extracted.logic.stages;
        Side::new(stages, |stage| self.plain_pulls(stage, levels))
    }

    /// One tick of the lanes: every stage from what stood before, then what that makes of every signal. A table that
    /// stands for a stage sees what stages and hands put out before the tick, one that joins signals what they put out in it: the
    /// hands are those before and after. Whatever is as in a state known to be at rest with these hands, stays so without
    /// being asked again.
    pub fn tick(
        &mut self,
        (levels, before): (&Levels, &PutOut),
        hands: [&Hands; 2],
        fault: Option<&Behaviour>,
        rest: Option<&(Levels, PutOut)>,
    ) -> (Levels, PutOut) {
        let logic = &self.study.extracted.logic;
        let put_out = Side::new(&logic.stages, |stage| {
            let inputs = &logic.stages[stage].inputs;
            let whole = fault.is_none_or(|fault| {
                (0..inputs.len()).all(|pin| column(fault, Target::Pin(stage, pin as u8)).is_none())
            });
            if let Some((rest, put_out)) = rest
                && whole
                && inputs.iter().all(|&input| levels[input] == rest[input])
            {
                return put_out[stage];
            }
            let pins = self.seen(stage, levels, fault, &mut |ternary, fault, column| {
                ternary.says(column, hands[0], fault, &mut |_, stage| before[stage])
            });
            self.covered(stage, &pins)
        });
        let now = Side::new(&logic.signals, |signal| {
            let whole = fault.is_none_or(|fault| column(fault, Target::Signal(signal)).is_none());
            if let Some((levels, rest)) = rest
                && whole
                && self.drivers[signal].iter().all(|&stage| put_out[stage] == rest[stage])
            {
                return levels[signal];
            }
            self.set(signal, hands, fault, &mut |_, stage, joins| {
                if joins { put_out[stage] } else { before[stage] }
            })
        });
        (now, put_out)
    }

    /// What a signal is by what stages and hands put out, as it was and as it is; stages are told whether it is what they put out
    /// now that is asked for.
    fn set(
        &mut self,
        signal: SignalId,
        hands: [&Hands; 2],
        fault: Option<&Behaviour>,
        pulls: &mut dyn FnMut(&mut Self, StageId, bool) -> Pulls,
    ) -> Rails {
        let set = fault.and_then(|it| Some((it, column(it, Target::Signal(signal))?)));
        if let Some((fault, column)) = set {
            let joins = fault.reads.iter().any(|read| read.signal == signal);
            let seen = hands[usize::from(joins)];
            return self.says(column, seen, fault, &mut |ternary, stage| pulls(ternary, stage, joins));
        }
        let [mut low, mut high] = hands[1][signal];
        let nobody = self.and(low.zero, high.zero);
        let hand = self.or(low.one, high.one);
        for stage in self.drivers[signal].clone() {
            let mut put_out = pulls(self, stage, true);
            if self.covers[stage].weak {
                put_out = put_out
                    .map(|pull| Rails { one: self.and(pull.one, nobody), zero: self.or(pull.zero, hand) });
            }
            low = self.either(low, put_out[0]);
            high = self.either(high, put_out[1]);
        }
        let (down, up) = (self.and(low.one, high.zero), self.and(high.one, low.zero));
        match self.rest[signal] {
            Some(true) => Rails { one: low.zero, zero: down },
            Some(false) => Rails { one: up, zero: high.zero },
            None => Rails { one: up, zero: down },
        }
    }

    fn either(&mut self, a: Rails, b: Rails) -> Rails {
        Rails { one: self.or(a.one, b.one), zero: self.and(a.zero, b.zero) }
    }

    /// What a stage does where nothing is wrong with its inputs.
    fn plain_pulls(&mut self, stage: StageId, levels: &Levels) -> Pulls {
        let inputs = &self.study.extracted.logic.stages[stage].inputs;
        let pins: Vec<Rails> = inputs.iter().map(|&input| levels[input]).collect();
        self.covered(stage, &pins)
    }

    /// The inputs of a stage as the fault leaves them.
    fn seen(
        &mut self,
        stage: StageId,
        levels: &Levels,
        fault: Option<&Behaviour>,
        says: &mut dyn FnMut(&mut Self, &Behaviour, usize) -> Rails,
    ) -> Vec<Rails> {
        let inputs = self.study.extracted.logic.stages[stage].inputs.iter().enumerate();
        inputs
            .map(|(pin, &input)| {
                match fault.and_then(|it| Some((it, column(it, Target::Pin(stage, pin as u8))?))) {
                    Some((fault, column)) => says(self, fault, column),
                    None => levels[input],
                }
            })
            .collect()
    }

    /// What a stage does with its inputs at these levels.
    fn covered(&mut self, stage: StageId, pins: &[Rails]) -> Pulls {
        let Covers { does, does_not, .. } = self.covers[stage].clone();
        [0, 1]
            .map(|which| Rails { one: self.any(&does[which], pins), zero: self.any(&does_not[which], pins) })
    }

    fn any(&mut self, cubes: &[Cube], pins: &[Rails]) -> Literal {
        let mut any = self.constant(false);
        for cube in cubes {
            let mut all = self.constant(true);
            for (pin, level) in pins.iter().enumerate() {
                if cube.high >> pin & 1 != 0 {
                    all = self.and(all, level.one);
                } else if cube.low >> pin & 1 != 0 {
                    all = self.and(all, level.zero);
                }
            }
            any = self.or(any, all);
        }
        any
    }

    /// What the table of a fault says in one column: what all rows agree on that can be.
    fn says(
        &mut self,
        column: usize,
        hands: &Hands,
        fault: &Behaviour,
        pulls: &mut dyn FnMut(&mut Self, StageId) -> Pulls,
    ) -> Rails {
        let drives: Vec<Pulls> = fault.reads.iter().map(|read| self.driven(read, hands, pulls)).collect();
        let (truth, never) = (self.constant(true), self.constant(false));
        let (mut all, mut any) = ([truth; 2], [never; 2]);
        for (row, shown) in fault.table.chunks(fault.writes.len()).enumerate() {
            let mut can = truth;
            let mut rest = row;
            for (read, [low, high]) in fault.reads.iter().zip(&drives) {
                let (a, b) = match read.drives[rest % read.drives.len()] {
                    Drive::Free => (!low.one, !high.one),
                    Drive::Low => (!low.zero, !high.one),
                    Drive::High => (!high.zero, !low.one),
                };
                rest /= read.drives.len();
                let both = self.and(a, b);
                can = self.and(can, both);
            }
            // A lamp that is dim is not known either.
            let says = [Shown::One, Shown::Zero].map(|level| shown[column] == level);
            for ((all, any), says) in all.iter_mut().zip(&mut any).zip(says) {
                if says {
                    *any = self.or(*any, can);
                } else {
                    *all = self.and(*all, !can);
                }
            }
        }
        Rails { one: self.and(all[0], any[0]), zero: self.and(all[1], any[1]) }
    }

    /// Whether anyone that a read looks at pulls low, and whether anyone drives high.
    fn driven(
        &mut self,
        read: &Read,
        hands: &Hands,
        pulls: &mut dyn FnMut(&mut Self, StageId) -> Pulls,
    ) -> Pulls {
        let never = Rails::known(self.constant(false));
        let [mut low, mut high] = if read.bench { hands[read.signal] } else { [never; 2] };
        for &stage in &read.stages {
            let put_out = pulls(self, stage);
            low = self.either(low, put_out[0]);
            high = self.either(high, put_out[1]);
        }
        [low, high]
    }
}

/// The column in which a fault sets something.
fn column(fault: &Behaviour, target: Target) -> Option<usize> {
    fault.writes.iter().position(|&set| set == target)
}

/// Whether the levels of all signals say everything of a board with this fault. They do not where a table looks at a stage
/// whose input it sets: what the stage puts out is then held by the fault alone.
pub(crate) fn levels_say_all(behaviour: &Behaviour) -> bool {
    let looked_at = |stage: &StageId| behaviour.reads.iter().any(|read| read.stages.contains(stage));
    behaviour.blackout.is_none()
        && !behaviour.writes.is_empty()
        && behaviour.writes.iter().all(|target| match target {
            Target::Pin(stage, _) => !looked_at(stage),
            Target::Signal(_) => true,
        })
}

/// The covers of a stage.
fn covers(rows: &[Level], inputs: usize) -> Covers {
    let is = |row: usize, strong: Level, weak: Level| rows[row] == strong || rows[row] == weak;
    let known = |row: usize| rows[row] == Level::Floating || rows[row].value().is_some();
    let sides = [(Level::Zero, Level::WeakZero), (Level::One, Level::WeakOne)];
    Covers {
        does: sides.map(|(strong, weak)| primes(inputs, |row| is(row, strong, weak))),
        does_not: sides.map(|(strong, weak)| primes(inputs, |row| known(row) && !is(row, strong, weak))),
        weak: rows.iter().any(|level| matches!(level, Level::WeakZero | Level::WeakOne)),
    }
}
