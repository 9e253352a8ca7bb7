//! The region solved with the fault in it, for every way in which the rest of the board drives it.
//!
//! The rest of the board is stood in for by *copies*: where a driver outside the region is to pull a
//! signal, a second set of its parts is put there with its inputs held so that it pulls. The drivers
//! themselves stay, since they load the signals they read, but their outputs are taken off.

use super::reduce::reduce;
use super::{Effect, Why, whole};
use crate::Fault;
use crate::apply::{BRIDGE, apply};
use crate::lanes::{Behaviour, Drive, Read, Shown, Target};
use dryjoint_board::{Access, NetId, PartId, PartKind};
use dryjoint_circuit::{GROUND, Memory, Network, NodeId, Solver};
use dryjoint_ids::Side;
use dryjoint_logic::{
    ClusterId, Extracted, Function, Level, Node, Patch, Shape, SignalId, StageId, Thresholds,
};
use dryjoint_parts::{Glow, Model};
use dryjoint_units::{Ohms, Volts};
use rustc_hash::FxHashMap;
use std::sync::OnceLock;

/// Signals a region may have.
const MOST_SIGNALS: usize = 9;

/// Rows its table may have.
const MOST_ROWS: usize = 1 << 11;

/// The collector resistor lent to a driver whose output was taken off.
const OWN_PULL: Ohms = Ohms(2200.0);

/// What a clock source pulls low through: a transistor whose base current allows no more than some tens of
/// milliamperes (judgement). What lifts it is its collector resistor, [`OWN_PULL`].
const CLOCK_PULL: Ohms = Ohms(100.0);

/// Where a fault sits.
pub(super) struct Site<'f> {
    /// What to build in; nothing for a hand cut off.
    pub fault: Option<&'f Fault>,
    /// The clusters it spoils.
    pub core: Vec<ClusterId>,
    /// The signals whose levels it may upset, by node.
    pub signals: Vec<NetId>,
    /// A signal that the hand no longer reaches.
    pub cut_off: Option<NetId>,
}

impl<'f> Site<'f> {
    /// The site of a fault in some clusters and on some signals.
    pub(super) fn of(shape: &Shape, fault: &'f Fault, core: Vec<ClusterId>, signals: &[NetId]) -> Self {
        let mut all = signals.to_vec();
        for &id in &core {
            let cluster = &shape.clusters.rows[id];
            all.extend(cluster.reads.iter().chain(&cluster.drives));
        }
        all.sort_unstable();
        all.dedup();
        Self { fault: Some(fault), core, signals: all, cut_off: None }
    }
}

/// How one drive of one signal is stood in for.
#[derive(Clone, Debug)]
enum Stand {
    /// Nothing there.
    Nobody,
    /// A jumper.
    Hand(bool),
    /// A clock source: a transistor that pulls low, a resistor that lifts.
    Clock(bool),
    /// A copy of a cluster with its inputs held.
    Copy(ClusterId, Vec<(NetId, Volts)>),
}

/// One signal of a region with the drives that the rest of the board can give it.
struct Edge {
    net: NetId,
    read: Read,
    stands: Vec<Stand>,
}

impl Edge {
    fn add(&mut self, drive: Drive, stand: Stand) {
        if !self.read.drives.contains(&drive) {
            self.read.drives.push(drive);
            self.stands.push(stand);
        }
    }
}

/// Where a column of the table is looked at.
enum View {
    /// The signal at this place of the site, as one input outside the region reads it.
    Input { at: usize, signal: SignalId, points: Thresholds },
    /// A lamp of the core.
    Lamp(PartId),
}

struct Column {
    view: View,
    target: Target,
    /// Whether a cluster of the core drives it, so that nobody else says what it is.
    driven: bool,
}

/// Good and faulty rows as an effect.
fn conclude(site: &Site, reads: Vec<Read>, columns: &[Column], good: &[Shown], faulty: Vec<Shown>) -> Effect {
    let width = columns.len();
    let is_cut = site.cut_off.is_some();
    if width == 0 || (good == faulty && !is_cut) {
        return Effect::Nothing(Why::LevelsStay);
    }
    let same = |a: usize, b: usize, table: &[Shown]| table.chunks(width).all(|row| row[a] == row[b]);
    let stays = |column: usize| (0..good.len()).skip(column).step_by(width).all(|at| good[at] == faulty[at]);
    let mut writes: Vec<Target> = columns.iter().map(|column| column.target).collect();
    let mut kept = Vec::new();
    let mut column = 0;
    while column < width {
        let View::Input { at, signal, .. } = columns[column].view else {
            kept.push(column);
            column += 1;
            continue;
        };
        let of_signal = |c: &usize| matches!(columns[*c].view, View::Input { at: other, .. } if other == at);
        let all: Vec<usize> = (column..width).take_while(of_signal).collect();
        column += all.len();
        let matters = is_cut || columns[all[0]].driven;
        if all.iter().all(|&other| same(all[0], other, &faulty)) {
            // Everyone reads it alike: the signal itself is what changes.
            if matters || !all.iter().all(|&c| stays(c)) {
                writes[all[0]] = Target::Signal(signal);
                kept.push(all[0]);
            }
        } else {
            kept.extend(all.into_iter().filter(|&c| matters || !stays(c)));
        }
    }
    let behaviour = Behaviour { reads, writes, table: faulty, blackout: None };
    reduce(behaviour, &kept).map_or(Effect::Nothing(Why::LevelsStay), Effect::Changes)
}

