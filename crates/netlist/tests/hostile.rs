//! No text makes the door panic, hang or run away; and whatever reads without an error prints as text
//! that reads back the same.

use dryjoint_netlist::{Look, Reading, plain, read};
use proptest::prelude::*;
use std::path::Path;

/// Reads, checks, draws and, where there is a board, prints and reads again.
fn through(text: &[u8]) -> Reading {
    let cells = project("dunlin.cells");
    let mut loader = |path: &str| match path {
        "dunlin.cells" => Ok(cells.clone()),
        "x.board" => Ok(text.to_vec()),
        _ => Err("no such file".to_owned()),
    };
    let plain_reading = read("x.board", text, &mut loader);
    let mut reading = plain_reading.clone();
    reading.check();
    let _ = reading.drawn(Look::default());
    let _ = reading.drawn(Look { colour: true, unicode: true });
    let _ = plain(&reading.sources, &reading.notices);
    if let Some(board) = &plain_reading.board {
        let printed = board.to_string();
        let again = read("printed", &printed, &mut |_| Err("stands alone".into()));
        let drawn = again.drawn(Look::default());
        assert_eq!(again.board.as_ref(), Some(board), "{printed}\n{drawn}");
    }
    reading
}

fn project(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    std::fs::read(folder.join(name)).expect("the file is there")
}

/// Words of the grammar, and some that nearly are.
const WORDS: [&str; 97] = [
    "board",
    "use",
    "rail",
    "ground",
    "net",
    "section",
    "model",
    "cell",
    "end",
    "line",
    "bus",
    "lamps",
    "clock",
    "phases",
    "hidden",
    "like",
    "npn",
    "diode",
    "lamp",
    "limit",
    "active",
    "low",
    "high",
    "either",
    "tie",
    "not",
    "selector",
    "button",
    "toggle",
    "link",
    "testpoint",
    "header",
    "polar",
    "at",
    "rot",
    "pitch",
    "number",
    "step",
    "as",
    "R1",
    "R2",
    "C1",
    "Q1",
    "D1",
    "DS1",
    "DS2",
    "S1",
    "W1",
    "TP1",
    "J1",
    "X",
    "Y",
    "Z[0..2]",
    "nor",
    "nor",
    "VCC",
    "GND",
    "A",
    "B",
    "q",
    "A[#]",
    "A[#+1]",
    "A[0..3]",
    "a=A",
    "y=B",
    "a=[#]",
    "22k",
    "5V",
    "1Hz",
    "100n",
    "2N3904",
    "red",
    "1N4148",
    "c=A",
    "b=B",
    "e=GND",
    "k=GND",
    "1=A",
    "2=B",
    "[1..3]=A[1..3]",
    "5%",
    "-",
    "-1",
    "1e9",
    "90",
    "0",
    "(",
    ")",
    "\"t\"",
    "\"",
    "#",
    "\\",
    "=",
    "[",
    "X.q",
    "J1.1",
    "RC=2k2",
];

fn soup() -> impl Strategy<Value = String> {
    let word = prop_oneof![
        8 => (0..WORDS.len()).prop_map(|at| WORDS[at].to_owned()),
        1 => "[ -~]{1,8}",
    ];
    let line = prop::collection::vec(word, 1..9).prop_map(|words| words.join(" "));
    prop::collection::vec(line, 0..24).prop_map(|lines| lines.join("\n"))
}

/// Lines that make sense one by one, in any order: many of these boards have no error.
fn sensible() -> impl Strategy<Value = String> {
    let lines = [
        "rail VCC 5V limit 500mA",
        "ground GND",
        "R1 22k A B",
        "R2 4k7 VCC A 1% at 1 2 rot 90",
        "C1 10u polar +=A -=GND",
        "C2 100n A -",
        "Q1 2N3904 c=A b=B e=GND at 3 4",
        "DS1 red a=VCC k=A",
        "lamps L DS1",
        "S1 button A GND",
        "line RES S1 \"restart\"",
        "line /A A",
        "J1 header 1=GND 2=VCC 4=A 5=-",
        "line OFF J1.5 active high",
        "X pull A",
        "Y[0..3] pull B[#] L=1k at 5 5 pitch 2 0 number 50",
        "Z pull q=B",
        "W twice A B at 1 1 rot 180",
        "TP1 testpoint Y2.m",
        "TP2 testpoint W.G1.m",
        "hidden A",
        "section K/L",
        "section -",
        "net A D VCC",
        "model QX npn like 2N3904 BF=50",
        "Q2 QX A B GND",
        "clock A 1Hz",
        "phases A B",
        "bus D J1.4 B",
        "W1 link A B",
        "board b \"t\"",
    ];
    let cells = "cell pull (q) L=2k2\nR1 L VCC m at 1 1\nR2 L m q\nend\ncell twice (a b)\nG1 pull a at 0 1\nG2 pull b L=3k\nR9 1M a n\nR8 1M n b\nend\n";
    prop::sample::subsequence(lines.to_vec(), 0..lines.len())
        .prop_shuffle()
        .prop_map(move |lines| format!("{}\n{cells}", lines.join("\n")))
}

/// One of the project's files with some of it cut out, doubled or written over.
fn mutated() -> impl Strategy<Value = Vec<u8>> {
    let files = ["address.board", "phase.board", "dunlin.cells"];
    let change = (any::<u32>(), any::<u32>(), 0u8..5, any::<u8>());
    (0..files.len(), prop::collection::vec(change, 1..8)).prop_map(move |(file, changes)| {
        let mut text = project(files[file]);
        for (at, length, what, byte) in changes {
            if text.is_empty() {
                break;
            }
            let at = at as usize % text.len();
            let end = (at + length as usize % 40).min(text.len());
            match what {
                0 => drop(text.drain(at..end)),
                1 => {
                    let piece = text[at..end].to_vec();
                    text.splice(at..at, piece);
                }
                2 => text[at] = byte,
                3 => text.truncate(at.max(text.len() / 2)),
                _ => text[at] = b" \n#\\[]=()\"0"[usize::from(byte) % 11],
            }
        }
        text
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn random_bytes(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        through(&bytes);
    }

    #[test]
    fn random_text(text in "[ -~\n\u{e9}\u{1f4a1}]{0,300}") {
        through(text.as_bytes());
    }

    #[test]
    fn soups_of_words(text in soup()) {
        through(text.as_bytes());
    }

    #[test]
    fn lines_in_any_order(text in sensible()) {
        through(text.as_bytes());
    }

    #[test]
    fn mutated_boards(text in mutated()) {
        through(&text);
    }
}
