//! How long the board takes to come to rest after an edge, along which stages, and how fast that lets it
//! be clocked.
//!
//! From every state seen, each edge that a clock or a line can make is followed through the logic with
//! the gates' own delays. A clock may come again when everything has come to rest since its last edge:
//! nothing is left to borrow, so a board that keeps to it is safe. Pulses that coupling capacitors make are no
//! part of it.

use super::clocks::{Beat, at, timing};
use super::delays::Delays;
use super::storage::between;
use super::timed::{Moved, Stand, Timed};
use crate::watch::{State, Watch};
use dryjoint_board::{Access, Board, Clock, ClockId, Entity, LineId, NetId, Notice, PartId, Phases, Supply};
use dryjoint_ids::Side;
use dryjoint_logic::{Extracted, Level, SignalId};
use dryjoint_units::{Hertz, Seconds};
use std::collections::BTreeMap;

/// What moves first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Edge {
    /// A clock rises (`true`) or falls.
    Clock(ClockId, bool),
    /// A line is tied (`true`) or released.
    Line(LineId, bool),
}

/// One stage of a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hop {
    /// The net that moves.
    pub net: NetId,
    /// The transistor that moves it; nothing at the start.
    pub by: Option<PartId>,
    /// Whether it rises.
    pub rises: bool,
    /// When, from the start of the path.
    pub at: Seconds,
    /// Whether the net is half of a pair that keeps what was put into it.
    pub keeps: bool,
}

/// A chain of stages, each moved by the one before.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// The stages; the first is the start, at zero.
    pub hops: Vec<Hop>,
}

impl Path {
    /// How long it takes.
    pub fn takes(&self) -> Seconds {
        self.hops.last().map_or(Seconds(0.0), |hop| hop.at)
    }
}

/// What the longest chains are.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Paths {
    /// After each edge, until the last level stands.
    pub after: BTreeMap<Edge, Path>,
    /// From one storage element to the next, or back to itself (see `storage.rs`).
    pub between: Option<Path>,
    /// Edges that never let the board come to rest in some state, with the count of such states.
    pub restless: BTreeMap<Edge, usize>,
    /// States tried.
    pub states: usize,
}

impl Paths {
    /// The greatest rate at which a clock with this duty leaves the board time to come to rest.
    pub fn allow(&self, clock: ClockId, duty: f64) -> Option<Hertz> {
        let takes = |rises: bool| self.after.get(&Edge::Clock(clock, rises)).map(|path| path.takes().0);
        let halves = [takes(true).map(|s| duty / s), takes(false).map(|s| (1.0 - duty) / s)];
        halves.into_iter().flatten().reduce(f64::min).map(Hertz)
    }
}

impl Paths {
    /// One turn of phases that the board gets from outside by lines, everything at rest after each edge;
    /// nothing where one of them is no line.
    pub fn cycle(&self, board: &Board, phases: &Phases) -> Option<Seconds> {
        let turns = phases.nets.iter().map(|&net| {
            let (line, _) = board.lines.iter().find(|(_, line)| line.net == net)?;
            let takes = |tied| self.after.get(&Edge::Line(line, tied)).map_or(0.0, |path| path.takes().0);
            Some(takes(true) + takes(false))
        });
        turns.sum::<Option<f64>>().filter(|all| *all > 0.0).map(Seconds)
    }
}

/// The longest paths over all states seen.
pub(crate) fn paths(watch: &Watch, delays: &Delays) -> Paths {
    let extracted = watch.extracted;
    let timed = Timed::new(extracted, delays);
    let mut found = Paths { between: between(extracted, &timed), ..Paths::default() };
    for state in &watch.states {
        found.states += 1;
        let start = stand(extracted, state);
        for edge in edges(extracted.shape.board, state) {
            let mut now = start.clone();
            let mut follow = |now: &mut Stand, edge: Edge| match timed.run(now, &moves(extracted, edge)) {
                Some(moved) => found.take(&timed, extracted, edge, &moved),
                None => *found.restless.entry(edge).or_default() += 1,
            };
            follow(&mut now, edge);
            if let Edge::Clock(clock, true) = edge {
                follow(&mut now, Edge::Clock(clock, false));
            }
        }
    }
    found
}

impl Paths {
    fn take(&mut self, timed: &Timed, extracted: &Extracted, edge: Edge, moved: &[Moved]) {
        let last = moved.iter().rposition(|one| timed.matters[one.signal] && one.because.is_some());
        if let Some(last) = last {
            let known = self.after.get(&edge).map_or(0.0, |path| path.takes().0);
            if moved[last].at > known {
                self.after.insert(edge, chain(timed, extracted, moved, last));
            }
        }
    }
}

/// The changes that led to one, back to the edge.
fn chain(timed: &Timed, extracted: &Extracted, moved: &[Moved], last: usize) -> Path {
    let logic = &extracted.logic;
    let mut back = Vec::new();
    let mut here = Some(last);
    while let Some(at) = here {
        let one = &moved[at];
        let by = one.because.and_then(|(_, stage)| {
            let (cluster, net) = (extracted.cluster_of[stage]?, logic.signals[one.signal].net?);
            extracted.shape.output_transistors(cluster, net).next()
        });
        back.push((one, by));
        here = one.because.map(|(before, _)| before);
    }
    back.reverse();
    let hops = back.iter().enumerate().filter_map(|(index, (one, by))| {
        let net = logic.signals[one.signal].net?;
        let by = if index == 0 { None } else { *by };
        let at = Seconds(one.at);
        Some(Hop { net, by, rises: one.high, at, keeps: timed.keeps[one.signal] })
    });
    Path { hops: hops.collect() }
}

