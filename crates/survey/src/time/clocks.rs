//! Clock rates, computed: the oscillator behind a declared clock runs in the transient circuit, at every
//! position of its switch, from power-on until two cycles are alike.
//!
//! What the text states as a rate names a position; it is held against what the parts really do. A copy
//! with every resistor and capacitor of the oscillator at its upper end, and one at the lower, say how far
//! apart two units can be.

use super::cut::cut;
use super::wave::Wave;
use crate::receivers::person_finds;
use dryjoint_board::{Board, Clock, ClockId, Entity, NetId, Notice, PartId, PartKind};
use dryjoint_circuit::{Conditions, Network, Solver, Variable};
use dryjoint_logic::Extracted;
use dryjoint_units::{Hertz, Seconds};

/// What a clock does at one position of its switch.
#[derive(Clone, Debug, PartialEq)]
pub struct Beat {
    /// The clock.
    pub clock: ClockId,
    /// Which position, counted from 0.
    pub position: usize,
    /// The position's name; empty where there is no switch.
    pub name: String,
    /// The rate that the text states.
    pub stated: Hertz,
    /// What the circuit does; nothing where it does not run.
    pub found: Option<Running>,
}

/// A clock that runs.
#[derive(Clone, Debug, PartialEq)]
pub struct Running {
    /// Full cycles a second.
    pub rate: Hertz,
    /// The rate of the slowest and the fastest copy, by the tolerances of its resistors and capacitors; nothing where one
    /// of them could not be followed.
    pub range: Option<(Hertz, Hertz)>,
    /// The share of a cycle in which it is high.
    pub duty: f64,
    /// The clock and its complement over two cycles.
    pub wave: Wave,
    /// A rise in it, two edges before its end.
    rise: f64,
}

impl Running {
    /// In the wave: a rise, the fall after it, and the next rise, in seconds.
    pub fn edges(&self) -> [f64; 3] {
        [self.rise, self.rise + self.duty / self.rate.0, self.rise + 1.0 / self.rate.0]
    }
}

/// A stated rate may be off by this share (judgement: resistors and film capacitors are, together).
const STATED: f64 = 0.10;
/// The first stretch of time in which cycles are looked for, how it grows, and the last, seconds.
const STRETCH: (f64, f64, f64) = (1e-3, 8.0, 70.0);
/// Two cycles count as alike when their lengths differ by no more than this share.
const ALIKE: f64 = 0.003;

/// Every clock that stands on the board itself at every position; a clock from outside has no row.
pub(crate) fn beats(extracted: &Extracted, solver: &mut Solver, notices: &mut Vec<Notice>) -> Vec<Beat> {
    let board = extracted.shape.board;
    let mut found = Vec::new();
    if source_parts(extracted).is_empty() {
        return found;
    }
    for (id, clock) in board.clocks.iter() {
        for (position, rate) in clock.rates.iter().enumerate() {
            let running = running(extracted, clock, position, solver);
            let (name, stated) = (rate.position.clone(), rate.rate);
            let beat = Beat { clock: id, position, name, stated, found: running };
            notices.extend(told(extracted, clock, &beat));
            found.push(beat);
        }
    }
    found
}

/// The parts of all oscillators.
pub(crate) fn source_parts(extracted: &Extracted) -> Vec<PartId> {
    let clusters = extracted.shape.clusters.rows.rows().iter().filter(|cluster| cluster.is_source);
    clusters.flat_map(|cluster| cluster.parts.iter().copied()).collect()
}

/// The oscillator with what loads it, its switch at a position.
pub(crate) fn oscillator(extracted: &Extracted, clock: &Clock, position: usize) -> Network {
    let board = extracted.shape.board;
    let hold = |net: NetId| Some(extracted.levels[net].low);
    let mut network = cut(extracted, &carried(clock), &hold, true);
    if let Some(switch) = clock.selector {
        match board.parts[switch].kind {
            PartKind::Selector => network.select(switch, position),
            _ => network.press(switch, position == 1),
        };
    }
    network
}

/// The nets that carry a clock: its own and its complement's.
pub(crate) fn carried(clock: &Clock) -> Vec<NetId> {
    [Some(clock.net), clock.complement].into_iter().flatten().collect()
}

