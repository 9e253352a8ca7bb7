//! Pieces: what is never split between pages. Text, lists, drawings and steps become pieces here.

use super::face::{Faces, Weight};
use super::page::{Item, MM};
use crate::StepBlock;
use dryjoint_picture::{Anchor, Drawing, Fill, Form, Point};
use std::rc::Rc;

/// Font sizes.
pub const BODY: f64 = 9.0;
pub const CHAPTER: f64 = 14.0;
pub const HEADING: f64 = 9.5;
/// A line's height over its font's size: more than the letters reach up and down.
pub const LINE: f64 = 1.32;
/// Where the base line is in that height.
pub const BASE: f64 = 1.0;

/// What is never split, from its upper left.
#[derive(Clone, Debug, Default)]
pub struct Piece {
    pub items: Vec<Item>,
    pub height: f64,
    /// Room above, but for the top of a page.
    pub above: f64,
    /// Never the last on a page.
    pub keep: bool,
    /// What stands above it again when it begins a page.
    pub head: Option<Rc<Piece>>,
}

/// A line of text as an item, its upper left at (`x`, `y`).
pub fn line(weight: Weight, size: f64, x: f64, y: f64, text: &str) -> Item {
    anchored(weight, size, Point { x, y: y + size * BASE }, Anchor::Start, text)
}

/// A line of text whose base line has its `anchor` at a point.
pub fn anchored(weight: Weight, size: f64, at: Point, anchor: Anchor, text: &str) -> Item {
    let form = Form::Text { at, anchor, size, turn: 0.0, text: text.to_owned() };
    Item { form, width: 0.0, fill: Fill::Full, weight, dark: 1.0 }
}

/// A paragraph, a piece a line; two lines at least stay together.
pub fn text(faces: &Faces, weight: Weight, size: f64, width: f64, text: &str) -> Vec<Piece> {
    let lines = faces.wrapped(weight, size, width, text);
    let count = lines.len();
    let piece = |(index, words): (usize, &String)| Piece {
        items: vec![line(weight, size, 0.0, 0.0, words)],
        height: size * LINE,
        above: if index == 0 { size * 0.6 } else { 0.0 },
        keep: index == 0 && count > 1 || index + 2 == count,
        head: None,
    };
    lines.iter().enumerate().map(piece).collect()
}

/// A heading, in one piece with all its lines.
pub fn heading(faces: &Faces, size: f64, width: f64, words: &str) -> Piece {
    let lines = faces.wrapped(Weight::Bold, size, width, words);
    let items = lines
        .iter()
        .enumerate()
        .map(|(index, words)| line(Weight::Bold, size, 0.0, index as f64 * size * LINE, words))
        .collect();
    Piece {
        items,
        height: lines.len() as f64 * size * LINE + size * 0.2,
        above: size * 1.1,
        keep: true,
        head: None,
    }
}

/// Points of a list, a piece each.
pub fn list(faces: &Faces, width: f64, points: &[String]) -> Vec<Piece> {
    let indent = 11.0;
    let point = |words: &String| {
        let mut items = vec![line(Weight::Regular, BODY, 0.0, 0.0, "•")];
        let lines = faces.wrapped(Weight::Regular, BODY, width - indent, words);
        for (index, words) in lines.iter().enumerate() {
            items.push(line(Weight::Regular, BODY, indent, index as f64 * BODY * LINE, words));
        }
        Piece { items, height: lines.len() as f64 * BODY * LINE, above: 3.0, ..Piece::default() }
    };
    points.iter().map(point).collect()
}

/// Things to fill in by hand, in equal shares of the width.
pub fn blanks(faces: &Faces, width: f64, names: &[String]) -> Piece {
    let gap = 14.0;
    let share = (width + gap) / names.len().max(1) as f64;
    let mut items = Vec::new();
    for (index, name) in names.iter().enumerate() {
        let x = index as f64 * share;
        let name = faces.cut(Weight::Regular, BODY, share - gap, name);
        items.push(line(Weight::Regular, BODY, x, 6.0, &name));
        let start = x + faces.width(Weight::Regular, BODY, &name) + 4.0;
        let base = 6.0 + BODY * BASE + 1.5;
        let end = (x + share - gap).max(start);
        items.push(Item::rule(Point { x: start, y: base }, Point { x: end, y: base }, 0.5, 1.0));
    }
    Piece { items, height: 6.0 + BODY * LINE + 2.0, above: 4.0, ..Piece::default() }
}

