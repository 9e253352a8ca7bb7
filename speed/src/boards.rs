//! Whole boards: a cold solve, and one more after a part changed, beside the plain way, which is the
//! cold solve again.

use crate::best_of;
use dryjoint_board::{Board, PartId};
use dryjoint_circuit::{Network, Solver, kirchhoff};
use dryjoint_netlist::read_alone;
use dryjoint_units::Ohms;
use std::fmt::Write as _;

/// Gates of two or three inputs, each fed by near ones before it, as boards of this kind are.
fn text(transistors: usize) -> String {
    let mut out = "board grown \"Grown\"\nrail VCC 5V limit 20A\nground GND\n".to_owned();
    let mut resistor = 0;
    let mut draw = 1u64;
    let mut below = |n: u64| {
        // Numbers enough for a picture of a board: the linear congruence of Knuth's MMIX.
        draw = draw.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (draw >> 33) % n
    };
    for gate in 0..transistors {
        for _ in 0..2 + below(2) {
            resistor += 1;
            let from = gate.checked_sub(1 + below(60) as usize);
            let from =
                from.map_or_else(|| ["VCC", "GND"][below(2) as usize].to_owned(), |near| format!("N{near}"));
            writeln!(out, "R{resistor} 22k {from} B{gate}").unwrap();
        }
        writeln!(out, "R{} 22k B{gate} GND", resistor + 1).unwrap();
        writeln!(out, "R{} 2k2 VCC N{gate}", resistor + 2).unwrap();
        writeln!(out, "Q{} 2N3904 c=N{gate} b=B{gate} e=GND", gate + 1).unwrap();
        resistor += 2;
    }
    out
}

/// The most memory this process ever held, in megabytes; Linux only.
fn peak() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.trim().strip_suffix("kB")?.trim().parse::<f64>().ok().map(|kilo| kilo / 1024.0)
}

/// Collector resistors here and there.
fn some_resistors(board: &Board) -> Vec<PartId> {
    let all: Vec<PartId> =
        board.parts.iter().filter(|(_, part)| part.reference.starts_with('R')).map(|(id, _)| id).collect();
    (1..8).map(|k| all[k * all.len() / 8]).collect()
}

/// Prints the times.
pub fn print() {
    for transistors in [500, 4000] {
        let Some(board) = read_alone("grown.board", text(transistors)).board else {
            println!("the grown board is not read");
            continue;
        };
        let network = Network::of_board(&board);
        let mut solver = Solver::default();
        let runs = 8_000 / transistors;
        let mut found = solver.solve(&network);
        let cold = best_of(runs, || found = solver.solve(&network));
        let Ok(start) = found else {
            println!("the grown board has no solution: {found:?}");
            continue;
        };
        let missing = kirchhoff(&network, &start);
        println!(
            "solving a board of {transistors} transistors, {} nodes; {} by {}, {} missing at most",
            network.node_count(),
            start.iterations,
            start.method,
            missing
        );
        println!("  cold  {cold:>10.1?}");
        let mut slowest = std::time::Duration::ZERO;
        let mut apart = 0.0f64;
        let mut ways: Vec<String> = Vec::new();
        for part in some_resistors(&board) {
            let mut changed = network.clone();
            changed.set_ohms(part, Ohms(220e3));
            let mut again = solver.solve_from(&changed, &start);
            slowest = slowest.max(best_of(runs, || again = solver.solve_from(&changed, &start)));
            if let (Ok(again), Ok(afresh)) = (again, solver.solve(&changed)) {
                let way = again.method.to_string();
                if !ways.contains(&way) {
                    ways.push(way);
                }
                let pairs = again.volts().iter().zip(afresh.volts());
                apart = apart.max(pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max));
            } else {
                println!("  no solution after a change");
            }
        }
        println!(
            "  again {slowest:>10.1?} after one part changed (slowest of 7), {}, within {apart:.0e} V of afresh",
            ways.join(" or ")
        );
        println!("  ratio {:>10.2}", slowest.as_secs_f64() / cold.as_secs_f64());
    }
    if let Some(peak) = peak() {
        println!("  {peak:.0} MB of memory at most so far");
    }
}
