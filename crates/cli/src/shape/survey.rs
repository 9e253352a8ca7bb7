//! What a board's own numbers say before power.

use super::timing::Timing;
use schemars::JsonSchema;
use serde::Serialize;

/// Margins, currents, limits, ties, clock: part of the document of `dryjoint check`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Survey {
    /// Levels and noise margins of every net that a stage reads, smallest first.
    pub margins: Vec<NetMargins>,
    /// How many more loads each driven net could feed, fewest first.
    pub fan_out: Vec<FanOut>,
    /// The base resistor of such a load, in ohms.
    pub usual_load_ohms: Option<f64>,
    /// The kinds of stages the board is made of, the commonest first.
    pub kinds: Vec<Kind>,
    /// Every transistor that conducts in some state, weakest drive first.
    pub driven: Vec<Driven>,
    /// Every lamp.
    pub lamps: Vec<Shine>,
    /// Every part with the limit it comes nearest to, nearest first.
    pub limits: Vec<Limit>,
    /// What the supply gives.
    pub supply: Option<Draw>,
    /// Every connector pin that carries a signal, left open and tied either way.
    pub ties: Vec<PinTies>,
    /// What a meter reads with the supply unplugged.
    pub unpowered: Unpowered,
    /// Clocks, resets, delays, phases and paths.
    pub timing: Timing,
}

/// A connector's pin, left open and tied both ways.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct PinTies {
    /// The pin, such as `J1.3`.
    pub pin: String,
    /// Its net.
    pub net: String,
    /// The pin left open.
    pub open: Open,
    /// A jumper from it to ground.
    pub ground: Jumper,
    /// A jumper from it to the rail.
    pub rail: Jumper,
}

/// A pin left open.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Open {
    /// `safe`, `unsafe` or `pointless`.
    pub verdict: String,
    /// Why, in a few words.
    pub reason: String,
    /// The volts on it; none where nothing holds it.
    pub volts: Option<f64>,
    /// `high` or `low`, as the board reads it; none where the board drives it itself.
    pub reads: Option<String>,
}

/// What a jumper does.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Jumper {
    /// `safe`, `unsafe` or `pointless`.
    pub verdict: String,
    /// Why, in a few words.
    pub reason: String,
    /// The most that flows through it, in amperes: typical parts, nothing of another board on.
    pub amps: f64,
    /// The same with a driver of another board on, where one may stand there.
    pub amps_fought: Option<f64>,
    /// The part of this board that it loads most.
    pub own: Option<Burden>,
    /// The driver of another board that it loads most; `part` is the one of this board it is like.
    pub other: Option<Burden>,
}

/// What a part has to bear under a jumper, with the worst copies and 50 °C around it.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Burden {
    /// The part and the limit it comes nearest to.
    #[serde(flatten)]
    pub limit: Limit,
    /// How hot its junction gets, in degrees Celsius, where it is a transistor.
    pub junction_celsius: Option<f64>,
}

/// What a meter reads with the supply unplugged, typical parts.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Unpowered {
    /// Each rail against ground.
    pub rails: Vec<Dead>,
    /// Connector pins and test points against ground.
    pub points: Vec<Dead>,
    /// Transistors in place, those that read alike together.
    pub transistors: Vec<DeadTransistor>,
}

/// What a meter reads between two nets: ohms with at most 0.2 V across, the diode position with 3 V behind
/// 2k2.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Dead {
    /// Where the red lead goes.
    pub red: String,
    /// Where the black lead goes.
    pub black: String,
    /// On ohms; none above 20 MΩ.
    pub ohms: Option<f64>,
    /// In the diode position, in volts; none above 2 V.
    pub forward_volts: Option<f64>,
    /// The same with the leads swapped.
    pub backward_volts: Option<f64>,
}

/// What the diode position shows on transistors in place, in volts; none above 2 V.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct DeadTransistor {
    /// The transistors.
    pub parts: Vec<String>,
    /// Red on the base, black on the emitter; the other way round for a PNP.
    pub base_emitter_volts: Option<f64>,
    /// Red on the base, black on the collector; likewise.
    pub base_collector_volts: Option<f64>,
}

/// The margins of one net.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct NetMargins {
    /// The net.
    pub net: String,
    /// The transistor that drives it, where one does.
    pub driver: Option<String>,
    /// How many stages read it.
    pub receivers: usize,
    /// Its high level.
    pub high: Option<Margin>,
    /// Its low level.
    pub low: Option<Margin>,
}

/// One level against its strictest receiver, in volts.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Margin {
    /// The level with typical parts, in the worst of the states seen.
    pub level: f64,
    /// From where (up to where) the strictest receiver reads it, typical parts, unity gain.
    pub wanted: f64,
    /// The difference of the two: the noise margin.
    pub typical: f64,
    /// The level with the worst parts in the worst surroundings.
    pub level_worst: f64,
    /// What the strictest receiver then needs to put out a level that its own receivers read.
    pub wanted_worst: f64,
    /// What is then left; below zero something may be misread.
    pub worst: f64,
    /// The strictest receiver's transistor.
    pub receiver: String,
}

/// What a net feeds and could feed.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct FanOut {
    /// The net.
    pub net: String,
    /// Stages on it.
    pub feeds: usize,
    /// How many more of the usual kind it could feed.
    pub left: usize,
}

/// A kind of stage: all whose own parts are the same circuit.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Kind {
    /// The transistors that drive their outputs.
    pub drivers: Vec<String>,
    /// How many inputs it has.
    pub inputs: usize,
    /// It reads low up to the first and high from the second, in volts: unity gain, typical parts.
    pub reads: [f64; 2],
    /// Its high in volts with no load, one load, two …
    pub high_volts: Vec<f64>,
    /// The most stages that one of them feeds on this board.
    pub feeds: usize,
    /// What the strictest receiver of any of them wants for a high, in volts: typical, and worst.
    pub wanted: Option<[f64; 2]>,
}

/// A transistor at its weakest drive.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Driven {
    /// The transistor.
    pub part: String,
    /// Collector current over base current.
    pub forced_beta: f64,
    /// The current gain of the weakest copy at that collector current.
    pub least_gain: f64,
    /// How many times the base current that copy needs it gets.
    pub overdrive: f64,
    /// Collector current, in amperes.
    pub collector_amps: f64,
    /// Collector to emitter, in volts.
    pub across_volts: f64,
}

/// A lamp's currents, in amperes.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Shine {
    /// The lamp.
    pub lamp: String,
    /// Least and greatest when it is meant to be lit.
    pub lit_amps: Option<[f64; 2]>,
    /// How it looks at the least of them: `dark`, `dim` or `lit`.
    pub looks: Option<String>,
    /// Greatest when it is meant to be dark.
    pub dark_amps: Option<f64>,
    /// How it looks then.
    pub dark_looks: Option<String>,
}

/// A part and the limit it comes nearest to.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Limit {
    /// The part.
    pub part: String,
    /// What the limit is on.
    pub on: String,
    /// What the part had to bear in the worst state, in the SI unit.
    pub found: f64,
    /// What it may bear.
    pub limit: f64,
    /// The one over the other.
    pub share: f64,
}

/// What the supply gives, in amperes.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Draw {
    /// Least and most with nothing tied.
    pub idle: Option<[f64; 2]>,
    /// The middle one of all states.
    pub typical: f64,
    /// The most of any state, typical parts.
    pub most: f64,
    /// The same with every resistor at its low end and the rail 5 % high.
    pub worst: f64,
    /// The limit to set.
    pub limit: f64,
    /// The limit that the text gives.
    pub stated: f64,
}
