//! Sure ways held against boards on which luck falls as it is drawn.
//!
//! A way that goes by cases is found with every stage taking one tick. Where it hung on that, or on how a level in between
//! is read, some board would pass it that has the fault. So it is played on two thousand boards that woke up as
//! drawn, whose stages take now one tick and now several, and that read a level in between now one way and now the other
//! ([`Machine::drawn`]). It is claimed only where all of them show a lamp that is wrong. That proves nothing by itself; the
//! cases do, as far as stages are equally quick.
//!
//! Example: a latch that a fault leaves with both halves low while its clock is high falls one way or the other as the
//! clock goes low. A way that wants the pulse behind it to be too short for the next latch shows on equal boards alone.

use crate::replay::{differing, lamps};
use crate::{Action, GroupId, Study};
use dryjoint_draws::Draws;
use dryjoint_faults::lanes::{LANES, Machine, Word};
use dryjoint_logic::Level;

/// How often as many boards as there are lanes are drawn.
const ROUNDS: u64 = 4;
/// How many boards that is.
pub(crate) const BOARDS: usize = ROUNDS as usize * LANES;
/// Periods that a clock makes at the least and at the most where nobody counts them.
const PERIODS: [u32; 2] = [8, 20];

/// Whether every board that is drawn shows a group at one of these looks, each after so many of the actions, against what
/// a good board is expected to show.
pub(crate) fn all_show(
    study: &Study,
    group: GroupId,
    actions: &[Action],
    looks: &[usize],
    expected: &[Vec<Option<bool>>],
) -> bool {
    (1..=ROUNDS).all(|seed| {
        let mut draws = Draws::new(seed);
        let mut machine = at_power_on(study, group, &mut draws);
        let mut left = Word::ALL;
        for (look, expected) in expected.iter().enumerate().take(actions.len() + 1) {
            if look > 0 {
                play(study, &mut machine, actions[look - 1], &mut draws);
            }
            if looks.binary_search(&look).is_ok() {
                left = left & !differing(&lamps(study, &machine), expected);
            }
            if left.is_none() {
                break;
            }
        }
        left.is_none()
    })
}

/// Boards with a group at the moment power comes on, the clocks of all of them standing as drawn.
fn at_power_on<'s>(study: &'s Study, group: GroupId, draws: &mut Draws) -> Machine<'s> {
    let mut machine = Machine::drawn(&study.program, &study.groups[group].behaviour, draws.bits());
    let mut level = || Level::from(draws.below(2) == 1);
    for (signal, start) in study.rig.start() {
        machine.bench(signal, start);
    }
    for dial in study.rig.dials() {
        for signal in [dial.luck, dial.woken, dial.held].into_iter().flatten() {
            machine.bench(signal, level());
        }
    }
    for dial in study.rig.woken() {
        dial.standing(level()).for_each(|(signal, level)| machine.bench(signal, level));
    }
    machine.settle();
    machine
}

/// Lets the boards go through one action; a clock that nobody counts makes as many periods as drawn.
fn play(study: &Study, machine: &mut Machine, action: Action, draws: &mut Draws) {
    let moves = match action {
        Action::Run(clock, position) => {
            let [least, most] = PERIODS;
            let periods = least + draws.below((most - least) as usize) as u32;
            study.rig.run((clock, position), periods, draws.below(2) == 1)
        }
        other => study.rig.moves(other),
    };
    for step in moves {
        step.into_iter().for_each(|(signal, level)| machine.bench(signal, level));
        machine.settle();
    }
}
