//! However the latches wake up: what is said of every way of waking up is tried on plain machines that wake up at random.

mod plain;

use dryjoint_board::Board;
use dryjoint_faults::Priors;
use dryjoint_logic::extract;
use dryjoint_procedure::{Costs, Coverage, Effort, Study, Wake, plan};

/// A register of two bits whose load line is not known to work until it has shown both values.
const TEXT: &str = "board register\nuse \"dunlin.cells\"\nrail VCC 5V limit 100mA\nground GND\n\
    J1 header 1=GND 2=VCC 3=/LD 4=D0 5=D1\nR1 4k7 VCC /LD\nR[2..3] 4k7 VCC D[#-2]\n\
    line /LD J1.3 active low \"take the data\"\nbus D J1.4 J1.5 \"data pins\"\nLD nor1 /LD LD\nEN buffer LD EN\n\
    DN[0..1] nor1 D[#] DN[#]\nBIT[0..1] take DN[#] EN B[#] BN[#]\nLA[0..1] lampdrive B[#]\n";

fn register() -> Board {
    let cells = concat!(env!("CARGO_MANIFEST_DIR"), "/../../boards/dunlin.cells");
    let mut loader = |_: &str| std::fs::read(cells).map_err(|error| error.to_string());
    dryjoint_netlist::read("register.board", TEXT, &mut loader).board.expect("a sound board")
}

#[test]
fn a_register_that_never_loads_shows_whatever_it_woke_up_with() {
    let board = register();
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    // It keeps 00, 01, 10 or 11 for ever, and the procedure has it show 11 and then 00.
    let stuck = study.faults.iter().find(|(_, fault)| fault.name(&board) == "EN to VCC").expect("a fault").0;
    assert!(matches!(procedure.coverage[stuck], Coverage::Shown(_)), "{:?}", procedure.coverage[stuck]);
    assert!(plain::shown_however_latches_wake_up(&study, &procedure) > 0);
}

#[test]
fn a_board_wakes_up_the_same_whoever_its_neighbours_in_the_lanes_are() {
    let board = register();
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let groups = study.all_groups();
    let mut woken = 0;
    for opposite in [false, true] {
        let wake = Some(Wake { seed: 3, opposite });
        let many = study.machines(&groups, wake);
        for (index, &group) in groups.iter().enumerate() {
            let alone = study.machines(&[group], wake);
            let (machine, lane) = Study::lane(index);
            for (signal, row) in extracted.logic.signals.iter() {
                let [here, there] = [(&many[machine], lane), (&alone[0], 1)]
                    .map(|(machine, lane)| machine.value(signal).lane(lane));
                assert_eq!(here, there, "{} of {group:?}", row.name);
                woken += usize::from(here.0 != here.1);
            }
        }
    }
    assert!(woken > 0);
}
