//! Where in the text each thing of a board comes from, kept beside the board.

use crate::source::Span;
use dryjoint_board::{Board, Entity, LampGroupId, LineId, NetId, PartId, PinId};
use dryjoint_ids::Id;

/// An instance of a cell as laid out.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Placing {
    /// The words that place it.
    pub span: Span,
    /// The instance around it.
    pub within: Option<u32>,
}

/// The places of a board's things.
#[derive(Clone, Debug, Default)]
pub struct Positions {
    pub(crate) board: Option<Span>,
    pub(crate) parts: Vec<Span>,
    /// The instance each part was laid out for.
    pub(crate) part_placing: Vec<Option<u32>>,
    pub(crate) pins: Vec<Span>,
    pub(crate) nets: Vec<Span>,
    /// The instance each net lies within; nothing for the board's own.
    pub(crate) net_placing: Vec<Option<u32>>,
    pub(crate) lines: Vec<Span>,
    pub(crate) lamps: Vec<Span>,
    pub(crate) placings: Vec<Placing>,
}

impl Positions {
    /// The words that speak of `entity`.
    pub fn span(&self, entity: Entity) -> Option<Span> {
        match entity {
            Entity::Board => self.board,
            Entity::Part(part) => self.part(part),
            Entity::Pin(pin) => self.pin(pin),
            Entity::Net(net) => self.net(net),
            Entity::Line(line) => self.line(line),
            Entity::Lamps(lamps) => self.lamps(lamps),
        }
    }

    /// A part's reference.
    pub fn part(&self, part: PartId) -> Option<Span> {
        self.parts.get(part.index()).copied()
    }

    /// The word that gives a pin its net.
    pub fn pin(&self, pin: PinId) -> Option<Span> {
        self.pins.get(pin.index()).copied()
    }

    /// The word that first names a net.
    pub fn net(&self, net: NetId) -> Option<Span> {
        self.nets.get(net.index()).copied()
    }

    /// A line's name.
    pub fn line(&self, line: LineId) -> Option<Span> {
        self.lines.get(line.index()).copied()
    }

    /// A lamp group's name.
    pub fn lamps(&self, lamps: LampGroupId) -> Option<Span> {
        self.lamps.get(lamps.index()).copied()
    }

    /// The lines that placed the cells around a thing, the innermost first.
    pub fn placed_by(&self, board: &Board, entity: Entity) -> Vec<Span> {
        let within = |part: PartId| self.part_placing.get(part.index()).copied().flatten();
        let mut at = match entity {
            Entity::Part(part) => within(part),
            Entity::Pin(pin) => board.pins.get(pin).and_then(|pin| within(pin.part)),
            Entity::Net(net) => self.net_placing.get(net.index()).copied().flatten(),
            Entity::Board | Entity::Line(_) | Entity::Lamps(_) => None,
        };
        let mut out = Vec::new();
        while let Some(placing) = at.and_then(|at| self.placings.get(at as usize)) {
            out.push(placing.span);
            at = placing.within;
        }
        out
    }
}
