//! How well faults are found: `cargo xtask score boards/address.board`, or
//! `cargo run --release -p dryjoint-verdict --example score -- [--pairs N] [--every N] BOARD…`.
//!
//! Every single fault that some step shows, and pairs drawn by number, are hunted as a person would: the
//! procedure up to the first odd lamp, then whatever promises to tell most. Lamps are read from the lanes with
//! the very fault in them, a meter from the circuit; with misreads one lamp in a hundred is read the wrong way
//! round. Each group of faults counts once. The least that lamps could leave is what the procedure and long
//! drawn sequences of actions behind it leave together: a group counts as told apart where a lamp is surely lit for one and surely dark for
//! the other.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the figures are what it is for")]

mod hunt;
mod unit;

use dryjoint_board::Board;
use dryjoint_draws::Draws;
use dryjoint_faults::Priors;
use dryjoint_faults::lanes::Shown;
use dryjoint_ids::Id;
use dryjoint_logic::extract;
use dryjoint_procedure::{Action, Costs, Effort, GroupId, Procedure, Replay, Study, plan};
use dryjoint_session::Session;
use dryjoint_verdict::Inquiry;
use hunt::{Hunt, Hunter};
use rayon::prelude::*;
use std::time::Instant;
use unit::Unit;

/// Actions of a drawn sequence that says what lamps could tell apart.
const DRAWN: usize = 600;

/// How many such sequences.
const SEQUENCES: u64 = 3;

/// The share of lamps read the wrong way round.
const MISREAD: f64 = 0.01;

fn main() {
    let mut pairs = 2000;
    let mut every = 1;
    let mut boards = Vec::new();
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        let number = |next: Option<String>| next.and_then(|text| text.parse().ok());
        match argument.as_str() {
            "--pairs" => pairs = number(arguments.next()).unwrap_or(pairs),
            "--every" => every = number(arguments.next()).unwrap_or(every).max(1),
            _ => boards.push(argument),
        }
    }
    if boards.is_empty() {
        eprintln!("usage: score [--pairs N] [--every N] BOARD…");
        std::process::exit(2);
    }
    for name in boards {
        let text = std::fs::read_to_string(&name).unwrap_or_else(|error| panic!("{name}: {error}"));
        let mut loader = |name: &str| std::fs::read(name).map_err(|error| error.to_string());
        let board = dryjoint_netlist::read(&name, text, &mut loader).board.expect("a sound board");
        score(&board, pairs, every);
    }
}

