//! The clauses behind the pins: `at 5 2 rot 90`, `pitch 0 30`, `number 100 step 20`, `as R7 R8 Q3`.

use crate::body::Numbering;
use crate::compile::{Compiler, Element};
use crate::names::{CLAUSES, reference};
use crate::value;
use crate::words::{Token, Words};
use dryjoint_board::Place;
use dryjoint_units::Millimetres;

/// What stands behind the pins.
#[derive(Default)]
pub(crate) struct Clauses {
    pub place: Option<Place>,
    pub numbering: Option<Numbering>,
}

impl<'t> Compiler<'_, 't> {
    /// Reads `at x y rot d pitch dx dy`, and for an instance `number n step s` or `as R1 R2 …`.
    pub fn clauses(&mut self, words: &mut Words<'t>, element: Element, instance: bool) -> Clauses {
        let mut out = Clauses::default();
        let mut from = None;
        while let Some(token) = words.next() {
            match token.text {
                "at" => {
                    let Some([x, y]) = self.numbers(token, words, "x and y in mm: `at 5 2`") else {
                        return out;
                    };
                    out.place = Some(Place { x: Millimetres(x), y: Millimetres(y), rotation: 0.0 });
                }
                "rot" | "pitch" if out.place.is_none() => {
                    let text = format!("`{}` without a place", token.text);
                    self.door.error("clause-bad", token.span, text, "write `at x y` before it");
                    return out;
                }
                "rot" => {
                    let Some([degrees]) = self.numbers(token, words, "degrees: `rot 90`") else { return out };
                    if let Some(place) = &mut out.place {
                        place.rotation = degrees.rem_euclid(360.0);
                    }
                }
                "pitch" => {
                    let Some([x, y]) =
                        self.numbers(token, words, "the way from one to the next: `pitch 0 30`")
                    else {
                        return out;
                    };
                    if let Some(place) = &mut out.place {
                        place.x = place.x + Millimetres(x * f64::from(element.before));
                        place.y = place.y + Millimetres(y * f64::from(element.before));
                    }
                }
                "number" | "as" if instance && !self.top => {
                    let mend = "number the instance on the board itself; its inner cells follow";
                    let text = "parts get their numbers on the board, not in a cell".into();
                    self.door.error("number-in-cell", token.span, text, mend);
                    return out;
                }
                "number" if instance => {
                    let Some(number) = self.count(token, words) else { return out };
                    from = Some(number);
                    out.numbering =
                        Some(if element.before == 0 { Numbering::From(number) } else { Numbering::Continue });
                }
                "step" if from.is_some() => {
                    let Some(step) = self.count(token, words) else { return out };
                    let start = from.unwrap_or(0).saturating_add(step.saturating_mul(element.before));
                    out.numbering = Some(Numbering::From(start));
                }
                "as" if instance => {
                    out.numbering = Some(self.list(token, words, element));
                }
                _ => {
                    let text = format!("`{}` is more than this line holds", token.text);
                    self.door.error("word-extra", token.span, text, "remove it, or put `#` before a comment");
                    return out;
                }
            }
        }
        out
    }

    fn numbers<const N: usize>(
        &mut self,
        head: Token<'t>,
        words: &mut Words<'t>,
        wanted: &str,
    ) -> Option<[f64; N]> {
        let mut out = [0.0; N];
        for slot in &mut out {
            let token = words.next();
            match token.and_then(|token| value::plain(token.text)) {
                Some(value) => *slot = value,
                None => {
                    let span = token.map_or(head.span, |token| token.span);
                    let text = format!("`{}` is not followed by its numbers", head.text);
                    self.door.error("clause-bad", span, text, format!("it wants {wanted}"));
                    return None;
                }
            }
        }
        Some(out)
    }

    fn count(&mut self, head: Token<'t>, words: &mut Words<'t>) -> Option<u32> {
        let token = words.next();
        let number =
            token.and_then(|token| token.text.parse().ok()).filter(|number: &u32| *number <= 9_999_999);
        if number.is_none() {
            let span = token.map_or(head.span, |token| token.span);
            let text = format!("`{}` is not followed by a number", head.text);
            self.door.error("clause-bad", span, text, "write `number 100 step 20`");
        }
        number
    }

    /// `as R7 R8 Q3`: read once, for the first element of an array.
    fn list(&mut self, head: Token<'t>, words: &mut Words<'t>, element: Element) -> Numbering {
        let mut list = Vec::new();
        let errors = self.door.notices.errors();
        let mut made = std::mem::take(&mut self.made);
        while let Some(token) = words.peek().filter(|token| !CLAUSES.contains(&token.text)) {
            words.next();
            if element.before > 0 {
                continue;
            }
            made.clear();
            self.door.names_of(token, None, &mut made);
            for name in &made {
                let text = self.door.names.text(*name).to_owned();
                match reference(&text) {
                    Some((class, number)) => {
                        list.push((*name, self.door.names.of(class), number, token.span));
                    }
                    None => {
                        let words = format!("`{text}` is no reference");
                        self.door.error("reference-bad", token.span, words, "write `as R7 R8 Q3`");
                    }
                }
            }
        }
        self.made = made;
        if element.before > 0 {
            return Numbering::Continue;
        }
        if list.is_empty() && self.door.notices.errors() == errors {
            self.door.error("clause-bad", head.span, "`as` names no reference".into(), "write `as R7 R8 Q3`");
        }
        Numbering::List(list)
    }
}
