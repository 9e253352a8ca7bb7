//! Brackets in names: `D[#]`, `C[#+1]`, `d[0..3]`, `DS[6..1]`.
//!
//! `#` is the index of the array element the line is read for. `[expr]` puts the number in the
//! bracket's place; `[a..b]` makes a name for every number from a to b, up or down. An expression is
//! a sum of products of whole numbers and `#`.

use crate::limits::MAX_RANGE;

/// Why brackets could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum BadIndex {
    /// No `]` for a `[`.
    Open,
    /// Something that is no sum of numbers and `#`.
    Expression(String),
    /// `#` where no array is.
    NoArray,
    /// Below zero.
    Negative(i64),
    /// Beyond what a name may carry, or a sum that runs over.
    Huge,
    /// A range longer than allowed.
    Long(u64),
    /// More than one range in a name.
    TwoRanges,
    /// A range where one name belongs.
    RangeHere,
}

impl BadIndex {
    /// What is wrong, and how to mend it.
    pub fn words(&self) -> (String, String) {
        let (text, mend) = match self {
            Self::Open => ("a `[` without its `]`".into(), "write `D[3]`, `D[#]` or `D[0..3]`"),
            Self::Expression(what) => (
                format!("`{what}` is no index"),
                "an index is a sum such as `#+1` or `4*#`, a range two of them with `..` between",
            ),
            Self::NoArray => (
                "`#` has no array here".into(),
                "`#` is the index of an array line such as `BIT[0..5] …`; write the number itself",
            ),
            Self::Negative(value) => (format!("the index comes to {value}"), "an index is zero or more"),
            Self::Huge => ("the index is beyond all measure".into(), "an index has at most seven digits"),
            Self::Long(count) => {
                (format!("a range of {count} names"), "a range makes at most 10000 names; split it")
            }
            Self::TwoRanges => {
                ("two ranges in one name".into(), "a name holds one range; write the outer one out")
            }
            Self::RangeHere => {
                ("a range where one name belongs".into(), "write one name, or give the line an array index")
            }
        };
        (text, mend.into())
    }
}

/// Whether `word` is a whole number.
fn number(word: &str) -> Option<i64> {
    if word.is_empty() || word.len() > 7 || !word.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    word.parse().ok()
}

/// The value of a sum of products.
fn sum(expression: &str, index: Option<u32>) -> Result<i64, BadIndex> {
    let mut total = 0i64;
    let mut rest = expression;
    let mut sign = 1i64;
    loop {
        let end = rest.find(['+', '-']).unwrap_or(rest.len());
        let mut product = 1i64;
        for factor in rest[..end].split('*') {
            let value = match factor {
                "#" => i64::from(index.ok_or(BadIndex::NoArray)?),
                digits => number(digits).ok_or_else(|| BadIndex::Expression(expression.into()))?,
            };
            product = product.checked_mul(value).ok_or(BadIndex::Huge)?;
        }
        total = total.checked_add(sign * product.min(i64::MAX / 2)).ok_or(BadIndex::Huge)?;
        match rest.as_bytes().get(end) {
            None => break,
            Some(b'+') => sign = 1,
            Some(_) => sign = -1,
        }
        rest = &rest[end + 1..];
    }
    Ok(total)
}

/// An index that a name may carry.
fn index_of(expression: &str, index: Option<u32>) -> Result<u32, BadIndex> {
    let value = sum(expression, index)?;
    if value < 0 {
        return Err(BadIndex::Negative(value));
    }
    if value > 9_999_999 { Err(BadIndex::Huge) } else { Ok(value as u32) }
}

/// The two ends of `a..b`.
pub(crate) fn range(inside: &str, index: Option<u32>) -> Result<Option<(u32, u32)>, BadIndex> {
    let Some((from, to)) = inside.split_once("..") else { return Ok(None) };
    let (from, to) = (index_of(from, index)?, index_of(to, index)?);
    let count = u64::from(from.abs_diff(to)) + 1;
    if count > MAX_RANGE { Err(BadIndex::Long(count)) } else { Ok(Some((from, to))) }
}

/// The numbers from `from` to `to`, up or down.
pub(crate) fn steps(from: u32, to: u32) -> impl Iterator<Item = u32> {
    let down = from > to;
    (0..=from.abs_diff(to)).map(move |step| if down { from - step } else { from + step })
}

/// Puts numbers in place of the brackets of `word` and hands each name made to `each`.
/// Returns whether a range made them.
pub(crate) fn expand(word: &str, index: Option<u32>, mut each: impl FnMut(&str)) -> Result<bool, BadIndex> {
    let mut head = String::new();
    let mut tail = String::new();
    let mut ends = None;
    let mut rest = word;
    while let Some(open) = rest.find('[') {
        let close = rest[open..].find(']').ok_or(BadIndex::Open)? + open;
        let inside = &rest[open + 1..close];
        let part = if ends.is_some() { &mut tail } else { &mut head };
        part.push_str(&rest[..open]);
        match range(inside, index)? {
            Some(_) if ends.is_some() => return Err(BadIndex::TwoRanges),
            Some(found) => ends = Some(found),
            None => part.push_str(&index_of(inside, index)?.to_string()),
        }
        rest = &rest[close + 1..];
    }
    if rest.contains(']') {
        return Err(BadIndex::Open);
    }
    match ends {
        None => {
            head.push_str(rest);
            each(&head);
            Ok(false)
        }
        Some((from, to)) => {
            tail.push_str(rest);
            let kept = head.len();
            for step in steps(from, to) {
                head.truncate(kept);
                head.push_str(&step.to_string());
                head.push_str(&tail);
                each(&head);
            }
            Ok(true)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(word: &str, index: Option<u32>) -> Result<Vec<String>, BadIndex> {
        let mut out = Vec::new();
        expand(word, index, |name| out.push(name.to_owned()))?;
        Ok(out)
    }

    #[test]
    fn indices_and_ranges() {
        assert_eq!(names("D[#]", Some(3)).unwrap(), ["D3"]);
        assert_eq!(names("C[#+1]x", Some(3)).unwrap(), ["C4x"]);
        assert_eq!(names("W[2*#-1]_[#]", Some(3)).unwrap(), ["W5_3"]);
        assert_eq!(names("DS[3..1]", None).unwrap(), ["DS3", "DS2", "DS1"]);
        assert_eq!(names("B[#].q[0..1]z", Some(7)).unwrap(), ["B7.q0z", "B7.q1z"]);
    }

    #[test]
    fn what_is_no_index_is_refused() {
        assert_eq!(names("D[#]", None), Err(BadIndex::NoArray));
        assert_eq!(names("D[#-1]", Some(0)), Err(BadIndex::Negative(-1)));
        assert_eq!(names("D[", None), Err(BadIndex::Open));
        assert_eq!(names("D]", None), Err(BadIndex::Open));
        assert_eq!(names("D[]", None), Err(BadIndex::Expression(String::new())));
        assert_eq!(names("D[1..2][3..4]", None), Err(BadIndex::TwoRanges));
        assert_eq!(names("D[0..9999999]", None), Err(BadIndex::Long(10_000_000)));
        assert_eq!(names("D[9999999*9999999*9999999]", None), Err(BadIndex::Huge));
    }
}