pub(crate) fn stand(extracted: &Extracted, state: &State) -> Stand {
    let signals = &extracted.logic.signals;
    let mut bench = Side::filled(signals, Level::Floating);
    for &(net, high) in &state.ties {
        if let Some(signal) = extracted.signal_of[net] {
            bench[signal] = Level::from(high);
        }
    }
    Stand { values: Side::new(signals, |signal| state.levels[signal].value()), bench }
}

/// The edges that may come in a state.
fn edges(board: &Board, state: &State) -> Vec<Edge> {
    let clocks = board.clocks.ids().map(|clock| Edge::Clock(clock, true));
    let tied = |net: NetId| state.ties.iter().any(|(tied, _)| *tied == net);
    let lines = board.lines.iter().map(|(id, line)| Edge::Line(id, !tied(line.net)));
    clocks.chain(lines).collect()
}

/// What an edge puts on which signals.
pub(crate) fn moves(extracted: &Extracted, edge: Edge) -> Vec<(SignalId, Level)> {
    let board = extracted.shape.board;
    let put = |net: NetId, level: Level| extracted.signal_of[net].map(|signal| (signal, level));
    match edge {
        Edge::Clock(clock, rises) => {
            let clock = &board.clocks[clock];
            let complement = clock.complement.and_then(|net| put(net, Level::from(!rises)));
            put(clock.net, Level::from(rises)).into_iter().chain(complement).collect()
        }
        Edge::Line(id, true) => put(board.lines[id].net, tied_level(board, id)).into_iter().collect(),
        Edge::Line(id, false) => put(board.lines[id].net, Level::Floating).into_iter().collect(),
    }
}

fn tied_level(board: &Board, id: LineId) -> Level {
    match board.lines[id].access {
        Access::TieLow => Level::Zero,
        Access::TieHigh => Level::One,
        Access::Contact(part) => {
            let mut supplies =
                board.parts[part].pins.iter().filter_map(|pin| board.nets[board.pins[*pin].net].supply);
            Level::from(supplies.any(|supply| matches!(supply, Supply::Rail { .. })))
        }
    }
}

/// A warning for every clock that comes again before the board has come to rest.
pub(crate) fn too_fast(extracted: &Extracted, beats: &[Beat], paths: &Paths) -> Vec<Notice> {
    let board = extracted.shape.board;
    let mut notices = Vec::new();
    for beat in beats {
        let clock = &board.clocks[beat.clock];
        let (rate, fastest, duty) = match &beat.found {
            // Where no fast copy could be followed, the one on the board is judged.
            Some(running) => {
                (running.rate, running.range.map_or(running.rate, |(_, fast)| fast), running.duty)
            }
            None => continue,
        };
        let Some(allowed) = paths.allow(beat.clock, duty) else { continue };
        if fastest <= allowed {
            continue;
        }
        let Some((rises, path)) = tightest(paths, beat.clock, duty) else { continue };
        let share = if rises { duty } else { 1.0 - duty };
        let name = &board.nets[clock.net].name;
        let (once, again) = if rises { ("rises", "falls") } else { ("falls", "rises") };
        let text = format!(
            "the clock `{name}` runs at {rate}{}, a fast copy at {fastest}: it {again} {} after it {once}, but \
             the board needs {} to come to rest, along {}",
            at(board, clock, beat.position),
            Seconds(share / rate.0),
            path.takes(),
            words(board, path),
        );
        let about = timing(extracted, clock, beat.position).map_or(Entity::Net(clock.net), Entity::Part);
        let mend = mend(board, clock, about, allowed);
        notices.push(if rate > allowed {
            Notice::warning("clock-fast", about, text, mend)
        } else {
            Notice::remark("clock-fast", about, text, mend)
        });
    }
    notices
}

fn mend(board: &Board, clock: &Clock, about: Entity, allowed: Hertz) -> String {
    let part = match about {
        Entity::Part(part) => format!("raise {} and its twin", board.parts[part].reference),
        _ => format!("slow `{}` down", board.nets[clock.net].name),
    };
    format!("{part} until it runs at no more than {allowed}, or shorten that path")
}

/// The edge after which a clock of this duty leaves least time over.
fn tightest(paths: &Paths, clock: ClockId, duty: f64) -> Option<(bool, &Path)> {
    let half = |rises: bool| {
        let path = paths.after.get(&Edge::Clock(clock, rises))?;
        let share = if rises { duty } else { 1.0 - duty };
        Some((path.takes().0 / share, rises, path))
    };
    let halves = [half(true), half(false)].into_iter().flatten();
    halves.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, rises, path)| (rises, path))
}

/// A path as words: the nets, each with the transistor that moves it.
pub fn words(board: &Board, path: &Path) -> String {
    let hops = path.hops.iter().map(|hop| {
        let name = &board.nets[hop.net].name;
        match hop.by {
            Some(part) => format!("{} `{name}`", board.parts[part].reference),
            None => format!("`{name}`"),
        }
    });
    hops.collect::<Vec<_>>().join(", ")
}
