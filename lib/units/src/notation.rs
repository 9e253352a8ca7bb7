//! Engineering notation: the prefix letter may stand where the decimal point would.
//!
//! `4k7` is 4.7 kΩ, `0R1` a tenth of an ohm, `100n` a hundred nanofarads, `1M` a megohm, `2.2m`
//! two point two milli. The letter code with the point in the letter's place is that of IEC 60062;
//! for resistors `R` marks the point of a value without prefix. `E` and `L`, which that standard
//! also knows, are not read.

use std::fmt;

/// Why a quantity could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ParseQuantityError {
    /// There is no digit in it.
    NoNumber,
    /// The letter is no prefix known here.
    UnknownPrefix(char),
    /// A character that belongs to no value.
    Unexpected(char),
    /// Another unit's symbol than the one wanted.
    WrongUnit {
        /// What was asked for.
        wanted: &'static str,
    },
}

impl fmt::Display for ParseQuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoNumber => write!(f, "no number in it"),
            Self::UnknownPrefix(c) => write!(f, "`{c}` is no prefix; known are f p n u m R k M G"),
            Self::Unexpected(c) => write!(f, "`{c}` has no place in a value"),
            Self::WrongUnit { wanted } => write!(f, "the unit is not {wanted}"),
        }
    }
}

impl std::error::Error for ParseQuantityError {}

fn scale(prefix: char) -> Option<i32> {
    Some(match prefix {
        'f' => -15,
        'p' => -12,
        'n' => -9,
        'u' | 'µ' | 'μ' => -6,
        'm' => -3,
        'R' => 0,
        'k' | 'K' => 3,
        'M' => 6,
        'G' => 9,
        _ => return None,
    })
}

/// Reads a value in engineering notation; `symbol` is the unit that may follow it.
///
/// ```
/// # use dryjoint_units::parse;
/// assert_eq!(parse("4k7", "R"), Ok(4700.0));
/// assert_eq!(parse("0R1", "R"), Ok(0.1));
/// assert_eq!(parse("100nF", "F"), Ok(1e-7));
/// assert_eq!(parse("500mA", "A"), Ok(0.5));
/// ```
pub fn parse(text: &str, symbol: &'static str) -> Result<f64, ParseQuantityError> {
    use ParseQuantityError as Error;
    let (negative, rest) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text),
    };
    let split = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
    let (head, rest) = rest.split_at(split);
    let mut digits = head.to_owned();
    let mut power = 0;
    let mut rest = rest;
    // The unit's own symbol wins over a prefix of the same letter only when it ends the text.
    if rest != symbol
        && let Some(letter) = rest.chars().next()
    {
        power = scale(letter).ok_or(Error::UnknownPrefix(letter))?;
        rest = &rest[letter.len_utf8()..];
        let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        if end > 0 {
            if digits.contains('.') {
                return Err(Error::Unexpected('.'));
            }
            digits.push('.');
            digits.push_str(&rest[..end]);
            rest = &rest[end..];
        }
    }
    if !rest.is_empty() && rest != symbol && !(symbol == "R" && (rest == "Ω" || rest == "ohm")) {
        return Err(Error::WrongUnit { wanted: symbol });
    }
    if !digits.contains(|c: char| c.is_ascii_digit()) {
        return Err(Error::NoNumber);
    }
    // The exponent goes through the decimal reader, so that `4k7` is exactly the float nearest 4700.
    let value: f64 = format!("{digits}e{power}").parse().map_err(|_| Error::Unexpected('.'))?;
    Ok(if negative { -value } else { value })
}

