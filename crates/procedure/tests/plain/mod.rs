//! One board as plain as it can be: no lanes, no events, every stage looked up in its rows at every tick. It shares the
//! rows of the stages and the table of the fault with the lanes, and nothing else. What a stage does at each set of inputs
//! is worked out once, and what has come to rest from a state is kept: the same state asks the same many times.

#![allow(dead_code, reason = "each test file uses its share")]

mod luck;

use dryjoint_draws::Draws;
use dryjoint_faults::dial::{BESIDE, Dial, THERE};
use dryjoint_faults::lanes::{Behaviour, Drive, Shown, Target};
use dryjoint_ids::Id;
use dryjoint_logic::{Function, Level, Logic, SignalId, Stage, StageId};
use dryjoint_procedure::{Action, Coverage, Procedure, Replay, Rig, StepId, Study};
use std::collections::HashMap;
use std::rc::Rc;

/// Ticks by which every board here is at rest that comes to rest at all; what still moves then is not known.
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
    pub bench: Vec<Level>,
    /// The good board beside it, where luck has what the fault leaves open fall as there.
    beside: Option<Box<Rest>>,
}

/// What stages do, worked out beforehand.
struct Rows {
    /// Whether each stage pulls low, and whether it drives high, at each set of inputs: [`at`] says where.
    pulls: Vec<Vec<[Bit; 2]>>,
    /// Who drives each signal, and whether weakly.
    drivers: Vec<Vec<(StageId, bool)>>,
}

/// Levels put on signals at once.
type Levels = Vec<(SignalId, Level)>;

/// One board, good or with one fault.
pub struct Plain<'l> {
    logic: &'l Logic,
    rows: Rc<Rows>,
    fault: Option<&'l Behaviour>,
    /// What came of levels put on a board at rest.
    rested: HashMap<Levels, HashMap<Rest, Rest>>,
    pub now: Rest,
    /// What the bench put on signals before, in the first tick after a hand moved.
    held: Option<Vec<Level>>,
    /// Whether what a fault leaves open is open until the board is at rest, where luck hides the fault; and whether it is now.
    late: bool,
    open: bool,
    /// What stood before each tick since a hand moved, and how many have gone by.
    course: Vec<Vec<Bit>>,
    ticks: usize,
    /// The same of the good board beside it, which moved first: luck reads what is open as it stood there at that tick.
    good_course: Vec<Vec<Bit>>,
    /// Whether something has gone on for ever; how much of it is left open hangs on when it is cut off.
    pub restless: bool,
}

impl<'l> Plain<'l> {
    pub fn new(logic: &'l Logic, fault: Option<&'l Behaviour>) -> Self {
        let columns = fault.map_or(0, |fault| fault.writes.len());
        let now = Rest {
            values: vec![None; logic.signals.len()],
            pulls: vec![[None; 2]; logic.stages.len()],
            said: vec![None; columns],
            bench: vec![Level::Floating; logic.signals.len()],
            beside: None,
        };
        let rows = Rc::new(Rows::of(logic));
        let (held, late, open) = (None, false, false);
        let (course, good_course) = (Vec::new(), Vec::new());
        let rested = HashMap::new();
        let (ticks, restless) = (0, false);
        Self { logic, rows, fault, rested, now, held, late, open, course, ticks, good_course, restless }
    }

    /// The same board with another fault, or none, and in another state.
    fn beside<'o>(&'o self, fault: Option<&'o Behaviour>, now: Rest) -> Plain<'o> {
        let rows = self.rows.clone();
        let (held, late, open) = (None, false, false);
        Plain {
            logic: self.logic,
            rows,
            fault,
            rested: HashMap::new(),
            now,
            held,
            late,
            open,
            course: Vec::new(),
            ticks: 0,
            good_course: Vec::new(),
            restless: false,
        }
    }

    /// One with a fault that luck hides wherever it can.
    pub fn lucky(logic: &'l Logic, fault: &'l Behaviour) -> Self {
        let mut lucky = Self::new(logic, Some(fault));
        lucky.now.beside = Some(Box::new(Self::new(logic, None).now));
        lucky
    }

    /// The good board beside one that luck hides.
    pub fn good(&self) -> &Rest {
        self.now.good()
    }

