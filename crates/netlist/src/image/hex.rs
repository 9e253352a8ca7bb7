//! Intel HEX: `:`, a count, a 16-bit address, a kind, the data, and a checksum that brings the sum of all
//! bytes to zero. Kinds 02 and 04 set the upper part of the addresses that follow.
//!
//! Source: Intel, Hexadecimal Object File Format Specification, revision A, 1988.

use super::{Bad, Line, Record, bad, bytes_of, checksum, sum};

/// Reads a line; `base` is the upper part of the address, as earlier lines set it.
pub fn line(line: &str, base: &mut u32) -> Result<Line, Bad> {
    let digits = line.strip_prefix(':').ok_or_else(|| {
        bad("this line does not begin with `:` as the others do".to_owned(), "remove it, or mend its start")
    })?;
    let bytes = bytes_of(digits)?;
    let [count, high, low, kind, rest @ ..] = &bytes[..] else {
        return Err(bad("this record is cut short".to_owned(), "write the image again"));
    };
    let Some((check, data)) = rest.split_last().filter(|(_, data)| data.len() == usize::from(*count)) else {
        return Err(bad(
            format!("the record says {count} bytes and holds {}", rest.len().saturating_sub(1)),
            "write the image again",
        ));
    };
    let should = sum(&bytes[..bytes.len() - 1]).wrapping_neg();
    if *check != should {
        return Err(checksum(*check, should));
    }
    let upper = || match data {
        [high, low] => Ok(u32::from(u16::from_be_bytes([*high, *low]))),
        _ => Err(bad("an address record holds two bytes".to_owned(), "write the image again")),
    };
    match kind {
        0 => {
            let address = base.saturating_add(u32::from(u16::from_be_bytes([*high, *low])));
            return Ok(Line::Data(Record { address, data: data.to_vec() }));
        }
        1 => return Ok(Line::End),
        2 => *base = upper()? << 4,
        4 => *base = upper()? << 16,
        3 | 5 => {}
        other => {
            return Err(bad(format!("a record of kind {other:02X} is not known"), "kinds are 00 to 05"));
        }
    }
    Ok(Line::Other)
}

#[cfg(test)]
mod tests {
    use crate::image::read;

    /// The specification's own sample records.
    #[test]
    fn published_records_are_read() {
        let text = ":04FEDC00210080CFB2\r\n:07002000DBFEDCFADDF62235\r\n:00000001FF\r\n";
        let image = read("image", text.as_bytes()).image.unwrap();
        assert_eq!(image.bytes.len(), 11);
        assert_eq!(image.bytes[&0xfedc], 0x21);
        assert_eq!(image.bytes[&0x26], 0x22);
    }

    #[test]
    fn upper_addresses_hold_for_what_follows() {
        let text = ":020000021000EC\n:0100010041BD\n:020000040001F9\n:0100020042BB\n:00000001FF\n";
        let image = read("image", text.as_bytes()).image.unwrap();
        assert_eq!(image.bytes, [(0x1_0001, 0x41), (0x1_0002, 0x42)].into_iter().collect());
    }

    #[test]
    fn a_wrong_checksum_is_refused() {
        let reading = read("image", b":04FEDC00210080CFB3\n:00000001FF\n");
        assert!(reading.image.is_none());
        assert!(reading.notices[0].text.contains("is B3h and should be B2h"));
    }
}
