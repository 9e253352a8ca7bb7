//! From the first odd lamp to one suspect, on virtual units: every reading comes from the circuit,
//! which shares nothing with the lanes that weigh it.

#![allow(missing_docs, clippy::print_stdout, reason = "software tests that may speak")]

#[path = "../../session/tests/bench/mod.rs"]
mod bench;

use bench::{board, known_to_differ, procedure, steps};
use dryjoint_draws::Draws;
use dryjoint_faults::{FaultId, Priors};
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_procedure::{Costs, Procedure, Study};
use dryjoint_session::{LookId, Seen, Session, Unit};
use dryjoint_units::Ohms;
use dryjoint_verdict::{Deed, Inquiry, Verdict};
use std::time::{Duration, Instant};

/// How a hunt went.
struct Hunt {
    verdict: Verdict,
    looks: usize,
    measurements: usize,
    seconds: f64,
    weighing: Vec<Duration>,
    advising: Vec<Duration>,
}

/// Reads every lamp.
fn look(study: &Study, unit: &Unit, session: &mut Session, at: LookId) {
    for &(lamp, _) in &study.rig.lamps {
        let sight = unit.lamp(lamp).expect("a lamp");
        session.observe(study.extracted.shape.board, at, Seen::Lamp(lamp, sight));
    }
}

/// Follows the advice until there is none.
fn hunt(study: &Study, procedure: &Procedure, fault: FaultId) -> Hunt {
    let board = study.extracted.shape.board;
    let mut unit = Unit::new(study.extracted, &[study.faults[fault]], 1).expect("it comes up");
    let mut inquiry = Inquiry::new(study, &Priors::default());
    let mut session = Session::new("7");
    let mut hunt = Hunt {
        verdict: Verdict::default(),
        looks: 0,
        measurements: 0,
        seconds: 0.0,
        weighing: Vec::new(),
        advising: Vec::new(),
    };
    for _ in 0..150 {
        let start = Instant::now();
        hunt.verdict = inquiry.weigh(&session);
        hunt.weighing.push(start.elapsed());
        let start = Instant::now();
        let next = inquiry.next(procedure, &Costs::default(), &session, &hunt.verdict);
        hunt.advising.push(start.elapsed());
        let Ok(next) = next else { break };
        hunt.seconds += next.seconds.0;
        if session.is_off() && !matches!(next.deed, Deed::Ohms { .. }) {
            unit = Unit::new(study.extracted, &[study.faults[fault]], 1).expect("it comes up");
        }
        let seen = match next.deed {
            Deed::Look { step, actions, .. } => {
                for &action in &actions {
                    unit.act(action).expect("a point is found");
                }
                let first = step.filter(|_| actions.is_empty());
                let at = first.and_then(|step| session.follow(procedure, step));
                let at = at.unwrap_or_else(|| session.act(step, &actions));
                look(study, &unit, &mut session, at);
                hunt.looks += 1;
                continue;
            }
            Deed::Volts { actions, net, .. } => {
                for &action in &actions {
                    unit.act(action).expect("a point is found");
                }
                if !actions.is_empty() {
                    session.act(None, &actions);
                }
                Seen::Volts(net, unit.volts(net).expect("a net"))
            }
            Deed::Supply { .. } => Seen::Supply(unit.supply()),
            Deed::Ohms { red, black, .. } => {
                session.switch_off();
                let ohms = unit.ohms(red.net, black.net).expect("a point is found");
                Seen::Ohms(red.net, black.net, ohms.unwrap_or(Ohms(f64::INFINITY)))
            }
        };
        session.observe(board, session.now(), seen);
        hunt.measurements += 1;
    }
    hunt
}

/// How much the readings favour the likeliest suspect over this fault, chances from before left out;
/// in natural logarithms, nothing where the fault is no suspect.
fn against(study: &Study, verdict: &Verdict, fault: FaultId) -> Option<f64> {
    let board = study.extracted.shape.board;
    let evidence = |&(fault, probability): &(FaultId, f64)| {
        probability.ln() - Priors::default().of(board, &study.faults[fault]).ln()
    };
    let all = || verdict.suspects.iter().flat_map(|suspect| &suspect.faults);
    let own = all().find(|(known, _)| *known == fault).map(evidence)?;
    Some(all().map(evidence).fold(f64::NEG_INFINITY, f64::max) - own)
}

/// Faults drawn by number are hunted; the first suspect holds them, or nothing seen speaks against them.
fn hunt_some(count: usize, number: u64) {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = procedure(&study, &steps(&board, "address"));
    let differ = known_to_differ("address");
    let mut draws = Draws::new(number);
    let (mut first, mut wrong, mut hunted) = (0, Vec::new(), 0);
    let (mut weighing, mut advising) = (Vec::new(), Vec::new());
    while hunted < count {
        let group = &study.groups[Id::at(draws.below(study.groups.len()))];
        let fault = group.faults[draws.below(group.faults.len())];
        let name = study.faults[fault].name(&board);
        if differ.contains(&study.faults[group.faults[0]].name(&board)) {
            continue;
        }
        hunted += 1;
        let hunt = hunt(&study, &procedure, fault);
        let place = hunt.verdict.place_of(fault);
        let against = against(&study, &hunt.verdict, fault);
        let all_well = hunt.verdict.surprises.is_empty() && hunt.verdict.no_fault > 0.5;
        first += usize::from(place == Some(0) || all_well);
        println!(
            "{name}: place {place:?} of {}, against {against:.1?}, {} looks, {} measurements, {:.0} s, {}",
            hunt.verdict.suspects.len(),
            hunt.looks,
            hunt.measurements,
            hunt.seconds,
            if all_well {
                "never shown".to_owned()
            } else {
                format!("none {:.3}", hunt.verdict.none_of_these)
            }
        );
        // Twenty to one is what chance alone does now and then.
        if !all_well && place != Some(0) && against.is_none_or(|against| against > 20f64.ln()) {
            wrong.push(name);
        }
        weighing.extend(hunt.weighing);
        advising.extend(hunt.advising);
    }
    for (what, times) in [("verdict", &mut weighing), ("advice", &mut advising)] {
        times.sort();
        let mean = times.iter().sum::<Duration>() / times.len() as u32;
        println!(
            "{what}: {mean:?} mean, {:?} nine in ten, {:?} at most",
            times[times.len() * 9 / 10],
            times[times.len() - 1]
        );
    }
    println!("{first} of {hunted} in the first suspect or never shown");
    assert!(wrong.len() * 20 <= hunted, "spoken against though at fault: {wrong:?}");
}

#[test]
fn hidden_faults_give_themselves_away() {
    hunt_some(6, 11);
}

#[test]
#[ignore = "slow: ten minutes; two hundred hunts"]
fn two_hundred_hidden_faults_give_themselves_away() {
    hunt_some(200, 12);
}
