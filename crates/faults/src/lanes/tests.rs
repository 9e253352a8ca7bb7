//! The lanes against a plain machine that keeps one level per signal and knows nothing of planes.

use super::*;
use crate::dial::{BESIDE, THERE};
use dryjoint_ids::Id;
use dryjoint_logic::{Function, Gate, Level, Logic, Role, Signal, SignalId, Stage};
use proptest::prelude::*;

fn signal(logic: &mut Logic, name: &str, role: Role) -> SignalId {
    logic.signals.push(Signal { name: name.to_owned(), net: None, role })
}

fn nor(logic: &mut Logic, inputs: &[SignalId], output: SignalId) {
    let rows =
        (0..1 << inputs.len()).map(|row| if row == 0 { Level::Floating } else { Level::Zero }).collect();
    let name = format!("Q{}", logic.stages.len() + 1);
    logic.stages.push(Stage { name, inputs: inputs.to_vec(), output, function: Function::Found(rows) });
    pull_up(logic, output);
}

fn pull_up(logic: &mut Logic, output: SignalId) {
    let function = Function::Found(vec![Level::WeakOne]);
    let name = format!("R{}", logic.stages.len() + 1);
    logic.stages.push(Stage { name, inputs: Vec::new(), output, function });
}

/// Two crossed NORs, set and cleared by two lines.
fn latch() -> (Logic, [SignalId; 4]) {
    let mut logic = Logic::default();
    let set = signal(&mut logic, "SET", Role::Input);
    let clear = signal(&mut logic, "CLEAR", Role::Input);
    let q = signal(&mut logic, "Q", Role::Seen);
    let qn = signal(&mut logic, "QN", Role::Seen);
    nor(&mut logic, &[clear, qn], q);
    nor(&mut logic, &[set, q], qn);
    (logic, [set, clear, q, qn])
}

fn known(machine: &Machine, signal: SignalId, lane: usize) -> char {
    match (machine.value(signal).one.get(lane), machine.value(signal).zero.get(lane)) {
        (true, false) => '1',
        (false, true) => '0',
        (false, false) => 'X',
        (true, true) => 'D',
    }
}

#[test]
fn a_latch_of_two_nors_holds_what_it_was_given() {
    let (logic, [set, clear, q, qn]) = latch();
    let program = Program::of(&logic);
    let mut machine = Machine::new(&program, vec![Behaviour::stuck(q, Shown::Zero)]);
    let mut seen = String::new();
    for (line, level) in [
        (set, Level::Zero),
        (clear, Level::Zero),
        (set, Level::One),
        (set, Level::Zero),
        (clear, Level::One),
        (clear, Level::Zero),
    ] {
        machine.bench(line, level);
        assert!(machine.settle().oscillating.is_none());
        seen.push(known(&machine, q, 0));
        seen.push(known(&machine, qn, 0));
        assert_eq!(known(&machine, q, 1), '0', "held low in lane 1");
    }
    assert_eq!(seen, "XXXX10100101");
}

#[test]
fn a_ring_of_one_inverter_is_called_restless() {
    let mut logic = Logic::default();
    let go = signal(&mut logic, "GO", Role::Input);
    let ring = signal(&mut logic, "RING", Role::Seen);
    nor(&mut logic, &[go, ring], ring);
    let program = Program::of(&logic);
    let mut machine = Machine::new(&program, Vec::new());
    machine.bench(go, Level::One);
    machine.settle();
    assert_eq!(known(&machine, ring, 0), '0');
    machine.bench(go, Level::Zero);
    let settled = machine.settle();
    assert!(settled.oscillating.get(0));
    assert_eq!(known(&machine, ring, 0), 'X');
}

