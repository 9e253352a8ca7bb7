//! "Nothing surely shows it", said again by plain boards that share no code with the lanes: a walker that tries every
//! state breadth first, and the good board's states with the fault beside them.

mod plain;

use dryjoint_board::{Access, Board, LineId, PartKind};
use dryjoint_draws::Draws;
use dryjoint_faults::Priors;
use dryjoint_ids::{Id, Side};
use dryjoint_logic::extract;
use dryjoint_procedure::{Action, GroupId, Sought, Study, Sureness, reach, surely};
use plain::{Plain, Rest};
use std::collections::{HashSet, VecDeque};
use std::path::Path;

/// A flip-flop that turns over with every period, one that keeps whether there was any, both cleared by hand, and
/// a clock with two rates.
const TICK: &str = include_str!("plain/tick.board");

/// One bit of two latches that take turns, and no clock: luck can hide a fault in it in any state.
const BIT: &str = include_str!("plain/bit.board");

fn board(name: &str) -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut read = |name: &str| std::fs::read(folder.join(name)).map_err(|error| error.to_string());
    let text = match name {
        "tick" => TICK.into(),
        "bit" => BIT.into(),
        _ => read(&format!("{name}.board")).expect("a board"),
    };
    dryjoint_netlist::read(name, text, &mut read).board.expect("a sound board")
}

/// What hands can do next, told from the board alone.
fn next(board: &Board, tied: &Side<LineId, bool>) -> Vec<Action> {
    let is_button = |line: LineId| match board.lines[line].access {
        Access::Contact(part) => board.parts[part].kind == PartKind::Button,
        _ => false,
    };
    if let Some(down) = board.lines.ids().find(|&line| tied[line] && is_button(line)) {
        return vec![Action::Release(down)];
    }
    let mut all = Vec::new();
    for line in board.lines.ids() {
        if tied[line] {
            all.push(Action::Release(line));
        } else {
            all.extend([Action::Tie(line), Action::Pulse(line)]);
        }
    }
    for (id, clock) in board.clocks.iter() {
        all.push(Action::Wait(1));
        let slowest = clock.rates.iter().map(|rate| rate.rate.0).fold(f64::MAX, f64::min);
        let faster = clock.rates.iter().enumerate().filter(|(_, rate)| rate.rate.0 > slowest);
        all.extend(faster.map(|(position, _)| Action::Run(id, position as u16)));
    }
    all
}

/// What a look is for.
#[derive(Clone, Copy, PartialEq)]
enum Wanted {
    /// A lamp that surely differs.
    Sure,
    /// One that may.
    Doubt,
    /// One that may although luck hides the fault wherever it can.
    Unlucky,
}

/// What came of a walk.
#[derive(Debug)]
struct Found {
    /// States come to; nothing where something went on for ever, since how many there are then hangs on when that is
    /// cut off.
    states: Option<usize>,
    /// After how many actions it was seen.
    seen: Option<usize>,
}

