//! How well faults are found: `cargo xtask score boards/address.board`, or
//! `cargo run --release -p dryjoint-verdict --example score -- boards/address.board`, with what `arguments` reads.
//!
//! Every single fault that some step shows, and pairs drawn by number, are hunted as a person would: the
//! procedure up to the first odd lamp, then whatever promises to tell most. Hunts by lamps read them from the lanes with
//! the very fault in them, as the limit by lamps and the pairs do; hunts with a meter read everything from the circuit with
//! the fault in it. `--circuit` or `--lanes` has all of them on the one or the other. With misreads one lamp in a hundred
//! is read the wrong way round. Each group of faults counts once. What each figure means is printed with it. `--lamps` leaves out the
//! hunts with a meter, `--meter` all but those with a meter and perfect readings; `--worst N` tells those that end
//! farthest from the truth, then with the most repairs. `--agree` hunts nothing: it holds the lanes against the circuit.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the figures are what it is for")]

mod agree;
mod arguments;
mod bound;
mod hunt;
mod limit;
mod pairs;
mod repairs;
mod unit;

use arguments::Wanted;
use dryjoint_board::Board;
use dryjoint_faults::Priors;
use dryjoint_logic::extract;
use dryjoint_procedure::{Costs, Effort, GroupId, Procedure, Replay, Study, plan};
use hunt::{Hunt, Hunter};
use pairs::fare;
use rayon::prelude::*;
use std::time::{Duration, Instant};
use unit::Stuff;

/// The share of lamps read the wrong way round.
const MISREAD: f64 = 0.01;

fn main() {
    let wanted = Wanted::of(std::env::args().skip(1)).unwrap_or_else(|refusal| refuse(&refusal));
    for path in &wanted.boards {
        let board = arguments::board(path).unwrap_or_else(|refusal| refuse(&refusal));
        score(&board, &wanted);
    }
}

fn refuse(refusal: &str) -> ! {
    eprintln!("{refusal}\n{}", arguments::USAGE);
    std::process::exit(2);
}

fn score(board: &Board, wanted: &Wanted) {
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
    // Whether lanes and circuit agree is asked of what no step shows, too.
    let asked = if wanted.agree { &groups } else { &shown };
    let mut some: Vec<GroupId> = asked.iter().copied().step_by(wanted.every).collect();
    if !wanted.only.is_empty() {
        let named = |name: &String, group: GroupId| {
            study.groups[group].faults.iter().any(|&fault| study.faults[fault].name(board) == *name)
        };
        if let Some(name) = wanted.only.iter().find(|name| !asked.iter().any(|&group| named(name, group))) {
            refuse(&format!("no step shows a fault `{name}` on {}", board.name));
        }
        some = asked
            .iter()
            .copied()
            .filter(|&group| wanted.only.iter().any(|name| named(name, group)))
            .collect();
    }
    println!(
        "{}: {} groups of faults, {} shown by {} steps of {:.1} bench minutes, {} of them hunted ({:.0} s)\n",
        board.name,
        groups.len(),
        shown.len(),
        procedure.steps.len(),
        procedure.bench_seconds().0 / 60.0,
        some.len(),
        start.elapsed().as_secs_f64()
    );
    if wanted.agree {
        return agreement(&study, &procedure, &some);
    }
    singles(&study, &procedure, &some, wanted);
    if wanted.pairs > 0 {
        twos(&study, &procedure, &shown, wanted.pairs);
    }
}

/// How a hunt ended.
struct Hunted {
    /// Where the true group stands among the suspects.
    place: Option<usize>,
    /// The groups beside which the true one stands, those of the first suspect, and how many circuits are in that.
    left: Vec<GroupId>,
    first: Vec<GroupId>,
    circuits: usize,
    /// Repairs in it, and how many some reading would tell apart; with a meter only.
    repairs: (usize, usize),
    actions: usize,
    seconds: f64,
    slowest: Duration,
    unforetold: usize,
    lost: bool,
    /// What was hidden, done, and left.
    story: String,
}

