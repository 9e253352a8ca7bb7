//! Two faults at once, drawn by number, found from what the lamps would show.
#![allow(missing_docs, clippy::print_stdout, reason = "software tests that may speak")]

#[path = "../../session/tests/bench/mod.rs"]
mod bench;

use bench::{board, steps};
use dryjoint_draws::Draws;
use dryjoint_faults::Priors;
use dryjoint_faults::lanes::{Machine, Shown};
use dryjoint_logic::extract;
use dryjoint_procedure::{Action, GroupId, Replay, Study};
use dryjoint_session::{Seen, Session, Sight};
use dryjoint_verdict::Inquiry;
use std::time::Instant;

/// What the lamps show with two faults, from a machine that carries both.
fn shown(study: &Study, steps: &[Vec<Action>], pair: [GroupId; 2]) -> Vec<Vec<Shown>> {
    let behaviours = pair.map(|id| &study.groups[id].behaviour).to_vec();
    let mut machine = Machine::with(&study.program, &[behaviours]);
    study.rig.start().into_iter().for_each(|(signal, level)| machine.bench(signal, level));
    machine.settle();
    let mut all = Vec::new();
    for actions in steps {
        dryjoint_procedure::act(study, &mut machine, actions);
        let lamps = study.rig.lamps.iter().map(|&(_, signal)| machine.value(signal).shown(1));
        all.push(lamps.collect());
    }
    all
}

/// The true pair among the first three answers for at least 95 of 100 pairs whose
/// joint behaviour differs from every single fault.
fn find_pairs(count: usize) {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let steps = steps(&board, "address");
    let groups = study.all_groups();
    let replay = Replay::of(&study, &groups, steps.iter().map(Vec::as_slice), None);
    let first = replay.first_shown(groups.len(), &replay.expected());
    let alone: Vec<GroupId> =
        groups.iter().zip(first).filter(|(_, first)| first.is_some()).map(|(&id, _)| id).collect();
    let mut draws = Draws::new(5);
    let mut inquiry = Inquiry::new(&study, &Priors::default());
    let (mut found, mut plain, mut tried, mut slowest) = (0, 0, 0, 0.0f64);
    while tried < count {
        let pair = [0, 1].map(|_| alone[draws.below(alone.len())]);
        let seen = shown(&study, &steps, pair);
        // Of one of which no lamp is ever known nothing could differ.
        let open = |index: usize| {
            study.groups[groups[index]].behaviour.table.iter().all(|shown| *shown == Shown::Unknown)
        };
        let differs = |index: usize| {
            open(index)
                || seen.iter().enumerate().any(|(step, lamps)| {
                    lamps.iter().enumerate().any(|(k, &lamp)| {
                        let single = replay.shown(step, index, k);
                        lamp != Shown::Unknown && single != Shown::Unknown && lamp != single
                    })
                })
        };
        if pair[0] == pair[1] || !(0..groups.len()).all(differs) {
            continue;
        }
        tried += 1;
        let mut session = Session::new("2");
        for (at, actions) in steps.iter().enumerate() {
            let look = if at == 0 { session.now() } else { session.act(None, actions) };
            for (&(lamp, _), &there) in study.rig.lamps.iter().zip(&seen[at]) {
                let sight = match there {
                    Shown::One => Sight::Lit,
                    Shown::Zero => Sight::Dark,
                    Shown::Dim => Sight::Dim,
                    Shown::Unknown => continue,
                };
                session.observe(&board, look, Seen::Lamp(lamp, sight));
            }
        }
        let verdict = inquiry.weigh(&session);
        let start = Instant::now();
        let pairs = inquiry.pairs(&session);
        let seconds = start.elapsed().as_secs_f64();
        slowest = slowest.max(seconds);
        let wanted = [pair[0].min(pair[1]), pair[0].max(pair[1])];
        // Every single fault is plainly contradicted by a lamp, but for one that leaves all lamps open: luck may fall with it
        // as the two would have it.
        plain += usize::from(inquiry.favour(&session, &wanted) > 100f64.ln());
        let place = pairs.pairs.iter().position(|known| known.groups.contains(&wanted));
        found += usize::from(place.is_some_and(|place| place < 3));
        println!(
            "{} + {}: place {place:?} of {}, two faults {:.3}, three {:.3}, none {:.3}; {} of {} pairs run in {seconds:.2} s",
            study.faults[study.groups[pair[0]].faults[0]].name(&board),
            study.faults[study.groups[pair[1]].faults[0]].name(&board),
            pairs.pairs.len(),
            pairs.two_faults,
            pairs.three_faults,
            verdict.none_of_these,
            pairs.run,
            pairs.weighed
        );
    }
    println!("{plain} of {tried} plainly unlike every single fault");
    println!("{found} of {tried} among the first three answers; {slowest:.2} s at most");
    assert!(plain * 100 >= tried * 95, "{plain} of {tried}");
    assert!(found * 100 >= tried * 95, "{found} of {tried}");
}

#[test]
fn two_faults_are_found_together() {
    find_pairs(4);
}

#[test]
#[ignore = "slow: minutes; a hundred pairs"]
fn a_hundred_pairs_are_found() {
    find_pairs(100);
}
