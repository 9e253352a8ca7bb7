//! The region solved with the fault in it, for every way in which the rest of the board drives it.
//!
//! What comes out where every level stays is handed over as a certificate and held against the board a second
//! time before it is believed.

use super::clock::Clocks;
use super::reduce::reduce;
use super::row::{Around, Built};
use super::{Effect, Why, whole};
use crate::Fault;
use crate::lanes::{Behaviour, Drive, Read, Shown, Target};
use crate::proof::{self, Certificate, Stand, recheck};
use dryjoint_board::{Access, NetId, PartId};
use dryjoint_circuit::{GROUND, Memory, Network, NodeId, Solver};
use dryjoint_ids::Side;
use dryjoint_logic::{ClusterId, Extracted, Function, Level, Node, Shape, SignalId, StageId, Thresholds};
use dryjoint_parts::Glow;
use dryjoint_units::Volts;
use std::sync::{Mutex, OnceLock, PoisonError};

/// Signals a region may have.
pub(super) const MOST_SIGNALS: usize = 9;

/// Rows its table may have.
pub(super) const MOST_ROWS: usize = 1 << 11;

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

/// One signal of a region with the drives that the rest of the board can give it.
pub(super) struct Edge {
    pub net: NetId,
    pub read: Read,
    /// Every way there is, each with what stands in for it.
    pub ways: Vec<(Drive, Stand)>,
}

/// Whether the first way stands for all that drive a signal alike, or each for itself.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Ways {
    First,
    All,
}

/// What becomes of a level that hangs on what others read beside it.
#[derive(Clone, Copy, PartialEq)]
enum Others {
    /// The site is widened by what they read.
    Wider,
    /// Nobody knows it.
    Unknown,
}

/// All combinations of ways, the first edge counting fastest: for each edge the place in its list.
pub(super) fn combinations(edges: &[Edge], ways: Ways) -> impl Iterator<Item = Vec<usize>> {
    let lists: Vec<Vec<usize>> = edges.iter().map(|edge| edge.chosen(ways)).collect();
    let count = lists.iter().map(Vec::len).product();
    (0..count).map(move |mut number: usize| {
        let of = |list: &Vec<usize>| {
            let way = list[number % list.len()];
            number /= list.len();
            way
        };
        lists.iter().map(of).collect()
    })
}

/// The row of the table that a combination belongs to.
pub(super) fn row_of(edges: &[Edge], combination: &[usize]) -> usize {
    let mut stride = 1;
    let of = |(edge, &way): (&Edge, &usize)| {
        let at = edge.read.drives.iter().position(|&other| other == edge.ways[way].0).unwrap_or(0);
        stride *= edge.read.drives.len();
        at * stride / edge.read.drives.len()
    };
    edges.iter().zip(combination).map(of).sum()
}

impl Edge {
    /// The ways to try.
    fn chosen(&self, ways: Ways) -> Vec<usize> {
        let first =
            |&way: &usize| self.ways.iter().position(|(drive, _)| *drive == self.ways[way].0) == Some(way);
        (0..self.ways.len()).filter(|way| ways == Ways::All || first(way)).collect()
    }

    /// As a certificate has it.
    pub(super) fn claimed(&self) -> proof::Edge {
        proof::Edge { net: self.net, bench: self.read.bench, ways: self.ways.clone() }
    }

    fn add(&mut self, drive: Drive, stand: Stand) {
        self.ways.push((drive, stand));
        if !self.read.drives.contains(&drive) {
            self.read.drives.push(drive);
        }
    }
}

/// Where a column of the table is looked at.
pub(super) enum View {
    /// The signal at this place of the site, as one input outside the region reads it.
    Input { at: usize, signal: SignalId, points: Thresholds },
    /// A lamp of the core.
    Lamp(PartId),
}

pub(super) struct Column {
    pub(super) view: View,
    target: Target,
    /// Whether a cluster of the core drives it, so that nobody else says what it is.
    driven: bool,
}

/// What a table of some edges looks at.
fn reads(edges: &[Edge]) -> Vec<Read> {
    edges.iter().map(|edge| edge.read.clone()).collect()
}

