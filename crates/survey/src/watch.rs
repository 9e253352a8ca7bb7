//! What every state of the board showed: the extremes of each part, net and supply.
//!
//! Whoever walks through the states a hand can reach solves the whole board in each; a [`Watch`] looks
//! at those operating points and keeps the worst of everything, so that no state is solved twice. A few
//! states that show each connector pin at both levels are kept whole, for the ties.

use dryjoint_board::{Board, NetId, PartId, PartKind};
use dryjoint_circuit::{Network, Solution};
use dryjoint_ids::Side;
use dryjoint_logic::{Extracted, Level, SignalId};
use dryjoint_parts::{Model, Polarity};
use dryjoint_units::{Amps, Volts, Watts};

/// A state at rest: what is tied, and the level of each signal.
#[derive(Clone, Debug)]
pub struct State {
    /// Nets tied, `true` to the rail.
    pub ties: Vec<(NetId, bool)>,
    /// The levels, as the logic says.
    pub levels: Side<SignalId, Level>,
}

/// How a transistor that conducts was driven when its base had least to spare.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drive {
    /// Collector current.
    pub collector: Amps,
    /// Base current.
    pub base: Amps,
    /// Collector to emitter, in the sense in which it conducts.
    pub across: Volts,
}

impl Drive {
    /// Collector over base current.
    pub fn forced_beta(&self) -> f64 {
        self.collector / self.base
    }
}

/// The worst that one part had to bear.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Strain {
    /// Greatest dissipation.
    pub power: Watts,
    /// Greatest current: a collector's, a diode's forward, a resistor's either way.
    pub current: Amps,
    /// Greatest voltage collector to emitter, or across.
    pub across: Volts,
    /// Greatest reverse voltage: base to emitter, or of a diode, or of an electrolytic.
    pub reverse: Volts,
    /// The weakest drive of a conducting transistor.
    pub drive: Option<Drive>,
    /// The least and the greatest forward current of a lamp that was meant to be lit.
    pub lit: Option<(Amps, Amps)>,
    /// The greatest forward current of a lamp that was meant to be dark.
    pub dark: Option<Amps>,
}

/// The worst levels of a net.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Swing {
    /// The lowest voltage at which it was meant to be high.
    pub high: Option<Volts>,
    /// The highest at which it was meant to be low.
    pub low: Option<Volts>,
}

/// Base current below which a transistor counts as off, amps.
const DRIVEN: f64 = 2e-6;
/// States from which edges are followed at most.
const FOLLOWED: usize = 1000;
/// States kept whole at most.
const KEPT: usize = 64;

/// The extremes over all states seen so far.
#[derive(Clone, Debug)]
pub struct Watch<'e, 'b> {
    pub(crate) extracted: &'e Extracted<'b>,
    pub(crate) strains: Side<PartId, Strain>,
    pub(crate) swings: Side<NetId, Swing>,
    /// What all supplies gave, per state, and whether nothing was tied.
    pub(crate) supply: Vec<(Amps, bool)>,
    /// The state that drew most.
    pub(crate) thirstiest: Option<(Amps, State)>,
    pub(crate) kept: Vec<State>,
    /// Every state seen, up to [`FOLLOWED`].
    pub(crate) states: Vec<State>,
    shown: Side<NetId, [u32; 2]>,
}

impl<'e, 'b> Watch<'e, 'b> {
    /// A watch that has seen nothing.
    pub fn new(extracted: &'e Extracted<'b>) -> Self {
        let board = extracted.shape.board;
        Self {
            extracted,
            strains: Side::filled(&board.parts, Strain::default()),
            swings: Side::filled(&board.nets, Swing::default()),
            supply: Vec::new(),
            thirstiest: None,
            kept: Vec::new(),
            states: Vec::new(),
            shown: Side::filled(&board.nets, [0; 2]),
        }
    }

    /// Looks at one state: what is tied, its circuit and operating point, the level of each signal.
    pub fn see(
        &mut self,
        ties: &[(NetId, bool)],
        network: &Network,
        solution: &Solution,
        level: &dyn Fn(SignalId) -> Level,
    ) {
        let amps = Amps(solution.deliveries().iter().map(|delivery| delivery.amps.0).sum());
        let board = self.extracted.shape.board;
        let clocked = |net: NetId| {
            board.clocks.rows().iter().any(|clock| clock.net == net || clock.complement == Some(net))
        };
        self.supply.push((amps, ties.iter().all(|&(net, _)| clocked(net))));
        let state = || State { ties: ties.to_vec(), levels: Side::new(&self.extracted.logic.signals, level) };
        if self.thirstiest.as_ref().is_none_or(|(most, _)| amps > *most) {
            self.thirstiest = Some((amps, state()));
        }
        if self.states.len() < FOLLOWED {
            self.states.push(state());
        }
        self.swing(network, solution, level);
        for part in board.parts.ids() {
            self.strain(part, network, solution, level);
        }
        if self.kept.len() < KEPT && self.shows_a_pin(level) {
            self.kept
                .push(State { ties: ties.to_vec(), levels: Side::new(&self.extracted.logic.signals, level) });
        }
    }

