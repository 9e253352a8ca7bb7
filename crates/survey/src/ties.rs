//! Ties: what a jumper from a connector's pin to ground or to the rail does, and what the open pin does.
//!
//! Each pin is looked at on the cut-out around its net, with whatever drives it on the board once on and
//! once off. Behind a pin that is an input another board may stand, with a driver of the same make as
//! this board's own: the one of them that a jumper heats most is put there. A jumper to the rail lifts the
//! collector of a transistor that is on out of saturation; it then carries as much as its base allows,
//! with the whole rail across it, and gets hotter the longer the jumper stays.
//!
//! Worst copies, the rail 5 % high, 50 °C around the parts. The junction is followed until its heat
//! stands still: the transistor's gain rises with it.

use crate::corner::corners_of;
use crate::levels::Levels;
use crate::limits::{Load, NEAR, loads};
use crate::supply::Draw;
use crate::watch::Strain;
use dryjoint_board::{Access, Board, Entity, LineId, NetId, Notice, PartId, PartKind, PinId, Supply};
use dryjoint_circuit::{Conditions, ElementId, GROUND, Network, Solution, Solver, corners};
use dryjoint_logic::{ClusterId, Extracted, Level, Shape};
use dryjoint_parts::Model;
use dryjoint_units::{Amps, Celsius, Volts};
use std::collections::HashMap;

/// What a way to leave a pin is good for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judgement {
    /// It does what it says and harms nothing.
    Safe,
    /// It may harm a part, or trips the supply.
    Unsafe,
    /// It harms nothing and tells nothing: the pin reads the same without it, or nothing reads it.
    Pointless,
}

/// Why a judgement is what it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reason {
    /// What reads the pin reads what the hand says.
    Moves,
    /// The open pin reads the same.
    AsOpen,
    /// Nothing on the board reads the pin.
    Unread,
    /// The board says itself what is on this pin.
    OwnOutput,
    /// The open pin is held by nothing.
    Floats,
    /// A part comes beyond what it may bear.
    Limit,
    /// A driver of another board comes beyond what it may bear.
    OthersLimit,
    /// The supply comes to its limit: the whole board goes dark.
    Supply,
}

/// A part that a jumper loads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Burden {
    /// The part; for another board's driver, the one of this board it is like.
    pub part: PartId,
    /// The limit it comes nearest to, worst copies.
    pub load: Load,
    /// How hot its junction gets, where it is a transistor.
    pub junction: Option<Celsius>,
}

/// One jumper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Jumper {
    /// What it is good for.
    pub judgement: Judgement,
    /// Why.
    pub reason: Reason,
    /// The most that flows through it with typical parts and nothing of another board on.
    pub amps: Amps,
    /// The same with a driver of another board on, where one may stand there.
    pub fought: Option<Amps>,
    /// The part of this board that it loads most.
    pub own: Option<Burden>,
    /// The driver of another board that it loads most.
    pub other: Option<Burden>,
}

/// A connector's pin, left open and tied both ways.
#[derive(Clone, Debug, PartialEq)]
pub struct PinTies {
    /// The pin.
    pub pin: PinId,
    /// Its net.
    pub net: NetId,
    /// The volts of the open pin when nothing on the board pulls it; nothing where nothing holds it.
    pub open: Option<Volts>,
    /// What the open pin is read as; nothing where the board drives it either way.
    pub reads: Option<bool>,
    /// What leaving it open is good for, and why.
    pub open_judgement: (Judgement, Reason),
    /// The jumper to ground.
    pub ground: Jumper,
    /// The jumper to the rail.
    pub rail: Jumper,
}

/// A silicon junction may have 150 °C, and the rated dissipation brings it there from 25 °C (datasheets of
/// all small plastic types, from memory): the rating gives the kelvin per watt.
const HOTTEST: f64 = 150.0;
const RATED_AT: f64 = 25.0;
/// Forty degrees are kept to the hottest (derating rule of space and military practice for parts
/// that shall last, from memory).
pub(crate) const LASTING: Celsius = Celsius(HOTTEST - 40.0);
/// A supply that gives whatever is asked for.
const STIFF: Amps = Amps(1e3);
/// Rounds in which the heat must stand still, and how still, kelvin.
const ROUNDS: usize = 40;
const STILL: f64 = 0.2;
/// Hotter than this nothing stands still any more.
const AWAY: f64 = 400.0;