fn singles(study: &Study, procedure: &Procedure, some: &[GroupId], wanted: &Wanted) {
    println!(
        "one fault              first  in 3   groups  circuits  repairs  apart  actions  minutes  slowest  took"
    );
    let mut perfect = Vec::new();
    for (title, meter, misread) in [
        ("lamps", false, 0.0),
        ("lamps, 1 % misread", false, MISREAD),
        ("with meter", true, 0.0),
        ("with meter, 1 % misread", true, MISREAD),
    ] {
        if wanted.by_lamps && meter || wanted.meter_only && (!meter || misread > 0.0) {
            continue;
        }
        let start = Instant::now();
        let stuff = wanted.stuff.unwrap_or(if meter { Stuff::Circuit } else { Stuff::Lanes });
        let hunter = Hunter { study, procedure, costs: Costs::default(), meter, misread, stuff };
        let all = some.par_iter().map(|&truth| {
            let mut hunt = hunter.hunt(truth);
            let repairs =
                if meter { repairs::repairs(&mut hunt, study, procedure, &hunter.costs) } else { (0, 0) };
            Hunted::of(study, &hunt, truth, repairs)
        });
        let (hunts, lost): (Vec<Hunted>, Vec<Hunted>) =
            all.collect::<Vec<Hunted>>().into_iter().partition(|hunt| !hunt.lost);
        tell(title, &hunts, start.elapsed());
        for hunt in &lost {
            println!(
                "    left out, no operating point of the unit found:{}",
                hunt.story.lines().next().unwrap_or("")
            );
        }
        let unforetold: usize = hunts.iter().map(|hunt| hunt.unforetold).sum();
        if unforetold > 0 {
            println!("    {unforetold} measurements for which no point of the unit was found");
        }
        if misread == 0.0 {
            tell_worst(&hunts, wanted.worst);
        }
        if !meter && misread == 0.0 {
            perfect = hunts;
        }
    }
    println!(
        "\n  first, in 3: the true group is in the first suspect, in the first three. groups: that stand with\n  \
         the true one in its suspect; circuits: in the first. repairs: places there where the iron would go. apart: into\n  \
         how many sets of repairs some reading within one look's actions (volts, supply, ohms) would still part them;\n  \
         1 is all that readings can do.\n  \
         slowest: verdict or advice, both cores at work on other hunts."
    );
    if !wanted.meter_only && wanted.stuff != Some(Stuff::Circuit) {
        bound::tell(study, procedure, some, &perfect, wanted.worst);
    }
}

/// How the hunts went that end with the most repairs that readings would still part.
fn tell_worst(hunts: &[Hunted], most: usize) {
    let mut worst: Vec<&Hunted> = hunts.iter().collect();
    worst.sort_by_key(|hunt| std::cmp::Reverse((hunt.place.unwrap_or(usize::MAX), hunt.repairs)));
    for hunt in worst.into_iter().take(most) {
        let place = hunt
            .place
            .map_or("not among the suspects".to_owned(), |place| format!("in suspect {}", place + 1));
        println!("    {place}, {} of {} apart\n{}", hunt.repairs.1, hunt.repairs.0, hunt.story);
    }
}

fn twos(study: &Study, procedure: &Procedure, shown: &[GroupId], pairs: usize) {
    println!("two faults             drawn  unlike  first  in 3  sets  slowest");
    let start = Instant::now();
    let titles = ["lamps", "lamps, 1 % misread"];
    for (title, fared) in titles.iter().zip(fare(study, procedure, (shown, pairs), [0.0, MISREAD])) {
        let share = |count: usize, of: usize| 100.0 * count as f64 / of.max(1) as f64;
        println!(
            "  {title:<21}{:>5}{:>7.1}%{:>6.1}%{:>5.1}%{:>6.1}{:>6} ms",
            fared.drawn,
            share(fared.unlike, fared.drawn),
            share(fared.first, fared.unlike),
            share(fared.three, fared.unlike),
            fared.sets as f64 / fared.three.max(1) as f64,
            fared.slowest.as_millis()
        );
        for pair in fared.missed.iter().take(5) {
            let board = study.extracted.shape.board;
            let names = pair.map(|group| study.faults[study.groups[group].faults[0]].name(board));
            println!("    not among the first three: {} with {}", names[0], names[1]);
        }
    }
    println!(
        "\n  unlike: the pair makes its perfect readings 100 times likelier than any single fault does, by the verdict's\n  \
         own weighing; of those, the true pair is in the first answer, in the first three. sets: pairs named up to it.\n  \
         slowest: the verdict and all pairs, what was played for pairs before kept ({:.0} s in all).\n",
        start.elapsed().as_secs_f64()
    );
}

