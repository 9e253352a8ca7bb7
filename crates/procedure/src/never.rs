//! Proof that a fault never matters: no state in which the board can rest differs with it.
//!
//! Some faults change what a stage does only for inputs that the rest of the board never gives it, such as a
//! bridge between a signal and the lamp that shows it. The question "is there a state at rest in which
//! the table of the fault says something else than the good board does?" is put as a formula: one
//! variable a signal, one clause a row of each stage, every latch and every jumper free. Where it cannot
//! hold the solver's proof is followed again by a checker that shares nothing with it.
//!
//! A state at rest is not all: on the way to it, levels may meet that never meet at rest. So a fault is taken
//! only where nothing that it sets goes round to itself or into a latch; what lies behind it is then made
//! by the state at rest alone.

use crate::Study;
use crate::gates::{Answer, Formula, Literal, Manner, Refuted, solve};
use dryjoint_faults::lanes::{Behaviour, Drive, Read, Shown, Target};
use dryjoint_ids::Side;
use dryjoint_logic::{Function, Level, SignalId, StageId};

/// Conflicts after which a question stays open.
const MOST_CONFLICTS: u64 = 200_000;

/// The board at rest as a formula, made once for all faults.
#[derive(Clone, Debug)]
pub struct AtRest<'s, 'e, 'b> {
    study: &'s Study<'e, 'b>,
    formula: Formula,
    /// Whether a signal is high.
    high: Side<SignalId, Literal>,
    /// Whether a stage pulls low, and whether it drives high.
    pulls: Side<StageId, [Literal; 2]>,
    /// Whether the hand or a clock holds a signal low, and whether high.
    hands: Side<SignalId, [Option<Literal>; 2]>,
}

impl<'s, 'e, 'b> AtRest<'s, 'e, 'b> {
    /// The formula of a board.
    pub fn new(study: &'s Study<'e, 'b>) -> Self {
        let logic = &study.extracted.logic;
        let mut formula = Formula::default();
        let high = Side::new(&logic.signals, |_| formula.variable());
        let pulls = Side::new(&logic.stages, |_| [formula.variable(), formula.variable()]);
        let hands = Side::new(&logic.signals, |signal| {
            study.rig.hands(signal).map(|can| can.then(|| formula.variable()))
        });
        let mut rest = Self { study, formula, high, pulls, hands };
        rest.stages();
        rest.benches();
        rest.signals();
        rest
    }

    /// What every stage puts on its signal, row by row. A level in between leaves both free.
    fn stages(&mut self) {
        for (id, stage) in self.study.extracted.logic.stages.iter() {
            let Function::Found(rows) = &stage.function else { continue };
            let [low, high] = self.pulls[id];
            for (row, level) in rows.iter().enumerate() {
                let here = stage.inputs.iter().enumerate();
                let mut clause: Vec<Literal> =
                    here.map(|(bit, &input)| self.high[input].is(row >> bit & 1 == 0)).collect();
                let known = match level {
                    Level::Floating => [false, false],
                    _ => match level.value() {
                        Some(value) => [!value, value],
                        None => continue,
                    },
                };
                for (pull, known) in [low, high].into_iter().zip(known) {
                    clause.push(pull.is(known));
                    self.formula.clause(&clause);
                    clause.pop();
                }
            }
        }
    }

    /// A hand holds a line one way only; a clock is always held, its complement the other way. What says where a switch stands
    /// is not, with the switch elsewhere.
    fn benches(&mut self) {
        let signals: Vec<SignalId> = self.study.extracted.logic.signals.ids().collect();
        for &signal in &signals {
            if let [Some(low), Some(high)] = self.hands[signal] {
                self.formula.clause(&[!low, !high]);
                if !self.study.rig.tells_switch(signal) {
                    self.formula.clause(&[low, high]);
                }
            }
        }
        for (clock, complement) in self.study.rig.complements() {
            if let (Some(a), Some(b)) = (self.hands[clock][0], self.hands[complement][0]) {
                self.formula.clause(&[a, b]);
                self.formula.clause(&[!a, !b]);
            }
        }
    }

