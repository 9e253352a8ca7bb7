//! Vectors that tell faults from each other, and a proof for each two that no vector tells apart.
//!
//! What two faults show is the same only if every output is the same under every vector. Classes of
//! faults that nothing has told apart yet are split by random vectors first, hundreds of faulty
//! machines side by side; then each class that is left is asked about two at a time: both faulty
//! circuits are put as clauses over the same inputs, and some output must differ. What the solver finds
//! is a vector that splits further; what it says cannot be is taken only with a proof that was
//! followed. Two faults that are the same as a third are the same as each other, so a class of n needs
//! n - 1 proofs. (Diagnostic test generation by equivalence classes: P. Camurati et al. 1990.)

use super::encode::{Encoding, write};
use super::explain::{At, Spoilt};
use super::formula::{Answer, Formula, Literal, Manner, solve};
use super::generate::draw;
use super::proof::Refuted;
use dryjoint_draws::Draws;
use dryjoint_faults::gates::{Circuit, Crew, GroupId, NodeId, Obstacle, Op, Span, StuckFaults, Vector};
use dryjoint_faults::lanes::{LANES, Planes, Word};
use dryjoint_ids::Id;
use dryjoint_logic::Logic;
use std::collections::BTreeMap;

/// Random vectors in a row that split nothing before the solver takes over.
const PATIENCE: usize = 512;

/// Faulty machines to a crew.
const CREW: usize = LANES - 1;

/// Vectors that tell faults apart, and what they leave together.
#[derive(Clone, Debug)]
pub struct Distinction {
    /// The vectors. Together they split all classes.
    pub vectors: Vec<Vector>,
    /// All faults with their groups.
    pub faults: StuckFaults,
    /// Groups that show the same under every one of the vectors, each class in order.
    pub classes: Vec<Vec<GroupId>>,
    /// The class that shows what the good circuit shows.
    pub silent: Option<usize>,
    /// The proofs that members of a class are the same under any vector, all together.
    pub proof: Refuted,
    /// How many members of classes are proven the same as the first of theirs. The good circuit counts as
    /// a member of the silent class.
    pub proven: usize,
    /// How many of them nothing is proven about.
    pub open: usize,
}

/// Tells all faults of a netlist of gates apart as far as any vector can. Nothing for a netlist with
/// flip-flops, whose faults take sequences.
pub fn distinguish(logic: &Logic, random: u64) -> Result<Option<Distinction>, Obstacle> {
    let circuit = Circuit::compile(logic)?;
    if !circuit.flops().is_empty() {
        return Ok(None);
    }
    let faults = StuckFaults::of(logic);
    let mut classes = Classes::new(logic, &circuit, &faults);
    let mut random = Draws::new(random);
    let mut vectors: Vec<Vector> = Vec::new();
    let mut idle = 0;
    while idle < PATIENCE {
        let vector = draw(&circuit, &mut random);
        idle += 1;
        if classes.split(&vector) {
            vectors.push(vector);
            idle = 0;
        }
    }
    let (mut proof, mut proven, mut open) = (Refuted::NOTHING, 0, 0);
    // Which members are known to be the same as the first of their class, whatever becomes of the class.
    let mut settled = vec![false; faults.groups.len() + 1];
    while let Some((first, other)) = classes.next_pair(&settled) {
        let stuck = |at: usize| {
            let group = faults.groups.rows().get(at)?;
            Some(Spoilt::of(logic, &circuit, faults.faults[group[0]]))
        };
        let (question, both) = asked(&circuit, stuck(first).as_ref(), stuck(other).as_ref());
        match solve(&question, Manner { random: 0, conflicts: 0, prefer: &|_| None }) {
            Answer::Can(values) => {
                let vector = both.vector(&values, |_| random.once_in(2));
                let splits = classes.split(&vector);
                debug_assert!(splits, "the solver's vector tells its two apart");
                vectors.push(vector);
                if splits {
                    continue;
                }
                open += 1;
            }
            Answer::Cannot(learnt) => match Refuted::sealed(&question, &learnt) {
                Some(refuted) => {
                    proof = proof + refuted;
                    proven += 1;
                }
                None => open += 1,
            },
            Answer::Open => open += 1,
        }
        settled[other] = true;
    }
    let vectors = fewer(logic, &circuit, &faults, vectors, classes.list().len());
    let silent = classes.silent();
    Ok(Some(Distinction { vectors, classes: classes.list(), silent, faults, proof, proven, open }))
}

/// Without those that split nothing when the list is played from its end.
fn fewer(
    logic: &Logic,
    circuit: &Circuit,
    faults: &StuckFaults,
    vectors: Vec<Vector>,
    wanted: usize,
) -> Vec<Vector> {
    let mut classes = Classes::new(logic, circuit, faults);
    let mut kept: Vec<Vector> = vectors.into_iter().rev().filter(|vector| classes.split(vector)).collect();
    debug_assert_eq!(classes.list().len(), wanted);
    kept.reverse();
    kept
}

/// Groups by what they have shown so far.
struct Classes<'c> {
    crews: Vec<Crew<'c>>,
    /// The class of each group, and last that of the good circuit.
    class: Vec<usize>,
    count: usize,
    scratch: Vec<Planes>,
}