#[test]
fn an_open_collector_bus_is_low_when_anyone_pulls_and_a_table_overrides_one_lane() {
    let mut logic = Logic::default();
    let a = signal(&mut logic, "A", Role::Input);
    let b = signal(&mut logic, "B", Role::Input);
    let bus = signal(&mut logic, "BUS", Role::Seen);
    for (line, name) in [(a, "Q1"), (b, "Q2")] {
        let function = Function::Found(vec![Level::Floating, Level::Zero]);
        logic.stages.push(Stage { name: name.to_owned(), inputs: vec![line], output: bus, function });
    }
    pull_up(&mut logic, bus);
    let stages: Vec<_> = logic.stages.ids().collect();
    // In lane 1 the second driver cannot pull: what is seen is the first one's doing alone.
    let weak = Behaviour {
        reads: vec![Read {
            signal: bus,
            stages: vec![stages[0]],
            bench: true,
            drives: vec![Drive::Free, Drive::Low],
        }],
        writes: vec![Target::Signal(bus)],
        table: vec![Shown::One, Shown::Zero],
        blackout: None,
    };
    let program = Program::of(&logic);
    let mut machine = Machine::new(&program, vec![weak]);
    for (levels, good, faulty) in
        [("00", '1', '1'), ("10", '0', '0'), ("01", '0', '1'), ("11", '0', '0'), ("X1", '0', 'X')]
    {
        let level = |at: usize| Level::from_character(levels.chars().nth(at).unwrap()).unwrap();
        machine.bench(a, level(0));
        machine.bench(b, level(1));
        machine.settle();
        assert_eq!((known(&machine, bus, 0), known(&machine, bus, 1)), (good, faulty), "{levels}");
    }
}

#[test]
fn a_jumper_that_shorts_the_supply_darkens_the_lamps_and_empties_the_latch() {
    let (mut logic, [set, clear, q, qn]) = latch();
    let line = signal(&mut logic, "LINE", Role::Input);
    for id in [q, qn] {
        logic.signals[id].role = Role::Inside;
    }
    let lamp = signal(&mut logic, "DS1", Role::Seen);
    nor(&mut logic, &[qn], lamp);
    let program = Program::of(&logic);
    let fault = Behaviour { blackout: Some(line), ..Behaviour::default() };
    let mut machine = Machine::new(&program, vec![fault]);
    let mut seen = Vec::new();
    for (at, level) in [
        (set, Level::One),
        (clear, Level::Zero),
        (set, Level::Zero),
        (line, Level::Zero),
        (line, Level::Floating),
        (set, Level::One),
    ] {
        machine.bench(at, level);
        machine.settle();
        seen.push([0, 1].map(|lane| known(&machine, lamp, lane)).iter().collect::<String>());
    }
    assert_eq!(seen[1..], ["11", "11", "10", "1X", "11"]);
    let before = machine.save();
    machine.bench(line, Level::Zero);
    machine.settle();
    machine.restore(&before);
    machine.settle();
    assert_eq!(known(&machine, lamp, 1), '1', "coming back lets the supply come back");
}

/// A latch's `set` gate that no longer hears its data lets go of both sides at once, and luck decides. It does so
/// whichever other faults stand in the lanes beside it.
#[test]
fn a_race_is_one_whoever_the_neighbours_are() {
    let (mut logic, [set, clear, q, qn]) = latch();
    for id in [set, clear] {
        logic.signals[id].role = Role::Inside;
    }
    let close = signal(&mut logic, "CLOSE", Role::Input);
    let closing = signal(&mut logic, "CLOSING", Role::Inside);
    nor(&mut logic, &[close], closing);
    nor(&mut logic, &[closing], set);
    let stage = logic.stages.ids().last().unwrap();
    nor(&mut logic, &[closing, set], clear);
    let driver = logic.stages.ids().nth(stage.index() - 1).unwrap();
    let read = |signal, stages| Read { signal, stages, bench: false, drives: vec![Drive::Free, Drive::Low] };
    // CLEAR only looks at CLOSING, and follows it as SET does.
    let deaf = Behaviour {
        reads: vec![read(closing, vec![driver])],
        writes: vec![Target::Signal(clear)],
        table: vec![Shown::Zero, Shown::One],
        blackout: None,
    };
    let neighbours = [closing, set, clear, q].map(|id| Behaviour::stuck(id, Shown::One));
    let program = Program::of(&logic);
    let play = |behaviours: Vec<Behaviour>| {
        let mut machine = Machine::new(&program, behaviours);
        let mut seen = String::new();
        for level in [Level::One, Level::Zero, Level::One] {
            machine.bench(close, level);
            machine.settle();
            seen.push(known(&machine, q, 1));
            seen.push(known(&machine, qn, 1));
        }
        seen
    };
    let alone = play(vec![deaf.clone()]);
    let beside: Vec<Behaviour> = std::iter::once(deaf).chain(neighbours).collect();
    assert_eq!(alone, play(beside));
    assert!(alone.contains('X'), "{alone}");
}

