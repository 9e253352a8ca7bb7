//! A board with its faults in the circuit, and the hands' leads on it.
//!
//! A lead goes on a connector's pin, not on the copper behind it: where that pin's joint is open the
//! hand reaches nothing, and where the plug sits one pin off it reaches the neighbour.

use dryjoint_board::{Access, Board, ClockId, LineId, NetId, PartId, PartKind, PinId, Supply};
use dryjoint_circuit::{GROUND, Network, NoSolution, NodeId, Solution, Solver, Spot};
use dryjoint_faults::Fault;
use dryjoint_faults::apply::{apply, shifted};
use dryjoint_faults::kinds::shifted::Way;
use dryjoint_logic::{Extracted, SignalId};
use dryjoint_survey::contacts;
use dryjoint_units::{Ohms, Volts};

/// What the clocks of a unit do.
#[derive(Clone, Debug, Default)]
pub struct Clocks {
    /// Whether a good clock is high.
    pub high: bool,
    /// The voltages of the nets of each clock that stands otherwise.
    pub volts: Vec<(ClockId, Vec<(NetId, Volts)>)>,
    /// Clocks of which not their own nets are held but what their oscillators put out: their gates are in the circuit.
    pub gates: Vec<(ClockId, Vec<(NetId, Volts)>)>,
    /// The position of their switches; nothing is between two, where people leave them.
    pub position: Option<usize>,
}

impl Clocks {
    /// At rest: good ones low, others at the levels that are known of them.
    pub fn at_rest(extracted: &Extracted, level: &dyn Fn(SignalId) -> Option<bool>) -> Self {
        let mut volts = Vec::new();
        for (id, clock) in extracted.shape.board.clocks.iter() {
            let nets = [Some((clock.net, false)), clock.complement.map(|net| (net, true))];
            let told: Vec<(NetId, bool, bool)> = nets
                .into_iter()
                .flatten()
                .map(|(net, good)| (net, good, extracted.signal_of[net].and_then(level).unwrap_or(good)))
                .collect();
            if told.iter().any(|(_, good, is)| good != is) {
                volts.push((
                    id,
                    told.iter().map(|&(net, _, is)| (net, extracted.levels[net].volts(is))).collect(),
                ));
            }
        }
        Self { volts, ..Self::default() }
    }
}

/// The circuit of one unit: its faults built in, its clock source taken out, nothing tied.
#[derive(Clone, Debug)]
pub struct Wiring<'b> {
    board: &'b Board,
    network: Network,
    /// The same with the clock source in it, where that keeps still by itself between two positions of its switch.
    whole: Option<Network>,
    /// How far every lead on a connector sits from its pin.
    offset: Option<(PartId, Way)>,
    rail: NetId,
    faults: Vec<Fault>,
}

impl<'b> Wiring<'b> {
    /// The wiring of a unit with these faults.
    pub fn new(extracted: &Extracted<'b>, faults: &[Fault]) -> Self {
        let board = extracted.shape.board;
        let offset = faults.iter().find_map(|fault| match *fault {
            Fault::Shifted(header, way) => Some((header, way)),
            _ => None,
        });
        let base = match offset {
            Some((header, way)) => Network::of_board(&shifted(board, header, way)),
            None => Network::of_board(board),
        };
        let with_faults = |mut network: Network| {
            between_positions(board, &mut network);
            for fault in faults {
                match *fault {
                    Fault::Shifted(..) => {}
                    Fault::JointOpen(pin) if brings_supply(board, pin) => {
                        cut_supply(board, pin, &mut network)
                    }
                    _ => {
                        apply(board, fault, &mut network);
                    }
                }
            }
            network
        };
        // The hand stands in for the oscillator, as it does in the proof.
        let network = with_faults(extracted.tied(&base, &[]));
        let rests =
            !board.clocks.is_empty() && board.clocks.ids().all(|id| !contacts(extracted, id).is_empty());
        let whole = (rests && offset.is_none()).then(|| with_faults(base));
        Self { board, network, whole, offset, rail: extracted.shape.rail_net(), faults: faults.to_vec() }
    }

    /// The network with these lines tied, every part of the clock source in it and its switch between two positions, where
    /// nothing feeds the oscillators: the gates that make the clock keep it as it stands, whichever way that is. Nothing
    /// on a board whose clock has no such switch.
    pub fn standing(&self, lines: impl IntoIterator<Item = LineId>) -> Option<Network> {
        let mut network = self.whole.clone()?;
        let rail = network.find(self.rail).unwrap_or(GROUND);
        lines.into_iter().for_each(|line| self.tie(&mut network, line, rail));
        Some(network)
    }

    /// The unit with the plug out, for a meter on ohms: every part is there, those of the clock source too.
    pub fn unplugged(&self) -> Network {
        let mut network = Network::of_board(self.board).unpowered();
        between_positions(self.board, &mut network);
        for fault in self.faults.iter().filter(|fault| !matches!(fault, Fault::Shifted(..))) {
            apply(self.board, fault, &mut network);
        }
        network
    }

