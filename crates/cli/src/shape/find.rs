//! The verdict: who could have caused all that was seen, and what to do next.

use super::{Header, Named};
use crate::action::Action;
use crate::readings::Seen;
use schemars::JsonSchema;
use serde::Serialize;

/// A verdict. Printed by `dryjoint find FILE --readings FILE --json`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Verdict {
    #[serde(flatten)]
    pub header: Header,
    /// How many readings were weighed.
    pub readings: usize,
    /// What there is to remark on the readings, such as a figure that no meter can have shown.
    pub notices: Vec<Notice>,
    /// Lamps that were not as expected.
    pub surprises: Vec<Surprise>,
    /// Figures of the meter and of the supply that a good board would not show.
    pub figures: Vec<Figure>,
    /// Most probable first; those below a thousandth are left out.
    pub suspects: Vec<Suspect>,
    /// Readings that fit none of the probable suspects: worth a second look.
    pub doubts: Vec<Doubt>,
    /// The probability that the unit has no fault at all.
    pub no_fault: f64,
    /// The probability of something that is not on the list of faults.
    pub none_of_these: f64,
    /// Several faults at once, where no single one explains what was seen.
    pub several: Option<Several>,
    /// Where to go on, where a repair was the last thing.
    pub resume: Option<Resume>,
    /// The best next action, while something promises to tell more.
    pub next: Option<Next>,
    /// Why there is none.
    pub end: Option<End>,
}

/// Why there is nothing to do next.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct End {
    /// `one-circuit`, `nothing-close`, `lamps-never`, `lamps-not-found`, `done`, `no-fault`, `none-of-these`
    /// or `no-suspect`.
    pub why: String,
    /// The same in words.
    pub words: String,
}

/// Where to go on after a repair.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Resume {
    /// The number of the first step that the repair can have changed.
    pub step: usize,
    /// What to do after power-on and before that step, without looking.
    pub lead: Vec<Action>,
}

/// Several faults at once.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Several {
    /// How sure it is that more than one fault is there.
    pub more_than_one: f64,
    /// Twos and threes that nothing seen so far tells apart, most probable first.
    pub sets: Vec<FaultSet>,
    /// The probability that neither one fault nor any of these did it.
    pub none_of_these: f64,
    /// How many pairs were weighed: all there are.
    pub pairs_weighed: usize,
}

/// Faults that together would have shown what was seen.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FaultSet {
    /// The likeliest two or three, each group of faults by the words for its first cause.
    pub causes: Vec<String>,
    /// The same by name.
    pub faults: Vec<String>,
    /// How many other sets show the same.
    pub alike: usize,
    /// The probability of all of them together.
    pub probability: f64,
}

/// A lamp that was not as expected.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Surprise {
    /// The number of the step, where the reading was of a step.
    pub step: Option<usize>,
    /// The lamp's reference.
    pub lamp: String,
    /// What was expected.
    pub expected: Seen,
    /// What was seen.
    pub seen: Seen,
}

/// What there is to remark on a reading.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Notice {
    /// The reading, such as `line 3`.
    pub place: String,
    /// `error`, `warning` or `remark`; after an error the reading was not taken.
    pub severity: String,
    /// The kind of notice.
    pub code: String,
    /// What is wrong.
    pub text: String,
    /// How to mend it.
    pub mend: String,
}

/// A figure that a good board would not show.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Figure {
    /// The number of the step, where the reading was of a step.
    pub step: Option<usize>,
    /// The net, `A to B` for ohms, or `the supply's current`.
    pub of: String,
    /// Volts, amperes or ohms.
    pub unit: Unit,
    /// What a good board shows; none where a meter on ohms shows no reading.
    pub expected: Option<f64>,
    /// What was read.
    pub seen: Option<f64>,
}

/// The unit of a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Unit {
    Volts,
    Amps,
    Ohms,
}

/// A reading to take again.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Doubt {
    /// The number of the step, where the reading was of a step.
    pub step: Option<usize>,
    /// The lamp or the net.
    pub of: String,
    /// The probability that the reading is wrong.
    pub wrong: f64,
    /// Why it should be taken again, in words.
    pub why: String,
}

/// A group of faults that nothing seen so far tells apart.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Suspect {
    /// The faults, by name, the most probable first.
    pub faults: Vec<String>,
    /// Their probability together.
    pub probability: f64,
    /// The probability of each, in the same order.
    pub shares: Vec<f64>,
    /// What to look at on the board; the same is said once.
    pub look: Vec<String>,
    /// The faults as people speak of them, place by place, the most probable place first.
    pub causes: Vec<Cause>,
}

/// Faults of one kind at one part.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Cause {
    /// Part and pins in words.
    pub words: String,
    /// What sort of fault.
    pub kind: String,
    /// Their probability together.
    pub probability: f64,
    /// What to look at.
    pub look: String,
    /// What mends it.
    pub repair: String,
}

/// What to do next.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Next {
    /// What to do.
    #[serde(flatten)]
    pub deed: Deed,
    /// What may be seen and what it would mean, most probable first.
    pub outcomes: Vec<Outcome>,
    /// How much it promises to tell, in bits.
    pub bits: f64,
    /// Whether power is off when it begins: switch on first, nothing tied, unless it is a resistance.
    pub off: bool,
    /// How long it takes.
    pub seconds: f64,
    /// How long it takes afterwards, on the mean, to bring the board back to where it stood.
    pub seconds_after: f64,
}

/// Something to do.
#[derive(Clone, Debug, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Deed {
    /// Do this and look at the lamps.
    Look {
        /// The number of the procedure's step whose actions stand at the end, where it is one.
        step: Option<usize>,
        /// What to do.
        #[serde(rename = "do")]
        actions: Vec<Action>,
        /// What a good board shows. A lamp whose state cannot be known is left out.
        expect: Named<Seen>,
    },
    /// Hold a meter lead on a net, the other on ground.
    Volts {
        /// What to do first; empty where the board is measured as it stands.
        #[serde(rename = "do")]
        actions: Vec<Action>,
        /// The net.
        net: String,
        /// Pins of it where the lead can go, the handiest first.
        pins: Vec<String>,
        /// Volts of a good board.
        good: Option<f64>,
    },
    /// Read the supply's current.
    Supply {
        /// Amperes of a good board.
        good: Option<f64>,
    },
    /// Switch off, take every jumper off, wait for the capacitors, and measure the ohms between two nets.
    Ohms {
        /// Where the red lead goes.
        red: Touch,
        /// Where the black lead goes.
        black: Touch,
        /// Ohms of a good board; none where the meter shows no reading there.
        good: Option<f64>,
    },
}

/// Where a meter's lead goes.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Touch {
    /// The net.
    pub net: String,
    /// Pins of it where the lead can go, the handiest first.
    pub pins: Vec<String>,
}

/// Something that may be seen.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Outcome {
    /// The lamps by which it is told: `lit`, `dark`, `dim` or `unknown`.
    pub lamps: Option<Named<String>>,
    /// From how many volts to how many.
    pub volts: Option<[f64; 2]>,
    /// From how many amperes to how many.
    pub amps: Option<[f64; 2]>,
    /// From how many ohms to how many.
    pub ohms: Option<[f64; 2]>,
    /// Whether the meter on ohms shows no reading.
    pub no_reading: bool,
    /// The faults that would show it, most probable first.
    pub faults: Vec<String>,
    /// Whether a good board would show it.
    pub good: bool,
    /// How probable it is.
    pub probability: f64,
}
