//! The image of a memory: which byte is burnt at which address.
//!
//! Three forms are read: Intel HEX, Motorola S-record, and the bare bytes. Both record forms are told by
//! their first letter; a file that is neither is bare bytes from address 0. Everything wrong is reported
//! at once, at its line, and an image with an error is not used: a byte that is not certain is not burnt.

mod hex;
mod srec;

use crate::{FileId, Placed, Sources, Span};
use std::collections::BTreeMap;

/// An address beyond this is a slip of the pen: no parallel memory of such a machine is that large.
const MOST_ADDRESS: u32 = 0xff_ffff;
/// Problems that are told; a file with more of them is simply not an image.
const MOST_PROBLEMS: usize = 50;

/// What a memory holds: a byte at every address that the file names.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Image {
    /// Bytes by address.
    pub bytes: BTreeMap<u32, u8>,
}

/// What came of a file, ready to be drawn.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The image; nothing where there is an error.
    pub image: Option<Image>,
    /// The text.
    pub sources: Sources,
    /// What is wrong, in the order of the text.
    pub notices: Vec<Placed>,
}

/// One record of either form.
struct Record {
    address: u32,
    data: Vec<u8>,
}

/// What a line of a record file is.
enum Line {
    /// Bytes for the memory.
    Data(Record),
    /// Something that says nothing about the memory: a header, a count, a start address.
    Other,
    /// The last record.
    End,
}

/// What is wrong with a line.
struct Bad {
    text: String,
    mend: &'static str,
}

fn bad(text: String, mend: &'static str) -> Bad {
    Bad { text, mend }
}

/// Reads the file `name`.
///
/// ```
/// let text = b":04FEDC00210080CFB2\n:00000001FF\n";
/// let reading = dryjoint_netlist::image::read("program.hex", text);
/// assert_eq!(reading.image.expect("no errors").bytes[&0xfedf], 0xcf);
/// ```
pub fn read(name: &str, bytes: &[u8]) -> Reading {
    let mut sources = Sources::default();
    let first = bytes.iter().find(|byte| !byte.is_ascii_whitespace());
    let records = matches!(first, Some(b':' | b'S' | b's')) && bytes.is_ascii();
    if !records {
        let file = sources.push(name.to_owned(), String::new());
        let notices: Vec<Placed> = no_bare_bytes(file, bytes).into_iter().collect();
        let image = || Image { bytes: (0..).zip(bytes.iter().copied()).collect() };
        return Reading { image: notices.is_empty().then(image), sources, notices };
    }
    let text = String::from_utf8_lossy(bytes).into_owned();
    let file = sources.push(name.to_owned(), text.clone());
    let (image, notices) = read_records(file, &text, first == Some(&b':'));
    Reading { image: notices.is_empty().then_some(image), sources, notices }
}

/// Why a file that does not begin as a record is no image of bare bytes either.
fn no_bare_bytes(file: FileId, bytes: &[u8]) -> Option<Placed> {
    let records = bytes.split(|byte| *byte == b'\n').any(|line| match line.trim_ascii() {
        [b':', rest @ ..] => rest.len() >= 10 && rest.iter().all(u8::is_ascii_hexdigit),
        [b'S' | b's', b'0'..=b'9', rest @ ..] => rest.len() >= 6 && rest.iter().all(u8::is_ascii_hexdigit),
        _ => false,
    });
    let (text, mend) = if records {
        (
            "the file holds records of an image, and begins with something else".to_owned(),
            "take away what stands before the first record",
        )
    } else if bytes.len() > MOST_ADDRESS as usize + 1 {
        let text = format!("{} bytes are more than any parallel memory holds", bytes.len());
        (text, "the file is of something else")
    } else {
        return None;
    };
    let start = Span { file, start: 0, end: 0 };
    Some(Placed::error("image-file", start, text).mend(mend.to_owned()))
}

fn read_records(file: FileId, text: &str, is_hex: bool) -> (Image, Vec<Placed>) {
    let mut image = Image::default();
    let mut notices = Vec::new();
    let mut base = 0;
    let mut ended = false;
    let mut start = 0;
    for whole in text.split_inclusive('\n') {
        let line = whole.trim();
        let from = start + (whole.len() - whole.trim_start().len());
        let span = Span { file, start: from as u32, end: (from + line.len()) as u32 };
        start += whole.len();
        if line.is_empty() {
            continue;
        }
        if notices.len() >= MOST_PROBLEMS {
            break;
        }
        let mut tell = |Bad { text, mend }: Bad| {
            notices.push(Placed::error("image-record", span, text).mend(mend.to_owned()));
        };
        if ended {
            tell(bad(
                "this stands behind the record that ends the image".to_owned(),
                "remove it, or the end record before it",
            ));
            break;
        }
        let parsed = if is_hex { hex::line(line, &mut base) } else { srec::line(line) };
        match parsed {
            Ok(Line::Data(record)) => {
                if let Err(problem) = burn(&mut image, record) {
                    tell(problem);
                }
            }
            Ok(Line::Other) => {}
            Ok(Line::End) => ended = true,
            Err(problem) => tell(problem),
        }
    }
    if !ended && notices.is_empty() {
        let end = text.trim_end().len() as u32;
        let text = "the image breaks off: its last record is not one that ends an image".to_owned();
        let notice = Placed::error("image-end", Span { file, start: end.saturating_sub(1), end }, text);
        notices.push(notice.mend("write the file again; its end was lost".to_owned()));
    }
    (image, notices)
}

