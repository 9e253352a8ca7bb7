//! Stages evaluated a second, against a bare loop of the same bit operations on the same amount of data.

use crate::best_of;
use dryjoint_faults::lanes::{Machine, Planes, Program, Word};
use dryjoint_logic::{Function, Level, Logic, Role, Signal, SignalId, Stage};
use std::hint::black_box;

const WIDE: usize = 64;
const DEEP: usize = 16;
const ROUNDS: usize = 200;

/// Prints the ratio.
pub fn print() {
    let (logic, inputs) = layers();
    let program = Program::of(&logic);
    let mut machine = Machine::new(&program, Vec::new());
    let mut high = false;
    let ours = best_of(5, || {
        for _ in 0..ROUNDS {
            high = !high;
            inputs.iter().for_each(|&input| machine.bench(input, Level::from(high)));
            machine.settle();
        }
    });
    let mut planes = vec![Planes::broadcast(Some(false)); WIDE * (DEEP + 1)];
    let bare = best_of(5, || {
        for _ in 0..ROUNDS {
            for at in WIDE..planes.len() {
                let (a, b) = (planes[at - WIDE], planes[at - WIDE + 1 - usize::from(at % WIDE == WIDE - 1)]);
                planes[at] = Planes { one: a.zero & b.zero, zero: a.one | b.one };
            }
            black_box(&mut planes);
        }
    });
    let rate = |seconds: f64| (WIDE * DEEP * ROUNDS) as f64 / seconds / 1e6;
    let (ours, bare) = (rate(ours.as_secs_f64()), rate(bare.as_secs_f64()));
    println!("two-input stages, {} lanes at a time", Word::NONE.0.len() * 64);
    println!("  lanes {ours:>8.1} million stages a second");
    println!(
        "  bare  {bare:>8.1} million, the bit operations alone as built for this machine's base instructions"
    );
    println!("  ratio {:>8.2}", ours / bare);
}

/// Layers of two-input NORs with their pull-ups, each layer reading the one before.
fn layers() -> (Logic, Vec<SignalId>) {
    let mut logic = Logic::default();
    let add = |logic: &mut Logic, role| logic.signals.push(Signal { name: String::new(), net: None, role });
    let inputs: Vec<SignalId> = (0..WIDE).map(|_| add(&mut logic, Role::Input)).collect();
    let mut last = inputs.clone();
    for _ in 0..DEEP {
        let next: Vec<SignalId> = (0..WIDE).map(|_| add(&mut logic, Role::Inside)).collect();
        for (at, &output) in next.iter().enumerate() {
            let rows = [Level::Floating, Level::Zero, Level::Zero, Level::Zero].to_vec();
            let inputs = vec![last[at], last[(at + 1) % WIDE]];
            logic.stages.push(Stage { name: String::new(), inputs, output, function: Function::Found(rows) });
            let rest = Function::Found(vec![Level::WeakOne]);
            logic.stages.push(Stage { name: String::new(), inputs: Vec::new(), output, function: rest });
        }
        last = next;
    }
    (logic, inputs)
}
