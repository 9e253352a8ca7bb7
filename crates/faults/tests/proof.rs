//! Certificates are believed for what they are, and nothing else: each way of tampering with one is refused.

use dryjoint_board::{Board, NetId, PartId};
use dryjoint_faults::proof::{Certificate, Objection, Place, Point, Stand, recheck, stands};
use dryjoint_faults::region::{Effect, Why, certificate, effects};
use dryjoint_faults::{Fault, enumerate};
use dryjoint_logic::{Extracted, extract};
use dryjoint_units::Volts;

/// A latch, a gate behind it and its lamp; a jumper for the gate, and a pin that nothing is behind.
const TEXT: &str = "board small\nuse \"dunlin.cells\"\nrail VCC 5V limit 200mA\nground GND\n\
    J1 header 1=GND 2=VCC 3=/EN 4=D 5=VCC 6=- 7=OUT\nR1 4k7 VCC /EN\nR2 4k7 VCC D\n\
    line /EN J1.3 active low \"take it\"\nbus B J1.4 \"data\"\nDN nor1 D DN\nL take DN /EN Q QN\n\
    G nor2 QN /EN OUT\nLA lampdrive OUT\nlamps OUT DS1\nC1 47u polar +=VCC -=GND\nC2 100n VCC Q\n";

fn small() -> Board {
    let cells = concat!(env!("CARGO_MANIFEST_DIR"), "/../../boards/dunlin.cells");
    let mut loader = |_: &str| std::fs::read(cells).map_err(|error| error.to_string());
    dryjoint_netlist::read("small.board", TEXT, &mut loader).board.expect("a sound board")
}

fn fault(board: &Board, name: &str) -> Fault {
    enumerate(board).into_iter().find(|fault| fault.name(board) == name).unwrap_or_else(|| panic!("{name}"))
}

fn net(board: &Board, name: &str) -> NetId {
    board.nets.iter().find(|(_, net)| net.name == name).expect("a net").0
}

/// The gate's base pull-down open: the fault that design notes and textbooks give as the one no lamp can show.
fn of_open_pull_down(extracted: &Extracted) -> Certificate {
    let board = extracted.shape.board;
    let q = net(board, "G.q");
    let pull_down = board.nets[q].pins.iter().map(|&pin| &board.parts[board.pins[pin].part]);
    let pull_down =
        pull_down.filter(|part| part.pins.iter().any(|&pin| board.pins[pin].net == net(board, "GND")));
    let name = pull_down.map(|part| part.reference.clone()).find(|name| name.starts_with('R')).expect("RE");
    certificate(extracted, &fault(board, &format!("{name}.2 open"))).expect("its levels stay")
}

#[test]
fn every_level_that_stays_has_a_certificate_that_holds() {
    let board = small();
    let (extracted, _) = extract(&board);
    let faults = enumerate(&board);
    let effects = effects(&extracted, &faults);
    let stay = faults.iter().zip(effects.rows()).filter(|(_, e)| **e == Effect::Nothing(Why::LevelsStay));
    let mut held = 0;
    for (fault, _) in stay {
        let certificate = certificate(&extracted, fault).expect("a certificate");
        let found = recheck(&extracted, &certificate).unwrap_or_else(|no| panic!("{}", no.words(&board)));
        assert!(found.rows > 0 && found.alone, "{}", fault.name(&board));
        held += 1;
    }
    assert!(held > 40, "{held} of {}", faults.len());
}

#[test]
fn no_voltage_is_taken_on_trust() {
    let board = small();
    let (extracted, _) = extract(&board);
    let sound = of_open_pull_down(&extracted);
    assert!(recheck(&extracted, &sound).is_ok());
    for which in [0, 1] {
        let places: Vec<Place> = sound.rows[0][which].volts.keys().copied().collect();
        for place in places {
            for off in [0.003, -0.003] {
                let mut wrong = sound.clone();
                *wrong.rows[0][which].volts.get_mut(&place).expect("a place") += off;
                assert!(recheck(&extracted, &wrong).is_err(), "{place:?} {off}");
            }
            let mut without = sound.clone();
            without.rows[0][which].volts.remove(&place);
            assert_eq!(recheck(&extracted, &without), Err(Objection::NoVoltage(place)));
        }
        for fitted in sound.rows[0][which].inner.keys() {
            let mut wrong = sound.clone();
            wrong.rows[0][which].inner.get_mut(fitted).expect("a part")[0] += 0.003;
            assert!(recheck(&extracted, &wrong).is_err(), "{fitted:?}");
        }
    }
}

#[test]
fn every_row_must_be_there_and_in_its_place() {
    let board = small();
    let (extracted, _) = extract(&board);
    let sound = of_open_pull_down(&extracted);
    for a in 0..sound.rows.len() {
        for b in 0..a {
            let mut swapped = sound.clone();
            swapped.rows.swap(a, b);
            // A jumper to ground leaves nothing of who else pulls low: rows alike may change places.
            let alike = sound.rows[a][1].volts.iter().all(|(place, volts)| {
                sound.rows[b][1].volts.get(place).is_some_and(|other| (volts - other).abs() < 1e-3)
            });
            assert!(alike || recheck(&extracted, &swapped).is_err(), "rows {a} and {b}");
        }
    }
    let mut short = sound.clone();
    short.rows.pop();
    assert_eq!(recheck(&extracted, &short), Err(Objection::Rows(sound.rows.len() - 1, sound.rows.len())));
    let mut one_way_less = sound.clone();
    let edge = one_way_less.edges.iter_mut().find(|edge| edge.ways.len() > 2).expect("a stage");
    let at = edge.net;
    edge.ways.pop();
    assert_eq!(recheck(&extracted, &one_way_less), Err(Objection::Drives(at)));
    let mut idle = sound.clone();
    let edge = idle.edges.iter_mut().find(|edge| !edge.bench && edge.ways.len() > 1).expect("a stage");
    let at = edge.net;
    edge.ways[1].1 = Stand::Nobody;
    assert!(
        matches!(recheck(&extracted, &idle), Err(Objection::Drives(net) | Objection::StandIn(net)) if net == at)
    );
}