    /// Whether some connector pin was seen at this level only a few times yet.
    fn shows_a_pin(&mut self, level: &dyn Fn(SignalId) -> Level) -> bool {
        let board = self.extracted.shape.board;
        let mut fresh = false;
        for pin in board.pins.rows().iter().filter(|pin| board.parts[pin.part].kind == PartKind::Header) {
            let value = self.extracted.signal_of[pin.net].and_then(|signal| level(signal).value());
            if let Some(value) = value {
                let count = &mut self.shown[pin.net][usize::from(value)];
                *count += 1;
                fresh |= *count <= 3;
            }
        }
        fresh
    }

    fn swing(&mut self, network: &Network, solution: &Solution, level: &dyn Fn(SignalId) -> Level) {
        for (signal, row) in self.extracted.logic.signals.iter() {
            let (Some(net), Some(value)) = (row.net, level(signal).value()) else { continue };
            let Some(volts) = solution.at(network, net) else { continue };
            let swing = &mut self.swings[net];
            if value {
                swing.high = Some(swing.high.map_or(volts, |low| if volts < low { volts } else { low }));
            } else {
                swing.low = Some(swing.low.map_or(volts, |high| if volts > high { volts } else { high }));
            }
        }
    }

    fn strain(
        &mut self,
        id: PartId,
        network: &Network,
        solution: &Solution,
        level: &dyn Fn(SignalId) -> Level,
    ) {
        let board = self.extracted.shape.board;
        let strain = &mut self.strains[id];
        strain.bear(board, id, network, solution);
        if let (PartKind::Lamp(_), Some(anode)) = (&board.parts[id].kind, board.parts[id].pins.first()) {
            let forward = solution.pin(network, *anode).unwrap_or_default();
            let value = self.extracted.lamp_of[id].and_then(|signal| level(signal).value());
            strain.lamp(forward, value);
        }
    }
}

impl Strain {
    /// Adds what a part bears at one operating point.
    pub(crate) fn bear(&mut self, board: &Board, id: PartId, network: &Network, solution: &Solution) {
        let part = &board.parts[id];
        let ends: Vec<(f64, f64)> = part
            .pins
            .iter()
            .map(|&pin| {
                let volts = solution.at(network, pin).unwrap_or_default().0;
                (volts, solution.pin(network, pin).unwrap_or_default().0)
            })
            .collect();
        if ends.len() >= 2 {
            let power: f64 = ends.iter().map(|(volts, amps)| volts * amps).sum();
            self.power = most(self.power, Watts(power));
        }
        match part.kind {
            PartKind::Resistor { .. } | PartKind::Capacitor { polar: false, .. } => {
                self.current = most(self.current, Amps(ends[0].1.abs()));
                self.across = most(self.across, Volts((ends[0].0 - ends[1].0).abs()));
            }
            PartKind::Capacitor { polar: true, .. } => {
                self.across = most(self.across, Volts(ends[0].0 - ends[1].0));
                self.reverse = most(self.reverse, Volts(ends[1].0 - ends[0].0));
            }
            PartKind::Diode(_) | PartKind::Lamp(_) => self.junction(&ends),
            PartKind::Bipolar(model) => {
                let npn = !matches!(&board.models[model].model,
                    Model::Bipolar(card) if card.polarity == Polarity::Pnp);
                self.transistor(&ends, if npn { 1.0 } else { -1.0 });
            }
            _ => {}
        }
    }

    fn junction(&mut self, ends: &[(f64, f64)]) {
        self.current = most(self.current, Amps(ends[0].1));
        self.reverse = most(self.reverse, Volts(ends[1].0 - ends[0].0));
    }

    fn lamp(&mut self, forward: Amps, meant: Option<bool>) {
        match meant {
            Some(true) => {
                let (least, greatest) = self.lit.unwrap_or((forward, forward));
                self.lit = Some((if forward < least { forward } else { least }, most(greatest, forward)));
            }
            Some(false) => self.dark = Some(self.dark.map_or(forward, |dark| most(dark, forward))),
            None => {}
        }
    }

    /// `ends` in the order c b e; `sign` turns a PNP round.
    fn transistor(&mut self, ends: &[(f64, f64)], sign: f64) {
        let [c, b, e] = [ends[0], ends[1], ends[2]].map(|(volts, amps)| (sign * volts, sign * amps));
        self.current = most(self.current, Amps(c.1));
        self.across = most(self.across, Volts(c.0 - e.0));
        self.reverse = most(self.reverse, Volts(e.0 - b.0));
        if b.1 > DRIVEN && c.1 > 0.0 {
            let drive = Drive { collector: Amps(c.1), base: Amps(b.1), across: Volts(c.0 - e.0) };
            if self.drive.is_none_or(|known| drive.forced_beta() > known.forced_beta()) {
                self.drive = Some(drive);
            }
        }
    }
}

pub(crate) fn most<T: PartialOrd>(a: T, b: T) -> T {
    if b > a { b } else { a }
}
