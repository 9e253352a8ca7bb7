//! A file of readings: what a person saw at the bench, as JSON or as a table of our own.
//!
//! ```text
//! # unit 7, Friday
//! board address
//! step 1: as expected
//! step 2: DS3 dark, rest as expected
//! step 3: ADDRESS 010011
//! after tie /LD low; pulse /P1: DS1 lit, BIT0.q 3.4V, supply 210mA, hot Q7
//! after power off: ohms VCC GND 120R, ohms VCC BIT0.q open, smelt
//! step 4: DS2 dim unsure
//! repaired Q17 R43
//! ```
//!
//! Both forms fill [`Readings`], names as written; [`resolve()`] looks them up on the board.

mod at_the_bench;
mod resolve;
mod table;

pub use at_the_bench::{Gathered, Good, Odd, gather, seen_of};
pub use resolve::{Observed, resolve};
pub use table::{closed_up, items};

use crate::action::Action;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// All that was seen. Read by `dryjoint find FILE --readings FILE`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Readings {
    /// The board's name; checked when it is given.
    #[serde(default)]
    pub board: Option<String>,
    /// What was seen, in order.
    pub readings: Vec<Reading>,
}

/// What was seen once.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// The number of the procedure's step, counted from 1. Either this or `do`.
    #[serde(default)]
    pub step: Option<usize>,
    /// Actions after the reading before, instead of a step of the procedure.
    #[serde(default, rename = "do")]
    pub actions: Option<Vec<Action>>,
    /// Single lamps by reference.
    #[serde(default)]
    pub lamps: BTreeMap<String, Seen>,
    /// Lamp groups as they stand on the board: `1` lit, `0` dark, `?` not read.
    #[serde(default)]
    pub groups: BTreeMap<String, String>,
    /// Whether every lamp not named here was as expected.
    #[serde(default)]
    pub rest_as_expected: bool,
    /// A meter's volts on nets, against ground.
    #[serde(default)]
    pub volts: BTreeMap<String, f64>,
    /// The supply's current in amperes.
    #[serde(default)]
    pub supply_amps: Option<f64>,
    /// A meter's ohms between two nets, with power off.
    #[serde(default)]
    pub ohms: Vec<Between>,
    /// Parts that got hot, by reference.
    #[serde(default)]
    pub hot: Vec<String>,
    /// Parts that were looked at closely and are as they should be, by reference.
    #[serde(default)]
    pub sound: Vec<String>,
    /// Whether it smelt of something burning.
    #[serde(default)]
    pub smelt: bool,
    /// What the reader is not sure of: lamps, lamp groups, parts or nets by name, or `supply`.
    #[serde(default)]
    pub unsure: Vec<String>,
    /// Parts that were repaired or exchanged, by reference, instead of `step` or `do`: what was read before
    /// no longer counts.
    #[serde(default)]
    pub repaired: Vec<String>,
    /// Where in the table it stood; 0 for JSON.
    #[serde(skip)]
    pub line: usize,
}

/// A resistance between two nets.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Between {
    /// The two nets: the red lead on the first, the black one on the other.
    pub nets: [String; 2],
    /// Ohms; none where the meter shows no reading.
    pub ohms: Option<f64>,
}

/// A lamp as the eye has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Seen {
    /// Lit.
    #[serde(alias = "on")]
    Lit,
    /// Dark.
    #[serde(alias = "off")]
    Dark,
    /// Something in between.
    Dim,
    /// It does not keep still.
    Flickering,
}

impl Seen {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Lit => "lit",
            Self::Dark => "dark",
            Self::Dim => "dim",
            Self::Flickering => "flickering",
        }
    }
}

impl Reading {
    /// The reading as a message names it.
    pub fn place(&self, index: usize) -> String {
        match (self.line, self.step) {
            (0, Some(step)) => format!("reading {} (step {step})", index + 1),
            (0, None) => format!("reading {}", index + 1),
            (line, _) => format!("line {line}"),
        }
    }
}