fn score(board: &Board, pairs: usize, every: usize) {
    let start = Instant::now();
    let (extracted, _) = extract(board);
    let study = Study::new(&extracted, &Priors::default());
    let procedure = plan(&study, &Costs::default(), &Effort::default(), &|_| true);
    let groups = study.all_groups();
    let steps = procedure.steps.rows().iter().map(|step| &step.actions[..]);
    let replay = Replay::of(&study, &groups, steps, None);
    let shown = replay.first_shown(groups.len(), &replay.expected());
    let shown: Vec<GroupId> =
        groups.iter().zip(&shown).filter(|(_, first)| first.is_some()).map(|(&id, _)| id).collect();
    println!(
        "{}: {} groups of faults, {} shown by {} steps of {:.1} bench minutes ({:.0} s)",
        board.name,
        groups.len(),
        shown.len(),
        procedure.steps.len(),
        procedure.bench_seconds().0 / 60.0,
        start.elapsed().as_secs_f64()
    );
    let some: Vec<GroupId> = shown.iter().copied().step_by(every).collect();
    let limits = limits(&study, &procedure);
    let least = some.iter().map(|group| limits[group.index()]).sum::<usize>() as f64 / some.len() as f64;
    println!("the least that lamps leave together: {least:.2} groups on the mean");
    for (title, meter, misread) in [
        ("lamps, perfect readings", false, 0.0),
        ("lamps, 1 % misread", false, MISREAD),
        ("lamps and meter, perfect readings", true, 0.0),
        ("lamps and meter, 1 % misread", true, MISREAD),
    ] {
        let start = Instant::now();
        let hunter = Hunter { study: &study, procedure: &procedure, costs: Costs::default(), meter, misread };
        let hunts: Vec<Hunted> =
            some.par_iter().map(|&group| Hunted::of(&hunter.hunt(group), group)).collect();
        println!("{title}:");
        tell(&hunts, start.elapsed().as_secs_f64());
    }
    let scorer = Scorer { study: &study, procedure: &procedure };
    for (title, misread) in [("pairs, perfect readings", 0.0), ("pairs, 1 % misread", MISREAD)] {
        let start = Instant::now();
        let mut draws = Draws::new(5);
        let drawn: Vec<[GroupId; 2]> =
            std::iter::repeat_with(|| [0, 1].map(|_| shown[draws.below(shown.len())]))
                .filter(|[a, b]| a != b)
                .take(pairs)
                .collect();
        let found: Vec<Option<bool>> =
            drawn.par_iter().map(|&pair| scorer.pair(&replay, pair, misread)).collect();
        let told: Vec<bool> = found.iter().copied().flatten().collect();
        println!(
            "{title}: {} of {} pairs behave unlike every single fault; the pair is among the first three answers \
             for {:.1} % of them ({:.0} s)",
            told.len(),
            drawn.len(),
            percent(&told, |found| *found),
            start.elapsed().as_secs_f64()
        );
    }
}

/// How a hunt ended.
struct Hunted {
    /// Where the true group stands among the suspects.
    place: Option<usize>,
    /// Groups in the first suspect, and circuits that a meter might still tell apart.
    left: usize,
    circuits: usize,
    actions: usize,
    seconds: f64,
}

impl Hunted {
    fn of(hunt: &Hunt, truth: GroupId) -> Self {
        let head = hunt.verdict.suspects.first();
        Self {
            place: hunt.verdict.suspects.iter().position(|suspect| suspect.groups.contains(&truth)),
            left: head.map_or(0, |head| head.groups.len()),
            circuits: head.map_or(0, |head| hunt.inquiry.circuits(head)),
            actions: hunt.actions,
            seconds: hunt.seconds,
        }
    }
}

fn percent<T>(all: &[T], wanted: impl Fn(&T) -> bool) -> f64 {
    100.0 * all.iter().filter(|one| wanted(one)).count() as f64 / all.len().max(1) as f64
}

fn tell(hunts: &[Hunted], seconds: f64) {
    let mean = |of: &dyn Fn(&Hunted) -> f64| hunts.iter().map(of).sum::<f64>() / hunts.len().max(1) as f64;
    println!(
        "  true fault in the first suspect {:.1} %, in the first three {:.1} %",
        percent(hunts, |hunt| hunt.place == Some(0)),
        percent(hunts, |hunt| hunt.place.is_some_and(|place| place < 3))
    );
    println!(
        "  first suspect {:.2} groups, {:.2} circuits; {:.1} actions, {:.1} bench minutes ({seconds:.0} s)",
        mean(&|hunt| hunt.left as f64),
        mean(&|hunt| hunt.circuits as f64),
        mean(&|hunt| hunt.actions as f64),
        mean(&|hunt| hunt.seconds) / 60.0
    );
}

