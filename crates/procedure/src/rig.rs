//! The bench as the logic sees it: which action moves which signals.

use crate::Action;
use dryjoint_board::{Access, Board, LineId, PartId, PartKind};
use dryjoint_ids::Side;
use dryjoint_logic::{Extracted, Level, Node, SignalId};

/// Signals set at once, after which the board comes to rest.
pub type Move = Vec<(SignalId, Level)>;

/// Lines, clocks and lamps of one board as signals.
#[derive(Clone, Debug)]
pub struct Rig {
    /// The signal of each line and its level when tied.
    lines: Side<LineId, (SignalId, Level)>,
    clocks: Vec<(SignalId, Option<SignalId>)>,
    /// The lamps in the order in which they are read: group by group, most significant first, then
    /// those in no group.
    pub lamps: Vec<(PartId, SignalId)>,
}

impl Rig {
    /// The rig for an extracted board.
    pub fn new(extracted: &Extracted) -> Self {
        let board = extracted.shape.board;
        let signal = |net| extracted.signal_of[net].expect("lines and clocks are signals");
        let lines = Side::new(&board.lines, |id| {
            let line = &board.lines[id];
            let high = match line.access {
                Access::TieLow => false,
                Access::TieHigh => true,
                Access::Contact(switch) => {
                    let ends = extracted.shape.nodes.ends(board, switch);
                    ends.iter().any(|&end| matches!(extracted.shape.nodes.kind(end), Node::Rail(_)))
                }
            };
            (signal(line.net), Level::from(high))
        });
        let clocks =
            board.clocks.iter().map(|(_, clock)| (signal(clock.net), clock.complement.map(signal))).collect();
        let mut lamps: Vec<PartId> = board.lamps.iter().flat_map(|(_, group)| group.lamps.clone()).collect();
        let alone: Vec<PartId> = board
            .parts
            .iter()
            .filter(|(id, part)| matches!(part.kind, PartKind::Lamp(_)) && !lamps.contains(id))
            .map(|(id, _)| id)
            .collect();
        lamps.extend(alone);
        let lamps = lamps.into_iter().filter_map(|lamp| Some((lamp, extracted.lamp_of[lamp]?))).collect();
        Self { lines, clocks, lamps }
    }

    /// What power-on sets: the clocks stand low.
    pub fn start(&self) -> Move {
        self.clock_level(false)
    }

    /// Whether the bench can hold a signal low, and whether high. A clock is always held, one way or the other.
    pub fn hands(&self, signal: SignalId) -> [bool; 2] {
        let clocked = self.clocks.iter().any(|&(clock, not)| clock == signal || not == Some(signal));
        let to = |high: bool| self.lines.rows().contains(&(signal, Level::from(high)));
        [false, true].map(|high| clocked || to(high))
    }

    /// The clocks that have a complement, each with it.
    pub fn complements(&self) -> impl Iterator<Item = (SignalId, SignalId)> {
        self.clocks.iter().filter_map(|&(clock, not)| Some((clock, not?)))
    }

    /// The moves of one action, the board coming to rest after each.
    pub fn moves(&self, action: Action) -> Vec<Move> {
        match action {
            Action::Tie(line) => vec![vec![self.lines[line]]],
            Action::Release(line) => vec![vec![(self.lines[line].0, Level::Floating)]],
            Action::Pulse(line) => vec![vec![self.lines[line]], vec![(self.lines[line].0, Level::Floating)]],
            Action::Wait(count) => {
                (0..count).flat_map(|_| [self.clock_level(true), self.clock_level(false)]).collect()
            }
        }
    }

    fn clock_level(&self, high: bool) -> Move {
        self.clocks
            .iter()
            .flat_map(|&(clock, not)| {
                std::iter::once((clock, Level::from(high))).chain(not.map(|not| (not, Level::from(!high))))
            })
            .collect()
    }
}

/// The lines that hands can set one by one and leave, and those only pressed.
pub fn is_momentary(board: &Board, line: LineId) -> bool {
    match board.lines[line].access {
        Access::Contact(part) => board.parts[part].kind == PartKind::Button,
        Access::TieLow | Access::TieHigh => false,
    }
}
