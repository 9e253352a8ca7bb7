//! Phases that take turns: are two of them ever taken for active at once, and how far are they apart?
//!
//! The stages between the clock and the phases are cut out as they stand in some state of the board in
//! which the clock moves the phases, and the clock's own edges, as its oscillator makes them, are run
//! through the piece. A phase counts as active as long as some receiver may take it so: from the moment at
//! which it is no longer plainly inactive until it is again.

use super::clocks::{Beat, carried};
use super::cut::cut;
use super::delays::Delays;
use super::paths::{Edge, Paths, moves, stand};
use super::timed::{Stand, Timed};
use super::wave::Wave;
use crate::margins::driver;
use crate::watch::Watch;
use dryjoint_board::{Board, Clock, ClockId, Entity, NetId, Notice, Phases};
use dryjoint_circuit::{Action, Event, Pace, Solver, Spot, Trace};
use dryjoint_logic::{Extracted, SignalId};
use dryjoint_units::{Seconds, Volts};
use std::collections::BTreeSet;

/// Two phases at their closest.
#[derive(Clone, Debug, PartialEq)]
pub struct Turn {
    /// The one that ends.
    pub ends: NetId,
    /// The one that begins after it.
    pub begins: NetId,
    /// Time between the two; below zero they overlap.
    pub apart: Seconds,
    /// The phases and the clock around that moment.
    pub wave: Wave,
    /// In that wave: when the first ends, and when the second begins.
    pub at: (Seconds, Seconds),
}

/// Whether a phase acts high: one whose name begins with `/` does not.
pub(crate) fn acts_high(board: &Board, net: NetId) -> bool {
    !board.nets[net].name.starts_with('/')
}

/// Every group of phases that a clock of the board moves, at its closest.
pub(crate) fn turns(
    watch: &Watch,
    beats: &[Beat],
    delays: &Delays,
    paths: &Paths,
    solver: &mut Solver,
    notices: &mut Vec<Notice>,
) -> Vec<Turn> {
    let board = watch.extracted.shape.board;
    let timed = Timed::new(watch.extracted, delays);
    let mut found = Vec::new();
    for group in &board.phases {
        for (id, clock) in board.clocks.iter() {
            let Some((start, moving)) = moved_by(watch, &timed, id, group) else { continue };
            let half = 3.0 * longest(paths, id).max(1e-6);
            let beat = beats.iter().filter(|beat| beat.clock == id).filter_map(|beat| beat.found.as_ref());
            let fastest = beat.max_by(|a, b| a.rate.0.total_cmp(&b.rate.0));
            let drives = drives(watch.extracted, clock, fastest.map(|one| (&one.wave, one.edges())), half);
            let piece = Piece { extracted: watch.extracted, clock, group, start: &start, moving: &moving };
            let Some(trace) = piece.trace(&drives, half, solver) else { continue };
            let turn = piece.closest(&trace);
            notices.extend(turn.as_ref().and_then(|turn| told(watch.extracted, turn)));
            found.extend(turn);
        }
    }
    found
}

fn longest(paths: &Paths, clock: ClockId) -> f64 {
    let takes = |rises| paths.after.get(&Edge::Clock(clock, rises)).map_or(0.0, |path| path.takes().0);
    takes(true).max(takes(false))
}

/// A state in which a cycle of the clock moves every phase of the group, and all that moves then.
fn moved_by(
    watch: &Watch,
    timed: &Timed,
    clock: ClockId,
    group: &Phases,
) -> Option<(Stand, BTreeSet<SignalId>)> {
    let signals: Option<Vec<SignalId>> =
        group.nets.iter().map(|&net| watch.extracted.signal_of[net]).collect();
    let signals = signals?;
    watch.states.iter().find_map(|state| {
        let start = stand(watch.extracted, state);
        let mut now = start.clone();
        let mut moving = BTreeSet::new();
        for rises in [true, false] {
            let moved = timed.run(&mut now, &moves(watch.extracted, Edge::Clock(clock, rises)))?;
            moving.extend(moved.iter().map(|one| one.signal));
        }
        signals.iter().all(|signal| moving.contains(signal)).then_some((start, moving))
    })
}

/// The clock's nets driven through a rise, a fall and another rise, half a cycle apart, with the slopes
/// and the skew that its oscillator gives them.
fn drives(extracted: &Extracted, clock: &Clock, found: Option<(&Wave, [f64; 3])>, half: f64) -> Vec<Event> {
    let mut events = Vec::new();
    for (spot, net) in carried(clock).into_iter().enumerate() {
        let levels = &extracted.levels[net];
        let (low, high) = (levels.thresholds.low.0, levels.thresholds.high.0);
        for (edge, rises) in [true, false, true].into_iter().enumerate() {
            let up = rises == (net == clock.net);
            // In the middle of the edge, and how long all of it takes.
            let shape = found.and_then(|(wave, [rise, fall, _])| {
                let near = if rises { rise } else { fall };
                let (from, to) = if up { (low, high) } else { (high, low) };
                let begins = wave.trace.crossing(spot, from, up, near - 0.2 * (fall - rise))?;
                let ends = wave.trace.crossing(spot, to, up, begins)?;
                let swing = (levels.high - levels.low).0 / (high - low);
                Some((f64::midpoint(begins, ends) - near, (ends - begins) * swing))
            });
            let (middle, over) = shape.unwrap_or((0.0, 100e-9));
            let at = Seconds(((edge as f64 + 1.0) * half + middle - over / 2.0).max(0.0));
            let to = levels.volts(up);
            events.push(Event { at, action: Action::Drive { spot: net.into(), to, over: Seconds(over) } });
        }
    }
    events.sort_by(|a, b| a.at.0.total_cmp(&b.at.0));
    events
}