fn running(extracted: &Extracted, clock: &Clock, position: usize, solver: &mut Solver) -> Option<Running> {
    let network = oscillator(extracted, clock, position);
    let nets = carried(clock);
    let middle = extracted.levels[clock.net].thresholds.middle().0;
    let (mut until, growth, last) = STRETCH;
    let mut found = None;
    while found.is_none() && until < last {
        let wave = Wave::from_power_on(&network, Seconds(until), &nets, solver)?;
        found = cycles(&wave, middle);
        until *= growth;
    }
    let Cycles { period, duty, rise, wave } = found?;
    let copy = |upper: bool, solver: &mut Solver| {
        let network = network.varied(&ends(extracted.shape.board, &network, upper));
        let wave = Wave::from_power_on(&network, Seconds(wave.until() * 1.6), &nets, solver)?;
        cycles(&wave, middle).map(|cycles| Hertz(1.0 / cycles.period))
    };
    let rate = Hertz(1.0 / period);
    let range = copy(true, solver).zip(copy(false, solver));
    let start = rise - 0.25 * period;
    let wave = wave.between(start, rise + 1.75 * period);
    Some(Running { rate, range, duty, wave, rise: rise - start })
}

/// Every resistor and capacitor at one end of its tolerance.
pub(crate) fn ends(board: &Board, network: &Network, upper: bool) -> Vec<(Variable, f64)> {
    let tolerances = network.tolerances(board, &Conditions::default());
    let values = tolerances.iter().filter(|one| matches!(one.of, Variable::Value(_)));
    values.map(|one| (one.of, if upper { one.range.max } else { one.range.min })).collect()
}

struct Cycles {
    period: f64,
    duty: f64,
    rise: f64,
    wave: Wave,
}

/// The last whole cycle, where the two last are alike.
fn cycles(wave: &Wave, middle: f64) -> Option<Cycles> {
    let rises = wave.crossings(0, middle, true);
    // One more than is measured, so that what is shown ends after it.
    let [.., a, b, c, _] = rises[..] else { return None };
    let (before, period) = (b - a, c - b);
    if (before - period).abs() > ALIKE * period {
        return None;
    }
    let fall = wave.trace.crossing(0, middle, false, b)?;
    Some(Cycles { period, duty: (fall - b) / period, rise: b, wave: wave.clone() })
}

fn told(extracted: &Extracted, clock: &Clock, beat: &Beat) -> Option<Notice> {
    let board = extracted.shape.board;
    let at = at(board, clock, beat.position);
    let name = &board.nets[clock.net].name;
    match &beat.found {
        None => {
            let about = Entity::Part(person_finds(board, &source_parts(extracted)));
            let text =
                format!("the clock `{name}` does not run{at}: no steady cycle within 40 s of power-on");
            let mend = "check the parts of its oscillator, and what the switch feeds";
            Some(Notice::warning("clock-stands", about, text, mend))
        }
        Some(running) if (running.rate.0 / beat.stated.0 - 1.0).abs() > STATED => {
            let text =
                format!("the clock `{name}` runs at {}{at}; the text says {}", running.rate, beat.stated);
            let mend = format!("write {}, or change the oscillator's parts", running.rate);
            let about = timing(extracted, clock, beat.position).map_or(Entity::Net(clock.net), Entity::Part);
            Some(Notice::warning("clock-stated", about, text, mend))
        }
        Some(_) => None,
    }
}

/// ` with S1 at run`, or nothing where there is no switch.
pub(crate) fn at(board: &Board, clock: &Clock, position: usize) -> String {
    match (clock.selector, clock.rates.get(position)) {
        (Some(switch), Some(rate)) => {
            let name =
                if rate.position.is_empty() { format!("{}", position + 1) } else { rate.position.clone() };
            format!(" with {} at {name}", board.parts[switch].reference)
        }
        _ => String::new(),
    }
}

/// The capacitor that sets the rate at a position: of those in the oscillator that carry no rail, the
/// first that a person meets on the way from the switch's contact.
pub(crate) fn timing(extracted: &Extracted, clock: &Clock, position: usize) -> Option<PartId> {
    let shape = &extracted.shape;
    let board = shape.board;
    let sources = source_parts(extracted);
    let start = match clock.selector {
        Some(switch) => board.pins[*board.parts[switch].pins.get(position + 1)?].net,
        None => clock.net,
    };
    let mut seen = vec![shape.nodes.first(start)];
    let mut next = 0;
    while let Some(&here) = seen.get(next) {
        next += 1;
        for part in shape.nodes.pins(board, here).map(|pin| board.pins[pin].part) {
            let ends = shape.nodes.ends(board, part);
            let capacitor = matches!(board.parts[part].kind, PartKind::Capacitor { .. });
            if capacitor && !ends.iter().any(|&net| shape.nodes.is_supply(net)) {
                return Some(part);
            }
            if sources.contains(&part) {
                for net in ends.into_iter().filter(|&net| !shape.nodes.is_supply(net)) {
                    if !seen.contains(&net) {
                        seen.push(net);
                    }
                }
            }
        }
    }
    None
}
