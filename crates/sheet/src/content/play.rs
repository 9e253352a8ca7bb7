//! The procedure played on good units in the circuit solver: what the supply gives, what a meter reads.
//!
//! How latches wake up is chance, so several units are woken differently. The first step after which every
//! lamp is known and all units agree on every net is called the reset here: from there on a figure holds for any good unit.

use dryjoint_board::{Board, NetId};
use dryjoint_ids::Side;
use dryjoint_procedure::{Procedure, StepId, Study};
use dryjoint_session::Unit;
use dryjoint_units::{Amps, Volts};

/// Volts that are the same to a meter.
const SAME: f64 = 0.05;

/// What was seen on the way.
pub struct Played {
    /// What the supply gives after power-on, least and most.
    pub woken: Option<(Amps, Amps)>,
    /// What it gives after the steps from the reset on, least and most.
    pub working: Option<(Amps, Amps)>,
    /// The step that resets, and what a meter reads then.
    pub reset: Option<(StepId, Readings)>,
    /// The step whose point the solver did not find, with its reason.
    pub lost: Option<String>,
}

/// A meter's volts on each net; nothing where units differ or no part holds the net.
pub type Readings = Side<NetId, Option<Volts>>;

/// Plays.
pub fn play(study: &Study, procedure: &Procedure) -> Played {
    let board = study.extracted.shape.board;
    let mut played = Played { woken: None, working: None, reset: None, lost: None };
    let mut units = match Unit::good_ones(study.extracted) {
        Ok(units) => units,
        Err(failure) => {
            played.lost = Some(format!("at power-on: {}", failure.told(board)));
            return played;
        }
    };
    for (id, step) in procedure.steps.iter() {
        for &action in &step.actions {
            if let Some(failure) = units.iter_mut().find_map(|unit| unit.act(action).err()) {
                let number = dryjoint_ids::Id::index(id) + 1;
                played.lost = Some(format!("at step {number}: {}", failure.told(board)));
                return played;
            }
        }
        for unit in &units {
            let range = if played.reset.is_none() { &mut played.woken } else { &mut played.working };
            widen(range, unit.supply());
        }
        let known = step.expect.iter().all(|(_, lit)| lit.is_some());
        if played.reset.is_none() && known && agree(board, &units) {
            played.working = Some((units[0].supply(), units[0].supply()));
            played.reset = Some((id, readings(board, &units)));
            // They are all the same from here on.
            units.truncate(1);
        }
    }
    if played.reset.is_none()
        && let Some((last, _)) = procedure.steps.iter().last()
    {
        played.reset = Some((last, readings(board, &units)));
    }
    played
}

fn widen(range: &mut Option<(Amps, Amps)>, amps: Amps) {
    let (least, most) = range.unwrap_or((amps, amps));
    *range = Some((Amps(least.0.min(amps.0)), Amps(most.0.max(amps.0))));
}

fn agree(board: &Board, units: &[Unit]) -> bool {
    units.iter().all(|unit| !unit.is_restless())
        && board.nets.ids().all(|net| units[0].volts(net).is_none() || common(units, net).is_some())
}

fn readings(board: &Board, units: &[Unit]) -> Readings {
    Side::new(&board.nets, |net| common(units, net))
}

/// What all units show on a net.
fn common(units: &[Unit], net: NetId) -> Option<Volts> {
    let first = units[0].volts(net)?;
    let same = |unit: &Unit| unit.volts(net).is_some_and(|volts| (volts.0 - first.0).abs() < SAME);
    units.iter().all(same).then_some(first)
}
