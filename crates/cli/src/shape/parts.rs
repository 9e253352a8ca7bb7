//! The flat parts: enough for another program to build the circuit.

use super::card::Card;
use super::{Header, Named};
use dryjoint_board::{self as board, Access, Board, PartKind, Supply};
use schemars::JsonSchema;
use serde::Serialize;

/// A board as soldered. Printed by `dryjoint parts FILE --json`.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Parts {
    #[serde(flatten)]
    header: Header,
    /// What the board is, in one line.
    title: String,
    /// Every part, in the order of the text.
    parts: Vec<Part>,
    /// The cards of all models that parts name.
    models: Vec<Card>,
    /// Supply nets.
    rails: Vec<Rail>,
    /// Every net's name, rails too.
    nets: Vec<String>,
    /// Nets that no meter lead reaches.
    hidden: Vec<String>,
    /// What the bench may tie, release, pulse or press.
    lines: Vec<Line>,
    /// Lamps that show one value: references, most significant first.
    lamp_groups: Named<Vec<String>>,
    /// Nets that move by themselves.
    clocks: Vec<Clock>,
}

/// A part.
#[derive(Clone, Debug, Serialize, JsonSchema)]
struct Part {
    /// Its reference designator.
    reference: String,
    /// `resistor`, `capacitor`, `diode`, `lamp`, `bipolar`, `button`, `toggle`, `selector`, `link`,
    /// `header` or `testpoint`.
    kind: &'static str,
    /// Ohms or farads, where the part has a value.
    value: Option<f64>,
    /// The value as a builder writes it.
    marking: Option<String>,
    /// Relative tolerance of a resistor.
    tolerance: Option<f64>,
    /// Whether a capacitor is electrolytic.
    polar: Option<bool>,
    /// The name of its card.
    model: Option<String>,
    /// Each pin's name with its net.
    pins: Named<String>,
    /// Where it sits, where the text says so.
    place: Option<Place>,
    /// The cell instance it came from; empty at the top.
    section: String,
}

/// A place on the component side.
#[derive(Clone, Debug, Serialize, JsonSchema)]
struct Place {
    /// Millimetres from the left edge.
    x: f64,
    /// Millimetres from the front edge.
    y: f64,
    /// Degrees, anticlockwise.
    rotation: f64,
}

/// A supply net.
#[derive(Clone, Debug, Serialize, JsonSchema)]
struct Rail {
    /// The net's name.
    net: String,
    /// Volts against ground; 0 for ground itself.
    volts: f64,
    /// The current limit to set, in amperes.
    limit_amps: Option<f64>,
}

/// A line.
#[derive(Clone, Debug, Serialize, JsonSchema)]
struct Line {
    /// Its name.
    name: String,
    /// The net it controls.
    net: String,
    /// How the bench gets at it: `tie low`, `tie high` or `contact`.
    access: &'static str,
    /// The switch, for `contact`.
    switch: Option<String>,
    /// `high` or `low`: the level that makes it act; none for a data pin.
    active: Option<&'static str>,
    /// What it does, in the builder's words.
    purpose: String,
}

/// A clock source.
#[derive(Clone, Debug, Serialize, JsonSchema)]
struct Clock {
    /// The net.
    net: String,
    /// The net that carries its complement.
    complement: Option<String>,
    /// The selector switch.
    selector: Option<String>,
    /// Hertz at each position of the selector.
    rates: Named<f64>,
}

