//! One board as plain as it can be: no lanes, no events, every stage looked up in its rows at every tick. It shares the
//! rows of the stages and the table of the fault with the lanes, and nothing else.

#![allow(dead_code, reason = "each test file uses its share")]

use dryjoint_draws::Draws;
use dryjoint_faults::lanes::{Behaviour, Drive, Shown, Target};
use dryjoint_ids::Id;
use dryjoint_logic::{Function, Level, Logic, SignalId, StageId};
use dryjoint_procedure::{Coverage, Procedure, Replay, StepId, Study};

/// Ticks by which every board here is at rest; one that is not would have to be called unknown.
const AT_REST: usize = 200;

/// High, low or not known.
pub type Bit = Option<bool>;

/// What a machine is at rest.
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct Rest {
    pub values: Vec<Bit>,
    /// Whether each stage pulls low, and whether it drives high.
    pulls: Vec<[Bit; 2]>,
    /// What the fault's table last said, column by column.
    said: Vec<Bit>,
    bench: Vec<Bit>,
}

/// One board, good or with one fault.
pub struct Plain<'l> {
    logic: &'l Logic,
    fault: Option<&'l Behaviour>,
    pub now: Rest,
}

impl<'l> Plain<'l> {
    pub fn new(logic: &'l Logic, fault: Option<&'l Behaviour>) -> Self {
        let columns = fault.map_or(0, |fault| fault.writes.len());
        let now = Rest {
            values: vec![None; logic.signals.len()],
            pulls: vec![[None; 2]; logic.stages.len()],
            said: vec![None; columns],
            bench: vec![None; logic.signals.len()],
        };
        Self { logic, fault, now }
    }

    /// Puts levels on signals, or lets go, and waits until nothing moves.
    pub fn set(&mut self, levels: &[(SignalId, Level)]) {
        for (signal, level) in levels {
            self.now.bench[signal.index()] = level.value();
        }
        for _ in 0..AT_REST {
            let next = self.tick();
            if next == self.now {
                return;
            }
            self.now = next;
        }
        panic!("something never comes to rest, and the plain walker has no word for that");
    }

    /// All stages once, from what stood before.
    fn tick(&self) -> Rest {
        let mut next = self.now.clone();
        // What stands for a stage sees the drivers as they were, like any stage.
        for column in 0..next.said.len() {
            if !self.joins(column) {
                next.said[column] = self.says(column, &self.now.pulls);
            }
        }
        for (id, stage) in self.logic.stages.iter() {
            if let Function::Found(rows) = &stage.function
                && !stage.inputs.is_empty()
            {
                let inputs: Vec<Bit> =
                    (0..stage.inputs.len()).map(|pin| self.input(id, pin, &next.said)).collect();
                next.pulls[id.index()] = [Level::Zero, Level::One].map(|wanted| pulls(rows, &inputs, wanted));
            }
        }
        for column in 0..next.said.len() {
            if self.joins(column) {
                next.said[column] = self.says(column, &next.pulls);
            }
        }
        for signal in self.logic.signals.ids() {
            next.values[signal.index()] = self.made(signal, &next.pulls);
            for (column, target) in self.fault.iter().flat_map(|fault| fault.writes.iter().enumerate()) {
                if *target == Target::Signal(signal) {
                    next.values[signal.index()] = next.said[column];
                }
            }
        }
        next
    }

    /// A stage's input, as the fault leaves it.
    fn input(&self, stage: StageId, pin: usize, said: &[Bit]) -> Bit {
        let here =
            |target: &Target| matches!(*target, Target::Pin(at, on) if at == stage && usize::from(on) == pin);
        match self.fault.and_then(|fault| fault.writes.iter().position(here)) {
            Some(column) => said[column],
            None => self.now.values[self.logic.stages[stage].inputs[pin].index()],
        }
    }

    /// Whether a column says what is on a signal whose drivers it looks at: solder joins at once.
    fn joins(&self, column: usize) -> bool {
        let fault = self.fault.expect("there are columns");
        match fault.writes[column] {
            Target::Signal(signal) => fault.reads.iter().any(|read| read.signal == signal),
            Target::Pin(..) => false,
        }
    }

    /// What the table says in one column: what all rows agree on that can be.
    fn says(&self, column: usize, stages: &[[Bit; 2]]) -> Bit {
        let fault = self.fault.expect("there are columns");
        let mut said: Option<Bit> = None;
        for row in 0..fault.rows() {
            let mut rest = row;
            let possible = fault.reads.iter().all(|read| {
                let drive = read.drives[rest % read.drives.len()];
                rest /= read.drives.len();
                let hand = if read.bench { self.now.bench[read.signal.index()] } else { None };
                let hand = [hand == Some(false), hand == Some(true)].map(Some);
                let all = read.stages.iter().map(|stage| stages[stage.index()]).chain([hand]);
                let any = |which: usize| {
                    let each: Vec<Bit> = all.clone().map(|one| one[which]).collect();
                    each.into_iter().reduce(or).flatten()
                };
                let (low, high) = (any(0), any(1));
                match drive {
                    Drive::Free => low != Some(true) && high != Some(true),
                    Drive::Low => low != Some(false) && high != Some(true),
                    Drive::High => high != Some(false) && low != Some(true),
                }
            });
            let shown = match fault.table[row * fault.writes.len() + column] {
                Shown::One => Some(true),
                Shown::Zero => Some(false),
                Shown::Unknown => None,
                Shown::Dim => panic!("a lamp that is dim is not for this walker"),
            };
            if possible {
                said = Some(said.map_or(shown, |known| if known == shown { known } else { None }));
            }
        }
        said.flatten()
    }

