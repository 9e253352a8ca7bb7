//! Every single fault of a real board, found from what its lamps show.
#![allow(clippy::print_stdout, reason = "a test over every fault says what it measured")]

#[path = "../../session/tests/bench/mod.rs"]
mod bench;

use bench::{board, known_to_differ, steps};
use dryjoint_board::Board;
use dryjoint_draws::Draws;
use dryjoint_faults::Priors;
use dryjoint_faults::lanes::Shown;
use dryjoint_logic::extract;
use dryjoint_procedure::{Action, Costs, Effort, GroupId, Replay, Study, plan};
use dryjoint_session::{Seen, Session, Sight, Unit};
use dryjoint_verdict::{Inquiry, Verdict};
use rayon::prelude::*;
use std::time::{Duration, Instant};

/// A session in which the lamps of these steps were read from `shown`; what it does not know was not
/// looked at.
fn session(
    board: &Board,
    study: &Study,
    steps: &[Vec<Action>],
    shown: impl Fn(usize, usize) -> Option<Sight>,
) -> Session {
    let mut session = Session::new("1");
    for (at, actions) in steps.iter().enumerate() {
        let look = if at == 0 { session.now() } else { session.act(None, actions) };
        for (k, &(lamp, _)) in study.rig.lamps.iter().enumerate() {
            if let Some(sight) = shown(at, k) {
                let (id, notices) = session.observe(board, look, Seen::Lamp(lamp, sight));
                assert!(id.is_some() && notices.is_empty());
            }
        }
    }
    session
}

fn sight(shown: Shown) -> Option<Sight> {
    match shown {
        Shown::One => Some(Sight::Lit),
        Shown::Zero => Some(Sight::Dark),
        Shown::Dim => Some(Sight::Dim),
        Shown::Unknown => None,
    }
}

/// Of one group in so many: the first suspect holds it whenever lamps show it. Where the lanes do not know what a fault does to
/// a lamp, that lamp is unread here; others may explain the rest as well then, and the fault stands among the first
/// three.
fn perfect_readings_lead_to_faults_that_lamps_show(every: usize) {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let steps = steps(&board, "address");
    let groups = study.all_groups();
    let replay = Replay::of(&study, &groups, steps.iter().map(Vec::as_slice), None);
    let expected = replay.expected();
    let first = replay.first_shown(groups.len(), &expected);
    let mut inquiry = Inquiry::new(&study, &Priors::default());
    let (mut wrong, mut behind) = (Vec::new(), Vec::new());
    let (mut shown, mut sum, mut slowest, mut total) = (0, 0, Duration::ZERO, Duration::ZERO);
    for (index, group) in study.groups.iter() {
        let at = dryjoint_ids::Id::index(index);
        if at % every != 0 || first[at].is_none() {
            continue;
        }
        shown += 1;
        let session = session(&board, &study, &steps, |step, k| sight(replay.shown(step, at, k)));
        let start = Instant::now();
        let verdict = inquiry.weigh(&session);
        slowest = slowest.max(start.elapsed());
        total += start.elapsed();
        let name = study.faults[group.faults[0]].name(&board);
        let head = &verdict.suspects[0];
        // One odd lamp in a whole procedure may well be a misreading: then look again.
        let again = verdict.no_fault > head.probability && verdict.surprises.len() == 1;
        let found = head.groups.contains(&index)
            && head.probability > verdict.none_of_these
            && (head.probability > verdict.no_fault || again);
        let unread = (expected.iter().enumerate()).any(|(step, good)| {
            (0..good.len()).any(|k| good[k].is_some() && replay.shown(step, at, k) == Shown::Unknown)
        });
        if !found && unread && verdict.place_of(group.faults[0]).is_some_and(|place| place < 3) {
            behind.push(name.clone());
        } else if !found {
            wrong.push(format!(
                "{name} stands at {:?} behind {:?} ({:.3}), no fault {:.3}, none {:.3}",
                verdict.place_of(group.faults[0]),
                head.names(&study),
                head.probability,
                verdict.no_fault,
                verdict.none_of_these
            ));
        }
        let doubted = verdict.doubts.iter().any(|doubt| doubt.wrong > 0.5);
        assert!(!found || doubted == again, "{name}: {:?}", verdict.doubts);
        let all: f64 = verdict.suspects.iter().map(|s| s.probability).sum();
        assert!((all + verdict.no_fault + verdict.none_of_these - 1.0).abs() < 0.01);
        sum += head.groups.len();
    }
    println!(
        "{shown} of {} groups shown; {:.2} groups in the first suspect; verdict {:?} mean, {slowest:?} at most",
        groups.len(),
        sum as f64 / shown as f64,
        total / shown
    );
    assert!(wrong.is_empty(), "{} not found:\n{}", wrong.len(), wrong.join("\n"));
    assert!(behind.len() * 200 < shown as usize, "not first: {}", behind.join(", "));
}

