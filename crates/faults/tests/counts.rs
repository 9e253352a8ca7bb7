//! Fault counts of published circuits.

mod circuits;

use circuits::{own, published};
use dryjoint_faults::gates::StuckFaults;
use dryjoint_logic::Logic;

fn counts(logic: &Logic) -> (usize, usize) {
    let faults = StuckFaults::of(logic);
    (faults.groups.len(), faults.faults.len())
}

/// Brglez & Fujiwara 1985: collapsed faults of their circuits; all faults as counted by Bryan 1988.
#[test]
fn combinational_counts_are_the_published() {
    assert_eq!(counts(&own("c17.v")), (22, 34));
    let table = [
        ("c17", 22, 34),
        ("c432", 524, 864),
        ("c499", 758, 998),
        ("c880", 942, 1760),
        ("c1355", 1574, 2710),
        ("c1908", 1879, 3816),
    ];
    for (name, collapsed, all) in table {
        if let Some(logic) = published(&format!("iscas85/{name}.v")) {
            assert_eq!(counts(&logic), (collapsed, all), "{name}");
        }
    }
}

/// Brglez, Bryan & Kozminski 1989: collapsed faults of their sequential circuits.
#[test]
fn sequential_counts_are_the_published() {
    let table = [
        ("s27", 32),
        ("s298", 308),
        ("s344", 342),
        ("s386", 384),
        ("s641", 467),
        ("s1196", 1242),
        ("s1488", 1486),
    ];
    for (name, collapsed) in table {
        if let Some(logic) = published(&format!("iscas89/{name}.v")) {
            assert_eq!(counts(&logic).0, collapsed, "{name}");
        }
    }
}
