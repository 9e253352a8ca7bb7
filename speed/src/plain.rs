//! The plain way to grade: one faulty machine after the other, one signal after the other, each value
//! one `Option<bool>`. Tick by tick like the lanes, so that the work is the same.

use dryjoint_faults::lanes::{Behaviour, Drive, Shown, Target};
use dryjoint_ids::{Id, Side};
use dryjoint_logic::{Function, Level, Logic, SignalId, StageId};

/// One machine with its faults.
pub struct Plain<'l> {
    logic: &'l Logic,
    drivers: &'l Side<SignalId, Vec<StageId>>,
    faults: Vec<&'l Behaviour>,
    bench: Vec<Level>,
    values: Vec<Option<bool>>,
    pulls: Vec<(Option<bool>, Option<bool>)>,
}

/// The stages that drive each signal.
pub fn drivers(logic: &Logic) -> Side<SignalId, Vec<StageId>> {
    let mut drivers = Side::filled(&logic.signals, Vec::new());
    for (id, stage) in logic.stages.iter() {
        drivers[stage.output].push(id);
    }
    drivers
}

impl<'l> Plain<'l> {
    /// A machine at power-on.
    pub fn new(
        logic: &'l Logic,
        drivers: &'l Side<SignalId, Vec<StageId>>,
        faults: Vec<&'l Behaviour>,
    ) -> Self {
        Self {
            logic,
            drivers,
            faults,
            bench: vec![Level::Floating; logic.signals.len()],
            values: vec![None; logic.signals.len()],
            pulls: vec![(None, None); logic.stages.len()],
        }
    }

    /// What the bench puts on a signal.
    pub fn bench(&mut self, signal: SignalId, level: Level) {
        self.bench[signal.index()] = level;
    }

    /// A signal's value.
    pub fn value(&self, signal: SignalId) -> Option<bool> {
        self.values[signal.index()]
    }

    /// Ticks until nothing moves, or gives up.
    pub fn settle(&mut self) {
        for _ in 0..200 {
            for (id, stage) in self.logic.stages.iter() {
                self.pulls[id.index()] = self.contribution(id, &stage.function, &stage.inputs);
            }
            let next: Vec<Option<bool>> =
                self.logic.signals.ids().map(|signal| self.resolve(signal)).collect();
            if next == self.values {
                return;
            }
            self.values = next;
        }
    }

    /// Whether the stage pulls low, and whether it drives high.
    fn contribution(
        &self,
        id: StageId,
        function: &Function,
        inputs: &[SignalId],
    ) -> (Option<bool>, Option<bool>) {
        let Function::Found(rows) = function else { return (None, None) };
        let value = |(pin, signal): (usize, &SignalId)| match self.written(Target::Pin(id, pin as u8)) {
            Some(shown) => known(shown),
            None => self.values[signal.index()],
        };
        let inputs: Vec<Option<bool>> = inputs.iter().enumerate().map(value).collect();
        let fits = |row: usize| {
            inputs.iter().enumerate().all(|(bit, v)| v.is_none_or(|v| v == (row >> bit & 1 != 0)))
        };
        let mut pulls: Option<(Option<bool>, Option<bool>)> = None;
        for (_, level) in rows.iter().enumerate().filter(|(row, _)| fits(*row)) {
            let one = match level {
                Level::Zero | Level::WeakZero => (Some(true), Some(false)),
                Level::One | Level::WeakOne => (Some(false), Some(true)),
                Level::Floating => (Some(false), Some(false)),
                _ => (None, None),
            };
            let same = |a: Option<bool>, b: Option<bool>| if a == b { a } else { None };
            pulls = Some(pulls.map_or(one, |all| (same(all.0, one.0), same(all.1, one.1))));
        }
        pulls.unwrap_or((None, None))
    }

    fn resolve(&self, signal: SignalId) -> Option<bool> {
        if let Some(shown) = self.written(Target::Signal(signal)) {
            return known(shown);
        }
        let (mut low, mut high, mut rest) = self.by_hand(signal);
        for &stage in &self.drivers[signal] {
            let row = &self.logic.stages[stage];
            let (l, h) = self.pulls[stage.index()];
            if row.inputs.is_empty() {
                rest = if l == Some(true) { Some(false) } else { h };
                continue;
            }
            low = either(low, l);
            high = either(high, h);
        }
        match (low, high) {
            (Some(true), Some(false)) => Some(false),
            (Some(false), Some(true)) => Some(true),
            (Some(false), Some(false)) => rest,
            (Some(false), None) if rest == Some(true) => rest,
            (None, Some(false)) if rest == Some(false) => rest,
            _ => None,
        }
    }

    fn by_hand(&self, signal: SignalId) -> (Option<bool>, Option<bool>, Option<bool>) {
        match self.bench[signal.index()] {
            Level::Floating => (Some(false), Some(false), None),
            level => (level.value().map(|v| !v), level.value(), None),
        }
    }

    /// What the first fault that is about a target says of it.
    fn written(&self, target: Target) -> Option<Shown> {
        self.faults.iter().find_map(|fault| self.says(fault, target))
    }

    fn says(&self, fault: &Behaviour, target: Target) -> Option<Shown> {
        let column = fault.writes.iter().position(|&written| written == target)?;
        let (mut row, mut stride) = (0, 1);
        for read in &fault.reads {
            let bench = if read.bench { self.bench[read.signal.index()] } else { Level::Floating };
            let (mut low, mut high) = match bench {
                Level::Floating => (Some(false), Some(false)),
                level => (level.value().map(|v| !v), level.value()),
            };
            for stage in &read.stages {
                let (l, h) = self.pulls[stage.index()];
                low = either(low, l);
                high = either(high, h);
            }
            let drive = match (low, high) {
                (Some(true), Some(false)) => Drive::Low,
                (Some(false), Some(true)) => Drive::High,
                (Some(false), Some(false)) => Drive::Free,
                _ => return Some(Shown::Unknown),
            };
            let Some(at) = read.drives.iter().position(|&known| known == drive) else {
                return Some(Shown::Unknown);
            };
            row += at * stride;
            stride *= read.drives.len();
        }
        Some(fault.table[row * fault.writes.len() + column])
    }
}

fn known(shown: Shown) -> Option<bool> {
    match shown {
        Shown::One => Some(true),
        Shown::Zero => Some(false),
        Shown::Unknown | Shown::Dim => None,
    }
}

fn either(a: Option<bool>, b: Option<bool>) -> Option<bool> {
    match (a, b) {
        (Some(true), _) | (_, Some(true)) => Some(true),
        (Some(false), Some(false)) => Some(false),
        _ => None,
    }
}
