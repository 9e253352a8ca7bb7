//! What to set on the supply, and what it will show.

use super::play::Played;
use crate::{Block, Chapter, Column, Layout, Table};
use dryjoint_board::{Board, Supply};
use dryjoint_units::Amps;

/// `limit` is the computed current limit, for a board with one rail; without it that of the text holds.
pub fn chapter(board: &Board, played: &Played, limit: Option<Amps>) -> Chapter {
    let computed = limit;
    let rails = board.nets.rows().iter().filter_map(|net| match net.supply {
        Some(Supply::Rail { volts, limit }) => {
            let limit = computed.map_or(limit.to_string(), |limit| format!("{limit}, computed"));
            Some(vec![net.name.clone(), volts.to_string(), limit])
        }
        _ => None,
    });
    let rows: Vec<Vec<String>> = rails.collect();
    let rail_count = rows.len();
    let columns = ["rail", "set", "current limit"].map(Column::words).to_vec();
    let table = Table { title: "Supply settings".to_owned(), columns, rows, abreast: 1 };
    let mut blocks = vec![Block::Table(table)];
    let all = if rail_count > 1 { " from all rails together" } else { "" };
    let mut expect = Vec::new();
    if let Some(range) = played.woken {
        expect.push(format!("When power comes on expect {}{all}.", Amps::range_to_tens(range)));
    }
    if let Some(range) = played.working {
        expect.push(format!("While the steps are done it is {}.", Amps::range_to_tens(range)));
    }
    if !expect.is_empty() {
        expect.push(
            "These are computed for parts of nominal value. A fifth more or less is nothing to worry about; a \
             supply at its limit, or no current at all, is."
                .to_owned(),
        );
        blocks.push(Block::Text(expect.join(" ")));
    }
    if let Some(reason) = &played.lost {
        blocks.push(Block::Text(format!("No currents and voltages could be computed {reason}.")));
    }
    Chapter { heading: "Supply".to_owned(), layout: Layout::Follow, blocks }
}