/// Tries every state within reach, breadth first. Where a fault is given, good and faulty board go side by side.
fn walk(study: &Study, group: Option<GroupId>, wanted: Wanted, visit: &mut dyn FnMut(&Plain)) -> Found {
    let board = study.extracted.shape.board;
    let logic = &study.extracted.logic;
    let mut pair = vec![Plain::new(logic, None)];
    pair.extend(group.map(|group| {
        let behaviour = &study.groups[group].behaviour;
        if wanted == Wanted::Unlucky {
            Plain::lucky(logic, behaviour)
        } else {
            Plain::new(logic, Some(behaviour))
        }
    }));
    pair.iter_mut().for_each(|machine| machine.set(&study.rig.start()));
    let differs = |pair: &[Plain]| {
        study.rig.lamps.iter().any(|&(_, lamp)| {
            let [good, bad] =
                [pair.first(), pair.last()].map(|one| one.and_then(|one| one.now.values[lamp.index()]));
            good.is_some() && good != bad && (wanted != Wanted::Sure || bad.is_some())
        })
    };
    let rests = |pair: &[Plain]| pair.iter().map(|one| one.now.clone()).collect::<Vec<Rest>>();
    let key = |rests: &[Rest], tied: &Side<LineId, bool>| {
        let all: Vec<_> = rests.iter().map(|rest| (rest.key(), rest.bench.clone())).collect();
        (all, tied.rows().to_vec())
    };
    if differs(&pair) {
        return Found { states: None, seen: Some(0) };
    }
    let tied = Side::filled(&board.lines, false);
    let mut seen = HashSet::from([key(&rests(&pair), &tied)]);
    let mut open = VecDeque::from([(rests(&pair), tied, 0)]);
    while let Some((at, tied, depth)) = open.pop_front() {
        pair[0].now = at[0].clone();
        visit(&pair[0]);
        for action in next(board, &tied) {
            for (machine, rest) in pair.iter_mut().zip(&at) {
                machine.now = rest.clone();
                machine.act(&study.rig, action);
            }
            if differs(&pair) {
                return Found { states: None, seen: Some(depth + 1) };
            }
            let mut tied = tied.clone();
            match action {
                Action::Tie(line) => tied[line] = true,
                Action::Release(line) => tied[line] = false,
                _ => {}
            }
            let now = rests(&pair);
            if seen.insert(key(&now, &tied)) {
                open.push_back((now, tied, depth + 1));
            }
        }
    }
    let calm = pair.iter().all(|machine| !machine.restless);
    Found { states: calm.then_some(seen.len()), seen: None }
}

/// How many states are within reach of a board that luck has wake up in some way, where luck then hides a group in all of
/// them, the good board beside it going the way that luck likes as well.
fn hidden_by_choice(study: &Study, group: GroupId) -> Option<usize> {
    let board = study.extracted.shape.board;
    let mut draws = Draws::new(3);
    let choices = (0..32).map(|choice| [choice % 2 == 1, choice / 2 % 2 == 1]);
    choices.into_iter().find_map(|[late, high]| {
        let mut lucky = Plain::woken(study, &study.groups[group].behaviour, late, &mut draws);
        let key = |rest: &Rest, tied: &Side<LineId, bool>| {
            (rest.key(), rest.good().key(), rest.bench.clone(), tied.rows().to_vec())
        };
        let tied = Side::filled(&board.lines, false);
        let mut seen = HashSet::from([key(&lucky.now, &tied)]);
        let mut open = vec![(lucky.now.clone(), tied)];
        let as_good = |lucky: &Plain| {
            study.rig.lamps.iter().all(|&(_, lamp)| {
                let [good, seen] = [lucky.good(), &lucky.now].map(|rest| rest.values[lamp.index()]);
                good.is_none() || good == seen
            })
        };
        if !as_good(&lucky) {
            return None;
        }
        while let Some((at, tied)) = open.pop() {
            for action in next(board, &tied) {
                lucky.now = at.clone();
                let mut tied = tied.clone();
                match action {
                    Action::Run(clock, position) => {
                        lucky.runs_by_luck(study, (clock, usize::from(position)), high);
                    }
                    _ => lucky.act(&study.rig, action),
                }
                match action {
                    Action::Tie(line) => tied[line] = true,
                    Action::Release(line) => tied[line] = false,
                    _ => {}
                }
                if !as_good(&lucky) {
                    return None;
                }
                if seen.insert(key(&lucky.now, &tied)) {
                    open.push((lucky.now.clone(), tied));
                }
            }
        }
        Some(seen.len())
    })
}

