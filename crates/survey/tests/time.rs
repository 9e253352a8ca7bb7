//! Clocks, resets and delays of the project's boards, against the figures that their text states.

use dryjoint_board::Board;
use dryjoint_logic::extract;
use dryjoint_netlist::read;
use dryjoint_survey::{Timing, Watch, timing};
use std::path::Path;

fn board(name: &str, change: &dyn Fn(&str) -> String) -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut loader = |path: &str| std::fs::read(folder.join(path)).map_err(|error| error.to_string());
    let text = std::fs::read_to_string(folder.join(name)).expect("the board is there");
    let reading = read(name, change(&text), &mut loader);
    reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
}

/// Without any state seen: clocks, resets and delays need none.
fn timed(board: &Board) -> (Timing, Vec<String>) {
    let (extracted, _) = extract(board);
    let (timing, notices) = timing(&Watch::new(&extracted));
    (timing, notices.iter().map(|notice| format!("{}: {}", notice.code, notice.text)).collect())
}

#[test]
fn the_phase_boards_clock_runs_at_each_of_its_rates() {
    // boards/README.md: .98 Hz, 9.8 Hz and 9.7 kHz with exact parts, half high, half low; by hand from
    // f = .675-.69/(R C) (reference values, section B, row 8: real silicon at 5 V): .98, 9.8, 9.8 k.
    let board = board("phase.board", &|text| text.to_owned());
    let (timing, notices) = timed(&board);
    let found: Vec<(f64, f64)> = timing
        .clocks
        .iter()
        .map(|beat| beat.found.as_ref().map_or((0.0, 0.0), |f| (f.rate.0, f.duty)))
        .collect();
    for ((rate, duty), stated) in found.iter().zip([0.98, 9.8, 9.7e3]) {
        assert!((rate / stated - 1.0).abs() < 0.01, "{rate} Hz, stated {stated}");
        assert!((duty - 0.5).abs() < 0.01, "{duty}");
    }
    let clock: Vec<&String> = notices.iter().filter(|notice| notice.starts_with("clock")).collect();
    assert!(clock.is_empty(), "{clock:?}");
}

/// Whether some notice of this kind says all of these.
fn says(notices: &[String], code: &str, words: &[&str]) -> bool {
    let fits = |notice: &&String| notice.starts_with(code) && words.iter().all(|word| notice.contains(word));
    notices.iter().any(|notice| fits(&notice))
}

#[test]
fn a_stated_rate_that_is_off_by_a_tenth_is_told_of() {
    let wrong = |text: &str| text.replace("walk=10Hz", "walk=12Hz");
    let (_, notices) = timed(&board("phase.board", &wrong));
    assert!(
        says(&notices, "clock-stated", &["`CLK` runs at 9.789Hz with S1 at walk", "12Hz"]),
        "{notices:?}"
    );
    assert_eq!(notices.iter().filter(|notice| notice.starts_with("clock-")).count(), 1, "{notices:?}");
}

#[test]
fn a_clock_whose_oscillator_lacks_a_part_stands() {
    let without = |text: &str| text.replace("  C1 CT  a bb               at 5.08  17.78\n", "");
    let (timing, notices) = timed(&board("phase.board", &without));
    assert!(says(&notices, "clock-stands", &["`CLK`", "S1 at walk"]), "{notices:?}");
    assert!(timing.clocks[0].found.is_some(), "the slow one has capacitors of its own");
    assert!(timing.clocks[1].found.is_none());
}

#[test]
fn the_reset_is_as_wide_as_published_and_ends_in_one_edge() {
    // Reference values, section C: power-on reset 22k/10 µF into 22k + 22k releases 75-99 ms after power.
    let (timing, notices) = timed(&board("phase.board", &str::to_owned));
    let [reset] = &timing.resets[..] else { panic!("{:?}", timing.resets.len()) };
    let width = reset.width.expect("it is released").0;
    assert!((75e-3..=99e-3).contains(&width), "{width}");
    assert!(reset.high && reset.edges == 1, "{reset:?}");
    // A fifth and a twentieth off, together and either way.
    let (short, long) = reset.range.expect("copies are released too");
    assert!(
        (0.72..0.80).contains(&(short.0 / width)) && (1.22..1.32).contains(&(long.0 / width)),
        "{short} {long}"
    );
    assert!(!notices.iter().any(|notice| notice.starts_with("reset")), "{notices:?}");
    // Through 220k it does not come up to what the gate behind it wants.
    let drained = |text: &str| text.replace("R6 22k VCC POR", "R6 220k VCC POR");
    let (_, notices) = timed(&board("phase.board", &drained));
    assert!(says(&notices, "reset", &["never released", "C1"]), "{notices:?}");
}

#[test]
fn gates_are_as_fast_as_published() {
    // Reference values, section C: fall/rise 183/203 ns with five loads and 50 pF, which is a loaded gate's
    // worst; fewer loads make a slower rise (nobody drains the base) and a faster fall. So the whole
    // family, buffers left out, lies around those figures.
    let board = board("phase.board", &str::to_owned);
    let (timing, _) = timed(&board);
    let (extracted, _) = extract(&board);
    let mut count = 0;
    for (id, stage) in extracted.logic.stages.iter() {
        let net = extracted.logic.signals[stage.output].net;
        let pulled = |part: &dryjoint_board::Part| matches!(part.kind, dryjoint_board::PartKind::Resistor { ohms, .. } if ohms.0 == 2200.0);
        let gate = net.is_some_and(|net| {
            board.nets[net].pins.iter().any(|pin| pulled(&board.parts[board.pins[*pin].part]))
        });
        for delay in timing.delays.of(id).iter().filter(|_| gate) {
            for (found, least, most) in [(delay.rise, 120e-9, 270e-9), (delay.fall, 80e-9, 220e-9)] {
                let Some(found) = found else { continue };
                assert!((least..=most).contains(&found.0), "{}: {found}", stage.name);
                count += 1;
            }
        }
    }
    assert!(count > 150, "{count}");
}
