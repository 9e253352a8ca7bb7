//! Reads the board files named and draws every notice: `cargo run --example notices -- boards/address.board`.
#![allow(clippy::print_stdout, reason = "a program for the terminal")]

use dryjoint_netlist::{Look, read};

fn main() {
    for path in std::env::args().skip(1) {
        let text = match std::fs::read(&path) {
            Ok(text) => text,
            Err(error) => {
                println!("{path}: {error}");
                continue;
            }
        };
        let mut loader = |path: &str| std::fs::read(path).map_err(|error| error.to_string());
        let mut reading = read(&path, text, &mut loader);
        reading.check();
        println!("{}", reading.drawn(Look { colour: false, unicode: false }));
        if let Some(board) = &reading.board {
            println!("{path}: {} parts, {} nets", board.parts.len(), board.nets.len());
        }
    }
}