    /// What drivers, hands and resistors make of a signal: the resolution of the lanes.
    fn signals(&mut self) {
        let logic = &self.study.extracted.logic;
        for signal in logic.signals.ids() {
            let (low, high) = self.drivers(signal, |_| true);
            let rests = logic.stages.rows().iter().filter(|stage| stage.output == signal);
            let rest =
                rests.filter(|stage| stage.inputs.is_empty()).find_map(|stage| match &stage.function {
                    Function::Found(rows) => rows[0].value(),
                    _ => None,
                });
            let value = self.high[signal];
            // A driver that nobody opposes says what the signal is; so does the resistor without any driver.
            for (mine, others, level) in [(&low, &high, false), (&high, &low, true)] {
                for &driver in mine {
                    let mut clause = others.clone();
                    clause.extend([!driver, value.is(level)]);
                    self.formula.clause(&clause);
                }
                if rest == Some(level) {
                    let mut clause = others.clone();
                    clause.push(value.is(level));
                    self.formula.clause(&clause);
                }
            }
        }
    }

    /// Everyone who can pull a signal low, and everyone who can drive it high.
    fn drivers(&self, signal: SignalId, wanted: impl Fn(StageId) -> bool) -> (Vec<Literal>, Vec<Literal>) {
        let [mut low, mut high] = self.hands[signal].map(Vec::from_iter);
        let stages = self.study.extracted.logic.stages.iter();
        for (id, _) in
            stages.filter(|(id, stage)| stage.output == signal && !stage.inputs.is_empty() && wanted(*id))
        {
            low.push(self.pulls[id][0]);
            high.push(self.pulls[id][1]);
        }
        (low, high)
    }

    /// The checked proof that a behaviour never matters; nothing where it can, or where it is not known.
    pub fn refute(&self, behaviour: &Behaviour) -> Option<Refuted> {
        if behaviour.blackout.is_some() || !self.ends(behaviour) {
            return None;
        }
        let mut formula = self.formula.clone();
        let mut ways = Vec::new();
        let mut drives = Vec::new();
        for read in &behaviour.reads {
            let [low, high] = self.read(read, &mut formula);
            // Both at once: the table does not say what comes of it.
            let fight = formula.variable();
            formula.clause(&[!fight, low]);
            formula.clause(&[!fight, high]);
            ways.push(fight);
            drives.push([low, high]);
        }
        let width = behaviour.writes.len();
        for (at, row) in behaviour.table.chunks(width.max(1)).enumerate() {
            let Some(differs) = self.differs(behaviour, row) else { continue };
            let way = formula.variable();
            let mut rest = at;
            for (read, [low, high]) in behaviour.reads.iter().zip(&drives) {
                let wanted = read.drives[rest % read.drives.len()];
                rest /= read.drives.len();
                formula.clause(&[!way, low.is(wanted == Drive::Low)]);
                formula.clause(&[!way, high.is(wanted == Drive::High)]);
            }
            if !differs.is_empty() {
                let mut clause = differs;
                clause.push(!way);
                formula.clause(&clause);
            }
            ways.push(way);
        }
        formula.clause(&ways);
        let manner = Manner { random: 0, conflicts: MOST_CONFLICTS, prefer: &|_| None };
        match solve(&formula, manner) {
            Answer::Cannot(learnt) => Refuted::sealed(&formula, &learnt),
            Answer::Can(_) | Answer::Open => None,
        }
    }

    /// Whether anyone that a read looks at pulls low, and whether anyone drives high.
    fn read(&self, read: &Read, formula: &mut Formula) -> [Literal; 2] {
        let (mut low, mut high) = self.drivers(read.signal, |stage| read.stages.contains(&stage));
        if !read.bench {
            let hands = self.hands[read.signal].map(|hand| usize::from(hand.is_some()));
            low.drain(..hands[0]);
            high.drain(..hands[1]);
        }
        [low, high].map(|who| {
            let any = formula.variable();
            for &one in &who {
                formula.clause(&[!one, any]);
            }
            let mut clause = who;
            clause.push(!any);
            formula.clause(&clause);
            any
        })
    }

