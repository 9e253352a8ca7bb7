//! What faults behind the phase board's clock and at its reset come to.

use dryjoint_board::Board;
use dryjoint_faults::dial::Dial;
use dryjoint_faults::lanes::{Behaviour, Drive, Shown};
use dryjoint_faults::region::{Effect, Why, effects};
use dryjoint_faults::{Fault, enumerate};
use dryjoint_ids::Table;
use dryjoint_logic::{SignalId, extract};
use std::path::Path;

fn board() -> Board {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    let mut read = |name: &str| std::fs::read(folder.join(name)).map_err(|error| error.to_string());
    let text = read("phase.board").expect("the board is there");
    dryjoint_netlist::read("phase", text, &mut read).board.expect("a sound board")
}

/// The effects of some faults, by name.
fn of(board: &Board, names: &[&str]) -> (Vec<Effect>, Dial) {
    let (extracted, _) = extract(board);
    let all = enumerate(board);
    let find = |name: &&str| {
        *all.iter().find(|fault| fault.name(board) == **name).unwrap_or_else(|| panic!("{name}"))
    };
    let faults: Vec<Fault> = names.iter().map(find).collect();
    let found: Table<_, Effect> = effects(&extracted, &faults);
    (found.rows().to_vec(), Dial::all(&extracted).remove(0))
}