    /// Puts levels on signals, or lets go, and waits until nothing moves. Where luck hides the fault the good board goes
    /// first, and what is left open falls as it stood there at the same tick.
    pub fn set(&mut self, levels: &[(SignalId, Level)]) {
        if let Some(rest) = self.rested.get(levels).and_then(|rested| rested.get(&self.now)) {
            self.now = rest.clone();
            return;
        }
        let before = self.now.clone();
        self.put(levels);
        self.rested.entry(levels.to_vec()).or_default().insert(before, self.now.clone());
    }

    fn put(&mut self, levels: &[(SignalId, Level)]) {
        if let Some(now) = self.now.beside.take() {
            let mut good = self.beside(None, *now);
            good.put(levels);
            let Plain { now, restless, course, .. } = good;
            self.now.beside = Some(Box::new(now));
            self.restless |= restless;
            self.good_course = course;
        }
        // A hand is as quick as a stage: what stands for one sees what it does a tick later.
        self.held = Some(self.now.bench.clone());
        for (signal, level) in levels {
            self.now.bench[signal.index()] = *level;
        }
        self.open = self.late;
        self.course.clear();
        self.settle();
        self.open = false;
        self.good_course.clear();
        self.favour();
    }

    /// Where something goes on for ever whatever has moved is left open, and what follows from the rest is found anew.
    fn settle(&mut self) {
        let before = self.now.clone();
        if !self.come_to_rest() {
            self.restless = true;
            self.now.leave_open(&before);
            self.come_to_rest();
        }
    }

    /// Whether nothing goes on for ever.
    fn come_to_rest(&mut self) -> bool {
        for ticks in 0..AT_REST {
            self.ticks = ticks;
            let next = self.tick();
            self.course.push(self.now.values.clone());
            if self.held.take().is_none() && next == self.now {
                return true;
            }
            self.now = next;
        }
        self.good_course.clear();
        // It goes on for ever, and luck does not end it: first everything that moves is left open, then what is left says
        // again what it says.
        let beside = self.now.beside.take();
        self.until_still(|next, now| next.common(now));
        self.until_still(|next, _| next);
        self.now.beside = beside;
        false
    }

    fn until_still(&mut self, made: impl Fn(Rest, &Rest) -> Rest) {
        loop {
            let next = made(self.tick(), &self.now);
            if next == self.now {
                return;
            }
            self.now = next;
        }
    }

    /// What an action does.
    pub fn act(&mut self, rig: &Rig, action: Action) {
        match action {
            Action::Run(clock, position) => {
                let dial =
                    rig.dials().iter().find(|dial| dial.clock == clock).expect("a clock with a switch");
                self.run(dial, usize::from(position));
            }
            _ => rig.moves(action).iter().for_each(|step| self.set(step)),
        }
    }

    /// A clock left running: eight periods, then so many more as change anything, laid over each other; then the
    /// switch is turned away in either half.
    fn run(&mut self, dial: &Dial, position: usize) {
        let half = |high: bool| {
            let not = dial.complement.map(|signal| (signal, Level::from(!high)));
            std::iter::once((dial.signal, Level::from(high))).chain(not).collect::<Vec<_>>()
        };
        let here = |at: usize| if at == position { THERE } else { Level::Floating };
        let contacts = dial.contacts.iter().enumerate().map(|(at, &contact)| (contact, here(at)));
        self.set(&contacts.chain(dial.fed.map(|fed| (fed, THERE))).collect::<Vec<_>>());
        for _ in 0..8 {
            self.set(&half(true));
            self.set(&half(false));
        }
        let mut low = self.now.clone();
        let mut high = None;
        for _ in 0..24 {
            self.now = low.clone();
            self.set(&half(true));
            let top = self.now.clone();
            self.set(&half(false));
            let both = low.clone().common(&self.now);
            let closed = both == low;
            low = both;
            if closed {
                high = Some(top);
                break;
            }
        }
        let clock = || std::iter::once(dial.signal).chain(dial.complement);
        let away: Vec<(SignalId, Level)> =
            dial.contacts.get(position).copied().into_iter().chain(dial.fed).map(|it| (it, BESIDE)).collect();
        let mut left = |rest: &Rest| {
            self.now = rest.clone();
            if high.is_none() {
                clock().for_each(|signal| self.now.doubt(signal));
            }
            self.set(&away);
            self.now.clone()
        };
        let after = left(&low);
        self.now = match &high {
            Some(high) => after.common(&left(high)),
            None => after,
        };
        for signal in clock().chain(dial.woken).chain(dial.held) {
            self.now.doubt(signal);
        }
    }

