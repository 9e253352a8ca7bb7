//! Measurements that something has to be done for first, on a small board: what they foretell is held
//! against a virtual unit, whose circuit shares nothing with the lanes that chose them.

#![allow(missing_docs, reason = "a test program")]

use dryjoint_faults::Priors;
use dryjoint_logic::extract;
use dryjoint_procedure::{Costs, Effort, Study, plan};
use dryjoint_session::{Seen, Session, Unit};
use dryjoint_units::Volts;
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

/// Every third fault of the latch is hunted. Somewhere the board as it stands does not tell, and what the
/// lead finds after a line was moved is one of the outcomes that were named beforehand.
#[test]
fn a_lead_finds_what_was_foretold_after_a_line_was_moved() {
    let text = include_str!("../../../cases/verdict/latch.md");
    let text = text.split("```board\n").nth(1).and_then(|text| text.split("```").next()).expect("a board");
    let mut none = |name: &str| Err(format!("no file {name}"));
    let board = dryjoint_netlist::read("latch", text, &mut none).board.expect("a sound board");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    let (mut prepared, mut far, mut found, mut hunted) = (0, Vec::new(), 0, 0);
    for (_, group) in study.groups.iter() {
        let Some(&fault) = group.faults.first() else { continue };
        let name = study.faults[fault].name(&board);
        let Ok(mut unit) = Unit::new(&extracted, &[study.faults[fault]], 1) else { continue };
        let mut session = Session::new("1");
        let mut inquiry = Inquiry::new(&study, &Priors::default());
        let mut verdict = inquiry.weigh(&session);
        for _ in 0..25 {
            let Some(next) = inquiry.next(&procedure, &Costs::default(), &session, &verdict) else { break };
            let (Deed::Look { actions, .. } | Deed::Volts { actions, .. }) = &next.deed else {
                session.observe(&board, session.now(), Seen::Supply(unit.supply()));
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
    assert!(prepared > 0, "no measurement had anything done first");
    assert!(far.len() * 10 <= prepared, "{far:#?}");
    assert!(found * 20 >= hunted * 19, "{found} of {hunted} first");
}
