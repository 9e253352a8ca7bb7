//! Letting a clock run where nobody can count its periods, on a board of two oscillators and two flip-flops.

use dryjoint_board::Board;
use dryjoint_draws::Draws;
use dryjoint_faults::lanes::{LANES, Machine, Planes};
use dryjoint_faults::region::Why;
use dryjoint_faults::{FaultId, Priors};
use dryjoint_logic::{Level, SignalId, extract};
use dryjoint_procedure::{Action, Costs, Coverage, Effort, Procedure, Study, act, plan};
use std::path::Path;
use std::sync::LazyLock;

/// A flip-flop that turns over with every period, one that keeps whether there was any, both cleared by hand, and
/// a clock with two rates.
const TICK: &str = include_str!("plain/tick.board");

fn board() -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut read = |name: &str| std::fs::read(folder.join(name)).map_err(|error| error.to_string());
    let reading = dryjoint_netlist::read("tick", TICK, &mut read);
    reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
}

/// Everything about the board's faults, once for all tests.
static STUDY: LazyLock<Study<'static, 'static>> = LazyLock::new(|| {
    let board = Box::leak(Box::new(board()));
    let extracted = Box::leak(Box::new(extract(board).0));
    Study::new(extracted, &Priors::default())
});

fn fault(study: &Study, name: &str) -> FaultId {
    let board = study.extracted.shape.board;
    let found = study.faults.iter().find(|(_, fault)| fault.name(board) == name);
    found.unwrap_or_else(|| panic!("there is no fault {name}")).0
}

/// The step that shows a fault, as the last of its actions.
fn last_action(procedure: &Procedure, fault: FaultId) -> Option<Action> {
    match procedure.coverage[fault] {
        Coverage::Shown(step) => procedure.steps[step].actions.last().copied(),
        _ => None,
    }
}

#[test]
fn a_clock_that_stands_at_one_position_is_shown_there_and_a_wrong_rate_only_by_counting() {
    let study = &*STUDY;
    let board = study.extracted.shape.board;
    let procedure = plan(study, &Costs::default(), &Effort::default(), &|_| true);
    let is_run = |action: &Option<Action>| matches!(action, Some(Action::Run(..)));
    // An open base stops the oscillator that it is in, and no other.
    for name in ["Q1.b open", "Q2.b open"] {
        let shown = last_action(&procedure, fault(study, name));
        assert!(matches!(shown, Some(Action::Wait(_))), "{name}: {shown:?}");
    }
    for name in ["Q3.b open", "Q4.b open", "C4 missing"] {
        let shown = last_action(&procedure, fault(study, name));
        assert!(is_run(&shown), "{name}: {shown:?}");
    }
    // Nothing runs without the switch's common pin, however the pair woke up.
    assert!(matches!(procedure.coverage[fault(study, "S1.c open")], Coverage::Shown(_)));
    let told = |name: &str| match procedure.coverage[fault(study, name)] {
        Coverage::Never(why) => why.words(board),
        other => panic!("{name}: {other:?}"),
    };
    // Half a period is .73 R C (docs/outside-values.md), so a tenth of one resistor makes
    // 1/(.73 (75k + 7k5) 10u) = 1.66 Hz; the collectors' 2k2 and 10 uF do not quite recover in that time.
    assert_eq!(
        told("R3 7k5"),
        "only counting tells: the clock CLK runs at 1.8Hz instead of 990mHz with S1 at slow"
    );
    assert_eq!(told("R2 1k2"), "the clock keeps its levels, and its rate within a tenth");
    // With a tenth of the resistance, or none, between an oscillator and the pair of gates that squares it the clock may fall over
    // as its switch leaves a position. Where it always falls low, that is where the bench leaves it anyhow.
    for name in ["R11 2k2", "R15 2k2", "R16 2k2", "R11.1-R11.2 bridged"] {
        let row = procedure.coverage[fault(study, name)];
        assert!(matches!(row, Coverage::Chance(_, Why::Uneven, _)), "{name}: {row:?}");
    }
    for name in ["R10 2k2", "R16.1-R16.2 bridged"] {
        assert_eq!(procedure.coverage[fault(study, name)], Coverage::Never(Why::OutOfReach), "{name}");
    }
    // Whatever is said never to show was held against something a second time.
    let never = procedure.coverage.rows().iter().filter_map(|row| match row {
        Coverage::Never(why) => Some(why.proof()),
        _ => None,
    });
    assert!(never.into_iter().all(|proof| proof.is_some()));
    // The rest is settled, but for what makes the clock overlap its complement for about as long as is borne: the two
    // circuits in time do not agree on which side of that it is.
    let undecided = procedure.coverage.iter().filter_map(|(fault, row)| match row {
        Coverage::Undecided(why) => Some((study.faults[fault].name(board), *why)),
        _ => None,
    });
    assert_eq!(undecided.collect::<Vec<_>>(), [("R17 12k".to_owned(), Why::NotConfirmed)]);
}

