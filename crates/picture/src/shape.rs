//! Shapes: what a drawing is made of.

/// The width of a letter over the font's size, on the generous side: drawings do not know their font.
pub(crate) const LETTER: f64 = 0.62;

/// A point of a drawing: to the right, and down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

impl Point {
    /// The point some way from this one.
    pub fn by(self, x: f64, y: f64) -> Self {
        Self { x: self.x + x, y: self.y + y }
    }
}

/// A drawing: shapes in the order in which they lie over each other, in a frame that cuts off what
/// reaches beyond it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// What it shows, in a few words; read out in place of the picture.
    pub title: String,
    /// The frame's width. The unit is the drawing's own: millimetres on a board map.
    pub width: f64,
    /// The frame's height.
    pub height: f64,
    /// The shapes, the lowest first.
    pub shapes: Vec<Shape>,
}

/// One shape.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// Its outline.
    pub form: Form,
    /// What it stands for, and so what it looks like.
    pub ink: Ink,
    /// What it is called when a person points at it; empty for no name.
    pub title: String,
}

/// An outline.
#[derive(Clone, Debug, PartialEq)]
pub enum Form {
    /// Straight lines from point to point.
    Line(Vec<Point>),
    /// The same, closed.
    Area(Vec<Point>),
    /// A circle.
    Circle {
        /// Its middle.
        middle: Point,
        /// Its radius.
        radius: f64,
    },
    /// One line of text.
    Text {
        /// On the base line, where `anchor` says.
        at: Point,
        /// Which part of the text stands at `at`.
        anchor: Anchor,
        /// The font's size.
        size: f64,
        /// Degrees anticlockwise about `at`.
        turn: f64,
        /// The text.
        text: String,
    },
}

/// Which part of a text stands at its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// The beginning.
    Start,
    /// The middle.
    Middle,
    /// The end.
    End,
}

/// What a shape stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ink {
    /// The edge of a board.
    Edge,
    /// A part's leg, or a wire.
    Leg,
    /// A part's body.
    Body,
    /// A detail of a body that tells which way round it sits.
    Detail,
    /// A solder hole.
    Hole,
    /// The name of a part or pin.
    Name,
    /// A joint or part to look at.
    Look,
    /// A point to hold a meter lead to.
    Probe,
    /// The line from a mark to its label.
    Leader,
    /// The field behind a label.
    Field,
    /// A label.
    Label,
    /// A lamp that is lit.
    Lit,
    /// A lamp that is dark.
    Dark,
    /// A lamp of which nobody can know yet.
    Unknown,
    /// A jumper.
    Jumper,
}

/// How a closed shape or text is filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fill {
    /// Not at all.
    None,
    /// With the colour of the paper.
    Paper,
    /// With a faint tint of the ink.
    Tint,
    /// With ink.
    Full,
}

/// What an ink looks like without colours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pen {
    /// The width of its lines in the drawing's unit; zero for no line.
    pub width: f64,
    /// How it fills.
    pub fill: Fill,
}

impl Ink {
    /// Its class in a style sheet.
    pub fn class(self) -> &'static str {
        match self {
            Self::Edge => "edge",
            Self::Leg => "leg",
            Self::Body => "body",
            Self::Detail => "detail",
            Self::Hole => "hole",
            Self::Name => "name",
            Self::Look => "look",
            Self::Probe => "probe",
            Self::Leader => "leader",
            Self::Field => "field",
            Self::Label => "label",
            Self::Lit => "lit",
            Self::Dark => "dark",
            Self::Unknown => "unknown",
            Self::Jumper => "jumper",
        }
    }

    /// What it looks like in black and white. `fine` is a thin line of the drawing, in its unit.
    pub fn pen(self, fine: f64) -> Pen {
        let (width, fill) = match self {
            Self::Edge => (1.5, Fill::None),
            Self::Leg => (1.2, Fill::None),
            Self::Body => (0.8, Fill::Paper),
            Self::Detail | Self::Hole => (0.0, Fill::Full),
            Self::Name | Self::Label => (0.0, Fill::Full),
            Self::Look => (3.5, Fill::None),
            Self::Probe => (1.0, Fill::Full),
            Self::Leader => (2.0, Fill::None),
            Self::Field => (1.5, Fill::Paper),
            Self::Lit => (1.5, Fill::Full),
            Self::Dark => (1.5, Fill::Paper),
            Self::Unknown => (1.0, Fill::Tint),
            Self::Jumper => (5.0, Fill::None),
        };
        Pen { width: width * fine, fill }
    }
}

impl Drawing {
    /// Adds a shape without a name.
    pub fn add(&mut self, ink: Ink, form: Form) {
        self.shapes.push(Shape { form, ink, title: String::new() });
    }

    /// Adds a shape with a name.
    pub fn add_named(&mut self, ink: Ink, form: Form, title: impl Into<String>) {
        self.shapes.push(Shape { form, ink, title: title.into() });
    }

    /// Adds an upright line of text.
    pub fn write(&mut self, ink: Ink, at: Point, anchor: Anchor, size: f64, text: impl Into<String>) {
        self.add(ink, Form::Text { at, anchor, size, turn: 0.0, text: text.into() });
    }

    /// A thin line's width: a six-hundredth of a wide drawing, never more than a fine pencil on a map.
    pub fn fine(&self) -> f64 {
        (self.width.max(self.height) / 600.0).min(0.25)
    }
}

impl Form {
    /// A rectangle by its middle.
    pub fn rectangle(middle: Point, width: f64, height: f64) -> Self {
        let (x, y) = (width / 2.0, height / 2.0);
        Self::Area(vec![middle.by(-x, -y), middle.by(x, -y), middle.by(x, y), middle.by(-x, y)])
    }
}
