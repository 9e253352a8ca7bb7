//! An electrolytic the wrong way round between the supply's leads: what the supply's display says of it, whatever lamps show.

#![allow(missing_docs, reason = "a software test")]

#[path = "../../session/tests/bench/mod.rs"]
mod bench;

use bench::{board, steps};
use dryjoint_faults::{Fault, FaultId, Priors};
use dryjoint_logic::{Extracted, extract};
use dryjoint_procedure::{Action, Study};
use dryjoint_session::{Seen, Session, Unit};
use dryjoint_units::Amps;
use dryjoint_verdict::weigh;

/// Looks of the procedure that are taken.
const LOOKS: usize = 4;

/// All lamps of a unit read at the first looks, and its supply's current at the last where it is asked for.
fn session(study: &Study, faults: &[Fault], steps: &[Vec<Action>], supply: &[Option<Amps>]) -> Session {
    let extracted: &Extracted = study.extracted;
    let board = extracted.shape.board;
    let mut unit = Unit::new(extracted, faults, 1).expect("it comes up");
    let mut session = Session::new("1");
    for (at, actions) in steps.iter().take(LOOKS).enumerate() {
        actions.iter().for_each(|&action| unit.act(action).expect("a point is found"));
        let look = if at == 0 { session.now() } else { session.act(None, actions) };
        for &(lamp, _) in &study.rig.lamps {
            let sight = unit.lamp(lamp).expect("a lamp");
            session.observe(board, look, Seen::Lamp(lamp, sight));
        }
        if let Some(amps) = supply.get(at) {
            session.observe(board, look, Seen::Supply(amps.unwrap_or_else(|| unit.supply())));
        }
    }
    session
}

/// Where a fault stands among the suspects, from 1 on, with the chance of its suspect and its own.
fn place(study: &Study, session: &Session, fault: FaultId) -> Option<(usize, f64, f64)> {
    let verdict = weigh(study, &Priors::default(), session);
    let mut suspects = verdict.suspects.iter().enumerate();
    suspects.find_map(|(at, suspect)| {
        let own = suspect.faults.iter().find(|(known, _)| *known == fault)?.1;
        Some((at + 1, suspect.probability, own))
    })
}

#[test]
fn a_supply_at_its_limit_names_the_reversed_reservoir() {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let steps = steps(&board, "address");
    let fault = study.faults.iter().find(|(_, fault)| fault.name(&board) == "C1 reversed").expect("it").0;
    let reversed = [study.faults[fault]];
    let good: &[Fault] = &[];
    let of = |faults: &[Fault], supply: &[Option<Amps>]| {
        place(&study, &session(&study, faults, &steps, supply), fault)
    };
    // Its unit's supply sags a little, and no lamp tells.
    for supply in [&[None][..], &[None, None]] {
        let (at, chance, own) = of(&reversed, supply).expect("a suspect");
        assert!(at <= 3 && chance == own, "{supply:?}: {at}, {chance} {own}");
        assert!(supply.len() == 1 || (at == 1 && chance > 0.5), "{supply:?}: {at}, {chance}");
    }
    // The same where another supply holds its ground better, and the display shows less.
    let (at, chance, _) = of(good, &[Some(Amps(0.4)), Some(Amps(0.4))]).expect("a suspect");
    assert!(at <= 2 && chance > 0.05, "{at}, {chance}");
    // Lamps alone say nothing of it, and a good supply speaks against it.
    let (_, _, own) = of(&reversed, &[]).expect("a suspect");
    assert!(own < 0.002, "{own}");
    assert_eq!(of(good, &[None]), None);
}