/// Holds what is said of some groups against plain boards; how often each kind was met.
fn hold(study: &Study, groups: &[GroupId], most: usize) -> [usize; 7] {
    let mut met = [0; 7];
    let mut hidden: Vec<GroupId> = Vec::new();
    for &group in groups {
        let name = study.faults[study.groups[group].faults[0]].name(study.extracted.shape.board);
        match surely(study, group, most) {
            Sought::Way(way) => {
                let found = walk(study, Some(group), Wanted::Sure, &mut |_| {});
                // By cases it may be shorter than what shows without them.
                assert!(found.seen.is_none_or(|actions| way.len() <= actions), "{name}: {way:?}, {found:?}");
                met[0] += usize::from(found.seen == Some(way.len()));
                if found.seen.is_none() && !way.iter().any(|action| matches!(action, Action::Run(..))) {
                    let mut draws = Draws::new(13);
                    let fault = &study.groups[group].behaviour;
                    let board = || Plain::new(&study.extracted.logic, Some(fault));
                    assert!(
                        (0..LUCKS).all(|_| board().shows_by_luck(study, &way, &mut draws)),
                        "{name}: {way:?}"
                    );
                    met[6] += 1;
                }
            }
            Sought::None(Sureness::Nowhere(states) | Sureness::NowhereBetween(states)) => {
                let found = walk(study, Some(group), Wanted::Sure, &mut |_| {});
                assert!(
                    found.seen.is_none() && found.states.is_none_or(|plain| plain == states),
                    "{name}: {found:?}"
                );
                met[1] += 1;
            }
            Sought::None(Sureness::HidesByRows) => hidden.push(group),
            Sought::None(Sureness::Hides(_)) => {
                let found = walk(study, Some(group), Wanted::Unlucky, &mut |_| {});
                assert!(found.seen.is_none(), "{name}: {found:?}");
                met[3] += 1;
            }
            Sought::None(Sureness::HidesByChoice(_)) => {
                let found = walk(study, Some(group), Wanted::Sure, &mut |_| {});
                assert!(found.seen.is_none(), "{name}: {found:?}");
                assert!(hidden_by_choice(study, group).is_some(), "{name} is not hidden");
                met[5] += 1;
            }
            Sought::None(Sureness::HidesAnywhere(_)) => {
                for wanted in [Wanted::Unlucky, Wanted::Sure] {
                    let found = walk(study, Some(group), wanted, &mut |_| {});
                    assert!(found.seen.is_none(), "{name}: {found:?}");
                }
                met[4] += 1;
            }
            Sought::None(Sureness::Open(bound)) => panic!("{name} is left open: {bound:?}"),
        }
    }
    met[2] = hidden.len();
    if !hidden.is_empty() {
        walk(study, None, Wanted::Sure, &mut |good| {
            for &group in &hidden {
                let name = study.faults[study.groups[group].faults[0]].name(study.extracted.shape.board);
                assert!(good.could_rest_with(&study.groups[group].behaviour), "{name}");
            }
        });
    }
    met
}

#[test]
fn plain_boards_find_the_same_shortest_ways_and_the_same_states_without_any() {
    let board = board("tick");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let groups: Vec<GroupId> = study.all_groups();
    let plain = |group: &&GroupId| study.groups[**group].behaviour.blackout.is_none();
    // One that luck hides only where it chooses how the board woke up is among them in any case.
    let named = |group: &GroupId| {
        study.groups[*group].faults.iter().any(|&fault| study.faults[fault].name(&board) == "R82.1 open")
    };
    let mut some: Vec<GroupId> = groups.iter().filter(plain).copied().step_by(4).collect();
    some.extend(groups.iter().copied().filter(named));
    let groups = some;
    let [ways, nowhere, by_rows, by_states, anywhere, by_choice, by_cases] = hold(&study, &groups, 20_000);
    assert!(ways > 10 && nowhere > 0 && by_cases > 0, "{ways} ways, {by_cases} by cases, {nowhere} without");
    assert!(
        by_rows > 0 && by_states > 2 && anywhere > 1 && by_choice > 0,
        "hidden: {by_rows} by rows, {by_states} by states, {anywhere} anywhere, {by_choice} by choice"
    );
}