/// Writes `value` with at most four digits, the prefix letter in the point's place for ohms.
pub(crate) fn write(f: &mut fmt::Formatter<'_>, value: f64, symbol: &str) -> fmt::Result {
    const PREFIXES: [(&str, i32); 9] =
        [("f", -15), ("p", -12), ("n", -9), ("u", -6), ("m", -3), ("", 0), ("k", 3), ("M", 6), ("G", 9)];
    if !value.is_finite() {
        return write!(f, "{value}{symbol}");
    }
    let four = format!("{value:.3e}");
    let (mantissa, exponent) = four.split_once('e').unwrap_or((&four, "0"));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    let group = if value == 0.0 { 0 } else { exponent.div_euclid(3) * 3 };
    let group = group.clamp(-15, 9);
    let prefix = PREFIXES.iter().find(|(_, power)| *power == group).map_or("", |(name, _)| name);
    let shown: f64 = format!("{mantissa}e{}", exponent - group).parse().unwrap_or(0.0);
    let places = (3 - (exponent - group)).max(0) as usize;
    let mut digits = format!("{shown:.places$}");
    if digits.contains('.') {
        digits.truncate(digits.trim_end_matches('0').trim_end_matches('.').len());
    }
    if symbol == "R" {
        let letter = if prefix.is_empty() { "R" } else { prefix };
        return match digits.split_once('.') {
            Some((whole, part)) => f.pad(&format!("{whole}{letter}{part}")),
            None => f.pad(&format!("{digits}{letter}")),
        };
    }
    f.pad(&format!("{digits}{prefix}{symbol}"))
}

#[cfg(test)]
mod tests {
    use crate::{Farads, Ohms, ParseQuantityError, Seconds, Volts, parse};
    use proptest::prelude::*;

    #[test]
    fn values_as_builders_write_them() {
        for (text, ohms) in [
            ("4k7", 4700.0),
            ("4R7", 4.7),
            ("0R1", 0.1),
            ("10K", 10e3),
            ("2.2k", 2200.0),
            ("220", 220.0),
            ("220R", 220.0),
            ("1M", 1e6),
            ("10m", 0.01),
            ("R47", 0.47),
        ] {
            assert_eq!(parse(text, "R"), Ok(ohms), "{text}");
        }
        assert_eq!(Farads::parse("2n9"), Ok(Farads(2.9e-9)));
        assert_eq!(Seconds::parse("60ms"), Ok(Seconds(0.06)));
        assert_eq!(Volts::parse("-12"), Ok(Volts(-12.0)));
    }

    #[test]
    fn what_is_no_value_is_refused_with_the_reason() {
        assert_eq!(parse("k", "R"), Err(ParseQuantityError::NoNumber));
        assert_eq!(parse("", "R"), Err(ParseQuantityError::NoNumber));
        assert_eq!(parse("4q7", "R"), Err(ParseQuantityError::UnknownPrefix('q')));
        assert_eq!(parse("4.7k1", "R"), Err(ParseQuantityError::Unexpected('.')));
        assert_eq!(parse("10uF", "R"), Err(ParseQuantityError::WrongUnit { wanted: "R" }));
        assert_eq!(parse("1.2.3", "R"), Err(ParseQuantityError::Unexpected('.')));
    }

    #[test]
    fn values_print_as_they_are_spoken() {
        assert_eq!(Ohms(4700.0).to_string(), "4k7");
        assert_eq!(Ohms(0.1).to_string(), "100m");
        assert_eq!(Ohms(150.0).to_string(), "150R");
        assert_eq!(Volts(4.612).to_string(), "4.612V");
        assert_eq!(Volts(0.0).to_string(), "0V");
        assert_eq!(Volts(999.96).to_string(), "1kV");
        assert_eq!(Farads(1e-5).to_string(), "10uF");
    }

    proptest! {
        #[test]
        fn nothing_makes_the_reader_panic(text in ".{0,12}") {
            let _ = parse(&text, "R");
        }

        #[test]
        fn four_digits_survive_printing(digits in 1000u32..10_000, power in -12i32..6) {
            let value: f64 = format!("{digits}e{power}").parse().unwrap();
            prop_assert_eq!(Ohms::parse(&Ohms(value).to_string()), Ok(Ohms(value)));
            prop_assert_eq!(Farads::parse(&Farads(value).to_string()), Ok(Farads(value)));
        }
    }
}