impl<'c> Classes<'c> {
    fn new(logic: &Logic, circuit: &'c Circuit, faults: &StuckFaults) -> Self {
        let first: Vec<_> = faults.groups.rows().iter().map(|group| faults.faults[group[0]]).collect();
        let crews = first.chunks(CREW).map(|some| Crew::new(logic, circuit, Span::Whole, some));
        let crews = crews.collect();
        Self { crews, class: vec![0; first.len() + 1], count: 1, scratch: Vec::new() }
    }

    /// Splits what a vector tells apart; whether that was anything.
    fn split(&mut self, vector: &Vector) -> bool {
        let inputs = Vector::side_by_side(std::slice::from_ref(vector));
        // Per output, per crew.
        let mut shown: Vec<Vec<Word>> = Vec::new();
        for crew in &self.crews {
            let mut state = crew.power_on();
            crew.step(&inputs, &mut state, &mut self.scratch);
            for (output, planes) in crew.outputs(&self.scratch).enumerate() {
                if shown.len() == output {
                    shown.push(Vec::new());
                }
                shown[output].push(planes.one);
            }
        }
        let before = self.count;
        for crews in &shown {
            let mut new_class: BTreeMap<(usize, bool), usize> = BTreeMap::new();
            let good = self.class.len() - 1;
            let mut met = vec![None; self.count];
            for at in 0..self.class.len() {
                let (crew, lane) = if at == good { (0, 0) } else { (at / CREW, at % CREW + 1) };
                let high = crews[crew].get(lane);
                let old = self.class[at];
                // Those that show what the first of their class shows stay in it.
                if *met[old].get_or_insert(high) == high {
                    continue;
                }
                let next = self.count;
                self.class[at] = *new_class.entry((old, high)).or_insert(next);
                self.count = self.count.max(self.class[at] + 1);
                met.resize(self.count, Some(high));
            }
        }
        self.count > before
    }

    /// The classes of faults, each in order.
    fn list(&self) -> Vec<Vec<GroupId>> {
        let mut lists: Vec<Vec<GroupId>> = vec![Vec::new(); self.count];
        for (at, &class) in self.class[..self.class.len() - 1].iter().enumerate() {
            lists[class].push(GroupId::at(at));
        }
        // The good circuit may have one to itself.
        lists.retain(|list| !list.is_empty());
        lists.sort();
        lists
    }

    fn silent(&self) -> Option<usize> {
        let good = self.class.last()?;
        let first = self.class[..self.class.len() - 1].iter().position(|class| class == good)?;
        self.list().iter().position(|list| list[0].index() == first)
    }

    /// The first of some class, and a member of it that is not settled; the good circuit stands last.
    fn next_pair(&self, settled: &[bool]) -> Option<(usize, usize)> {
        let mut first: Vec<Option<usize>> = vec![None; self.count];
        for (at, &class) in self.class.iter().enumerate() {
            match first[class] {
                None => first[class] = Some(at),
                Some(first) if !settled[at] => return Some((first, at)),
                Some(_) => {}
            }
        }
        None
    }
}

/// "Some output of the two faulty circuits differs", with the encoding that reads a vector from the answer.
fn asked<'c>(circuit: &'c Circuit, one: Option<&Spoilt>, other: Option<&Spoilt>) -> (Formula, Encoding<'c>) {
    let mut encoding = Encoding::new(circuit);
    let one = copy(circuit, one, &mut encoding);
    let other = copy(circuit, other, &mut encoding);
    let mut differs = Vec::new();
    for (&a, &b) in one.iter().zip(&other) {
        if a == b {
            continue;
        }
        let differ = encoding.formula.variable();
        encoding.formula.clause(&[!differ, a, b]);
        encoding.formula.clause(&[!differ, !a, !b]);
        differs.push(differ);
    }
    encoding.formula.clause(&differs);
    (encoding.formula.clone(), encoding)
}

/// The outputs of a circuit with a fault, or none: written anew where it can differ, the good one elsewhere.
fn copy(circuit: &Circuit, spoilt: Option<&Spoilt>, encoding: &mut Encoding) -> Vec<Literal> {
    let Some(spoilt) = spoilt else {
        return circuit.seen().iter().map(|(_, node)| encoding.good(*node)).collect();
    };
    let stuck = encoding.constant(spoilt.level.value() == Some(true));
    let mut bad: BTreeMap<NodeId, Literal> = BTreeMap::new();
    for node in circuit.nodes() {
        if spoilt.at == At::Net(node) {
            bad.insert(node, stuck);
            continue;
        }
        let Op::Gate(gate) = circuit.op(node) else { continue };
        let held = |pin: usize| spoilt.at == At::Pin(node, pin);
        let fan_in = circuit.fan_in(node);
        if !fan_in.iter().enumerate().any(|(pin, read)| held(pin) || bad.contains_key(read)) {
            continue;
        }
        let read = |(pin, read): (usize, &NodeId)| {
            if held(pin) { stuck } else { bad.get(read).copied().unwrap_or_else(|| encoding.good(*read)) }
        };
        let inputs: Vec<Literal> = fan_in.iter().enumerate().map(read).collect();
        bad.insert(node, write(&mut encoding.formula, gate, &inputs));
    }
    let seen = circuit.seen().iter();
    seen.map(|(signal, node)| match spoilt.at {
        At::Tap(at) if at == *signal => stuck,
        _ => bad.get(node).copied().unwrap_or_else(|| encoding.good(*node)),
    })
    .collect()
}
