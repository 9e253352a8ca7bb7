//! Circuits with flip-flops that nothing resets: one sequence from power-on, three-valued.

mod closure;
mod field;
mod guided;
mod induct;
mod judge;
mod reach;
mod shorten;
mod unroll;

use super::plan::{Options, Phase, Progress, Standing, VectorPlan};
use dryjoint_draws::Draws;
use dryjoint_faults::gates::{Circuit, Exposure, GroupId, StuckAt, StuckFaults};
use dryjoint_ids::{Id, Side};
use dryjoint_logic::Logic;
use field::Field;
use judge::{Judged, Question};

/// Plans a circuit with flip-flops.
pub(super) fn plan(
    logic: &Logic,
    circuit: &Circuit,
    faults: StuckFaults,
    options: &Options,
    keep_going: &dyn Fn(&Progress) -> bool,
) -> VectorPlan {
    let list: Vec<StuckAt> = faults.groups.rows().iter().map(|group| faults.faults[group[0]]).collect();
    let exposures = Exposure::all(logic, circuit, &faults);
    let mut random = Draws::new(options.random);
    let mut interrupted = false;
    let mut field = Field::new(logic, circuit, &list);
    let tell = |phase: Phase, vectors: usize, left: usize| {
        keep_going(&Progress { phase, vectors, left, of: list.len() })
    };
    let patience = guided::Patience { rounds: 10 + 10 * options.effort as usize, generations: 4 };
    guided::search(&mut field, &mut random, patience, &mut |field| {
        interrupted = !tell(Phase::Trying, field.vectors.len(), field.open().len());
        !interrupted
    });
    let mut standings: Side<GroupId, Standing> = Side::filled(&faults.groups, Standing::Open);
    let mut left = field.open();
    while let (Some(&target), false) = (left.first(), interrupted) {
        left.remove(0);
        interrupted = !tell(Phase::Solving, field.vectors.len(), left.len() + 1);
        let group = GroupId::at(target as usize);
        let question = Question {
            logic,
            circuit,
            fault: list[target as usize],
            exposure: &exposures[group],
            target,
            effort: options.effort,
        };
        match judge::judge(&question, &field, &mut random) {
            Judged::Show(vectors) => {
                vectors.iter().for_each(|vector| {
                    field.advance(vector);
                });
                field.close_ranks();
                left.retain(|&target| field.first[target as usize].is_none());
            }
            Judged::Stands(standing) => standings[group] = standing,
        }
    }
    let before = field.vectors.len();
    let shown: Vec<StuckAt> =
        list.iter().zip(&field.first).filter(|(_, first)| first.is_some()).map(|(fault, _)| *fault).collect();
    let unknown = standings.rows().iter().zip(&field.first);
    let open = unknown.filter(|(s, first)| **s == Standing::Open && first.is_none()).count();
    let vectors = shorten::shorten(logic, circuit, &shown, field.vectors, options.effort, &mut |vectors| {
        interrupted |= !tell(Phase::Compacting, vectors, open);
        !interrupted
    });
    let mut replay = Field::new(logic, circuit, &list);
    for vector in &vectors {
        replay.advance(vector);
        replay.close_ranks();
    }
    for (group, first) in faults.groups.ids().zip(&replay.first) {
        if let Some(first) = first {
            standings[group] = Standing::Shown(*first);
        }
    }
    let expected = super::explain::expected(circuit, &vectors);
    VectorPlan { vectors, expected, clocked: true, faults, standings, before, bound: None, interrupted }
}