/// Every connector pin that carries a signal, in the order of the pins. `draw` is what the board takes by
/// itself, where that is known.
pub fn ties(extracted: &Extracted, draw: Option<&Draw>) -> (Vec<PinTies>, Vec<Notice>) {
    let board = extracted.shape.board;
    let mut bench = Bench {
        extracted,
        levels: Levels::new(extracted, Conditions::default()),
        solver: Solver::default(),
        known: HashMap::new(),
        spare: spare(board, draw),
    };
    let others = bench.hottest_drivers();
    let mut found = Vec::new();
    let on_header = |pin: PinId| board.parts[board.pins[pin].part].kind == PartKind::Header;
    for pin in board.pins.ids().filter(|&pin| on_header(pin)) {
        let net = board.pins[pin].net;
        if board.nets[net].supply.is_some() || board.nets[net].pins.len() < 2 {
            continue;
        }
        found.push(bench.pin(pin, extracted.shape.nodes.first(net), others));
    }
    let mut notices = Vec::new();
    for (id, line) in board.lines.iter() {
        let row = found.iter().find(|row| row.net == extracted.shape.nodes.first(line.net));
        notices.extend(row.and_then(|row| told(board, id, row)));
    }
    (found, notices)
}

/// What the supply has left beside the board itself.
fn spare(board: &Board, draw: Option<&Draw>) -> Option<f64> {
    let limits = board.nets.rows().iter().filter_map(|net| match net.supply {
        Some(Supply::Rail { limit, .. }) => Some(limit.0),
        _ => None,
    });
    draw.map(|draw| limits.sum::<f64>() - draw.most.0)
}

/// One end of a jumper: to the rail, or to ground.
type ToRail = bool;

/// One driver with one jumper on it.
#[derive(Clone, Copy, Debug)]
struct Strained {
    amps: Amps,
    worst: Amps,
    burden: Option<Burden>,
}

struct Bench<'e, 'b> {
    extracted: &'e Extracted<'b>,
    levels: Levels<'e, 'b>,
    solver: Solver,
    /// By nameless circuit; the part is counted among the circuit's own.
    known: HashMap<Vec<u64>, Option<(Strained, usize)>>,
    spare: Option<f64>,
}

impl Bench<'_, '_> {
    /// The drivers of this board that a jumper to ground and one to the rail load most.
    fn hottest_drivers(&mut self) -> [Option<Strained>; 2] {
        let shape = &self.extracted.shape;
        let driven = shape.board.nets.ids().filter(|&net| shape.nodes.first(net) == net);
        // What only lights a lamp is no driver of lines.
        let driven: Vec<NetId> = driven
            .filter(|&net| shape.drivers(net).next().is_some() && (is_read(shape, net) || leaves(shape, net)))
            .collect();
        [false, true].map(|to_rail| {
            let all = driven.iter().filter_map(|&net| self.strained(net, !to_rail, to_rail));
            all.reduce(|a, b| if weight(&b) > weight(&a) { b } else { a })
        })
    }

    fn pin(&mut self, pin: PinId, net: NetId, others: [Option<Strained>; 2]) -> PinTies {
        let shape = &self.extracted.shape;
        let rest = self.extracted.levels[net].rest;
        let is_input = shape.is_set(net) || shape.drivers(net).next().is_none();
        let is_read = is_read(shape, net);
        let reads = if is_input { rest.value() } else { None };
        let open = if rest == Level::Floating { None } else { self.open(net, reads.unwrap_or(true)) };
        let open_judgement = match (is_input, reads) {
            (true, None) => (Judgement::Pointless, Reason::Floats),
            (true, Some(_)) => (Judgement::Safe, Reason::Moves),
            (false, _) => (Judgement::Safe, Reason::OwnOutput),
        };
        let [ground, rail] = [false, true].map(|to_rail| {
            let own: Vec<Strained> =
                [false, true].into_iter().filter_map(|high| self.strained(net, high, to_rail)).collect();
            let other = if is_input { others[usize::from(to_rail)] } else { None };
            let moves = match () {
                () if !is_input => (Judgement::Pointless, Reason::OwnOutput),
                () if !is_read => (Judgement::Pointless, Reason::Unread),
                () if reads == Some(to_rail) => (Judgement::Pointless, Reason::AsOpen),
                () => (Judgement::Safe, Reason::Moves),
            };
            self.jumper(&own, other, moves)
        });
        PinTies { pin, net, open, reads, open_judgement, ground, rail }
    }

