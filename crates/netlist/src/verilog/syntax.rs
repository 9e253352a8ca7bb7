//! A module as written, before anything is connected.

use dryjoint_logic::Gate;

/// A place in the text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
pub(super) struct At {
    pub line: u32,
    pub column: u32,
    /// The byte in the text, the first being 0.
    pub byte: u32,
}

impl At {
    /// Where every text begins.
    pub const START: Self = Self { line: 1, column: 1, byte: 0 };
}

/// What a declared name is to its module.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Input,
    Output,
    Wire,
    /// `supply0` or `supply1`.
    Supply(bool),
}

/// Bits of a vector as declared, `[left:right]`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Range {
    pub left: i64,
    pub right: i64,
}

impl Range {
    /// The bit numbers, most significant first.
    pub fn bits(self) -> Vec<i64> {
        if self.left >= self.right {
            (self.right..=self.left).rev().collect()
        } else {
            (self.left..=self.right).collect()
        }
    }

    pub fn contains(self, bit: i64) -> bool {
        (self.left.min(self.right)..=self.left.max(self.right)).contains(&bit)
    }
}

/// A declared name.
#[derive(Clone, Debug)]
pub(super) struct Declared<'t> {
    pub name: &'t str,
    pub kind: Kind,
    pub range: Option<Range>,
    pub at: At,
}

/// What a terminal or port is connected to.
#[derive(Clone, Debug)]
pub(super) enum Wiring<'t> {
    /// A whole net or vector.
    Whole(&'t str, At),
    /// Some bits of a vector.
    Part(&'t str, Range, At),
    /// Constant bits, most significant first.
    Constant(Vec<bool>, At),
    /// Several, most significant first.
    Joined(Vec<Wiring<'t>>, At),
}

impl Wiring<'_> {
    pub fn at(&self) -> At {
        match self {
            Self::Whole(_, at) | Self::Part(_, _, at) | Self::Constant(_, at) | Self::Joined(_, at) => *at,
        }
    }
}

/// A gate: outputs, then inputs.
#[derive(Clone, Debug)]
pub(super) struct Primitive<'t> {
    pub gate: Gate,
    pub name: Option<&'t str>,
    pub outputs: Vec<Wiring<'t>>,
    pub inputs: Vec<Wiring<'t>>,
    pub at: At,
}

/// How an instance's ports are connected. An absent wiring is a port left open.
#[derive(Clone, Debug)]
pub(super) enum Ports<'t> {
    InOrder(Vec<Option<Wiring<'t>>>),
    ByName(Vec<(&'t str, Option<Wiring<'t>>, At)>),
}

/// An instance of another module.
#[derive(Clone, Debug)]
pub(super) struct Instance<'t> {
    pub module: &'t str,
    /// Where the module's name stands, once for all instances behind it.
    pub module_at: At,
    pub name: &'t str,
    pub ports: Ports<'t>,
    pub at: At,
}

/// What stands in a module.
#[derive(Clone, Debug)]
pub(super) enum Item<'t> {
    Primitive(Primitive<'t>),
    Instance(Instance<'t>),
    /// `assign target = source`.
    Assign(Wiring<'t>, Wiring<'t>, At),
}

/// A module.
#[derive(Clone, Debug)]
pub(super) struct Module<'t> {
    pub name: &'t str,
    pub at: At,
    pub ports: Vec<(&'t str, At)>,
    pub declared: Vec<Declared<'t>>,
    pub items: Vec<Item<'t>>,
    /// Whether it is the flip-flop, described by what it does.
    pub behaves: bool,
}
