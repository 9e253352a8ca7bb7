//! A procedure played on all faults at once.

use crate::run;
use crate::search::Aim;
use crate::study::Wake;
use crate::{Action, GroupId, Study};
use dryjoint_faults::lanes::{LANES, Machine, Planes, Shown, Word};

/// What every lamp shows after every look, for every group.
#[derive(Clone, Debug)]
pub struct Replay {
    /// Per look, per machine, per lamp in reading order.
    looks: Vec<Vec<Vec<Planes>>>,
}

impl Replay {
    /// Plays lists of actions, one look after each list, on these groups, from a state in which
    /// nothing is known or from a drawn one.
    pub fn of<'a>(
        study: &Study,
        groups: &[GroupId],
        looks: impl IntoIterator<Item = &'a [Action]>,
        wake: Option<Wake>,
    ) -> Self {
        let mut machines = study.machines(groups, wake);
        let mut seen = Vec::new();
        for actions in looks {
            let mut look = Vec::with_capacity(machines.len());
            for machine in &mut machines {
                act(study, machine, actions);
                look.push(lamps(study, machine));
            }
            seen.push(look);
        }
        Self { looks: seen }
    }

    /// How many looks there are.
    pub fn len(&self) -> usize {
        self.looks.len()
    }

    /// Whether nobody looked.
    pub fn is_empty(&self) -> bool {
        self.looks.is_empty()
    }

    /// What the good board shows: lit, dark, or not known, per lamp.
    pub fn good(&self, look: usize) -> Vec<Option<bool>> {
        good_lamps(&self.looks[look][0])
    }

    /// What a lamp shows with the group at `index` of the list.
    pub fn shown(&self, look: usize, index: usize, lamp: usize) -> Shown {
        let (machine, lane) = Study::lane(index);
        self.looks[look][machine][lamp].shown(lane)
    }

    /// The first look at which each group of the list shows against what a good board is expected to
    /// show, if any.
    pub fn first_shown(&self, count: usize, expected: &[Vec<Option<bool>>]) -> Vec<Option<usize>> {
        let mut first = vec![None; count];
        for (look, good) in expected.iter().enumerate().take(self.len()) {
            for index in self.shown_at(look, count, good, Aim::Sure) {
                first[index].get_or_insert(look);
            }
        }
        first
    }

    /// The groups of the list that a look shows against what a good board is expected to show, by their place.
    pub(crate) fn shown_at(&self, look: usize, count: usize, good: &[Option<bool>], aim: Aim) -> Vec<usize> {
        let machines = self.looks[look].iter().enumerate();
        let all = machines.flat_map(|(machine, lamps)| {
            let lanes = aim.sees(lamps, good).lanes().filter(|&lane| lane > 0);
            lanes.map(move |lane| machine * (LANES - 1) + lane - 1)
        });
        all.filter(|&index| index < count).collect()
    }

    /// What a good board shows at every look.
    pub fn expected(&self) -> Vec<Vec<Option<bool>>> {
        (0..self.len()).map(|look| self.good(look)).collect()
    }
}

/// Lets a machine go through some actions. Returns the lanes in which something oscillated.
pub fn act(study: &Study, machine: &mut Machine, actions: &[Action]) -> Word {
    act_seen(study, machine, actions, &mut |_| {})
}

/// The same; `seen` hears of the machine each time it has come to rest.
pub fn act_seen(
    study: &Study,
    machine: &mut Machine,
    actions: &[Action],
    seen: &mut dyn FnMut(&Machine),
) -> Word {
    let mut oscillating = Word::NONE;
    for &action in actions {
        run::resume(study, machine);
        if let Action::Run(clock, position) = action {
            oscillating = oscillating | run::run(study, machine, (clock, position), seen);
            continue;
        }
        for step in study.rig.moves(action) {
            for (signal, level) in step {
                machine.bench(signal, level);
            }
            oscillating = oscillating | machine.settle().oscillating;
            seen(machine);
        }
    }
    oscillating
}

/// The lamps of a machine, in reading order.
pub(crate) fn lamps(study: &Study, machine: &Machine) -> Vec<Planes> {
    study.rig.lamps.iter().map(|&(_, signal)| *machine.value(signal)).collect()
}

/// Lanes that plainly differ from what is expected: lit for dark or dark for lit. A lamp that is dim
/// does not count, two people would not agree on it.
pub(crate) fn differing(lamps: &[Planes], expected: &[Option<bool>]) -> Word {
    lamps.iter().zip(expected).fold(Word::NONE, |all, (planes, expected)| {
        let dim = planes.one & planes.zero;
        all | match expected {
            Some(true) => planes.zero & !dim,
            Some(false) => planes.one & !dim,
            None => Word::NONE,
        }
    })
}

/// Lanes that do not plainly show what is expected: they differ, or nobody can know whether they do.
pub(crate) fn doubtful(lamps: &[Planes], expected: &[Option<bool>]) -> Word {
    lamps.iter().zip(expected).fold(Word::NONE, |all, (planes, expected)| {
        all | match expected {
            Some(true) => !(planes.one & !planes.zero),
            Some(false) => !(planes.zero & !planes.one),
            None => Word::NONE,
        }
    })
}

/// What lane 0 shows.
pub(crate) fn good_lamps(lamps: &[Planes]) -> Vec<Option<bool>> {
    lamps.iter().map(|planes| known(planes, 0)).collect()
}

pub(crate) fn known(planes: &Planes, lane: usize) -> Option<bool> {
    match (planes.one.get(lane), planes.zero.get(lane)) {
        (true, false) => Some(true),
        (false, true) => Some(false),
        _ => None,
    }
}
