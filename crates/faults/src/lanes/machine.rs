//! Five hundred and twelve machines in step.
//!
//! Evaluation follows events: a signal is computed anew when something it depends on moved in any
//! lane. All stages are taken to be equally quick, as they nearly are on a board of one family: the
//! machine goes tick by tick, one stage a tick. Two stages that race each other from the same start
//! then chase each other for ever, and a lane that is not still after twice the board's longest path
//! is called oscillating; what has moved in it becomes unknown (`restless`). So a race that only luck decides is never taken for
//! an answer. What is left known then says again what the rest must be, so that nothing stays unknown only
//! because it moved: a lane ends the same whoever its neighbours are.

use super::behaviour::{Behaviour, Shown};
use super::cover::Cube;
use super::drawn::Coins;
use super::program::{Answer, Op, Program};
use super::round::Round;
use super::spoilt::{Spoilt, Watcher};
use super::state::{Contribution, Forced, State};
use super::together::together;
use super::word::{LANES, Planes, Word};
use dryjoint_logic::{Gate, Level, SignalId, StageId};

/// Inputs gathered once for a stage that has spoilt ones; a wider stage gathers them as it goes.
const WIDEST: usize = 10;

/// What settling found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settled {
    /// Lanes in which something would not come to rest.
    pub oscillating: Word,
    /// Ticks it took.
    pub ticks: usize,
}

/// When what a fault leaves open falls as on the good board beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Luck {
    /// At every moment.
    Always,
    /// Once the board is at rest; while something moves, nobody knows.
    AtRest,
}

/// Five hundred and twelve copies of one board, lane 0 without a fault.
pub struct Machine<'p> {
    pub(super) program: &'p Program,
    pub(super) spoilt: Spoilt,
    pub(super) state: State,
    pub(super) dirty: Vec<u64>,
    /// What the bench is about to put on signals: in the next tick, as a stage would.
    pub(super) hands: Vec<(SignalId, Level)>,
    /// Lanes whose supply is shorted as the jumpers are now.
    pub(super) dark: Word,
    /// Whether and when what a fault leaves open is as on the good board beside it.
    pub(super) luck: Option<Luck>,
    /// Whether it is open right now.
    pub(super) open: bool,
    /// Where luck falls as it is drawn, what it is drawn from.
    pub(super) coins: Option<Coins>,
    /// What is held while the rest comes to rest.
    pub(super) supposed: Vec<(SignalId, Forced)>,
    /// Signals to look up again in this very tick, since what their faults look at was driven anew.
    pub(super) alerted: Vec<u64>,
    /// Whether ticks only go round.
    pub(super) round: Round,
    /// Scratch: how things stood before the ticks.
    pub(super) before: State,
    /// Scratch: the signals of a tick.
    pub(super) now: Vec<u64>,
    /// Scratch: what moves at the end of a tick.
    pub(super) moving: Vec<(SignalId, Planes)>,
}

impl<'p> Machine<'p> {
    /// The machines at the moment power comes on: nothing known, nothing tied.
    ///
    /// Lane `k + 1` carries `behaviours[k]`; at most 511 fit.
    pub fn new(program: &'p Program, behaviours: Vec<Behaviour>) -> Self {
        assert!(behaviours.len() < LANES, "lane 0 is the good machine");
        Self::of(program, behaviours.iter().enumerate().map(|(index, behaviour)| (index + 1, behaviour)))
    }

    /// The same with several faults to a lane: lane `k + 1` carries all of `lanes[k]`.
    pub fn with(program: &'p Program, lanes: &[Vec<&Behaviour>]) -> Self {
        assert!(lanes.len() < LANES, "lane 0 is the good machine");
        let shared: Vec<Vec<Behaviour>> = lanes.iter().map(|behaviours| together(behaviours)).collect();
        let rows = shared.iter().enumerate();
        Self::of(
            program,
            rows.flat_map(|(index, all)| all.iter().map(move |behaviour| (index + 1, behaviour))),
        )
    }

