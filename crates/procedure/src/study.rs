//! Everything about a board's faults that does not depend on a procedure, computed once.

use crate::Rig;
use dryjoint_draws::Draws;
use dryjoint_faults::dial::Dial;
use dryjoint_faults::lanes::{Behaviour, LANES, Machine, Planes, Program};
use dryjoint_faults::region::{Effect, effects, groups};
use dryjoint_faults::{Fault, FaultId, Priors, enumerate};
use dryjoint_ids::{Id, Table, id};
use dryjoint_logic::{Extracted, Level, Role, SignalId};

id!(
    /// A group of faults that do the same.
    GroupId, "group"
);

/// Faults that do the same in every state.
#[derive(Clone, Debug)]
pub struct Group {
    /// Its faults, in order.
    pub faults: Vec<FaultId>,
    /// What they do.
    pub behaviour: Behaviour,
    /// The chance that one of them is there.
    pub prior: f64,
}

/// How latches wake up when power comes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wake {
    /// Seed of the draw.
    pub seed: u64,
    /// The other way round in every latch.
    pub opposite: bool,
}

/// A board with its faults, their effects and groups, laid out for the lanes.
#[derive(Clone, Debug)]
pub struct Study<'e, 'b> {
    /// The board as logic.
    pub extracted: &'e Extracted<'b>,
    /// Its lines, clocks and lamps.
    pub rig: Rig,
    /// Every fault.
    pub faults: Table<FaultId, Fault>,
    /// What each does.
    pub effects: Table<FaultId, Effect>,
    /// Those that change something, by what they do.
    pub groups: Table<GroupId, Group>,
    /// The logic for the lanes.
    pub program: Program,
}

impl<'e, 'b> Study<'e, 'b> {
    /// Studies a board.
    pub fn new(extracted: &'e Extracted<'b>, priors: &Priors) -> Self {
        let board = extracted.shape.board;
        let list = enumerate(board);
        let effects = effects(extracted, &list);
        let faults: Table<FaultId, Fault> = list.into_iter().collect();
        let groups = groups(&effects)
            .into_iter()
            .filter_map(|members| {
                let Effect::Changes(behaviour) = &effects[members[0]] else { return None };
                let prior = members.iter().map(|&fault| priors.of(board, &faults[fault])).sum();
                Some(Group { behaviour: behaviour.clone(), faults: members, prior })
            })
            .collect();
        let rig = Rig::new(extracted);
        let program = Program::of(&extracted.logic);
        Self { extracted, rig, faults, effects, groups, program }
    }

    /// The group of a fault, if it changes anything.
    pub fn group_of(&self, fault: FaultId) -> Option<GroupId> {
        self.groups.iter().find(|(_, group)| group.faults.contains(&fault)).map(|(id, _)| id)
    }

    /// Machines for some groups, each at the moment power comes on: one fault to a lane, in order,
    /// 511 to a machine. `wake` draws a state in which the latches happen to wake up; without it
    /// nothing is known of them.
    pub fn machines(&self, groups: &[GroupId], wake: Option<Wake>) -> Vec<Machine<'_>> {
        let behaviours: Vec<&Behaviour> = groups.iter().map(|&id| &self.groups[id].behaviour).collect();
        self.machines_for(&behaviours, wake)
    }

    /// The same for any behaviours.
    pub fn machines_for(&self, behaviours: &[&Behaviour], wake: Option<Wake>) -> Vec<Machine<'_>> {
        let passes = behaviours.chunks(LANES - 1).map(|chunk| chunk.iter().copied().cloned().collect());
        let mut machines: Vec<Machine> = passes.map(|pass| Machine::new(&self.program, pass)).collect();
        if machines.is_empty() {
            machines.push(Machine::new(&self.program, Vec::new()));
        }
        let woken = machines.into_iter().map(|machine| {
            let mut machine = self.at_power_on(machine);
            if let Some(wake) = wake {
                self.wake(&mut machine, wake);
            }
            machine
        });
        woken.collect()
    }

    /// Pairs of the good board and one with a fault, at the moment power comes on.
    pub fn pairs(&self, behaviour: &Behaviour) -> Machine<'_> {
        self.at_power_on(Machine::pairs(&self.program, behaviour))
    }

    /// A machine at the moment power comes on.
    pub fn at_power_on<'p>(&self, mut machine: Machine<'p>) -> Machine<'p> {
        for (signal, level) in self.rig.start() {
            machine.bench(signal, level);
        }
        machine.settle();
        machine
    }

    /// Signals that hold what they hold until something sets them: one of each loop inside the board.
    pub fn latches(&self) -> Vec<SignalId> {
        let inside = |signal: &SignalId| self.extracted.logic.signals[*signal].role == Role::Inside;
        self.program.loop_signals().into_iter().filter(inside).collect()
    }

    /// What the bench may put somewhere as luck has it, each as the signals that go with it and whether they go the same
    /// way: clocks that stand, and what a fault makes of a clock.
    pub fn lucky_clocks(&self) -> Vec<Vec<(SignalId, bool)>> {
        let of = |dial: &Dial| {
            let own =
                dial.standing(Level::One).map(|(signal, level)| (signal, level == Level::One)).collect();
            let alone = [dial.luck, dial.woken, dial.held].into_iter().flatten();
            std::iter::once(own).chain(alone.map(|signal| vec![(signal, true)])).collect::<Vec<_>>()
        };
        self.rig.dials().iter().flat_map(of).collect()
    }

    /// Supposes every latch on a drawn side, and the clocks that stand as luck has it.
    pub(crate) fn wake(&self, machine: &mut Machine, wake: Wake) {
        let mut draws = Draws::new(wake.seed);
        let mut draw = || (draws.below(2) == 1) != wake.opposite;
        let latches: Vec<(SignalId, Planes)> =
            self.latches().into_iter().map(|signal| (signal, Planes::broadcast(Some(draw())))).collect();
        for dial in self.rig.dials() {
            let high = draw();
            for signal in [dial.luck, dial.woken].into_iter().flatten() {
                machine.bench(signal, Level::from(high));
            }
        }
        for dial in self.rig.woken() {
            dial.standing(Level::from(draw())).for_each(|(signal, level)| machine.bench(signal, level));
        }
        machine.settle();
        machine.suppose(&latches);
    }

    /// Where group `index` of the list given to [`machines`](Self::machines) runs: machine and lane.
    pub fn lane(index: usize) -> (usize, usize) {
        (index / (LANES - 1), index % (LANES - 1) + 1)
    }

    /// All groups.
    pub fn all_groups(&self) -> Vec<GroupId> {
        (0..self.groups.len()).map(GroupId::at).collect()
    }
}
