//! A flat netlist into logic, once it is known to be one: every net that is read has exactly one
//! driver, no loop of gates is closed without a flip-flop, and one input clocks all flip-flops.

use super::Gates;
use super::flatten::{Driver, Flat, Net};
use super::problem::{Code, Problem};
use dryjoint_ids::Table;
use dryjoint_logic::{Function, Gate, Level, Logic, Role, Signal, SignalId, Stage};

/// Checks the netlist and fills the logic form.
pub(super) fn build(flat: Flat, problems: &mut Vec<Problem>) -> Option<Gates> {
    let found = problems.len();
    let clock = clock(&flat, problems);
    drivers(&flat, found == 0, problems);
    if problems.len() == found {
        loops(&flat, problems);
    }
    if !problems.is_empty() {
        return None;
    }
    let mut signals: Table<SignalId, Signal> = Table::new();
    let mut of: Vec<Option<SignalId>> = vec![None; flat.nets.len()];
    for &net in flat.inputs.iter().filter(|net| Some(**net) != clock) {
        of[net as usize] = Some(signals.push(signal(&flat.nets[net as usize].0, Role::Input)));
    }
    for element in &flat.elements {
        let name = &flat.nets[element.output as usize].0;
        of[element.output as usize] = Some(signals.push(signal(name, Role::Inside)));
    }
    let at = |net: Net| of[net as usize].expect("what is read is driven, as checked above");
    let mut stages = Table::new();
    for element in &flat.elements {
        let (inputs, function) = match &element.driver {
            Driver::Gate(gate, inputs) => (inputs.iter().map(|n| at(*n)).collect(), Function::Gate(*gate)),
            Driver::Constant(high) => (Vec::new(), Function::Found(vec![Level::from(*high)])),
            Driver::Flop(_, data) => (vec![at(*data)], Function::Flop),
        };
        stages.push(Stage { name: element.name.clone(), inputs, output: at(element.output), function });
    }
    for (name, net) in &flat.outputs {
        let output = signals.push(signal(name, Role::Seen));
        let function = Function::Gate(Gate::Buf);
        stages.push(Stage { name: name.clone(), inputs: vec![at(*net)], output, function });
    }
    let clock = clock.map(|net| flat.nets[net as usize].0.clone());
    Some(Gates { name: flat.name, logic: Logic { signals, stages, ..Logic::default() }, clock })
}

fn signal(name: &str, role: Role) -> Signal {
    Signal { name: name.to_owned(), net: None, role }
}

/// The nets an element reads as data.
fn reads(driver: &Driver) -> &[Net] {
    match driver {
        Driver::Gate(_, inputs) => inputs,
        Driver::Flop(_, data) => std::slice::from_ref(data),
        Driver::Constant(_) => &[],
    }
}

/// The one clock input, where there are flip-flops.
fn clock(flat: &Flat, problems: &mut Vec<Problem>) -> Option<Net> {
    let mut clock: Option<Net> = None;
    for element in &flat.elements {
        let Driver::Flop(net, _) = element.driver else { continue };
        let name = &flat.nets[net as usize].0;
        match clock {
            None if flat.inputs.contains(&net) => clock = Some(net),
            None => {
                let text =
                    format!("the flip-flop `{}` is clocked by `{name}`, which is no input", element.name);
                problems.push(Problem::new(
                    Code::Clock,
                    element.at,
                    text,
                    "clock all flip-flops from one input",
                ));
                return None;
            }
            Some(one) if one != net => {
                let text = format!(
                    "the flip-flop `{}` is clocked by `{name}`, others by `{}`",
                    element.name, flat.nets[one as usize].0
                );
                problems.push(Problem::new(
                    Code::Clock,
                    element.at,
                    text,
                    "clock all flip-flops from one input",
                ));
                return None;
            }
            Some(_) => {}
        }
    }
    let net = clock?;
    let reader = flat.elements.iter().find(|e| reads(&e.driver).contains(&net));
    let shown = flat.outputs.iter().any(|(_, output)| *output == net);
    if reader.is_some() || shown {
        let at = reader.map_or(flat.at, |e| e.at);
        let text = format!("the clock `{}` is also read as data", flat.nets[net as usize].0);
        problems.push(Problem::new(Code::Clock, at, text, "keep the clock to the flip-flops"));
    }
    Some(net)
}

