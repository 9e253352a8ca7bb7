//! A board printed and read again is the same board.

use dryjoint_board::{
    Access, Board, Clock, LampGroup, Line, NamedModel, Net, NetId, Part, PartId, PartKind, Phases, Pin,
    Place, Rate, Supply,
};
use dryjoint_ids::Id;
use dryjoint_netlist::{Look, read, read_alone};
use dryjoint_parts::{Model, library};
use dryjoint_units::{Amps, Farads, Hertz, Millimetres, Ohms, Volts};
use proptest::prelude::*;
use std::path::Path;

fn same_again(board: &Board) {
    let text = board.to_string();
    let reading = read_alone("printed", &text);
    assert!(reading.notices.is_empty(), "{text}\n{}", reading.drawn(Look::default()));
    let again = reading.board.unwrap();
    assert_eq!(&again, board, "{text}");
    assert_eq!(again.to_string(), text);
}

#[test]
fn the_boards_of_the_project_print_and_read_again() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut count = 0;
    for entry in std::fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|end| end != "board") {
            continue;
        }
        let mut loader = |path: &str| std::fs::read(path).map_err(|error| error.to_string());
        let reading = read(path.to_str().unwrap(), std::fs::read(&path).unwrap(), &mut loader);
        same_again(&reading.board.unwrap_or_else(|| panic!("{} has errors", path.display())));
        count += 1;
    }
    assert!(count >= 2);
}

/// Net names of every shape the grammar knows, some of them words of the grammar or like a pin or part.
const NETS: [&str; 24] = [
    "A",
    "/LD",
    "q+",
    "a-b",
    "_x",
    "D3",
    "VCC",
    "GND",
    "at",
    "polar",
    "rot",
    "as",
    "net",
    "number",
    "S1",
    "R2",
    "J1.1",
    "BIT3.G1.q",
    "BIT3.q",
    "C1.+",
    "active",
    "step",
    "x/y",
    "pitch",
];

#[derive(Clone, Debug)]
struct Recipe {
    kind: u8,
    nets: Vec<usize>,
    value: f64,
    flag: bool,
    place: Option<(f64, f64, f64)>,
    section: u8,
}

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![
        (1u32..10_000, -13i32..8).prop_map(|(digits, power)| format!("{digits}e{power}").parse().unwrap()),
        1e-12f64..1e9,
        Just(0.0),
        -10.0f64..10.0,
    ]
}

fn recipe() -> impl Strategy<Value = Recipe> {
    let place = prop_oneof![
        Just(None),
        (-300.0f64..300.0, -300.0f64..300.0, 0.0f64..360.0).prop_map(Some),
        (0i32..200, 0i32..200, 0i32..4).prop_map(|(x, y, turn)| Some((
            f64::from(x) * 1.27,
            f64::from(y) * 1.27,
            f64::from(turn) * 90.0
        ))),
    ];
    (0u8..14, prop::collection::vec(0..NETS.len() + 4, 3..9), number(), any::<bool>(), place, 0u8..4)
        .prop_map(|(kind, nets, value, flag, place, section)| Recipe {
            kind,
            nets,
            value,
            flag,
            place,
            section,
        })
}

/// A board put together by hand, part by part.
struct Maker {
    board: Board,
}

