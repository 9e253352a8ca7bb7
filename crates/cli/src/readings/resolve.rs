//! Readings looked up on the board: names become parts and nets, groups become lamps.

use super::{Between, Reading, Readings, Seen};
use crate::action::Action;
use dryjoint_board::{Board, Entity, NetId, PartId, PartKind, nearest};
use dryjoint_units::{Amps, Ohms, Volts};
use std::collections::{BTreeMap, BTreeSet};

/// One reading with everything found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Observed {
    /// Each lamp that was named.
    pub seen: BTreeMap<PartId, Seen>,
    /// A meter's readings.
    pub volts: Vec<(NetId, Volts)>,
    /// The supply's current.
    pub supply: Option<Amps>,
    /// Ohms between two nets.
    pub ohms: Vec<(NetId, NetId, Ohms)>,
    /// Parts that got hot.
    pub hot: Vec<PartId>,
    /// Parts that were looked at closely and are as they should be.
    pub sound: Vec<PartId>,
    /// Parts that were repaired.
    pub repaired: Vec<PartId>,
    /// Whether it smelt.
    pub smelt: bool,
    /// Lamps, parts and nets whose reader is not sure.
    pub unsure: BTreeSet<Entity>,
}

/// Looks everything up; every problem with its place.
pub fn resolve(board: &Board, readings: &Readings) -> Result<Vec<Observed>, Vec<String>> {
    let mut problems = Vec::new();
    if let Some(name) = &readings.board
        && *name != board.name
    {
        problems.push(format!("the readings are of board `{name}`, the text is of board `{}`", board.name));
    }
    let mut found: Vec<Observed> = Vec::new();
    let mut steps_read: BTreeMap<usize, usize> = BTreeMap::new();
    for (index, reading) in readings.readings.iter().enumerate() {
        let place = reading.place(index);
        let mut here = Vec::new();
        let lamps = look_up(board, reading, &mut here);
        match (reading.step, &reading.actions) {
            (Some(step), None) => {
                if let Some(&before) = steps_read.get(&step) {
                    let other = readings.readings[before].place(before);
                    conflicts(board, &found[before], &lamps, &other, &mut here);
                }
                steps_read.insert(step, index);
            }
            (None, Some(actions)) => {
                // After power was off the steps are made anew.
                if actions.iter().any(|action| matches!(action, Action::Power { .. })) {
                    steps_read.clear();
                }
            }
            (None, None) if !reading.repaired.is_empty() => steps_read.clear(),
            _ => here.push("give either `step` or `do`".to_owned()),
        }
        if !reading.ohms.is_empty() {
            steps_read.clear();
        }
        problems.extend(here.into_iter().map(|problem| format!("{place}: {problem}")));
        found.push(lamps);
    }
    if problems.is_empty() { Ok(found) } else { Err(problems) }
}

fn conflicts(board: &Board, before: &Observed, now: &Observed, other: &str, problems: &mut Vec<String>) {
    for (lamp, seen) in &now.seen {
        if let Some(earlier) = before.seen.get(lamp)
            && earlier != seen
        {
            let name = &board.parts[*lamp].reference;
            problems.push(format!(
                "{name} is {} here and {} in {other}, of the same step; keep the one you trust",
                seen.word(),
                earlier.word()
            ));
        }
    }
}

fn look_up(board: &Board, reading: &Reading, problems: &mut Vec<String>) -> Observed {
    let supply = reading.supply_amps.map(Amps);
    let mut lamps = Observed { supply, smelt: reading.smelt, ..Observed::default() };
    for (name, seen) in &reading.lamps {
        match lamp(board, name) {
            Ok(part) => add(board, &mut lamps, part, *seen, problems),
            Err(problem) => problems.push(problem),
        }
    }
    for (name, bits) in &reading.groups {
        match group(board, name, bits) {
            Ok(members) => {
                for (part, seen) in members {
                    add(board, &mut lamps, part, seen, problems);
                }
            }
            Err(problem) => problems.push(problem),
        }
    }
    for (name, volts) in &reading.volts {
        match net(board, name) {
            Ok(net) => lamps.volts.push((net, Volts(*volts))),
            Err(problem) => problems.push(problem),
        }
    }
    for Between { nets: [a, b], ohms } in &reading.ohms {
        match (net(board, a), net(board, b)) {
            (Ok(a), Ok(b)) => lamps.ohms.push((a, b, Ohms(ohms.unwrap_or(f64::INFINITY)))),
            (a, b) => problems.extend([a.err(), b.err()].into_iter().flatten()),
        }
    }
    let of_parts = [
        (&reading.hot, &mut lamps.hot),
        (&reading.sound, &mut lamps.sound),
        (&reading.repaired, &mut lamps.repaired),
    ];
    for (names, parts) in of_parts {
        for name in names {
            match board.parts.iter().find(|(_, part)| part.reference == *name) {
                Some((part, _)) => parts.push(part),
                None => problems.push(format!("there is no part `{name}`")),
            }
        }
    }
    for name in &reading.unsure {
        let meant = unsure(board, name);
        if meant.is_empty() {
            problems.push(format!("nothing is called `{name}`, so nobody can be unsure of it"));
        }
        lamps.unsure.extend(meant);
    }
    lamps
}