/// Every net that is read has one driver. In a netlist that could not be read whole the driver may be in
/// what was not read, so its lack is no news.
fn drivers(flat: &Flat, whole: bool, problems: &mut Vec<Problem>) {
    let mut driver: Vec<Option<String>> = vec![None; flat.nets.len()];
    for &net in &flat.inputs {
        driver[net as usize] = Some("the bench (it is an input)".to_owned());
    }
    for element in &flat.elements {
        let slot = &mut driver[element.output as usize];
        let name = &flat.nets[element.output as usize].0;
        match slot {
            None => *slot = Some(format!("`{}` in line {}", element.name, element.at.line)),
            Some(first) => {
                let text = format!("the net `{name}` is driven by `{}` and by {first}", element.name);
                problems.push(Problem::new(Code::SeveralDrivers, element.at, text, "leave it one driver"));
            }
        }
    }
    if !whole {
        return;
    }
    let mut told = vec![false; flat.nets.len()];
    let mut undriven = |net: Net, by: String| {
        if driver[net as usize].is_none() && !std::mem::replace(&mut told[net as usize], true) {
            let (name, at) = &flat.nets[net as usize];
            let text = format!("nothing drives the net `{name}`, which {by} reads");
            problems.push(Problem::new(Code::Undriven, *at, text, "drive it, or mend its name"));
        }
    };
    for element in &flat.elements {
        for &net in reads(&element.driver) {
            undriven(net, format!("`{}` in line {}", element.name, element.at.line));
        }
    }
    for (name, net) in &flat.outputs {
        undriven(*net, format!("the output `{name}`"));
    }
}

/// No gate waits for itself. One loop is named for each knot of gates.
fn loops(flat: &Flat, problems: &mut Vec<Problem>) {
    let mut driver: Vec<Option<usize>> = vec![None; flat.nets.len()];
    for (k, element) in flat.elements.iter().enumerate() {
        if matches!(element.driver, Driver::Gate(..)) {
            driver[element.output as usize] = Some(k);
        }
    }
    let sources = |k: usize| reads(&flat.elements[k].driver).iter().filter_map(|net| driver[*net as usize]);
    // 0 not met, 1 on the way, 2 done; the way is kept by hand so that a long chain is no deep call.
    let mut met = vec![0_u8; flat.elements.len()];
    for start in 0..flat.elements.len() {
        if met[start] != 0 || !matches!(flat.elements[start].driver, Driver::Gate(..)) {
            continue;
        }
        let mut way: Vec<(usize, Vec<usize>)> = vec![(start, sources(start).collect())];
        met[start] = 1;
        let mut told = false;
        while let Some((gate, rest)) = way.last_mut() {
            let Some(next) = rest.pop() else {
                met[*gate] = 2;
                way.pop();
                continue;
            };
            if met[next] == 0 {
                met[next] = 1;
                way.push((next, sources(next).collect()));
            } else if met[next] == 1 && !told {
                told = true;
                let from = way.iter().position(|(k, _)| *k == next).unwrap_or(0);
                // Along the flow, from the gate that stands first in the text.
                let mut gates: Vec<usize> = way[from..].iter().rev().map(|(k, _)| *k).collect();
                let start = (0..gates.len()).min_by_key(|&k| gates[k]).unwrap_or(0);
                gates.rotate_left(start);
                let at = flat.elements[gates[0]].at;
                let mut names: Vec<&str> = gates.iter().map(|k| flat.elements[*k].name.as_str()).collect();
                let count = names.len();
                if count > 8 {
                    names.truncate(8);
                    names.push("…");
                }
                let text = format!("a loop of {count} gates without a flip-flop: {}", names.join(" → "));
                problems.push(Problem::new(Code::Loop, at, text, "break it with a `dff`"));
            }
        }
    }
}
