//! Two faults side by side, for when no look from here promises anything: the quickest way to lamps that surely tell them
//! apart.
//!
//! What stands first in the verdict is held against each of the others, the likeliest first. From where the board stands
//! every move is tried with the two of them, and every move from what that leaves, the quickest at the bench first
//! (E. Dijkstra 1959), until some lamp is plainly lit with the one and plainly dark with the other. Two lanes come through
//! far fewer states than all suspects together do, so this goes as deep as there is anything new. What luck decides counts
//! for nothing here.
//!
//! Where the states run out no moves of any number part the two. As whatever happens later only adds to what is known, none
//! ever will: that is kept.
//!
//! Example: a ring of six latches of which one is dead shows nothing odd for four periods of the clock. Each period by itself
//! promises nothing; the fifth tells.

use super::lamps::Looks;
use super::{Case, Next};
use crate::end::End;
use crate::tell::Teller;
use dryjoint_board::LineId;
use dryjoint_faults::lanes::{Lane as Packed, Machine, Shown, State};
use dryjoint_ids::Id;
use dryjoint_logic::SignalId;
use dryjoint_procedure::{Action, act};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// States of two faults gone through at most: first few of every pair, then more of those that are left.
const MOST_STATES: [usize; 2] = [150, 1500];

/// States of all pairs of one question: a person waits for it.
const MOST_TOGETHER: usize = 24_000;

/// More actions than this before a look are too many for a person to get right (judgement): what is left of them follows after
/// it.
const MOST_ACTIONS: usize = 6;

/// Pairs gone through side by side.
const AT_ONCE: usize = 8;

/// Pairs of lanes that no lamps ever surely tell apart, the smaller first.
pub(crate) type Never = BTreeSet<(usize, usize)>;

/// What was found of two lanes.
enum Parting {
    /// These actions lead to lamps that differ.
    By(Vec<Action>),
    Never,
    /// There are more states than that.
    Unknown,
}

/// A state not gone on from yet.
struct Open {
    state: State,
    /// What led there.
    actions: Vec<Action>,
    tied: BTreeSet<LineId>,
}

impl Looks<'_, '_, '_> {
    /// The look that begins the quickest way to lamps that surely tell what is most probable from the likeliest that it can be
    /// told from; or that there is none, or none was found.
    pub(super) fn part(&self, teller: &mut Teller, cases: &[Case], never: &mut Never) -> Result<Next, End> {
        let mut lanes: Vec<(usize, usize)> = Vec::new();
        for case in cases {
            let lane = case.lane.map(|lane| (lane, case.index));
            lanes.extend(lane.filter(|lane| !lanes.contains(lane)));
        }
        let (&(first, head), rest) = lanes.split_first().ok_or(End::NoSuspect)?;
        let pair = |lane: usize| (first.min(lane), first.max(lane));
        let group = |index: usize| teller.lanes()[index].group;
        let mut others = rest.to_vec();
        others.retain(|&(lane, other)| group(other) != group(head) && !never.contains(&pair(lane)));
        let mut states = 0;
        for most in MOST_STATES {
            let mut left = Vec::new();
            for some in others.chunks(AT_ONCE) {
                if states > MOST_TOGETHER {
                    return Err(End::LampsNotFound);
                }
                let part = |&(_, other): &(usize, usize)| self.parting(teller, [head, other], most);
                let found: Vec<(Parting, usize)> = some.par_iter().map(part).collect();
                states += found.iter().map(|(_, states)| states).sum::<usize>();
                for ((found, _), &(lane, other)) in found.into_iter().zip(some) {
                    match found {
                        Parting::By(mut actions) => {
                            actions.truncate(MOST_ACTIONS);
                            return Ok(self.promise(teller, cases, None, actions));
                        }
                        Parting::Never => drop(never.insert(pair(lane))),
                        Parting::Unknown => left.push((lane, other)),
                    }
                }
            }
            others = left;
        }
        Err(if others.is_empty() { End::LampsNever } else { End::LampsNotFound })
    }

    /// Goes through the states of two lanes of the list, the quickest first, and so many at most; with how many it was.
    fn parting(&self, teller: &Teller, pair: [usize; 2], most: usize) -> (Parting, usize) {
        let lamps: Vec<SignalId> = self.study.rig.lamps.iter().map(|&(_, signal)| signal).collect();
        let mut machine = teller.two(pair);
        let tied = teller.tied(self.session.now().index()).clone();
        // Where they differ as the board stands, to come back here is a way too: the lamps are read once more.
        let mut met = BTreeSet::new();
        if !differ(&machine, &lamps) {
            met.insert((key(&machine), tied.clone()));
        }
        let start = Open { state: machine.save(), actions: Vec::new(), tied };
        let mut open = BTreeMap::from([((0, 0), start)]);
        while let Some(((millis, _), here)) = open.pop_first() {
            machine.restore(&here.state);
            if !here.actions.is_empty() && differ(&machine, &lamps) {
                return (Parting::By(here.actions), met.len());
            }
            for action in self.moves(&here.tied) {
                machine.restore(&here.state);
                act(self.study, &mut machine, &[action]);
                let mut tied = here.tied.clone();
                action.leave(&mut tied);
                if !met.insert((key(&machine), tied.clone())) {
                    continue;
                }
                if met.len() > most {
                    return (Parting::Unknown, met.len());
                }
                let millis =
                    millis + (self.costs.of(self.study.extracted.shape.board, action).0 * 1000.0) as u64;
                let actions = [&here.actions[..], &[action]].concat();
                open.insert((millis, met.len()), Open { state: machine.save(), actions, tied });
            }
        }
        (Parting::Never, met.len())
    }

    /// Every line moved, and a period of the clock.
    pub(super) fn moves(&self, tied: &BTreeSet<LineId>) -> Vec<Action> {
        let board = self.study.extracted.shape.board;
        let lines = board.lines.ids().flat_map(|line| match tied.contains(&line) {
            true => vec![Action::Release(line)],
            false => vec![Action::Pulse(line), Action::Tie(line)],
        });
        lines.chain((!board.clocks.is_empty()).then_some(Action::Wait(1))).collect()
    }
}

