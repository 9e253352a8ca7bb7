//! The letters: their shapes, their widths, and where a line breaks.
//!
//! One family in two weights is part of the program, see `fonts/README.md`. Texts are shaped once, by the
//! same glyphs that are then written, so what was measured is what is printed.

use rustybuzz::{Direction, UnicodeBuffer};

const REGULAR: &[u8] = include_bytes!("../../fonts/DejaVuSansCondensed.ttf");
const BOLD: &[u8] = include_bytes!("../../fonts/DejaVuSansCondensed-Bold.ttf");

/// How heavy letters are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    Regular,
    Bold,
}

/// One shaped glyph; lengths in ems.
#[derive(Clone, Debug)]
pub struct Glyph {
    /// Its number in the font.
    pub id: u32,
    /// The bytes of the text it stands for.
    pub start: usize,
    pub advance: f64,
    pub offset: (f64, f64),
}

/// Both weights.
pub struct Faces {
    regular: rustybuzz::Face<'static>,
    bold: rustybuzz::Face<'static>,
}

impl Faces {
    /// The letters that are part of the program.
    pub fn new() -> Self {
        let face = |data| rustybuzz::Face::from_slice(data, 0).expect("the program's own font is sound");
        Self { regular: face(REGULAR), bold: face(BOLD) }
    }

    /// The font file of a weight.
    pub fn data(weight: Weight) -> &'static [u8] {
        match weight {
            Weight::Regular => REGULAR,
            Weight::Bold => BOLD,
        }
    }

    fn face(&self, weight: Weight) -> &rustybuzz::Face<'static> {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }

    /// A text's glyphs from left to right.
    pub fn shape(&self, weight: Weight, text: &str) -> Vec<Glyph> {
        let face = self.face(weight);
        let em = f64::from(face.units_per_em());
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        buffer.set_direction(Direction::LeftToRight);
        let shaped = rustybuzz::shape(face, &[], buffer);
        shaped
            .glyph_infos()
            .iter()
            .zip(shaped.glyph_positions())
            .map(|(info, position)| Glyph {
                id: info.glyph_id,
                start: info.cluster as usize,
                advance: f64::from(position.x_advance) / em,
                offset: (f64::from(position.x_offset) / em, f64::from(position.y_offset) / em),
            })
            .collect()
    }

    /// The width of a text.
    pub fn width(&self, weight: Weight, size: f64, text: &str) -> f64 {
        self.shape(weight, text).iter().map(|glyph| glyph.advance).sum::<f64>() * size
    }

    /// The text broken at blanks into lines no wider than `width`; a word that is wider is broken where it
    /// must be. There is at least one line.
    pub fn wrapped(&self, weight: Weight, size: f64, width: f64, text: &str) -> Vec<String> {
        let blank = self.width(weight, size, " ");
        let mut lines = vec![String::new()];
        let mut used = 0.0;
        for word in text.split_whitespace() {
            for (index, piece) in self.pieces(weight, size, width, word).into_iter().enumerate() {
                let wide = self.width(weight, size, &piece);
                let line = lines.last_mut().expect("there is always a line");
                if line.is_empty() {
                    *line = piece;
                    used = wide;
                } else if index == 0 && used + blank + wide <= width {
                    line.push(' ');
                    line.push_str(&piece);
                    used += blank + wide;
                } else {
                    lines.push(piece);
                    used = wide;
                }
            }
        }
        lines
    }

    /// A word in pieces none of which is wider than `width`, but for single letters.
    fn pieces(&self, weight: Weight, size: f64, width: f64, word: &str) -> Vec<String> {
        if self.width(weight, size, word) <= width {
            return vec![word.to_owned()];
        }
        let mut pieces = vec![String::new()];
        let mut used = 0.0;
        for letter in word.chars() {
            let wide = self.width(weight, size, letter.encode_utf8(&mut [0; 4]));
            let piece = pieces.last_mut().expect("there is always a piece");
            if used + wide > width && !piece.is_empty() {
                pieces.push(letter.to_string());
                used = wide;
            } else {
                piece.push(letter);
                used += wide;
            }
        }
        pieces
    }

    /// The text cut to a width, with an ellipsis where something is missing.
    pub fn cut(&self, weight: Weight, size: f64, width: f64, text: &str) -> String {
        if self.width(weight, size, text) <= width {
            return text.to_owned();
        }
        let room = width - self.width(weight, size, "…");
        let first = self.pieces(weight, size, room.max(0.0), &text.replace(' ', "\u{a0}")).swap_remove(0);
        format!("{}…", first.replace('\u{a0}', " ").trim_end())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn lines_break_at_blanks_and_long_words_where_they_must() {
        let faces = Faces::new();
        let lines =
            faces.wrapped(Weight::Regular, 10.0, 60.0, "take the jumper off /LD_OF_A_VERY_LONG_NAME now");
        assert!(lines.len() > 3 && lines[0] == "take the", "{lines:?}");
        assert_eq!(faces.wrapped(Weight::Bold, 10.0, 60.0, ""), [""]);
        assert_eq!(faces.cut(Weight::Bold, 10.0, 500.0, "short"), "short");
        assert!(faces.cut(Weight::Bold, 10.0, 50.0, "a title that is long").ends_with('…'));
    }

    proptest! {
        #[test]
        fn no_line_is_wider_than_its_room_and_no_letter_is_lost(text in "[ -~äΩ]{0,80}", width in 20.0f64..200.0) {
            let faces = Faces::new();
            let lines = faces.wrapped(Weight::Regular, 9.0, width, &text);
            for line in &lines {
                // Two words set together may move a hair closer or apart.
                prop_assert!(faces.width(Weight::Regular, 9.0, line) <= width + 0.5, "{line}");
            }
            let bare = |text: &str| text.split_whitespace().collect::<String>();
            prop_assert_eq!(bare(&lines.join(" ")), bare(&text));
        }
    }
}
