//! What no reading tells apart, and what two faults explain no better than one, on a latch of two gates. The classes
//! are held against a virtual unit, whose circuit shares nothing with the lanes, and against what every technician
//! knows: the two ends of a resistor in series open the same circuit (common practice, no source).

#![allow(missing_docs, reason = "a test program")]

use dryjoint_board::{Board, LineId};
use dryjoint_faults::{FaultId, Priors};
use dryjoint_logic::extract;
use dryjoint_procedure::{Action, Costs, Effort, GroupId, Study, plan};
use dryjoint_session::{Seen, Session, Sight, Unit};
use dryjoint_verdict::Inquiry;

fn board() -> Board {
    let text = include_str!("../../../cases/verdict/latch.md");
    let text = text.split("```board\n").nth(1).and_then(|text| text.split("```").next()).expect("a board");
    dryjoint_netlist::read_alone("latch.board", text).board.expect("a sound board")
}

fn line(board: &Board, name: &str) -> LineId {
    board.lines.iter().find(|(_, line)| line.name == name).map(|(id, _)| id).expect("a line")
}

fn fault(study: &Study, name: &str) -> FaultId {
    let board = study.extracted.shape.board;
    study.faults.iter().find(|(_, fault)| fault.name(board) == name).map(|(id, _)| id).expect("a fault")
}

/// Sets and clears the latch twice; both lamps were read so each time: after set, after clear.
fn session(study: &Study, seen: [[Sight; 2]; 2]) -> Session {
    let board = study.extracted.shape.board;
    let mut session = Session::new("1");
    for _ in 0..2 {
        for (name, sights) in ["/SET", "/CLEAR"].into_iter().zip(seen) {
            let look = session.act(None, &[Action::Pulse(line(board, name))]);
            for (&(lamp, _), sight) in study.rig.lamps.iter().zip(sights) {
                session.observe(board, look, Seen::Lamp(lamp, sight));
            }
        }
    }
    session
}

#[test]
fn one_circuit_is_one_class_and_a_lead_parts_the_rest() {
    let board = board();
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    // The first lamp never comes on.
    let session = session(&study, [[Sight::Dark, Sight::Dark], [Sight::Dark, Sight::Lit]]);
    let mut inquiry = Inquiry::new(&study, &Priors::default());
    let head = inquiry.weigh(&session).suspects.first().cloned().expect("a suspect");
    let classes = inquiry.apart(&procedure, &Costs::default(), &session, &head);
    let mut all: Vec<FaultId> = classes.concat();
    let mut wanted: Vec<FaultId> = head.faults.iter().map(|&(fault, _)| fault).collect();
    all.sort_unstable();
    wanted.sort_unstable();
    assert_eq!(all, wanted, "each fault stands in one class");
    let class = |name: &str| {
        let fault = fault(&study, name);
        classes.iter().position(|class| class.contains(&fault)).expect("a suspect's fault")
    };
    assert_eq!(class("R18.1 open"), class("R18.2 open"));
    assert_eq!(class("R18.1 open"), class("R18 missing"));
    // Without base resistor the driver's base lies at ground, without the lamp's resistor it is driven.
    let base = |name: &str| {
        let mut unit = Unit::new(&extracted, &[study.faults[fault(&study, name)]], 1).expect("it comes up");
        unit.act(Action::Pulse(line(&board, "/SET"))).expect("a point is found");
        let net = board.nets.iter().find(|(_, net)| net.name == "L1.q").map(|(net, _)| net).expect("a net");
        unit.volts(net).expect("a voltage").0
    };
    assert!(base("R17.1 open") < 0.1 && base("R18.1 open") > 0.5);
    assert_ne!(class("R17.1 open"), class("R18.1 open"));
}

#[test]
fn two_faults_are_not_favoured_where_a_single_one_explains_the_lamps() {
    let board = board();
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let group = |name: &str| -> GroupId { study.group_of(fault(&study, name)).expect("a group") };
    let mut inquiry = Inquiry::new(&study, &Priors::default());
    let pair = [group("Q5.c-Q5.e bridged"), group("Q6.c-Q6.e bridged")];
    // Both drivers conduct whatever the latch holds; so they do where base and collector of one gate are joined.
    let both = session(&study, [[Sight::Lit; 2]; 2]);
    inquiry.weigh(&both);
    assert!(inquiry.favour(&both, &pair).abs() < 0.1);
    // A lamp that never comes on is one fault, and no two that light both.
    let dark = session(&study, [[Sight::Dark, Sight::Dark], [Sight::Dark, Sight::Lit]]);
    inquiry.weigh(&dark);
    assert!(inquiry.favour(&dark, &[group("R18.1 open")]).abs() < 0.1);
    assert!(inquiry.favour(&dark, &pair) < -(100f64.ln()));
}