    fn jumper(&self, own: &[Strained], other: Option<Strained>, moves: (Judgement, Reason)) -> Jumper {
        let most = |amps: fn(&Strained) -> f64| own.iter().map(amps).fold(0.0, f64::max);
        let burdens = own.iter().filter(|strained| strained.burden.is_some());
        let heaviest = burdens.copied().reduce(|a, b| if weight(&b) > weight(&a) { b } else { a });
        let harm = |strained: Option<Strained>| {
            strained.and_then(|strained| strained.burden).is_some_and(|burden| is_harmed(&burden))
        };
        let worst = most(|strained| strained.worst.0) + other.map_or(0.0, |other| other.worst.0);
        let (judgement, reason) = match () {
            () if harm(heaviest) => (Judgement::Unsafe, Reason::Limit),
            () if harm(other) => (Judgement::Unsafe, Reason::OthersLimit),
            () if self.spare.is_some_and(|spare| worst > spare) => (Judgement::Unsafe, Reason::Supply),
            () => moves,
        };
        let amps = Amps(most(|strained| strained.amps.0));
        Jumper {
            judgement,
            reason,
            amps,
            fought: other.map(|other| Amps(amps.0.max(other.amps.0))),
            own: heaviest.and_then(|strained| strained.burden),
            other: other.and_then(|strained| strained.burden),
        }
    }

    /// The volts of a net that nothing drives.
    fn open(&mut self, net: NetId, high: bool) -> Option<Volts> {
        let network = self.levels.network(net, high)?;
        self.solver.solve(&network).ok()?.at(&network, net)
    }

    /// The net held at a level by the board, with a jumper on it.
    fn strained(&mut self, net: NetId, high: bool, to_rail: ToRail) -> Option<Strained> {
        let board = self.extracted.shape.board;
        let mut network = self.levels.network(net, high)?;
        // What would flow, whatever the supply is set to; its limit is a question of its own.
        for (rail, row) in board.nets.iter() {
            if let (Some(Supply::Rail { volts, .. }), Some(node)) = (row.supply, network.find(rail)) {
                network.supply(node, volts, STIFF);
            }
        }
        let to = if to_rail { network.find(self.extracted.shape.rail_net())? } else { GROUND };
        let jumper = network.tie(net, to)?;
        let mut parts = board.parts.ids();
        let key = network.anonymous().key;
        let (mut strained, at) = match self.known.get(&key) {
            Some(known) => (*known)?,
            None => {
                let found = self.heat(&network, jumper);
                let at = found
                    .and_then(|found| found.burden)
                    .and_then(|burden| parts_of(board, &network).position(|part| part == burden.part));
                let found = found.map(|found| (found, at.unwrap_or(0)));
                self.known.insert(key, found);
                found?
            }
        };
        let part = parts_of(board, &network).nth(at).or_else(|| parts.next())?;
        strained.burden = strained.burden.map(|burden| Burden { part, ..burden });
        Some(strained)
    }

    /// The worst copies of a circuit, until their heat stands still.
    fn heat(&mut self, network: &Network, jumper: ElementId) -> Option<Strained> {
        let board = self.extracted.shape.board;
        let through = |solution: &Solution| solution.element(jumper)[0].0.abs();
        let amps = through(&self.solver.solve(network).ok()?);
        let [.., corner] = corners_of(&Conditions::default());
        let around = corner.around(network, board);
        let solver = &mut self.solver;
        let measure = |network: &Network| {
            solver.solve(network).map(|solution| vec![through(&solution)]).map_err(|_| ())
        };
        let found = corners(&around, &corner.tolerances(&around, board), measure).ok()?.pop()?;
        let mut network = around.varied(&found.most.settings);
        let room = Conditions::default().temperature.max;
        let mut hottest = room;
        let mut last = None;
        for _ in 0..ROUNDS {
            let Ok(solution) = self.solver.solve(&network) else { break };
            let burden = burden(board, &network, &solution, room);
            last = Some(Strained { amps: Amps(amps), worst: Amps(through(&solution)), burden });
            let now = burden.and_then(|burden| burden.junction).unwrap_or(room);
            if (now.0 - hottest.0).abs() < STILL || now.0 > AWAY {
                break;
            }
            hottest = now;
            network.warm(hottest);
        }
        last
    }
}

