//! One entry of a session's log, and what was read with it.

use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Milliseconds since 1970-01-01 00:00 UTC.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Millis(pub i64);

impl Millis {
    /// Date and time of day in UTC, `2026-03-01 17:42:05`, by the proleptic Gregorian calendar.
    pub fn utc(self) -> String {
        let seconds = self.0.div_euclid(1000);
        let (days, rest) = (seconds.div_euclid(86_400), seconds.rem_euclid(86_400));
        // Years counted from 1 March: the leap day is then the last day of its year, and a month's
        // first day is a straight line of slope 153/5 through the months.
        let from_march = days + 719_468;
        let (era, day) = (from_march.div_euclid(146_097), from_march.rem_euclid(146_097));
        let year = (day - day / 1_460 + day / 36_524 - day / 146_096) / 365;
        let day = day - (365 * year + year / 4 - year / 100);
        let month = (5 * day + 2) / 153;
        let date = day - (153 * month + 2) / 5 + 1;
        let (month, carry) = if month < 10 { (month + 3, 0) } else { (month - 9, 1) };
        let year = era * 400 + year + carry;
        let (hour, minute, second) = (rest / 3600, rest / 60 % 60, rest % 60);
        format!("{year:04}-{month:02}-{date:02} {hour:02}:{minute:02}:{second:02}")
    }
}

/// What an entry is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// The hands did something and the lamps were looked at.
    Look,
    /// Every jumper came off and power was switched off and on.
    Afresh,
    /// Something was measured, or touched, where the board stood.
    Measure,
    /// An earlier entry is taken back.
    Undo,
    /// An earlier entry's readings are replaced by these.
    Correction,
    /// A remark for people.
    Note,
    /// Whom the readings pointed to.
    Verdict,
    /// Something was mended or exchanged.
    Repair,
    /// The whole procedure was as expected.
    Passed,
}

impl Kind {
    /// All kinds.
    pub const ALL: [Self; 9] = [
        Self::Look,
        Self::Afresh,
        Self::Measure,
        Self::Undo,
        Self::Correction,
        Self::Note,
        Self::Verdict,
        Self::Repair,
        Self::Passed,
    ];

    /// The word for it, in the store and in exported files.
    pub fn word(self) -> &'static str {
        match self {
            Self::Look => "look",
            Self::Afresh => "afresh",
            Self::Measure => "measure",
            Self::Undo => "undo",
            Self::Correction => "correction",
            Self::Note => "note",
            Self::Verdict => "verdict",
            Self::Repair => "repair",
            Self::Passed => "passed",
        }
    }

    /// The kind of that word.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }
}

/// What sort of thing was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Sort {
    /// A lamp, by eye.
    Lamp,
    /// Volts between a net and ground.
    Volts,
    /// Amperes that the supply shows.
    Supply,
    /// Ohms between two nets, with power off.
    Ohms,
    /// A part that got hot.
    Hot,
    /// A smell of something burning.
    Smelt,
    /// A part that was looked at closely and is as it should be.
    Sound,
}

impl Sort {
    /// All sorts.
    pub const ALL: [Self; 7] =
        [Self::Lamp, Self::Volts, Self::Supply, Self::Ohms, Self::Hot, Self::Smelt, Self::Sound];

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Lamp => "lamp",
            Self::Volts => "volts",
            Self::Supply => "supply",
            Self::Ohms => "ohms",
            Self::Hot => "hot",
            Self::Smelt => "smelt",
            Self::Sound => "sound",
        }
    }

    /// The sort of that word.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|sort| sort.word() == word)
    }
}

/// One thing read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Read {
    /// What sort of thing.
    pub sort: Sort,
    /// The lamp, part or net by name; empty for the supply and for a smell.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub what: String,
    /// The other net of a resistance.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub other: String,
    /// How a lamp looked: `lit`, `dark`, `dim`, `flickering`.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub sight: String,
    /// The figure in volts, amperes or ohms; none where a meter on ohms shows no reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// What a good board was expected to show at that moment, where it was known.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub expected: String,
}

impl Read {
    /// A lamp.
    pub fn lamp(what: impl Into<String>, sight: impl Into<String>, expected: impl Into<String>) -> Self {
        let (what, sight, expected) = (what.into(), sight.into(), expected.into());
        Self { sort: Sort::Lamp, what, other: String::new(), sight, value: None, expected }
    }

    /// A figure.
    pub fn figure(sort: Sort, what: impl Into<String>, value: f64) -> Self {
        let (other, sight, expected) = (String::new(), String::new(), String::new());
        Self { sort, what: what.into(), other, sight, value: Some(value), expected }
    }

