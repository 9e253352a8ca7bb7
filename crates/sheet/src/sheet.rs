//! What a sheet is made of, whatever it is written on.

use dryjoint_picture::Drawing;

/// A bench sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The board's short name, on every page.
    pub name: String,
    /// What the board is, in one line.
    pub title: String,
    /// Things to fill in by hand, each with a line behind it.
    pub blanks: Vec<String>,
    /// The chapters in the order in which they are needed.
    pub chapters: Vec<Chapter>,
}

/// A chapter.
#[derive(Clone, Debug, PartialEq)]
pub struct Chapter {
    /// Its heading.
    pub heading: String,
    /// Where on paper it begins.
    pub layout: Layout,
    /// What it says.
    pub blocks: Vec<Block>,
}

/// Where a chapter begins on paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Layout {
    /// Below the one before, where its beginning fits.
    Follow,
    /// On a page of its own.
    NewPage,
    /// On a page of its own, turned where that shows more of it.
    OnePage,
}

/// A piece of a chapter.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A paragraph.
    Text(String),
    /// Points, each with a mark before it.
    List(Vec<String>),
    /// A smaller heading; never the last thing on a page.
    Heading(String),
    /// A drawing in millimetres: as large as it is where there is room, smaller otherwise.
    Drawing(Drawing),
    /// A table.
    Table(Table),
    /// A step of the procedure; never split.
    Step(StepBlock),
}

/// A table: each row has as many cells as there are columns.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// What it is of, for who cannot see it.
    pub title: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows.
    pub rows: Vec<Vec<String>>,
    /// How many rows may stand side by side on paper.
    pub abreast: usize,
}

/// A column of a table.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Its heading.
    pub heading: String,
    /// Whether its cells end at the same place, as numbers do.
    pub right: bool,
}

impl Column {
    /// A column of words.
    pub fn words(heading: &str) -> Self {
        Self { heading: heading.to_owned(), right: false }
    }

    /// A column of numbers.
    pub fn numbers(heading: &str) -> Self {
        Self { heading: heading.to_owned(), right: true }
    }
}

/// A step of the procedure.
#[derive(Clone, Debug, PartialEq)]
pub struct StepBlock {
    /// Its number.
    pub number: usize,
    /// What the hands do, in order.
    pub actions: Vec<String>,
    /// The lamps to be seen afterwards.
    pub lamps: Drawing,
}
