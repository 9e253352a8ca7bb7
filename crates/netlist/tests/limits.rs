//! Texts that ask for too much: each is refused with a notice, in bounded work.

use dryjoint_netlist::{Reading, read, read_alone};
use std::fmt::Write as _;

fn codes(reading: &Reading) -> Vec<&'static str> {
    let mut codes: Vec<_> = reading.notices.iter().map(|notice| notice.code).collect();
    codes.dedup();
    codes
}

#[test]
fn cells_forty_deep_are_refused_and_so_are_a_hundred_thousand() {
    for depth in [40, 100_000] {
        let mut text = "ground GND\ncell c0 (a)\nR1 1k a GND\nend\n".to_owned();
        for at in 1..depth {
            write!(text, "cell c{at} (a)\nX c{} a\nend\n", at - 1).unwrap();
        }
        writeln!(text, "TOP c{} n", depth - 1).unwrap();
        let reading = read_alone("x", &text);
        assert_eq!(codes(&reading), ["cells-too-deep"]);
        assert!(reading.notices[0].text.contains(&format!("{depth} deep")), "{}", reading.notices[0].text);
    }
}

#[test]
fn cells_that_double_thirty_times_are_refused() {
    let mut text = "ground GND\ncell c0 (a)\nR1 1k a GND\nend\n".to_owned();
    for at in 1..30 {
        write!(text, "cell c{at} (a)\nX c{below} a\nY c{below} a\nend\n", below = at - 1).unwrap();
    }
    text.push_str("TOP c29 n\n");
    assert_eq!(codes(&read_alone("x", &text)), ["board-too-big"]);
}

#[test]
fn long_names_many_times_over_are_refused() {
    let long = "N".repeat(58);
    let mut text = "ground GND\ncell c0 (a)\nR1 1k a GND\nend\n".to_owned();
    for at in 1..30 {
        write!(text, "cell c{at} (a)\n{long} c{} a\nend\n", at - 1).unwrap();
    }
    writeln!(text, "{long}[0..9999] c29 n\n{long}B[0..9999] c29 n").unwrap();
    assert_eq!(codes(&read_alone("x", &text)), ["board-too-big"]);
}

#[test]
fn ranges_beyond_measure_are_refused() {
    let mut text = "ground GND\n".to_owned();
    for at in 0..300 {
        writeln!(text, "net A{at}_[0..9999]").unwrap();
    }
    assert_eq!(codes(&read_alone("x", &text)), ["ranges-too-many"]);
    // An array of a line that is itself long.
    let text = format!("ground GND\nJ[1..9999] header {}\n", "A ".repeat(900));
    assert_eq!(codes(&read_alone("x", &text)), ["ranges-too-many"]);
}

#[test]
fn files_without_end_are_refused() {
    let mut next = 0;
    let mut loader = |_: &str| {
        next += 1;
        Ok(format!("use \"f{next}\"\n").into_bytes())
    };
    let reading = read("x", "use \"f0\"\nground GND\n", &mut loader);
    assert_eq!(codes(&reading), ["use-too-many"]);
    assert_eq!(reading.sources.files().len(), 256);
}

#[test]
fn words_and_lines_without_end_are_refused_or_read() {
    let reading = read_alone("x", format!("ground GND\nR1 22k {} b\n", "A".repeat(5_000_000)));
    assert_eq!(codes(&reading), ["name-bad", "word-too-long"]);
    assert!(reading.notices.iter().all(|notice| notice.text.len() < 500));
    let drawn = reading.drawn(Default::default());
    assert!(drawn.len() < 20_000, "{}", drawn.len());
    let reading = read_alone("x", format!("ground GND\nnet {}\n", "A ".repeat(1_000_000)));
    assert_eq!(codes(&reading), [] as [&str; 0]);
}

#[test]
fn what_is_no_utf8_is_told_at_its_place() {
    let reading = read_alone("x", b"ground GND\nR1 22k a\xff b\n");
    assert_eq!(codes(&reading), ["name-bad", "not-utf8"]);
    let place = reading.notices[1].place.unwrap();
    assert_eq!(reading.sources.position(place).line, 2);
}

#[test]
fn ten_thousand_notices_are_a_thousand_and_a_count() {
    let mut text = "ground GND\n".to_owned();
    for at in 0..10_000 {
        writeln!(text, "R{at} 22q A{at} B{at}").unwrap();
    }
    let reading = read_alone("x", &text);
    assert_eq!(reading.notices.len(), 1_001);
    let last = reading.notices.last().unwrap();
    assert_eq!((last.code, last.text.as_str()), ("notices-dropped", "9000 more notices are not listed"));
}

#[test]
#[ignore = "slow: takes half a gigabyte"]
fn a_file_of_gigabytes_is_refused() {
    let reading = read_alone("x", vec![b'\n'; (256 << 20) + 1]);
    assert_eq!(codes(&reading), ["file-too-big"]);
}
