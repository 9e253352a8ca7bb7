//! Proof that no way surely shows a fault: luck can hide it.
//!
//! A level between the thresholds may be read as it should be, a latch may wake up as it does on the good
//! board, a race may end as it should. Where that keeps every lamp right, whatever hands do, a copy with the fault and with
//! that luck passes every procedure. Three proofs are tried. By rows: whatever the fault does in any row of its table
//! is what the good board does there, or is left open; then nothing hangs on the state of the board at all. By
//! states: every state within reach is walked through with what is left open falling as on the good board, as far as the
//! logic holds it so. Signals may differ for sure, as long as every lamp shows what it should.
//!
//! Last, luck is let choose how the board woke up, how many periods a clock made that ran where nobody counts them, and in
//! which half its switch was turned away.
//!
//! Luck is taken to be free: of the states in which the logic can rest, it may choose any that what is known allows,
//! and anew each time. A copy that always chooses alike may show what the proof says no way surely shows; but which
//! way would show it, nobody can say beforehand.

use crate::search::Aim;
use crate::study::Wake;
use crate::walk::{Limits, Walked, walk};
use crate::{GroupId, Study};
use dryjoint_faults::lanes::{Behaviour, Drive, Luck, Machine, Read, Shown, Target};
use dryjoint_logic::{Function, Level, SignalId, Stage};

/// Whether every row of a fault's table is what the good board does in that row, or is left open.
pub(crate) fn hides_by_rows(study: &Study, behaviour: &Behaviour) -> bool {
    let width = behaviour.writes.len();
    behaviour.blackout.is_none()
        && behaviour.table.chunks(width.max(1)).enumerate().all(|(at, row)| {
            let known = known(study, behaviour, at);
            behaviour.writes.iter().zip(row).all(|(&target, shown)| match shown {
                Shown::Unknown | Shown::Dim => true,
                Shown::Zero => good(study, &known, target) == Some(false),
                Shown::One => good(study, &known, target) == Some(true),
            })
        })
}

/// A signal and its level in a row.
type Known = (SignalId, bool);

/// The signals that a row says everything of.
fn known(study: &Study, behaviour: &Behaviour, row: usize) -> Vec<Known> {
    let mut rest = row;
    let mut known = Vec::new();
    for read in &behaviour.reads {
        let drive = read.drives[rest % read.drives.len()];
        rest /= read.drives.len();
        if !sees_all(study, read) {
            continue;
        }
        let level = match drive {
            Drive::Low => Some(false),
            Drive::High => Some(true),
            Drive::Free => at_rest(study, read.signal),
        };
        known.extend(level.map(|level| (read.signal, level)));
    }
    known
}

/// Whether a read looks at everyone who drives its signal.
fn sees_all(study: &Study, read: &Read) -> bool {
    let stages = study.extracted.logic.stages.iter();
    let mut drivers = stages.filter(|(_, stage)| stage.output == read.signal && !stage.inputs.is_empty());
    let held = study.rig.hands(read.signal).contains(&true);
    (read.bench || !held) && drivers.all(|(id, _)| read.stages.contains(&id))
}

/// The level of a signal that nobody drives.
fn at_rest(study: &Study, signal: SignalId) -> Option<bool> {
    let stages = study.extracted.logic.stages.rows().iter();
    let resting = stages.filter(|stage| stage.output == signal && stage.inputs.is_empty());
    let rest = resting.fold(Level::Floating, |all, stage| match &stage.function {
        Function::Found(rows) => all.resolve(rows[0]),
        _ => all,
    });
    rest.value()
}

/// What the good board puts on a target of the fault in a row; nothing where the row does not say.
fn good(study: &Study, known: &[Known], target: Target) -> Option<bool> {
    let level = |signal| known.iter().find(|(known, _)| *known == signal).map(|&(_, level)| level);
    match target {
        Target::Pin(stage, pin) => level(study.extracted.logic.stages[stage].inputs[usize::from(pin)]),
        Target::Signal(signal) => level(signal).or_else(|| driven(study, known, signal)),
    }
}

/// The level of a signal from the inputs of the one stage that drives it.
fn driven(study: &Study, known: &[Known], signal: SignalId) -> Option<bool> {
    let stages = study.extracted.logic.stages.rows().iter();
    let mut drivers = stages.filter(|stage| stage.output == signal && !stage.inputs.is_empty());
    let (only, None) = (drivers.next()?, drivers.next()) else { return None };
    if study.rig.hands(signal).contains(&true) {
        return None;
    }
    let level = put_out(only, known)?;
    if level == Level::Floating { at_rest(study, signal) } else { level.value() }
}

/// What a stage puts out where that hangs on known inputs alone.
fn put_out(stage: &Stage, known: &[Known]) -> Option<Level> {
    let Function::Found(rows) = &stage.function else { return None };
    let allows = |row: usize| {
        stage.inputs.iter().enumerate().all(|(bit, input)| {
            known.iter().all(|&(signal, level)| signal != *input || level == (row >> bit & 1 != 0))
        })
    };
    let mut levels = (0..rows.len()).filter(|&row| allows(row)).map(|row| rows[row]);
    let first = levels.next()?;
    levels.all(|other| other == first).then_some(first)
}