impl Maker {
    fn known(&self, name: &str) -> Option<NetId> {
        self.board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id)
    }

    fn net(&mut self, at: usize) -> NetId {
        if let Some(net) = self.known(NETS[at]) {
            return net;
        }
        let supply = match NETS[at] {
            "GND" => Some(Supply::Ground),
            "VCC" => Some(Supply::Rail { volts: Volts(5.0), limit: Amps(0.25) }),
            "D3" => Some(Supply::Rail { volts: Volts(-3.300001), limit: Amps(1.0) }),
            _ => None,
        };
        let net = Net { name: NETS[at].into(), supply, pins: vec![], reachable: !at.is_multiple_of(5) };
        self.board.nets.push(net)
    }

    fn card(&mut self, name: &str, model: Model) -> dryjoint_board::ModelId {
        let known = self.board.models.iter().find(|(_, named)| named.name == name);
        match known.map(|(id, _)| id) {
            Some(id) => id,
            None => self.board.models.push(NamedModel { name: name.into(), model }),
        }
    }

    fn kind(&mut self, recipe: &Recipe) -> (PartKind, &'static str, usize) {
        let own = |name: &str, key: &str, value: f64| {
            let mut model = library(name).unwrap();
            assert!(model.set(key, value));
            model
        };
        match recipe.kind {
            0 | 1 => {
                let tolerance = if recipe.flag { 0.05 } else { recipe.value.abs().min(10.0) };
                (PartKind::Resistor { ohms: Ohms(recipe.value), tolerance }, "R", 2)
            }
            2 => (PartKind::Capacitor { farads: Farads(recipe.value), polar: recipe.flag }, "C", 2),
            3 => (PartKind::Diode(self.card("1N4148", library("1N4148").unwrap())), "D", 2),
            4 => (PartKind::Diode(self.card("DX", own("1N4148", "RS", 0.123_456_789))), "CR", 2),
            5 => (PartKind::Lamp(self.card("red", library("red").unwrap())), "DS", 2),
            6 => (PartKind::Lamp(self.card("2dim", own("green", "LIT", 2.5e-3))), "DS", 2),
            7 => (PartKind::Bipolar(self.card("2N3904", own("2N3904", "BF", 99.0))), "Q", 3),
            8 => (PartKind::Bipolar(self.card("BC557B", library("BC557B").unwrap())), "Q", 3),
            9 => (if recipe.flag { PartKind::Button } else { PartKind::Toggle }, "S", 2),
            10 => (PartKind::Selector, "S", recipe.nets.len().max(3)),
            11 => (PartKind::Link, "W", 2),
            12 => (PartKind::Header, if recipe.flag { "J" } else { "P" }, recipe.nets.len()),
            _ => (PartKind::TestPoint, "TP", 1),
        }
    }

    fn part(&mut self, recipe: &Recipe, number: usize) {
        let (kind, class, count) = self.kind(recipe);
        let reference = format!("{class}{number}");
        let part = self.board.parts.next_id();
        let mut pins = Vec::new();
        for (at, name) in kind.pin_names(count).into_iter().enumerate() {
            let choice = recipe.nets[at % recipe.nets.len()];
            let own = format!("{reference}.{name}");
            let net = match self.known(&own) {
                Some(net) => net,
                None if choice < NETS.len() => self.net(choice),
                None => self.board.nets.push(Net { name: own, supply: None, pins: vec![], reachable: true }),
            };
            let pin = self.board.pins.push(Pin { part, name, net });
            self.board.nets[net].pins.push(pin);
            pins.push(pin);
        }
        let place =
            recipe.place.map(|(x, y, rotation)| Place { x: Millimetres(x), y: Millimetres(y), rotation });
        let section = ["", "BIT3", "BIT3/G1", "x/y/z"][usize::from(recipe.section)].to_owned();
        self.board.parts.push(Part { reference, kind, pins, place, section });
    }

    /// The net that closing a switch moves, as the grammar has it.
    fn contact(&self, part: PartId) -> NetId {
        let net = |at: usize| self.board.pins[self.board.parts[part].pins[at]].net;
        let supply = |at: usize| self.board.nets[net(at)].supply.is_some();
        if supply(0) && !supply(1) { net(1) } else { net(0) }
    }

    fn bench(&mut self, texts: &[String]) {
        let purpose = |at: usize| texts.get(at % texts.len().max(1)).cloned().unwrap_or_default();
        let nets: Vec<NetId> = self.board.nets.ids().collect();
        for (at, net) in nets.iter().copied().enumerate().filter(|(at, _)| at % 3 == 0) {
            let access = if at % 2 == 0 { Access::TieLow } else { Access::TieHigh };
            let active_high = [None, Some(true), Some(false)][at / 3 % 3];
            let name = format!("{}L{at}", if at % 4 == 0 { "/" } else { "" });
            self.board.lines.push(Line { name, net, access, purpose: purpose(at), active_high });
        }
        let parts: Vec<PartId> = self.board.parts.ids().collect();
        let mut lamps = Vec::new();
        for part in parts {
            match self.board.parts[part].kind {
                PartKind::Lamp(_) => lamps.push(part),
                PartKind::Button | PartKind::Toggle => {
                    let line = Line {
                        name: format!("K{}", part.index()),
                        net: self.contact(part),
                        access: Access::Contact(part),
                        purpose: purpose(part.index()),
                        active_high: [None, Some(true), Some(false)][part.index() % 3],
                    };
                    self.board.lines.push(line);
                }
                PartKind::Selector => {
                    let count = self.board.parts[part].pins.len() - 1;
                    let rate = |at: usize| Rate { position: format!("p{at}"), rate: Hertz(0.1 + at as f64) };
                    let clock = Clock {
                        net: nets[0],
                        complement: nets.get(1).copied(),
                        selector: Some(part),
                        rates: (0..count).map(rate).collect(),
                    };
                    self.board.clocks.push(clock);
                    if let [first, second, ..] = nets[..] {
                        self.board.phases.push(Phases { nets: vec![first, second] });
                    }
                }
                _ => {}
            }
        }
        for (at, lamps) in lamps.chunks(3).enumerate() {
            self.board.lamps.push(LampGroup { name: format!("G{at}"), lamps: lamps.to_vec() });
        }
    }
}

fn board() -> impl Strategy<Value = Board> {
    let parts = prop::collection::vec(recipe(), 1..30);
    let texts = prop::collection::vec("[ -~\n\u{e9}\t]{0,12}", 0..4);
    let early = prop::collection::vec(0..NETS.len(), 0..6);
    (parts, texts, early, any::<bool>()).prop_map(|(parts, texts, early, named)| {
        let mut maker = Maker { board: Board::default() };
        if named {
            maker.board.name = "made".into();
            maker.board.title = texts.first().cloned().unwrap_or_default();
        }
        for net in early {
            maker.net(net);
        }
        for (at, recipe) in parts.iter().enumerate() {
            maker.part(recipe, at + 1);
        }
        maker.bench(&texts);
        maker.board
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_board_prints_and_reads_again(board in board()) {
        same_again(&board);
    }
}
