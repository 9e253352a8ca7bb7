//! What switching off for ohms does to a session.
#![allow(missing_docs, reason = "software tests")]

use dryjoint_board::{Board, LineId, PartId, PartKind};
use dryjoint_ids::{Id, Table};
use dryjoint_procedure::{Action, Procedure, Step, StepId};
use dryjoint_session::{Seen, Session, Sight};
use dryjoint_units::{Ohms, Seconds, Volts};
use proptest::prelude::*;

fn board() -> Board {
    let text = "board words\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=A\n\
                R1 4k7 VCC A\nR2 470 VCC n\nDS1 red n GND\nline A J1.3 active low \"input\"\n";
    dryjoint_netlist::read_alone("words.board", text).board.expect("a sound board")
}

/// A look at the board as it comes up, then steps that tie and release the line.
fn procedure() -> Procedure {
    let line = LineId::at(0);
    let rows = [vec![], vec![Action::Tie(line)], vec![Action::Release(line)], vec![Action::Pulse(line)]];
    let step = |actions| Step { heading: String::new(), actions, expect: Vec::new(), seconds: Seconds(1.0) };
    let steps = rows.into_iter().map(step).collect();
    Procedure { steps, coverage: Table::new(), found_seconds: Seconds(0.0) }
}

fn lamp(board: &Board) -> PartId {
    board.parts.iter().find(|(_, part)| matches!(part.kind, PartKind::Lamp(_))).expect("a lamp").0
}

fn ohms(board: &Board) -> Seen {
    let net = |name: &str| board.nets.iter().find(|(_, net)| net.name == name).expect("a net").0;
    Seen::Ohms(net("VCC"), net("A"), Ohms(4700.0))
}

#[test]
fn after_ohms_the_procedure_begins_anew() {
    let (board, procedure) = (board(), procedure());
    let mut session = Session::new("7");
    session.follow(&procedure, StepId::at(2)).expect("a step");
    assert_eq!(session.done(), Some(StepId::at(2)));
    let off = session.switch_off();
    session.observe(&board, off, ohms(&board));
    assert!(session.is_off());
    assert_eq!(session.done(), None, "power was off");
    assert_eq!(session.switch_off(), off, "off already: the second pair of leads is of the same look");
    let look = session.follow(&procedure, StepId::at(0)).expect("the look as it comes up");
    assert_eq!((look, session.is_off()), (off, false));
    assert_eq!(session.done(), Some(StepId::at(0)));
}

#[test]
fn ohms_before_power_cost_nothing_and_a_lamp_says_that_power_is_on() {
    let board = board();
    let mut session = Session::new("7");
    let first = session.now();
    assert_eq!(session.switch_off(), first, "nothing was done with the power that came on");
    session.observe(&board, first, ohms(&board));
    assert_eq!(session.start_afresh(), first, "it comes on for the first time");
    session.switch_off();
    session.observe(&board, first, Seen::Lamp(lamp(&board), Sight::Lit));
    assert!(!session.is_off());
    assert_ne!(session.switch_off(), first, "what was seen there was seen with power");
}

#[test]
fn a_repair_is_still_resumed_where_it_can_show_after_ohms() {
    let procedure = procedure();
    let mut session = Session::resumed("7", Some(StepId::at(1)));
    session.switch_off();
    assert_eq!(session.done(), Some(StepId::at(1)));
    session.follow(&procedure, StepId::at(2)).expect("a step");
    assert_eq!(session.looks().len(), 2, "step 3 alone was made");
}

proptest! {
    /// Whatever is done in whatever order: after power off nothing is tied, no step is made, and however
    /// often it is switched off in a row there is one look for it.
    #[test]
    fn switching_off_twice_is_switching_off_once(deeds in proptest::collection::vec(0u8..6, 0..12)) {
        let (board, procedure) = (board(), procedure());
        let line = LineId::at(0);
        let net = board.lines[line].net;
        let mut session = Session::new("7");
        for deed in deeds {
            match deed {
                0 => drop(session.act(None, &[Action::Tie(line)])),
                1 => drop(session.start_afresh()),
                2 => drop(session.switch_off()),
                3 => drop(session.observe(&board, session.now(), Seen::Volts(net, Volts(4.0)))),
                4 => drop(session.observe(&board, session.now(), ohms(&board))),
                _ => drop(session.follow(&procedure, StepId::at(1))),
            }
        }
        let off = session.switch_off();
        let looks = session.looks().len();
        prop_assert_eq!(session.switch_off(), off);
        prop_assert_eq!(session.looks().len(), looks);
        prop_assert!(session.is_off() && session.looks()[off].power && session.looks()[off].actions.is_empty());
        prop_assert_eq!(session.done(), None);
        let dead = session.readings().filter(|(_, reading)| reading.look == off);
        prop_assert!(dead.into_iter().all(|(_, reading)| !reading.seen.needs_power()));
        let on = session.start_afresh();
        prop_assert_eq!(on, off);
        prop_assert!(!session.is_off());
    }
}