/// A drawing at a scale, its upper left at (`x`, `y`).
pub fn drawn(drawing: &Drawing, scale: f64, x: f64, y: f64) -> Vec<Item> {
    let scale = scale * MM;
    let at = |point: Point| Point { x: x + point.x * scale, y: y + point.y * scale };
    let all = |points: &[Point]| points.iter().map(|&point| at(point)).collect();
    let fine = drawing.fine();
    let item = |shape: &dryjoint_picture::Shape| {
        let pen = shape.ink.pen(fine);
        let form = match &shape.form {
            Form::Line(points) => Form::Line(all(points)),
            Form::Area(points) => Form::Area(all(points)),
            Form::Circle { middle, radius } => Form::Circle { middle: at(*middle), radius: radius * scale },
            Form::Text { at: point, anchor, size, turn, text } => Form::Text {
                at: at(*point),
                anchor: *anchor,
                size: size * scale,
                turn: *turn,
                text: text.clone(),
            },
        };
        Item { form, width: pen.width * scale, fill: pen.fill, weight: Weight::Regular, dark: 1.0 }
    };
    drawing.shapes.iter().map(item).collect()
}

/// A drawing as large as it is, or smaller where the room is less.
pub fn drawing(drawing: &Drawing, width: f64, height: f64) -> Piece {
    let above = 6.0;
    let scale = scale(drawing, width, height);
    Piece {
        items: drawn(drawing, scale, 0.0, 0.0),
        height: drawing.height * scale * MM,
        above,
        ..Piece::default()
    }
}

/// The scale at which a drawing fits, 1 at most.
pub fn scale(drawing: &Drawing, width: f64, height: f64) -> f64 {
    let fit = |room: f64, size: f64| room / (size * MM).max(f64::MIN_POSITIVE);
    fit(width, drawing.width).min(fit(height, drawing.height)).min(1.0)
}

/// A step: a box to tick, its number, what to do, and the lamps beside it or, where they are too wide for
/// that, below. One taller than a page is split between its lines all the same.
pub fn step(faces: &Faces, width: f64, height: f64, step: &StepBlock) -> Vec<Piece> {
    let (number, indent, gap, row) = (14.0, 38.0, 10.0, BODY * LINE);
    let natural = step.lamps.width * MM;
    let beside = natural <= 0.55 * width;
    let room = if beside { width - indent - gap - natural } else { width - indent };
    let lines: Vec<String> =
        step.actions.iter().flat_map(|action| faces.wrapped(Weight::Regular, BODY, room, action)).collect();
    let scale = scale(&step.lamps, if beside { natural } else { width - indent }, height / 2.0);
    let lamps_high = step.lamps.height * scale * MM;
    let at_once = (((height - lamps_high - 12.0) / row) as usize).max(1);
    let mut pieces = Vec::new();
    for (index, chunk) in lines.chunks(at_once).enumerate() {
        let mut piece = Piece { above: 4.0, ..Piece::default() };
        if index == 0 {
            let tick = Form::rectangle(Point { x: 5.0, y: 5.5 }, 9.0, 9.0);
            piece.items.push(Item {
                form: tick,
                width: 0.9,
                fill: Fill::Paper,
                weight: Weight::Regular,
                dark: 1.0,
            });
            piece.items.push(line(Weight::Bold, BODY, number, 0.0, &step.number.to_string()));
        }
        for (at, words) in chunk.iter().enumerate() {
            piece.items.push(line(Weight::Regular, BODY, indent, at as f64 * row, words));
        }
        piece.height = chunk.len() as f64 * row;
        if index + 1 == lines.len().div_ceil(at_once) {
            let (x, y) = if beside { (width - natural, 0.0) } else { (indent, piece.height + 2.0) };
            piece.items.extend(drawn(&step.lamps, scale, x, y));
            piece.height = piece.height.max(y + lamps_high);
            let under = piece.height + 1.5;
            let (from, to) = (Point { x: 0.0, y: under }, Point { x: width, y: under });
            piece.items.push(Item::rule(from, to, 0.3, 0.45));
            piece.height += 3.0;
        }
        pieces.push(piece);
    }
    pieces
}
