//! The bench as the logic sees it: which action moves which signals.

use crate::Action;
use crate::run::LEAST;
use dryjoint_board::{Access, Board, ClockId, LineId, PartId, PartKind};
use dryjoint_faults::dial::Dial;
use dryjoint_ids::Side;
use dryjoint_logic::{Extracted, Level, Node, SignalId};

/// Signals set at once, after which the board comes to rest.
pub type Move = Vec<(SignalId, Level)>;

/// Lines, clocks and lamps of one board as signals.
#[derive(Clone, Debug)]
pub struct Rig {
    /// The signal of each line and its level when tied.
    lines: Side<LineId, (SignalId, Level)>,
    dials: Vec<Dial>,
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
        let mut lamps: Vec<PartId> = board.lamps.iter().flat_map(|(_, group)| group.lamps.clone()).collect();
        let alone: Vec<PartId> = board
            .parts
            .iter()
            .filter(|(id, part)| matches!(part.kind, PartKind::Lamp(_)) && !lamps.contains(id))
            .map(|(id, _)| id)
            .collect();
        lamps.extend(alone);
        let lamps = lamps.into_iter().filter_map(|lamp| Some((lamp, extracted.lamp_of[lamp]?))).collect();
        Self { lines, dials: Dial::all(extracted), lamps }
    }

    /// The clocks with their switches.
    pub fn dials(&self) -> &[Dial] {
        &self.dials
    }

    /// The runs that can be made: every clock at every position at which its periods cannot be counted.
    pub fn runs(&self) -> impl Iterator<Item = Action> + '_ {
        self.dials.iter().flat_map(|dial| {
            let others = (0..dial.contacts.len()).filter(|&position| position != dial.slowest);
            others.map(|position| Action::Run(dial.clock, position as u16))
        })
    }

    /// What power-on sets: a clock that a pair of gates keeps as it stood stands as luck has it, as does one that a fault
    /// has stopped; any other stands low.
    pub fn start(&self) -> Move {
        let mut all = self.level_of(|dial| Some(if dial.keeps { Level::Unknown } else { Level::Zero }));
        let before = self.dials.iter().flat_map(|dial| [dial.luck, dial.woken, dial.held]).flatten();
        all.extend(before.map(|signal| (signal, Level::Unknown)));
        all
    }

    /// Whether the bench can hold a signal low, and whether high. A clock is always held, one way or the other.
    pub fn hands(&self, signal: SignalId) -> [bool; 2] {
        let clocked = self.dials.iter().any(|dial| {
            [Some(dial.signal), dial.complement, dial.luck, dial.woken, dial.held].contains(&Some(signal))
        });
        if self.tells_switch(signal) {
            return [true, true];
        }
        self.ties(signal).map(|can| clocked || can)
    }

    /// The same by its lines alone.
    pub(crate) fn ties(&self, signal: SignalId) -> [bool; 2] {
        [false, true].map(|high| self.lines.rows().contains(&(signal, Level::from(high))))
    }

    /// Whether a signal only says where the switch of a clock stands.
    pub(crate) fn tells_switch(&self, signal: SignalId) -> bool {
        self.dials.iter().any(|dial| dial.switch().any(|told| told == signal))
    }

    /// The clocks that have a complement, each with it.
    pub fn complements(&self) -> impl Iterator<Item = (SignalId, SignalId)> {
        self.dials.iter().filter_map(|dial| Some((dial.signal, dial.complement?)))
    }

    /// The moves of one action, the board coming to rest after each. After a [`Action::Run`] nobody knows how the
    /// clock stands: [`act`](crate::act) finds what is known then.
    pub fn moves(&self, action: Action) -> Vec<Move> {
        match action {
            Action::Tie(line) => vec![vec![self.lines[line]]],
            Action::Release(line) => vec![vec![(self.lines[line].0, Level::Floating)]],
            Action::Pulse(line) => vec![vec![self.lines[line]], vec![(self.lines[line].0, Level::Floating)]],
            Action::Wait(count) => {
                let mut moves: Vec<Move> =
                    (0..count).flat_map(|_| [self.clock_level(true), self.clock_level(false)]).collect();
                if let Some(first) = moves.first_mut() {
                    first.extend(self.dials.iter().flat_map(|dial| dial.turned_to(dial.slowest)));
                }
                let with_switch = self.dials.iter().filter(|dial| !dial.contacts.is_empty());
                let away: Move = with_switch
                    .flat_map(|dial| {
                        dial.turned_away(dial.slowest).chain(dial.held.map(|held| (held, Level::Zero)))
                    })
                    .collect();
                if !away.is_empty() {
                    moves.push(away);
                }
                moves
            }
            Action::Run(clock, _) => {
                let of =
                    |high: bool| self.level_of(move |dial| (dial.clock == clock).then(|| Level::from(high)));
                let unknown = self.level_of(|dial| (dial.clock == clock).then_some(Level::Unknown));
                (0..LEAST).flat_map(|_| [of(true), of(false)]).chain([unknown]).collect()
            }
        }
    }

    /// The moves of a clock that runs at a position for so many periods, and with its switch turned away then in one half of
    /// the next.
    pub fn run(&self, (clock, position): (ClockId, u16), periods: u32, high: bool) -> Vec<Move> {
        let of = |high: bool| self.level_of(move |dial| (dial.clock == clock).then(|| Level::from(high)));
        let mut moves: Vec<Move> = (0..periods).flat_map(|_| [of(true), of(false)]).collect();
        if high {
            moves.push(of(true));
        }
        let dials = || self.dials.iter().filter(|dial| dial.clock == clock);
        if let Some(first) = moves.first_mut() {
            first.extend(dials().flat_map(|dial| dial.turned_to(usize::from(position))));
        }
        let away: Move = dials().flat_map(|dial| dial.turned_away(usize::from(position))).collect();
        moves.extend((!away.is_empty()).then_some(away));
        moves
    }

    /// The moves of an action on a good board alone, where nobody asks how the switch stands.
    pub fn good_moves(&self, action: Action) -> Vec<Move> {
        let told: Vec<SignalId> = self.dials.iter().flat_map(Dial::told).collect();
        let mut moves = self.moves(action);
        moves.iter_mut().for_each(|step| step.retain(|(signal, _)| !told.contains(signal)));
        moves.retain(|step| !step.is_empty());
        moves
    }

    /// The clocks that stand as luck has it when power comes on.
    pub fn woken(&self) -> impl Iterator<Item = &Dial> {
        self.dials.iter().filter(|dial| dial.keeps)
    }

    fn clock_level(&self, high: bool) -> Move {
        self.level_of(|_| Some(Level::from(high)))
    }

    /// Clocks at a level, their complements at the other.
    fn level_of(&self, level: impl Fn(&Dial) -> Option<Level>) -> Move {
        let clocks = self.dials.iter().filter_map(|dial| Some((dial, level(dial)?)));
        clocks.flat_map(|(dial, level)| dial.standing(level)).collect()
    }
}

/// The lines that hands can set one by one and leave, and those only pressed.
pub fn is_momentary(board: &Board, line: LineId) -> bool {
    match board.lines[line].access {
        Access::Contact(part) => board.parts[part].kind == PartKind::Button,
        Access::TieLow | Access::TieHigh => false,
    }
}
