//! Measurements that something has to be done for first, on small boards: what they foretell is held
//! against a virtual unit, whose circuit shares nothing with the lanes that chose them.

#![allow(missing_docs, reason = "a test program")]

use dryjoint_board::Board;
use dryjoint_faults::Priors;
use dryjoint_logic::extract;
use dryjoint_procedure::{Costs, Effort, Study, plan};
use dryjoint_session::{Seen, Session, Unit};
use dryjoint_units::{Ohms, Volts};
use dryjoint_verdict::{Deed, Inquiry, Outcome, Sign};

/// Volts further from every outcome than this are not as foretold.
const NEAR: f64 = 0.25;

/// How far a voltage lies from what an outcome says.
fn away(outcome: &Outcome, volts: Volts) -> f64 {
    match outcome.sign {
        Sign::Volts(least, most) => (least.0 - volts.0).max(volts.0 - most.0).max(0.0),
        _ => f64::INFINITY,
    }
}

/// Whether an outcome is this resistance, within a tenth.
fn shows(outcome: &Outcome, ohms: Option<Ohms>) -> bool {
    match (&outcome.sign, ohms) {
        (Sign::Ohms(least, most), Some(ohms)) => (least.0 / 1.1..=most.0 * 1.1 + 0.1).contains(&ohms.0),
        (Sign::Open, None) => true,
        _ => false,
    }
}

/// A fault of every group is hunted on two small boards. Somewhere the board as it stands does not tell, and
/// what the lead finds after a line was moved, or both leads with power off, is one of the outcomes that were
/// named beforehand.
#[test]
fn a_lead_finds_what_was_foretold() {
    let (prepared, dead) = hunted(include_str!("../../../cases/verdict/latch.md"));
    let (_, more) = hunted(include_str!("../../../cases/verdict/gate.md"));
    assert!(prepared > 0, "no measurement had anything done first");
    assert!(dead > 0 && more > 0, "{dead} and {more} measurements without power");
}

/// The board of a case file.
fn board(text: &str) -> Board {
    let text = text.split("```board\n").nth(1).and_then(|text| text.split("```").next()).expect("a board");
    dryjoint_netlist::read_alone("case.board", text).board.expect("a sound board")
}

/// Hunts on the board of a case file: how many measurements had something done first, and how many were made with
/// power off.
fn hunted(text: &str) -> (usize, usize) {
    let board = board(text);
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    let (mut prepared, mut dead, mut far, mut found, mut hunted) = (0, 0, Vec::new(), 0, 0);
    for (_, group) in study.groups.iter() {
        let Some(&fault) = group.faults.first() else { continue };
        let name = study.faults[fault].name(&board);
        let Ok(mut unit) = Unit::new(&extracted, &[study.faults[fault]], 1) else { continue };
        let mut session = Session::new("1");
        let mut inquiry = Inquiry::new(&study, &Priors::default());
        let mut verdict = inquiry.weigh(&session);
        for _ in 0..25 {
            let Ok(next) = inquiry.next(&procedure, &Costs::default(), &session, &verdict) else { break };
            if session.is_off() && !matches!(next.deed, Deed::Ohms { .. }) {
                unit = Unit::new(&extracted, &[study.faults[fault]], 1).expect("it comes up again");
            }
            let (Deed::Look { actions, .. } | Deed::Volts { actions, .. }) = &next.deed else {
                let seen = match &next.deed {
                    Deed::Ohms { red, black, .. } => {
                        session.switch_off();
                        let ohms = unit.ohms(red.net, black.net).expect("a point is found");
                        dead += 1;
                        if !next.outcomes.iter().any(|outcome| shows(outcome, ohms)) {
                            far.push(format!("{name}: {ohms:?} is not foretold"));
                        }
                        Seen::Ohms(red.net, black.net, ohms.unwrap_or(Ohms(f64::INFINITY)))
                    }
                    _ => Seen::Supply(unit.supply()),
                };
                session.observe(&board, session.now(), seen);
                verdict = inquiry.weigh(&session);
                continue;
            };
            actions.iter().for_each(|&action| unit.act(action).expect("a point is found"));
            let first = session.readings().next().is_none() && actions.is_empty();
            let volts = matches!(next.deed, Deed::Volts { .. });
            if !actions.is_empty() || (!volts && !first) {
                session.act(None, actions);
            }
            if let Deed::Volts { net, .. } = next.deed {
                let volts = unit.volts(net).expect("a net");
                if !actions.is_empty() {
                    prepared += 1;
                    let nearest = next.outcomes.iter().map(|outcome| away(outcome, volts));
                    let nearest = nearest.fold(f64::INFINITY, f64::min);
                    if nearest > NEAR {
                        far.push(format!("{name}: {volts} is {nearest:.2} V from what was foretold"));
                    }
                }
                session.observe(&board, session.now(), Seen::Volts(net, volts));
            } else {
                for &(lamp, _) in &study.rig.lamps {
                    session.observe(
                        &board,
                        session.now(),
                        Seen::Lamp(lamp, unit.lamp(lamp).expect("a lamp")),
                    );
                }
            }
            verdict = inquiry.weigh(&session);
        }
        if !verdict.surprises.is_empty() {
            hunted += 1;
            found += usize::from(verdict.place_of(fault) == Some(0));
        }
    }
    // Faults that bring the supply into its limit are not worth solving beforehand, and the rail is elsewhere with them.
    assert!(far.len() * 8 <= prepared + dead, "{far:#?}");
    assert!(found * 20 >= hunted * 19, "{found} of {hunted} first");
    (prepared, dead)
}
