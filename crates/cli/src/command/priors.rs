//! `priors FILE`: how likely each kind of fault is taken to be, and a table of one's own.

use crate::arguments::{OwnPriors, Priors as Asked};
use crate::board_text::BoardText;
use crate::command::records;
use crate::exit::{Exit, Failure};
use crate::missing::unreadable;
use crate::shape::{Header, Prior, Priors as Document};
use crate::{print, render};
use dryjoint_board::Board;
use dryjoint_faults::{Fault, Kind, Priors, enumerate};
use dryjoint_records::Store;
use std::io::Write;

/// Shows the table, and what the records change in it.
pub fn run(text: &BoardText, asked: &Asked, out: &mut impl Write) -> Result<Exit, Failure> {
    let board = text.board();
    let (store, place) = records::existing(&asked.store)?;
    let judged = Priors::default();
    let found = store.as_ref().map(found).transpose()?.unwrap_or_default();
    let faults: Vec<Fault> = enumerate(board);
    let learnt = judged.learnt(board, &faults, &found);
    let row = |kind: Kind| Prior {
        kind: kind.words().to_owned(),
        ppm: learnt.get(kind),
        judgement: judged.get(kind),
        found: found.iter().filter(|(known, _)| *known == kind).map(|(_, count)| count).sum(),
        places: faults.iter().filter(|fault| fault.kind() == kind).count(),
        expected: learnt.expected(board, &faults, kind),
    };
    let kinds = Kind::ALL.into_iter().map(row).collect();
    let document = Document { header: Header::new("priors", &board.name), kinds };
    if asked.form.json {
        print::json(out, &document)?;
        return Ok(Exit::Fine);
    }
    let repairs: usize = document.kinds.iter().map(|row| row.found).sum();
    let heading = format!("{}: how likely each kind of fault is taken to be", board.name);
    write!(out, "{}", render::heading(&heading))?;
    let rows = document.kinds.iter().map(|row| {
        vec![
            row.kind.clone(),
            format!("{:.0}", row.judgement),
            row.found.to_string(),
            format!("{:.0}", row.ppm),
            row.places.to_string(),
            format!("{:.4}", row.expected),
        ]
    });
    let head = ["kind", "judgement, ppm", "repairs", "now, ppm", "places", "on a copy"];
    write!(out, "{}", render::table(&head, &[1, 2, 3, 4, 5], rows))?;
    let repairs = render::counted(repairs, "repair");
    if store.is_some() {
        writeln!(out, "{repairs} in {}; twenty count as much as the judgement.", place.display())?;
    } else {
        writeln!(out, "There are no records yet; twenty repairs will count as much as the judgement.")?;
    }
    writeln!(out, "For a table of your own: --json into a file, change `ppm`, and give it with --priors.")?;
    Ok(Exit::Fine)
}

/// Repairs on real units by kind, on all boards.
fn found(store: &Store) -> Result<Vec<(Kind, usize)>, Failure> {
    let faults = store.faults().map_err(|error| Failure::Input(error.to_string()))?;
    Ok(faults.iter().filter_map(|row| Some((Kind::of(&row.kind)?, row.count))).collect())
}

/// A table after the repairs of the records.
pub fn learnt(board: &Board, table: &Priors, store: &Store) -> Result<Priors, Failure> {
    Ok(table.learnt(board, &enumerate(board), &found(store)?))
}

/// The table of the arguments, or the built-in one.
pub fn own(asked: &OwnPriors) -> Result<Priors, Failure> {
    let mut priors = Priors::default();
    let Some(place) = &asked.table else { return Ok(priors) };
    let refused = |what: String| Failure::Input(format!("{}: {what}", place.display()));
    let text = std::fs::read_to_string(place).map_err(|error| unreadable(place, &error))?;
    let document: Document = serde_json::from_str(&text)
        .map_err(|error| refused(format!("no table as `priors --json` prints it: {error}")))?;
    for row in &document.kinds {
        let Some(kind) = Kind::of(&row.kind) else {
            return Err(refused(format!("there is no kind of fault `{}`", row.kind)));
        };
        if !(0.0..=MOST).contains(&row.ppm) {
            return Err(refused(format!(
                "{}: write 0 to {MOST} parts per million, not {}",
                row.kind, row.ppm
            )));
        }
        priors.set(kind, row.ppm);
    }
    Ok(priors)
}

/// Half of all: more than that is no build fault.
const MOST: f64 = 500_000.0;