    pub(super) fn of<'a>(
        program: &'p Program,
        behaviours: impl Iterator<Item = (usize, &'a Behaviour)>,
    ) -> Self {
        let spoilt = Spoilt::of(program, behaviours);
        let unknown = Contribution { low: Planes::UNKNOWN, high: Planes::UNKNOWN };
        let state = State {
            values: program.rank.map(|_, _| Planes::UNKNOWN),
            contributions: program.steps.map(|_, _| unknown),
            bench: program.rank.map(|_, _| Level::Floating),
            stands: Vec::new(),
            said: Vec::new(),
        };
        let mut machine = Self {
            round: Round::new(program, &state),
            program,
            spoilt,
            before: state.clone(),
            state,
            dirty: vec![0; program.signal_count().div_ceil(64)],
            alerted: vec![0; program.signal_count().div_ceil(64)],
            hands: Vec::new(),
            now: Vec::new(),
            dark: Word::NONE,
            luck: None,
            open: false,
            coins: None,
            supposed: Vec::new(),
            moving: Vec::new(),
        };
        machine.mark_all();
        machine
    }

    /// Holds input `pin` of `stage` at `value` in `lane`, as a fault on one branch of a net does.
    pub fn hold_pin(&mut self, lane: usize, stage: StageId, pin: usize, value: bool) {
        self.spoilt.hold_pin(lane, stage, pin, if value { Shown::One } else { Shown::Zero });
        self.mark_all();
    }

    /// Everyone who looks at the drivers of `signal` in one of these lanes has to look again: who is joined with it at
    /// once, a stage, which takes its time, in the next tick.
    #[inline(always)]
    pub(super) fn alert(&mut self, signal: SignalId, moved: Word) {
        for (watcher, lanes) in &self.spoilt.watchers[signal] {
            if (*lanes & moved).is_none() {
                continue;
            }
            match *watcher {
                Watcher::Signal(signal, at) => {
                    let table = &mut self.spoilt.tables[signal][at];
                    table.stale = true;
                    let when = if table.delayed { &mut self.dirty } else { &mut self.alerted };
                    mark(when, self.program, signal);
                }
                Watcher::Stage(stage, at) => {
                    self.spoilt.pin_tables[stage][at].1.stale = true;
                    mark(&mut self.dirty, self.program, self.program.steps[stage].output);
                }
            }
        }
    }

    /// The value of `signal` in all lanes.
    pub fn value(&self, signal: SignalId) -> &Planes {
        &self.state.values[signal]
    }

    /// The values of all signals, in order.
    pub fn values(&self) -> &[Planes] {
        self.state.values.rows()
    }

    /// The lanes in which `signal` is not known.
    pub fn unknown(&self, signal: SignalId) -> Word {
        let value = &self.state.values[signal];
        !(value.one | value.zero)
    }

    /// A copy of the state to come back to.
    pub fn save(&self) -> State {
        debug_assert!(self.hands.is_empty(), "saved before the board came to rest");
        let said = self.spoilt.all_tables().map(|table| table.said.value).collect();
        State { said, ..self.state.clone() }
    }

    /// Goes back to a state that this machine saved after settling.
    pub fn restore(&mut self, state: &State) {
        self.state.follow(state);
        self.hands.clear();
        self.spoilt.remember(&state.said);
        self.supply();
        self.dirty.fill(0);
    }

    /// Everything is to be computed anew when the board next comes to rest: needed after a state in which signals
    /// are left open that stand one way or the other, since what hangs on them does not see them move.
    pub fn reconsider(&mut self) {
        self.mark_all();
        self.spoilt.all_tables_mut().for_each(|table| table.stale = true);
    }

    /// Clocks every flip-flop once. Settle before and after.
    pub fn clock(&mut self) {
        let next: Vec<Planes> = self.program.flops.iter().map(|&stage| self.input(stage, 0)).collect();
        for (&stage, value) in self.program.flops.iter().zip(next) {
            self.state.contributions[stage] = Contribution { low: value.inverted(), high: value };
        }
        for signal in self.program.order.iter().copied() {
            if self.program.drivers[signal].iter().any(|&s| matches!(self.program.steps[s].op, Op::Flop)) {
                mark(&mut self.dirty, self.program, signal);
            }
        }
    }

    /// Lets everything come to rest. Where luck hides the faults, what is then left open in a lane falls as on the good
    /// board beside it, as far as the logic holds it so.
    pub fn settle(&mut self) -> Settled {
        if self.coins.is_some() {
            return self.tick_until_rest();
        }
        self.open = self.luck == Some(Luck::AtRest);
        if self.open {
            self.reconsider();
        }
        let settled = self.come_to_rest();
        let was_open = std::mem::take(&mut self.open);
        if self.luck.is_some() && (self.favour() || was_open) {
            self.reconsider();
            self.come_to_rest();
        }
        settled
    }

