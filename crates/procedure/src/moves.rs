//! One move at the bench as a formula: what hands and clocks hold before it and after it.
//!
//! Whatever is done at the bench is made of such moves, the board coming to rest after each. A hand ties or
//! releases one line. A clock goes over into its other half, its complement with it: a period is two such moves,
//! eight periods are sixteen, however quick. Several clocks may go over at once, since a person who counts periods lets all run.
//! Where the switch stands is a move of nothing: only a table of a fault that changes the clock looks at it, and such a
//! fault is not asked about. A clock that stands as luck has it, at power-on or after it ran where nobody can
//! count, stands one way or the other, and each is a state of its own.

use crate::Study;
use crate::gates::Literal;
use crate::ternary::{Hands, Rails, Ternary};
use dryjoint_faults::dial::Dial;
use dryjoint_faults::lanes::{Behaviour, Target};
use dryjoint_ids::Side;
use dryjoint_logic::SignalId;

/// What hands and clocks hold before a move and after it.
#[derive(Clone, Debug)]
pub(crate) struct Moves {
    pub hands: [Hands; 2],
    /// Signals that say where the switch of a clock stands, or lie inside an oscillator: the logic does not read them,
    /// and their levels mean nothing.
    beyond: Vec<SignalId>,
}

/// The moves of a board; nothing where two hold one net, or where a stage reads what only the switch of a clock says.
pub(crate) fn moves(ternary: &mut Ternary) -> Option<Moves> {
    let study = ternary.study;
    let logic = &study.extracted.logic;
    let told: Vec<SignalId> = study.rig.dials().iter().flat_map(Dial::told).collect();
    if logic.stages.rows().iter().any(|stage| stage.inputs.iter().any(|it| told.contains(it))) {
        return None;
    }
    let beyond: Vec<SignalId> =
        logic.signals.ids().filter(|&it| told.contains(&it) || ternary.is_left_alone(it)).collect();
    let never = Rails::known(ternary.constant(false));
    let holds = Rails::known(ternary.constant(true));
    // What nobody reads may as well stand low.
    let mut all = [0, 1]
        .map(|_| Side::new(&logic.signals, |it| [if beyond.contains(&it) { holds } else { never }, never]));
    let clocks: Vec<SignalId> =
        study.rig.dials().iter().flat_map(|dial| [Some(dial.signal), dial.complement]).flatten().collect();
    let mut lines: Vec<Literal> = Vec::new();
    for signal in logic.signals.ids() {
        let which = match study.rig.ties(signal) {
            [false, false] => continue,
            [low, high] if low != high && !clocks.contains(&signal) && !beyond.contains(&signal) => {
                usize::from(high)
            }
            _ => return None,
        };
        let [before, moves, after] = turned(ternary);
        lines.iter().for_each(|&other| ternary.formula.clause(&[!other, !moves]));
        lines.push(moves);
        all[0][signal][which] = Rails::known(before);
        all[1][signal][which] = Rails::known(after);
    }
    let mut moves = lines.clone();
    for dial in study.rig.dials() {
        let [before, goes_over, after] = turned(ternary);
        lines.iter().for_each(|&line| ternary.formula.clause(&[!line, !goes_over]));
        moves.push(goes_over);
        for (hands, high) in all.iter_mut().zip([before, after]) {
            hands[dial.signal] = [!high, high].map(Rails::known);
            dial.complement.into_iter().for_each(|not| hands[not] = [high, !high].map(Rails::known));
        }
    }
    ternary.formula.clause(&moves);
    Some(Moves { hands: all, beyond })
}

impl Moves {
    /// Whether a fault hangs on where the switch of a clock stands, or on the inside of an oscillator.
    pub fn are_not_all_of(&self, study: &Study, fault: &Behaviour) -> bool {
        let stages = &study.extracted.logic.stages;
        let set = |target: &Target| match *target {
            Target::Signal(signal) => signal,
            Target::Pin(stage, pin) => stages[stage].inputs[usize::from(pin)],
        };
        let read = fault.reads.iter().map(|read| read.signal);
        read.chain(fault.writes.iter().map(set)).any(|signal| self.beyond.contains(&signal))
    }
}

/// Something with two positions: how it stands before, whether it moves, and how it stands then.
fn turned(ternary: &mut Ternary) -> [Literal; 3] {
    let (before, moves) = (ternary.formula.variable(), ternary.formula.variable());
    let (left, given) = (ternary.and(before, !moves), ternary.and(!before, moves));
    [before, moves, ternary.or(left, given)]
}