fn is_read(shape: &Shape, net: NetId) -> bool {
    let reads = |&id: &ClusterId| !shape.passive(id) && shape.clusters.rows[id].reads.contains(&net);
    shape.touching[net].iter().any(reads)
}

fn leaves(shape: &Shape, net: NetId) -> bool {
    let board = shape.board;
    shape.nodes.pins(board, net).any(|pin| board.parts[board.pins[pin].part].kind == PartKind::Header)
}

/// Parts that are in a network, in the order of the board.
fn parts_of<'a>(board: &'a Board, network: &'a Network) -> impl Iterator<Item = PartId> + 'a {
    board.parts.ids().filter(|&part| network.elements_of(part).next().is_some())
}

/// The part of a network that has to bear most: a transistor by its heat, others by their limits.
fn burden(board: &Board, network: &Network, solution: &Solution, room: Celsius) -> Option<Burden> {
    let all = parts_of(board, network).filter_map(|part| {
        let mut strain = Strain::default();
        strain.bear(board, part, network, solution);
        let nearest = loads(board, part, &strain).into_iter();
        let load = nearest.max_by(|a, b| a.share().total_cmp(&b.share()))?;
        let junction = match board.parts[part].kind {
            PartKind::Bipolar(model) => match &board.models[model].model {
                Model::Bipolar(card) => {
                    let per_watt = (HOTTEST - RATED_AT) / card.p_max.0;
                    Some(Celsius(room.0 + strain.power.0.max(0.0) * per_watt))
                }
                _ => None,
            },
            _ => None,
        };
        Some(Burden { part, load, junction })
    });
    all.reduce(|a, b| if heaviness(&b) > heaviness(&a) { b } else { a })
}

/// Whether a part comes to harm.
fn is_harmed(burden: &Burden) -> bool {
    burden.load.share() > NEAR || burden.junction.is_some_and(|junction| junction > LASTING)
}

/// One where a part comes to harm.
fn heaviness(burden: &Burden) -> f64 {
    let heat = burden.junction.map_or(0.0, |junction| junction.0 / LASTING.0);
    // A junction at room temperature is no load.
    let room = Conditions::default().temperature.max.0 / LASTING.0;
    (burden.load.share() / NEAR).max((heat - room) / (1.0 - room))
}

fn weight(strained: &Strained) -> f64 {
    strained.burden.map_or(0.0, |burden| heaviness(&burden))
}

/// A line that the text wants tied the way that does harm to the board itself. At the bench there is no
/// other.
fn told(board: &Board, id: LineId, row: &PinTies) -> Option<Notice> {
    let line = &board.lines[id];
    let (jumper, to, other) = match line.access {
        Access::TieLow => (&row.ground, "ground", &row.rail),
        Access::TieHigh => (&row.rail, "the rail", &row.ground),
        Access::Contact(_) => return None,
    };
    let what = match (jumper.reason, jumper.own) {
        (Reason::Limit, Some(own)) => {
            format!("overloads {}: {}", board.parts[own.part].reference, heat(&own))
        }
        (Reason::Supply, _) => "takes the supply to its limit".to_owned(),
        _ => return None,
    };
    let mend = match other.judgement {
        Judgement::Unsafe => "put a resistor in series with the pin",
        _ => "let the line act the other way round, or put a resistor in series with the pin",
    };
    let text = format!("`{}` acts when it is tied to {to}, and that {what}", line.name);
    Some(Notice::warning("tie-unsafe", Entity::Line(id), text, mend))
}

/// What a part has to bear, in words.
fn heat(burden: &Burden) -> String {
    match burden.junction {
        Some(junction) if junction > LASTING => format!("its junction gets {:.0} °C", junction.0),
        _ => format!("{}, {}", burden.load.name(), burden.load),
    }
}