    /// Something felt, smelt or looked at.
    pub fn noticed(sort: Sort, what: impl Into<String>) -> Self {
        Self { value: None, ..Self::figure(sort, what, 0.0) }
    }

    /// Whether it is a lamp that was not as expected.
    pub fn is_odd(&self) -> bool {
        self.sort == Sort::Lamp && !self.expected.is_empty() && self.expected != self.sight
    }
}

/// One entry of a session's log.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    /// Chosen by whoever submits it; the same key is never taken twice.
    pub key: String,
    /// When it was taken.
    pub at: Millis,
    /// What it is.
    pub kind: Kind,
    /// The number of the procedure's step, counted from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<u32>,
    /// What the hands did, in the words of the command line: `tie /LD low`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub actions: Vec<String>,
    /// What was read.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Read>,
    /// A note; what was mended.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub text: String,
    /// The fault by name, of a verdict or a repair.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub fault: String,
    /// What sort of fault it is: `bridge`, `open joint`.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub fault_kind: String,
    /// The probability that the verdict gave.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probability: Option<f64>,
    /// The key of the entry that is taken back or corrected.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub about: String,
}

impl Entry {
    /// An entry with nothing but its kind.
    pub fn new(key: impl Into<String>, at: Millis, kind: Kind) -> Self {
        Self {
            key: key.into(),
            at,
            kind,
            step: None,
            actions: Vec::new(),
            readings: Vec::new(),
            text: String::new(),
            fault: String::new(),
            fault_kind: String::new(),
            probability: None,
            about: String::new(),
        }
    }
}

/// The entries that stand: without what was taken back, and with corrected readings in place of those
/// they correct.
pub fn standing(entries: &[Entry]) -> Vec<Entry> {
    let mut gone: BTreeSet<&str> = BTreeSet::new();
    // Backwards, since what takes something back may itself be taken back later.
    for entry in entries.iter().rev() {
        if entry.kind == Kind::Undo && !gone.contains(entry.key.as_str()) {
            gone.insert(&entry.about);
        }
    }
    let mut left: Vec<Entry> = Vec::new();
    for entry in entries.iter().filter(|entry| !gone.contains(entry.key.as_str())) {
        match entry.kind {
            Kind::Undo => {}
            Kind::Correction => {
                if let Some(wrong) = left.iter_mut().find(|known| known.key == entry.about) {
                    wrong.readings.clone_from(&entry.readings);
                }
            }
            _ => left.push(entry.clone()),
        }
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_those_of_the_calendar() {
        // 2000-02-29 is a leap day though 1900 has none (Gregorian rule); the count of seconds of the
        // first date is the one that IEEE Std 1003.1 uses as its example of "seconds since the Epoch".
        assert_eq!(Millis(0).utc(), "1970-01-01 00:00:00");
        assert_eq!(Millis(951_782_400_000).utc(), "2000-02-29 00:00:00");
        assert_eq!(Millis(951_868_799_999).utc(), "2000-02-29 23:59:59");
        assert_eq!(Millis(951_868_800_000).utc(), "2000-03-01 00:00:00");
        assert_eq!(Millis(-1).utc(), "1969-12-31 23:59:59");
        assert_eq!(Millis(1_767_225_599_000).utc(), "2025-12-31 23:59:59");
    }

    #[test]
    fn what_is_taken_back_is_gone_and_what_is_corrected_changed() {
        let mut first = Entry::new("a", Millis(1), Kind::Look);
        first.readings.push(Read::lamp("DS1", "lit", "lit"));
        let second = Entry::new("b", Millis(2), Kind::Look);
        let mut correction = Entry::new("c", Millis(3), Kind::Correction);
        correction.about = "a".into();
        correction.readings.push(Read::lamp("DS1", "dark", "lit"));
        let mut undo = Entry::new("d", Millis(4), Kind::Undo);
        undo.about = "b".into();
        let mut again = Entry::new("e", Millis(5), Kind::Undo);
        again.about = "c".into();
        let all = [first, second, correction, undo, again];
        let keys = |entries: &[Entry]| entries.iter().map(|e| e.key.clone()).collect::<Vec<_>>();
        let after_correction = standing(&all[..3]);
        assert_eq!(keys(&after_correction), ["a", "b"]);
        assert_eq!(after_correction[0].readings[0].sight, "dark");
        assert_eq!(keys(&standing(&all[..4])), ["a"]);
        assert_eq!(standing(&all)[0].readings[0].sight, "lit", "the correction was taken back");
    }
}