/// A hand closes a latch on both sides at once, and luck decides. It does so too where a fault's table stands for one of the gates in
/// between: that gate is no quicker than the other.
#[test]
fn a_gate_with_a_fault_wins_no_race_against_its_neighbour() {
    let (mut logic, [set, clear, q, qn]) = latch();
    for id in [set, clear] {
        logic.signals[id].role = Role::Inside;
    }
    let close = signal(&mut logic, "CLOSE", Role::Input);
    nor(&mut logic, &[close], set);
    nor(&mut logic, &[close], clear);
    let fault = Behaviour {
        reads: vec![Read::of_bench(close, &[Drive::Low, Drive::High])],
        writes: vec![Target::Signal(set)],
        table: vec![Shown::One, Shown::Zero],
        blackout: None,
    };
    let program = Program::of(&logic);
    let mut machine = Machine::new(&program, vec![fault]);
    for level in [Level::Zero, Level::One] {
        machine.bench(close, level);
        machine.settle();
    }
    assert_eq!([0, 1].map(|lane| (known(&machine, q, lane), known(&machine, qn, lane))), [('X', 'X'); 2]);
}

/// Where a hand lets go of both sides at once some boards fall one way and some the other; where it sets the latch all do as they
/// are told, and one side that reads a level in between falls as drawn.
#[test]
fn boards_whose_luck_is_drawn_end_a_race_either_way_and_obey_a_hand() {
    let (logic, [set, clear, q, qn]) = latch();
    let program = Program::of(&logic);
    let between = Behaviour::stuck(qn, Shown::Unknown);
    for (fault, open) in [(Behaviour::default(), false), (between, true)] {
        let mut machine = Machine::drawn(&program, &fault, 7);
        let high = |machine: &Machine, signal| machine.value(signal).one.lanes().count();
        let put = |machine: &mut Machine, levels: [Level; 2]| {
            machine.bench(set, levels[0]);
            machine.bench(clear, levels[1]);
            machine.settle();
            assert!(machine.unknown(q).is_none());
            [high(machine, q), high(machine, qn)]
        };
        let [up, down] = put(&mut machine, [Level::One, Level::Zero]);
        assert!(if open { (1..LANES).contains(&down) } else { (up, down) == (LANES, 0) }, "{up} {down}");
        let [up, down] = put(&mut machine, [Level::One, Level::One]);
        assert!(up == 0 && (open || down == 0));
        let [up, down] = put(&mut machine, [Level::Zero, Level::Zero]);
        assert!((LANES / 4..LANES).contains(&up) && (open || up + down == LANES), "{up} {down}");
    }
}

/// Three gates in a ring chase each other; whether a latch takes one of their pulses nobody knows, whichever tick it came in.
#[test]
fn what_a_chase_leaves_in_a_latch_is_not_known() {
    let (mut logic, [set, clear, q, _]) = latch();
    logic.signals[set].role = Role::Inside;
    let stop = signal(&mut logic, "STOP", Role::Input);
    let [second, third] = ["B", "C"].map(|name| signal(&mut logic, name, Role::Inside));
    nor(&mut logic, &[stop, third], set);
    nor(&mut logic, &[set], second);
    nor(&mut logic, &[second], third);
    let program = Program::of(&logic);
    let mut machine = Machine::new(&program, Vec::new());
    let mut seen = String::new();
    for (line, level) in [
        (stop, Level::One),
        (clear, Level::One),
        (clear, Level::Zero),
        (stop, Level::Zero),
        (stop, Level::One),
        (clear, Level::One),
    ] {
        machine.bench(line, level);
        machine.settle();
        seen.push(known(&machine, q, 0));
    }
    assert_eq!(&seen[1..], "00XX0");
}