/// What a name can mean on a board: a lamp or part, a net, the lamps of a group, or the supply.
fn unsure(board: &Board, name: &str) -> Vec<Entity> {
    let parts = board.parts.iter().filter(|(_, part)| part.reference == name);
    let nets = board.nets.iter().filter(|(_, net)| net.name == name);
    let groups = board.lamps.rows().iter().filter(|group| group.name == name);
    parts
        .map(|(part, _)| Entity::Part(part))
        .chain(nets.map(|(net, _)| Entity::Net(net)))
        .chain(groups.flat_map(|group| group.lamps.iter().map(|&lamp| Entity::Part(lamp))))
        .chain((name == "supply").then_some(Entity::Board))
        .collect()
}

fn add(board: &Board, lamps: &mut Observed, part: PartId, seen: Seen, problems: &mut Vec<String>) {
    if let Some(before) = lamps.seen.insert(part, seen)
        && before != seen
    {
        let name = &board.parts[part].reference;
        problems.push(format!("{name} is both {} and {}", before.word(), seen.word()));
    }
}

fn net(board: &Board, name: &str) -> Result<NetId, String> {
    board.nets.iter().find(|(_, net)| net.name == name).map(|(id, _)| id).ok_or_else(|| {
        let names = board.nets.rows().iter().map(|net| net.name.as_str());
        format!("there is no net `{name}`{}", meant(name, names))
    })
}

fn lamp(board: &Board, name: &str) -> Result<PartId, String> {
    if let Some((id, _)) = lamps(board).find(|(_, reference)| *reference == name) {
        return Ok(id);
    }
    // A group of one lamp is as good as its lamp.
    if let Some(group) = board.lamps.rows().iter().find(|group| group.name == name) {
        return match group.lamps[..] {
            [single] => Ok(single),
            _ => Err(format!(
                "`{name}` is a group of {} lamps; write its bits, most significant first",
                group.lamps.len()
            )),
        };
    }
    if board.parts.rows().iter().any(|part| part.reference == name) {
        return Err(format!("`{name}` is no lamp"));
    }
    Err(format!("there is no lamp `{name}`{}", meant(name, lamps(board).map(|(_, reference)| reference))))
}

fn group(board: &Board, name: &str, bits: &str) -> Result<Vec<(PartId, Seen)>, String> {
    let Some(group) = board.lamps.rows().iter().find(|group| group.name == name) else {
        let names: BTreeSet<&str> = board.lamps.rows().iter().map(|group| group.name.as_str()).collect();
        return Err(format!("there is no lamp group `{name}`{}", meant(name, names)));
    };
    if bits.chars().count() != group.lamps.len() {
        return Err(format!(
            "{name} has {} lamps, but `{bits}` has {}",
            group.lamps.len(),
            bits.chars().count()
        ));
    }
    let mut members = Vec::new();
    for (part, bit) in group.lamps.iter().zip(bits.chars()) {
        match bit {
            '1' => members.push((*part, Seen::Lit)),
            '0' => members.push((*part, Seen::Dark)),
            '?' => {}
            _ => return Err(format!("`{bit}` in {name} is neither 1, 0 nor ?")),
        }
    }
    Ok(members)
}

fn lamps(board: &Board) -> impl Iterator<Item = (PartId, &str)> {
    board
        .parts
        .iter()
        .filter(|(_, part)| matches!(part.kind, PartKind::Lamp(_)))
        .map(|(id, part)| (id, part.reference.as_str()))
}

fn meant<'a>(wrong: &str, names: impl IntoIterator<Item = &'a str>) -> String {
    nearest(wrong, names).map_or(String::new(), |name| format!("; did you mean `{name}`?"))
}
