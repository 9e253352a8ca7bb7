//! Any text as structural Verilog: reading never panics, and every problem can be drawn.
//!
//! `mkdir -p fuzz/corpus/verilog; RUSTC_BOOTSTRAP=1 cargo fuzz run verilog fuzz/corpus/verilog cases/gates`
#![no_main]

use dryjoint_netlist::{Look, draw, verilog};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let text = String::from_utf8_lossy(data);
    let reading = verilog::read_file("fuzz.v", &text, None);
    let _ = draw(&reading.sources, &reading.notices, Look::default());
    if let Some(gates) = reading.gates {
        assert!(reading.notices.is_empty(), "{}", gates.name);
    }
});
