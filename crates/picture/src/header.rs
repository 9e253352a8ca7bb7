//! A header as one holds it: its pins in a row, what each is called, and what the bench may do with it.

use crate::shape::{Anchor, Drawing, Form, Ink, Point};

/// What the bench may do with a pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Touch {
    /// The supply comes in here.
    Supply,
    /// A jumper to ground, or nothing.
    ToGround,
    /// A jumper to the rail, or nothing.
    ToRail,
    /// A meter lead; never a jumper.
    MeterOnly,
    /// Not connected.
    Nothing,
}

impl Touch {
    /// In a few words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Supply => "supply",
            Self::ToGround => "open or to ground",
            Self::ToRail => "open or to rail",
            Self::MeterOnly => "meter only",
            Self::Nothing => "not used",
        }
    }
}

/// A pin in a picture.
#[derive(Clone, Debug, PartialEq)]
pub struct PinPicture {
    /// Its number.
    pub number: String,
    /// What it is called.
    pub name: String,
    /// What the bench may do with it.
    pub touch: Touch,
}

/// Millimetres.
const PITCH: f64 = 7.0;
const SIDE: f64 = 4.6;
const NUMBER: f64 = 2.0;
const NAME: f64 = 2.3;
/// Pins in one row of the drawing.
const ROW: usize = 24;
/// Room for names above the pins, and for the jumpers and words below.
const ABOVE: f64 = 15.0;
const BELOW: f64 = 27.5;

/// The header called `reference`, pin 1 at the left.
pub fn header(reference: &str, pins: &[PinPicture]) -> Drawing {
    let said: Vec<String> =
        pins.iter().map(|pin| format!("{} {} {}", pin.number, pin.name, pin.touch.words())).collect();
    let rows = pins.len().div_ceil(ROW).max(1) as f64;
    let mut drawing = Drawing {
        title: format!("Header {reference}: {}", said.join(", ")),
        width: PITCH * pins.len().clamp(1, ROW) as f64,
        height: rows * (ABOVE + SIDE + BELOW),
        shapes: Vec::new(),
    };
    for (row, pins) in pins.chunks(ROW).enumerate() {
        let top = row as f64 * (ABOVE + SIDE + BELOW) + ABOVE;
        let length = PITCH * pins.len() as f64;
        let body = Form::rectangle(Point { x: length / 2.0, y: top + SIDE / 2.0 }, length, SIDE + 1.4);
        drawing.add(Ink::Edge, body);
        for (index, pin) in pins.iter().enumerate() {
            one(&mut drawing, pin, Point { x: PITCH * (index as f64 + 0.5), y: top });
        }
    }
    drawing
}

/// One pin; `top` is the middle of its upper edge.
fn one(drawing: &mut Drawing, pin: &PinPicture, top: Point) {
    let middle = top.by(0.0, SIDE / 2.0);
    let title = format!("pin {}: {}, {}", pin.number, pin.name, pin.touch.words());
    drawing.add_named(Ink::Body, Form::rectangle(middle, SIDE, SIDE), title);
    drawing.write(Ink::Name, middle.by(0.0, 0.36 * NUMBER), Anchor::Middle, NUMBER, pin.number.clone());
    let upright = |at: Point, anchor: Anchor, size: f64, text: &str| Form::Text {
        at: at.by(0.36 * size, 0.0),
        anchor,
        size,
        turn: 90.0,
        text: text.to_owned(),
    };
    let size = NAME.min((ABOVE - 2.0) / (crate::shape::LETTER * pin.name.chars().count().max(1) as f64));
    drawing.add(Ink::Name, upright(top.by(0.0, -1.6), Anchor::Start, size, &pin.name));
    let bottom = top.by(0.0, SIDE + 0.7);
    let end = bottom.by(0.0, 5.0);
    match pin.touch {
        Touch::ToGround => {
            drawing.add(Ink::Leader, Form::Line(vec![bottom, end]));
            for (index, half) in [2.0, 1.3, 0.6].into_iter().enumerate() {
                let at = end.by(0.0, index as f64 * 0.8);
                drawing.add(Ink::Leader, Form::Line(vec![at.by(-half, 0.0), at.by(half, 0.0)]));
            }
        }
        Touch::ToRail => {
            drawing.add(Ink::Leader, Form::Line(vec![bottom, end]));
            drawing.add(Ink::Leader, Form::Line(vec![end.by(-1.4, 1.6), end, end.by(1.4, 1.6)]));
            drawing.add(Ink::Leader, Form::Line(vec![end, end.by(0.0, 1.9)]));
        }
        Touch::Supply => {
            let at = bottom.by(0.0, 2.6);
            drawing.add(Ink::Lit, Form::Circle { middle: at, radius: 1.2 });
        }
        Touch::MeterOnly => {
            drawing.add(
                Ink::Probe,
                Form::Area(vec![bottom.by(0.0, 1.2), bottom.by(1.2, 4.2), bottom.by(-1.2, 4.2)]),
            );
        }
        Touch::Nothing => {
            let at = bottom.by(0.0, 2.6);
            drawing.add(Ink::Leader, Form::Line(vec![at.by(-1.2, -1.2), at.by(1.2, 1.2)]));
            drawing.add(Ink::Leader, Form::Line(vec![at.by(-1.2, 1.2), at.by(1.2, -1.2)]));
        }
    }
    drawing.add(Ink::Name, upright(bottom.by(0.0, 8.4), Anchor::End, NUMBER, pin.touch.words()));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_header_goes_on_in_a_second_row() {
        let pin = |number: usize| PinPicture {
            number: number.to_string(),
            name: format!("/LINE{number}"),
            touch: if number.is_multiple_of(2) { Touch::ToGround } else { Touch::ToRail },
        };
        let pins: Vec<PinPicture> = (1..=40).map(pin).collect();
        let one = header("J1", &pins[..24]);
        let two = header("J1", &pins);
        assert!(two.width == one.width && two.height == 2.0 * one.height);
        assert!(two.title.contains("40 /LINE40 open or to ground"), "{}", two.title);
    }
}
