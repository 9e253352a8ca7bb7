//! `levels FILE --do ACTIONS`: what a meter reads on every net, and every lamp, after the actions.
//!
//! The logic says which state the board is in; the circuit of the whole board, solved in that state
//! with the same jumpers set and switches closed, says the voltages.

use crate::action::{self, Action};
use crate::bench::{Bench, running};
use crate::board_text::BoardText;
use crate::exit::{Exit, Failure};
use crate::readings::Seen;
use crate::shape::{Header, Levels};
use crate::{print, render};
use dryjoint_board::{Board, NetId};
use dryjoint_circuit::{Network, Regulation, Solution, Solver};
use dryjoint_logic::{Extracted, Level, SignalId, extract};
use dryjoint_parts::Glow;
use dryjoint_session::between_positions;
use dryjoint_units::{Amps, Volts};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::io::Write;

/// Computes and prints.
pub fn run(text: &BoardText, actions: &str, json: bool, out: &mut impl Write) -> Result<Exit, Failure> {
    let actions = action::parse(actions).map_err(Failure::Input)?;
    let levels = compute(text, actions)?;
    if json {
        print::json(out, &levels)?;
    } else {
        out.write_all(table(text.board(), &levels).as_bytes())?;
    }
    Ok(Exit::Fine)
}

fn compute(text: &BoardText, actions: Vec<Action>) -> Result<Levels, Failure> {
    let board = text.board();
    let (extracted, notices) = extract(board);
    text.refuse_errors(&notices)?;
    let mut known = Bench::new(&extracted, None);
    let [mut woken, mut other] = Bench::both_ways(&extracted);
    for action in &actions {
        for bench in [&mut known, &mut woken, &mut other] {
            bench.act(action).map_err(Failure::Input)?;
        }
    }
    let solve = |bench: &Bench, clock: Clock| {
        let network = network(&extracted, bench, clock);
        let solution = Solver::default()
            .solve_near(&network, &guess(&extracted, bench))
            .map_err(|failure| Failure::Computation(format!("{}: {}", board.name, failure.told(board))))?;
        Ok::<_, Failure>((network, solution))
    };
    let mut clock = Clock::of(&extracted, &woken);
    let mut ways = [solve(&woken, clock)?, solve(&other, clock)?];
    let rest = [&woken, &other].into_iter().zip(&ways).all(|(bench, way)| rests(&extracted, bench, way));
    if clock == Clock::Still && !rest {
        clock = Clock::Running;
        ways = [solve(&woken, clock)?, solve(&other, clock)?];
    }
    Ok(document(&extracted, &known, &ways, clock, actions))
}

/// What the board's own clock does while a meter reads.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Clock {
    /// Its switch stands between two positions: nothing feeds it, and its parts are solved like all others.
    Still,
    /// It is taken to rest, its parts are left out: they run, and no meter reads one figure there.
    Running,
}

impl Clock {
    fn of(extracted: &Extracted, bench: &Bench) -> Self {
        let clocks = extracted.shape.board.clocks.rows();
        let still = clocks.iter().all(|clock| {
            clock.selector.is_some_and(|switch| bench.selected().all(|(turned, _)| turned != switch))
        });
        if still { Self::Still } else { Self::Running }
    }
}

/// Whether every clock stands where the logic has it.
fn rests(extracted: &Extracted, bench: &Bench, (network, solution): &(Network, Solution)) -> bool {
    bench.resting().into_iter().all(|(net, high)| {
        solution.at(network, net).is_some_and(|volts| extracted.levels[net].read(volts) == Some(high))
    })
}

/// The whole board with everything set as it is on the bench.
fn network(extracted: &Extracted, bench: &Bench, clock: Clock) -> Network {
    let board = extracted.shape.board;
    let mut network = Network::of_board(board);
    match clock {
        Clock::Still => {
            between_positions(board, &mut network);
            extracted.tie(&mut network, &bench.jumpers());
        }
        Clock::Running => network = extracted.tied(&network, &[bench.jumpers(), bench.resting()].concat()),
    }
    for part in bench.closed() {
        network.press(part, true);
    }
    for (part, position) in bench.selected() {
        network.select(part, position);
    }
    if !bench.is_powered() {
        for (net, row) in board.nets.iter() {
            if row.supply.is_some() {
                network.supply(network.find(net).unwrap_or(dryjoint_circuit::GROUND), Volts(0.0), Amps(0.0));
            }
        }
    }
    network
}

fn guess(extracted: &Extracted, bench: &Bench) -> Vec<(NetId, Volts)> {
    if !bench.is_powered() {
        return Vec::new();
    }
    let signals = extracted.logic.signals.iter();
    signals
        .filter_map(|(id, signal)| {
            let net = signal.net?;
            Some((net, extracted.levels[net].volts(bench.level(id).value()?)))
        })
        .collect()
}

/// Volts that a meter tells apart.
const APART: f64 = 0.05;
/// Amperes that the display of a supply does not tell apart.
const SAME: f64 = 1e-3;

