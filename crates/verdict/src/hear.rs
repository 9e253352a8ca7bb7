//! What lamps tell of how latches fell.
//!
//! The lanes begin with nothing known, and what luck decides stays unknown in them for as long as nothing sets it. But
//! the lamps show how it fell. So every lane is played once more by its side, and after each look told what was read: where a
//! lamp is not known, each latch that is not known is supposed to hold low, then to hold high. Where one of the two
//! contradicts what was read and the other does not, the latch holds the other. From then on the lane knows it, as the
//! board at the bench does. Nothing holds while a clock stands that nobody knows the level of, so a clock is supposed low and high
//! with all that the latches tell in either case. That luck fell so, of two ways, has its chance: one half, or what hints say
//! that came true before.
//!
//! Example: a ring of latches whose reset is cut open wakes up anyhow. Once its lamps were read the lane knows which latch
//! is set, and says what the next step shows; a lane with nothing known of it could never be told from one whose ring
//! happens to stand the same way.
//!
//! A lamp may have been misread. So a lane is counted by what it knows for sure as well, and one that contradicts what
//! it heard twice in a row forgets what it heard before.

use crate::chance::FallRun;
use dryjoint_faults::lanes::{LANES, Machine, Planes, State, Word};
use dryjoint_logic::SignalId;
use dryjoint_procedure::Study;
use std::collections::BTreeMap;

/// How likely it is, in natural logarithms, that what was heard was wrong (judgement).
const MISHEARD: f64 = -5.3;

/// After so many contradictions without a look between that has none, what was heard before is not believed any more.
const TWICE: u8 = 2;

/// How often all latches are gone through: what one tells may decide another.
const SWEEPS: usize = 3;

/// What was read of a lamp: lit, or dark.
pub(crate) type Lamp = (SignalId, bool);

/// How the lanes of one machine stand to what they heard.
#[derive(Clone, Debug)]
pub(crate) struct Heard {
    /// How luck fell so far, per lane.
    falls: Vec<FallRun>,
    /// The logarithm of the chance that so much was wrong of what was heard, per lane.
    wrong: Vec<f64>,
    /// Contradictions in a row, per lane.
    doubt: Vec<u8>,
    /// How each latch fell the last time.
    last: BTreeMap<SignalId, Planes>,
}

impl Default for Heard {
    fn default() -> Self {
        let falls = vec![FallRun::default(); LANES];
        Self { falls, wrong: vec![0.0; LANES], doubt: vec![0; LANES], last: BTreeMap::new() }
    }
}

impl Heard {
    /// The logarithm of the chance that luck fell as it was heard in a lane so far.
    pub fn luck(&self, lane: usize) -> f64 {
        self.falls[lane].log() + self.wrong[lane]
    }

    /// The same had it been known from the start how luck falls on this board; to mishear once says nothing against it.
    pub fn learned(&self, lane: usize) -> f64 {
        self.falls[lane].learned() + (self.wrong[lane] - MISHEARD).min(0.0)
    }

    /// Some lanes go on with what another heard.
    fn take(&mut self, other: &Self, lanes: Word) {
        for lane in lanes.lanes() {
            (self.falls[lane], self.wrong[lane]) = (other.falls[lane], other.wrong[lane]);
        }
        for (latch, theirs) in &other.last {
            let own = self.last.entry(*latch).or_insert(Planes::UNKNOWN);
            own.one = own.one & !lanes | theirs.one & lanes;
            own.zero = own.zero & !lanes | theirs.zero & lanes;
        }
    }

    /// A latch or a clock fell this way.
    fn fell(&mut self, latch: SignalId, value: Planes, good: Option<bool>) {
        let last = self.last.entry(latch).or_insert(Planes::UNKNOWN);
        for lane in (value.one | value.zero).lanes() {
            let high = value.one.get(lane);
            let before = (last.one | last.zero).get(lane).then(|| last.one.get(lane));
            self.falls[lane].add(good.map(|good| good == high), before.map(|before| before == high));
            last.one.set(lane, high);
            last.zero.set(lane, !high);
        }
    }
}