    fn come_to_rest(&mut self) -> Settled {
        self.before.follow(&self.state);
        let settled = self.tick_until_rest();
        if !settled.oscillating.is_none() {
            self.leave_open(settled.oscillating);
            self.tick_until_rest();
        }
        settled
    }

    fn tick_until_rest(&mut self) -> Settled {
        #[cfg(target_arch = "x86_64")]
        {
            if std::arch::is_x86_feature_detected!("avx512f") {
                // SAFETY: the processor has the feature, as just asked.
                return unsafe { self.settle_avx512() };
            }
            if std::arch::is_x86_feature_detected!("avx2") {
                // SAFETY: the processor has the feature, as just asked.
                return unsafe { self.settle_avx2() };
            }
        }
        self.tick_until_still()
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx512f")]
    fn settle_avx512(&mut self) -> Settled {
        self.tick_until_still()
    }

    #[cfg(target_arch = "x86_64")]
    #[target_feature(enable = "avx2")]
    fn settle_avx2(&mut self) -> Settled {
        self.tick_until_still()
    }

    /// Ticks until nothing moves, and where some lane would not come to rest, from what is still known once more.
    #[inline(always)]
    fn tick_until_still(&mut self) -> Settled {
        let mut settled = Settled { oscillating: Word::NONE, ticks: 0 };
        if self.coins.is_some() {
            let longest = self.longest();
            self.tick(&mut settled, longest);
            return settled;
        }
        let patience = self.program.patience();
        self.tick(&mut settled, patience);
        if settled.ticks > patience {
            // From here on everything should only ever become better known; what moves for ever all the same, as
            // latches may that were supposed on a side, is left open.
            self.mark_all();
            let patience = settled.ticks + 2 * patience;
            self.tick(&mut settled, patience);
        }
        settled
    }

    /// Tick after tick: what the stages put on every signal whose inputs moved is computed from what stood
    /// before the tick, then what that makes of these signals and of those whose faults look at them; then all
    /// move together. Nothing hangs on the order in which signals are taken, or on what moves in other lanes.
    /// After `patience` ticks what still moves becomes unknown.
    #[inline(always)]
    fn tick(&mut self, settled: &mut Settled, patience: usize) {
        let mut moving = std::mem::take(&mut self.moving);
        let mut now = std::mem::take(&mut self.now);
        self.round.forget();
        while self.dirty.iter().any(|limb| *limb != 0) {
            settled.ticks += 1;
            let restless = settled.ticks > patience;
            if restless && self.coins.is_some() {
                break;
            }
            now.clone_from(&self.dirty);
            self.dirty.fill(0);
            for signal in Members::of(&now, &self.program.order) {
                self.look_back(signal);
            }
            self.alerted.fill(0);
            self.hand_over();
            for signal in Members::of(&now, &self.program.order) {
                self.drive(signal, restless);
            }
            for (now, alerted) in now.iter_mut().zip(&self.alerted) {
                *now |= alerted;
            }
            for signal in Members::of(&now, &self.program.order) {
                let value = self.compute(signal, restless, settled);
                if value != self.state.values[signal] {
                    moving.push((signal, value));
                }
            }
            for (signal, value) in moving.drain(..) {
                let value = if self.coins.is_some() { self.fall(signal, value) } else { value };
                self.round.moves(signal, &self.state.values[signal], &value);
                self.state.values[signal] = value;
                for &reader in &self.program.readers[signal] {
                    mark(&mut self.dirty, self.program, reader);
                }
            }
            if !restless && self.coins.is_none() {
                settled.ticks += self.round.over(&self.state, &self.dirty, settled.ticks, patience);
            }
        }
        self.moving = moving;
        self.now = now;
    }

    /// Looks up, before anything is driven anew, what stages with faults make of what stood before.
    #[inline(always)]
    fn look_back(&mut self, signal: SignalId) {
        let Self { spoilt, state, program, .. } = self;
        for &stage in &program.drivers[signal] {
            for (_, table) in &mut spoilt.pin_tables[stage] {
                table.refresh(state);
            }
        }
        for table in &mut spoilt.tables[signal] {
            if table.delayed {
                table.refresh(state);
            }
        }
    }

    /// What the stages put on a signal; whoever looks at it is told when that moves.
    #[inline(always)]
    fn drive(&mut self, signal: SignalId, restless: bool) {
        let program = self.program;
        let mut moved = Word::NONE;
        for &stage in &program.drivers[signal] {
            let old = self.state.contributions[stage];
            let mut new = self.contribution(stage);
            if restless {
                // From here on everything only ever becomes less known, so that the settling ends.
                new = Contribution { low: new.low.common(old.low), high: new.high.common(old.high) };
            }
            if new == old {
                continue;
            }
            moved = moved | new.differs(&old);
            self.round.drives(stage, &old, &new);
            self.state.contributions[stage] = new;
        }
        if !moved.is_none() {
            self.alert(signal, moved);
        }
    }

    /// What a signal is.
    #[inline(always)]
    fn compute(&mut self, signal: SignalId, restless: bool, settled: &mut Settled) -> Planes {
        let mut value = self.resolve(signal);
        if let Some(held) = &self.spoilt.held[signal] {
            value = held.apply(value);
        }
        let Self { spoilt, state, .. } = self;
        for table in &mut spoilt.tables[signal] {
            if !table.delayed {
                table.refresh(state);
            }
            value = table.said.apply(value);
        }
        if self.luck.is_some() {
            value = self.fallen(value);
        }
        for (_, forced) in self.supposed.iter().filter(|(held, _)| *held == signal) {
            value = forced.apply(value);
        }
        if !self.dark.is_none() {
            value = Planes { one: value.one & !self.dark, zero: value.zero & !self.dark };
            if self.program.lamps[signal] {
                value.zero = value.zero | self.dark;
            }
        }
        if restless {
            let old = self.state.values[signal];
            settled.oscillating = settled.oscillating | (value.one ^ old.one) | (value.zero ^ old.zero);
            value = value.common(old);
        }
        value
    }

    /// What drivers, bench and pull resistors make of a signal, before any fault of its own region.
    #[inline(always)]
    fn resolve(&self, signal: SignalId) -> Planes {
        let bench = self.state.bench[signal];
        let (mut any_low, mut no_low) = (Word::NONE, Word::ALL);
        let (mut any_high, mut no_high) = (Word::NONE, Word::ALL);
        match bench {
            Level::Floating => {}
            _ => match bench.value() {
                Some(false) => (any_low, no_low) = (Word::ALL, Word::NONE),
                Some(true) => (any_high, no_high) = (Word::ALL, Word::NONE),
                None => {
                    let known = self.state.stands(signal);
                    (any_low, no_low) = (known.zero, known.one);
                    (any_high, no_high) = (known.one, known.zero);
                }
            },
        }
        for &stage in &self.program.drivers[signal] {
            if self.program.steps[stage].weak && bench != Level::Floating {
                continue;
            }
            let Contribution { low, high } = self.state.contributions[stage];
            any_low = any_low | low.one;
            no_low = no_low & low.zero;
            any_high = any_high | high.one;
            no_high = no_high & high.zero;
        }
        // A driver that only may act agrees with a resistor that holds the same level.
        match self.program.rest[signal] {
            Some(true) => Planes { one: no_low, zero: any_low & no_high },
            Some(false) => Planes { one: any_high & no_low, zero: no_high },
            None => Planes { one: any_high & no_low, zero: any_low & no_high },
        }
    }

    /// A stage's input as its faults leave it.
    #[inline(always)]
    fn input(&self, stage: StageId, pin: usize) -> Planes {
        let mut value = self.state.values[self.program.steps[stage].inputs[pin]];
        for (held, forced) in &self.spoilt.pins[stage] {
            if *held == pin {
                value = forced.apply(value);
            }
        }
        for (at, table) in &self.spoilt.pin_tables[stage] {
            if *at == pin {
                value = table.said.apply(value);
            }
        }
        if self.luck.is_some() { self.fallen(value) } else { value }
    }

    #[inline(always)]
    pub(super) fn contribution(&self, stage: StageId) -> Contribution {
        let step = &self.program.steps[stage];
        let few = step.inputs.len() <= WIDEST;
        let spoilt = !self.spoilt.pins[stage].is_empty() || !self.spoilt.pin_tables[stage].is_empty();
        if spoilt && !few {
            self.evaluate(stage, |pin| self.input(stage, pin))
        } else if spoilt {
            let mut inputs = [Planes::UNKNOWN; WIDEST];
            for (pin, slot) in inputs.iter_mut().enumerate().take(step.inputs.len()) {
                *slot = self.input(stage, pin);
            }
            self.evaluate(stage, |pin| inputs[pin])
        } else {
            self.evaluate(stage, |pin| self.state.values[step.inputs[pin]])
        }
    }

    #[inline(always)]
    fn evaluate(&self, stage: StageId, input: impl Fn(usize) -> Planes) -> Contribution {
        let step = &self.program.steps[stage];
        match &step.op {
            Op::Flop => self.state.contributions[stage],
            Op::Gate(gate) => {
                let high = evaluate_gate(*gate, step.inputs.len(), &input);
                Contribution { low: high.inverted(), high }
            }
            Op::Pull { low, high } => Contribution { low: answer(low, &input), high: answer(high, &input) },
        }
    }

    /// What is left open, as luck has it.
    #[inline(always)]
    fn fallen(&self, value: Planes) -> Planes {
        if self.open { value.neither_where_both() } else { value.first_where_both() }
    }

    pub(super) fn mark_all(&mut self) {
        for rank in 0..self.program.signal_count() {
            self.dirty[rank / 64] |= 1 << (rank % 64);
        }
    }
}

/// The signals of a set, in the order of evaluation. An iterator, not a function that takes a closure: a closure would
/// be built without the wide vectors.
struct Members<'a> {
    set: &'a [u64],
    order: &'a [SignalId],
    limb: usize,
    bits: u64,
}