/// All that regions are solved from.
pub(super) struct Regions<'e, 'b> {
    pub extracted: &'e Extracted<'b>,
    /// The found function behind each stage, for the copies.
    stages_on: Side<NetId, Vec<StageId>>,
    /// The inputs that read a signal.
    readers: Side<SignalId, Vec<(StageId, u8)>>,
    memory: Memory,
    /// Whether a jumper on a line that is joined with the supply's other lead darkens the board.
    blackouts: Side<NetId, OnceLock<bool>>,
}

impl<'e, 'b> Regions<'e, 'b> {
    pub(super) fn new(extracted: &'e Extracted<'b>) -> Self {
        let mut stages_on = Side::filled(&extracted.shape.board.nets, Vec::new());
        for (id, stage) in extracted.logic.stages.iter() {
            if let (Some(net), Some(_)) =
                (extracted.logic.signals[stage.output].net, extracted.cluster_of[id])
            {
                stages_on[net].push(id);
            }
        }
        let mut readers = Side::filled(&extracted.logic.signals, Vec::new());
        for (id, stage) in extracted.logic.stages.iter() {
            for (pin, &input) in stage.inputs.iter().enumerate() {
                readers[input].push((id, pin as u8));
            }
        }
        let blackouts = Side::filled(&extracted.shape.board.nets, OnceLock::new());
        Self { extracted, stages_on, readers, memory: Memory::default(), blackouts }
    }

    /// Whether every lamp is dark while the hand holds `net`, which a fault joins with the supply's other
    /// lead. Solved on the whole board once for each line, whatever joins them.
    pub(super) fn is_blackout(&self, net: NetId, fault: &Fault, high: bool) -> bool {
        *self.blackouts[net].get_or_init(|| whole::is_blackout(self, net, fault, high))
    }

    /// The effect of what is wrong at a site.
    pub(super) fn solve(&self, site: &Site) -> Effect {
        if site.signals.len() > MOST_SIGNALS {
            return Effect::Undecided(Why::TooWide);
        }
        let edges: Vec<Edge> = site.signals.iter().flat_map(|&net| self.edges(site, net)).collect();
        let columns = self.columns(site);
        let rows: usize = edges.iter().map(|edge| edge.stands.len()).product();
        if rows > MOST_ROWS {
            return Effect::Undecided(Why::TooWide);
        }
        let mut solver = Solver::default();
        let mut good = Vec::new();
        let mut faulty = Vec::new();
        for row in 0..rows {
            let with = self.row(site, &edges, &columns, row, site.fault, &mut solver);
            let without = self.row(site, &edges, &columns, row, None, &mut solver);
            let (Some(with), Some(without)) = (with, without) else {
                return Effect::Undecided(Why::Unsolved);
            };
            faulty.extend(with);
            good.extend(without);
        }
        conclude(site, edges.into_iter().map(|edge| edge.read).collect(), &columns, &good, faulty)
    }

    /// What the rest of the board sees of the region: each input outside it that reads one of its
    /// signals, and the lamps in it.
    fn columns(&self, site: &Site) -> Vec<Column> {
        let extracted = self.extracted;
        let shape = &extracted.shape;
        let mut columns = Vec::new();
        for (at, &net) in site.signals.iter().enumerate() {
            let signal = extracted.signal_of[net].expect("a region holds signals only");
            let driven = site.core.iter().any(|&id| shape.clusters.rows[id].drives.contains(&net));
            for &(stage, pin) in &self.readers[signal] {
                let Some(cluster) = extracted.cluster_of[stage].filter(|id| !site.core.contains(id)) else {
                    continue;
                };
                // A join has no switching point of its own; it hands on what it gets.
                let points = shape
                    .input_of(cluster, net)
                    .and_then(|input| extracted.switching[cluster].get(input).copied().flatten())
                    .unwrap_or(extracted.levels[net].thresholds);
                columns.push(Column {
                    view: View::Input { at, signal, points },
                    target: Target::Pin(stage, pin),
                    driven,
                });
            }
        }
        for &id in &site.core {
            for &lamp in &shape.clusters.rows[id].lamps {
                let signal = extracted.lamp_of[lamp].expect("every lamp has a signal");
                columns.push(Column { view: View::Lamp(lamp), target: Target::Signal(signal), driven: true });
            }
        }
        columns
    }

