//! Grading a board's faults: 511 to a machine against one at a time, on Dunlin's address board.

use crate::plain::{Plain, drivers};
use crate::{address_board, best_of};
use dryjoint_faults::Priors;
use dryjoint_logic::extract;
use dryjoint_procedure::{Action, GroupId, Replay, Study};
use std::hint::black_box;

/// Groups the plain way grades; it would take minutes for all.
const PLAIN_GROUPS: usize = 24;

/// Prints the ratio.
pub fn print() {
    let board = address_board();
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    // Every line pulsed, then every pair in a row: work of the kind a procedure is.
    let lines: Vec<_> = board.lines.ids().collect();
    let actions: Vec<Action> = lines
        .iter()
        .flat_map(|&a| lines.iter().flat_map(move |&b| [Action::Pulse(a), Action::Pulse(b)]))
        .collect();
    let groups = study.all_groups();
    let ours = best_of(3, || {
        black_box(Replay::of(&study, &groups, actions.iter().map(std::slice::from_ref), None));
    });
    let drivers = drivers(&extracted.logic);
    let few: Vec<GroupId> = groups.iter().copied().step_by(groups.len().div_ceil(PLAIN_GROUPS)).collect();
    let plain = best_of(1, || {
        for &group in &few {
            let mut machine = Plain::new(&extracted.logic, &drivers, vec![&study.groups[group].behaviour]);
            for (signal, level) in study.rig.start() {
                machine.bench(signal, level);
            }
            machine.settle();
            for step in actions.iter().flat_map(|&action| study.rig.moves(action)) {
                for (signal, level) in step {
                    machine.bench(signal, level);
                }
                machine.settle();
            }
            black_box(study.rig.lamps.iter().map(|&(_, lamp)| machine.value(lamp)).collect::<Vec<_>>());
        }
    });
    let rate = |groups: usize, seconds: f64| groups as f64 * actions.len() as f64 / seconds;
    let (ours, plain) = (rate(groups.len(), ours.as_secs_f64()), rate(few.len(), plain.as_secs_f64()));
    println!("grading a board ({} fault groups, {} actions each)", groups.len(), actions.len());
    println!("  lanes {ours:>12.0} group-actions a second");
    println!("  plain {plain:>12.0} group-actions a second, one machine at a time");
    println!("  ratio {:>12.0}", ours / plain);
}
