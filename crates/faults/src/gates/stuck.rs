//! Single stuck-at faults and the groups that no vector can tell apart gate by gate.
//!
//! Sites are each net and each branch of a net with two or more sinks; an output that shows the net
//! is a sink. There are two faults to a site. A fault at a gate's input merges with one at its output
//! where the gate makes them the same: AND in/0 ≡ out/0, NAND in/0 ≡ out/1, OR in/1 ≡ out/1,
//! NOR in/1 ≡ out/0, BUF in/v ≡ out/v, NOT in/v ≡ out/¬v, transitively. XOR merges nothing, a flip-flop
//! merges nothing, and dominance is not used. (The equivalence rules of Brglez & Fujiwara 1985, whose
//! counts the tests reproduce.)

use dryjoint_ids::{Id, Side, Table, Union, id};
use dryjoint_logic::{Function, Gate, Logic, Role, SignalId, StageId};

id!(
    /// A single stuck-at fault.
    StuckId, "stuck"
);
id!(
    /// Stuck-at faults that make the same circuit.
    GroupId, "group"
);

/// Where a stuck-at fault sits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Site {
    /// A whole net.
    Net(SignalId),
    /// The branch of a net that leads to one input of a stage, counted from 0. The branch to a stage
    /// that drives a seen signal is the tap to that output.
    Branch(StageId, u32),
}

/// A net or branch that stays at one level.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StuckAt {
    /// Where.
    pub site: Site,
    /// At which level.
    pub high: bool,
}

/// All single stuck-at faults of a netlist, with their groups.
#[derive(Clone, Debug)]
pub struct StuckFaults {
    /// Every fault, net by net, each net before its branches.
    pub faults: Table<StuckId, StuckAt>,
    /// The groups in the order of their first members.
    pub groups: Table<GroupId, Vec<StuckId>>,
    /// Which group a fault is in.
    pub group_of: Side<StuckId, GroupId>,
}

impl StuckFaults {
    /// Lists and groups the faults of `logic`.
    pub fn of(logic: &Logic) -> Self {
        let sinks = sinks(logic);
        let mut faults = Table::new();
        // The first of the two faults of what a pin reads, and of a signal's net.
        let mut at_pin: Side<StageId, Vec<Option<StuckId>>> =
            Side::new(&logic.stages, |stage| vec![None; logic.stages[stage].inputs.len()]);
        let mut at_net: Side<SignalId, Option<StuckId>> = Side::filled(&logic.signals, None);
        for (signal, row) in logic.signals.iter() {
            if row.role == Role::Seen {
                continue;
            }
            let net = both(&mut faults, Site::Net(signal));
            at_net[signal] = Some(net);
            for &(stage, pin) in &sinks[signal] {
                let branches = sinks[signal].len() > 1;
                let here = if branches { both(&mut faults, Site::Branch(stage, pin)) } else { net };
                at_pin[stage][pin as usize] = Some(here);
            }
        }
        let mut union = Union::new(&faults);
        for (id, stage) in logic.stages.iter() {
            let (Function::Gate(gate), Some(output)) = (&stage.function, at_net[stage.output]) else {
                continue;
            };
            for input in at_pin[id].iter().flatten() {
                for (v, w) in merges(*gate) {
                    union.join(level(*input, *v), level(output, *w));
                }
            }
        }
        let first = union.settle();
        let mut groups: Table<GroupId, Vec<StuckId>> = Table::new();
        let mut group_of = Side::filled(&faults, GroupId::at(0));
        for (fault, &first) in first.iter() {
            let group = if fault == first { groups.push(Vec::new()) } else { group_of[first] };
            groups[group].push(fault);
            group_of[fault] = group;
        }
        Self { faults, groups, group_of }
    }

    /// The fault's name on screens: `N10/0` for a net at 0, `NAND2_3.2/1` for the branch to the second
    /// input of a gate, `N22.tap/0` for the branch to an output.
    pub fn name(&self, logic: &Logic, fault: StuckId) -> String {
        let StuckAt { site, high } = self.faults[fault];
        let level = u8::from(high);
        match site {
            Site::Net(signal) => format!("{}/{level}", logic.signals[signal].name),
            Site::Branch(stage, pin) => {
                let stage = &logic.stages[stage];
                if logic.signals[stage.output].role == Role::Seen {
                    format!("{}.tap/{level}", stage.name)
                } else {
                    format!("{}.{}/{level}", stage.name, pin + 1)
                }
            }
        }
    }

    /// The fault of that name.
    pub fn named(&self, logic: &Logic, name: &str) -> Option<StuckId> {
        self.faults.ids().find(|&fault| self.name(logic, fault) == name)
    }

    /// The net a site's level comes from.
    pub fn net(&self, logic: &Logic, fault: StuckId) -> SignalId {
        match self.faults[fault].site {
            Site::Net(signal) => signal,
            Site::Branch(stage, pin) => logic.stages[stage].inputs[pin as usize],
        }
    }
}

/// Which stage inputs read each signal, in stage order.
pub(super) fn sinks(logic: &Logic) -> Side<SignalId, Vec<(StageId, u32)>> {
    let mut sinks: Side<SignalId, Vec<(StageId, u32)>> = Side::filled(&logic.signals, Vec::new());
    for (id, stage) in logic.stages.iter() {
        for (pin, &input) in (0_u32..).zip(&stage.inputs) {
            sinks[input].push((id, pin));
        }
    }
    sinks
}

/// Both faults of a site, low first; the id of the low one.
fn both(faults: &mut Table<StuckId, StuckAt>, site: Site) -> StuckId {
    let low = faults.push(StuckAt { site, high: false });
    faults.push(StuckAt { site, high: true });
    low
}

fn level(low: StuckId, high: bool) -> StuckId {
    StuckId::at(low.index() + usize::from(high))
}

/// Input levels that a gate makes the same as an output level.
fn merges(gate: Gate) -> &'static [(bool, bool)] {
    match gate {
        Gate::And => &[(false, false)],
        Gate::Nand => &[(false, true)],
        Gate::Or => &[(true, true)],
        Gate::Nor => &[(true, false)],
        Gate::Buf => &[(false, false), (true, true)],
        Gate::Not => &[(false, true), (true, false)],
        Gate::Xor | Gate::Xnor => &[],
    }
}