    /// What can be on a signal from outside the region: by hand, and by stages. A jumper is stronger than a
    /// transistor, so the two are told apart.
    fn edges(&self, site: &Site, net: NetId) -> Vec<Edge> {
        let shape = &self.extracted.shape;
        let signal = self.extracted.signal_of[net].expect("a region holds signals only");
        let edge = |bench: bool, stages: Vec<StageId>| Edge {
            net,
            read: Read { signal, stages, bench, drives: vec![Drive::Free] },
            stands: vec![Stand::Nobody],
        };
        let mut edges = Vec::new();
        if shape.is_set(net) && site.cut_off != Some(net) {
            let mut hand = edge(true, Vec::new());
            for drive in self.hands(net) {
                let high = drive == Drive::High;
                hand.add(drive, if self.is_clocked(net) { Stand::Clock(high) } else { Stand::Hand(high) });
            }
            edges.push(hand);
        }
        let outside = |stage: &StageId| {
            self.extracted.cluster_of[*stage].is_some_and(|cluster| !site.core.contains(&cluster))
        };
        let stages: Vec<StageId> = self.stages_on[net].iter().copied().filter(outside).collect();
        if !stages.is_empty() || edges.is_empty() {
            let mut driven = edge(false, stages.clone());
            for stage in stages {
                self.copies(stage, &mut driven);
            }
            edges.push(driven);
        }
        edges
    }

    /// The drives that a stage can give, each stood in for by a copy of its cluster.
    fn copies(&self, stage: StageId, edge: &mut Edge) {
        let Some(cluster) = self.extracted.cluster_of[stage] else { return };
        let Function::Found(rows) = &self.extracted.logic.stages[stage].function else { return };
        for (row, &level) in rows.iter().enumerate() {
            let drive = match level {
                Level::Zero | Level::WeakZero => Drive::Low,
                Level::One | Level::WeakOne => Drive::High,
                _ => continue,
            };
            edge.add(drive, Stand::Copy(cluster, self.inputs_of(stage, row)));
        }
    }

    pub(super) fn is_clocked(&self, net: NetId) -> bool {
        let shape = &self.extracted.shape;
        let at = |other: NetId| shape.nodes.first(other) == net;
        shape.board.clocks.iter().any(|(_, c)| at(c.net) || c.complement.is_some_and(at))
    }

    /// What a hand or a clock can put on a signal.
    pub(super) fn hands(&self, net: NetId) -> Vec<Drive> {
        let shape = &self.extracted.shape;
        let board = shape.board;
        let at = |other: NetId| shape.nodes.first(other) == net;
        if self.is_clocked(net) {
            return vec![Drive::Low, Drive::High];
        }
        let lines = board.lines.iter().filter(|(_, line)| at(line.net));
        lines
            .map(|(_, line)| match line.access {
                Access::TieLow => Drive::Low,
                Access::TieHigh => Drive::High,
                Access::Contact(switch) => {
                    let ends = shape.nodes.ends(board, switch);
                    let high = ends.iter().any(|&end| matches!(shape.nodes.kind(end), Node::Rail(_)));
                    if high { Drive::High } else { Drive::Low }
                }
            })
            .collect()
    }

    fn inputs_of(&self, stage: StageId, row: usize) -> Vec<(NetId, Volts)> {
        let logic = &self.extracted.logic;
        let inputs = logic.stages[stage].inputs.iter().enumerate();
        inputs
            .filter_map(|(bit, &input)| {
                let net = logic.signals[input].net?;
                Some((net, self.extracted.levels[net].volts(row >> bit & 1 != 0)))
            })
            .collect()
    }

