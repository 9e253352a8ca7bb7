//! Values in the text: what `dryjoint_units` reads, plain decimals with an exponent, percentages.

use dryjoint_units::parse;

/// Reads a value in engineering notation, or as a decimal with exponent such as `1e-14`, which is how
/// a card's figures are printed in full.
pub(crate) fn read(word: &str, symbol: &'static str) -> Result<f64, String> {
    let decimal = word.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e'))
        && word.bytes().any(|b| b.is_ascii_digit());
    if decimal {
        let value: f64 = word.parse().map_err(|_| "it is no decimal number".to_owned())?;
        return if value.is_finite() { Ok(value) } else { Err("it is beyond all measure".into()) };
    }
    match parse(word, symbol) {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err("it is beyond all measure".into()),
        Err(why) => Err(why.to_string()),
    }
}

/// Reads a plain number of millimetres or degrees.
pub(crate) fn plain(word: &str) -> Option<f64> {
    let word = word.strip_suffix("mm").unwrap_or(word);
    let decimal = word.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'e'));
    if !decimal {
        return None;
    }
    word.parse().ok().filter(|value: &f64| value.is_finite() && value.abs() <= 1e6)
}

/// Reads `5%` as .05.
pub(crate) fn percent(word: &str) -> Option<f64> {
    let digits = word.strip_suffix('%')?;
    if !digits.bytes().all(|b| b.is_ascii_digit() || b == b'.' || b == b'e' || b == b'-') {
        return None;
    }
    // Through the decimal reader, so that what is printed as a percentage comes back the same.
    format!("{digits}e-2")
        .parse()
        .ok()
        .or_else(|| digits.parse::<f64>().ok().map(|v| v / 100.0))
        .filter(|value: &f64| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_as_boards_write_them() {
        assert_eq!(read("2k2", "R"), Ok(2200.0));
        assert_eq!(read("1e-14", "A"), Ok(1e-14));
        assert_eq!(read("500mA", "A"), Ok(0.5));
        assert_eq!(percent("5%"), Some(0.05));
        assert_eq!(percent("0.1%"), Some(0.001));
        assert_eq!(plain("12.7mm"), Some(12.7));
        assert!(read("1e999", "R").is_err() && read("k", "R").is_err() && read("-", "R").is_err());
        assert_eq!(plain("inf"), None);
    }
}
