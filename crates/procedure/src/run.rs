//! Letting a clock run where nobody can count its periods.
//!
//! At ten periods a second or ten thousand a person sees only what stands still. So after the switch was
//! turned to such a position and away again nothing is told but what is the same after any number of
//! periods from [`LEAST`] on, with the clock low or high: the lanes go through so many periods, then what the next ones
//! leave is laid over what was there, and what differs is left open, until one more period changes nothing.
//!
//! What is left open stands one way or the other, and what hangs on it does not see it move; so everything is
//! computed anew after each such step, and before whatever comes next. A latch whose clock is left open is then
//! left open too.

use crate::Study;
use dryjoint_board::{Board, ClockId, PartId};
use dryjoint_faults::dial::Dial;
use dryjoint_faults::lanes::{Lane, Machine, State, Word};
use dryjoint_logic::{Level, SignalId};

/// Periods that have gone by at the least.
pub(crate) const LEAST: u32 = 8;
/// Periods more that luck may choose.
const MORE: u32 = 12;
/// Periods laid over each other before the clock itself is left open.
const MOST: usize = 24;

/// A clock left running at a position.
pub(crate) struct Run<'b> {
    /// The switch, and the position's name.
    pub place: Option<(PartId, &'b str)>,
    /// Whole seconds, in which a copy at the slow end of its tolerance makes [`LEAST`] periods.
    pub seconds: f64,
}

impl<'b> Run<'b> {
    pub(crate) fn of(board: &'b Board, clock: ClockId, position: u16) -> Self {
        let row = &board.clocks[clock];
        let rate = row.rates.get(usize::from(position));
        let seconds = rate.map_or(1.0, |rate| (f64::from(LEAST) * SLACK / rate.rate.0).ceil().max(1.0));
        Self { place: row.selector.zip(rate.map(|rate| rate.position.as_str())), seconds }
    }
}

/// A clock may be slower than its text says by this (judgement: resistors and capacitors are, together).
const SLACK: f64 = 1.25;

/// Lets a machine go through such a run; `seen` hears of every rest, and last of what is left to tell. Returns
/// the lanes in which something oscillated.
pub(crate) fn run(
    study: &Study,
    machine: &mut Machine,
    (clock, position): (ClockId, u16),
    seen: &mut dyn FnMut(&Machine),
) -> Word {
    let Some(dial) = study.rig.dials().iter().find(|dial| dial.clock == clock) else { return Word::NONE };
    let mut oscillating = Word::NONE;
    let mut rest = |machine: &mut Machine| {
        oscillating = oscillating | machine.settle().oscillating;
        seen(machine);
    };
    begin(dial, machine, position, &mut rest);
    let mut low = machine.save();
    let mut high = None;
    for _ in 0..MOST {
        machine.restore(&low);
        machine.reconsider();
        rest(machine);
        set(dial, machine, true);
        rest(machine);
        let now_high = machine.save();
        set(dial, machine, false);
        rest(machine);
        let both = low.common(&machine.save());
        let closed = both.is_like(&low);
        low = both;
        if closed {
            high = Some(now_high);
            break;
        }
    }
    // The switch is turned away in either half.
    let mut left = |machine: &mut Machine, state: &State| {
        machine.restore(state);
        if high.is_none() {
            // Whatever the clock did: nothing is taken from it.
            machine.doubt(dial.signal);
            dial.complement.into_iter().for_each(|signal| machine.doubt(signal));
        }
        dial.turned_away(position.into()).for_each(|(signal, level)| machine.bench(signal, level));
        machine.reconsider();
        rest(machine);
        machine.save()
    };
    let after = left(machine, &low);
    let after = match &high {
        Some(high) => after.common(&left(machine, high)),
        None => after,
    };
    machine.restore(&after);
    // A clock that stood as it had woken up may have been moved since.
    for signal in [Some(dial.signal), dial.complement, dial.woken, dial.held].into_iter().flatten() {
        machine.doubt(signal);
    }
    seen(machine);
    oscillating
}

/// Turns the switch to a position and lets the least number of periods go by.
fn begin(dial: &Dial, machine: &mut Machine, position: u16, rest: &mut dyn FnMut(&mut Machine)) {
    dial.turned_to(position.into()).for_each(|(signal, level)| machine.bench(signal, level));
    rest(machine);
    for _ in 0..LEAST {
        period(dial, machine, rest);
    }
}

fn period(dial: &Dial, machine: &mut Machine, rest: &mut dyn FnMut(&mut Machine)) {
    for high in [true, false] {
        set(dial, machine, high);
        rest(machine);
    }
}

/// Lets the first so many pairs go through such a run as luck has it: each makes so many periods as leave its faulty
/// board most like its good one, and the switch is turned away in the half that is asked for. Nothing is left open by that.
pub(crate) fn run_by_luck(
    study: &Study,
    machine: &mut Machine,
    (clock, position): (ClockId, u16),
    pairs: usize,
    high: bool,
) {
    let Some(dial) = study.rig.dials().iter().find(|dial| dial.clock == clock) else { return };
    let rest = &mut |machine: &mut Machine| {
        machine.settle();
    };
    begin(dial, machine, position, rest);
    let mut best: Vec<(usize, [Lane; 2])> = Vec::new();
    let mut hands = Vec::new();
    for _ in 0..=MORE {
        let low = machine.save();
        if high {
            set(dial, machine, true);
            rest(machine);
        }
        dial.turned_away(position.into()).for_each(|(signal, level)| machine.bench(signal, level));
        dial.held.into_iter().for_each(|held| machine.bench(held, Level::from(high)));
        rest(machine);
        hands = machine.hands();
        for (pair, lanes) in machine.lanes(2 * pairs).chunks(2).enumerate() {
            let now = (unlike(study, &lanes[0], &lanes[1]), [lanes[0].clone(), lanes[1].clone()]);
            match best.get_mut(pair) {
                Some(known) if now.0 < known.0 => *known = now,
                Some(_) => {}
                None => best.push(now),
            }
        }
        machine.restore(&low);
        period(dial, machine, rest);
    }
    let best: Vec<[&Lane; 2]> = best.iter().map(|(_, [good, faulty])| [good, faulty]).collect();
    machine.lay(&hands, &best);
}

/// In how much a faulty board is not like a good one; a lamp counts for more than anything else.
fn unlike(study: &Study, good: &Lane, faulty: &Lane) -> usize {
    let signals = &study.extracted.logic.signals;
    let differs = |signal: SignalId| good.level(signal) != faulty.level(signal);
    let lamps = study.rig.lamps.iter().filter(|(_, lamp)| differs(*lamp)).count();
    lamps * signals.len() + signals.ids().filter(|&signal| differs(signal)).count()
}

/// Before anything else is done: after such a run everything is computed anew, and the switch is no more where
/// it was.
pub(crate) fn resume(study: &Study, machine: &mut Machine) {
    if study.rig.dials().iter().any(|dial| machine.is_doubted(dial.signal)) {
        machine.reconsider();
    }
}

fn set(dial: &Dial, machine: &mut Machine, high: bool) {
    machine.bench(dial.signal, Level::from(high));
    dial.complement.into_iter().for_each(|signal| machine.bench(signal, Level::from(!high)));
}
