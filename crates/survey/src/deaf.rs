//! Inputs that their stage does not hear: whatever the net is, the stage puts out the same.
//!
//! A base resistor ten times too large is the usual reason. The logic found in such a board is true to
//! its circuit, and yet not what anybody solders a resistor for.

use dryjoint_board::{Entity, NetId, Notice, PartId, PartKind};
use dryjoint_logic::{ClusterId, Extracted, Function, StageId};

/// Tells of every such input, at the part that brings it in.
pub(crate) fn deaf(extracted: &Extracted, notices: &mut Vec<Notice>) {
    let shape = &extracted.shape;
    for (id, cluster) in shape.clusters.rows.iter() {
        if cluster.is_source || shape.passive(id) {
            continue;
        }
        let stages: Vec<StageId> =
            extracted.cluster_of.iter().filter(|(_, of)| **of == Some(id)).map(|(stage, _)| stage).collect();
        for (bit, &net) in cluster.reads.iter().enumerate() {
            let is_deaf = |stage: &StageId| match &extracted.logic.stages[*stage].function {
                Function::Found(rows) => (0..rows.len()).all(|row| rows[row] == rows[row ^ (1 << bit)]),
                Function::Gate(_) | Function::Flop => false,
            };
            if !stages.is_empty() && stages.iter().all(is_deaf) {
                notices.push(told(extracted, id, net));
            }
        }
    }
}

fn told(extracted: &Extracted, id: ClusterId, net: NetId) -> Notice {
    let shape = &extracted.shape;
    let board = shape.board;
    let parts = &shape.clusters.rows[id].parts;
    let name = &board.nets[net].name;
    let touches = |part: &&PartId| shape.nodes.ends(board, **part).contains(&net);
    let by = parts.iter().find(touches).copied().unwrap_or(parts[0]);
    let reader = crate::receivers::person_finds(board, parts);
    let reader = &board.parts[reader].reference;
    let reference = &board.parts[by].reference;
    let (through, mend) = match board.parts[by].kind {
        PartKind::Resistor { ohms, .. } => (
            format!("{reference} of {ohms}"),
            format!("lower {reference}, or raise what drains the base of {reader}"),
        ),
        _ => (reference.clone(), format!("look at what stands between {name} and {reader}")),
    };
    let text = format!("`{name}` through {through} does not move {reader}: high or low, it does the same");
    Notice::warning("input-deaf", Entity::Part(by), text, mend)
}
