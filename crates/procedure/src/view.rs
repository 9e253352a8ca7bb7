//! A board as one lamp sees it, with every case of what is not known of its latches.
//!
//! What a lamp shows hangs on some of the signals only: on a board of six bits, the lamp of the lowest sees one bit and the
//! control. Little enough remains that every latch can be supposed both ways, and not only at the moment power comes on:
//! a fault may have two stages race each other each time a hand moves or the clock goes over, and which of them wins is
//! another thing that nobody knows. Where too many latches are open at once, as on a large board when power comes on,
//! none is supposed: actions that bring them to a known state are found first.
//!
//! So after every action each faulty copy in which a latch is not known goes on as two, one with either level. This
//! loses no board: one that has come to rest holds the latch at one of the two levels, and was covered by the copy
//! before. Nothing is supposed of what it went through on the way: a race may let a bit slip through two latches that take
//! turns, and then each case of what they hold is there to be shown. Nor is a level in between left out: a copy is
//! parted only where the latch stays on either side by itself, once it is let go. Then it pushes away from the
//! middle, both ways. A gate that drives its own input does not; it stays open, and so does what hangs on it.
//!
//! Example: two phases joined to each other. Either of them tied, luck decides which one is on, and a bit that was just
//! loaded may have gone through or not. If it has, the lamp is early; if it has not, the lamp is late once the
//! other phase is tied as well and the first let go: on a good board that shows the bit, here nothing moves.

use crate::{Group, GroupId, Study};
use dryjoint_board::{LineId, PartId};
use dryjoint_faults::lanes::{Behaviour, Lane, Machine, PAIRS, Planes, Target};
use dryjoint_ids::{Id, Table};
use dryjoint_logic::{Function, Level, Role, SignalId, Stage};
use std::collections::BTreeSet;

/// Open latches that are parted into cases; a copy with more of them goes on as it is.
const MOST_OPEN: usize = 8;

/// What one lamp sees, and all that hang on no more latches, of a board and of one group of its faults.
#[derive(Debug)]
pub(crate) struct View<'e, 'b> {
    /// The board, the rest of which is never known, with these lamps and this group alone.
    pub study: Study<'e, 'b>,
    /// The lines on which the lamps hang.
    pub lines: Vec<LineId>,
    /// The latches on which they hang.
    latches: Vec<SignalId>,
}

/// A good board, and beside it a copy with the fault.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Copy {
    /// What it is a copy of.
    pub of: usize,
    pub good: Lane,
    pub faulty: Lane,
}

impl<'e, 'b> View<'e, 'b> {
    /// Those of all lamps that a group can reach, those that hang on least first; none for a fault that shorts the supply.
    /// Lamps that hang on no more latches than another are seen with it.
    pub fn all(study: &Study<'e, 'b>, group: GroupId) -> Vec<Self> {
        let behaviour = &study.groups[group].behaviour;
        if behaviour.blackout.is_some() {
            return Vec::new();
        }
        let loops: BTreeSet<SignalId> = study.program.loop_signals().into_iter().collect();
        let lamps = study.rig.lamps.iter();
        let mut left: Vec<(BTreeSet<SignalId>, (PartId, SignalId))> =
            lamps.filter_map(|&lamp| Some((seen_by(study, behaviour, lamp.1)?, lamp))).collect();
        let mut views = Vec::new();
        while let Some((least, _)) = left.iter().min_by_key(|(seen, _)| seen.len()).cloned() {
            let as_little = |seen: &BTreeSet<SignalId>| (seen & &loops).is_subset(&least);
            let (with, others): (Vec<_>, Vec<_>) = left.into_iter().partition(|(seen, _)| as_little(seen));
            left = others;
            let (seen, lamps): (Vec<_>, Vec<_>) = with.into_iter().unzip();
            views.push(Self::of(study, group, &seen.into_iter().flatten().collect(), lamps));
        }
        views
    }