/// A position of a switch shorts the supply as long as the switch stands there.
#[test]
fn a_switch_that_was_turned_away_shorts_nothing() {
    let mut logic = Logic::default();
    let contact = signal(&mut logic, "CONTACT", Role::Input);
    let line = signal(&mut logic, "LINE", Role::Input);
    let lamp = signal(&mut logic, "DS1", Role::Seen);
    nor(&mut logic, &[line], lamp);
    let program = Program::of(&logic);
    let fault = Behaviour { blackout: Some(contact), ..Behaviour::default() };
    let mut machine = Machine::new(&program, vec![fault]);
    machine.bench(line, Level::Zero);
    let mut seen = String::new();
    for level in [THERE, BESIDE] {
        machine.bench(contact, level);
        machine.settle();
        seen.push(known(&machine, lamp, 1));
    }
    assert_eq!(seen, "01");
}

/// NORs whose inputs are anything in the list, three lines and their own outputs.
fn crossed(gates: &[(u16, u16)]) -> (Logic, Vec<SignalId>) {
    let mut logic = Logic::default();
    let mut signals: Vec<SignalId> =
        (0..3).map(|k| signal(&mut logic, &format!("I{k}"), Role::Input)).collect();
    signals.extend((0..gates.len()).map(|k| signal(&mut logic, &format!("N{k}"), Role::Inside)));
    for (k, &(a, b)) in gates.iter().enumerate() {
        nor(&mut logic, &[a, b].map(|at| signals[at as usize % signals.len()]), signals[3 + k]);
    }
    (logic, signals)
}

/// A fault drawn by number: whose driver it looks at, what it sets, what it says of a free net and of one pulled low, and
/// whether it sets one input only.
type Drawn = (u16, u16, usize, usize, bool);

fn looking(&(from, to, free, low, pin): &Drawn, logic: &Logic, signals: &[SignalId]) -> Behaviour {
    let gates = signals.len() - 3;
    let driver = |gate: usize| logic.stages.ids().nth(2 * gate).expect("a gate and its resistor each");
    let (from, to) = (from as usize % gates, to as usize % gates);
    let drives = vec![Drive::Free, Drive::Low];
    let shown = |at: usize| [Shown::Zero, Shown::One, Shown::Unknown][at];
    let target = if pin { Target::Pin(driver(to), 0) } else { Target::Signal(signals[3 + to]) };
    Behaviour {
        reads: vec![Read { signal: signals[3 + from], stages: vec![driver(from)], bench: false, drives }],
        writes: vec![target],
        table: vec![shown(free), shown(low)],
        blackout: None,
    }
}