    /// What drivers, hand and resistor make of a signal.
    fn made(&self, signal: SignalId, pulls: &[[Bit; 2]]) -> Bit {
        let hand = self.now.bench[signal.index()];
        let mut low = Some(hand == Some(false));
        let mut high = Some(hand == Some(true));
        let mut rest = Level::Floating;
        for (id, stage) in self.logic.stages.iter().filter(|(_, stage)| stage.output == signal) {
            let Function::Found(rows) = &stage.function else { panic!("a board has no gates") };
            let weak = rows.iter().any(|level| matches!(level, Level::WeakZero | Level::WeakOne));
            if stage.inputs.is_empty() {
                rest = rest.resolve(rows[0]);
            } else if !weak || hand.is_none() {
                low = or(low, pulls[id.index()][0]);
                high = or(high, pulls[id.index()][1]);
            }
        }
        // A driver that may only do what the resistor does anyhow changes nothing.
        match (low, high, rest.value()) {
            (Some(false), _, Some(true)) => Some(true),
            (_, Some(false), Some(false)) => Some(false),
            (Some(true), Some(false), _) => Some(false),
            (Some(false), Some(true), _) => Some(true),
            _ => None,
        }
    }
}

fn or(a: Bit, b: Bit) -> Bit {
    match (a, b) {
        (Some(true), _) | (_, Some(true)) => Some(true),
        (Some(false), Some(false)) => Some(false),
        _ => None,
    }
}

/// Whether a stage surely puts a level out, surely does not, or may: over all rows that its inputs allow.
fn pulls(rows: &[Level], inputs: &[Bit], wanted: Level) -> Bit {
    let allows = |row: &usize| {
        inputs.iter().enumerate().all(|(bit, input)| input.is_none_or(|high| high == (row >> bit & 1 != 0)))
    };
    let does = |row: usize| match rows[row] {
        Level::Floating => Some(false),
        level => level.value().map(|high| Level::from(high) == wanted),
    };
    let mut all = (0..rows.len()).filter(allows).map(does);
    let first = all.next()?;
    all.all(|other| other == first).then_some(first).flatten()
}

/// Ways of waking up that are drawn for each fault.
const WAKES: usize = 40;

/// Plays a procedure on plain machines that wake up as the draw has it, every signal for itself, with each fault that shows
/// only because every way of waking up does it: it must show by the step that is named. How many such groups there are.
pub fn shown_however_latches_wake_up(study: &Study, procedure: &Procedure) -> usize {
    let groups = study.all_groups();
    let looks = procedure.steps.rows().iter().map(|step| step.actions.as_slice());
    let replay = Replay::of(study, &groups, looks, None);
    let known = replay.first_shown(groups.len(), &replay.expected());
    let mut draws = Draws::new(5);
    let mut woken = 0;
    for (group, _) in study.groups.rows().iter().zip(&known).filter(|(_, known)| known.is_none()) {
        let Coverage::Shown(by) = procedure.coverage[group.faults[0]] else { continue };
        for _ in 0..WAKES {
            let mut machine = Plain::new(&study.extracted.logic, Some(&group.behaviour));
            machine.wakes(&mut draws);
            let name = study.faults[group.faults[0]].name(study.extracted.shape.board);
            assert!(machine.shows(study, procedure, by), "{name} by {by:?}");
        }
        woken += 1;
    }
    woken
}

impl Plain<'_> {
    /// Wakes up with every signal drawn for itself. Which of several that want to move does so first is drawn too, or both
    /// halves of a latch would turn over together for ever.
    fn wakes(&mut self, draws: &mut Draws) {
        let mut draw = |value: &mut Bit| *value = Some(draws.below(2) == 1);
        self.now.values.iter_mut().for_each(&mut draw);
        for _ in 0..AT_REST {
            let mut next = self.tick();
            let pairs = || next.values.iter().zip(&self.now.values);
            if pairs().all(|(next, now)| next.is_none() || next == now) {
                return;
            }
            for (value, before) in next.values.iter_mut().zip(&self.now.values) {
                // Where two pull against each other on the way, one of them wins.
                if value.is_none() {
                    draw(value);
                }
                let mut stays = None;
                draw(&mut stays);
                if stays == Some(true) {
                    *value = *before;
                }
            }
            self.now = next;
        }
        panic!("no wake-up comes to rest");
    }

    /// Whether a lamp is wrong at the end of any step up to this one.
    fn shows(&mut self, study: &Study, procedure: &Procedure, by: StepId) -> bool {
        self.set(&study.rig.start());
        procedure.steps.iter().take_while(|(step, _)| *step <= by).any(|(_, step)| {
            for action in &step.actions {
                study.rig.moves(*action).iter().for_each(|step| self.set(step));
            }
            step.expect.iter().any(|&(lamp, good)| {
                let signal = study.extracted.lamp_of[lamp].expect("a lamp has a signal");
                good.zip(self.now.values[signal.index()]).is_some_and(|(good, seen)| good != seen)
            })
        })
    }
}
