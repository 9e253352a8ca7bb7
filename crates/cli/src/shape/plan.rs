//! The bench procedure: steps, what must be seen after each, and what they show.

use super::{Header, Named};
use crate::action::Action;
use crate::readings::Seen;
use schemars::JsonSchema;
use serde::Serialize;

/// A procedure. Printed by `dryjoint plan FILE --json`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Plan {
    #[serde(flatten)]
    pub header: Header,
    /// How many faults there are and what becomes of them.
    pub faults: Counts,
    /// The steps, in order; the first one starts with power off.
    pub steps: Vec<Step>,
    /// Time of the whole procedure on a board that is as it should be.
    pub bench_seconds: f64,
    /// What the list would have taken as the search had found it, before it was compacted. Only for a board.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub found_seconds: Option<f64>,
    /// When a half, nine tenths and 99 of 100 of the faults that a lamp can surely show have shown, weighed
    /// by how probable each is. Only for a board.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub milestones: Vec<Milestone>,
    /// Fewer steps than this cannot show the same faults: proven. Only for a netlist of gates, where such
    /// a proof was found.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub least_steps: Option<usize>,
    /// Whether the time was up or Ctrl-C was pressed before everything was tried; what stands here is then
    /// the best there was.
    pub cut_short: bool,
    /// Faults that some step may show and none surely does, with the reason. Only for a board.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub chance: Vec<NotShown>,
    /// Groups that no lamp can ever show, with the reason.
    pub never: Vec<NotShown>,
    /// Groups that no step of this procedure shows and no reason excludes.
    pub undecided: Vec<NotShown>,
}

/// Counts of faults. Every fault is in one group; `shown`, `chance`, `never` and `undecided` add up to `all`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Counts {
    /// Every single fault of the list.
    pub all: usize,
    /// Stuck-at faults once those that make the same circuit, gate by gate, are counted as one. Only for a
    /// netlist of gates.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub collapsed: Option<usize>,
    /// Groups that this procedure's lamps can tell apart, and those it cannot show.
    pub groups: usize,
    /// Faults that some step shows.
    pub shown: usize,
    /// Faults that some step may show, as luck has it, and none surely does.
    pub chance: usize,
    /// What is known of ways that surely show those. Only for a board.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_chance: Option<OfChance>,
    /// Faults that no lamp can ever show.
    pub never: usize,
    /// Faults neither shown nor excluded.
    pub undecided: usize,
}

/// Faults that may show, by what is known of ways that surely show them.
#[derive(Clone, Copy, Debug, Default, Serialize, JsonSchema)]
pub struct OfChance {
    /// Proven: nothing surely shows them, since luck can hide them whatever hands do.
    pub luck_hides: usize,
    /// Every state that hands can bring about was gone through: in none is a lamp sure to differ.
    pub nowhere_sure: usize,
    /// There are more states than were tried.
    pub not_settled: usize,
}

impl OfChance {
    /// The count of one kind.
    pub fn of(&mut self, surely: Surely) -> &mut usize {
        match surely {
            Surely::LuckHides => &mut self.luck_hides,
            Surely::NowhereSure => &mut self.nowhere_sure,
            Surely::NotSettled => &mut self.not_settled,
        }
    }
}

/// How soon so much has shown.
#[derive(Clone, Copy, Debug, Serialize, JsonSchema)]
pub struct Milestone {
    /// The share, from 0 to 1.
    pub share: f64,
    /// The step by which it has, counted from 1.
    pub step: usize,
    /// The time at the end of that step.
    pub seconds: f64,
}

/// A step: what the hands do, then what the lamps must show.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Step {
    /// Its number, counted from 1.
    pub number: usize,
    /// The heading it stands under.
    pub heading: String,
    /// What to do, in order.
    #[serde(rename = "do")]
    pub hands: Hands,
    /// What each lamp must show afterwards. A lamp whose state cannot be known is left out.
    pub expect: Named<Seen>,
    /// Time for the actions and the look.
    pub seconds: f64,
    /// How many faults this step is the first to show.
    pub shows: usize,
}

/// What the hands do in a step.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Hands {
    /// On a board: actions, one after the other.
    Actions(Vec<Action>),
    /// On a netlist of gates: the value of every input, 0 or 1.
    Inputs(Named<u8>),
}

/// Faults that no step shows.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct NotShown {
    /// Their names.
    pub faults: Vec<String>,
    /// Why.
    pub reason: String,
    /// What is known of ways that surely show them. Only for a board, and only for what may show.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub surely: Option<Surely>,
    /// What the reason was held against a second time. Only for a board, and only for what never shows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub proof: Option<Proof>,
}

/// What stands behind "no lamp can show".
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Proof {
    /// With the fault in it the currents at every node were added up again, row by row, from the parts' published laws.
    Currents,
    /// A formula was refuted, and a checker followed the refutation.
    Formula,
    /// Every state that hands can bring about was gone through.
    States,
    /// What direct current can flow through is the same with the fault as without it.
    Copper,
    /// A second, plain circuit was followed in time and does what is said of the clock or of the pulse at power-on.
    Time,
}

/// What is known of ways that surely show what may show.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Surely {
    /// There is none: luck can hide it whatever hands do.
    LuckHides,
    /// In no state that hands can bring about is a lamp sure to differ.
    NowhereSure,
    /// There are more states than were tried.
    NotSettled,
}
