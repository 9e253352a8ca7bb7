//! Clocks, resets and delays of the project's boards, against the figures that their text states.

use dryjoint_board::Board;
use dryjoint_logic::extract;
use dryjoint_netlist::read;
use dryjoint_survey::{Survey, Watch, survey};
use std::path::Path;

fn board(name: &str, change: &dyn Fn(&str) -> String) -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut loader = |path: &str| std::fs::read(folder.join(path)).map_err(|error| error.to_string());
    let text = std::fs::read_to_string(folder.join(name)).expect("the board is there");
    let reading = read(name, change(&text), &mut loader);
    reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
}

/// The survey without any state seen: what belongs to time needs none.
fn timed(board: &Board) -> (Survey, Vec<String>) {
    let (extracted, _) = extract(board);
    let (survey, notices) = survey(&Watch::new(&extracted));
    (survey, notices.iter().map(|notice| format!("{}: {}", notice.code, notice.text)).collect())
}

#[test]
fn the_phase_boards_clock_runs_at_each_of_its_rates() {
    // boards/README.md: .98 Hz, 9.8 Hz and 9.7 kHz with exact parts, half high, half low; by hand from
    // f = .675-.69/(R C) (reference values, section B, row 8: real silicon at 5 V): .98, 9.8, 9.8 k.
    let board = board("phase.board", &|text| text.to_owned());
    let (survey, notices) = timed(&board);
    let found: Vec<(f64, f64)> = survey
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
