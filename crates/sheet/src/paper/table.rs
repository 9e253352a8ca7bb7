//! Tables: how wide each column is, and each row as a piece with the head above it again on every page.

use super::face::{Faces, Weight};
use super::page::Item;
use super::piece::{BASE, LINE, Piece, anchored};
use crate::{Column, Table};
use dryjoint_picture::{Anchor, Point};
use std::rc::Rc;

/// The font's size.
const SIZE: f64 = 8.0;
/// Room between columns, and between tables that stand abreast.
const PAD: f64 = 9.0;
const GAP: f64 = 20.0;
/// Room above and below a row's text.
const AIR: f64 = 1.6;

/// A table's rows as pieces for a column of this width on pages of this height.
pub fn table(faces: &Faces, width: f64, height: f64, table: &Table) -> Vec<Piece> {
    let natural = natural(faces, table);
    let total: f64 = natural.iter().sum::<f64>() + PAD * (natural.len().max(1) - 1) as f64;
    let fits = |abreast: usize| total * abreast as f64 + GAP * (abreast - 1) as f64 <= width;
    let abreast = (1..=table.abreast).rev().find(|&abreast| fits(abreast)).unwrap_or(1);
    let widths = if abreast > 1 { natural } else { shared(&natural, width) };
    let set = widths.iter().sum::<f64>() + PAD * (widths.len().max(1) - 1) as f64;
    let heads: Vec<String> = table.columns.iter().map(|column| column.heading.clone()).collect();
    let layout = Layout { faces, columns: &table.columns, widths: &widths, step: set + GAP, set };
    let row_high = SIZE * LINE + 2.0 * AIR;
    let head_sets = abreast.min(table.rows.len().max(1));
    let mut head = layout.rows(Weight::Bold, &vec![Some(&heads); head_sets], height);
    let mut head = head.swap_remove(0);
    head.keep = true;
    let again = Rc::new(head.clone());
    head.above = 5.0;
    let mut pieces = vec![head];
    // Side by side they read down first, so each page's share is cut into columns.
    let at_once = (((height - again.height) / row_high) as usize).max(1) * abreast;
    for share in table.rows.chunks(at_once) {
        let deep = share.len().div_ceil(abreast);
        for at in 0..deep {
            let cells: Vec<Option<&Vec<String>>> =
                (0..abreast).map(|set| share.get(set * deep + at)).collect();
            let rows = layout.rows(Weight::Regular, &cells, height - again.height);
            pieces.extend(rows.into_iter().map(|piece| Piece { head: Some(again.clone()), ..piece }));
        }
    }
    pieces
}

/// How wide each column would like to be.
fn natural(faces: &Faces, table: &Table) -> Vec<f64> {
    let widest = |(index, column): (usize, &Column)| {
        let head = faces.width(Weight::Bold, SIZE, &column.heading);
        let cells = table.rows.iter().filter_map(|row| row.get(index));
        // A hair more, for what two words set together move.
        cells.map(|cell| faces.width(Weight::Regular, SIZE, cell)).fold(head, f64::max) + 0.5
    };
    table.columns.iter().enumerate().map(widest).collect()
}

/// Widths that fit: narrow columns as they are, wide ones with what is left in equal shares.
fn shared(natural: &[f64], width: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..natural.len()).collect();
    order.sort_by(|&a, &b| natural[a].total_cmp(&natural[b]).then(a.cmp(&b)));
    let mut left = width - PAD * natural.len().saturating_sub(1) as f64;
    let mut widths = natural.to_vec();
    for (done, &column) in order.iter().enumerate() {
        let share = left / (natural.len() - done) as f64;
        widths[column] = natural[column].min(share);
        left -= widths[column];
    }
    widths
}

struct Layout<'a> {
    faces: &'a Faces,
    columns: &'a [Column],
    widths: &'a [f64],
    /// From one table abreast to the next.
    step: f64,
    /// The width of one of them.
    set: f64,
}

impl Layout<'_> {
    /// One row of each table abreast, as one piece; more where it is taller than a page.
    fn rows(&self, weight: Weight, sets: &[Option<&Vec<String>>], height: f64) -> Vec<Piece> {
        let cells: Vec<Vec<Vec<String>>> = sets
            .iter()
            .flatten()
            .map(|row| {
                let lines = |(cell, width): (&String, &f64)| self.faces.wrapped(weight, SIZE, *width, cell);
                row.iter().zip(self.widths).map(lines).collect()
            })
            .collect();
        let deepest = cells.iter().flatten().map(Vec::len).max().unwrap_or(1);
        let at_once = (((height - 2.0 * AIR) / (SIZE * LINE)) as usize).max(1);
        (0..deepest)
            .step_by(at_once)
            .map(|from| {
                let to = (from + at_once).min(deepest);
                let rule = weight == Weight::Bold || to == deepest;
                self.piece(weight, &cells, from..to, rule)
            })
            .collect()
    }

    fn piece(
        &self,
        weight: Weight,
        sets: &[Vec<Vec<String>>],
        lines: std::ops::Range<usize>,
        rule: bool,
    ) -> Piece {
        let mut items = Vec::new();
        let height = lines.len() as f64 * SIZE * LINE + 2.0 * AIR;
        for (index, row) in sets.iter().enumerate() {
            let start = index as f64 * self.step;
            let mut x = start;
            for ((cell, column), width) in row.iter().zip(self.columns).zip(self.widths) {
                for (at, words) in cell.iter().take(lines.end).skip(lines.start).enumerate() {
                    let base = AIR + at as f64 * SIZE * LINE + SIZE * BASE;
                    let (x, anchor) =
                        if column.right { (x + width, Anchor::End) } else { (x, Anchor::Start) };
                    if !words.is_empty() {
                        items.push(anchored(weight, SIZE, Point { x, y: base }, anchor, words));
                    }
                }
                x += width + PAD;
            }
            if rule {
                let (wide, dark) = if weight == Weight::Bold { (0.9, 1.0) } else { (0.3, 0.45) };
                let (from, to) = (Point { x: start, y: height }, Point { x: start + self.set, y: height });
                items.push(Item::rule(from, to, wide, dark));
            }
        }
        Piece { items, height, ..Piece::default() }
    }
}
