//! Before power: what a meter reads on a good board with the supply unplugged.
//!
//! Ohms between the rails tell a solder bridge before it can burn anything. The diode position tells a
//! junction: in place, with everything around it, whether each pin of a connector and one transistor of
//! each make is as it should be.

use dryjoint_board::{NetId, PartId, PartKind, Supply};
use dryjoint_circuit::{Network, Solution, Solver, Spot};
use dryjoint_ids::Id;
use dryjoint_logic::Extracted;
use dryjoint_units::{Ohms, Volts};
use std::collections::HashMap;

/// What a meter reads between two nets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dead {
    /// Where the red lead goes.
    pub red: NetId,
    /// Where the black lead goes.
    pub black: NetId,
    /// On ohms; nothing above 20 MΩ.
    pub ohms: Option<Ohms>,
    /// In the diode position; nothing above 2 V.
    pub forward: Option<Volts>,
    /// The same with the leads swapped.
    pub backward: Option<Volts>,
}

/// What the diode position shows on one transistor in place, for all that are built in alike.
#[derive(Clone, Debug, PartialEq)]
pub struct DeadTransistor {
    /// The transistors, in the order of the text.
    pub parts: Vec<PartId>,
    /// Red on the base, black on the emitter (the other way round for a PNP).
    pub emitter: Option<Volts>,
    /// Red on the base, black on the collector (likewise).
    pub collector: Option<Volts>,
}

/// All readings of a good board without power.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Unpowered {
    /// Each rail against ground.
    pub rails: Vec<Dead>,
    /// Connector pins and test points against ground, in the order of their pins.
    pub points: Vec<Dead>,
    /// Transistors in place.
    pub transistors: Vec<DeadTransistor>,
}

/// Computes them with typical parts.
pub fn unpowered(extracted: &Extracted, solver: &mut Solver) -> Unpowered {
    let board = extracted.shape.board;
    let dead = Network::of_board(board).unpowered();
    let mut found = Unpowered::default();
    let Ok(at_rest) = solver.solve(&dead) else { return found };
    let mut meter = Meter { dead: &dead, at_rest: &at_rest, solver };
    let ground = board.nets.iter().find(|(_, net)| net.supply == Some(Supply::Ground)).map(|(id, _)| id);
    let Some(ground) = ground else { return found };
    let mut told = vec![ground];
    for (net, row) in board.nets.iter() {
        if matches!(row.supply, Some(Supply::Rail { .. })) {
            told.push(net);
            found.rails.extend(meter.between(net, ground));
        }
    }
    for pin in board.pins.rows() {
        let handy = matches!(board.parts[pin.part].kind, PartKind::Header | PartKind::TestPoint);
        let row = &board.nets[pin.net];
        if handy && row.pins.len() > 1 && row.supply.is_none() && !told.contains(&pin.net) {
            told.push(pin.net);
            found.points.extend(meter.between(pin.net, ground));
        }
    }
    found.transistors = transistors(extracted, &mut meter);
    found
}

struct Meter<'a> {
    dead: &'a Network,
    at_rest: &'a Solution,
    solver: &'a mut Solver,
}

impl Meter<'_> {
    fn between(&mut self, red: NetId, black: NetId) -> Option<Dead> {
        let ohms = self.solver.ohms(self.dead, self.at_rest, red, black).ok()?;
        let forward = self.diode(red.into(), black.into())?;
        let backward = self.diode(black.into(), red.into())?;
        Some(Dead { red, black, ohms, forward, backward })
    }

    fn diode(&mut self, red: Spot, black: Spot) -> Option<Option<Volts>> {
        self.solver.diode(self.dead, self.at_rest, red, black).ok()
    }
}

/// One reading for all transistors whose own cluster of parts is the same circuit.
fn transistors(extracted: &Extracted, meter: &mut Meter) -> Vec<DeadTransistor> {
    let board = extracted.shape.board;
    let mut makes: Vec<Vec<PartId>> = Vec::new();
    let mut known: HashMap<Vec<u64>, usize> = HashMap::new();
    for (id, part) in board.parts.iter() {
        let (PartKind::Bipolar(_), Some(cluster)) = (&part.kind, extracted.shape.clusters.of_part[id]) else {
            continue;
        };
        let parts = &extracted.shape.clusters.rows[cluster].parts;
        let mut key = Network::of_parts(board, parts).anonymous().key;
        key.push(parts.iter().position(|&other| other == id).unwrap_or(0) as u64);
        // What hangs on the collector tells a bus driver from a gate.
        let collector = board.pins[part.pins[0]].net;
        let pulls = board.nets[collector].pins.iter().map(|&pin| &board.parts[board.pins[pin].part].kind);
        key.extend(pulls.filter_map(|kind| match kind {
            PartKind::Resistor { ohms, .. } => Some(ohms.0.to_bits()),
            _ => None,
        }));
        let make = *known.entry(key).or_insert_with(|| {
            makes.push(Vec::new());
            makes.len() - 1
        });
        makes[make].push(id);
    }
    let mut found: Vec<DeadTransistor> = Vec::new();
    for parts in makes {
        let pins = &board.parts[parts[0]].pins;
        let npn = !is_pnp(extracted, parts[0]);
        let mut junction = |other: usize| {
            let (base, other) = (pins[1].into(), pins[other].into());
            let shown = if npn { meter.diode(base, other) } else { meter.diode(other, base) };
            // A person reads hundredths of a volt.
            shown.flatten().map(|volts| Volts((volts.0 * 100.0).round() / 100.0))
        };
        let (emitter, collector) = (junction(2), junction(0));
        match found.iter_mut().find(|row| row.emitter == emitter && row.collector == collector) {
            Some(row) => row.parts.extend(parts),
            None => found.push(DeadTransistor { parts, emitter, collector }),
        }
    }
    for row in &mut found {
        row.parts.sort_unstable_by_key(|part| part.index());
    }
    found
}

fn is_pnp(extracted: &Extracted, part: PartId) -> bool {
    let board = extracted.shape.board;
    crate::drive::card(board, part).is_some_and(|card| card.polarity == dryjoint_parts::Polarity::Pnp)
}