#[test]
fn perfect_readings_lead_to_one_in_five_faults_that_lamps_show() {
    perfect_readings_lead_to_faults_that_lamps_show(5);
}

/// For every single fault, not a sample.
#[test]
#[ignore = "slow: cargo test --release -p dryjoint-verdict --test single perfect_readings -- --ignored"]
fn perfect_readings_lead_to_every_fault_that_lamps_show() {
    perfect_readings_lead_to_faults_that_lamps_show(1);
}

/// What the lamps of a virtual unit showed at every step; nothing where no point was found.
fn witnessed(study: &Study, steps: &[Vec<Action>], group: GroupId) -> Option<Vec<Vec<Sight>>> {
    let fault = study.faults[study.groups[group].faults[0]];
    let mut unit = Unit::new(study.extracted, &[fault], 1).ok()?;
    let mut seen = Vec::new();
    for actions in steps {
        for &action in actions {
            unit.act(action).ok()?;
        }
        seen.push(study.rig.lamps.iter().map(|&(lamp, _)| unit.lamp(lamp).expect("a lamp")).collect());
    }
    Some(seen)
}

/// How the circuit's readings of one group were judged.
enum Judged {
    Unsolved,
    /// No lamp differed from a good board's.
    NeverShown,
    First,
    /// With the verdict.
    Missed(Box<Verdict>),
    /// The same where the fault stands among the first three, and the verdict asks to look at a lamp again.
    Behind(Box<Verdict>),
}

fn judge(study: &Study, steps: &[Vec<Action>], inquiry: &mut Inquiry, group: GroupId) -> Judged {
    let board = study.extracted.shape.board;
    let Some(seen) = witnessed(study, steps, group) else { return Judged::Unsolved };
    let session = session(board, study, steps, |step, k| Some(seen[step][k]));
    let verdict = inquiry.weigh(&session);
    if verdict.surprises.is_empty() {
        Judged::NeverShown
    } else if verdict.suspects.first().is_some_and(|head| head.groups.contains(&group)) {
        Judged::First
    } else if !verdict.doubts.is_empty()
        && verdict.place_of(study.groups[group].faults[0]).is_some_and(|place| place < 3)
    {
        Judged::Behind(Box::new(verdict))
    } else {
        Judged::Missed(Box::new(verdict))
    }
}

fn judge_all(study: &Study, steps: &[Vec<Action>], groups: &[GroupId]) -> Vec<(GroupId, Judged)> {
    groups
        .par_iter()
        .map_init(
            || Inquiry::new(study, &Priors::default()),
            |inquiry, &group| (group, judge(study, steps, inquiry, group)),
        )
        .collect()
}