/// What is cut out for one group of phases.
struct Piece<'a, 'b> {
    extracted: &'a Extracted<'b>,
    clock: &'a Clock,
    group: &'a Phases,
    start: &'a Stand,
    moving: &'a BTreeSet<SignalId>,
}

impl Piece<'_, '_> {
    fn volts(&self, net: NetId) -> Volts {
        let levels = &self.extracted.levels[net];
        let value = self.extracted.signal_of[net].and_then(|signal| self.start.values[signal]);
        levels.volts(value.unwrap_or(false))
    }

    /// The nets between the clock and the phases that a cycle moves.
    fn cone(&self) -> Vec<NetId> {
        let logic = &self.extracted.logic;
        let carried = carried(self.clock);
        let mut found: Vec<NetId> = Vec::new();
        let mut open: Vec<SignalId> =
            self.group.nets.iter().filter_map(|&net| self.extracted.signal_of[net]).collect();
        while let Some(signal) = open.pop() {
            let Some(net) = logic.signals[signal].net else { continue };
            if carried.contains(&net) || found.contains(&net) || !self.moving.contains(&signal) {
                continue;
            }
            found.push(net);
            let stages = logic.stages.rows().iter().filter(|stage| stage.output == signal);
            open.extend(stages.flat_map(|stage| &stage.inputs));
        }
        found.sort_unstable();
        found
    }

    /// The phases, then the clock.
    fn nets(&self) -> Vec<NetId> {
        self.group.nets.iter().copied().chain(carried(self.clock)).collect()
    }

    fn trace(&self, drives: &[Event], half: f64, solver: &mut Solver) -> Option<Trace> {
        let free = self.cone();
        let hold = |net: NetId| Some(self.volts(net));
        let mut network = cut(self.extracted, &free, &hold, false);
        for net in carried(self.clock) {
            network.force(net, self.volts(net));
        }
        let guess: Vec<(NetId, Volts)> = free.iter().map(|&net| (net, self.volts(net))).collect();
        let before = solver.solve_near(&network, &guess).ok()?;
        let watch: Vec<Spot> = self.nets().into_iter().map(Spot::from).collect();
        let until = Seconds(4.0 * half);
        solver.transient(&network, Some(&before), drives, until, &watch, Pace::default()).ok()
    }

    /// The closest two phases come in a trace.
    fn closest(&self, trace: &Trace) -> Option<Turn> {
        let active: Vec<Vec<(f64, f64)>> =
            self.group.nets.iter().enumerate().map(|(spot, &net)| self.active(trace, spot, net)).collect();
        let mut found: Option<(f64, usize, usize, f64, f64)> = None;
        for (a, of_a) in active.iter().enumerate() {
            for (b, of_b) in active.iter().enumerate().filter(|(b, _)| *b != a) {
                for &(begins, _) in of_b.iter().filter(|(begins, _)| *begins > 0.0) {
                    // Whoever began before and ends last before the other's end.
                    let before = of_a.iter().rfind(|(began, _)| *began < begins);
                    let Some(&(_, ends)) = before else { continue };
                    if found.is_none_or(|(apart, ..)| begins - ends < apart) {
                        found = Some((begins - ends, a, b, ends, begins));
                    }
                }
            }
        }
        let (apart, a, b, ends, begins) = found?;
        // So much before that the edge of the clock that brings it about is seen too.
        let after = 1.5 * apart.abs().max(0.5e-6);
        let start = (ends.min(begins) - 3.0 * after).max(0.0);
        let wave = Wave { nets: self.nets(), trace: trace.clone() };
        Some(Turn {
            ends: self.group.nets[a],
            begins: self.group.nets[b],
            apart: Seconds(apart),
            wave: wave.between(start, ends.max(begins) + 2.0 * after),
            at: (Seconds(ends - start), Seconds(begins - start)),
        })
    }

    /// From when to when a phase may be taken for active.
    fn active(&self, trace: &Trace, spot: usize, net: NetId) -> Vec<(f64, f64)> {
        let high = acts_high(self.extracted.shape.board, net);
        let thresholds = self.extracted.levels[net].thresholds;
        let level = if high { thresholds.low.0 } else { thresholds.high.0 };
        let begun = trace.volts[spot].first().is_some_and(|&volts| (volts > level) == high);
        let last = trace.times.last().copied().unwrap_or(0.0);
        let mut found = Vec::new();
        let mut from = if begun { Some(0.0) } else { trace.crossing(spot, level, high, 0.0) };
        while let Some(begins) = from {
            let ends = trace.crossing(spot, level, !high, begins).unwrap_or(last);
            found.push((begins, ends));
            from = trace.crossing(spot, level, high, ends);
        }
        found
    }
}

fn told(extracted: &Extracted, turn: &Turn) -> Option<Notice> {
    if turn.apart > Seconds(0.0) {
        return None;
    }
    let board = extracted.shape.board;
    let [ends, begins] = [turn.ends, turn.begins].map(|net| &board.nets[net].name);
    let text = format!("`{begins}` begins {} before `{ends}` ends", Seconds(-turn.apart.0));
    let mend = format!("hold `{begins}` off until `{ends}` is inactive, by a gate that reads it");
    let about = driver(extracted, turn.begins).map_or(Entity::Net(turn.begins), Entity::Part);
    Some(Notice::warning("phases-overlap", about, text, mend))
}