proptest! {
    /// The same boards, gathered from the lanes of two machines after some moves, do what a machine does in which they
    /// stood side by side from the start.
    #[test]
    fn boards_gathered_into_other_lanes_go_on_as_they_would_have(
        gates in prop::collection::vec((any::<u16>(), any::<u16>()), 3..20),
        faults in prop::collection::vec((any::<u16>(), any::<u16>(), 0usize..3, 0usize..3, any::<bool>()), 2..24),
        picked in prop::collection::vec(any::<bool>(), 24),
        moves in prop::collection::vec((0usize..3, 0usize..3), 2..12),
    ) {
        let (logic, signals) = crossed(&gates);
        let program = Program::of(&logic);
        let all: Vec<Behaviour> = faults.iter().map(|fault| looking(fault, &logic, &signals)).collect();
        let (one, other) = all.split_at(all.len() / 2);
        let mut machines = [one, other].map(|some| Machine::new(&program, some.to_vec()));
        let places = (0..one.len()).map(|at| (0, at + 1)).chain((0..other.len()).map(|at| (1, at + 1)));
        let places: Vec<(usize, usize)> =
            places.zip(&picked).filter(|(at, picked)| **picked || at.1 == 1).map(|(at, _)| at).collect();
        let at = |&(machine, lane): &(usize, usize)| [one, other][machine][lane - 1].clone();
        let left: Vec<Behaviour> = places.iter().map(at).collect();
        let mut plain = Machine::new(&program, left.clone());
        let mut gathered: Option<Machine> = None;
        for (count, &(at, level)) in moves.iter().enumerate() {
            if count == moves.len() / 2 {
                let from: Vec<_> = places.iter().map(|&(at, lane)| (&machines[at], lane)).collect();
                gathered = Some(from[0].0.gathered(left.clone(), &from));
            }
            for machine in machines.iter_mut().chain(gathered.as_mut()).chain([&mut plain]) {
                machine.bench(signals[at], [Level::Zero, Level::One, Level::Unknown][level]);
                machine.settle();
            }
            if let Some(gathered) = &gathered {
                prop_assert!(gathered.values() == plain.values());
                let (own, other) = (gathered.save(), plain.save());
                prop_assert!(own.is_like(&other) && own.said == other.said);
            }
        }
    }

    /// Random NORs that feed each other in any way, with faults that look at levels: ticks left out since they only go
    /// round, and tables not looked up again since nothing moved in their lanes, change nothing.
    #[test]
    fn what_is_left_out_while_ticks_go_round_changes_nothing(
        gates in prop::collection::vec((any::<u16>(), any::<u16>()), 3..20),
        faults in prop::collection::vec((any::<u16>(), any::<u16>(), 0usize..3, 0usize..3, any::<bool>()), 1..12),
        moves in prop::collection::vec((0usize..3, 0usize..3), 1..12),
    ) {
        let (logic, signals) = crossed(&gates);
        let behaviours: Vec<Behaviour> = faults.iter().map(|fault| looking(fault, &logic, &signals)).collect();
        let program = Program::of(&logic);
        let mut machine = Machine::new(&program, behaviours.clone());
        let mut asking = Machine::new(&program, behaviours.clone());
        let mut plain = Machine::new(&program, behaviours);
        plain.round.never();
        for machine in [&mut asking, &mut plain] {
            machine.spoilt.watchers.values_mut().flatten().for_each(|(_, lanes)| *lanes = Word::ALL);
        }
        for (at, level) in moves {
            for machine in [&mut machine, &mut asking, &mut plain] {
                machine.bench(signals[at], [Level::Zero, Level::One, Level::Unknown][level]);
            }
            let settled = plain.settle();
            prop_assert_eq!(asking.settle(), settled);
            prop_assert_eq!(machine.settle().oscillating, settled.oscillating);
            prop_assert!(machine.values() == plain.values());
            let (own, other) = (machine.save(), plain.save());
            prop_assert!(own.is_like(&other) && own.said == other.said);
        }
    }

    /// Random gate networks without feedback: each lane with its own held signal, against the gate
    /// tables of IEEE 1364 evaluated one machine at a time.
    #[test]
    fn every_lane_agrees_with_one_machine_at_a_time(
        gates in prop::collection::vec((0usize..8, any::<u16>(), any::<u16>()), 1..24),
        levels in prop::collection::vec(0usize..3, 4),
        held in prop::collection::vec((any::<u16>(), any::<bool>()), 1..40),
    ) {
        const KINDS: [Gate; 8] =
            [Gate::And, Gate::Nand, Gate::Or, Gate::Nor, Gate::Xor, Gate::Xnor, Gate::Buf, Gate::Not];
        let mut logic = Logic::default();
        let mut signals: Vec<SignalId> = (0..4).map(|k| signal(&mut logic, &format!("I{k}"), Role::Input)).collect();
        for (kind, a, b) in gates {
            let kind = KINDS[kind];
            let mut inputs = vec![signals[a as usize % signals.len()]];
            if !matches!(kind, Gate::Buf | Gate::Not) {
                inputs.push(signals[b as usize % signals.len()]);
            }
            let output = signal(&mut logic, &format!("N{}", signals.len()), Role::Seen);
            logic.stages.push(Stage { name: String::new(), inputs, output, function: Function::Gate(kind) });
            signals.push(output);
        }
        let faults: Vec<(SignalId, bool)> =
            held.into_iter().map(|(at, value)| (signals[at as usize % signals.len()], value)).collect();
        let behaviours = faults.iter().map(|&(signal, value)| {
            Behaviour::stuck(signal, if value { Shown::One } else { Shown::Zero })
        }).collect();
        let program = Program::of(&logic);
        let mut machine = Machine::new(&program, behaviours);
        let levels: Vec<Level> = levels.into_iter().map(|k| [Level::Zero, Level::One, Level::Unknown][k]).collect();
        for (&input, &level) in signals.iter().zip(&levels) {
            machine.bench(input, level);
        }
        machine.settle();
        for lane in 0..=faults.len() {
            let mut plain: Vec<Level> = levels.clone();
            let force = |plain: &mut Vec<Level>, id: SignalId| {
                if let Some((_, value)) = lane.checked_sub(1).map(|k| faults[k]).filter(|(at, _)| *at == id) {
                    *plain.last_mut().unwrap() = Level::from(value);
                }
            };
            let mut values: Vec<Level> = Vec::new();
            for (&id, level) in signals.iter().zip(plain.drain(..)) {
                values.push(level);
                force(&mut values, id);
            }
            for (_, stage) in logic.stages.iter() {
                let Function::Gate(gate) = stage.function else { unreachable!() };
                let at = |id: &SignalId| values[signals.iter().position(|known| known == id).unwrap()];
                let inputs: Vec<Level> = stage.inputs.iter().map(at).collect();
                values.push(gate.output(&inputs));
                force(&mut values, stage.output);
            }
            for (&id, level) in signals.iter().zip(values) {
                prop_assert_eq!(known(&machine, id, lane), level.character(), "lane {}", lane);
            }
        }
    }
}

