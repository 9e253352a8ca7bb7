//! What the bench may do with each pin, and what a meter reads on the dead board, read aloud.

use crate::render;
use crate::shape::survey::{Burden, Dead, DeadTransistor, Jumper, PinTies, Unpowered};
use dryjoint_units::{Amps, Ohms};
use std::fmt::Write as _;

/// Names in one cell, at most.
const NAMES: usize = 6;

/// The ties of all connector pins; pins that fare alike share a row.
pub fn ties(ties: &[PinTies]) -> String {
    if ties.is_empty() {
        return String::new();
    }
    let mut text = render::heading("Tying the connector's pins");
    text.push_str(
        "Current through the jumper: typical parts. Heat: worst copies, rail 5 % high, 50 °C around them.\n",
    );
    let rows = ties.iter().map(|row| (&*row.net, vec![open(row), jumper(&row.ground), jumper(&row.rail)]));
    let rows = together(rows).into_iter().map(|(names, mut cells)| {
        cells.insert(0, shortened(&names));
        cells
    });
    text.push_str(&render::table(&["net", "left open", "to ground", "to the rail"], &[], rows));
    if ties.iter().any(|row| row.rail.verdict == "unsafe") {
        text.push_str(
            "A driver that pulls the pin low while a jumper pulls it to the rail has the whole rail across it, and gets hot.\n",
        );
    }
    let leave = |wanted: fn(&PinTies) -> bool| {
        ties.iter().filter(|row| wanted(row)).map(|row| row.net.clone()).collect::<Vec<_>>()
    };
    let high = leave(|row| {
        row.rail.verdict == "unsafe"
            && row.open.verdict == "safe"
            && row.open.reads.as_deref() == Some("high")
    });
    if !high.is_empty() {
        let start = "Leave open, never straight to the rail; open they read high: ";
        text.push_str(&render::wrapped(start, &high, 110));
    }
    let low = leave(|row| row.ground.verdict == "unsafe");
    if !low.is_empty() {
        text.push_str(&render::wrapped("Never straight to ground: ", &low, 110));
    }
    text
}

fn open(row: &PinTies) -> String {
    let open = &row.open;
    let volts = open.volts.map_or("nothing holds it".to_owned(), |volts| format!("{volts:.1} V"));
    match &open.reads {
        Some(reads) => format!("{}: {volts}, {reads}", open.verdict),
        None if open.volts.is_some() => format!("{}: the board drives it", open.verdict),
        None => format!("{}: {volts}", open.verdict),
    }
}

fn jumper(jumper: &Jumper) -> String {
    let flows = |amps: f64| if amps < 1e-6 { "0A".to_owned() } else { Amps(two(amps)).to_string() };
    let amps = flows(jumper.amps);
    let plain = format!("{}: {amps}", jumper.verdict);
    if jumper.verdict != "unsafe" {
        return plain;
    }
    let harmed = |burden: &Burden, driver: String| match burden.junction_celsius {
        Some(junction) => format!("{driver} at {junction:.0} °C"),
        None => {
            format!("{} at {:.0} % of its {}", burden.limit.part, 100.0 * burden.limit.share, burden.limit.on)
        }
    };
    match (&jumper.own, &jumper.other, jumper.amps_fought) {
        (Some(own), ..) if jumper.reason.contains("this board") => {
            format!("unsafe: {amps}, {}", harmed(own, "its own driver".to_owned()))
        }
        (_, Some(other), Some(fought)) if jumper.reason.contains("another board") => {
            let like = format!("a driver like {} on another board", other.limit.part);
            format!("unsafe: {}, {}", flows(fought), harmed(other, like))
        }
        _ => format!("unsafe: {amps}, {}", jumper.reason),
    }
}

/// To two digits: nobody sets a jumper by the third.
fn two(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}

/// What a meter reads before power.
pub fn unpowered(unpowered: &Unpowered) -> String {
    let mut text = render::heading("Before power, supply unplugged");
    for rail in &unpowered.rails {
        let _ = writeln!(
            text,
            "{} to {}: {} on ohms, once its capacitors are charged.",
            rail.red,
            rail.black,
            ohms(rail)
        );
    }
    if !unpowered.points.is_empty() || !unpowered.transistors.is_empty() {
        text.push_str("Diode position (about 1 mA, up to 2 V) and ohms (0.2 V at most) against ground on a good board:\n");
    }
    let rows = unpowered
        .points
        .iter()
        .map(|row| (&*row.red, vec![diode(row.forward_volts), diode(row.backward_volts), ohms(row)]));
    let rows = together(rows).into_iter().map(|(names, mut cells)| {
        cells.insert(0, shortened(&names));
        cells
    });
    text.push_str(&render::table(&["net", "red on it", "black on it", "ohms"], &[1, 2, 3], rows));
    if !unpowered.transistors.is_empty() {
        let rows = unpowered.transistors.iter().map(transistor);
        text.push_str(&render::table(&["transistor in place", "b to e", "b to c"], &[1, 2], rows));
    }
    text
}

fn transistor(row: &DeadTransistor) -> Vec<String> {
    let names: Vec<&str> = row.parts.iter().map(String::as_str).collect();
    vec![shortened(&names), diode(row.base_emitter_volts), diode(row.base_collector_volts)]
}

/// Names up to a few, then how many more.
fn shortened(names: &[&str]) -> String {
    let mut text = names[..names.len().min(NAMES)].join(" ");
    if names.len() > NAMES {
        let _ = write!(text, " and {} more", names.len() - NAMES);
    }
    text
}

/// Rows with the same cells as one, their names together.
fn together<'a>(rows: impl Iterator<Item = (&'a str, Vec<String>)>) -> Vec<(Vec<&'a str>, Vec<String>)> {
    let mut found: Vec<(Vec<&str>, Vec<String>)> = Vec::new();
    for (name, cells) in rows {
        match found.iter_mut().find(|(_, known)| *known == cells) {
            Some((names, _)) => names.push(name),
            None => found.push((vec![name], cells)),
        }
    }
    found
}

fn ohms(row: &Dead) -> String {
    row.ohms.map_or("no reading".to_owned(), |ohms| Ohms(two(ohms)).to_string())
}

fn diode(volts: Option<f64>) -> String {
    volts.map_or("over".to_owned(), |volts| format!("{volts:.2} V"))
}
