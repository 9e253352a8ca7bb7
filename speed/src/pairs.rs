//! Two faults at once on Dunlin's address board: every pair of groups weighed against what was read, against
//! a plain loop that plays one pair after the other.

use crate::plain::{Plain, drivers};
use crate::{address_board, best_of};
use dryjoint_faults::Priors;
use dryjoint_faults::lanes::Machine;
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_procedure::{Action, GroupId, Study};
use dryjoint_session::{Seen, Session, Sight};
use dryjoint_verdict::Inquiry;
use std::hint::black_box;

/// Pairs that the plain way plays; it would take a day for all.
const PLAIN_PAIRS: usize = 200;

/// The plain way gives a pair up when so many lamps do not fit it: two lamps misread are as good as never.
const REFUTED: usize = 3;

/// Prints the ratio.
pub fn print() {
    let board = address_board();
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let groups = study.all_groups();
    let lines: Vec<_> = board.lines.ids().collect();
    let next = |at: usize| lines[(at + 1) % lines.len()];
    let actions: Vec<Action> = lines
        .iter()
        .enumerate()
        .flat_map(|(at, &line)| [Action::Tie(line), Action::Pulse(next(at)), Action::Release(line)])
        .collect();
    let mut inquiry = Inquiry::new(&study, &Priors::default());
    // The unit at the bench: two faults from different ends of the board, which show.
    let shows = |at: usize| {
        let hidden = [groups[at], groups[(at + groups.len() / 2) % groups.len()]];
        let (session, lit) = read(&study, hidden, &actions);
        (!inquiry.weigh(&session).surprises.is_empty()).then_some((session, lit))
    };
    let Some((session, lit)) = (0..groups.len()).step_by(groups.len().div_ceil(40)).find_map(shows) else {
        println!("no two faults show");
        return;
    };
    let mut weighed = 0;
    let ours = best_of(2, || weighed = black_box(inquiry.pairs(&session)).weighed);
    let drivers = drivers(&extracted.logic);
    let all = groups.len() * (groups.len() - 1) / 2;
    let some: Vec<[GroupId; 2]> = (0..PLAIN_PAIRS).map(|at| pair(at * (all / PLAIN_PAIRS))).collect();
    let plain = best_of(1, || {
        for pair in &some {
            let behaviours = pair.iter().map(|&group| &study.groups[group].behaviour).collect();
            let mut machine = Plain::new(&extracted.logic, &drivers, behaviours);
            black_box(misfits(&study, &mut machine, &actions, &lit));
        }
    });
    let (ours, plain) = (weighed as f64 / ours.as_secs_f64(), some.len() as f64 / plain.as_secs_f64());
    println!("weighing pairs of faults ({weighed} pairs, {} looks)", actions.len());
    println!("  ours  {ours:>12.0} pairs a second, {:.2} s for all", weighed as f64 / ours);
    println!(
        "  plain {plain:>12.0} pairs a second, one after the other, each until {REFUTED} lamps do not fit ({} played)",
        some.len()
    );
    println!("  ratio {:>12.0}", ours / plain);
}

/// A look after each action at a unit with two faults, and whether each lamp was lit.
fn read(study: &Study, hidden: [GroupId; 2], actions: &[Action]) -> (Session, Vec<Vec<Option<bool>>>) {
    let behaviours = hidden.iter().map(|&group| &study.groups[group].behaviour).collect();
    let mut unit = Machine::with(&study.program, &[behaviours]);
    study.rig.start().into_iter().for_each(|(signal, level)| unit.bench(signal, level));
    unit.settle();
    let mut session = Session::new("1");
    let mut lit = Vec::new();
    for &action in actions {
        for step in study.rig.moves(action) {
            step.into_iter().for_each(|(signal, level)| unit.bench(signal, level));
            unit.settle();
        }
        let look = session.act(None, &[action]);
        let seen = study.rig.lamps.iter().map(|&(lamp, signal)| {
            let planes = unit.value(signal);
            let lit = match (planes.one.get(1), planes.zero.get(1)) {
                (true, false) => true,
                (false, true) => false,
                _ => return None,
            };
            let sight = if lit { Sight::Lit } else { Sight::Dark };
            session.observe(study.extracted.shape.board, look, Seen::Lamp(lamp, sight));
            Some(lit)
        });
        lit.push(seen.collect());
    }
    (session, lit)
}

/// The pairs in a row: 1 with 0, 2 with 0 and 1, and so on.
fn pair(at: usize) -> [GroupId; 2] {
    let mut high = 1;
    let mut left = at;
    while left >= high {
        left -= high;
        high += 1;
    }
    [GroupId::at(left), GroupId::at(high)]
}

/// Lamps that a machine does not show as they were read, until it is refuted.
fn misfits(study: &Study, machine: &mut Plain, actions: &[Action], lit: &[Vec<Option<bool>>]) -> usize {
    study.rig.start().into_iter().for_each(|(signal, level)| machine.bench(signal, level));
    machine.settle();
    let mut wrong = 0;
    for (&action, lit) in actions.iter().zip(lit) {
        for step in study.rig.moves(action) {
            step.into_iter().for_each(|(signal, level)| machine.bench(signal, level));
            machine.settle();
        }
        let lamps = study.rig.lamps.iter().zip(lit);
        wrong += lamps
            .filter(|&(&(_, signal), &lit)| {
                machine.value(signal).zip(lit).is_some_and(|(shown, lit)| shown != lit)
            })
            .count();
        if wrong >= REFUTED {
            break;
        }
    }
    wrong
}