#[test]
fn a_plain_walker_finds_no_sure_way_where_every_good_board_has_a_partner() {
    let board = board("bit");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let plain = |group: &GroupId| study.groups[*group].behaviour.blackout.is_none();
    let groups: Vec<GroupId> = study.all_groups().into_iter().filter(plain).collect();
    let [ways, _, by_rows, _, anywhere, _, by_cases] = hold(&study, &groups, 20_000);
    assert!(
        ways > 40 && by_cases > 10 && by_rows > 0 && anywhere > 1,
        "{ways} ways, {by_cases} by cases, {by_rows} by rows, {anywhere} anywhere"
    );
}

/// The group of a fault by its name.
fn named(study: &Study, name: &str) -> GroupId {
    let mut faults = study.faults.iter();
    let fault = faults.find(|(_, fault)| fault.name(study.extracted.shape.board) == name).expect("a fault").0;
    study.group_of(fault).expect("a group")
}

/// At one position of its switch the clock of this board is left standing high, always. A good one stands high as well where
/// the switch was turned away in that half, and nobody counts halves there.
#[test]
#[ignore = "slow: cargo test --release -p dryjoint-procedure --test sure -- --ignored"]
fn a_clock_that_is_always_left_high_stands_as_a_good_one_may() {
    let board = board("phase");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let group = named(&study, "R31.1 open");
    let sought = surely(&study, group, 100_000);
    assert!(matches!(sought, Sought::None(Sureness::HidesByChoice(_))), "{sought:?}");
    assert!(hidden_by_choice(&study, group).is_some());
}

#[test]
#[ignore = "slow: cargo test --release -p dryjoint-procedure --test sure -- --ignored"]
fn plain_boards_that_are_lucky_keep_their_lamps_right_on_the_address_board() {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let mut draws = Draws::new(7);
    let mut hidden = 0;
    // Of each bit the input that keeps its master and the one that keeps its slave from having both halves low.
    let cut: Vec<String> = (1..=6).flat_map(|bit| [29, 45].map(|at| format!("R{bit}{at}.1 open"))).collect();
    let named = |group: GroupId| study.faults[study.groups[group].faults[0]].name(&board);
    for group in study.all_groups().into_iter().filter(|&group| cut.contains(&named(group))) {
        let behaviour = &study.groups[group].behaviour;
        let name = named(group);
        let sought = surely(&study, group, 1);
        assert!(matches!(sought, Sought::None(Sureness::HidesAnywhere(_))), "{name}: {sought:?}");
        let mut lucky = Plain::lucky(&extracted.logic, behaviour);
        let mut good = Plain::new(&extracted.logic, None);
        let mut tied = Side::filled(&board.lines, false);
        let mut known = 0;
        for machine in [&mut good, &mut lucky] {
            machine.set(&study.rig.start());
        }
        for _ in 0..DRAWN {
            let all = next(&board, &tied);
            let action = all[draws.below(all.len())];
            for machine in [&mut good, &mut lucky] {
                machine.act(&study.rig, action);
            }
            match action {
                Action::Tie(line) => tied[line] = true,
                Action::Release(line) => tied[line] = false,
                _ => {}
            }
            for &(_, lamp) in &study.rig.lamps {
                let [good, seen] = [&good, &lucky].map(|one| one.now.values[lamp.index()]);
                assert!(good.is_none() || seen == good, "{name} after {action:?}");
                known += usize::from(good.is_some());
            }
        }
        assert!(known > DRAWN, "{name}: hardly a lamp was known");
        hidden += 1;
    }
    assert_eq!(hidden, 12);
}

