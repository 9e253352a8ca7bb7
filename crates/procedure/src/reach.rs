//! Proof by trying everything: every state that hands can bring about, on the good and on the faulty board side
//! by side, from the moment power comes on.
//!
//! A board with few latches and lines has some thousands of such states. Where none of them has a lamp
//! that differs, or may, no procedure of any length shows the fault. The states are three-valued, so
//! that one stands for every way in which the latches may have woken up.

use crate::replay::{act, good_lamps, lamps};
use crate::rig::is_momentary;
use crate::search::Aim;
use crate::{Action, GroupId, Study};
use dryjoint_board::LineId;
use dryjoint_faults::lanes::{Machine, State};
use dryjoint_ids::Side;
use std::collections::BTreeSet;

/// States after which it is given up.
const MOST_STATES: usize = 20_000;

/// A state that was reached and not yet tried: the machine, and which lines are tied.
type Stop = (State, Side<LineId, bool>);

/// How many states are within reach, where in none of them a lamp differs, or may differ, with the group in it; nothing
/// where one does, and where there are more states than can be tried.
pub fn reach(study: &Study, group: GroupId) -> Option<usize> {
    let board = study.extracted.shape.board;
    let mut machines = study.machines(&[group], None);
    let machine = &mut machines[0];
    let ties = Side::filled(&board.lines, false);
    let mut seen = BTreeSet::from([key(study, machine, &ties)]);
    let mut open: Vec<Stop> = vec![(machine.save(), ties)];
    while let Some((state, ties)) = open.pop() {
        for action in actions(study, &ties) {
            machine.restore(&state);
            act(study, machine, &[action]);
            let shown = lamps(study, machine);
            if Aim::Chance.sees(&shown, &good_lamps(&shown)).get(1) {
                return None;
            }
            let mut ties = ties.clone();
            match action {
                Action::Tie(line) => ties[line] = true,
                Action::Release(line) => ties[line] = false,
                Action::Pulse(_) | Action::Wait(_) | Action::Run(..) => {}
            }
            if seen.insert(key(study, machine, &ties)) {
                if seen.len() > MOST_STATES {
                    return None;
                }
                open.push((machine.save(), ties));
            }
        }
    }
    Some(seen.len())
}

/// Everything that the hands can do next. A held button is let go before anything else is done: nobody has a
/// third hand.
fn actions(study: &Study, ties: &Side<LineId, bool>) -> Vec<Action> {
    let board = study.extracted.shape.board;
    if let Some(held) = board.lines.ids().find(|&line| ties[line] && is_momentary(board, line)) {
        return vec![Action::Release(held)];
    }
    let each = board.lines.ids().flat_map(|line| match ties[line] {
        true => vec![Action::Release(line)],
        false => vec![Action::Tie(line), Action::Pulse(line)],
    });
    each.chain((!board.clocks.is_empty()).then_some(Action::Wait(1))).chain(study.rig.runs()).collect()
}

/// All signals of both boards, two bits each, and the ties.
fn key(study: &Study, machine: &Machine, ties: &Side<LineId, bool>) -> Vec<u8> {
    let signals = study.extracted.logic.signals.ids().map(|signal| {
        let planes = machine.value(signal);
        let bits = [planes.one.get(0), planes.zero.get(0), planes.one.get(1), planes.zero.get(1)];
        bits.iter().fold(0u8, |all, &bit| all << 1 | u8::from(bit))
    });
    signals.chain(ties.rows().iter().map(|&tied| u8::from(tied))).collect()
}
