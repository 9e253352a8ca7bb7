//! `parts FILE`: every part as soldered, with its pins and their nets.

use crate::exit::{Exit, Failure};
use crate::shape::{Parts, kind_name, model_name};
use crate::{print, render};
use dryjoint_board::{Board, Part, PartKind};
use std::io::Write;

/// Prints the list.
pub fn run(board: &Board, json: bool, out: &mut impl Write) -> Result<Exit, Failure> {
    if json {
        print::json(out, &Parts::of(board))?;
    } else {
        let rows = board.parts.rows().iter().map(|part| row(board, part));
        let table = render::table(&["part", "kind", "value", "at mm", "section", "pins"], &[], rows);
        writeln!(out, "{table}{} parts, {} nets", board.parts.len(), board.nets.len())?;
    }
    Ok(Exit::Fine)
}

fn row(board: &Board, part: &Part) -> Vec<String> {
    let value = match &part.kind {
        PartKind::Resistor { ohms, tolerance } => format!("{ohms} {:.3}%", tolerance * 100.0),
        PartKind::Capacitor { farads, .. } => farads.to_string(),
        kind => model_name(board, kind).unwrap_or_default(),
    };
    let place = part.place.map_or(String::new(), |at| format!("{} {}", at.x.0, at.y.0));
    let pins = part.pins.iter().map(|pin| {
        let pin = &board.pins[*pin];
        format!("{}={}", pin.name, board.nets[pin.net].name)
    });
    vec![
        part.reference.clone(),
        kind_name(&part.kind).to_owned(),
        value.replace(".000%", "%"),
        place,
        part.section.clone(),
        pins.collect::<Vec<_>>().join(" "),
    ]
}
