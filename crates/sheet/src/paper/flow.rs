//! Pieces laid on pages, with what stands on the edge of every page.

use super::face::{Faces, Weight};
use super::page::{BOTTOM, Item, MM, Page, Paper, SIDE, TOP};
use super::piece::{
    BODY, CHAPTER, HEADING, Piece, anchored, blanks, drawing, heading, list, scale, step, text,
};
use super::table::table;
use crate::{Block, Chapter, Layout, Sheet};
use dryjoint_picture::{Anchor, Point};

/// The font's size on the edge of a page.
const EDGE: f64 = 7.5;

/// All pages of a sheet.
pub fn pages(sheet: &Sheet, paper: Paper, faces: &Faces) -> (Vec<Page>, Vec<Mark>) {
    let (width, height) = paper.size();
    let mut flow = Flow { faces, pages: Vec::new(), y: TOP, size: (width, height), marks: Vec::new() };
    flow.begin();
    let room = flow.room();
    let name = Piece { above: 0.0, ..heading(faces, 20.0, room.0, &sheet.name) };
    let title = Piece { above: 0.0, ..heading(faces, 11.0, room.0, &sheet.title) };
    flow.lay(&[name, title, blanks(faces, room.0, &sheet.blanks)]);
    for chapter in &sheet.chapters {
        flow.chapter(chapter);
    }
    edges(&mut flow.pages, sheet, faces);
    (flow.pages, flow.marks)
}

/// Where a chapter begins, for the list of contents of a reader program.
pub struct Mark {
    pub heading: String,
    pub page: usize,
    pub y: f64,
}

struct Flow<'f> {
    faces: &'f Faces,
    pages: Vec<Page>,
    /// How far down the last page is full.
    y: f64,
    /// The size of pages to come.
    size: (f64, f64),
    marks: Vec<Mark>,
}

impl Flow<'_> {
    fn begin(&mut self) {
        let (width, height) = self.size;
        self.pages.push(Page { width, height, items: Vec::new() });
        self.y = TOP;
    }

    /// The width and height that a page has for text.
    fn room(&self) -> (f64, f64) {
        (self.size.0 - 2.0 * SIDE, self.size.1 - TOP - BOTTOM)
    }

    fn is_fresh(&self) -> bool {
        self.y <= TOP
    }

    fn chapter(&mut self, chapter: &Chapter) {
        let upright = self.size;
        if chapter.layout == Layout::OnePage {
            self.size = turned(upright, chapter);
        }
        if chapter.layout != Layout::Follow && (!self.is_fresh() || self.size != upright) {
            self.begin();
        }
        let (width, height) = self.room();
        let title = heading(self.faces, CHAPTER, width, &chapter.heading);
        let left = height - title.height - 12.0;
        let mut pieces = vec![title];
        for block in &chapter.blocks {
            // A drawing stays with the words above it.
            if let (Block::Drawing(_), Some(last)) = (block, pieces.last_mut()) {
                last.keep = true;
            }
            pieces.extend(self.pieces(
                block,
                width,
                if chapter.layout == Layout::OnePage { left } else { height },
            ));
        }
        let before = self.marks.len();
        self.marks.push(Mark { heading: chapter.heading.clone(), page: 0, y: 0.0 });
        let (page, y) = self.lay(&pieces);
        self.marks[before].page = page;
        self.marks[before].y = y;
        if self.size != upright {
            self.size = upright;
            self.y = f64::INFINITY;
        }
    }

    fn pieces(&self, block: &Block, width: f64, height: f64) -> Vec<Piece> {
        let faces = self.faces;
        match block {
            Block::Text(words) => text(faces, Weight::Regular, BODY, width, words),
            Block::List(points) => list(faces, width, points),
            Block::Heading(words) => vec![heading(faces, HEADING, width, words)],
            Block::Drawing(one) => vec![drawing(one, width, height - 10.0)],
            Block::Table(one) => table(faces, width, height, one),
            Block::Step(one) => step(faces, width, height, one),
        }
    }

    /// Lays pieces on the last page and on new ones, and says where the first came to stand.
    fn lay(&mut self, pieces: &[Piece]) -> (usize, f64) {
        let mut first = None;
        for (index, piece) in pieces.iter().enumerate() {
            let bottom = self.size.1 - BOTTOM;
            let above = if self.is_fresh() { 0.0 } else { piece.above };
            if self.y + above + together(&pieces[index..]) > bottom && !self.is_fresh() {
                self.begin();
                if let Some(head) = &piece.head {
                    self.put(head, 0.0);
                }
            }
            let above = if self.is_fresh() { 0.0 } else { piece.above };
            first.get_or_insert((self.pages.len() - 1, self.y + above));
            self.put(piece, above);
        }
        first.unwrap_or((self.pages.len() - 1, self.y))
    }

    fn put(&mut self, piece: &Piece, above: f64) {
        let top = self.y + above;
        let page = self.pages.last_mut().expect("a page was begun");
        page.items.extend(piece.items.iter().map(|item| item.by(SIDE, top)));
        self.y = top + piece.height;
    }
}

/// The height that must be left for the first piece and those it must not be parted from.
fn together(pieces: &[Piece]) -> f64 {
    let mut height = 0.0;
    for (index, piece) in pieces.iter().enumerate() {
        height += piece.height + if index > 0 { piece.above } else { 0.0 };
        if !piece.keep {
            break;
        }
    }
    height
}

/// The page turned where the chapter's drawings then come out larger.
fn turned((width, height): (f64, f64), chapter: &Chapter) -> (f64, f64) {
    let least = |width: f64, height: f64| {
        let drawings = chapter.blocks.iter().filter_map(|block| match block {
            Block::Drawing(drawing) => Some(drawing),
            _ => None,
        });
        let room = (width - 2.0 * SIDE, height - TOP - BOTTOM - 16.0 * MM);
        drawings.map(|drawing| scale(drawing, room.0, room.1)).fold(1.0, f64::min)
    };
    if least(height, width) > least(width, height) { (height, width) } else { (width, height) }
}

/// Name, title and page number on the edge of every page.
fn edges(pages: &mut [Page], sheet: &Sheet, faces: &Faces) {
    let count = pages.len();
    for (index, page) in pages.iter_mut().enumerate() {
        let right = page.width - SIDE;
        let number = format!("page {} of {count}", index + 1);
        let foot = page.height - BOTTOM + 5.0 * MM;
        let wide = faces.width(Weight::Regular, EDGE, &number);
        let about = format!("{}: {}", sheet.name, sheet.title);
        let about = faces.cut(Weight::Regular, EDGE, right - SIDE - wide - 20.0, &about);
        let (left, end) = (Point { x: SIDE, y: foot }, Point { x: right, y: foot });
        page.items.push(anchored(Weight::Regular, EDGE, left, Anchor::Start, &about));
        page.items.push(anchored(Weight::Regular, EDGE, end, Anchor::End, &number));
        let line = foot - EDGE * 1.4;
        page.items.push(Item::rule(Point { x: SIDE, y: line }, Point { x: right, y: line }, 0.5, 1.0));
        if index > 0 {
            let head = Point { x: right, y: TOP - 7.0 * MM };
            let unit = "Unit ____________________";
            page.items.push(anchored(Weight::Regular, EDGE, head, Anchor::End, unit));
        }
    }
}
