//! How fast a flat board of 100,000 parts loads, beside a plain reader that only splits lines and
//! words, reads the values and counts the pins of every net.
use crate::best_of;
use dryjoint_netlist::read_alone;
use dryjoint_units::parse;
use std::collections::HashMap;
use std::fmt::Write as _;

/// A board of `count` parts, three resistors and a transistor to a gate, inputs from anywhere.
fn text(count: u64) -> String {
    let gates = count / 4;
    let mut out = "board big \"Big\"\nrail VCC 5V limit 500mA\nground GND\n".to_owned();
    for gate in 0..gates {
        let from = gate.wrapping_mul(0x9e37_79b9_7f4a_7c15) % gates;
        let r = 3 * gate;
        let (x, y) = ((gate % 100) as f64 * 5.08, (gate / 100) as f64 * 2.54);
        writeln!(out, "R{} 22k N{from} B{gate}", r + 1).unwrap();
        writeln!(out, "R{} 22k B{gate} GND", r + 2).unwrap();
        writeln!(out, "R{} 2k2 VCC N{gate} 1%", r + 3).unwrap();
        writeln!(out, "Q{} 2N3904 c=N{gate} b=B{gate} e=GND at {x} {y} rot 90", gate + 1).unwrap();
    }
    out
}

/// The plain reader: no places, no checks, no board.
fn plain(text: &str) -> (HashMap<&str, u32>, f64) {
    let mut pins: HashMap<&str, u32> = HashMap::new();
    let mut sum = 0.0;
    for line in text.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        if words.len() < 4 {
            continue;
        }
        sum += parse(words[1], "R").unwrap_or(0.0);
        for word in &words[2..] {
            if *word == "at" {
                break;
            }
            let net = word.split_once('=').map_or(*word, |(_, net)| net);
            *pins.entry(net).or_insert(0) += 1;
        }
    }
    (pins, sum)
}

/// Prints the ratio.
pub fn print() {
    let text = text(100_000);
    let mut nets = 0;
    let by_hand = best_of(15, || nets = plain(&text).0.len());
    let mut parts = 0;
    let door =
        best_of(15, || parts = read_alone("big.board", &text).board.map_or(0, |board| board.parts.len()));
    let board = read_alone("big.board", &text).board.unwrap_or_default();
    let check = best_of(15, || assert!(board.check().len() < 100_000));
    println!("loading a board of {parts} parts on {nets} nets ({} bytes)", text.len());
    println!("  door  {door:>10.1?}, the board's own check {check:.1?} on top");
    println!("  plain {by_hand:>10.1?}, lines and words split, values read, pins counted");
    println!("  ratio {:>10.2}", door.as_secs_f64() / by_hand.as_secs_f64());
}