/// What luck may decide on a board.
pub(crate) struct Luck {
    latches: Vec<SignalId>,
    /// Each as the signals that go with it and whether they go the same way.
    clocks: Vec<Vec<(SignalId, bool)>>,
}

impl Luck {
    pub fn of(study: &Study) -> Self {
        Self { latches: study.latches(), clocks: study.lucky_clocks() }
    }
}

/// Tells a machine at rest what was read of its lamps; `sure` is how the same lanes stand that heard nothing. Lanes that are
/// not `asked` hear nothing either.
pub(crate) fn hear(
    machine: &mut Machine,
    sure: &State,
    luck: &Luck,
    (lamps, asked): (&[Lamp], Word),
    before: &Heard,
) -> Heard {
    let mut heard = before.clone();
    let mut wrong = [0u8; LANES];
    for &(signal, lit) in lamps {
        let lanes = contradicts(machine.value(signal), lit) & !known(sure, signal);
        lanes.lanes().for_each(|lane| wrong[lane] = wrong[lane].saturating_add(1));
    }
    let mut forgets = Word::NONE;
    for (lane, &wrong) in wrong.iter().enumerate() {
        let doubt = &mut heard.doubt[lane];
        *doubt = if wrong == 0 { 0 } else { doubt.saturating_add(wrong) };
        if *doubt >= TWICE {
            *doubt = 0;
            heard.wrong[lane] += MISHEARD;
            forgets.set(lane, true);
        }
    }
    if !forgets.is_none() {
        let mut state = machine.save();
        state.take(sure, forgets);
        machine.restore(&state);
    }
    let mut ear = Ear { machine, luck, lamps, asked };
    ear.latches(&mut heard);
    for clock in &luck.clocks {
        ear.clock(clock, &mut heard);
    }
    heard
}

/// A machine that is told what was read of its lamps.
struct Ear<'a, 'p> {
    machine: &'a mut Machine<'p>,
    luck: &'a Luck,
    lamps: &'a [Lamp],
    asked: Word,
}

impl Ear<'_, '_> {
    /// The lanes of which some lamp is not known that was read.
    fn asking(&self) -> Word {
        let open = self.lamps.iter().fold(Word::NONE, |all, &(lamp, _)| all | self.machine.unknown(lamp));
        open & self.asked
    }

    /// The lanes in which a lamp is plainly otherwise than it was read, that was not known before.
    fn wrong(&self, before: &State) -> Word {
        self.lamps.iter().fold(Word::NONE, |all, &(lamp, lit)| {
            all | contradicts(self.machine.value(lamp), lit) & !known(before, lamp)
        })
    }

    /// Goes through the latches until none tells any more.
    fn latches(&mut self, heard: &mut Heard) {
        for _ in 0..SWEEPS {
            if !self.sweep(heard) {
                break;
            }
        }
    }

    /// Goes through all latches once; whether any became known.
    fn sweep(&mut self, heard: &mut Heard) -> bool {
        let mut any = false;
        let mut base = self.machine.save();
        // Lanes in which a latch is as good as asked: it follows another that was supposed both ways.
        let mut follows: BTreeMap<SignalId, Word> = BTreeMap::new();
        for &latch in &self.luck.latches {
            let done = follows.get(&latch).copied().unwrap_or(Word::NONE);
            let lanes = self.machine.unknown(latch) & self.asking() & !done;
            if lanes.is_none() {
                continue;
            }
            let others = self.luck.latches.iter().copied().filter(|&other| other != latch);
            let open: Vec<(SignalId, Word)> =
                others.map(|other| (other, self.machine.unknown(other) & lanes)).collect();
            let low = self.supposed(latch, (lanes, false), (&base, &open));
            let high = self.supposed(latch, (lanes, true), (&base, &open));
            for ((&(other, _), low), high) in open.iter().zip(low.known).zip(high.known) {
                let follows = follows.entry(other).or_insert(Word::NONE);
                *follows = *follows | low & high;
            }
            let value = Planes {
                one: low.wrong & !high.wrong & high.holds,
                zero: high.wrong & !low.wrong & low.holds,
            };
            if (value.one | value.zero).is_none() {
                continue;
            }
            self.machine.suppose(&[(latch, value)]);
            heard.fell(latch, value, crate::inquiry::known(self.machine.value(latch).shown(0)));
            base = self.machine.save();
            any = true;
        }
        any
    }

