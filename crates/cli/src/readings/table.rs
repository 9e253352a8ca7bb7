//! The table: one line a reading, `step N:` or `after ACTIONS:`, then what was seen, with commas.

use super::{Between, Reading, Readings, Seen};
use crate::action;
use dryjoint_units::{Amps, Ohms, Volts};
use std::collections::BTreeMap;

/// Reads the whole table; every problem with its line.
pub fn parse(text: &str) -> Result<Readings, Vec<String>> {
    let mut readings = Readings::default();
    let mut problems = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let line = line.split('#').next().unwrap_or_default().trim();
        if line.is_empty() {
            continue;
        }
        if let Some(name) = line.strip_prefix("board ") {
            readings.board = Some(name.trim().to_owned());
            continue;
        }
        if let Some(parts) = line.strip_prefix("repaired ") {
            let repaired =
                parts.split([' ', ',']).filter(|part| !part.is_empty()).map(str::to_owned).collect();
            readings.readings.push(Reading { line: index + 1, repaired, ..Reading::default() });
            continue;
        }
        match reading(line) {
            Ok(reading) => readings.readings.push(Reading { line: index + 1, ..reading }),
            Err(problem) => problems.push(format!("line {}: {problem}", index + 1)),
        }
    }
    if problems.is_empty() { Ok(readings) } else { Err(problems) }
}

fn reading(line: &str) -> Result<Reading, String> {
    let Some((when, seen)) = line.split_once(':') else {
        return Err("there is no `:` between the step and what was seen".to_owned());
    };
    let mut reading = Reading::default();
    if let Some(number) = when.strip_prefix("step ") {
        let number = number.trim();
        let parsed =
            number.parse().map_err(|_| format!("`{number}` is no step number; write `step 3: …`"))?;
        reading.step = Some(parsed);
    } else if let Some(actions) = when.strip_prefix("after ") {
        reading.actions = Some(action::parse(actions)?);
    } else {
        return Err(format!("`{when}` is neither `step 3` nor `after ACTIONS`"));
    }
    if seen.trim().is_empty() {
        return Err("nothing was seen; write `as expected` or leave the line out".to_owned());
    }
    Ok(Reading { step: reading.step, actions: reading.actions, ..items(seen)? })
}

/// What was seen, with commas.
pub fn items(seen: &str) -> Result<Reading, String> {
    let mut reading = Reading::default();
    for item in seen.split(',') {
        add(&mut reading, item.trim())?;
    }
    Ok(reading)
}

/// A figure and its unit as one word: `D0 3.4 V` as `D0 3.4V`.
pub fn closed_up(item: &str) -> String {
    let mut text = String::new();
    let mut figure = false;
    for word in item.split_whitespace() {
        let unit = figure && UNITS.contains(&word);
        figure = word.parse::<f64>().is_ok();
        text.push_str(if text.is_empty() || unit { "" } else { " " });
        text.push_str(word);
    }
    text
}

/// Units that may stand apart from their figure.
const UNITS: [&str; 10] = ["V", "mV", "uV", "A", "mA", "uA", "R", "Ω", "k", "M"];

fn add(reading: &mut Reading, item: &str) -> Result<(), String> {
    let item = &closed_up(item);
    let mut words: Vec<&str> = item.split_whitespace().collect();
    if let ["hot" | "sound" | "ohms", name, .., "unsure"] | [name, _, "unsure"] = words[..] {
        reading.unsure.push(name.to_owned());
        words.pop();
    }
    match words[..] {
        ["smelt"] => reading.smelt = true,
        ["as", "expected"] | ["rest", "as", "expected"] => reading.rest_as_expected = true,
        ["supply", current] => {
            let amps = Amps::parse(current).map_err(|error| format!("`{current}` is no current: {error}"))?;
            once(&mut reading.supply_amps, amps.0, "the supply's current")?;
        }
        ["as", word] | ["rest", "as", word] => {
            return Err(format!("`{word}` is not `expected`; write `as expected` or `rest as expected`"));
        }
        ["hot", part] => reading.hot.push(part.to_owned()),
        ["sound", part] => reading.sound.push(part.to_owned()),
        ["ohms", a, b, value] => {
            let ohms = match value {
                "open" | "OL" | "ol" => None,
                value => Some(Ohms::parse(value).map_err(|error| {
                    format!(
                        "`{value}` is no resistance: {error}; write `open` where the meter shows no reading"
                    )
                })?),
            };
            reading.ohms.push(Between { nets: [a.to_owned(), b.to_owned()], ohms: ohms.map(|ohms| ohms.0) });
        }
        [name, value] => {
            let seen = match value {
                "lit" | "on" => Some(Seen::Lit),
                "dark" | "off" => Some(Seen::Dark),
                "dim" => Some(Seen::Dim),
                "flickering" => Some(Seen::Flickering),
                _ => None,
            };
            if let Some(seen) = seen {
                agree(&mut reading.lamps, name, seen)?;
            } else if value.ends_with('V') {
                let volts =
                    Volts::parse(value).map_err(|error| format!("`{value}` is no voltage: {error}"))?;
                agree(&mut reading.volts, name, volts.0)?;
            } else if value.chars().all(|c| matches!(c, '0' | '1' | '?')) {
                agree(&mut reading.groups, name, value.to_owned())?;
            } else {
                return Err(format!(
                    "`{value}` is no reading of {name}; write lit, dark, dim, flickering, a group's bits such as 010011, \
                     or volts such as 3.4V"
                ));
            }
        }
        _ => return Err(format!("`{item}` is not a name and what it showed, such as `DS1 dark`")),
    }
    Ok(())
}

fn agree<V: PartialEq>(map: &mut BTreeMap<String, V>, name: &str, value: V) -> Result<(), String> {
    match map.get(name) {
        Some(before) if *before != value => Err(format!("{name} is given twice, and not the same")),
        _ => {
            map.insert(name.to_owned(), value);
            Ok(())
        }
    }
}

fn once(slot: &mut Option<f64>, value: f64, what: &str) -> Result<(), String> {
    match slot {
        Some(before) if *before != value => Err(format!("{what} is given twice, and not the same")),
        _ => {
            *slot = Some(value);
            Ok(())
        }
    }
}