/// Tells what was missed; the names of groups that were. Left out are those that lanes and circuit part
/// on, and those with a level that is read either way: what they show is luck, and may look like another
/// fault from first to last. So are those that stand among the first three where the verdict asks to look again at the lamp
/// that speaks for them: a rare fault with all lamps right may stand behind many common ones with one misread.
fn tell(study: &Study, judged: &[(GroupId, Judged)]) -> Vec<String> {
    let board = study.extracted.shape.board;
    let differ = known_to_differ("address");
    let (mut first, mut never, mut unsolved, mut missed) = (0, 0, 0, Vec::new());
    for (group, judged) in judged {
        let fault = study.groups[*group].faults[0];
        let name = study.faults[fault].name(board);
        match judged {
            Judged::First => first += 1,
            Judged::NeverShown => never += 1,
            Judged::Unsolved => unsolved += 1,
            Judged::Missed(verdict) | Judged::Behind(verdict) => {
                let behind = matches!(judged, Judged::Behind(_));
                let known = differ.contains(&name);
                let luck = study.groups[*group].behaviour.table.contains(&Shown::Unknown);
                let head = verdict
                    .suspects
                    .first()
                    .map_or((0.0, String::new()), |head| (head.probability, head.names(study)[..1].concat()));
                println!(
                    "{name}: {}, place {:?}, first {} {:.3}, no fault {:.3}, none {:.3}",
                    if known {
                        "known to differ"
                    } else if luck {
                        "a level read either way"
                    } else if behind {
                        "a lamp to be looked at again"
                    } else {
                        "missed"
                    },
                    verdict.place_of(fault),
                    head.1,
                    head.0,
                    verdict.no_fault,
                    verdict.none_of_these
                );
                if !known && !luck && !behind {
                    missed.push(name);
                }
            }
        }
    }
    println!(
        "{first} in the first suspect, {never} never shown, {unsolved} without a point, {} missed",
        missed.len()
    );
    missed
}

#[test]
fn a_unit_in_the_circuit_leads_to_its_fault() {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let steps = steps(&board, "address");
    let mut draws = Draws::new(3);
    let all = study.all_groups();
    let groups: Vec<GroupId> = (0..8).map(|_| all[draws.below(all.len())]).collect();
    let missed = tell(&study, &judge_all(&study, &steps, &groups));
    assert!(missed.is_empty(), "{missed:?}");
}

/// The steps that these tests play are those of today's plan. `BLESS=1 cargo test --release -p dryjoint-verdict --test
/// single planned -- --ignored` writes them down afresh.
#[test]
#[ignore = "slow: a minute; plans the procedure of a whole board"]
fn the_steps_are_those_planned() {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    let line = |line| &board.lines[line].name;
    let words = |action: &Action| match *action {
        Action::Tie(at) => format!("tie {}", line(at)),
        Action::Release(at) => format!("release {}", line(at)),
        Action::Pulse(at) => format!("pulse {}", line(at)),
        Action::Wait(count) => format!("wait {count}"),
        Action::Run(..) => unreachable!("the board has no clock of its own"),
    };
    let planned = procedure.steps.rows().iter().map(|step| match &step.actions[..] {
        [] => "power".to_owned(),
        actions => actions.iter().map(words).collect::<Vec<_>>().join("; "),
    });
    let planned: Vec<String> = planned.collect();
    let path = bench::root().join("cases/verdict/address.steps");
    let text = std::fs::read_to_string(&path).unwrap();
    let (head, known): (Vec<&str>, Vec<&str>) = text.lines().partition(|line| line.starts_with('#'));
    if std::env::var_os("BLESS").is_some() {
        std::fs::write(&path, [head.join("\n"), planned.join("\n"), String::new()].join("\n")).unwrap();
    } else {
        assert_eq!(known, planned, "BLESS=1 writes them down afresh");
    }
}

/// All of them, not a sample.
#[test]
#[ignore = "slow: half an hour; one fault of every group"]
fn every_unit_in_the_circuit_leads_to_its_fault() {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let steps = steps(&board, "address");
    let missed = tell(&study, &judge_all(&study, &steps, &study.all_groups()));
    assert!(missed.is_empty(), "{missed:?}");
}