/// Whether some lamp is plainly lit with the one and plainly dark with the other.
fn differ(machine: &Machine, lamps: &[SignalId]) -> bool {
    lamps.iter().any(|&signal| {
        let planes = machine.value(signal);
        matches!((planes.shown(1), planes.shown(2)), (Shown::One, Shown::Zero) | (Shown::Zero, Shown::One))
    })
}

/// All that is known of both at rest: every signal, and what the tables of their faults say.
fn key(machine: &Machine) -> Vec<Packed> {
    machine.lanes(3).split_off(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::latch::with_latch;
    use crate::next::gain::Past;
    use crate::tell::Lane;
    use dryjoint_draws::Draws;
    use dryjoint_ids::Table;
    use dryjoint_procedure::{Costs, GroupId, Procedure, Replay, Study};
    use dryjoint_session::Session;
    use dryjoint_units::Seconds;

    /// Whether the lamps plainly differ after some actions from power on, played apart from all this.
    fn replayed(study: &Study, pair: [GroupId; 2], actions: &[Action]) -> bool {
        let replay = Replay::of(study, &pair, [actions], None);
        (0..study.rig.lamps.len()).any(|lamp| {
            let shown = [0, 1].map(|index| replay.shown(0, index, lamp));
            matches!(shown, [Shown::One, Shown::Zero] | [Shown::Zero, Shown::One])
        })
    }

    /// Every two groups of a latch's faults, from power on: a way that is found parts them when it is replayed, and no shorter one
    /// does; where none is said to be, none of many drawn ones does.
    #[test]
    fn a_way_parts_two_faults_when_replayed_and_where_there_is_none_nothing_drawn_does() {
        with_latch(|study| {
            let groups: Vec<(GroupId, Lane)> = (study.groups.iter())
                .map(|(group, row)| (group, Lane { group, behaviour: row.behaviour.clone() }))
                .collect();
            let (steps, coverage) = (Table::new(), Table::new());
            let procedure = Procedure { steps, coverage, found_seconds: Seconds(0.0) };
            let (costs, session) = (Costs::default(), Session::new("1"));
            let (past, met, by_lamps, least) = (Past::default(), BTreeSet::new(), true, 0.0);
            let looks = Looks {
                study,
                procedure: &procedure,
                costs: &costs,
                session: &session,
                past,
                met,
                by_lamps,
                least,
            };
            let mut teller = Teller::sure(study, groups.iter().map(|(_, lane)| lane.clone()).collect());
            teller.follow(&session);
            let mut draws = Draws::new(1);
            let (mut ways, mut nevers) = (0, 0);
            for one in 0..groups.len() {
                for other in 0..one {
                    let pair = [groups[one].0, groups[other].0];
                    match looks.parting(&teller, [one, other], 1500).0 {
                        Parting::By(actions) => {
                            ways += 1;
                            assert!(replayed(study, pair, &actions), "{pair:?} {actions:?}");
                            assert!((1..actions.len()).all(|count| !replayed(
                                study,
                                pair,
                                &actions[..count]
                            )));
                        }
                        Parting::Never => {
                            nevers += 1;
                            let mut tied = BTreeSet::new();
                            let mut actions = Vec::new();
                            for _ in 0..12 {
                                let moves = looks.moves(&tied);
                                let action = moves[draws.below(moves.len())];
                                action.leave(&mut tied);
                                actions.push(action);
                                assert!(!replayed(study, pair, &actions), "{pair:?} {actions:?}");
                            }
                        }
                        Parting::Unknown => panic!("a latch has few states"),
                    }
                }
            }
            assert!(ways > 100 && nevers > 5, "{ways} {nevers}");
        });
    }
}
