//! Actions as a person types them and as JSON carries them.
//!
//! ```text
//! tie /LD low; pulse /P1; wait 2 clocks
//! [{"act":"tie","line":"/LD","to":"low"},{"act":"pulse","line":"/P1"},{"act":"wait","clocks":2}]
//! ```
//!
//! Names stand as the board text gives them; whether the board has them is asked later.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;

/// One thing a hand does.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "act", rename_all = "lowercase", deny_unknown_fields)]
pub enum Action {
    /// Join a line to ground or to the rail with a jumper.
    Tie {
        /// The line's name.
        line: String,
        /// Ground or rail.
        to: To,
    },
    /// Take the jumper of a line away, or let a button go.
    Release {
        /// The line's name, or the button's reference.
        line: String,
    },
    /// Make a line act once: to its acting level and back.
    Pulse {
        /// The line's name.
        line: String,
    },
    /// Press a button and let go.
    Press {
        /// The button's reference, or the name of the line it works.
        switch: String,
    },
    /// Press a button and keep it down, until `release`.
    Hold {
        /// The button's reference, or the name of the line it works.
        switch: String,
    },
    /// Set a toggle switch.
    Set {
        /// The switch's reference, or the name of the line it works.
        switch: String,
        /// On: closed.
        to: OnOff,
    },
    /// Turn a selector switch.
    Select {
        /// The switch's reference.
        switch: String,
        /// The position's name.
        position: String,
    },
    /// Let the board's clock run for some of its periods.
    Wait {
        /// How many.
        clocks: u32,
    },
    /// Let a clock run where nobody can count its periods: turn its selector to a position for a second or
    /// longer, then between two.
    Run {
        /// The switch's reference.
        switch: String,
        /// The position's name.
        position: String,
    },
    /// Switch the supply.
    Power {
        /// On or off.
        to: OnOff,
    },
}

/// What a line is tied to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum To {
    /// Ground.
    Low,
    /// The rail.
    High,
}

/// The state of a toggle or of the supply.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum OnOff {
    /// Closed; supplied.
    On,
    /// Open; without power.
    Off,
}

impl fmt::Display for OnOff {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if *self == Self::On { "on" } else { "off" })
    }
}

impl fmt::Display for Action {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tie { line, to: To::Low } => write!(f, "tie {line} low"),
            Self::Tie { line, to: To::High } => write!(f, "tie {line} high"),
            Self::Release { line } => write!(f, "release {line}"),
            Self::Pulse { line } => write!(f, "pulse {line}"),
            Self::Press { switch } => write!(f, "press {switch}"),
            Self::Hold { switch } => write!(f, "hold {switch}"),
            Self::Set { switch, to } => write!(f, "set {switch} {to}"),
            Self::Select { switch, position } => write!(f, "select {switch} {position}"),
            Self::Wait { clocks: 1 } => write!(f, "wait 1 clock"),
            Self::Wait { clocks } => write!(f, "wait {clocks} clocks"),
            Self::Run { switch, position } => write!(f, "run {switch} {position}"),
            Self::Power { to } => write!(f, "power {to}"),
        }
    }
}

/// Reads actions in either form; the message of a refusal says which one and how to write it.
pub fn parse(text: &str) -> Result<Vec<Action>, String> {
    if text.trim_start().starts_with(['[', '{']) {
        let list = if text.trim_start().starts_with('{') { format!("[{text}]") } else { text.to_owned() };
        return serde_json::from_str(&list)
            .map_err(|error| format!("the actions are not the JSON wanted: {error}"));
    }
    text.split([';', '\n']).map(str::trim).filter(|one| !one.is_empty()).map(parse_one).collect()
}

