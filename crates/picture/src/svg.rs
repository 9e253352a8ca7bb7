//! A drawing as SVG, to stand inside a page.
//!
//! Colours are `currentColor` and the system colour `Canvas`, given as attributes, which any style
//! sheet overrules by the class of the ink; there is no style inside, so the strictest content policy
//! takes it. Shapes of one ink that follow each other share a group. A name is a `<title>`.

use crate::shape::{Anchor, Drawing, Fill, Form, Ink, Point, Shape};
use std::fmt::Write as _;

impl Drawing {
    /// The `<svg>` element: as wide as what holds it, as high as its shape asks.
    pub fn svg(&self) -> String {
        let mut out = String::new();
        let _ = write!(
            out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"drawing\" role=\"img\" aria-label=\"{}\" \
             viewBox=\"0 0 {} {}\" font-family=\"system-ui,sans-serif\" stroke-linejoin=\"round\">",
            escaped(&self.title),
            number(self.width),
            number(self.height)
        );
        let mut rest = &self.shapes[..];
        while let Some(first) = rest.first() {
            let same = rest.iter().take_while(|shape| shape.ink == first.ink).count();
            let (group, after) = rest.split_at(same);
            self.group(&mut out, first.ink, group);
            rest = after;
        }
        out.push_str("</svg>\n");
        out
    }

    /// Shapes of one ink.
    fn group(&self, out: &mut String, ink: Ink, shapes: &[Shape]) {
        let pen = ink.pen(self.fine());
        let fill = match pen.fill {
            Fill::None => "fill=\"none\"",
            Fill::Paper => "fill=\"Canvas\"",
            Fill::Tint => "fill=\"currentColor\" fill-opacity=\".12\"",
            Fill::Full => "fill=\"currentColor\"",
        };
        let _ = write!(out, "\n<g class=\"{}\" {fill}", ink.class());
        if pen.width > 0.0 {
            let _ = write!(out, " stroke=\"currentColor\" stroke-width=\"{}\"", number(pen.width));
        }
        out.push('>');
        let mut path = String::new();
        for shape in shapes {
            match &shape.form {
                Form::Line(points) if shape.title.is_empty() => trace(&mut path, points, false),
                form => {
                    flush(out, &mut path);
                    one(out, form, &shape.title);
                }
            }
        }
        flush(out, &mut path);
        out.push_str("</g>");
    }
}

/// Lines collected so far as one path.
fn flush(out: &mut String, path: &mut String) {
    if !path.is_empty() {
        let _ = write!(out, "<path d=\"{path}\"/>");
        path.clear();
    }
}

fn one(out: &mut String, form: &Form, title: &str) {
    let name = match form {
        Form::Line(points) | Form::Area(points) => {
            let mut path = String::new();
            trace(&mut path, points, matches!(form, Form::Area(_)));
            let _ = write!(out, "<path d=\"{path}\"");
            "path"
        }
        Form::Circle { middle, radius } => {
            let (x, y, r) = (number(middle.x), number(middle.y), number(*radius));
            let _ = write!(out, "<circle cx=\"{x}\" cy=\"{y}\" r=\"{r}\"");
            "circle"
        }
        Form::Text { at, anchor, size, turn, text } => {
            let (x, y) = (number(at.x), number(at.y));
            let anchor = match anchor {
                Anchor::Start => "",
                Anchor::Middle => " text-anchor=\"middle\"",
                Anchor::End => " text-anchor=\"end\"",
            };
            let _ = write!(out, "<text x=\"{x}\" y=\"{y}\" font-size=\"{}\"{anchor}", number(*size));
            if *turn != 0.0 {
                let _ = write!(out, " transform=\"rotate({} {x} {y})\"", number(-turn));
            }
            let _ = write!(out, ">{}", escaped(text));
            if !title.is_empty() {
                let _ = write!(out, "<title>{}</title>", escaped(title));
            }
            out.push_str("</text>");
            return;
        }
    };
    if title.is_empty() {
        out.push_str("/>");
    } else {
        let _ = write!(out, "><title>{}</title></{name}>", escaped(title));
    }
}

/// Points as a path: absolute first, then relative, which is shorter.
fn trace(path: &mut String, points: &[Point], closed: bool) {
    let mut last = (0, 0);
    for (index, point) in points.iter().enumerate() {
        let here = (hundredths(point.x), hundredths(point.y));
        let (x, y) = (decimal(here.0 - last.0), decimal(here.1 - last.1));
        match index {
            0 => drop(write!(path, "M{} {}", decimal(here.0), decimal(here.1))),
            _ if here.1 == last.1 => drop(write!(path, "h{x}")),
            _ if here.0 == last.0 => drop(write!(path, "v{y}")),
            _ => drop(write!(path, "l{x} {y}")),
        }
        last = here;
    }
    if closed {
        path.push('z');
    }
}

fn hundredths(value: f64) -> i64 {
    (value * 100.0).round() as i64
}

/// Hundredths as a decimal without what can be left out.
fn decimal(hundredths: i64) -> String {
    let text = format!("{}", hundredths as f64 / 100.0);
    match text.strip_prefix("0.") {
        Some(rest) => format!(".{rest}"),
        None => text.strip_prefix("-0.").map_or(text.clone(), |rest| format!("-.{rest}")),
    }
}

fn number(value: f64) -> String {
    decimal(hundredths(value))
}

/// Text with what means something in XML and HTML written otherwise.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // No XML text may hold other control characters, however they are written.
            control if control.is_control() => out.push(' '),
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short() {
        assert_eq!([0.5, -0.254, 12.0, 0.001, -3.10].map(number), [".5", "-.25", "12", "0", "-3.1"]);
    }

    #[test]
    fn shapes_of_one_ink_share_a_group_and_lines_a_path() {
        let mut drawing = Drawing { title: "a <b>".to_owned(), width: 10.0, height: 5.0, shapes: Vec::new() };
        let at = |x: f64| Point { x, y: 1.0 };
        drawing.add(Ink::Leg, Form::Line(vec![at(0.0), at(1.0)]));
        drawing.add(Ink::Leg, Form::Line(vec![at(2.0), at(2.0).by(0.0, 3.0)]));
        drawing.add_named(Ink::Body, Form::Circle { middle: at(4.0), radius: 1.0 }, "R1");
        let svg = drawing.svg();
        assert!(svg.contains("aria-label=\"a &lt;b&gt;\" viewBox=\"0 0 10 5\""), "{svg}");
        assert!(svg.contains("<path d=\"M0 1h1M2 1v3\"/></g>"), "{svg}");
        assert!(svg.contains("<circle cx=\"4\" cy=\"1\" r=\"1\"><title>R1</title></circle></g>"), "{svg}");
    }
}
