//! The virtual unit as a witness: it shares nothing with the lanes, so where the two agree on every
//! lamp of every step the lanes are right about that fault.
#![allow(clippy::print_stdout, reason = "a test that runs for minutes says where it is")]

mod bench;

use bench::{board, known_to_differ, steps};
use dryjoint_board::Board;
use dryjoint_draws::Draws;
use dryjoint_faults::lanes::Shown;
use dryjoint_faults::{Fault, FaultId, Priors};
use dryjoint_logic::extract;
use dryjoint_procedure::{Action, Replay, Study};
use dryjoint_session::{Sight, Unit};
use rayon::prelude::*;
use std::time::Instant;

/// Collectors of the address board that nothing pulls up.
const FED_BACKWARDS: [&str; 3] = ["R166.1 open", "R366.2 open", "R666 missing"];

/// What a unit showed against what the lanes said.
#[derive(Default)]
struct Account {
    compared: usize,
    /// Step, lamp, said, seen.
    differing: Vec<(usize, String, Shown, Sight)>,
    restless: usize,
    failed: Option<String>,
}

fn play(
    study: &Study,
    board: &Board,
    steps: &[Vec<Action>],
    replay: &Replay,
    index: Option<usize>,
    fault: &[Fault],
) -> Account {
    let mut account = Account::default();
    let mut unit = match Unit::new(study.extracted, fault, 1) {
        Ok(unit) => unit,
        Err(failure) => return Account { failed: Some(failure.to_string()), ..account },
    };
    for (at, actions) in steps.iter().enumerate() {
        for &action in actions {
            if let Err(failure) = unit.act(action) {
                account.failed = Some(failure.to_string());
                return account;
            }
            account.restless += usize::from(unit.is_restless());
        }
        for (k, &(lamp, _)) in study.rig.lamps.iter().enumerate() {
            let said = match index {
                Some(index) => replay.shown(at, index, k),
                None => replay.good(at)[k]
                    .map_or(Shown::Unknown, |lit| if lit { Shown::One } else { Shown::Zero }),
            };
            let seen = unit.lamp(lamp).expect("a lamp");
            let wanted = match said {
                Shown::One => Sight::Lit,
                Shown::Zero => Sight::Dark,
                Shown::Unknown | Shown::Dim => continue,
            };
            account.compared += 1;
            if seen != wanted {
                account.differing.push((at, board.parts[lamp].reference.clone(), said, seen));
            }
        }
    }
    account
}

fn report(name: &str, account: &Account, seconds: f64) -> bool {
    println!(
        "{name}: {} compared, {} differ, {} restless moves, {seconds:.1} s{}",
        account.compared,
        account.differing.len(),
        account.restless,
        account.failed.as_ref().map_or(String::new(), |failure| format!("; {failure}"))
    );
    for (step, lamp, said, seen) in account.differing.iter().take(6) {
        println!("    step {step} {lamp}: lanes {said:?}, circuit {seen:?}");
    }
    account.differing.is_empty() && account.failed.is_none()
}

#[test]
fn the_good_unit_and_thirty_faulty_ones_show_what_the_lanes_say() {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let steps = steps(&board, "address");
    let groups = study.all_groups();
    let replay = Replay::of(&study, &groups, steps.iter().map(Vec::as_slice), None);
    let start = Instant::now();
    let good = play(&study, &board, &steps, &replay, None, &[]);
    assert!(report("good", &good, start.elapsed().as_secs_f64()), "the good unit disagrees");
    let differ = known_to_differ("address");
    let mut draws = Draws::new(7);
    let drawn = (0..30).map(|_| {
        let index = draws.below(groups.len());
        let members = &study.groups[groups[index]].faults;
        (index, members[draws.below(members.len())])
    });
    // A collector without its resistor is fed backwards, through the input resistors of its readers.
    let backwards =
        study.faults.ids().filter(|&fault| FED_BACKWARDS.contains(&&*study.faults[fault].name(&board)));
    let backwards = backwards.map(|fault| {
        let group = study.group_of(fault).expect("it changes something");
        (groups.iter().position(|&known| known == group).expect("a group"), fault)
    });
    let drawn: Vec<(usize, FaultId)> = drawn.chain(backwards).collect();
    assert_eq!(drawn.len(), 30 + FED_BACKWARDS.len());
    let accounts: Vec<Account> = drawn
        .par_iter()
        .map(|&(index, fault)| play(&study, &board, &steps, &replay, Some(index), &[study.faults[fault]]))
        .collect();
    let mut sound = true;
    for (&(index, fault), account) in drawn.iter().zip(&accounts) {
        let agree = report(&study.faults[fault].name(&board), account, 0.0);
        let first = study.groups[groups[index]].faults[0];
        sound &= agree || differ.contains(&study.faults[first].name(&board));
    }
    assert!(sound, "the lanes and the circuit disagree on a fault that is not known for it");
}

#[test]
#[ignore = "slow: half an hour; one fault of each group"]
fn every_group_shows_what_the_lanes_say() {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let steps = steps(&board, "address");
    let groups = study.all_groups();
    let replay = Replay::of(&study, &groups, steps.iter().map(Vec::as_slice), None);
    let start = Instant::now();
    let accounts: Vec<Account> = (0..groups.len())
        .into_par_iter()
        .map(|index| {
            let fault = study.faults[study.groups[groups[index]].faults[0]];
            play(&study, &board, &steps, &replay, Some(index), &[fault])
        })
        .collect();
    println!("{} groups in {:?}", groups.len(), start.elapsed());
    let differ = known_to_differ("address");
    let (mut fresh, mut stale) = (Vec::new(), Vec::new());
    for (index, account) in accounts.iter().enumerate() {
        let name = study.faults[study.groups[groups[index]].faults[0]].name(&board);
        let part = !account.differing.is_empty() || account.failed.is_some() || account.restless > 0;
        match (part, differ.contains(&name)) {
            (true, false) => {
                report(&name, account, 0.0);
                fresh.push(name);
            }
            (false, true) => stale.push(name),
            _ => {}
        }
    }
    assert!(fresh.is_empty(), "lanes and circuit part on {fresh:?}");
    assert!(stale.is_empty(), "to be taken off the list, as they agree: {stale:?}");
}