impl Parts {
    /// The document for a board.
    pub fn of(board: &Board) -> Self {
        let net = |id: board::NetId| board.nets[id].name.clone();
        let reference = |id: board::PartId| board.parts[id].reference.clone();
        let access = |line: &board::Line| match line.access {
            Access::TieLow => ("tie low", None),
            Access::TieHigh => ("tie high", None),
            Access::Contact(switch) => ("contact", Some(reference(switch))),
        };
        Self {
            header: Header::new("parts", &board.name),
            title: board.title.clone(),
            parts: board.parts.rows().iter().map(|part| Part::of(board, part)).collect(),
            models: board.models.rows().iter().map(Card::of).collect(),
            rails: board.nets.rows().iter().filter_map(Rail::of).collect(),
            nets: board.nets.rows().iter().map(|net| net.name.clone()).collect(),
            hidden: board
                .nets
                .rows()
                .iter()
                .filter(|net| !net.reachable)
                .map(|net| net.name.clone())
                .collect(),
            lines: board
                .lines
                .rows()
                .iter()
                .map(|line| Line {
                    name: line.name.clone(),
                    net: net(line.net),
                    access: access(line).0,
                    switch: access(line).1,
                    active: line.active_high.map(|high| if high { "high" } else { "low" }),
                    purpose: line.purpose.clone(),
                })
                .collect(),
            lamp_groups: board
                .lamps
                .rows()
                .iter()
                .map(|group| (group.name.clone(), group.lamps.iter().map(|lamp| reference(*lamp)).collect()))
                .collect(),
            clocks: board
                .clocks
                .rows()
                .iter()
                .map(|clock| Clock {
                    net: net(clock.net),
                    complement: clock.complement.map(net),
                    selector: clock.selector.map(reference),
                    rates: clock.rates.iter().map(|rate| (rate.position.clone(), rate.rate.0)).collect(),
                })
                .collect(),
        }
    }
}

/// A kind's name as documents and tables print it.
pub fn kind_name(kind: &PartKind) -> &'static str {
    match kind {
        PartKind::Resistor { .. } => "resistor",
        PartKind::Capacitor { .. } => "capacitor",
        PartKind::Diode(_) => "diode",
        PartKind::Lamp(_) => "lamp",
        PartKind::Bipolar(_) => "bipolar",
        PartKind::Button => "button",
        PartKind::Toggle => "toggle",
        PartKind::Selector => "selector",
        PartKind::Link => "link",
        PartKind::Header => "header",
        PartKind::TestPoint => "testpoint",
    }
}

impl Part {
    fn of(board: &Board, part: &board::Part) -> Self {
        let (value, marking) = match &part.kind {
            PartKind::Resistor { ohms, .. } => (Some(ohms.0), Some(ohms.to_string())),
            PartKind::Capacitor { farads, .. } => (Some(farads.0), Some(farads.to_string())),
            _ => (None, None),
        };
        let tolerance =
            if let PartKind::Resistor { tolerance, .. } = part.kind { Some(tolerance) } else { None };
        let polar = if let PartKind::Capacitor { polar, .. } = part.kind { Some(polar) } else { None };
        let pins = part.pins.iter().map(|pin| {
            let pin = &board.pins[*pin];
            (pin.name.clone(), board.nets[pin.net].name.clone())
        });
        Self {
            reference: part.reference.clone(),
            kind: kind_name(&part.kind),
            value,
            marking,
            tolerance,
            polar,
            model: model_name(board, &part.kind),
            pins: pins.collect(),
            place: part.place.map(|at| Place { x: at.x.0, y: at.y.0, rotation: at.rotation }),
            section: part.section.clone(),
        }
    }
}

/// The name of a part's card, where it has one.
pub fn model_name(board: &Board, kind: &PartKind) -> Option<String> {
    match kind {
        PartKind::Diode(model) | PartKind::Lamp(model) | PartKind::Bipolar(model) => {
            board.models.get(*model).map(|model| model.name.clone())
        }
        _ => None,
    }
}

impl Rail {
    fn of(net: &board::Net) -> Option<Self> {
        let (volts, limit_amps) = match net.supply? {
            Supply::Ground => (0.0, None),
            Supply::Rail { volts, limit } => (volts.0, Some(limit.0)),
        };
        Some(Self { net: net.name.clone(), volts, limit_amps })
    }
}
