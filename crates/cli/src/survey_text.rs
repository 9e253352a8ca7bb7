//! A survey read aloud: what to set before power, what to expect, where it is tight.

use crate::shape::survey::{Draw, Margin, Survey};
use crate::{render, ties_text, timing_text};
use dryjoint_units::{Amps, Ohms};
use std::fmt::Write as _;

/// Rows of a table that a person still reads; the document has them all.
const ROWS: usize = 8;

/// The whole survey.
pub fn text(survey: &Survey) -> String {
    let mut text = ties_text::unpowered(&survey.unpowered);
    if let Some(supply) = &survey.supply {
        text.push_str(&power(supply));
    }
    text.push_str(&lamps(survey));
    text.push_str(&ties_text::ties(&survey.ties));
    text.push_str(&timing_text::text(&survey.timing));
    text.push_str(&levels(survey));
    text.push_str(&kinds(survey));
    text.push_str(&drive(survey));
    text.push_str(&limits(survey));
    text
}

fn power(supply: &Draw) -> String {
    let mut text = render::heading("First power");
    let _ = writeln!(text, "Set the supply's current limit to {}.", Amps(supply.limit));
    if let Some([least, most]) = supply.idle {
        let _ = writeln!(
            text,
            "With nothing tied, once every latch holds a known value, it gives {}.",
            range(least, most)
        );
    }
    let _ = writeln!(
        text,
        "In all states tried: usually {}, {} at most; {} with the worst resistors and the rail 5 % high.",
        Amps(supply.typical),
        Amps(supply.most),
        Amps(supply.worst)
    );
    text
}

/// `4mA to 6mA`, or one figure where both ends read the same.
fn range(least: f64, most: f64) -> String {
    let ends = [least, most].map(|amps| Amps(amps).to_string());
    if ends[0] == ends[1] { ends[0].clone() } else { ends.join(" to ") }
}

fn lamps(survey: &Survey) -> String {
    let lit: Vec<f64> = survey.lamps.iter().filter_map(|lamp| lamp.lit_amps).flatten().collect();
    let (Some(least), Some(most)) =
        (lit.iter().copied().reduce(f64::min), lit.iter().copied().reduce(f64::max))
    else {
        return String::new();
    };
    let looks = |wanted: &str| {
        let names = survey.lamps.iter().filter(|lamp| lamp.looks.as_deref() == Some(wanted));
        names.map(|lamp| lamp.lamp.clone()).collect::<Vec<_>>()
    };
    let mut text = format!("Lamps: {} when lit", range(least, most));
    if survey.lamps.iter().all(|lamp| matches!(lamp.looks.as_deref(), Some("lit") | None)) {
        text.push_str(", and all plainly lit");
    }
    for (word, meaning) in [("dim", "only dim"), ("dark", "not to be seen")] {
        let names = looks(word);
        if !names.is_empty() {
            let _ = write!(text, "; {} {meaning}", names.join(" "));
        }
    }
    let glow =
        survey.lamps.iter().filter(|lamp| lamp.dark_looks.as_deref().is_some_and(|looks| looks != "dark"));
    let glow: Vec<&str> = glow.map(|lamp| lamp.lamp.as_str()).collect();
    if glow.is_empty() {
        text.push_str("; none glows when it should be dark");
    } else {
        let _ = write!(text, "; {} glow when they should be dark", glow.join(" "));
    }
    text.push_str(".\n");
    text
}

fn levels(survey: &Survey) -> String {
    let mut text = render::heading("Tightest levels");
    text.push_str("`now` is left with typical parts up to unity gain; `worst` with the worst parts, rail ±5 %, 0 to 50 °C.\n");
    let rows = survey.margins.iter().map(|row| {
        let side = |margin: &Option<Margin>| {
            let volts = |value: f64| format!("{value:.2} V");
            match margin {
                Some(margin) => [margin.level, margin.wanted, margin.typical, margin.worst].map(volts),
                None => std::array::from_fn(|_| "-".to_owned()),
            }
        };
        let fan = survey.fan_out.iter().find(|fan| fan.net == row.net);
        let left = fan.map_or("-".to_owned(), |fan| fan.left.to_string());
        let mut cells = vec![row.net.clone(), row.receivers.to_string(), left];
        cells.extend(side(&row.high));
        cells.extend(side(&row.low));
        cells
    });
    let head =
        ["net", "feeds", "left", "high", "read from", "now", "worst", "low", "read to", "now", "worst"];
    text.push_str(&render::table(&head, &[1, 2, 3, 4, 5, 6, 7, 8, 9, 10], alike(rows)));
    if let Some(load) = survey.usual_load_ohms {
        let full: Vec<String> =
            survey.fan_out.iter().filter(|row| row.left == 0).map(|row| row.net.clone()).collect();
        let load = Ohms(load);
        let _ = writeln!(text, "`left` counts further {load} loads that the worst case still bears.");
        if !full.is_empty() {
            text.push_str(&render::wrapped("No further load on: ", &full, 110));
        }
    }
    text
}

