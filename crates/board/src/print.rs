//! A board printed as flat text, in the grammar of the text door: reading it gives the same board.
//!
//! That holds for every board without an error of [`Board::check`] whose cards stand in the order in
//! which parts first use them. Values are printed as builders write them where that is exact, and as
//! a decimal with exponent where it is not.

use crate::{Access, Board, Clock, Line, Net, NetId, Part, PartKind, Supply};
use dryjoint_parts::{LeadOrder, Model, Polarity, library};
use dryjoint_units::{Amps, Farads, Hertz, Ohms, Volts};
use std::collections::BTreeSet;
use std::fmt::{self, Write};

/// Words that mean something behind a part's pins, so that a net of that name is given by pin.
const RESERVED: [&str; 7] = ["at", "rot", "pitch", "number", "step", "as", "polar"];
/// The tolerance that a resistor's line need not name.
const TOLERANCE: f64 = 0.05;

impl fmt::Display for Board {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.name.is_empty() {
            writeln!(f, "board {} {}", self.name, Quoted(&self.title))?;
        }
        nets(self, f)?;
        for named in self.models.rows() {
            if library(&named.name).as_ref() != Some(&named.model) {
                model(&named.name, &named.model, f)?;
            }
        }
        let mut section = "";
        for part in self.parts.rows() {
            if part.section != section {
                section = &part.section;
                writeln!(f, "section {}", if section.is_empty() { "-" } else { section })?;
            }
            part_line(self, part, f)?;
        }
        let references = self.parts.rows().iter().map(|part| part.reference.as_str()).collect();
        for line in self.lines.rows() {
            line_line(self, line, &references, f)?;
        }
        for group in self.lamps.rows() {
            write!(f, "lamps {}", group.name)?;
            for lamp in &group.lamps {
                write!(f, " {}", self.parts[*lamp].reference)?;
            }
            writeln!(f)?;
        }
        for clock in self.clocks.rows() {
            clock_line(self, clock, f)?;
        }
        for phases in &self.phases {
            listed("phases", phases.nets.iter().map(|net| self.nets[*net].name.as_str()), f)?;
        }
        let hidden = self.nets.rows().iter().filter(|net| !net.reachable).map(|net| net.name.as_str());
        listed("hidden", hidden, f)
    }
}

/// Rails, and the other nets too where parts alone would not bring them in their order.
fn nets(board: &Board, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let rails = board.nets.iter().filter(|(_, net)| net.supply.is_some()).map(|(id, _)| id);
    let used = board.parts.rows().iter().flat_map(|part| &part.pins).map(|pin| board.pins[*pin].net);
    let mut met = BTreeSet::new();
    let order: Vec<NetId> = rails.chain(used).filter(|net| met.insert(*net)).collect();
    let natural = order.len() == board.nets.len() && order.is_sorted();
    let mut waiting: Vec<&str> = Vec::new();
    for net in board.nets.rows() {
        let Some(supply) = net.supply else {
            if !natural {
                waiting.push(&net.name);
            }
            continue;
        };
        listed("net", waiting.drain(..), f)?;
        match supply {
            Supply::Ground => writeln!(f, "ground {}", net.name)?,
            Supply::Rail { volts, limit } => {
                writeln!(f, "rail {} {} limit {}", net.name, exact_volts(volts), exact_amps(limit))?;
            }
        }
    }
    listed("net", waiting.drain(..), f)
}

/// `keyword` with names behind it, some to a line.
fn listed<'n>(
    keyword: &str,
    names: impl Iterator<Item = &'n str>,
    f: &mut fmt::Formatter<'_>,
) -> fmt::Result {
    let mut column = 0;
    for name in names {
        if column == 0 {
            write!(f, "{keyword}")?;
        }
        write!(f, " {name}")?;
        column += name.len() + 1;
        if column > 90 {
            writeln!(f)?;
            column = 0;
        }
    }
    if column > 0 { writeln!(f) } else { Ok(()) }
}

fn model(name: &str, model: &Model, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let kind = match model {
        Model::Bipolar(card) if card.polarity == Polarity::Pnp => "pnp",
        Model::Bipolar(_) => "npn",
        Model::Diode(_) => "diode",
        Model::Lamp(_) => "lamp",
        // No part of a board has such a card.
        Model::Mosfet(_) => return Ok(()),
    };
    write!(f, "model {name} {kind}")?;
    for (key, value) in model.parameters() {
        if value.is_infinite() {
            write!(f, " {key}=inf")?;
        } else {
            write!(f, " {key}={value:e}")?;
        }
    }
    match model {
        Model::Bipolar(card) => match card.leads {
            LeadOrder::Ebc => write!(f, " leads=ebc")?,
            LeadOrder::Cbe => write!(f, " leads=cbe")?,
        },
        Model::Lamp(lamp) => write!(f, " colour={}", lamp.colour)?,
        _ => {}
    }
    writeln!(f)
}