fn document(
    extracted: &Extracted,
    known: &Bench,
    ways: &[(Network, Solution); 2],
    clock: Clock,
    actions: Vec<Action>,
) -> Levels {
    let board = extracted.shape.board;
    let [(network, solution), (other_network, other)] = ways;
    let lamps = || {
        board.parts.iter().filter_map(|(id, part)| {
            let (amps, glow) = solution.lamp(network, id)?;
            Some((part.reference.clone(), amps, glow))
        })
    };
    let volts = |net: NetId| Some((solution.at(network, net)?.0, other.at(other_network, net)?.0));
    let runs = |net: NetId| clock == Clock::Running && is_of_source(extracted, net);
    let nets = board.nets.iter().filter(|(id, _)| !runs(*id));
    let nets = nets.filter_map(|(id, net)| Some((net.name.clone(), rounded(volts(id)?.0, 1e4))));
    let unknown = |level: Level| level.value().is_none() && level != Level::Floating;
    let running = running(extracted);
    let doubtful: BTreeSet<SignalId> = (extracted.logic.signals.ids())
        .filter(|id| known.is_powered() && !running.contains(id) && unknown(known.level(*id)))
        .collect();
    let name = |id: SignalId| extracted.logic.signals[id].name.clone();
    let moved = board.nets.iter().filter(|(id, _)| {
        !runs(*id)
            && extracted.signal_of[*id].is_none_or(|signal| !running.contains(&signal))
            && (volts(*id).is_some_and(|(one, two)| (one - two).abs() > APART)
                || extracted.signal_of[*id].is_some_and(|signal| doubtful.contains(&signal)))
    });
    let unlit = doubtful.iter().filter(|id| extracted.logic.signals[**id].net.is_none());
    let given = |solution: &Solution| solution.deliveries().iter().map(|delivery| delivery.amps.0).sum();
    let (one, two): (f64, f64) = (given(solution), given(other));
    let restless = known.restless.iter().chain(running.iter().filter(|_| clock == Clock::Running));
    Levels {
        header: Header::new("levels", &board.name),
        actions,
        nets: nets.collect(),
        lamps: lamps().map(|(name, _, glow)| (name, seen(glow))).collect(),
        lamp_amps: lamps().map(|(name, amps, _)| (name, rounded(amps.0, 1e7))).collect(),
        supply_amps: rounded(one, 1e6),
        supply_range: [rounded(one.min(two), 1e6), rounded(one.max(two), 1e6)],
        limited: solution.deliveries().iter().any(|d| d.regulation == Regulation::Current)
            && known.is_powered(),
        uncertain: moved.map(|(_, net)| net.name.clone()).chain(unlit.map(|id| name(*id))).collect(),
        unsettled: restless.map(|id| name(*id)).collect(),
        running: board.nets.iter().filter(|(id, _)| runs(*id)).map(|(_, net)| net.name.clone()).collect(),
    }
}

/// Whether a net hangs on the parts of a clock's oscillator. The clock itself, which the rest of the board sees, does not
/// count: it is held where it rests.
fn is_of_source(extracted: &Extracted, net: NetId) -> bool {
    let board = extracted.shape.board;
    let clocks = board.clocks.rows().iter().flat_map(|clock| [Some(clock.net), clock.complement]);
    let source = |part| {
        let clusters = &extracted.shape.clusters;
        clusters.of_part[part].is_some_and(|id| clusters.rows[id].is_source)
    };
    board.nets[net].supply.is_none()
        && !clocks.flatten().any(|known| known == net)
        && board.nets[net].pins.iter().any(|&pin| source(board.pins[pin].part))
}

/// Rounded to one part of `steps` of a unit: a tenth of a millivolt, a microampere; below that the
/// solver's digits mean nothing.
fn rounded(value: f64, steps: f64) -> f64 {
    // The sum takes the sign off a negative zero.
    (value * steps).round() / steps + 0.0
}

fn seen(glow: Glow) -> Seen {
    match glow {
        Glow::Lit => Seen::Lit,
        Glow::Dark => Seen::Dark,
        Glow::Dim => Seen::Dim,
    }
}

fn table(board: &Board, levels: &Levels) -> String {
    let mut text = String::new();
    let uncertain = |name: &String| {
        if levels.unsettled.contains(name) {
            "does not settle"
        } else if levels.uncertain.contains(name) {
            "depends on how the board woke up"
        } else {
            ""
        }
    };
    text.push_str(&render::heading("Nets, against ground"));
    if !levels.running.is_empty() {
        text.push_str("The board's own clock runs; what follows it is told as of a clock at rest.\n");
    }
    let still = board.clocks.rows().iter().filter(|_| levels.running.is_empty());
    for switch in still.filter_map(|clock| clock.selector) {
        let _ = writeln!(
            text,
            "{} stands between two positions: the clock keeps still.",
            board.parts[switch].reference
        );
    }
    let read: BTreeMap<&str, f64> = levels.nets.0.iter().map(|(name, volts)| (&name[..], *volts)).collect();
    let rows = board.nets.rows().iter().filter_map(|net| {
        let pins: Vec<String> = net
            .pins
            .iter()
            .take(3)
            .map(|pin| {
                let pin = &board.pins[*pin];
                format!("{}.{}", board.parts[pin.part].reference, pin.name)
            })
            .collect();
        let (reads, remark) = if levels.running.contains(&net.name) {
            ("-".to_owned(), "runs with the clock")
        } else {
            (format!("{:.2} V", read.get(&net.name[..])?), uncertain(&net.name))
        };
        Some(vec![net.name.clone(), reads, pins.join(" "), remark.to_owned()])
    });
    text.push_str(&render::table(&["net", "reads", "at", ""], &[1], rows));
    text.push_str(&render::heading("Lamps"));
    let certain = levels.lamps.0.iter().filter(|(name, _)| uncertain(name).is_empty());
    text.push_str(&render::lamps(board, &certain.cloned().collect()));
    let [least, most] = levels.supply_range.map(Amps);
    let amps = match most.0 - least.0 < SAME {
        true => most.to_string(),
        false => format!("{least} to {most}, as the board woke up"),
    };
    text.push_str(&render::heading("Supply"));
    let limited = if levels.limited { ", at its current limit" } else { "" };
    text.push_str(&format!("{amps}{limited}\n"));
    text
}
