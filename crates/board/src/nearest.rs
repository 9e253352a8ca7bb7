//! The name that was likely meant: what a slip of the finger makes of a known one.
//!
//! Two slips count as alike (one in a name of up to four letters), a swap of two neighbours as one
//! slip; the distance is the optimal string alignment distance, from a library.

/// The name among `names` closest to `wrong`, where one is close enough; the first of equals.
///
/// ```
/// # use dryjoint_board::nearest;
/// assert_eq!(nearest("CARY", ["SUM", "CARRY"]), Some("CARRY"));
/// assert_eq!(nearest("X", ["Q"]), None);
/// ```
pub fn nearest<'n>(wrong: &str, names: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    if !(2..=64).contains(&wrong.len()) {
        return None;
    }
    let slips = if wrong.len() <= 4 { 1 } else { 2 };
    let mut best: Option<(usize, &str)> = None;
    for name in names {
        if name == wrong || name.len().abs_diff(wrong.len()) > 2 * slips {
            continue;
        }
        let distance = if wrong.eq_ignore_ascii_case(name) { 1 } else { strsim::osa_distance(wrong, name) };
        if distance <= slips && best.is_none_or(|(least, _)| distance < least) && !other_index(wrong, name) {
            best = Some((distance, name));
        }
    }
    best.map(|(_, name)| name)
}

/// Whether two names differ in their number only: `D3` is not `D4` misspelt, but `BC574` is `BC547`.
fn other_index(one: &str, other: &str) -> bool {
    let split = |name: &str| {
        let stem = name.trim_end_matches(|c: char| c.is_ascii_digit()).len();
        let mut digits = name.as_bytes()[stem..].to_vec();
        digits.sort_unstable();
        (stem, digits)
    };
    let ((stem, digits), (other_stem, other_digits)) = (split(one), split(other));
    let letters_only = !one.as_bytes()[..stem].iter().any(u8::is_ascii_digit);
    one.as_bytes()[..stem] == other.as_bytes()[..other_stem] && letters_only && digits != other_digits
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn slips_are_found_and_other_numbers_are_not() {
        assert_eq!(nearest("nro2", ["nand2", "nor2", "nor3"]), Some("nor2"));
        assert_eq!(nearest("gnd", ["GND"]), Some("GND"));
        assert_eq!(nearest("D3", ["D4", "D13"]), None);
        assert_eq!(nearest("2N3094", ["2N3906", "2N3904"]), Some("2N3904"));
        assert_eq!(nearest("CLOCK", ["RESET"]), None);
    }
}
