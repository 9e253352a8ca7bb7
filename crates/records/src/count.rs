//! What all units together tell: which faults were found, how many boards worked at once, how long each
//! took.

use crate::{Entry, Kind, Store, StoreError, standing};
use std::collections::BTreeMap;

/// How often one kind of fault was found on one board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FaultCount {
    /// What sort of fault.
    pub kind: String,
    /// The board's name.
    pub board: String,
    /// Repairs of it.
    pub count: usize,
}

/// What the units of one board came to.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardCount {
    /// The board's name.
    pub board: String,
    /// Units entered.
    pub units: usize,
    /// Those that went through their whole procedure as expected.
    pub passed: usize,
    /// Of those, the ones that needed no repair before.
    pub first_pass: usize,
    /// Minutes at the bench up to the first pass, on the mean over the units that passed.
    pub minutes: Option<f64>,
}

/// A longer time than this between two entries was a break.
const BREAK_MINUTES: f64 = 5.0;

impl Store {
    /// Faults repaired on real units, by kind and board, the most frequent first.
    pub fn faults(&self) -> Result<Vec<FaultCount>, StoreError> {
        let mut counts: BTreeMap<(String, String), usize> = BTreeMap::new();
        for unit in self.units()?.into_iter().filter(|unit| unit.practice.is_none()) {
            for entry in self.log(&unit)?.into_iter().filter(|entry| entry.kind == Kind::Repair) {
                let kind = if entry.fault_kind.is_empty() { "not said".to_owned() } else { entry.fault_kind };
                *counts.entry((kind, unit.board.clone())).or_default() += 1;
            }
        }
        let mut faults: Vec<FaultCount> =
            counts.into_iter().map(|((kind, board), count)| FaultCount { kind, board, count }).collect();
        faults.sort_by(|a, b| {
            b.count.cmp(&a.count).then_with(|| (&a.kind, &a.board).cmp(&(&b.kind, &b.board)))
        });
        Ok(faults)
    }

    /// What the real units of each board came to, by the board's name.
    pub fn boards(&self) -> Result<Vec<BoardCount>, StoreError> {
        let mut boards: BTreeMap<String, (BoardCount, f64)> = BTreeMap::new();
        for unit in self.units()?.into_iter().filter(|unit| unit.practice.is_none()) {
            let log = self.log(&unit)?;
            let (count, minutes) = boards.entry(unit.board.clone()).or_insert_with(|| {
                let board = unit.board.clone();
                (BoardCount { board, units: 0, passed: 0, first_pass: 0, minutes: None }, 0.0)
            });
            count.units += 1;
            let Some(end) = log.iter().position(|entry| entry.kind == Kind::Passed) else { continue };
            let before = &log[..=end];
            count.passed += 1;
            count.first_pass += usize::from(!before.iter().any(|entry| entry.kind == Kind::Repair));
            *minutes += minutes_of(before);
        }
        Ok(boards
            .into_values()
            .map(|(count, minutes)| BoardCount {
                minutes: (count.passed > 0).then(|| minutes / count.passed as f64),
                ..count
            })
            .collect())
    }

    /// What stands of all sessions on a unit.
    fn log(&self, unit: &crate::UnitRow) -> Result<Vec<Entry>, StoreError> {
        let mut log = Vec::new();
        for session in self.sessions(unit.id)? {
            log.extend(standing(&self.entries(session.id)?));
        }
        Ok(log)
    }
}

/// The time between entries, breaks left out.
fn minutes_of(entries: &[Entry]) -> f64 {
    let gaps = entries.windows(2).map(|pair| pair[1].at.0.saturating_sub(pair[0].at.0) as f64 / 60_000.0);
    gaps.filter(|gap| (0.0..=BREAK_MINUTES).contains(gap)).sum()
}
