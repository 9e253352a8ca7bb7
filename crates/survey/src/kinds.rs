//! The kinds of stages a board is made of: each with its transfer curve, its thresholds, and how its
//! high falls with every load.
//!
//! Two stages are of a kind when their own parts are the same circuit, whatever they feed. The curve is
//! that of the stage by itself with its other inputs low; loads are base resistors of the board's usual
//! kind into transistors that are on, as in `fan_out.rs`.

use crate::margins::NetMargins;
use crate::probe::{Seen, probes};
use dryjoint_board::{NetId, PartId};
use dryjoint_circuit::{Network, Solver};
use dryjoint_logic::{ClusterId, Extracted, Node};
use dryjoint_units::{Ohms, Volts};
use std::collections::HashMap;

/// One kind of stage.
#[derive(Clone, Debug, PartialEq)]
pub struct Kind {
    /// The transistors that drive its outputs, in the order of the text.
    pub drivers: Vec<PartId>,
    /// How many inputs it has.
    pub inputs: usize,
    /// Output over one input, the others low: input and output volts.
    pub curve: Vec<(f64, f64)>,
    /// It reads low up to here and high from there: the points of unity gain.
    pub reads: (Volts, Volts),
    /// Its high with no load, one load, two …
    pub high: Vec<Volts>,
    /// The most stages that one of them feeds on this board.
    pub feeds: usize,
    /// What the strictest receiver of any of them wants for a high: typical, and worst.
    pub wanted: Option<(Volts, Volts)>,
}

/// Volts between two points of a curve.
const STEP: f64 = 0.025;
/// Loads up to which a high is followed.
const LOADS: usize = 16;

/// Every kind that drives a net, the commonest first.
pub(crate) fn kinds(
    extracted: &Extracted,
    margins: &[NetMargins],
    load: Option<Ohms>,
    solver: &mut Solver,
) -> Vec<Kind> {
    let shape = &extracted.shape;
    let mut known: HashMap<Vec<u64>, usize> = HashMap::new();
    let mut members: Vec<Vec<(ClusterId, NetId)>> = Vec::new();
    for (id, cluster) in shape.clusters.rows.iter() {
        let (false, [net]) = (cluster.is_source || shape.passive(id), &cluster.drives[..]) else { continue };
        if cluster.reads.is_empty() || shape.nodes.kind(*net) != Node::Signal {
            continue;
        }
        let mut parts = cluster.parts.clone();
        let pulls = shape.touching[*net]
            .iter()
            .filter(|&&other| shape.passive(other) && shape.clusters.rows[other].reads.len() == 1);
        parts.extend(pulls.flat_map(|&pull| &shape.clusters.rows[pull].parts));
        let key = Network::of_parts(shape.board, &parts).anonymous().key;
        let at = *known.entry(key).or_insert_with(|| {
            members.push(Vec::new());
            members.len() - 1
        });
        members[at].push((id, *net));
    }
    let mut found: Vec<Kind> =
        members.iter().filter_map(|members| kind(extracted, members, margins, load, solver)).collect();
    found.sort_by_key(|kind| (std::cmp::Reverse(kind.drivers.len()), kind.drivers[0]));
    found
}

fn kind(
    extracted: &Extracted,
    members: &[(ClusterId, NetId)],
    margins: &[NetMargins],
    load: Option<Ohms>,
    solver: &mut Solver,
) -> Option<Kind> {
    let shape = &extracted.shape;
    let &(first, net) = members.first()?;
    let cluster = &shape.clusters.rows[first];
    // The first probe of an input has all others low; a lamp on the net has a probe of its own.
    let mut probes = probes(extracted, first, cluster.reads[0]).into_iter();
    let probe = probes.find(|probe| matches!(probe.seen, Seen::Net(seen) if seen == net))?;
    let (low, high) = probe.typical(solver)?;
    let mut drivers: Vec<PartId> =
        members.iter().flat_map(|&(id, net)| shape.output_transistors(id, net)).collect();
    drivers.sort_unstable();
    let of_kind = |row: &&NetMargins| members.iter().any(|&(_, net)| net == row.net);
    let mine = || margins.iter().filter(of_kind);
    let wanted = mine().filter_map(|row| row.high).map(|high| (high.wanted, high.wanted_worst));
    let most = |a: Volts, b: Volts| if b > a { b } else { a };
    Some(Kind {
        drivers,
        inputs: cluster.reads.len(),
        curve: probe.curve(solver, STEP)?,
        reads: (Volts(low), Volts(high)),
        high: load.map_or_else(Vec::new, |load| {
            (0..=LOADS).map_while(|count| probe.high_into(solver, load, count)).collect()
        }),
        feeds: mine().map(|row| row.receivers).max().unwrap_or(0),
        wanted: wanted.reduce(|a, b| (most(a.0, b.0), most(a.1, b.1))),
    })
}