#[test]
fn what_is_told_after_a_run_is_so_after_any_number_of_periods_in_every_lane() {
    let study = &*STUDY;
    let board = study.extracted.shape.board;
    let groups = study.all_groups();
    let runs: Vec<Action> = study.rig.runs().collect();
    let [Action::Run(clock, position)] = runs[..] else { panic!("{runs:?}") };
    let lines: Vec<_> = board.lines.ids().collect();
    let mut draws = Draws::new(3);
    let (mut known, mut open) = (0, 0);
    for mut machine in study.machines(&groups[..groups.len().min(2 * (LANES - 1))], None) {
        for _ in 0..6 {
            for _ in 0..1 + draws.below(3) {
                let line = lines[draws.below(lines.len())];
                let action = match draws.below(4) {
                    0 => Action::Wait(1 + draws.below(2) as u32),
                    1 => Action::Tie(line),
                    2 => Action::Release(line),
                    _ => Action::Pulse(line),
                };
                act(study, &mut machine, &[action]);
            }
            let before = machine.save();
            act(study, &mut machine, &[Action::Run(clock, position)]);
            let told: Vec<Planes> = values(study, &machine);
            machine.restore(&before);
            for planes in concrete(study, &mut machine, usize::from(position)) {
                for (told, is) in told.iter().zip(&planes) {
                    // Whatever is told is so; and what is told of a level is no more than is known of it.
                    assert!((told.one & !is.one).is_none() && (told.zero & !is.zero).is_none());
                    known += usize::from(told.one.get(0) || told.zero.get(0));
                    open += usize::from(
                        !told.one.get(0) && !told.zero.get(0) && (is.one.get(0) || is.zero.get(0)),
                    );
                }
            }
            machine.restore(&before);
        }
    }
    assert!(known > 1000 && open > 100, "{known} {open}");
}

fn values(study: &Study, machine: &Machine) -> Vec<Planes> {
    // How the bench holds the switch is no level of the board.
    let told: Vec<SignalId> = study.rig.dials().iter().flat_map(|dial| dial.told()).collect();
    let signals = study.extracted.logic.signals.ids().filter(|signal| !told.contains(signal));
    signals.map(|signal| *machine.value(signal)).collect()
}

/// Every signal after 8 to 40 periods, the switch turned away while the clock is low, or high.
fn concrete(study: &Study, machine: &mut Machine, position: usize) -> Vec<Vec<Planes>> {
    let dial = &study.rig.dials()[0];
    let set = |machine: &mut Machine, high: bool| {
        machine.bench(dial.signal, Level::from(high));
        machine.bench(dial.complement.expect("it has one"), Level::from(!high));
        machine.settle();
    };
    for (at, &contact) in dial.contacts.iter().enumerate() {
        machine.bench(contact, if at == position { Level::One } else { Level::Floating });
    }
    let fed = dial.fed.expect("it has a switch");
    machine.bench(fed, Level::One);
    let mut all = Vec::new();
    for half in 1..=80 {
        set(machine, half % 2 == 1);
        if half > 16 {
            let here = machine.save();
            machine.bench(dial.contacts[position], Level::WeakZero);
            machine.bench(fed, Level::WeakZero);
            machine.settle();
            all.push(values(study, machine));
            machine.restore(&here);
        }
    }
    all
}

#[test]
fn nothing_is_told_of_the_clock_after_a_run_until_it_is_counted_again() {
    let study = &*STUDY;
    let board = study.extracted.shape.board;
    let mut machine = study.machines(&[], None).remove(0);
    let clock = study.rig.dials()[0].signal;
    let is = |machine: &Machine| (machine.value(clock).one.get(0), machine.value(clock).zero.get(0));
    let run = study.rig.runs().next().expect("there is a position to run at");
    act(study, &mut machine, &[run]);
    assert_eq!(is(&machine), (false, false));
    act(study, &mut machine, &[Action::Wait(1)]);
    assert_eq!(is(&machine), (false, true));
    // A second run from such a state is sound too, and a line that moves meanwhile is seen.
    let line = board.lines.ids().next().expect("it has a line");
    act(study, &mut machine, &[run, Action::Tie(line)]);
    let lamp = study.rig.lamps[1].1;
    assert!(machine.value(lamp).one.get(0), "the lamp of the cleared flip-flop");
}
