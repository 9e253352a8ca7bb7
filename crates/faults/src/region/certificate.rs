//! The voltages behind "every level stays on its side", handed over for plain sums to hold against the board.

use super::row::{Around, Built};
use super::solve::{Edge, MOST_ROWS, Regions, Site, Ways, combinations};
use crate::Fault;
use crate::proof::{Certificate, Place, Point};
use dryjoint_circuit::{NodeName, Solver};
use dryjoint_ids::Id;
use std::collections::BTreeMap;

impl Regions<'_, '_> {
    /// The certificate of a site whose levels stay; nothing where the circuit has no solution, or
    /// there are too many rows.
    pub(super) fn certificate(
        &self,
        site: &Site,
        edges: &[Edge],
        solver: &mut Solver,
    ) -> Option<Certificate> {
        let patch = self.patch(site, Around::Low);
        let rows: usize = edges.iter().map(|edge| edge.ways.len()).product();
        if rows > MOST_ROWS {
            return None;
        }
        let rows = combinations(edges, Ways::All).map(|combination| {
            let mut point = |fault| self.point(site, edges, &combination, fault, solver);
            Some([point(None)?, point(site.fault)?])
        });
        Some(Certificate {
            fault: site.fault.copied(),
            core: site.core.clone(),
            signals: site.signals.clone(),
            cut_off: site.cut_off,
            rows: rows.collect::<Option<_>>()?,
            parts: patch.parts,
            held: patch.held,
            edges: edges.iter().map(Edge::claimed).collect(),
        })
    }

    /// The voltages of one row, by their places on the board.
    fn point(
        &self,
        site: &Site,
        edges: &[Edge],
        combination: &[usize],
        fault: Option<&Fault>,
        solver: &mut Solver,
    ) -> Option<Point> {
        let stands = edges.iter().zip(combination).map(|(edge, &way)| (edge.net, &edge.ways[way].1));
        let Built { network, patch, stand_ins } = self.build(site, stands, fault, Around::Low);
        let solved = self.memory.point(solver, &network)?;
        let volts = |node: dryjoint_circuit::NodeId| solved.volts[node.index()];
        let mut point = Point { volts: BTreeMap::new(), inner: BTreeMap::new() };
        for (node, name) in network.nodes() {
            let place = match name {
                NodeName::Net(net) => Place::Net(net),
                NodeName::Lifted(pin) => Place::Lifted(pin),
                NodeName::Ground | NodeName::Free(_) => continue,
            };
            point.volts.insert(place, volts(node));
        }
        for (at, (nodes, elements)) in stand_ins {
            point.volts.extend(nodes.iter().map(|(&net, &node)| (Place::StandIn(at, net), volts(node))));
            for (part, element) in elements {
                point.inner.extend(solved.inner[element.index()].map(|inner| ((Some(at), part), inner)));
            }
        }
        for &part in &patch.parts {
            let element = network.elements_of(part).next();
            let inner = element.and_then(|element| solved.inner[element.index()]);
            point.inner.extend(inner.map(|inner| ((None, part), inner)));
        }
        Some(point)
    }
}