fn changes(effect: &Effect) -> &Behaviour {
    match effect {
        Effect::Changes(behaviour) => behaviour,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_dead_oscillator_stops_the_clock_where_the_switch_feeds_it_and_nowhere_else() {
    let board = board();
    let (found, dial) = of(&board, &["Q11.b open", "Q13.b open", "S1.c open", "S1.c-S1.1 bridged"]);
    for (effect, position) in found[..2].iter().zip([0, 1]) {
        let behaviour = changes(effect);
        let read: Vec<_> = behaviour.reads.iter().map(|read| read.signal).collect();
        assert!(read.contains(&dial.contacts[position]) && !read.contains(&dial.contacts[2]), "{read:?}");
        // With the switch there the clock is low and its complement high in every row, whatever the bench thinks.
        let at = behaviour.reads.iter().position(|read| read.signal == dial.contacts[position]).unwrap();
        let stride: usize = behaviour.reads[..at].iter().map(|read| read.drives.len()).product();
        let there = behaviour.reads[at].drives.iter().position(|&drive| drive == Drive::High).unwrap();
        let alone = |row: usize| {
            row / stride % behaviour.reads[at].drives.len() == there && (position == 0 || row % (2 * 3) < 2)
        };
        let rows = behaviour.table.chunks(behaviour.writes.len()).enumerate().filter(|(row, _)| alone(*row));
        for (_, row) in rows {
            assert_eq!(row, [Shown::Zero, Shown::One]);
        }
    }
    // Without its common pin luck decides how the clock stands, and nothing moves it.
    assert_eq!(
        changes(&found[2]).reads.iter().map(|read| read.signal).collect::<Vec<_>>(),
        [dial.luck.unwrap()]
    );
    // A contact that always has power leaves its own position as it is, and two oscillators at work at the others.
    assert!(changes(&found[3]).table.contains(&Shown::Unknown));
}

#[test]
fn a_contact_on_ground_shorts_the_supply_when_the_switch_comes_there() {
    let board = board();
    let (found, dial) = of(&board, &["FWALK to GND"]);
    assert_eq!(changes(&found[0]).blackout, Some(dial.contacts[1]));
}

#[test]
fn a_wrong_rate_is_told_with_its_figure() {
    let board = board();
    let (found, _) = of(&board, &["R33 7k5", "R31 1k2"]);
    let Effect::Nothing(Why::Rate(off)) = found[0] else { panic!("{:?}", found[0]) };
    // f = .675 to .69/(R C) (docs/outside-values.md), so half a period is .73 R C, and a tenth of one resistor makes
    // 1/(.73 (75k + 7k5) 1u) = 16.6 Hz; the collectors' 2k2 and 1 uF do not quite recover in the short half.
    assert!((1.0..1.1).contains(&(off.is().0 / 16.6)) && off.position == 1, "{off:?}");
    assert!(off.words(&board).ends_with("instead of 9.9Hz with S1 at walk"), "{}", off.words(&board));
    assert_eq!(found[1], Effect::Nothing(Why::KeepsRate));
}

#[test]
fn without_its_capacitor_the_pulse_at_power_on_is_gone() {
    // By hand: 22k lifts the net as soon as there is power.
    let board = board();
    let (found, _) = of(&board, &["C1 missing", "C1.+ open"]);
    for effect in found {
        assert_eq!(effect, Effect::Nothing(Why::NoPulse));
    }
}

#[test]
fn a_clock_that_overlaps_its_complement_or_falls_over_is_left_to_luck_where_it_does() {
    let board = board();
    let (found, dial) = of(&board, &["R27 220R", "R41.1-R41.2 bridged", "R47.1-R47.2 bridged"]);
    let slow = dial.contacts[0];
    // A collector of 220 ohms moves early, and both gates of the pair are low until the other oscillator's half ends: with the
    // switch at slow nobody knows what comes of that.
    let behaviour = changes(&found[0]);
    assert!(
        behaviour.reads.iter().any(|read| read.signal == slow) && behaviour.table.contains(&Shown::Unknown)
    );
    // By hand: with 0.1 ohms for 22k the oscillator's collector takes the base of its gate along as it goes down, so that gate of the
    // pair is off first and its output ends high whatever it was: the clock's, or its complement's.
    for (effect, high) in found[1..].iter().zip([Shown::One, Shown::Zero]) {
        let behaviour = changes(effect);
        let at = behaviour.reads.iter().position(|read| read.signal == slow).expect("it hangs on the switch");
        let stride: usize = behaviour.reads[..at].iter().map(|read| read.drives.len()).product();
        let beside =
            behaviour.reads[at].drives.iter().position(|&drive| drive == Drive::Low).expect("beside");
        let width = behaviour.writes.len();
        let rows = behaviour.table.chunks(width).enumerate().skip(beside * stride).take(stride);
        for (_, row) in rows {
            assert_eq!(row[0], high);
        }
    }
}

#[test]
fn a_reset_held_down_by_a_reversed_electrolytic_is_left_to_luck() {
    // How it conducts the wrong way round is judgement; whether a volt and a half is enough hangs on it.
    let board = board();
    let (found, _) = of(&board, &["C1 reversed"]);
    assert_eq!(changes(&found[0]).table, [Shown::Unknown]);
}

/// What is written on a clock, its complement and one thing more in the rows in which a read is driven so and the clock is not
/// held like its complement.
fn rows_with(behaviour: &Behaviour, dial: &Dial, wanted: &[(SignalId, Drive)]) -> Vec<Vec<Shown>> {
    let drives = |row: usize| {
        let mut rest = row;
        let each = behaviour.reads.iter().map(move |read| {
            let drive = read.drives[rest % read.drives.len()];
            rest /= read.drives.len();
            (read.signal, drive)
        });
        each.collect::<Vec<_>>()
    };
    let on =
        |all: &[(SignalId, Drive)], signal: SignalId| all.iter().find(|(at, _)| *at == signal).map(|it| it.1);
    let rows = behaviour.table.chunks(behaviour.writes.len()).enumerate().filter(|(row, _)| {
        let all = drives(*row);
        let apart = on(&all, dial.signal) != dial.complement.and_then(|not| on(&all, not));
        apart && wanted.iter().all(|it| all.contains(it))
    });
    rows.map(|(_, row)| row.to_vec()).collect()
}

#[test]
fn a_clock_joined_with_something_else_goes_where_its_gates_take_it_once_its_switch_is_turned_away() {
    let board = board();
    let (extracted, _) = extract(&board);
    let (found, dial) = of(&board, &["R101.1-R101.2 bridged", "R84.1-R85.1 bridged"]);
    let (clock, fed) = (dial.signal, dial.fed.expect("it has a switch"));
    // By hand: the complement on a bare base is never above the .7 V of one junction, which a gate behind 22k does not take for high.
    // So the complement is low for all others, and the clock follows its oscillator where one is fed, else nothing holds it down.
    let [base, joined] = [0, 1].map(|at| changes(&found[at]));
    for (switch, high, shown) in [
        (Drive::High, Drive::Low, [Shown::Zero, Shown::Zero]),
        (Drive::High, Drive::High, [Shown::One, Shown::Zero]),
        (Drive::Low, Drive::Low, [Shown::One, Shown::Zero]),
        (Drive::Low, Drive::High, [Shown::One, Shown::Zero]),
        (Drive::Free, Drive::Low, [Shown::One, Shown::Zero]),
    ] {
        let rows = rows_with(base, &dial, &[(fed, switch), (clock, high)]);
        assert!(!rows.is_empty() && rows.iter().all(|row| row[..2] == shown), "{switch:?} {high:?} {rows:?}");
    }
    // By hand: two collectors on one net, and the lower wins. GO pulled low puts the clock low and, the oscillators unfed, its
    // complement high. With GO let go the pair keeps what it holds; left high it may have fallen over by then, left low it has not.
    let signal =
        |name: &str| extracted.logic.signals.iter().find(|(_, signal)| signal.name == name).map(|it| it.0);
    let go = signal("GO").expect("a signal");
    for (switch, high, drive, shown) in [
        (Drive::High, Drive::High, Drive::Low, [Shown::Zero; 3]),
        (Drive::High, Drive::High, Drive::Free, [Shown::One, Shown::Zero, Shown::One]),
        (Drive::Low, Drive::High, Drive::Low, [Shown::Zero, Shown::One, Shown::Zero]),
        (Drive::Low, Drive::Low, Drive::Free, [Shown::Zero, Shown::One, Shown::Zero]),
        (Drive::Low, Drive::High, Drive::Free, [Shown::Unknown; 3]),
        (Drive::Free, Drive::Low, Drive::Free, [Shown::Unknown; 3]),
    ] {
        let rows = rows_with(joined, &dial, &[(fed, switch), (clock, high), (go, drive)]);
        assert!(rows == [shown], "{switch:?} {high:?} {drive:?} {rows:?}");
    }
}