impl Hunted {
    fn of(study: &Study, hunt: &Hunt, truth: GroupId, repairs: (usize, usize)) -> Self {
        let head = hunt.verdict.suspects.first();
        let board = study.extracted.shape.board;
        let named = |fault: dryjoint_faults::FaultId| study.faults[fault].name(board);
        let left = head.map_or_else(String::new, |head| {
            let each = head.faults.iter().map(|&(fault, share)| format!("{} {share:.4}", named(fault)));
            each.collect::<Vec<_>>().join(", ")
        });
        let truth_named = named(study.groups[truth].faults[0]);
        let story = format!("      {truth_named}: {}\n        {left}", hunt.deeds.join("; "));
        let place = hunt.verdict.suspects.iter().position(|suspect| suspect.groups.contains(&truth));
        let times = hunt.weighing.iter().chain(&hunt.advising);
        Self {
            place,
            left: place.map_or_else(Vec::new, |place| hunt.verdict.suspects[place].groups.clone()),
            first: head.map_or_else(Vec::new, |head| head.groups.clone()),
            circuits: head.map_or(0, |head| hunt.inquiry.circuits(head)),
            repairs,
            actions: hunt.actions,
            seconds: hunt.seconds,
            slowest: times.max().copied().unwrap_or_default(),
            unforetold: hunt.unforetold,
            lost: hunt.lost,
            story,
        }
    }
}

/// Actions drawn after the procedure when lanes are held against the circuit.
const DRAWN: usize = 60;

/// How far the lanes agree with the circuit, and where they do not.
fn agreement(study: &Study, procedure: &Procedure, some: &[GroupId]) {
    let start = Instant::now();
    let looks = agree::looks(study, procedure, DRAWN);
    let all: Vec<agree::Agreed> = some.par_iter().map(|&group| agree::agree(study, group, &looks)).collect();
    let sure: usize = all.iter().map(|one| one.sure).sum();
    let wrong: usize = all.iter().flat_map(|one| one.wrong.values()).map(|&(count, _)| count).sum();
    let groups = all.iter().filter(|one| !one.wrong.is_empty()).count();
    println!(
        "lanes against the circuit: {wrong} of {sure} lamps of which the lanes are sure are otherwise there, with {groups} of {} \
         groups ({:.0} s)",
        all.len(),
        start.elapsed().as_secs_f64()
    );
    for (group, one) in some.iter().zip(&all) {
        let name = study.faults[study.groups[*group].faults[0]].name(study.extracted.shape.board);
        let each = one.wrong.iter().map(|((lamp, apart), (count, look))| {
            format!("{lamp} {apart} {count} times from look {}", look + 1)
        });
        let each: Vec<String> = each.collect();
        if one.lost {
            println!("    {name}: no operating point of the unit found");
        }
        if !each.is_empty() {
            println!("    {name}: {}", each.join(", "));
        }
    }
}

fn percent<T>(all: &[T], wanted: impl Fn(&T) -> bool) -> f64 {
    100.0 * all.iter().filter(|one| wanted(one)).count() as f64 / all.len().max(1) as f64
}

fn mean<T>(all: &[T], of: &dyn Fn(&T) -> f64) -> f64 {
    all.iter().map(of).sum::<f64>() / all.len().max(1) as f64
}

fn tell(title: &str, hunts: &[Hunted], took: Duration) {
    let with_meter = hunts.iter().any(|hunt| hunt.repairs.0 > 0);
    let or_none = |of: &dyn Fn(&Hunted) -> f64| {
        if with_meter { format!("{:.2}", mean(hunts, of)) } else { "-".to_owned() }
    };
    println!(
        "  {title:<21}{:>5.1}%{:>5.1}%{:>8.2}{:>10.2}{:>9}{:>7}{:>9.1}{:>9.1}{:>7} ms{:>5.0} s",
        percent(hunts, |hunt| hunt.place == Some(0)),
        percent(hunts, |hunt| hunt.place.is_some_and(|place| place < 3)),
        mean(hunts, &|hunt| hunt.left.len() as f64),
        mean(hunts, &|hunt| hunt.circuits as f64),
        or_none(&|hunt| hunt.repairs.0 as f64),
        or_none(&|hunt| hunt.repairs.1 as f64),
        mean(hunts, &|hunt| hunt.actions as f64),
        mean(hunts, &|hunt| hunt.seconds) / 60.0,
        hunts.iter().map(|hunt| hunt.slowest.as_millis()).max().unwrap_or(0),
        took.as_secs_f64()
    );
}
