//! Boards soldered by hand for the tests, one part at a time.

use dryjoint_board::{Board, ModelId, NamedModel, Net, NetId, Part, PartId, PartKind, Pin, PinId, Supply};
use dryjoint_ids::Id;
use dryjoint_parts::library;
use dryjoint_units::{Amps, Ohms, Volts};

/// A board that grows.
#[derive(Default)]
pub struct Soldered {
    pub board: Board,
}

#[allow(dead_code, reason = "each test uses its share")]
impl Soldered {
    /// With `VCC` at 5 V and `GND`.
    pub fn five_volts(limit: f64) -> Self {
        let mut soldered = Self::default();
        let vcc = soldered.net("VCC");
        soldered.board.nets[vcc].supply = Some(Supply::Rail { volts: Volts(5.0), limit: Amps(limit) });
        let gnd = soldered.net("GND");
        soldered.board.nets[gnd].supply = Some(Supply::Ground);
        soldered
    }

    pub fn net(&mut self, name: &str) -> NetId {
        if let Some((id, _)) = self.board.nets.iter().find(|(_, net)| net.name == name) {
            return id;
        }
        self.board.nets.push(Net { name: name.to_owned(), supply: None, pins: Vec::new(), reachable: true })
    }

    pub fn model(&mut self, name: &str) -> ModelId {
        if let Some((id, _)) = self.board.models.iter().find(|(_, named)| named.name == name) {
            return id;
        }
        let model = library(name).unwrap_or_else(|| panic!("no card {name}"));
        self.board.models.push(NamedModel { name: name.to_owned(), model })
    }

    pub fn fit(&mut self, reference: &str, kind: PartKind, nets: &[&str]) -> PartId {
        let part = self.board.parts.next_id();
        let names = kind.pin_names(nets.len());
        let mut pins = Vec::new();
        for (net, name) in nets.iter().zip(names) {
            let net = self.net(net);
            let pin = self.board.pins.push(Pin { part, name, net });
            self.board.nets[net].pins.push(pin);
            pins.push(pin);
        }
        let reference = reference.to_owned();
        self.board.parts.push(Part { reference, kind, pins, place: None, section: String::new() })
    }

    pub fn resistor(&mut self, reference: &str, ohms: f64, a: &str, b: &str) -> PartId {
        self.fit(reference, PartKind::Resistor { ohms: Ohms(ohms), tolerance: 0.05 }, &[a, b])
    }

    pub fn transistor(&mut self, reference: &str, card: &str, c: &str, b: &str, e: &str) -> PartId {
        let model = self.model(card);
        self.fit(reference, PartKind::Bipolar(model), &[c, b, e])
    }

    pub fn part(&self, reference: &str) -> PartId {
        self.board.parts.iter().find(|(_, part)| part.reference == reference).map(|(id, _)| id).unwrap()
    }

    pub fn pin(&self, reference: &str, pin: usize) -> PinId {
        self.board.parts[self.part(reference)].pins[pin]
    }

    /// One NOR of the RTL family: collector `rc`, `rb` per input, `rbe` base to emitter. Parts are
    /// `<name>RC`, `<name>RB0` …, `<name>RE`, `<name>Q`, the base net `<name>.b`.
    pub fn nor(&mut self, name: &str, inputs: &[&str], output: &str, [rc, rb, rbe]: [f64; 3]) {
        let base = format!("{name}.b");
        for (k, input) in inputs.iter().enumerate() {
            self.resistor(&format!("{name}RB{k}"), rb, input, &base);
        }
        self.resistor(&format!("{name}RE"), rbe, &base, "GND");
        self.resistor(&format!("{name}RC"), rc, "VCC", output);
        self.transistor(&format!("{name}Q"), "2N3904", output, &base, "GND");
    }

    pub fn first_net(&self) -> NetId {
        NetId::at(0)
    }
}