/// Reads either form; every problem on a line of its own.
pub fn parse(text: &str) -> Result<Readings, Vec<String>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim_start().starts_with('{') {
        return serde_json::from_str(text).map_err(|error| vec![format!("not the JSON wanted: {error}")]);
    }
    table::parse(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn both_forms_say_the_same() {
        let table = "board address\nstep 1: as expected\nstep 2: DS3 off, rest as expected # odd\n\n\
                     step 3: ADDRESS 010011\nafter tie /LD low; pulse /P1: DS1 on, BIT0.q 3.4V, supply 210mA, \
                     hot Q7, sound R9, ohms VCC GND 1k2, ohms A B open, smelt\nstep 4: DS2 dim unsure\nrepaired Q17 R43\n";
        let json = r#"{"board":"address","readings":[
            {"step":1,"rest_as_expected":true},
            {"step":2,"lamps":{"DS3":"dark"},"rest_as_expected":true},
            {"step":3,"groups":{"ADDRESS":"010011"}},
            {"do":[{"act":"tie","line":"/LD","to":"low"},{"act":"pulse","line":"/P1"}],
             "lamps":{"DS1":"lit"},"volts":{"BIT0.q":3.4},"supply_amps":0.21,
             "hot":["Q7"],"sound":["R9"],"ohms":[{"nets":["VCC","GND"],"ohms":1200.0},{"nets":["A","B"],"ohms":null}],"smelt":true},
            {"step":4,"lamps":{"DS2":"dim"},"unsure":["DS2"]},{"repaired":["Q17","R43"]}]}"#;
        let mut from_table = parse(table).unwrap();
        assert_eq!(
            from_table.readings.iter().map(|reading| reading.line).collect::<Vec<_>>(),
            [2, 3, 5, 6, 7, 8]
        );
        for reading in &mut from_table.readings {
            reading.line = 0;
        }
        assert_eq!(Ok(from_table), parse(json));
    }

    #[test]
    fn every_bad_line_is_named_with_a_mend() {
        let found =
            parse("step x: DS1 lit\nstep 2 DS1 lit\nstep 3: DS1 bright\nstep 4:\nlamps\n").unwrap_err();
        assert_eq!(
            found,
            [
                "line 1: `x` is no step number; write `step 3: …`",
                "line 2: there is no `:` between the step and what was seen",
                "line 3: `bright` is no reading of DS1; write lit, dark, dim, flickering, a group's bits such as 010011, \
                 or volts such as 3.4V",
                "line 4: nothing was seen; write `as expected` or leave the line out",
                "line 5: there is no `:` between the step and what was seen",
            ]
        );
        assert!(parse("{\"readings\":[{\"stepp\":1}]}").unwrap_err()[0].contains("stepp"));
    }

    #[test]
    fn slips_of_the_pen_are_named_and_a_unit_may_stand_apart() {
        assert_eq!(
            parse("step 1: as expcted\nstep 2: DS1 dark, rest as expetced").unwrap_err(),
            [
                "line 1: `expcted` is not `expected`; write `as expected` or `rest as expected`",
                "line 2: `expetced` is not `expected`; write `as expected` or `rest as expected`",
            ]
        );
        let apart = "step 1: D0 3.4 V, supply 210 mA, ohms A B 22 k, E 5 V unsure";
        let together = "step 1: D0 3.4V, supply 210mA, ohms A B 22k, E 5V unsure";
        assert!(parse(apart).is_ok());
        assert_eq!(parse(apart), parse(together));
    }

    #[test]
    fn one_lamp_twice_in_a_line_must_agree() {
        assert_eq!(
            parse("step 1: DS1 lit, DS1 dark").unwrap_err(),
            ["line 1: DS1 is given twice, and not the same"]
        );
        assert!(parse("step 1: DS1 lit, DS1 on").is_ok());
    }

    proptest! {
        #[test]
        fn nothing_makes_the_reader_panic(text in "(\\PC|\n|step 1: |after |DS1 lit,){0,30}") {
            let _ = parse(&text);
        }
    }
}