/// A gate behind a line of which nobody knows what the bench puts there: lane by lane it may be supposed, which holds until
/// the bench puts something else there, and is carried along wherever a lane goes.
#[test]
fn what_the_bench_puts_somewhere_may_be_supposed_lane_by_lane() {
    let mut logic = Logic::default();
    let line = signal(&mut logic, "CK", Role::Input);
    let out = signal(&mut logic, "Q", Role::Inside);
    nor(&mut logic, &[line], out);
    let program = Program::of(&logic);
    let none = Behaviour { reads: Vec::new(), writes: Vec::new(), table: Vec::new(), blackout: None };
    let mut machine = Machine::new(&program, vec![none.clone(); 3]);
    machine.bench(line, Level::Unknown);
    machine.settle();
    let unsaid = machine.save();
    let [mut one, mut zero] = [Word::NONE; 2];
    one.set(1, true);
    zero.set(2, true);
    machine.stand(&[(line, Planes { one, zero })]);
    let shown = |machine: &Machine| [1, 2, 3].map(|lane| machine.value(out).shown(lane));
    assert_eq!(shown(&machine), [Shown::Zero, Shown::One, Shown::Unknown]);
    let said = machine.save();
    let gathered = machine.gathered(vec![none.clone(); 2], &[(&machine, 2), (&machine, 1)]);
    assert_eq!([1, 2].map(|lane| gathered.value(out).shown(lane)), [Shown::One, Shown::Zero]);
    assert_eq!([1, 2].map(|lane| gathered.stood(line).shown(lane)), [Shown::Zero, Shown::One]);
    // One lane of a state may go on as it stands in another.
    let mut mixed = unsaid.clone();
    mixed.take(&said, one);
    machine.restore(&mixed);
    assert_eq!(shown(&machine), [Shown::Zero, Shown::Unknown, Shown::Unknown]);
    machine.bench(line, Level::Zero);
    machine.settle();
    machine.bench(line, Level::Unknown);
    machine.settle();
    assert_eq!(shown(&machine), [Shown::Unknown; 3]);
}
