//! A cell's body, or the board's, read once and ready to be laid out as often as it is used.
//!
//! Nets are numbered within the body; the first ones are the ports. Values that a parameter gives stay
//! open until the cell is laid out. Arrays are already written out, one item per element.

use crate::names::Symbol;
use crate::source::Span;
use dryjoint_board::{PartKind, Place};

/// A net within a body.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct LocalNet(pub u32);

/// How a body's net is known outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reach {
    /// Given by whoever places the cell.
    Port,
    /// A rail, the same everywhere on the board.
    Rail,
    /// The body's own.
    Own,
}

/// One net of a body.
#[derive(Clone, Copy, Debug)]
pub(crate) struct BodyNet {
    pub name: Symbol,
    pub reach: Reach,
    pub span: Span,
}

/// A parameter with its default.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Parameter {
    pub name: Symbol,
    pub default: Written,
}

/// A value as written, with its place.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Written {
    pub word: Symbol,
    pub span: Span,
}

/// A number that may hang on a parameter.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Amount {
    Known(f64),
    Parameter(u32),
}

/// What needs a card.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Family {
    Bipolar,
    Diode,
    Lamp,
}

/// A card that may hang on a parameter.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Card {
    Named(Written),
    Parameter(u32),
}

/// A part's kind before parameters are known.
#[derive(Clone, Debug)]
pub(crate) enum Kind {
    Resistor { ohms: Amount, tolerance: f64 },
    Capacitor { farads: Amount, polar: bool },
    Carded { family: Family, card: Card },
    Plain(PartKind),
}

/// A pin's net; nothing for a pin left unconnected.
#[derive(Clone, Copy, Debug)]
pub(crate) struct BodyPin {
    pub net: Option<LocalNet>,
    pub span: Span,
}

/// A part of a body.
#[derive(Clone, Debug)]
pub(crate) struct BodyPart {
    pub reference: Symbol,
    pub class: Symbol,
    pub number: u32,
    pub span: Span,
    pub kind: Kind,
    /// Its pins in [`Body::pins`].
    pub pins: (u32, u32),
    pub place: Option<Place>,
}

/// What an instance gives a parameter.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Argument {
    /// The cell's default.
    Default,
    /// A value.
    Given(Written),
    /// What the surrounding cell was given for its own parameter.
    Outer(u32),
}

/// How an instance's parts get their numbers.
#[derive(Clone, Debug)]
pub(crate) enum Numbering {
    /// Each class counts on from the highest so far.
    CountOn,
    /// Each class counts from this number.
    From(u32),
    /// In the footsteps of the array element before.
    Continue,
    /// These, in order.
    List(Vec<(Symbol, Symbol, u32, Span)>),
}

/// A cell placed in a body.
#[derive(Clone, Debug)]
pub(crate) struct BodyInstance {
    pub name: Symbol,
    pub span: Span,
    pub cell: usize,
    pub nets: Vec<LocalNet>,
    pub arguments: Vec<Argument>,
    pub place: Option<Place>,
    pub numbering: Numbering,
    /// Whether a list of references must be used up with this instance.
    pub last: bool,
}

/// One thing of a body, in the order of the text.
#[derive(Clone, Debug)]
pub(crate) enum Item {
    Part(BodyPart),
    Instance(BodyInstance),
    /// Nets named for their own sake.
    Net(LocalNet),
    /// The parts that follow belong to this section of a flat text.
    Section(String),
}

impl Item {
    /// The reference of a part.
    pub fn reference(&self) -> Option<(Symbol, u32)> {
        match self {
            Self::Part(part) => Some((part.class, part.number)),
            _ => None,
        }
    }
}

/// A body.
#[derive(Default)]
pub(crate) struct Body {
    pub nets: Vec<BodyNet>,
    pub ports: usize,
    pub parameters: Vec<Parameter>,
    pub items: Vec<Item>,
    pub pins: Vec<BodyPin>,
}