#[test]
fn the_region_must_be_whole_and_the_fault_in_it() {
    let board = small();
    let (extracted, _) = extract(&board);
    let sound = of_open_pull_down(&extracted);
    // What only stands between a rail and a signal that is held says nothing.
    let says_nothing = |part: PartId| {
        let mut nets = board.parts[part].pins.iter().map(|&pin| board.pins[pin].net);
        nets.all(|net| board.nets[net].supply.is_some() || sound.held.iter().any(|(held, _)| *held == net))
    };
    assert!(sound.parts.iter().filter(|&&part| !says_nothing(part)).count() > 15);
    for left_out in sound.parts.iter().copied().filter(|&part| !says_nothing(part)) {
        let mut less = sound.clone();
        less.parts.retain(|&part| part != left_out);
        assert!(recheck(&extracted, &less).is_err(), "without {}", board.parts[left_out].reference);
    }
    // The same voltages for another fault of the same parts.
    for name in ["open", "missing", "c-e swapped", "PNP fitted"] {
        let transistor = sound.parts.iter().find(|&&part| board.parts[part].reference.starts_with('Q'));
        let reference = &board.parts[*transistor.expect("a transistor")].reference;
        let dot = if name == "open" { ".c" } else { "" };
        let other =
            Certificate { fault: Some(fault(&board, &format!("{reference}{dot} {name}"))), ..sound.clone() };
        assert!(recheck(&extracted, &other).is_err(), "{reference} {name}");
    }
    // A region of nothing agrees with itself, and says nothing of the fault.
    let bridged = |net_at: &str| fault(&board, &format!("{net_at} bridged"));
    let pull_up = board.nets[net(&board, "OUT")].pins.iter().map(|&pin| board.pins[pin].part);
    let pull_up =
        pull_up.into_iter().find(|&part| board.parts[part].reference.starts_with('R')).expect("one");
    let reference = &board.parts[pull_up].reference;
    for one in [Fault::Missing(pull_up), bridged(&format!("{reference}.1-{reference}.2"))] {
        let point = Point {
            volts: one.nets(&board).into_iter().map(|net| (Place::Net(net), 5.0)).collect(),
            ..Point::default()
        };
        let empty = Certificate {
            fault: Some(one),
            core: Vec::new(),
            signals: Vec::new(),
            parts: vec![pull_up],
            held: Vec::new(),
            edges: Vec::new(),
            rows: vec![[point.clone(), point]],
            ..sound.clone()
        };
        assert_eq!(recheck(&extracted, &empty), Err(Objection::NotBuiltIn), "{}", one.name(&board));
    }
    let elsewhere = board.parts.ids().find(|part| !sound.parts.contains(part)).expect("a part");
    let elsewhere = Certificate { fault: Some(Fault::Missing(elsewhere)), ..sound.clone() };
    assert_eq!(recheck(&extracted, &elsewhere), Err(Objection::NotBuiltIn));
}

#[test]
fn a_level_on_its_threshold_keeps_no_side() {
    let board = small();
    let (mut extracted, _) = extract(&board);
    let sound = of_open_pull_down(&extracted);
    let out = net(&board, "OUT");
    let highest_low =
        sound.rows.iter().flatten().map(|point| point.volts[&Place::Net(out)]).filter(|v| *v < 1.0);
    let threshold = Volts(highest_low.fold(0.0, f64::max) + 0.0005);
    for points in extracted.switching.rows().iter().flatten().flatten().map(|p| p.low).collect::<Vec<_>>() {
        assert!(points > threshold, "a sound level lies below {points}");
    }
    let clusters: Vec<_> = extracted.shape.touching[out].clone();
    for cluster in clusters {
        extracted.switching[cluster].iter_mut().flatten().for_each(|points| points.low = threshold);
    }
    assert!(matches!(recheck(&extracted, &sound), Err(Objection::Side(_, net)) if net == out));
}

#[test]
fn reasons_of_structure_are_read_from_the_copper() {
    let board = small();
    let holds = |name: &str| stands(&board, &fault(&board, name)).is_ok();
    // Two pins bring VCC, one brings ground.
    assert!(holds("J1.2 open") && holds("J1.5 open") && !holds("J1.1 open"));
    // OUT leaves the board; a hand ties /EN there.
    assert!(holds("J1.7 open") && !holds("J1.3 open"));
    // A reservoir between the supplies, and one that hangs on a latch; an electrolytic the wrong way round leaks.
    assert!(holds("C1 missing") && !holds("C2 missing") && !holds("C1 reversed"));
    // Nothing is soldered to pin 6.
    assert!(holds("J1.5-J1.6 bridged") && !holds("J1.3-J1.4 bridged"));
    assert!(!holds("R1 missing") && !holds("R1.1 open"));
}

#[test]
fn a_selector_that_feeds_a_stage_is_no_loose_pin() {
    let text = "board fed\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=Y\n\
        S1 selector c=VCC 1=A 2=B\nR1 2k2 A Y\nR2 1k B Y\n";
    let mut loader = |_: &str| Err("no such file".to_owned());
    let board = dryjoint_netlist::read("fed.board", text, &mut loader).board.expect("a sound board");
    let vcc = net(&board, "VCC");
    assert_eq!(stands(&board, &fault(&board, "S1.c open")), Err(Objection::Hangs(vcc)));
}