    /// That of some lamps, which hang on some signals.
    fn of(
        study: &Study<'e, 'b>,
        group: GroupId,
        seen: &BTreeSet<SignalId>,
        lamps: Vec<(PartId, SignalId)>,
    ) -> Self {
        let mut logic = study.extracted.logic.clone();
        let stages = logic.stages.rows().iter().cloned().map(|stage| {
            if seen.contains(&stage.output) {
                return stage;
            }
            Stage { inputs: Vec::new(), function: Function::Found(vec![Level::Unknown]), ..stage }
        });
        logic.stages = stages.collect();
        let board = study.extracted.shape.board;
        let lines = board.lines.iter().filter(|(_, line)| {
            study.extracted.signal_of[line.net].is_some_and(|signal| seen.contains(&signal))
        });
        let lines: Vec<LineId> = lines.map(|(line, _)| line).collect();
        let mut rig = study.rig.clone();
        rig.lamps = lamps;
        let program = dryjoint_faults::lanes::Program::of(&logic);
        let inside = |signal: &SignalId| logic.signals[*signal].role == Role::Inside && seen.contains(signal);
        let latches: Vec<SignalId> = program.loop_signals().into_iter().filter(inside).collect();
        let groups: Table<GroupId, Group> = std::iter::once(study.groups[group].clone()).collect();
        let extracted = study.extracted;
        let study = Study { extracted, rig, faults: Table::new(), effects: Table::new(), groups, program };
        Self { study, lines, latches }
    }

    /// The board beside one with the fault, at the moment power comes on.
    pub fn machine(&self) -> Machine<'_> {
        self.study.pairs(&self.study.groups[GroupId::at(0)].behaviour)
    }

    /// Copies at rest with all that can be of their latches, each once and in order. The hands are those of the machine.
    pub fn cases(&self, machine: &mut Machine, copies: Vec<Copy>) -> Vec<Copy> {
        let hands = machine.hands();
        let mut all = copies;
        // What one latch is may be what another one stays by.
        for _ in 0..self.latches.len() {
            let before = all.len();
            for &latch in &self.latches {
                let (open, mut parted): (Vec<Copy>, Vec<Copy>) =
                    all.into_iter().partition(|copy| !copy.faulty.knows(latch) && self.can_part(copy));
                for some in open.chunks(PAIRS / 2) {
                    parted.extend(both(machine, &hands, latch, some));
                }
                all = parted;
            }
            if all.len() == before {
                break;
            }
        }
        all.sort_unstable();
        all.dedup();
        all
    }

    /// Whether few enough of a copy's latches are open.
    fn can_part(&self, copy: &Copy) -> bool {
        self.latches.iter().filter(|&&latch| !copy.faulty.knows(latch)).count() <= MOST_OPEN
    }

    /// Whether a lamp surely differs.
    pub fn shows(&self, copy: &Copy) -> bool {
        self.study.rig.lamps.iter().any(|&(_, lamp)| {
            matches!(
                (copy.good.level(lamp), copy.faulty.level(lamp)),
                ((true, false), (false, true)) | ((false, true), (true, false))
            )
        })
    }
}

/// Copies with a latch supposed low, then high, where it stays so; those in which it does not, as they are.
fn both(machine: &mut Machine, hands: &[Level], latch: SignalId, copies: &[Copy]) -> Vec<Copy> {
    let pairs: Vec<[&Lane; 2]> = copies.iter().flat_map(|copy| [[&copy.good, &copy.faulty]; 2]).collect();
    machine.lay(hands, &pairs);
    let mut planes = Planes::UNKNOWN;
    for at in 0..copies.len() {
        planes.zero.set(4 * at + 1, true);
        planes.one.set(4 * at + 3, true);
    }
    machine.suppose(&[(latch, planes)]);
    let lanes = machine.lanes(4 * copies.len());
    let parted = copies.iter().zip(lanes.chunks(4)).flat_map(|(copy, lanes)| {
        let [low, high] = [&lanes[1], &lanes[3]];
        if (low.level(latch), high.level(latch)) == ((false, true), (true, false)) {
            [low, high].map(|lane| Copy { faulty: lane.clone(), ..copy.clone() }).to_vec()
        } else {
            vec![copy.clone()]
        }
    });
    parted.collect()
}

/// The signals on which a lamp hangs, on the good board and on a faulty one; nothing where the fault sets none of them.
fn seen_by(study: &Study, behaviour: &Behaviour, lamp: SignalId) -> Option<BTreeSet<SignalId>> {
    let stages = &study.extracted.logic.stages;
    let mut seen = BTreeSet::from([lamp]);
    let mut touched = false;
    loop {
        let before = seen.len();
        for stage in stages.rows().iter().filter(|stage| !stage.inputs.is_empty()) {
            if seen.contains(&stage.output) {
                seen.extend(&stage.inputs);
            }
        }
        touched = touched
            || behaviour.writes.iter().any(|target| match target {
                Target::Pin(stage, _) => seen.contains(&stages[*stage].output),
                Target::Signal(signal) => seen.contains(signal),
            });
        if touched {
            for read in &behaviour.reads {
                seen.insert(read.signal);
                seen.extend(read.stages.iter().map(|stage| stages[*stage].output));
            }
        }
        if seen.len() == before {
            return touched.then_some(seen);
        }
    }
}
