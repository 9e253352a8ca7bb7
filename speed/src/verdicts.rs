//! The verdict and the advice after each reading, while drawn faults are hunted on Dunlin's boards; against the
//! plain way, which weighs the session from its start each time. What is played while hands are at what was asked for
//! nobody waits for; it is told beside them.

use crate::hunt::Hunter;
use crate::unit::Stuff;
use crate::{address_board, best_of, phase_board};
use dryjoint_board::Board;
use dryjoint_draws::Draws;
use dryjoint_faults::Priors;
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_procedure::{Costs, Effort, Study, plan};
use dryjoint_verdict::weigh;
use std::hint::black_box;
use std::time::Duration;

/// Faults hunted on the address board, and on the phase board: fewer, since its study and its procedure come first.
const HUNTS: [usize; 2] = [40, 8];

/// Prints what a person waits for, and the ratio.
pub fn print() {
    for (board, hunts) in [address_board(), phase_board()].iter().zip(HUNTS) {
        row(board, hunts);
    }
}

fn row(board: &Board, hunts: usize) {
    let (extracted, _) = extract(board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    let mut draws = Draws::new(9);
    let (mut weighing, mut advising, mut playing) = (Vec::new(), Vec::new(), Vec::new());
    let (mut kept, mut afresh) = (Duration::ZERO, Duration::ZERO);
    for number in 0..hunts {
        let misread = if number % 2 == 0 { 0.0 } else { 0.01 };
        let costs = Costs::default();
        let stuff = Stuff::Circuit;
        let hunter = Hunter { study: &study, procedure: &procedure, costs, meter: true, misread, stuff };
        let hunt = hunter.hunt(Id::at(draws.below(study.groups.len())));
        kept += hunt.weighing.last().copied().unwrap_or_default();
        afresh += best_of(1, || drop(black_box(weigh(&study, &Priors::default(), &hunt.session))));
        weighing.extend(hunt.weighing);
        advising.extend(hunt.advising);
        playing.extend(hunt.playing);
    }
    println!(
        "a verdict after each reading ({hunts} hunts on the {} board, {} groups)",
        board.name,
        study.groups.len()
    );
    for (what, times) in
        [("verdict     ", &mut weighing), ("advice      ", &mut advising), ("played early", &mut playing)]
    {
        times.sort();
        let mean = times.iter().sum::<Duration>() / times.len() as u32;
        println!(
            "  {what} {:>8.1?} mean, {:.1?} nineteen in twenty, {:.1?} at most ({})",
            mean,
            times[times.len() * 19 / 20],
            times[times.len() - 1],
            times.len()
        );
    }
    println!("  from the start {:>8.1?} mean", afresh / hunts as u32);
    println!("  ratio {:>12.2}", kept.as_secs_f64() / afresh.as_secs_f64());
}