/// Plays the way that is found for a fault on boards on which luck decides every race anew: all show it, and with the last
/// action left out some do not.
fn show_by_luck(study: &Study, name: &str, most: usize) {
    let board = study.extracted.shape.board;
    let named = |group: &GroupId| {
        study.groups[*group].faults.iter().any(|&fault| study.faults[fault].name(board) == name)
    };
    let group = study.all_groups().into_iter().find(named).expect("a group");
    let Sought::Way(way) = surely(study, group, most) else { panic!("{name}: no way") };
    let behaviour = &study.groups[group].behaviour;
    let mut draws = Draws::new(11);
    let mut shows = |actions: &[Action], lucks: usize| {
        let mut played = 0..lucks;
        played.all(|_| {
            Plain::new(&study.extracted.logic, Some(behaviour)).shows_by_luck(study, actions, &mut draws)
        })
    };
    assert!(shows(&way, LUCKS), "{name}: {way:?}");
    // It is rare that the other bits hide it as well.
    assert!(!shows(&way[..way.len() - 1], 20 * LUCKS), "{name}: luck never hides it anyhow");
}

/// How often luck is drawn.
const LUCKS: usize = 200;

#[test]
fn two_phases_that_race_are_shown_however_the_race_ends() {
    let board = board("bit");
    let (extracted, _) = extract(&board);
    show_by_luck(&Study::new(&extracted, &Priors::default()), "J1.3-J1.4 bridged", 20_000);
}

#[test]
#[ignore = "slow: cargo test --release -p dryjoint-procedure --test sure -- --ignored"]
fn bridged_phases_and_control_of_the_address_board_are_shown_however_luck_falls() {
    let board = board("address");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    for name in ["J1.7-J1.8 bridged", "R5.2-R6.2 bridged", "R49.1-R50.1 bridged"] {
        show_by_luck(&study, name, 5_000);
    }
}

#[test]
#[ignore = "slow: cargo test --release -p dryjoint-procedure --test sure -- --ignored"]
fn races_at_the_halves_of_the_phase_boards_clock_are_shown_however_luck_falls() {
    let board = board("phase");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let study = &study;
    let between = ["R281 2k2", "R288 2k2", "Q32 PNP fitted", "Q36 PNP fitted", "Q74 PNP fitted"];
    for name in ["R188.1 open", "R222.1 open", "R256.1 open", "Q31 PNP fitted"].into_iter().chain(between) {
        let group = named(study, name);
        let Sought::Way(way) = surely(study, group, 100_000) else { panic!("{name}: no way") };
        let mut draws = Draws::new(17);
        let fault = &study.groups[group].behaviour;
        let board = || Plain::new(&extracted.logic, Some(fault));
        assert!((0..LUCKS).all(|_| board().shows_by_luck(study, &way, &mut draws)), "{name}: {way:?}");
    }
}

/// Actions drawn for each fault.
const DRAWN: usize = 2_000;

#[test]
fn a_plain_walker_finds_the_same_states_where_nothing_ever_shows() {
    let board = board("tick");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let mut never = 0;
    for group in study.all_groups().into_iter().step_by(4) {
        if study.groups[group].behaviour.blackout.is_some() {
            continue;
        }
        let found = walk(&study, Some(group), Wanted::Doubt, &mut |_| {});
        let states = reach(&study, group);
        assert_eq!(states.is_none(), found.seen.is_some());
        assert!(found.states.is_none() || found.states == states);
        never += usize::from(states.is_some());
    }
    assert!(never > 0);
}

#[test]
#[ignore = "slow: cargo test --release -p dryjoint-procedure --test sure -- --ignored"]
fn plain_boards_agree_on_every_group_of_the_phase_board() {
    let board = board("phase");
    let (extracted, _) = extract(&board);
    let study = Study::new(&extracted, &Priors::default());
    let plain = |group: &GroupId| study.groups[*group].behaviour.blackout.is_none();
    let groups: Vec<GroupId> = study.all_groups().into_iter().filter(plain).collect();
    let [ways, nowhere, by_rows, by_states, _, by_choice, by_cases] = hold(&study, &groups, 100_000);
    assert!(
        ways > 500 && by_cases > 3 && nowhere > 5 && by_rows > 50 && by_states > 20 && by_choice > 5,
        "{ways} ways, {by_cases} by cases, {nowhere} without, {by_rows} hidden by rows, {by_states} by states, \
         {by_choice} by choice"
    );
}