fn burn(image: &mut Image, record: Record) -> Result<(), Bad> {
    for (offset, byte) in (0_u32..).zip(record.data) {
        let address = record.address.checked_add(offset).filter(|address| *address <= MOST_ADDRESS);
        let Some(address) = address else {
            return Err(bad(
                format!("address {:X}h is beyond any parallel memory", record.address),
                "the image is of something else, or the address is garbled",
            ));
        };
        if let Some(before) = image.bytes.insert(address, byte).filter(|before| *before != byte) {
            return Err(bad(
                format!(
                    "address {address:X}h is {byte:02X}h here and was {before:02X}h in an earlier record"
                ),
                "remove one of the two",
            ));
        }
    }
    Ok(())
}

/// The bytes that pairs of hexadecimal digits write.
fn bytes_of(digits: &str) -> Result<Vec<u8>, Bad> {
    let odd = || {
        bad(
            format!("{} hexadecimal digits are no whole number of bytes", digits.len()),
            "a digit was lost or is one too many",
        )
    };
    let value = |digit: u8| {
        char::from(digit).to_digit(16).ok_or_else(|| {
            bad(format!("`{}` is no hexadecimal digit", char::from(digit)), "digits are 0 to 9 and A to F")
        })
    };
    let (pairs, rest) = digits.as_bytes().as_chunks::<2>();
    if !rest.is_empty() {
        return Err(odd());
    }
    pairs.iter().map(|[high, low]| Ok((value(*high)? << 4 | value(*low)?) as u8)).collect()
}

/// The sum of all bytes, of which a checksum is made.
fn sum(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum.wrapping_add(*byte))
}

fn checksum(is: u8, should: u8) -> Bad {
    bad(
        format!("the checksum is {is:02X}h and should be {should:02X}h"),
        "write the image again; do not burn what may be garbled",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn problems(text: &str) -> Vec<String> {
        let reading = read("image", text.as_bytes());
        let of = |notice: &Placed| {
            let place = reading.sources.position(notice.place.unwrap());
            format!("{}: {}", place.line, notice.text)
        };
        reading.notices.iter().map(of).collect()
    }

    #[test]
    fn bare_bytes_begin_at_zero() {
        let image = read("image.bin", &[0x41, 0xff]).image.unwrap();
        assert_eq!(image.bytes, BTreeMap::from([(0, 0x41), (1, 0xff)]));
    }

    #[test]
    fn records_behind_something_else_are_no_bare_bytes() {
        for text in ["# counts up\n:0100000041BE\n:00000001FF\n", "\u{feff}S10400104FA4\nS9030000FC\n"] {
            let reading = read("image", text.as_bytes());
            assert_eq!(reading.image, None, "{text}");
            assert_eq!(
                reading.notices[0].text,
                "the file holds records of an image, and begins with something else"
            );
        }
        let long = vec![0; MOST_ADDRESS as usize + 2];
        assert_eq!(
            read("image", &long).notices[0].text,
            "16777217 bytes are more than any parallel memory holds"
        );
        assert!(read("image", &long[1..]).image.is_some());
    }

    #[test]
    fn all_problems_are_told_with_their_lines() {
        let text = ":0100000041BE\n:0100000042BD\n:01000100ZZ00\n:010001004\n";
        assert_eq!(
            problems(text),
            [
                "2: address 0h is 42h here and was 41h in an earlier record",
                "3: `Z` is no hexadecimal digit",
                "4: 9 hexadecimal digits are no whole number of bytes"
            ]
        );
        assert_eq!(
            problems(":0100000041BE\n"),
            ["1: the image breaks off: its last record is not one that ends an image"]
        );
        assert_eq!(
            problems(":00000001FF\n\n:0100000041BE\n"),
            ["3: this stands behind the record that ends the image"]
        );
    }

    proptest! {
        #[test]
        fn no_bytes_make_it_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200), hex: bool) {
            let mut text = if hex { b":".to_vec() } else { b"S1".to_vec() };
            text.extend(&bytes);
            read("image", &text);
            read("image", &bytes);
        }

        #[test]
        fn no_text_of_records_makes_it_panic(text in "([:S][0-9A-F]{0,24}\n){0,6}") {
            read("image", text.as_bytes());
        }
    }
}