fn kinds(survey: &Survey) -> String {
    if survey.kinds.is_empty() {
        return String::new();
    }
    let mut text = render::heading("Kinds of stages");
    let rows = survey.kinds.iter().map(|kind| {
        let more = kind.drivers.len() - 1;
        let like =
            if more > 0 { format!("{} + {more} alike", kind.drivers[0]) } else { kind.drivers[0].clone() };
        let high = |loads: usize| kind.high_volts.get(loads).map_or("-".to_owned(), |v| format!("{v:.2} V"));
        let mut cells = vec![like, kind.inputs.to_string()];
        cells.extend(kind.reads.iter().map(|volts| format!("{volts:.2} V")));
        cells.extend(LOADS.map(high));
        cells.push(kind.feeds.to_string());
        cells
    });
    let loads = LOADS.map(|loads| format!("high, {loads}"));
    let mut head = vec!["stage", "inputs", "low to", "high from"];
    head.extend(loads.iter().map(String::as_str));
    head.push("feeds");
    text.push_str(&render::table(&head, &[1, 2, 3, 4, 5, 6, 7, 8], rows.take(ROWS)));
    if let Some(load) = survey.usual_load_ohms {
        let _ = writeln!(
            text,
            "`high, 5` is its high with five {} loads; `feeds` the most that one of them has here.",
            Ohms(load)
        );
    }
    text
}

/// Loads in the table of kinds.
const LOADS: [usize; 4] = [1, 3, 5, 10];

fn drive(survey: &Survey) -> String {
    let mut text = render::heading("Weakest drive");
    let rows = survey.driven.iter().map(|row| {
        vec![
            row.part.clone(),
            format!("{:.0}", row.forced_beta),
            format!("{:.0}", row.least_gain),
            format!("{:.1}", row.overdrive),
            Amps(row.collector_amps).to_string(),
            format!("{:.2} V", row.across_volts),
        ]
    });
    let head = ["part", "forced beta", "weakest copy", "overdrive", "collector", "across"];
    text.push_str(&render::table(&head, &[1, 2, 3, 4, 5], alike(rows).into_iter().take(ROWS / 2)));
    text
}

/// Rows that differ by their name only, as one; at most [`ROWS`] of them.
pub fn alike(rows: impl Iterator<Item = Vec<String>>) -> Vec<Vec<String>> {
    let mut found: Vec<(Vec<String>, usize)> = Vec::new();
    for row in rows {
        if let Some((_, more)) = found.iter_mut().find(|(known, _)| known[1..] == row[1..]) {
            *more += 1;
        } else {
            found.push((row, 0));
        }
    }
    found.truncate(ROWS);
    let name = |(mut row, more): (Vec<String>, usize)| {
        if more > 0 {
            let _ = write!(row[0], " + {more} alike");
        }
        row
    };
    found.into_iter().map(name).collect()
}

fn limits(survey: &Survey) -> String {
    let mut text = render::heading("Nearest to a limit");
    // One line for each kind of limit and share: the rest is the same part many times.
    let mut told: Vec<(String, Vec<String>)> = Vec::new();
    for row in &survey.limits {
        let what = format!("{:3.0} %  {}", row.share * 100.0, row.on);
        if let Some((_, parts)) = told.iter_mut().find(|(known, _)| *known == what) {
            parts.push(row.part.clone());
        } else if told.len() < ROWS / 2 {
            told.push((what, vec![row.part.clone()]));
        } else {
            break;
        }
    }
    for (what, parts) in told {
        let more = parts.len().saturating_sub(ROWS);
        let mut line = format!("{what}  {}", parts[..parts.len() - more].join(" "));
        if more > 0 {
            let _ = write!(line, " and {more} more");
        }
        let _ = writeln!(text, "{line}");
    }
    text
}
