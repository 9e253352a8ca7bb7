//! What the program store must show at every address.

use crate::{Block, Chapter, Column, Layout, Sheet, Table};
use std::collections::BTreeMap;

/// So many neighbours of one word take one row together.
const ALIKE: usize = 8;

impl Sheet {
    /// The same sheet with a table of a memory's words by address, before what to do when a lamp is wrong.
    /// `name` says where the words come from.
    pub fn with_memory(mut self, name: &str, words: &BTreeMap<u32, u8>) -> Self {
        let at = self.chapters.iter().position(|chapter| chapter.heading == super::TROUBLE);
        self.chapters.insert(at.unwrap_or(self.chapters.len()), chapter(name, words));
        self
    }
}

/// How many rows the table of a memory takes.
pub fn memory_rows(words: &BTreeMap<u32, u8>) -> usize {
    rows(words).len()
}

fn chapter(name: &str, words: &BTreeMap<u32, u8>) -> Chapter {
    let text = format!(
        "The words of {name}, the most significant lamp at the left. Set each address, read the lamps, tick the \
         row. Switch off before the memory is fitted or pulled, touch ground first, and look twice where its \
         pin 1 goes."
    );
    let columns = ["address", "as lamps", "word", "as lamps", "seen"].map(Column::words).to_vec();
    let title = format!("Memory of {name}");
    let table = Table { title, columns, rows: rows(words), abreast: 3 };
    Chapter {
        heading: "Memory".to_owned(),
        layout: Layout::NewPage,
        blocks: vec![Block::Text(text), Block::Table(table)],
    }
}

/// A row an address; neighbours that hold the same word share one where they are many.
fn rows(words: &BTreeMap<u32, u8>) -> Vec<Vec<String>> {
    let bits = words.last_key_value().map_or(1, |(last, _)| (32 - last.leading_zeros()).max(1)) as usize;
    let digits = bits.div_ceil(4).max(2);
    let all: Vec<(u32, u8)> = words.iter().map(|(&address, &word)| (address, word)).collect();
    let runs = all.chunk_by(|(a, word), (b, next)| *b == a + 1 && word == next);
    let mut rows = Vec::new();
    for run in runs {
        let row = |(from, to, word): (u32, u32, u8)| {
            let (hex, lamps) = if from == to {
                (format!("{from:0digits$X}h"), grouped(&format!("{from:0bits$b}")))
            } else {
                (format!("{from:0digits$X}h to {to:0digits$X}h"), "each".to_owned())
            };
            vec![hex, lamps, format!("{word:02X}h"), grouped(&format!("{word:08b}")), "[  ]".to_owned()]
        };
        match run {
            [(from, word), .., (to, _)] if run.len() >= ALIKE => rows.push(row((*from, *to, *word))),
            _ => rows.extend(run.iter().map(|&(address, word)| row((address, address, word)))),
        }
    }
    rows
}

/// `01 0110`: four to a group, counted from the right.
fn grouped(bits: &str) -> String {
    let first = bits.len() % 4;
    let (head, rest) = bits.split_at(first);
    let groups = rest.as_bytes().chunks(4).map(|group| String::from_utf8_lossy(group).into_owned());
    let head = (!head.is_empty()).then(|| head.to_owned());
    head.into_iter().chain(groups).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_address_has_a_row_and_many_alike_share_one() {
        let mut words: BTreeMap<u32, u8> = [(0, 0x05), (1, 0x13)].into();
        words.extend((2..64).map(|address| (address, 0xff)));
        let rows = rows(&words);
        assert_eq!(
            rows,
            [
                ["00h", "00 0000", "05h", "0000 0101", "[  ]"],
                ["01h", "00 0001", "13h", "0001 0011", "[  ]"],
                ["02h to 3Fh", "each", "FFh", "1111 1111", "[  ]"],
            ]
        );
    }
}
