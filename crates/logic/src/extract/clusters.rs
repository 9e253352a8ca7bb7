//! Clusters: the parts between signals and rails that act together.
//!
//! Cut the board at its rails and signals; what still hangs together is a cluster. A NOR stage is
//! one (base resistors and transistor), its collector resistor another, a lamp with its resistor a
//! third. A cluster with a transistor drives the signals its collectors sit on; one without only
//! pulls, or joins.

use super::nodes::{Node, Nodes};
use super::source::mark_sources;
use dryjoint_board::{Board, NetId, PartId, PartKind};
use dryjoint_ids::{Side, Table, Union, id};

id!(
    /// A cluster of parts.
    ClusterId, "cluster"
);

/// Parts that act together between signals and rails.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cluster {
    /// Its parts, in board order.
    pub parts: Vec<PartId>,
    /// The signal nodes on which one of its collectors (or following emitters) sits.
    pub drives: Vec<NetId>,
    /// The other signal nodes it touches.
    pub reads: Vec<NetId>,
    /// Its lamps.
    pub lamps: Vec<PartId>,
    /// Whether it stands behind a declared clock source, whose parts the logic does not follow.
    pub is_source: bool,
}

/// All clusters, and to which one each part belongs.
#[derive(Clone, Debug)]
pub struct Clusters {
    /// The clusters, by their first part.
    pub rows: Table<ClusterId, Cluster>,
    /// The cluster of a part; headers, links, switches and harmless capacitors have none.
    pub of_part: Side<PartId, Option<ClusterId>>,
}

impl Clusters {
    /// Finds the clusters of a board.
    pub fn of(board: &Board, nodes: &Nodes) -> Self {
        let mut joined = Union::new(&board.nets);
        let acting: Vec<PartId> = board.parts.ids().filter(|&part| acts(board, nodes, part)).collect();
        for &part in &acting {
            let mut inside = inside_nodes(board, nodes, part);
            if let Some(first) = inside.next() {
                inside.for_each(|other| joined.join(first, other));
            }
        }
        let mut rows: Table<ClusterId, Cluster> = Table::new();
        let mut of_part = Side::filled(&board.parts, None);
        let mut of_group: Side<NetId, Option<ClusterId>> = Side::filled(&board.nets, None);
        for &part in &acting {
            let root = inside_nodes(board, nodes, part).next().map(|net| joined.first(net));
            let known = root.and_then(|net| of_group[net]);
            let cluster = known.unwrap_or_else(|| rows.push(Cluster::default()));
            if let Some(net) = root {
                of_group[net] = Some(cluster);
            }
            of_part[part] = Some(cluster);
            rows[cluster].parts.push(part);
        }
        for (_, cluster) in rows.iter_mut() {
            describe(board, nodes, cluster);
        }
        mark_sources(board, nodes, &mut rows);
        Self { rows, of_part }
    }
}

fn acts(board: &Board, nodes: &Nodes, part: PartId) -> bool {
    match board.parts[part].kind {
        PartKind::Resistor { .. } | PartKind::Diode(_) | PartKind::Lamp(_) | PartKind::Bipolar(_) => true,
        // A switch that puts a rail on a node is the hand's; any other joins what it touches.
        PartKind::Button | PartKind::Toggle | PartKind::Selector => {
            super::nodes::contacts(board, nodes, part).is_none()
        }
        _ => false,
    }
}

fn inside_nodes<'a>(board: &'a Board, nodes: &'a Nodes, part: PartId) -> impl Iterator<Item = NetId> + 'a {
    let pins = board.parts[part].pins.iter();
    pins.map(|&pin| nodes.first(board.pins[pin].net)).filter(|&net| nodes.kind(net) == Node::Inside)
}

fn describe(board: &Board, nodes: &Nodes, cluster: &mut Cluster) {
    for &part in &cluster.parts {
        let ends = nodes.ends(board, part);
        match board.parts[part].kind {
            PartKind::Bipolar(_) => {
                let follower = nodes.is_supply(ends[0]);
                let output = if follower { ends[2] } else { ends[0] };
                if nodes.kind(output) == Node::Signal && !cluster.drives.contains(&output) {
                    cluster.drives.push(output);
                }
            }
            PartKind::Lamp(_) => cluster.lamps.push(part),
            _ => {}
        }
    }
    for &part in &cluster.parts {
        for net in nodes.ends(board, part) {
            let known = cluster.drives.contains(&net) || cluster.reads.contains(&net);
            if nodes.kind(net) == Node::Signal && !known {
                cluster.reads.push(net);
            }
        }
    }
}
