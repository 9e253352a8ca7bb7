//! The kinds of stages of the RTL family against figures computed outside this program (shared
//! reference of the family: one NOR of 2k2, 22k, 22k, an independent solver, 2N3904 at 5 V).
#![allow(missing_docs, reason = "software tests")]

use dryjoint_logic::extract;
use dryjoint_netlist::read_alone;
use dryjoint_survey::{Watch, survey};

#[test]
fn the_high_of_a_nor_falls_with_its_loads_as_computed_elsewhere() {
    let text = "board nor \"NORs\"\nrail VCC 5V limit 200mA\nground GND\nJ1 header 1=GND 2=VCC 3=A 4=Y\n\
        R1 4k7 VCC A\nline A J1.3 active low \"a\"\n\
        R2 22k A q1\nR3 22k q1 GND\nR4 2k2 VCC b\nQ1 2N3904 c=b b=q1 e=GND\n\
        R5 22k b q2\nR6 22k q2 GND\nR7 2k2 VCC Y\nQ2 2N3904 c=Y b=q2 e=GND\n";
    let reading = read_alone("nor.board", text);
    let board = reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices));
    let (extracted, _) = extract(&board);
    let (survey, _) = survey(&Watch::new(&extracted));
    let [kind] = &survey.kinds[..] else { panic!("one kind, not {:?}", survey.kinds) };
    assert_eq!(kind.drivers.len(), 2);
    for (loads, volts) in [(1, 4.61), (3, 4.01), (5, 3.56), (8, 3.08), (10, 2.84)] {
        assert!((kind.high[loads].0 / volts - 1.0).abs() < 0.02, "{loads}: {} or {volts}", kind.high[loads]);
    }
    let (low, high) = kind.reads;
    assert!((low.0 - 1.16).abs() < 0.04 && (high.0 - 1.72).abs() < 0.04, "{low} {high}");
    assert!(kind.curve.windows(2).all(|pair| pair[1].1 <= pair[0].1 + 1e-9), "the output only falls");
}