/// For each group how many, itself included, no lamp of the procedure and of long drawn sequences behind it
/// surely tells from it.
fn limits(study: &Study, procedure: &Procedure) -> Vec<usize> {
    let groups = study.all_groups();
    let mut rows: Vec<[Vec<u64>; 2]> = vec![[Vec::new(), Vec::new()]; groups.len()];
    for number in 0..SEQUENCES {
        let mut looks: Vec<Vec<Action>> =
            procedure.steps.rows().iter().map(|step| step.actions.clone()).collect();
        looks.extend(drawn(study, &looks.concat(), number));
        let replay = Replay::of(study, &groups, looks.iter().map(Vec::as_slice), None);
        let lamps = study.rig.lamps.len();
        rows.par_iter_mut().enumerate().for_each(|(index, row)| {
            for (wanted, words) in [Shown::One, Shown::Zero].into_iter().zip(row) {
                let mut bits = vec![0_u64; (looks.len() * lamps).div_ceil(64)];
                let all = 0..looks.len() * lamps;
                for at in all.filter(|at| replay.shown(at / lamps, index, at % lamps) == wanted) {
                    bits[at / 64] |= 1 << (at % 64);
                }
                words.extend(bits);
            }
        });
    }
    let apart = |a: &[Vec<u64>; 2], b: &[Vec<u64>; 2]| {
        let cross = |lit: &[u64], dark: &[u64]| lit.iter().zip(dark).any(|(lit, dark)| lit & dark != 0);
        cross(&a[0], &b[1]) || cross(&a[1], &b[0])
    };
    rows.par_iter().map(|row| rows.iter().filter(|other| !apart(row, other)).count()).collect()
}

/// Actions drawn by number, a look after each, on a board that stands as some actions left it.
fn drawn(study: &Study, before: &[Action], number: u64) -> Vec<Vec<Action>> {
    let board = study.extracted.shape.board;
    let mut draws = Draws::new(number);
    let lines: Vec<_> = board.lines.ids().collect();
    let mut tied: Vec<_> = Vec::new();
    for action in before {
        match *action {
            Action::Tie(line) => tied.push(line),
            Action::Release(line) | Action::Pulse(line) => tied.retain(|known| *known != line),
            Action::Wait(_) => {}
        }
    }
    let one = || {
        if lines.is_empty() || (!board.clocks.is_empty() && draws.below(3) == 0) {
            return vec![Action::Wait(1 + draws.below(3) as u32)];
        }
        let line = lines[draws.below(lines.len())];
        if tied.contains(&line) {
            tied.retain(|known| *known != line);
            return vec![Action::Release(line)];
        }
        if draws.below(2) == 0 {
            return vec![Action::Pulse(line)];
        }
        tied.push(line);
        vec![Action::Tie(line)]
    };
    std::iter::repeat_with(one).take(DRAWN).collect()
}

struct Scorer<'a, 'e, 'b> {
    study: &'a Study<'e, 'b>,
    procedure: &'a Procedure,
}

impl Scorer<'_, '_, '_> {
    /// Whether the pair is among the first three answers after the whole procedure; nothing where some
    /// single fault behaves just so.
    fn pair(&self, replay: &Replay, truth: [GroupId; 2], misread: f64) -> Option<bool> {
        let study = self.study;
        let play = |misread: f64| {
            let mut unit = Unit::new(study, &truth, misread);
            let mut session = Session::new("2");
            let mut seen = Vec::new();
            for (id, step) in self.procedure.steps.iter() {
                let look = session.follow(self.procedure, id)?;
                step.actions.iter().for_each(|&action| unit.act(action));
                seen.push(unit.read(&mut session, look));
            }
            Some((session, seen))
        };
        let (_, told) = play(0.0)?;
        let alike = |index: usize| {
            told.iter().enumerate().all(|(step, lamps)| {
                lamps.iter().enumerate().all(|(k, seen)| match (seen, replay.shown(step, index, k)) {
                    (Some(lit), Shown::One) => *lit,
                    (Some(lit), Shown::Zero) => !lit,
                    _ => true,
                })
            })
        };
        if (0..study.groups.len()).any(alike) {
            return None;
        }
        let (session, _) = play(misread)?;
        let mut inquiry = Inquiry::new(study, &Priors::default());
        inquiry.weigh(&session);
        let pairs = inquiry.pairs(&session);
        let mut wanted = truth;
        wanted.sort_unstable();
        Some(pairs.pairs.iter().take(3).any(|pair| pair.groups.contains(&wanted)))
    }
}