/// Good and faulty rows as an effect.
pub(super) fn conclude(
    site: &Site,
    reads: Vec<Read>,
    columns: &[Column],
    good: &[Shown],
    faulty: Vec<Shown>,
) -> Effect {
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
    pub(super) memory: Memory,
    /// The last certificate, where somebody wants to see it.
    pub(super) kept: Option<Mutex<Option<Certificate>>>,
    clocks: OnceLock<Clocks<'e, 'b>>,
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
        Self {
            extracted,
            stages_on,
            readers,
            memory: Memory::default(),
            kept: None,
            clocks: OnceLock::new(),
            blackouts,
        }
    }

    /// The oscillators behind the board's clocks, followed when first asked for.
    pub(super) fn clocks(&self) -> &Clocks<'e, 'b> {
        self.clocks.get_or_init(|| Clocks::new(self.extracted))
    }

    /// Whether every lamp is dark while the hand holds `net`, which a fault joins with the supply's other
    /// lead. Solved on the whole board once for each line, whatever joins them.
    pub(super) fn is_blackout(&self, net: NetId, fault: &Fault, high: bool) -> bool {
        *self.blackouts[net].get_or_init(|| whole::is_blackout(self, net, fault, high))
    }

    /// The effect of what is wrong at a site.
    ///
    /// Through the input resistors of whoever reads a signal that nothing pulls any more, what their other inputs are held at
    /// moves it. Where that decides, these inputs belong to the region; where there are too many, nobody knows.
    pub(super) fn solve(&self, site: &Site) -> Effect {
        match self.solved(site, Others::Wider) {
            Ok(effect) => effect,
            Err(wider) => match self.solved(&wider, Others::Unknown) {
                Ok(Effect::Undecided(Why::TooWide)) | Err(_) => {
                    self.solved(site, Others::Unknown).unwrap_or(Effect::Undecided(Why::TooWide))
                }
                Ok(effect) => effect,
            },
        }
    }

    /// The effect, or the wider site that it hangs on.
    fn solved<'f>(&self, site: &Site<'f>, others: Others) -> Result<Effect, Site<'f>> {
        if site.signals.len() > MOST_SIGNALS {
            return Ok(Effect::Undecided(Why::TooWide));
        }
        let edges: Vec<Edge> = site.signals.iter().flat_map(|&net| self.edges(site, net)).collect();
        let rows: usize = edges.iter().map(|edge| edge.read.drives.len()).product();
        if rows > MOST_ROWS {
            return Ok(Effect::Undecided(Why::TooWide));
        }
        let columns = self.columns(site);
        let mut solver = Solver::default();
        let ways = self.ways_that_matter(site, &edges);
        let Some([good, mut faulty]) = self.tables(site, &edges, &columns, ways, &mut solver) else {
            return Ok(Effect::Undecided(Why::Unsolved));
        };
        let Some(other) = self.table(site, &edges, &columns, ways, (site.fault, Around::High), &mut solver)
        else {
            return Ok(Effect::Undecided(Why::Unsolved));
        };
        let hangs = |low: Shown, high: Shown| low != high && low != Shown::Unknown;
        if faulty.iter().zip(&other).any(|(&low, &high)| hangs(low, high)) && others == Others::Wider {
            return Err(self.wider(site));
        }
        for (low, high) in faulty.iter_mut().zip(other) {
            *low = if hangs(*low, high) { Shown::Unknown } else { *low };
        }
        Ok(match conclude(site, reads(&edges), &columns, &good, faulty) {
            Effect::Nothing(Why::LevelsStay) => self.confirmed(site, &edges, &columns, &mut solver),
            other => other,
        })
    }

    /// A site with the other inputs of whoever reads its signals.
    fn wider<'f>(&self, site: &Site<'f>) -> Site<'f> {
        let shape = &self.extracted.shape;
        let touching = site.signals.iter().flat_map(|&net| &shape.touching[net]);
        let readers = touching.map(|&id| &shape.clusters.rows[id]).filter(|cluster| !cluster.is_source);
        let mut signals = site.signals.clone();
        signals.extend(readers.flat_map(|cluster| &cluster.reads));
        signals.sort_unstable();
        signals.dedup();
        Site { fault: site.fault, core: site.core.clone(), signals, cut_off: site.cut_off }
    }

    /// How strongly a stage pulls matters where a resistor has another value: one input high may no longer be enough
    /// where two are. On the two boards of the repository no other fault's table hangs on it.
    fn ways_that_matter(&self, site: &Site, edges: &[Edge]) -> Ways {
        let all: usize = edges.iter().map(|edge| edge.ways.len()).product();
        match site.fault {
            Some(Fault::WrongValue(..)) if all <= MOST_ROWS => Ways::All,
            _ => Ways::First,
        }
    }

    /// That every level stays, where a second look at the voltages agrees. It looks at every way of driving, and
    /// where one of them differs from the one that stood in for all, the table says what is left in common.
    fn confirmed(&self, site: &Site, edges: &[Edge], columns: &[Column], solver: &mut Solver) -> Effect {
        let Some(certificate) = self.certificate(site, edges, solver) else {
            return Effect::Undecided(Why::NotConfirmed);
        };
        let verdict = recheck(self.extracted, &certificate);
        if let Some(kept) = &self.kept {
            *kept.lock().unwrap_or_else(PoisonError::into_inner) = Some(certificate);
        }
        if verdict.is_ok() {
            return Effect::Nothing(Why::LevelsStay);
        }
        let Some([good, faulty]) = self.tables(site, edges, columns, Ways::All, solver) else {
            return Effect::Undecided(Why::Unsolved);
        };
        match conclude(site, reads(edges), columns, &good, faulty) {
            Effect::Nothing(_) => Effect::Undecided(Why::NotConfirmed),
            other => other,
        }
    }

    /// What each column shows in each row, on the good and on the faulty board; where several ways of driving differ,
    /// nobody knows.
    fn tables(
        &self,
        site: &Site,
        edges: &[Edge],
        columns: &[Column],
        ways: Ways,
        solver: &mut Solver,
    ) -> Option<[Vec<Shown>; 2]> {
        let mut of = |fault| self.table(site, edges, columns, ways, (fault, Around::Low), solver);
        Some([of(None)?, of(site.fault)?])
    }

    /// What each column shows in each row with a fault or without.
    fn table(
        &self,
        site: &Site,
        edges: &[Edge],
        columns: &[Column],
        ways: Ways,
        built: (Option<&Fault>, Around),
        solver: &mut Solver,
    ) -> Option<Vec<Shown>> {
        let rows: usize = edges.iter().map(|edge| edge.read.drives.len()).product();
        let mut table = vec![None; rows * columns.len()];
        for combination in combinations(edges, ways) {
            let row = row_of(edges, &combination);
            let stands = edges.iter().zip(&combination).map(|(edge, &way)| (edge.net, &edge.ways[way].1));
            let shown = self.row(site, stands, columns, built, solver)?;
            for (cell, shown) in table[row * columns.len()..].iter_mut().zip(shown) {
                *cell = Some(cell.filter(|known| *known != shown).map_or(shown, |_| Shown::Unknown));
            }
        }
        Some(table.into_iter().flatten().collect())
    }

    /// What the rest of the board sees of the region: each input outside it that reads one of its
    /// signals, and the lamps in it.
    pub(super) fn columns(&self, site: &Site) -> Vec<Column> {
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
    pub(super) fn edges(&self, site: &Site, net: NetId) -> Vec<Edge> {
        let shape = &self.extracted.shape;
        let signal = self.extracted.signal_of[net].expect("a region holds signals only");
        let edge = |bench: bool, stages: Vec<StageId>| Edge {
            net,
            read: Read { signal, stages, bench, drives: vec![Drive::Free] },
            ways: vec![(Drive::Free, Stand::Nobody)],
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
    fn row<'s>(
        &self,
        site: &Site,
        stands: impl Iterator<Item = (NetId, &'s Stand)>,
        columns: &[Column],
        (fault, around): (Option<&Fault>, Around),
        solver: &mut Solver,
    ) -> Option<Vec<Shown>> {
        let Built { network, .. } = self.build(site, stands, fault, around);
        self.asked(site, &network, columns, solver)
    }

    /// What each column shows of a circuit that was built.
    pub(super) fn asked(
        &self,
        site: &Site,
        network: &Network,
        columns: &[Column],
        solver: &mut Solver,
    ) -> Option<Vec<Shown>> {
        let nodes: Vec<NodeId> =
            site.signals.iter().map(|&net| network.find(net).unwrap_or(GROUND)).collect();
        let lamps: Vec<PartId> = columns
            .iter()
            .filter_map(|column| match column.view {
                View::Lamp(lamp) => Some(lamp),
                View::Input { .. } => None,
            })
            .collect();
        let (volts, glow) = self.memory.ask(solver, network, &nodes, &lamps)?;
        let glow = |lamp: PartId| lamps.iter().position(|&known| known == lamp).map(|at| glow[at]);
        Some(see(columns, &volts, glow))
    }
}

/// What each column shows of the volts of a site's signals and the glow of its lamps.
pub(super) fn see(columns: &[Column], volts: &[Volts], glow: impl Fn(PartId) -> Option<Glow>) -> Vec<Shown> {
    let shown = |column: &Column| match column.view {
        View::Input { at, points, .. } => match points.read(volts[at]) {
            Some(true) => Shown::One,
            Some(false) => Shown::Zero,
            None => Shown::Unknown,
        },
        View::Lamp(lamp) => match glow(lamp) {
            Some(Glow::Lit) => Shown::One,
            Some(Glow::Dim) => Shown::Dim,
            Some(Glow::Dark) | None => Shown::Zero,
        },
    };
    columns.iter().map(shown).collect()
}
