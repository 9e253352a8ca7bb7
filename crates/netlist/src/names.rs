//! Names: which words are one, and the table that holds each of them once.

use crate::limits::MAX_NAME;
use rustc_hash::FxHashMap;
use std::rc::Rc;

/// A name of the reading, known by number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Symbol(u32);

/// Every distinct name of a reading.
#[derive(Default)]
pub(crate) struct Names {
    known: FxHashMap<Rc<str>, Symbol>,
    texts: Vec<Rc<str>>,
}

impl Names {
    /// The symbol of `text`.
    pub fn of(&mut self, text: &str) -> Symbol {
        if let Some(symbol) = self.known.get(text) {
            return *symbol;
        }
        let symbol = Symbol(self.texts.len() as u32);
        let text: Rc<str> = text.into();
        self.texts.push(Rc::clone(&text));
        self.known.insert(text, symbol);
        symbol
    }

    /// The symbol of `text` where it was met before.
    pub fn find(&self, text: &str) -> Option<Symbol> {
        self.known.get(text).copied()
    }

    /// The text of `symbol`.
    pub fn text(&self, symbol: Symbol) -> &str {
        &self.texts[symbol.0 as usize]
    }
}

/// Whether `byte` may stand inside a name, `.` between the parts of a path left aside.
fn inside(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || matches!(byte, b'/' | b'_' | b'+' | b'-')
}

/// Whether `text` is a name: a letter, `/` or `_`, then letters, digits and `/ _ + -`.
pub(crate) fn is_name(text: &str) -> bool {
    let bytes = text.as_bytes();
    bytes.len() <= MAX_NAME
        && bytes.first().is_some_and(|byte| byte.is_ascii_alphabetic() || matches!(byte, b'/' | b'_'))
        && bytes.iter().all(|byte| inside(*byte))
}

/// Whether `text` is a name or a path of them, `BIT3.G1.q`; parts after the first may begin with
/// anything a name may hold, for `J1.7`.
pub(crate) fn is_path(text: &str) -> bool {
    match text.find('.') {
        None => is_name(text),
        Some(at) => {
            is_name(&text[..at])
                && text[at + 1..]
                    .split('.')
                    .all(|part| !part.is_empty() && part.len() <= MAX_NAME && part.bytes().all(inside))
        }
    }
}

/// Whether `text` is the path of an instance, `BIT3/G1`.
pub(crate) fn is_section(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(inside)
}

/// Splits a reference designator into its class letters and its number: `Q17` → `Q`, 17.
pub(crate) fn reference(text: &str) -> Option<(&str, u32)> {
    let split = text.bytes().position(|byte| byte.is_ascii_digit())?;
    let (letters, digits) = text.split_at(split);
    let fits = !letters.is_empty()
        && letters.bytes().all(|byte| byte.is_ascii_uppercase())
        && digits.len() <= 7
        && digits.bytes().all(|byte| byte.is_ascii_digit());
    if !fits { None } else { Some((letters, digits.parse().ok()?)) }
}

/// Words that begin a clause at the end of a line, and so are no net's name there.
pub(crate) const CLAUSES: [&str; 6] = ["at", "rot", "pitch", "number", "step", "as"];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_paths_and_references() {
        for name in ["A", "/LD", "_x", "q+", "D3", "a-b/c"] {
            assert!(is_name(name), "{name}");
        }
        for no in ["", "3", "+5V", "a.b", "é", "a[1]", "a=b", "-"] {
            assert!(!is_name(no), "{no}");
        }
        assert!(is_path("BIT3.G1.q") && is_path("J1.7") && is_path("C1.+"));
        assert!(!is_path("a..b") && !is_path(".a") && !is_path("a."));
        assert_eq!(reference("DS12"), Some(("DS", 12)));
        assert_eq!(reference("R1A"), None);
        assert_eq!(reference("R99999999"), None);
    }
}
