//! What faults behind the phase board's clock and at its reset come to.

use dryjoint_board::Board;
use dryjoint_faults::dial::Dial;
use dryjoint_faults::lanes::{Behaviour, Drive, Shown};
use dryjoint_faults::region::{Effect, Why, effects};
use dryjoint_faults::{Fault, enumerate};
use dryjoint_ids::Table;
use dryjoint_logic::extract;
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