    /// What would become of supposing that a latch holds a level in some lanes.
    fn supposed(
        &mut self,
        latch: SignalId,
        (lanes, high): (Word, bool),
        (base, open): (&State, &[(SignalId, Word)]),
    ) -> Supposed {
        self.machine.suppose(&[(latch, planes(lanes, high))]);
        let known = open.iter().map(|&(other, lanes)| lanes & !self.machine.unknown(other)).collect();
        let supposed =
            Supposed { wrong: self.wrong(base) & lanes, holds: !self.machine.unknown(latch), known };
        self.machine.restore(base);
        supposed
    }

    /// Supposes a clock low, then high, each with what the latches tell then. Where neither contradicts what was read, what both
    /// have in common is known.
    fn clock(&mut self, clock: &[(SignalId, bool)], heard: &mut Heard) {
        let Some(&(first, _)) = clock.first() else { return };
        let lanes = self.machine.unknown(first) & self.asking();
        if lanes.is_none() || !self.machine.is_doubted(first) {
            return;
        }
        let base = self.machine.save();
        let mut case = |high: bool| {
            let standing: Vec<(SignalId, Planes)> =
                clock.iter().map(|&(signal, same)| (signal, planes(lanes, high == same))).collect();
            self.machine.stand(&standing);
            let mut own = heard.clone();
            self.latches(&mut own);
            let case = (self.wrong(&base) & lanes, self.machine.save(), own);
            self.machine.restore(&base);
            case
        };
        let (low_wrong, low, low_heard) = case(false);
        let (high_wrong, high, high_heard) = case(true);
        let value = Planes { one: low_wrong & !high_wrong, zero: high_wrong & !low_wrong };
        let either = lanes & !low_wrong & !high_wrong;
        let mut state = base;
        state.take(&low.common(&high), either);
        state.take(&low, value.zero);
        state.take(&high, value.one);
        self.machine.restore(&state);
        heard.take(&low_heard, value.zero);
        heard.take(&high_heard, value.one);
        heard.fell(first, value, crate::inquiry::known(self.machine.value(first).shown(0)));
    }
}

/// What would become of a supposition.
struct Supposed {
    /// The lanes in which it contradicts a lamp.
    wrong: Word,
    /// Those in which the latch stays where it was put.
    holds: Word,
    /// Those in which each of the other latches becomes known.
    known: Vec<Word>,
}

/// A level in some lanes.
fn planes(lanes: Word, high: bool) -> Planes {
    if high { Planes { one: lanes, zero: Word::NONE } } else { Planes { one: Word::NONE, zero: lanes } }
}

/// The lanes in which a lamp is plainly the other way than it was read.
pub(crate) fn contradicts(lamp: &Planes, lit: bool) -> Word {
    if lit { lamp.zero & !lamp.one } else { lamp.one & !lamp.zero }
}