impl<'a> Members<'a> {
    #[inline(always)]
    fn of(set: &'a [u64], order: &'a [SignalId]) -> Self {
        Self { set, order, limb: 0, bits: set.first().copied().unwrap_or(0) }
    }
}

impl Iterator for Members<'_> {
    type Item = SignalId;
    #[inline(always)]
    fn next(&mut self) -> Option<SignalId> {
        while self.bits == 0 {
            self.limb += 1;
            self.bits = *self.set.get(self.limb)?;
        }
        let place = self.limb * 64 + self.bits.trailing_zeros() as usize;
        self.bits &= self.bits - 1;
        Some(self.order[place])
    }
}

#[inline(always)]
fn evaluate_gate(gate: Gate, inputs: usize, input: &impl Fn(usize) -> Planes) -> Planes {
    let first = input(0);
    let rest = (1..inputs).map(input);
    let and = |a: Planes, b: Planes| Planes { one: a.one & b.one, zero: a.zero | b.zero };
    let or = |a: Planes, b: Planes| Planes { one: a.one | b.one, zero: a.zero & b.zero };
    let xor = |a: Planes, b: Planes| Planes {
        one: (a.one & b.zero) | (a.zero & b.one),
        zero: (a.one & b.one) | (a.zero & b.zero),
    };
    match gate {
        Gate::And => rest.fold(first, and),
        Gate::Nand => rest.fold(first, and).inverted(),
        Gate::Or => rest.fold(first, or),
        Gate::Nor => rest.fold(first, or).inverted(),
        Gate::Xor => rest.fold(first, xor),
        Gate::Xnor => rest.fold(first, xor).inverted(),
        Gate::Buf => first,
        Gate::Not => first.inverted(),
    }
}

#[inline(always)]
fn answer(answer: &Answer, input: &impl Fn(usize) -> Planes) -> Planes {
    Planes { one: any(&answer.yes, input), zero: any(&answer.no, input) }
}

#[inline(always)]
fn any(cubes: &[Cube], input: &impl Fn(usize) -> Planes) -> Word {
    let mut any = Word::NONE;
    for cube in cubes {
        let mut all = Word::ALL;
        let mut literals = cube.high | cube.low;
        while literals != 0 {
            let pin = literals.trailing_zeros() as usize;
            literals &= literals - 1;
            let value = input(pin);
            all = all & if cube.high >> pin & 1 != 0 { value.one } else { value.zero };
        }
        any = any | all;
    }
    any
}

#[inline(always)]
pub(super) fn mark(dirty: &mut [u64], program: &Program, signal: SignalId) {
    let rank = program.rank[signal] as usize;
    dirty[rank / 64] |= 1 << (rank % 64);
}