/// How many states are within reach, where luck hides the group in all of them; nothing where it does not or where there
/// are too many.
pub(crate) fn hides_in_states(study: &Study, group: GroupId, limits: &Limits) -> Option<usize> {
    let behaviour = study.groups[group].behaviour.clone();
    let mut machine = study.at_power_on(Machine::lucky_pairs(&study.program, behaviour, Luck::Always));
    match walk(study, &mut machine, 1, Aim::Chance, limits, &mut |_, _| true) {
        Walked::All(states) => Some(states),
        Walked::Way(_) | Walked::Cut(_) => None,
    }
}

/// Ways of waking up that luck is let choose from, each also the other way round.
const WAKES: u64 = 4;

/// The same where luck also chooses how the board wakes up, the good one and the faulty one alike, how many periods each
/// makes of a clock left running where nobody can count, and in which half of one that ends. What is expected of a good board
/// is what all good boards show; so it is enough that one good board and one with the fault, each as luck has it, show the same
/// for ever.
pub(crate) fn hides_by_choice(study: &Study, group: GroupId, limits: &Limits) -> Option<usize> {
    let wakes = (1..=WAKES).flat_map(|seed| [false, true].map(|opposite| Wake { seed, opposite }));
    let lucks = [Luck::Always, Luck::AtRest].into_iter().flat_map(|luck| [(luck, false), (luck, true)]);
    let mut choices = wakes.flat_map(|wake| lucks.clone().map(move |luck| (wake, luck)));
    choices.find_map(|(wake, (luck, high))| {
        let limits = Limits { by_luck: Some(high), ..*limits };
        let behaviour = study.groups[group].behaviour.clone();
        let mut machine = study.at_power_on(Machine::lucky_pairs(&study.program, behaviour, luck));
        study.wake(&mut machine, wake);
        match walk(study, &mut machine, 1, Aim::Chance, &limits, &mut |_, _| true) {
            Walked::All(states) => Some(states),
            Walked::Way(_) | Walked::Cut(_) => None,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Action;
    use crate::partner::Partners;
    use crate::replay::Replay;
    use crate::walk::next;
    use dryjoint_draws::Draws;
    use dryjoint_faults::Priors;
    use dryjoint_ids::Id;
    use dryjoint_logic::extract;
    use std::path::Path;

    /// Whatever hands do, drawn: so many actions.
    const DRAWN: usize = 400;

    fn drawn(study: &Study) -> Vec<Action> {
        let mut tied = vec![false; study.extracted.shape.board.lines.len()];
        let mut draws = Draws::new(5);
        let mut act = || {
            let all = next(study, &tied);
            let action = all[draws.below(all.len())];
            match action {
                Action::Tie(line) => tied[line.index()] = true,
                Action::Release(line) => tied[line.index()] = false,
                Action::Pulse(_) | Action::Wait(_) | Action::Run(..) => {}
            }
            action
        };
        (0..DRAWN).map(|_| act()).collect()
    }

    /// Of the groups that some look after drawn actions surely shows every so many-th is put to all proofs that luck could hide
    /// it. None may hold: a lamp differs on every copy, however lucky. How many were asked.
    fn no_proof_hides_what_surely_shows(name: &str, every: usize) -> usize {
        let boards = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
        let mut read = |name: &str| std::fs::read(boards.join(name)).map_err(|error| error.to_string());
        let text = match name {
            "tick" => include_str!("../tests/plain/tick.board").into(),
            "bit" => include_str!("../tests/plain/bit.board").into(),
            _ => read(&format!("{name}.board")).expect("a board"),
        };
        let board = dryjoint_netlist::read(name, text, &mut read).board.expect("a sound board");
        let (extracted, _) = extract(&board);
        let study = Study::new(&extracted, &Priors::default());
        let groups = study.all_groups();
        let actions = drawn(&study);
        let looks = std::iter::once(&[] as &[Action]).chain(actions.iter().map(std::slice::from_ref));
        let replay = Replay::of(&study, &groups, looks, None);
        let first = replay.first_shown(groups.len(), &replay.expected());
        let shown = groups.iter().zip(first).filter(|(_, first)| first.is_some()).map(|(&group, _)| group);
        let asked: Vec<GroupId> = shown.step_by(every).collect();
        let partners = Partners::new(&study);
        let limits = Limits::states(20_000);
        for &group in &asked {
            let name = study.faults[study.groups[group].faults[0]].name(&board);
            assert!(!hides_by_rows(&study, &study.groups[group].behaviour), "{name} by rows");
            assert!(partners.as_ref().is_none_or(|all| all.hide(group).is_none()), "{name} anywhere");
            assert_eq!(hides_in_states(&study, group, &limits), None, "{name} in states");
            assert_eq!(hides_by_choice(&study, group, &limits), None, "{name} by choice");
        }
        asked.len()
    }

    #[test]
    fn luck_hides_nothing_that_surely_shows() {
        let [ticks, bits] =
            [("tick", 5), ("bit", 3)].map(|(name, every)| no_proof_hides_what_surely_shows(name, every));
        assert!(ticks > 15 && bits > 15, "{ticks} and {bits} groups asked");
    }

    #[test]
    #[ignore = "slow: cargo test --release -p dryjoint-procedure --lib luck -- --ignored"]
    fn luck_hides_nothing_that_surely_shows_on_dunlins_boards() {
        let [phase, address] = [("phase", 7), ("address", 23)]
            .map(|(name, every)| no_proof_hides_what_surely_shows(name, every));
        assert!(phase > 40 && address > 20, "{phase} and {address} groups asked");
    }
}