/// The lanes in which a signal is known in a state.
fn known(state: &State, signal: SignalId) -> Word {
    let value = state.value(signal);
    value.one | value.zero
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::latch::with_latch;
    use dryjoint_board::LineId;
    use dryjoint_faults::lanes::Shown;
    use dryjoint_ids::Id;
    use dryjoint_procedure::{Action, Wake, act};

    fn told(machine: &mut Machine, sure: &Machine, study: &Study, lamps: &[Lamp], before: &Heard) -> Heard {
        hear(machine, &sure.save(), &Luck::of(study), (lamps, Word::ALL), before)
    }

    /// The good board wakes up one way or the other; which one, a lamp tells, and then the other lamp is known too.
    #[test]
    fn a_lamp_tells_how_a_latch_woke_up() {
        with_latch(|study| {
            let [(_, q), (_, qn)] = study.rig.lamps[..] else { panic!("two lamps") };
            let sure = study.machines_for(&[], None).remove(0);
            for lit in [false, true] {
                let mut machine = study.machines_for(&[], None).remove(0);
                assert_eq!(machine.value(qn).shown(0), Shown::Unknown);
                let heard = told(&mut machine, &sure, study, &[(q, lit)], &Heard::default());
                let shown = [q, qn].map(|lamp| machine.value(lamp).shown(0));
                assert_eq!(shown, if lit { [Shown::One, Shown::Zero] } else { [Shown::Zero, Shown::One] });
                assert!((heard.luck(0) - 0.5f64.ln()).abs() < 1e-9, "one way of two: {}", heard.luck(0));
            }
        });
    }

    /// One contradiction is a lamp that was misread; after two in a row what was heard before was wrong.
    #[test]
    fn what_is_contradicted_twice_is_forgotten() {
        with_latch(|study| {
            let [(_, q), _] = study.rig.lamps[..] else { panic!("two lamps") };
            let sure = study.machines_for(&[], None).remove(0);
            let mut machine = study.machines_for(&[], None).remove(0);
            let mut heard = told(&mut machine, &sure, study, &[(q, true)], &Heard::default());
            for shown in [Shown::One, Shown::Zero] {
                heard = told(&mut machine, &sure, study, &[(q, false)], &heard);
                assert_eq!(machine.value(q).shown(0), shown);
            }
            assert!(heard.luck(0) < MISHEARD, "{}", heard.luck(0));
        });
    }

    /// With every fault, however the latch woke up, and after drawn moves of the hands: what is known of a board by what was
    /// read of it is so.
    #[test]
    fn nothing_is_heard_that_is_not_so() {
        let (mut known_before, mut heard_more) = (0usize, 0usize);
        with_latch(|study| {
            for (_, group) in study.groups.iter() {
                for seed in 0..6 {
                    let own = [&group.behaviour];
                    let mut unit = study.machines_for(&own, Some(Wake { seed, opposite: false })).remove(0);
                    let [mut machine, mut sure] = [(), ()].map(|()| study.machines_for(&own, None).remove(0));
                    let mut draws = dryjoint_draws::Draws::new(seed);
                    let mut heard = Heard::default();
                    for _ in 0..6 {
                        let line = LineId::at(draws.below(2));
                        let action =
                            [Action::Tie(line), Action::Release(line), Action::Pulse(line)][draws.below(3)];
                        for machine in [&mut unit, &mut machine, &mut sure] {
                            act(study, machine, &[action]);
                        }
                        let lamps: Vec<Lamp> = (study.rig.lamps.iter())
                            .filter_map(|&(_, lamp)| {
                                Some((lamp, crate::inquiry::known(unit.value(lamp).shown(1))?))
                            })
                            .collect();
                        heard = told(&mut machine, &sure, study, &lamps, &heard);
                        for signal in study.extracted.logic.signals.ids() {
                            let [is, told, surely] =
                                [&unit, &machine, &sure].map(|machine| machine.value(signal).shown(1));
                            if [is, told].contains(&Shown::Unknown) {
                                continue;
                            }
                            assert_eq!(told, is, "{signal:?} with {:?}", study.faults[group.faults[0]]);
                            let count =
                                if surely == Shown::Unknown { &mut heard_more } else { &mut known_before };
                            *count += 1;
                        }
                    }
                }
            }
        });
        assert!(known_before > 1000 && heard_more > 100, "{known_before} {heard_more}");
    }
}
