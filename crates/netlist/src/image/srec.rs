//! Motorola S-record: `S`, a kind, a count, an address of two to four bytes by the kind, the data, and the
//! ones' complement of the sum of the bytes before it.
//!
//! Source: Motorola M68000 Family Programmer's Reference Manual, appendix C, S-Record Output Format.

use super::{Bad, Line, Record, bad, bytes_of, checksum, sum};

/// Reads a line.
pub fn line(line: &str) -> Result<Line, Bad> {
    let mut letters = line.chars();
    let begins = letters.next().is_some_and(|letter| letter.eq_ignore_ascii_case(&'S'));
    let kind = letters.next().and_then(|kind| kind.to_digit(10));
    let (true, Some(kind)) = (begins, kind) else {
        return Err(bad(
            "this line does not begin with `S` and a digit as the others do".to_owned(),
            "remove it, or mend its start",
        ));
    };
    let address_bytes = match kind {
        0 | 1 | 5 | 9 => 2,
        2 | 6 | 8 => 3,
        3 | 7 => 4,
        _ => return Err(bad(format!("a record of kind S{kind} is not known"), "kinds are S0 to S9 but S4")),
    };
    let bytes = bytes_of(letters.as_str())?;
    let Some((check, counted)) = bytes.split_last() else {
        return Err(bad("this record is cut short".to_owned(), "write the image again"));
    };
    let held = bytes.len() - 1;
    if usize::from(bytes[0]) != held || held < address_bytes + 1 {
        return Err(bad(
            format!("the record says {} bytes and holds {held}", bytes[0]),
            "write the image again",
        ));
    }
    let should = !sum(counted);
    if *check != should {
        return Err(checksum(*check, should));
    }
    let (address, data) = counted[1..].split_at(address_bytes);
    let address = address.iter().fold(0_u32, |sum, byte| sum << 8 | u32::from(*byte));
    Ok(match kind {
        1..=3 => Line::Data(Record { address, data: data.to_vec() }),
        7..=9 => Line::End,
        _ => Line::Other,
    })
}

#[cfg(test)]
mod tests {
    use crate::image::read;

    /// Published sample records, the header among them.
    #[test]
    fn published_records_are_read() {
        let text = "S00600004844521B\nS107FEDC210080CFAE\nS9030000FC\n";
        let image = read("image", text.as_bytes()).image.unwrap();
        assert_eq!(image.bytes.into_values().collect::<Vec<_>>(), [0x21, 0, 0x80, 0xcf]);
    }

    /// A published record with a known slip: the checksum should be 91.
    #[test]
    fn a_record_with_a_wrong_checksum_is_refused() {
        let reading = read("image", b"S113C0008EC058A6802706AD9FA00220F6108E00A4\nS9030000FC\n");
        assert!(reading.image.is_none());
        assert!(reading.notices[0].text.contains("is A4h and should be 91h"));
    }

    #[test]
    fn addresses_have_the_width_of_their_kind() {
        let image = read("image", b"S206FF000041B9\nS5030001FB\nS804FF0000FC\n");
        assert!(image.image.is_none(), "one more byte is told than held");
        let image = read("image", b"S205FF000041BA\nS5030001FB\nS804FF0000FC\n").image.unwrap();
        assert_eq!(image.bytes, [(0xff_0000, 0x41)].into_iter().collect());
    }
}
