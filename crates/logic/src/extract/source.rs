//! What belongs to a clock source: the cluster that drives the declared net, and whatever only feeds
//! it, such as the oscillator behind the gate that carries the clock's name.

use super::clusters::{Cluster, ClusterId};
use super::nodes::{Nodes, is_passive};
use dryjoint_board::{Board, NetId};
use dryjoint_ids::{Side, Table};

/// Marks the clusters that belong to a clock source, from the clock's own backwards until no more join.
pub(super) fn mark_sources(board: &Board, nodes: &Nodes, rows: &mut Table<ClusterId, Cluster>) {
    let mut touching: Side<NetId, Vec<ClusterId>> = Side::filled(&board.nets, Vec::new());
    for (id, cluster) in rows.iter() {
        for &net in cluster.drives.iter().chain(&cluster.reads) {
            touching[net].push(id);
        }
    }
    let mut clock = Side::filled(&board.nets, false);
    for (_, row) in board.clocks.iter() {
        for net in [Some(row.net), row.complement].into_iter().flatten() {
            clock[nodes.first(net)] = true;
        }
    }
    let sources = Sources { board, touching, clock };
    let mut more: Vec<ClusterId> =
        rows.ids().filter(|&id| rows[id].drives.iter().any(|&net| sources.clock[net])).collect();
    while !more.is_empty() {
        for id in more {
            rows[id].is_source = true;
        }
        let left = rows.ids().filter(|&id| !rows[id].is_source);
        more = left.filter(|&id| sources.joins(rows, id) || sources.feeds(rows, id)).collect();
    }
}

struct Sources<'a> {
    board: &'a Board,
    touching: Side<NetId, Vec<ClusterId>>,
    clock: Side<NetId, bool>,
}

impl Sources<'_> {
    fn passive(&self, cluster: &Cluster) -> bool {
        cluster.parts.iter().all(|&part| is_passive(&self.board.parts[part].kind))
    }

    /// A passive cluster on an inner signal that the source drives.
    fn joins(&self, rows: &Table<ClusterId, Cluster>, id: ClusterId) -> bool {
        let drives =
            |other: ClusterId, net: NetId| rows[other].is_source && rows[other].drives.contains(&net);
        self.passive(&rows[id])
            && rows[id]
                .reads
                .iter()
                .any(|&net| !self.clock[net] && self.touching[net].iter().any(|&other| drives(other, net)))
    }

    /// A stage that nobody but the source and passive clusters reads.
    fn feeds(&self, rows: &Table<ClusterId, Cluster>, id: ClusterId) -> bool {
        let only_source_reads = |net: NetId| {
            let mut by_source = false;
            for &other in self.touching[net].iter().filter(|&&other| rows[other].reads.contains(&net)) {
                if !rows[other].is_source && !self.passive(&rows[other]) {
                    return false;
                }
                by_source |= rows[other].is_source;
            }
            by_source && !self.clock[net]
        };
        !rows[id].drives.is_empty() && rows[id].drives.iter().all(|&net| only_source_reads(net))
    }
}
