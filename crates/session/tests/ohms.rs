//! Ohms with power off, as a meter shows them.
#![allow(missing_docs, reason = "software tests")]

use dryjoint_board::Board;
use dryjoint_circuit::Solver;
use dryjoint_faults::{Fault, enumerate};
use dryjoint_logic::extract;
use dryjoint_session::{Wiring, resistance};

fn board() -> Board {
    let text = "board words\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=A\n\
                R1 22k A b\nR2 22k b GND\nR3 2k2 VCC q\nQ1 2N3904 q b GND\nR4 470 VCC n\nDS1 red n q\n";
    let mut loader = |_: &str| Err("no such file".to_owned());
    dryjoint_netlist::read("ohms.board", text, &mut loader).board.expect("a sound board")
}

/// What hangs on the rail counts where neither lead is on ground.
#[test]
fn leads_away_from_ground_short_nothing_to_it() {
    let text = "board words\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=A\n\
                R1 4k7 VCC A\nR2 10k A GND\nR3 1k VCC GND\n";
    let board = dryjoint_netlist::read_alone("float.board", text).board.expect("a sound board");
    let (extracted, _) = extract(&board);
    let net = |name: &str| board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id).unwrap();
    let wiring = Wiring::new(&extracted, &[]);
    let found = resistance(&mut Solver::default(), &wiring, net("A"), net("VCC")).expect("a point");
    // 4k7 beside 10k and 1k in series.
    let wanted = 1.0 / (1.0 / 4700.0 + 1.0 / 11e3);
    assert!(found.is_some_and(|ohms| (ohms.0 - wanted).abs() < 1.0), "{found:?}");
}

fn ohms(fault: Option<&str>, a: &str, b: &str) -> Option<f64> {
    let board = board();
    let (extracted, _) = extract(&board);
    let faults: Vec<Fault> = enumerate(&board);
    let fault = fault.map(|name| *faults.iter().find(|fault| fault.name(&board) == name).expect("a fault"));
    let net = |name: &str| board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id).unwrap();
    let wiring = Wiring::new(&extracted, fault.as_slice());
    let found = resistance(&mut Solver::default(), &wiring, net(a), net(b)).expect("a point");
    found.map(|ohms| ohms.0)
}

/// Series and parallel resistances (Ohm's and Kirchhoff's laws): what the meter shows with the supply away,
/// at a voltage that wakes no junction; a lead adds a hundredth of an ohm.
#[test]
fn resistances_are_those_of_the_parts_between_the_leads() {
    let near = |found: Option<f64>, wanted: f64| found.is_some_and(|ohms| (ohms / wanted - 1.0).abs() < 1e-3);
    assert!(near(ohms(None, "VCC", "q"), 2200.0));
    assert!(near(ohms(None, "A", "b"), 22e3));
    assert!(near(ohms(None, "A", "GND"), 44e3));
    assert!(near(ohms(None, "VCC", "n"), 470.0));
}

#[test]
fn an_open_joint_shows_no_reading_and_a_bridge_nearly_nothing() {
    assert_eq!(ohms(None, "VCC", "GND"), None);
    assert_eq!(ohms(Some("R3.1 open"), "VCC", "q"), None);
    assert_eq!(ohms(Some("R4 missing"), "VCC", "n"), None);
    assert!(ohms(Some("J1.1-J1.2 bridged"), "VCC", "GND").is_some_and(|ohms| ohms < 0.2));
    assert!(ohms(Some("R1 220k"), "A", "b").is_some_and(|ohms| (ohms / 220e3 - 1.0).abs() < 1e-3));
}

/// Which lead is the red one matters to a junction: the diode law, I = IS (exp(V / N VT) - 1), gives a 1N4148 (IS
/// 4.352 nA, N 1.906; VT 25.87 mV at 27 degrees) 156 mV at the 100 nA of the 2 MΩ range, which is 1.56 MΩ; the other way
/// round it lets less than 4.4 nA through, and the 10 nA of the highest range find no way.
#[test]
fn a_junction_reads_one_way_round_only() {
    let text = "board words\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=A\nD1 1N4148 A GND\nR1 4k7 VCC A\n";
    let board = dryjoint_netlist::read_alone("diode.board", text).board.expect("a sound board");
    let (extracted, _) = extract(&board);
    let net = |name: &str| board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id).unwrap();
    let wiring = Wiring::new(&extracted, &[]);
    let read =
        |red, black| resistance(&mut Solver::default(), &wiring, net(red), net(black)).expect("a point");
    let forward = read("A", "GND").expect("a reading");
    assert!((forward.0 / 1.56e6 - 1.0).abs() < 0.03, "{forward}");
    assert_eq!(read("GND", "A"), None);
}

/// What makes the clock is soldered in too: with the plug out its resistors are as much a way as any. Two of
/// 10k from the rail to the two collectors of the pair that swings, and 47k to each base, which no junction joins.
#[test]
fn the_clock_source_is_on_the_dead_board() {
    let text = "board words\nrail VCC 5V limit 100mA\nground GND\nJ1 header 1=GND 2=VCC 3=CLK\n\
        R1 10k VCC CLK\nR2 10k VCC OTHER\nR3 47k VCC B1\nR4 47k VCC B2\nQ1 2N3904 CLK B1 GND\nQ2 2N3904 OTHER B2 GND\n\
        C1 10n CLK B2\nC2 10n OTHER B1\nR5 100k CLK GND\nclock CLK 1kHz\n";
    let Some(board) = dryjoint_netlist::read_alone("clock.board", text).board else {
        panic!("a sound board")
    };
    let (extracted, _) = extract(&board);
    let net = |name: &str| board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id).unwrap();
    let wiring = Wiring::new(&extracted, &[]);
    let found = resistance(&mut Solver::default(), &wiring, net("VCC"), net("CLK")).expect("a point");
    assert!(found.is_some_and(|ohms| (ohms.0 / 10e3 - 1.0).abs() < 0.02), "{found:?}");
}