    /// All stages once, from what stood before.
    fn tick(&self) -> Rest {
        let mut next = self.now.clone();
        // What stands for a stage sees the drivers as they were, like any stage.
        for column in 0..next.said.len() {
            if !self.joins(column) {
                let held = self.held.as_ref().unwrap_or(&self.now.bench);
                next.said[column] = self.says(column, &self.now.pulls, held).or(self.luck(column));
            }
        }
        next.pulls = self.pulled(&next.said);
        for column in 0..next.said.len() {
            if self.joins(column) {
                next.said[column] = self.says(column, &next.pulls, &self.now.bench).or(self.luck(column));
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
    fn says(&self, column: usize, stages: &[[Bit; 2]], bench: &[Level]) -> Bit {
        let fault = self.fault.expect("there are columns");
        let mut said: Option<Bit> = None;
        for row in 0..fault.rows() {
            let mut rest = row;
            let possible = fault.reads.iter().all(|read| {
                let drive = read.drives[rest % read.drives.len()];
                rest /= read.drives.len();
                let hand = if read.bench { hand(bench[read.signal.index()]) } else { [Some(false); 2] };
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
                Shown::Unknown | Shown::Dim => None,
            };
            if possible {
                said = Some(said.map_or(shown, |known| if known == shown { known } else { None }));
            }
        }
        said.flatten()
    }

    /// What drivers, hand and resistor make of a signal.
    fn made(&self, signal: SignalId, pulls: &[[Bit; 2]]) -> Bit {
        let bench = self.now.bench[signal.index()];
        let [mut low, mut high] = hand(bench);
        let mut rest = Level::Floating;
        for &(id, weak) in &self.rows.drivers[signal.index()] {
            let stage = &self.logic.stages[id];
            if stage.inputs.is_empty() {
                rest = rest.resolve(found(stage)[0]);
            } else if !weak || bench == Level::Floating {
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

/// Whether the hand pulls low, and whether high.
fn hand(bench: Level) -> [Bit; 2] {
    match (bench, bench.value()) {
        (Level::Floating, _) => [Some(false); 2],
        (_, Some(high)) => [Some(!high), Some(high)],
        (_, None) => [None; 2],
    }
}

impl Rest {
    /// Leaves open what is otherwise than it was.
    fn leave_open(&mut self, before: &Self) {
        let now = self.values.iter_mut().chain(self.pulls.iter_mut().flatten());
        let was = before.values.iter().chain(before.pulls.iter().flatten());
        now.zip(was).filter(|(now, was)| *now != *was).for_each(|(now, _)| *now = None);
    }

    /// Nobody knows what the bench puts on a signal.
    fn doubt(&mut self, signal: SignalId) {
        self.bench[signal.index()] = Level::Unknown;
        self.beside.iter_mut().for_each(|beside| beside.doubt(signal));
    }

    /// The good board beside one that luck hides.
    pub fn good(&self) -> &Self {
        self.beside.as_ref().expect("luck hides it")
    }

    /// What tells two states apart: what stages put out follows from it.
    pub fn key(&self) -> [Vec<Bit>; 2] {
        [self.values.clone(), self.said.clone()]
    }

    /// What both agree on, with the hands of this one.
    fn common(mut self, other: &Self) -> Self {
        let meet = |own: &mut Bit, other: &Bit| {
            if own != other {
                *own = None;
            }
        };
        self.values.iter_mut().zip(&other.values).for_each(|(own, other)| meet(own, other));
        self.said.iter_mut().zip(&other.said).for_each(|(own, other)| meet(own, other));
        let pulls = self.pulls.iter_mut().flatten().zip(other.pulls.iter().flatten());
        pulls.for_each(|(own, other)| meet(own, other));
        let beside = self.beside.take().zip(other.beside.as_ref());
        self.beside = beside.map(|(own, other)| Box::new(own.common(other)));
        self
    }
}

impl Plain<'_> {
    /// Whether this fault could sit on the good board that stands here and nothing would move: its table says what it
    /// says, what that leaves open is as on the good board, and every stage puts out what it did.
    pub fn could_rest_with(&self, fault: &Behaviour) -> bool {
        let beside = self.beside(Some(fault), self.now.clone());
        let good = |target: &Target| match *target {
            Target::Signal(signal) => self.now.values[signal.index()],
            Target::Pin(stage, pin) => {
                self.now.values[self.logic.stages[stage].inputs[usize::from(pin)].index()]
            }
        };
        let columns = fault.writes.iter().enumerate();
        let said: Vec<Bit> = columns
            .map(|(column, target)| beside.says(column, &self.now.pulls, &self.now.bench).or(good(target)))
            .collect();
        let [sound, pulls] = [self.pulled(&[]), beside.pulled(&said)];
        self.logic.signals.ids().all(|signal| {
            let set = fault.writes.iter().position(|target| *target == Target::Signal(signal));
            let now = set.map_or_else(|| beside.made(signal, &pulls), |column| said[column]);
            let good = self.now.values[signal.index()];
            // After a run the good board is not told by what stands there alone.
            good.is_none() || now == good || now.is_none() && self.made(signal, &sound).is_none()
        })
    }

    /// What every stage puts out, from what stood before.
    fn pulled(&self, said: &[Bit]) -> Vec<[Bit; 2]> {
        let mut all = self.now.pulls.clone();
        for (id, stage) in self.logic.stages.iter() {
            if !stage.inputs.is_empty() {
                let inputs = (0..stage.inputs.len()).map(|pin| self.input(id, pin, said));
                all[id.index()] = self.rows.pulls[id.index()][at(inputs)];
            }
        }
        all
    }
}

impl Rows {
    fn of(logic: &Logic) -> Self {
        let mut drivers = vec![Vec::new(); logic.signals.len()];
        let mut pulled = Vec::new();
        for (id, stage) in logic.stages.iter() {
            let rows = found(stage);
            let weak = rows.iter().any(|level| matches!(level, Level::WeakZero | Level::WeakOne));
            drivers[stage.output.index()].push((id, weak));
            let sets = 0..3usize.pow(stage.inputs.len() as u32);
            let of = |set: usize| {
                let pins = 0..stage.inputs.len() as u32;
                let inputs: Vec<Bit> = pins.map(|pin| BITS[set / 3usize.pow(pin) % 3]).collect();
                [Level::Zero, Level::One].map(|wanted| pulls(rows, &inputs, wanted))
            };
            pulled.push(sets.map(of).collect());
        }
        Self { pulls: pulled, drivers }
    }
}

/// What a bit can be, in the order in which sets of inputs are counted.
const BITS: [Bit; 3] = [Some(false), Some(true), None];

/// The place of a set of inputs: its digits to the base of three, the first pin's last.
fn at(inputs: impl DoubleEndedIterator<Item = Bit>) -> usize {
    inputs.rev().fold(0, |place, input| 3 * place + input.map_or(2, usize::from))
}

/// The rows of a stage.
fn found(stage: &Stage) -> &[Level] {
    let Function::Found(rows) = &stage.function else { panic!("a board has no gates") };
    rows
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
            assert!(machine.wakes(&mut draws), "no wake-up comes to rest");
            let name = study.faults[group.faults[0]].name(study.extracted.shape.board);
            assert!(machine.shows(study, procedure, by), "{name} by {by:?}");
        }
        woken += 1;
    }
    woken
}

impl Plain<'_> {
    /// Wakes up with every signal drawn for itself. Which of several that want to move does so first is drawn too, or both
    /// halves of a latch would turn over together for ever. Whether it came to rest.
    fn wakes(&mut self, draws: &mut Draws) -> bool {
        self.now.values.iter_mut().for_each(|value| *value = Some(draws.below(2) == 1));
        self.falls(draws)
    }

    /// Comes to rest as the draw has it; whether it did.
    fn falls(&mut self, draws: &mut Draws) -> bool {
        let mut draw = |value: &mut Bit| *value = Some(draws.below(2) == 1);
        for _ in 0..AT_REST {
            let mut next = self.tick();
            let pairs = || next.values.iter().zip(&self.now.values);
            if pairs().all(|(next, now)| next.is_none() || next == now) {
                return true;
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
        false
    }

    /// Whether a lamp is wrong at the end of any step up to this one.
    fn shows(&mut self, study: &Study, procedure: &Procedure, by: StepId) -> bool {
        self.set(&study.rig.start());
        procedure.steps.iter().take_while(|(step, _)| *step <= by).any(|(_, step)| {
            for action in &step.actions {
                self.act(&study.rig, *action);
            }
            step.expect.iter().any(|&(lamp, good)| {
                let signal = study.extracted.lamp_of[lamp].expect("a lamp has a signal");
                good.zip(self.now.values[signal.index()]).is_some_and(|(good, seen)| good != seen)
            })
        })
    }
}