    /// What must hold, any of it, for a row to say something else than the good board: nothing where it never
    /// does, no literal where it always does.
    fn differs(&self, behaviour: &Behaviour, row: &[Shown]) -> Option<Vec<Literal>> {
        let mut literals = Vec::new();
        for (&target, shown) in behaviour.writes.iter().zip(row) {
            let good = match target {
                Target::Signal(signal) => self.high[signal],
                Target::Pin(stage, pin) => {
                    self.high[self.study.extracted.logic.stages[stage].inputs[usize::from(pin)]]
                }
            };
            match shown {
                Shown::One => literals.push(!good),
                Shown::Zero => literals.push(good),
                Shown::Unknown | Shown::Dim => return Some(Vec::new()),
            }
        }
        (!literals.is_empty()).then_some(literals)
    }

    /// Whether what a behaviour sets goes to lamps and pins without going round.
    fn ends(&self, behaviour: &Behaviour) -> bool {
        let logic = &self.study.extracted.logic;
        let mut behind: Side<SignalId, Vec<SignalId>> = Side::filled(&logic.signals, Vec::new());
        for (_, stage) in logic.stages.iter() {
            for &input in &stage.inputs {
                behind[input].push(stage.output);
            }
        }
        let set = |target: &Target| match *target {
            Target::Signal(signal) => signal,
            Target::Pin(stage, _) => logic.stages[stage].output,
        };
        let targets: Vec<SignalId> = behaviour.writes.iter().map(set).collect();
        // What the behaviour looks at acts on what it sets.
        for stage in behaviour.reads.iter().flat_map(|read| &read.stages) {
            for &input in &logic.stages[*stage].inputs {
                behind[input].extend(&targets);
            }
        }
        // 1 while it is being followed, 2 when all behind it ends.
        let mut state = behind.map(|_, _| 0u8);
        targets.iter().all(|&target| ends_from(target, &behind, &mut state))
    }
}

/// Depth first; false where the way meets itself.
fn ends_from(
    start: SignalId,
    behind: &Side<SignalId, Vec<SignalId>>,
    state: &mut Side<SignalId, u8>,
) -> bool {
    let mut stack = vec![(start, 0usize)];
    while let Some((signal, next)) = stack.pop() {
        if next == 0 {
            match state[signal] {
                2 => continue,
                1 => return false,
                _ => state[signal] = 1,
            }
        }
        match behind[signal].get(next) {
            Some(&reader) => {
                stack.push((signal, next + 1));
                if state[reader] == 1 {
                    return false;
                }
                if state[reader] == 0 {
                    stack.push((reader, 0));
                }
            }
            None => state[signal] = 2,
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Rig;
    use dryjoint_faults::lanes::Program;
    use dryjoint_ids::Table;
    use dryjoint_logic::extract;
    use std::path::Path;

    /// A table that has a lamp as it should be wherever the switch of the clock is but at one position, of which it knows nothing.
    /// The contact of the other position is then held by nobody.
    #[test]
    fn what_matters_at_one_position_of_a_switch_is_not_refuted() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
        let mut read = |name: &str| std::fs::read(folder.join(name)).map_err(|error| error.to_string());
        let text = include_str!("../tests/plain/tick.board");
        let board = dryjoint_netlist::read("tick", text, &mut read).board.expect("a sound board");
        let (extracted, _) = extract(&board);
        let study = Study {
            extracted: &extracted,
            rig: Rig::new(&extracted),
            faults: Table::new(),
            effects: Table::new(),
            groups: Table::new(),
            program: Program::of(&extracted.logic),
        };
        let rest = AtRest::new(&study);
        let lamp = study.rig.lamps[0].1;
        let stages = extracted.logic.stages.iter().filter(|(_, stage)| stage.output == lamp);
        let own = Read {
            signal: lamp,
            stages: stages.map(|(id, _)| id).collect(),
            bench: false,
            drives: vec![Drive::Free, Drive::Low, Drive::High],
        };
        let contact = Read {
            signal: study.rig.dials()[0].contacts[0],
            stages: Vec::new(),
            bench: true,
            drives: vec![Drive::Free, Drive::Low, Drive::High],
        };
        let as_it_is = [Shown::Zero, Shown::Zero, Shown::One];
        let with = |elsewhere: [Shown; 3]| Behaviour {
            reads: vec![own.clone(), contact.clone()],
            writes: vec![Target::Signal(lamp)],
            table: [elsewhere, as_it_is, as_it_is].concat(),
            blackout: None,
        };
        assert!(rest.refute(&with(as_it_is)).is_some());
        assert!(rest.refute(&with([Shown::Unknown; 3])).is_none());
    }
}
