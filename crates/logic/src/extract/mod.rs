//! Finding the logic in the parts, without any hand modelling.
//!
//! [`extract`] classifies the nets, gathers the parts into clusters, has the circuit answer what each
//! cluster does, and writes it all down as a [`Logic`]. Nothing is special-cased: a latch is two
//! stages that read each other, an open-collector bus is several stages on one signal with a
//! resistor that holds it when all let go.

mod characters;
mod clusters;
mod coupling;
mod fights;
mod nodes;
mod patch;
mod prove;
mod pulses;
mod respond;
mod source;
mod switching;
mod thresholds;

pub use characters::{Character, Output, SignalLevels};
pub use clusters::{Cluster, ClusterId};
pub use coupling::Coupling;
pub use nodes::{Node, is_passive};
pub use patch::{Answer, Patch, Shape};
pub use prove::{Disagreement, Proof, Prover};
pub use respond::Bench;
pub use switching::Switching;
pub use thresholds::Thresholds;

use crate::{Function, Level, Logic, Pulse, Role, Signal, SignalId, Stage, StageId};
use clusters::Clusters;
use dryjoint_board::{Board, Entity, NetId, Notice, PartId, PartKind, Severity};
use dryjoint_ids::Side;
use nodes::Nodes;

/// A board read as logic, with the way back to its parts.
#[derive(Clone, Debug)]
pub struct Extracted<'b> {
    /// The board's nodes and clusters.
    pub shape: Shape<'b>,
    /// The logic.
    pub logic: Logic,
    /// The signal of each net that carries one.
    pub signal_of: Side<NetId, Option<SignalId>>,
    /// The signal of each lamp.
    pub lamp_of: Side<PartId, Option<SignalId>>,
    /// The cluster behind each stage; what only holds a signal at rest has none.
    pub cluster_of: Side<StageId, Option<ClusterId>>,
    /// The electrical side of each signal node.
    pub levels: Side<NetId, SignalLevels>,
    /// Where each input of each cluster really switches.
    pub switching: Switching,
    /// Distinct patches that the circuit solved.
    pub solved: usize,
    /// The capacitors that hand edges into stages.
    pub couplings: Vec<Coupling>,
}

impl Extracted<'_> {
    /// An error for each coupling capacitor, for work that does not follow edges: faulty boards are
    /// compared by their levels at rest.
    pub fn refuse_edges(&self) -> Vec<Notice> {
        let board = self.shape.board;
        let refused = self.couplings.iter().map(|one| {
            let (part, from) = (&board.parts[one.capacitor].reference, &board.nets[one.from].name);
            let text = format!("{part} hands edges of `{from}` on, which are not followed on faulty boards");
            let mend = "`check` and `levels` follow it; faults need the stage driven by levels";
            Notice::error("coupling-faults", Entity::Part(one.capacitor), text, mend)
        });
        refused.collect()
    }
}

/// Reads a board as logic.
pub fn extract(board: &Board) -> (Extracted<'_>, Vec<Notice>) {
    let nodes = Nodes::of(board);
    let clusters = Clusters::of(board, &nodes);
    let (couplings, mut notices) = coupling::couplings(board, &nodes, &clusters);
    let shape = Shape::new(board, nodes, clusters);
    let (characters, more, solved) = {
        let bench = Bench::new(&shape);
        let (characters, notices) = characters::characterise(&bench);
        (characters, notices, bench.solved())
    };
    notices.extend(more);
    let (answered, more) = pulses::answers(&shape, &characters.levels, &couplings);
    notices.extend(more);
    notices.extend(fights::fights(&shape, &characters.found));
    notices.sort_by_key(|notice| (std::cmp::Reverse(notice.severity), notice.about, notice.code));
    let mut extracted = write_down(shape, characters, solved);
    extracted.logic.pulses = pulse_stages(&extracted, &answered);
    extracted.couplings = couplings;
    (extracted, notices)
}

/// Whether notices leave something that later steps can work on.
pub fn is_sound(notices: &[Notice]) -> bool {
    notices.iter().all(|notice| notice.severity != Severity::Error)
}

fn write_down(shape: Shape, characters: characters::Characters, solved: usize) -> Extracted {
    let board = shape.board;
    let mut logic = Logic::default();
    let mut signal_of = Side::filled(&board.nets, None);
    let mut lamp_of = Side::filled(&board.parts, None);
    for net in board.nets.ids() {
        let first = shape.nodes.first(net);
        if shape.nodes.kind(net) != Node::Signal {
            continue;
        }
        if first == net {
            let role = if shape.is_set(net) { Role::Input } else { Role::Inside };
            let name = board.nets[net].name.clone();
            signal_of[net] = Some(logic.signals.push(Signal { name, net: Some(net), role }));
        } else {
            signal_of[net] = signal_of[first];
        }
    }
    for (id, part) in board.parts.iter().filter(|(_, part)| matches!(part.kind, PartKind::Lamp(_))) {
        let name = part.reference.clone();
        lamp_of[id] = Some(logic.signals.push(Signal { name, net: None, role: Role::Seen }));
    }
    let mut cluster_of = Vec::new();
    for character in characters.found {
        let signal = |net: NetId| signal_of[net].expect("a cluster reads and drives signals only");
        let output = match character.output {
            Output::Signal(net) => signal(net),
            Output::Lamp(lamp) => lamp_of[lamp].expect("every lamp has a signal"),
        };
        logic.stages.push(Stage {
            name: stage_name(&shape, &character),
            inputs: character.inputs.iter().map(|&net| signal(net)).collect(),
            output,
            function: Function::Found(character.rows),
        });
        cluster_of.push(Some(character.cluster));
    }
    let resting: Vec<(SignalId, Level)> = logic
        .signals
        .iter()
        .filter_map(|(id, signal)| signal.net.map(|net| (id, characters.levels[net].rest)))
        .filter(|(_, rest)| *rest != Level::Floating)
        .collect();
    for (output, rest) in resting {
        let name = format!("rest of {}", logic.signals[output].name);
        logic.stages.push(Stage { name, inputs: Vec::new(), output, function: Function::Found(vec![rest]) });
        cluster_of.push(None);
    }
    let switching = characters.switching;
    let mut cluster_of = cluster_of.into_iter();
    let cluster_of = Side::new(&logic.stages, |_| cluster_of.next().flatten());
    Extracted {
        shape,
        logic,
        signal_of,
        lamp_of,
        cluster_of,
        levels: characters.levels,
        switching,
        solved,
        couplings: Vec::new(),
    }
}

/// Answers to edges as pulses of the stages that were written down.
fn pulse_stages(extracted: &Extracted, answered: &[pulses::Answered]) -> Vec<Pulse> {
    let found = answered.iter().filter_map(|one| {
        let output = extracted.signal_of[one.output]?;
        let of = |&(id, stage): &(StageId, &Stage)| {
            extracted.cluster_of[id] == Some(one.cluster) && stage.output == output
        };
        let (stage, _) = extracted.logic.stages.iter().find(of)?;
        Some(Pulse { stage, trigger: extracted.signal_of[one.trigger]?, rows: one.rows.clone() })
    });
    found.collect()
}

/// The first transistor of a stage, or its lamp or first part.
fn stage_name(shape: &Shape, character: &Character) -> String {
    let cluster = &shape.clusters.rows[character.cluster];
    let part = match character.output {
        Output::Lamp(lamp) => lamp,
        Output::Signal(net) => {
            shape.output_transistors(character.cluster, net).next().unwrap_or(cluster.parts[0])
        }
    };
    shape.board.parts[part].reference.clone()
}