    /// One row: what each column shows.
    fn row(
        &self,
        site: &Site,
        edges: &[Edge],
        columns: &[Column],
        row: usize,
        fault: Option<&Fault>,
        solver: &mut Solver,
    ) -> Option<Vec<Shown>> {
        let shape = &self.extracted.shape;
        let edge_low = |net: NetId| Some(self.extracted.levels[net].low);
        let patch = Patch::around(shape, &site.signals, &site.core, &edge_low, &[]);
        let mut network = patch.network(shape.board);
        self.take_off_drivers(site, &patch, &mut network);
        let mut rest = row;
        for edge in edges {
            let stand = &edge.stands[rest % edge.stands.len()];
            rest /= edge.stands.len();
            self.put(&mut network, edge.net, stand);
        }
        match fault {
            // Joints hold here, so pins are as good as their nets, and an output taken off above is not
            // where its pin is soldered.
            Some(Fault::Bridge(a, b)) => {
                network.bridge(shape.board.pins[*a].net, shape.board.pins[*b].net, BRIDGE);
            }
            Some(fault) => {
                apply(shape.board, fault, &mut network);
            }
            None => {}
        }
        let nodes: Vec<NodeId> =
            site.signals.iter().map(|&net| network.find(net).unwrap_or(GROUND)).collect();
        let lamps: Vec<PartId> = columns
            .iter()
            .filter_map(|column| match column.view {
                View::Lamp(lamp) => Some(lamp),
                View::Input { .. } => None,
            })
            .collect();
        let (volts, glow) = self.memory.ask(solver, &network, &nodes, &lamps)?;
        let mut glow = glow.into_iter();
        let shown = columns.iter().map(|column| match column.view {
            View::Input { at, points, .. } => match points.read(volts[at]) {
                Some(true) => Shown::One,
                Some(false) => Shown::Zero,
                None => Shown::Unknown,
            },
            View::Lamp(_) => match glow.next() {
                Some(Glow::Lit) => Shown::One,
                Some(Glow::Dim) => Shown::Dim,
                Some(Glow::Dark) | None => Shown::Zero,
            },
        });
        Some(shown.collect())
    }

    /// Outputs of clusters outside the core, off the region's signals: the copies speak for them.
    fn take_off_drivers(&self, site: &Site, patch: &Patch, network: &mut Network) {
        let shape = &self.extracted.shape;
        for &net in &site.signals {
            for id in shape.drivers(net).filter(|id| !site.core.contains(id)) {
                for part in shape.output_transistors(id, net) {
                    if patch.parts.binary_search(&part).is_err() {
                        continue;
                    }
                    let ends = shape.nodes.ends(shape.board, part);
                    for (pin, _) in
                        shape.board.parts[part].pins.iter().zip(&ends).filter(|(_, end)| **end == net)
                    {
                        if let Some(free) = network.lift(*pin) {
                            // Its collector still needs current, or its base would draw less.
                            network.bridge(free, shape.rail_net(), OWN_PULL);
                        }
                    }
                }
            }
        }
    }

    fn put(&self, network: &mut Network, net: NetId, stand: &Stand) {
        let rail = network.find(self.extracted.shape.rail_net());
        match stand {
            Stand::Nobody => {}
            Stand::Hand(high) => {
                let to = if *high { rail } else { Some(GROUND) };
                if let Some(to) = to {
                    network.tie(net, to);
                }
            }
            Stand::Clock(high) => {
                let (to, ohms) = if *high { (rail, OWN_PULL) } else { (Some(GROUND), CLOCK_PULL) };
                if let (Some(at), Some(to)) = (network.find(net), to) {
                    network.resistor(at, to, ohms);
                }
            }
            Stand::Copy(cluster, inputs) => self.copy(network, net, *cluster, inputs),
        }
    }

    /// A second set of a cluster's parts: its inputs held, its output on the signal.
    fn copy(&self, network: &mut Network, output: NetId, id: ClusterId, inputs: &[(NetId, Volts)]) {
        let shape = &self.extracted.shape;
        let board = shape.board;
        let cluster = &shape.clusters.rows[id];
        let mut nodes: FxHashMap<NetId, NodeId> = FxHashMap::default();
        for &(net, volts) in inputs {
            let node = network.node();
            network.ideal(node, volts);
            nodes.insert(net, node);
        }
        for &part in &cluster.parts {
            let ends: Vec<NodeId> = shape
                .nodes
                .ends(board, part)
                .into_iter()
                .map(|net| {
                    let shared = net == output || shape.nodes.is_supply(net);
                    match (shared, network.find(net)) {
                        (true, Some(node)) => node,
                        _ => *nodes.entry(net).or_insert_with(|| network.node()),
                    }
                })
                .collect();
            let card = |model| &board.models[model].model;
            match board.parts[part].kind {
                PartKind::Resistor { ohms, .. } => {
                    network.resistor(ends[0], ends[1], ohms);
                }
                PartKind::Diode(model) => {
                    if let Model::Diode(diode) = card(model) {
                        network.diode(ends[0], ends[1], diode);
                    }
                }
                PartKind::Lamp(model) => {
                    if let Model::Lamp(lamp) = card(model) {
                        network.lamp(ends[0], ends[1], lamp);
                    }
                }
                PartKind::Bipolar(model) => {
                    if let Model::Bipolar(bipolar) = card(model) {
                        network.bipolar(ends[0], ends[1], ends[2], bipolar);
                    }
                }
                _ => {}
            }
        }
    }
}
