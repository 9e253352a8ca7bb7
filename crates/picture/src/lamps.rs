//! Lamps as they stand on the board: group by group, most significant at the left.
//!
//! Lit is a full disc, dark a ring, a lamp that nobody can know a ring with a question mark: told by shape
//! in any print. A small wedge below a lamp says that it has just changed.

use crate::shape::{Anchor, Drawing, Form, Ink, LETTER, Point};

/// What a lamp shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// Lit.
    Lit,
    /// Dark.
    Dark,
    /// Either.
    Unknown,
}

impl Sign {
    /// In a word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Lit => "lit",
            Self::Dark => "dark",
            Self::Unknown => "either",
        }
    }
}

/// A lamp in a picture.
#[derive(Clone, Debug, PartialEq)]
pub struct LampPicture {
    /// Its reference.
    pub reference: String,
    /// What it shows.
    pub sign: Sign,
    /// Whether it showed something else just before.
    pub changed: bool,
}

/// Lamps that are read together.
#[derive(Clone, Debug, PartialEq)]
pub struct LampRow {
    /// The group's name.
    pub name: String,
    /// Its lamps, most significant first.
    pub lamps: Vec<LampPicture>,
}

/// Millimetres.
const RADIUS: f64 = 1.45;
const PITCH: f64 = 4.2;
const GAP: f64 = 3.6;
const NAME: f64 = 2.1;
const SMALL: f64 = 1.5;

/// Lamp groups side by side, in rows no wider than `width` millimetres where groups allow it. With `names`
/// each lamp bears its reference.
pub fn lamps(rows: &[LampRow], width: f64, names: bool) -> Drawing {
    let high = if names { 9.6 } else { 7.8 };
    let mut drawing = Drawing { title: title(rows), ..Drawing::default() };
    let (mut x, mut y) = (0.0, 0.0);
    for row in rows {
        let lamps = row.lamps.len() as f64 * PITCH;
        let wide = lamps.max(row.name.chars().count() as f64 * LETTER * NAME);
        if x > 0.0 && x + wide > width {
            x = 0.0;
            y += high;
        }
        drawing.write(Ink::Name, Point { x, y: y + NAME }, Anchor::Start, NAME, row.name.clone());
        for (index, lamp) in row.lamps.iter().enumerate() {
            let middle = Point { x: x + PITCH * index as f64 + RADIUS + 0.2, y: y + NAME + 1.0 + RADIUS };
            one(&mut drawing, lamp, middle, names);
        }
        drawing.width = drawing.width.max(x + wide);
        drawing.height = y + high;
        x += wide + GAP;
    }
    drawing
}

fn one(drawing: &mut Drawing, lamp: &LampPicture, middle: Point, names: bool) {
    let ink = match lamp.sign {
        Sign::Lit => Ink::Lit,
        Sign::Dark => Ink::Dark,
        Sign::Unknown => Ink::Unknown,
    };
    let title = format!("{} {}", lamp.reference, lamp.sign.word());
    drawing.add_named(ink, Form::Circle { middle, radius: RADIUS }, title);
    if lamp.sign == Sign::Unknown {
        drawing.write(Ink::Name, middle.by(0.0, 0.36 * NAME), Anchor::Middle, NAME, "?");
    }
    if lamp.changed {
        let tip = middle.by(0.0, RADIUS + 0.5);
        drawing.add(Ink::Detail, Form::Area(vec![tip, tip.by(0.8, 1.1), tip.by(-0.8, 1.1)]));
    }
    if names {
        let at = middle.by(0.0, RADIUS + 0.6 + SMALL + if lamp.changed { 1.2 } else { 0.0 });
        drawing.write(Ink::Name, at, Anchor::Middle, SMALL, lamp.reference.clone());
    }
}

/// `ADDRESS: DS6 lit, DS5 dark; CARRY: DS13 dark`: the picture in words.
fn title(rows: &[LampRow]) -> String {
    let group = |row: &LampRow| {
        let lamps: Vec<String> =
            row.lamps.iter().map(|lamp| format!("{} {}", lamp.reference, lamp.sign.word())).collect();
        format!("{}: {}", row.name, lamps.join(", "))
    };
    rows.iter().map(group).collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(name: &str, signs: &[Sign]) -> LampRow {
        let lamp = |(index, &sign): (usize, &Sign)| LampPicture {
            reference: format!("DS{}", index + 1),
            sign,
            changed: index == 0,
        };
        LampRow { name: name.to_owned(), lamps: signs.iter().enumerate().map(lamp).collect() }
    }

    #[test]
    fn a_picture_is_also_told_in_words_and_keeps_to_its_width() {
        let rows = [row("ADDRESS", &[Sign::Lit, Sign::Dark, Sign::Unknown]), row("CARRY", &[Sign::Dark])];
        let wide = lamps(&rows, 100.0, false);
        assert_eq!(wide.title, "ADDRESS: DS1 lit, DS2 dark, DS3 either; CARRY: DS1 dark");
        let narrow = lamps(&rows, 16.0, false);
        assert!(narrow.width < wide.width && narrow.height > wide.height);
        assert_eq!(narrow.shapes.len(), wide.shapes.len());
    }
}