fn part_line(board: &Board, part: &Part, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    write!(f, "{} ", part.reference)?;
    let mut by_name = false;
    match &part.kind {
        PartKind::Resistor { ohms, .. } => write!(f, "{}", exact_ohms(*ohms))?,
        PartKind::Capacitor { farads, polar } => {
            write!(f, "{}{}", exact_farads(*farads), if *polar { " polar" } else { "" })?;
            by_name = *polar;
        }
        PartKind::Diode(model) | PartKind::Lamp(model) | PartKind::Bipolar(model) => {
            write!(f, "{}", board.models[*model].name)?;
            by_name = true;
        }
        PartKind::Button => f.write_str("button")?,
        PartKind::Toggle => f.write_str("toggle")?,
        PartKind::Link => f.write_str("link")?,
        PartKind::TestPoint => f.write_str("testpoint")?,
        PartKind::Selector | PartKind::Header => {
            f.write_str(if part.kind == PartKind::Header { "header" } else { "selector" })?;
            by_name = true;
        }
    }
    let pins = || part.pins.iter().map(|pin| &board.pins[*pin]);
    by_name |= pins().any(|pin| RESERVED.contains(&board.nets[pin.net].name.as_str()));
    for pin in pins() {
        let net = &board.nets[pin.net];
        let net = if open(net, &part.reference, &pin.name) { "-" } else { &net.name };
        if by_name {
            write!(f, " {}={net}", pin.name)?;
        } else {
            write!(f, " {net}")?;
        }
    }
    if let PartKind::Resistor { tolerance, .. } = part.kind
        && tolerance != TOLERANCE
    {
        write!(f, " {}%", percent(tolerance))?;
    }
    if let Some(place) = part.place {
        write!(f, " at {} {}", place.x.0, place.y.0)?;
        if place.rotation != 0.0 {
            write!(f, " rot {}", place.rotation)?;
        }
    }
    writeln!(f)
}

/// Whether a net is that of a pin left open, `J1.7`, which is printed as `-`.
fn open(net: &Net, reference: &str, pin: &str) -> bool {
    net.pins.len() == 1
        && net.supply.is_none()
        && net.name.strip_prefix(reference).and_then(|rest| rest.strip_prefix('.')) == Some(pin)
}

fn line_line(
    board: &Board,
    line: &Line,
    references: &BTreeSet<&str>,
    f: &mut fmt::Formatter<'_>,
) -> fmt::Result {
    write!(f, "line {} ", line.name)?;
    let net = &board.nets[line.net];
    let contact = match line.access {
        Access::Contact(part) => {
            write!(f, "{}", board.parts[part].reference)?;
            true
        }
        _ => {
            // A name that is a part's or a pin's as well would be taken for that.
            let taken = references.contains(net.name.as_str())
                || net.name.rsplit_once('.').is_some_and(|(part, _)| references.contains(part));
            write!(f, "{}{}", if taken { "net " } else { "" }, net.name)?;
            false
        }
    };
    match line.active_high {
        Some(false) => write!(f, " active low")?,
        Some(true) => write!(f, " active high")?,
        None if contact || line.name.starts_with('/') => write!(f, " active either")?,
        None => {}
    }
    match (line.access, line.active_high) {
        (Access::TieLow, Some(true)) => write!(f, " tie low")?,
        (Access::TieHigh, Some(false) | None) => write!(f, " tie high")?,
        _ => {}
    }
    if !line.purpose.is_empty() {
        write!(f, " {}", Quoted(&line.purpose))?;
    }
    writeln!(f)
}

fn clock_line(board: &Board, clock: &Clock, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    write!(f, "clock {}", board.nets[clock.net].name)?;
    if let Some(complement) = clock.complement {
        write!(f, " not {}", board.nets[complement].name)?;
    }
    if let Some(selector) = clock.selector {
        write!(f, " selector {}", board.parts[selector].reference)?;
    }
    for rate in &clock.rates {
        if rate.position.is_empty() {
            write!(f, " {}", exact_hertz(rate.rate))?;
        } else {
            write!(f, " {}={}", rate.position, exact_hertz(rate.rate))?;
        }
    }
    writeln!(f)
}

/// Text in quotes, as the scanner undoes them.
struct Quoted<'t>(&'t str);

impl fmt::Display for Quoted<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_char('"')?;
        for letter in self.0.chars() {
            match letter {
                '"' => f.write_str("\\\"")?,
                '\\' => f.write_str("\\\\")?,
                '\n' => f.write_str("\\n")?,
                '\r' => f.write_str("\\r")?,
                other => f.write_char(other)?,
            }
        }
        f.write_char('"')
    }
}

/// A quantity as builders write it where four digits are all there is to it, in full otherwise.
macro_rules! exact {
    ($name:ident, $unit:ident) => {
        fn $name(value: $unit) -> String {
            let spoken = value.to_string();
            if $unit::parse(&spoken) == Ok(value) { spoken } else { format!("{:e}", value.0) }
        }
    };
}
exact!(exact_ohms, Ohms);
exact!(exact_farads, Farads);
exact!(exact_volts, Volts);
exact!(exact_amps, Amps);
exact!(exact_hertz, Hertz);

/// .05 as `5`: the decimal point moved two places, so that nothing is lost on the way.
fn percent(part: f64) -> String {
    let decimal = format!("{part}");
    let (sign, decimal) = decimal.strip_prefix('-').map_or(("", &*decimal), |rest| ("-", rest));
    let (whole, part) = decimal.split_once('.').unwrap_or((decimal, ""));
    let (two, rest) = part.split_at(part.len().min(2));
    let whole = format!("{whole}{two:0<2}");
    let whole = whole.trim_start_matches('0');
    let whole = if whole.is_empty() { "0" } else { whole };
    if rest.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{rest}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentages_lose_nothing() {
        for (part, text) in
            [(0.05, "5"), (0.1, "10"), (0.001, "0.1"), (0.0025, "0.25"), (1.5, "150"), (0.0, "0")]
        {
            assert_eq!(percent(part), text);
        }
    }

    #[test]
    fn values_print_as_spoken_only_where_that_is_exact() {
        assert_eq!(exact_ohms(Ohms(2200.0)), "2k2");
        assert_eq!(exact_ohms(Ohms(2200.01)), "2.20001e3");
        assert_eq!(exact_farads(Farads(1e-5)), "10uF");
        assert_eq!(exact_volts(Volts(5.0)), "5V");
    }
}