    /// The network with these lines tied and the clocks so.
    pub fn tied(&self, lines: impl IntoIterator<Item = LineId>, clocks: &Clocks) -> Network {
        let with_gates = self.whole.as_ref().filter(|_| !clocks.gates.is_empty());
        let mut network = with_gates.unwrap_or(&self.network).clone();
        let rail = network.find(self.rail).unwrap_or(GROUND);
        for line in lines {
            self.tie(&mut network, line, rail);
        }
        for (id, clock) in self.board.clocks.iter() {
            if let (Some(switch), Some(position)) = (clock.selector, clocks.position) {
                network.select(switch, position);
            }
            let gates = clocks.gates.iter().filter(|_| with_gates.is_some());
            if let Some((_, volts)) = gates.chain(&clocks.volts).find(|(known, _)| *known == id) {
                volts.iter().for_each(|&(net, volts)| {
                    network.force(net, volts);
                });
                continue;
            }
            let mut set = |net: NetId, high: bool| network.tie(net, if high { rail } else { GROUND });
            set(clock.net, clocks.high);
            clock.complement.and_then(|net| set(net, !clocks.high));
        }
        network
    }

    fn tie(&self, network: &mut Network, line: LineId, rail: NodeId) {
        let row = &self.board.lines[line];
        let to = match row.access {
            Access::Contact(part) => {
                network.press(part, true);
                return;
            }
            Access::TieLow => GROUND,
            Access::TieHigh => rail,
        };
        let on_header = |pin: &PinId| self.board.parts[self.board.pins[*pin].part].kind == PartKind::Header;
        match self.board.nets[row.net].pins.iter().copied().find(on_header) {
            Some(pin) => {
                if let Some(pin) = self.met(pin) {
                    network.tie(Spot::Pin(pin), to);
                }
            }
            None => {
                network.tie(row.net, to);
            }
        }
    }

    /// The pin that a lead meant for `pin` meets.
    fn met(&self, pin: PinId) -> Option<PinId> {
        let Some((header, way)) = self.offset.filter(|(header, _)| *header == self.board.pins[pin].part)
        else {
            return Some(pin);
        };
        let pins = &self.board.parts[header].pins;
        let at = pins.iter().position(|&known| known == pin)?;
        let at = match way {
            Way::Up => at.checked_add(1)?,
            Way::Down => at.checked_sub(1)?,
        };
        pins.get(at).copied()
    }
}

/// Leaves the switches of the clocks where they feed nothing.
pub fn between_positions(board: &Board, network: &mut Network) {
    for switch in board.clocks.rows().iter().filter_map(|clock| clock.selector) {
        network.select(switch, usize::MAX);
    }
}

/// Whether a pin of a connector brings a supply to the board.
fn brings_supply(board: &Board, pin: PinId) -> bool {
    let on_header = board.parts[board.pins[pin].part].kind == PartKind::Header;
    on_header && board.nets[board.pins[pin].net].supply.is_some()
}

/// One of several pins that bring the same supply changes nothing; the only one cuts it off, and
/// without ground nothing flows from any rail.
fn cut_supply(board: &Board, pin: PinId, network: &mut Network) {
    let net = board.pins[pin].net;
    let supply = board.nets[net].supply;
    let twice = board.pins.iter().any(|(other, row)| {
        let on_header = board.parts[row.part].kind == PartKind::Header;
        other != pin && on_header && board.nets[row.net].supply == supply
    });
    if twice {
        return;
    }
    for (rail, row) in board.nets.iter().filter(|(_, row)| matches!(row.supply, Some(Supply::Rail { .. }))) {
        if rail == net || row.supply == supply || supply == Some(Supply::Ground) {
            network.let_go(rail);
        }
    }
}

/// A network without power and every lead taken away, for a meter on ohms.
#[derive(Clone, Debug)]
pub struct Dead {
    network: Network,
    at_rest: Solution,
}

impl Dead {
    /// A unit with the plug out.
    pub fn new(solver: &mut Solver, wiring: &Wiring) -> Result<Self, NoSolution> {
        let network = wiring.unplugged();
        let at_rest = solver.solve(&network)?;
        Ok(Self { network, at_rest })
    }

    /// Newton steps that it took to find it.
    pub fn steps(&self) -> u32 {
        self.at_rest.iterations
    }

    /// Another such unit, found from this one: the same board with another fault in it.
    pub fn with(&self, solver: &mut Solver, wiring: &Wiring) -> Result<Self, NoSolution> {
        let network = wiring.unplugged();
        let near = solver.solve_from(&network, &self.at_rest);
        let at_rest = near.or_else(|_| solver.solve(&network))?;
        Ok(Self { network, at_rest })
    }

    /// What a meter shows between two nets, its red lead on `red`; nothing where it shows no reading.
    pub fn ohms(&self, solver: &mut Solver, red: NetId, black: NetId) -> Result<Option<Ohms>, NoSolution> {
        solver.ohms(&self.network, &self.at_rest, red, black)
    }
}

/// The same for one measurement.
pub fn resistance(
    solver: &mut Solver,
    wiring: &Wiring,
    red: NetId,
    black: NetId,
) -> Result<Option<Ohms>, NoSolution> {
    Dead::new(solver, wiring)?.ohms(solver, red, black)
}