fn parse_one(text: &str) -> Result<Action, String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let name = |word: &str| word.to_owned();
    Ok(match words[..] {
        ["tie", line, "low"] => Action::Tie { line: name(line), to: To::Low },
        ["tie", line, "high"] => Action::Tie { line: name(line), to: To::High },
        ["release", line] => Action::Release { line: name(line) },
        ["pulse", line] => Action::Pulse { line: name(line) },
        ["press", switch] => Action::Press { switch: name(switch) },
        ["hold", switch] => Action::Hold { switch: name(switch) },
        ["set", switch, "on"] => Action::Set { switch: name(switch), to: OnOff::On },
        ["set", switch, "off"] => Action::Set { switch: name(switch), to: OnOff::Off },
        ["select", switch, position] => Action::Select { switch: name(switch), position: name(position) },
        ["wait", count, "clock" | "clocks"] => match count.parse() {
            Ok(clocks) => Action::Wait { clocks },
            Err(_) => return Err(format!("`{text}`: `{count}` is no count of clocks")),
        },
        ["run", switch, position] => Action::Run { switch: name(switch), position: name(position) },
        ["power", "on"] => Action::Power { to: OnOff::On },
        ["power", "off"] => Action::Power { to: OnOff::Off },
        _ => return Err(format!("`{text}` is no action; {}", form_of(words.first().copied()))),
    })
}

/// How the action that was probably meant is written.
fn form_of(verb: Option<&str>) -> &'static str {
    match verb {
        Some("tie") => "write `tie LINE low` or `tie LINE high`",
        Some("release") => "write `release LINE`",
        Some("pulse") => "write `pulse LINE`",
        Some("press") => "write `press S1`",
        Some("hold") => "write `hold S1`",
        Some("set") => "write `set S2 on` or `set S2 off`",
        Some("select") => "write `select S3 POSITION`",
        Some("wait") => "write `wait 2 clocks`",
        Some("run") => "write `run S3 POSITION`",
        Some("power") => "write `power on` or `power off`",
        _ => "known are tie, release, pulse, press, hold, set, select, wait, run, power",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn both_forms_say_the_same() {
        let text = "tie /LD low; release /LD\npulse /P1;press S1; hold S1; set S2 on; select S3 slow; wait 2 clocks; run S3 fast; power off";
        let json = r#"[{"act":"tie","line":"/LD","to":"low"},{"act":"release","line":"/LD"},
            {"act":"pulse","line":"/P1"},{"act":"press","switch":"S1"},{"act":"hold","switch":"S1"},{"act":"set","switch":"S2","to":"on"},
            {"act":"select","switch":"S3","position":"slow"},{"act":"wait","clocks":2},{"act":"run","switch":"S3","position":"fast"},
            {"act":"power","to":"off"}]"#;
        assert_eq!(parse(text), parse(json));
        assert_eq!(parse(text).map(|actions| actions.len()), Ok(10));
        assert_eq!(parse(" ; "), Ok(Vec::new()));
        assert_eq!(parse(r#"{"act":"release","line":"A"}"#).map(|actions| actions.len()), Ok(1));
    }

    #[test]
    fn what_is_no_action_is_refused_with_the_right_form() {
        for (text, mend) in [
            ("tie /LD", "`tie /LD` is no action; write `tie LINE low` or `tie LINE high`"),
            ("wait two clocks", "`wait two clocks`: `two` is no count of clocks"),
            (
                "push S1",
                "`push S1` is no action; known are tie, release, pulse, press, hold, set, select, wait, run, power",
            ),
        ] {
            assert_eq!(parse(text), Err(mend.to_owned()));
        }
        assert!(parse(r#"[{"act":"tie","line":"A","to":"low","twice":1}]"#).is_err());
    }

    proptest! {
        #[test]
        fn nothing_makes_the_reader_panic(text in ".{0,40}") {
            let _ = parse(&text);
        }

        #[test]
        fn what_is_printed_reads_back(line in "/?[A-Z][A-Z0-9+-]{0,6}", clocks in 0u32..9, low: bool) {
            let to = if low { To::Low } else { To::High };
            let actions = [
                Action::Tie { line: line.clone(), to },
                Action::Select { switch: line.clone(), position: line },
                Action::Wait { clocks },
            ];
            let text = actions.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ");
            prop_assert_eq!(parse(&text), Ok(actions.to_vec()));
        }
    }
}
