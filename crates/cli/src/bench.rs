//! Actions carried out on the logic of a board: what is held, and what settles.
//!
//! Lines and clocks move as the procedure moves them ([`Rig`]); the supply and the selector switches,
//! which a procedure leaves alone, are set here.

use crate::action::Action;
use crate::names::{self, Done};
use dryjoint_board::{Access, Board, LineId, NetId, PartId};
use dryjoint_ids::Side;
use dryjoint_logic::{Extracted, Level, SignalId, Simulation};
use dryjoint_procedure::Action as Hand;
use dryjoint_procedure::Rig;
use std::collections::{BTreeMap, BTreeSet};

/// A board on the bench, as logic.
#[derive(Clone)]
pub struct Bench<'e, 'b> {
    extracted: &'e Extracted<'b>,
    rig: Rig,
    /// How signals wake up that nothing decides; none leaves them unknown.
    wakes: Option<Side<SignalId, Level>>,
    simulation: Simulation<'e>,
    tied: BTreeSet<LineId>,
    selected: BTreeMap<PartId, usize>,
    powered: bool,
    /// Signals that did not come to rest after the last action.
    pub restless: Vec<SignalId>,
}

impl<'e, 'b> Bench<'e, 'b> {
    /// The board just after power came on, nothing tied.
    pub fn new(extracted: &'e Extracted<'b>, wakes: Option<Side<SignalId, Level>>) -> Self {
        let mut bench = Self {
            extracted,
            rig: Rig::new(extracted),
            wakes,
            simulation: Simulation::new(&extracted.logic),
            tied: BTreeSet::new(),
            selected: BTreeMap::new(),
            powered: true,
            restless: Vec::new(),
        };
        bench.wake();
        bench
    }

    /// The board woken up in one way, and in the other: what a latch holds here it does not hold there.
    pub fn both_ways(extracted: &'e Extracted<'b>) -> [Self; 2] {
        let signals = &extracted.logic.signals;
        let known = Self::new(extracted, None);
        let one = Self::new(extracted, Some(Side::filled(signals, Level::Zero)));
        let other = Side::new(signals, |signal| match (known.level(signal).value(), one.level(signal)) {
            (Some(decided), _) => Level::from(decided),
            (None, Level::Zero) => Level::One,
            (None, _) => Level::Zero,
        });
        [one, Self::new(extracted, Some(other))]
    }

    fn board(&self) -> &'b Board {
        self.extracted.shape.board
    }

    /// Whether the supply is on.
    pub fn is_powered(&self) -> bool {
        self.powered
    }

    /// The level of a signal.
    pub fn level(&self, signal: SignalId) -> Level {
        self.simulation.level(signal)
    }

    /// What jumpers hold, `true` to the rail.
    pub fn jumpers(&self) -> Vec<(NetId, bool)> {
        let held = self.tied.iter().filter_map(|line| {
            let line = &self.board().lines[*line];
            match line.access {
                Access::TieLow => Some((line.net, false)),
                Access::TieHigh => Some((line.net, true)),
                Access::Contact(_) => None,
            }
        });
        held.collect()
    }

    /// Where the clocks rest: as they stand, low where nobody knows.
    pub fn resting(&self) -> Vec<(NetId, bool)> {
        let clocks = self.board().clocks.rows().iter();
        let resting = clocks.flat_map(|clock| {
            let level = self.extracted.signal_of[clock.net].and_then(|signal| self.level(signal).value());
            let high = level.unwrap_or(false);
            std::iter::once((clock.net, high)).chain(clock.complement.map(|net| (net, !high)))
        });
        resting.collect()
    }

    /// Whether a line is tied, its button held, its toggle on.
    pub fn is_tied(&self, line: LineId) -> bool {
        self.tied.contains(&line)
    }

    /// Whether tying a line takes its net high.
    pub fn level_of_tie(&self, line: LineId) -> bool {
        self.rig.moves(Hand::Tie(line)).iter().flatten().all(|(_, level)| *level == Level::One)
    }

    /// Buttons held and toggles switched on.
    pub fn closed(&self) -> impl Iterator<Item = PartId> + '_ {
        self.tied.iter().filter_map(|line| match self.board().lines[*line].access {
            Access::Contact(part) => Some(part),
            Access::TieLow | Access::TieHigh => None,
        })
    }

    /// Selector switches that were turned, with their position counted from 0.
    pub fn selected(&self) -> impl Iterator<Item = (PartId, usize)> + '_ {
        self.selected.iter().map(|(part, position)| (*part, *position))
    }

    /// Does one thing; the message of a refusal says what the board has instead.
    pub fn act(&mut self, action: &Action) -> Result<(), String> {
        for done in names::look_up(self.board(), action)? {
            match done {
                Done::Hand(hand) => self.hand(hand),
                Done::Select(part, position) => {
                    self.selected.insert(part, position);
                }
                Done::Power(on) => {
                    self.powered = on;
                    self.wake();
                }
            }
        }
        Ok(())
    }

    /// Does one thing that a procedure does too.
    pub fn hand(&mut self, action: Hand) {
        match action {
            Hand::Tie(line) => {
                self.tied.insert(line);
            }
            Hand::Release(line) | Hand::Pulse(line) => {
                self.tied.remove(&line);
            }
            Hand::Wait(_) | Hand::Run(..) => {}
        }
        for step in self.rig.good_moves(action) {
            for (signal, level) in step {
                self.simulation.set(signal, level);
            }
            self.restless = self.simulation.settle();
        }
    }

    fn wake(&mut self) {
        self.simulation = Simulation::new(&self.extracted.logic);
        for (signal, &level) in self.wakes.iter().flat_map(Side::iter) {
            self.simulation.presume(signal, level);
        }
        let woken = self
            .wakes
            .iter()
            .flat_map(|wakes| self.rig.woken().flat_map(|dial| dial.standing(wakes[dial.signal])));
        for (signal, level) in self.rig.start().into_iter().chain(woken) {
            self.simulation.set(signal, level);
        }
        self.restless = self.simulation.settle();
        let tied: Vec<LineId> = self.tied.iter().copied().collect();
        for line in tied {
            self.hand(Hand::Tie(line));
        }
    }
}

/// Signals of oscillators behind a declared clock: they run by themselves and have no level at rest.
pub fn running(extracted: &Extracted) -> BTreeSet<SignalId> {
    let sources = extracted.shape.clusters.rows.rows().iter().filter(|cluster| cluster.is_source);
    let declared = |net: &NetId| {
        let clocks = extracted.shape.board.clocks.rows().iter();
        clocks.clone().any(|clock| {
            [Some(clock.net), clock.complement]
                .into_iter()
                .flatten()
                .any(|known| extracted.shape.nodes.first(known) == *net)
        })
    };
    let driven = sources.flat_map(|cluster| &cluster.drives).filter(|net| !declared(net));
    driven.filter_map(|net| extracted.signal_of[*net]).collect()
}
