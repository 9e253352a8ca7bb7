//! Pages written as PDF. The letters in use are embedded, nothing else of the fonts is.

use super::Paper;
use super::face::{Faces, Weight};
use super::flow::{Mark, pages};
use super::page::{Item, Page};
use crate::Sheet;
use dryjoint_picture::{Anchor, Fill, Form, Point};
use krilla::Document;
use krilla::color::luma;
use krilla::destination::XyzDestination;
use krilla::geom::{PathBuilder, Point as Spot, Transform};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill as Paint, Stroke};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};

/// Why a sheet could not be written as PDF.
#[derive(Debug, thiserror::Error)]
pub enum NotWritten {
    /// The library refused a page or the whole.
    #[error("the PDF cannot be made: {0}")]
    Refused(String),
}

/// A quarter circle's control points are this far out (the usual cubic approximation).
const ROUND: f64 = 0.552_284_75;

impl Sheet {
    /// The sheet as PDF: the same bytes for the same sheet and paper.
    pub fn pdf(&self, paper: Paper) -> Result<Vec<u8>, NotWritten> {
        let faces = Faces::new();
        let (pages, marks) = pages(self, paper, &faces);
        let font = |weight| {
            Font::new(Faces::data(weight).to_vec().into(), 0)
                .ok_or_else(|| NotWritten::Refused("the font is refused".to_owned()))
        };
        let writer = Writer { faces, regular: font(Weight::Regular)?, bold: font(Weight::Bold)? };
        let mut document = Document::new();
        document.set_metadata(
            Metadata::new()
                .title(format!("{}: {}", self.name, self.title))
                .creator("dryjoint".to_owned())
                .language("en".to_owned()),
        );
        for page in &pages {
            writer.page(&mut document, page)?;
        }
        document.set_outline(outline(&marks));
        document.finish().map_err(|error| NotWritten::Refused(format!("{error:?}")))
    }
}

fn outline(marks: &[Mark]) -> Outline {
    let mut outline = Outline::new();
    for mark in marks {
        let to = XyzDestination::new(mark.page, Spot::from_xy(0.0, (mark.y - 10.0) as f32));
        outline.push_child(OutlineNode::new(mark.heading.clone(), to));
    }
    outline
}

struct Writer {
    faces: Faces,
    regular: Font,
    bold: Font,
}

impl Writer {
    fn page(&self, document: &mut Document, page: &Page) -> Result<(), NotWritten> {
        let settings = PageSettings::from_wh(page.width as f32, page.height as f32)
            .ok_or_else(|| NotWritten::Refused("a page without a size".to_owned()))?;
        let mut written = document.start_page_with(settings);
        let mut surface = written.surface();
        for item in &page.items {
            self.item(&mut surface, item);
        }
        surface.finish();
        written.finish();
        Ok(())
    }

    fn item(&self, surface: &mut Surface, item: &Item) {
        let grey = |dark: f64| luma::Color::new((255.0 * (1.0 - dark)).round() as u8);
        let fill = match item.fill {
            Fill::None => None,
            Fill::Paper => Some(0.0),
            Fill::Tint => Some(0.1),
            Fill::Full => Some(item.dark),
        };
        surface.set_fill(fill.map(|dark| Paint { paint: grey(dark).into(), ..Paint::default() }));
        let stroke = (item.width > 0.0).then(|| Stroke {
            paint: grey(item.dark).into(),
            width: item.width.max(0.2) as f32,
            ..Stroke::default()
        });
        surface.set_stroke(stroke);
        if let Form::Text { at, anchor, size, turn, text } = &item.form {
            self.text(surface, item.weight, *at, *anchor, (*size, *turn), text);
            return;
        }
        let mut path = PathBuilder::new();
        trace(&mut path, &item.form);
        if let Some(path) = path.finish() {
            surface.draw_path(&path);
        }
    }

    fn text(
        &self,
        surface: &mut Surface,
        weight: Weight,
        at: Point,
        anchor: Anchor,
        (size, turn): (f64, f64),
        text: &str,
    ) {
        let shaped = self.faces.shape(weight, text);
        let ends = shaped.iter().skip(1).map(|glyph| glyph.start).chain([text.len()]);
        let glyphs: Vec<KrillaGlyph> = shaped
            .iter()
            .zip(ends)
            .map(|(glyph, end)| {
                KrillaGlyph::new(
                    GlyphId::new(glyph.id),
                    glyph.advance as f32,
                    glyph.offset.0 as f32,
                    glyph.offset.1 as f32,
                    0.0,
                    glyph.start..end.max(glyph.start),
                    None,
                )
            })
            .collect();
        let wide = shaped.iter().map(|glyph| glyph.advance).sum::<f64>() * size;
        let back = match anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => wide / 2.0,
            Anchor::End => wide,
        };
        let font = match weight {
            Weight::Regular => self.regular.clone(),
            Weight::Bold => self.bold.clone(),
        };
        let (x, y) = (at.x as f32, at.y as f32);
        surface.push_transform(&Transform::from_rotate_at(-turn as f32, x, y));
        let start = Spot::from_xy((at.x - back) as f32, y);
        surface.draw_glyphs(start, &glyphs, font, text, size as f32, false);
        surface.pop();
    }
}

fn trace(path: &mut PathBuilder, form: &Form) {
    match form {
        Form::Line(points) | Form::Area(points) => {
            for (index, point) in points.iter().enumerate() {
                let (x, y) = (point.x as f32, point.y as f32);
                if index == 0 { path.move_to(x, y) } else { path.line_to(x, y) }
            }
            if matches!(form, Form::Area(_)) {
                path.close();
            }
        }
        Form::Circle { middle, radius } => {
            let at = |x: f64, y: f64| ((middle.x + x * radius) as f32, (middle.y + y * radius) as f32);
            let (x, y) = at(1.0, 0.0);
            path.move_to(x, y);
            for (from, to) in [
                ((1.0, 0.0), (0.0, 1.0)),
                ((0.0, 1.0), (-1.0, 0.0)),
                ((-1.0, 0.0), (0.0, -1.0)),
                ((0.0, -1.0), (1.0, 0.0)),
            ] {
                let ((a, b), (c, d)): ((f64, f64), (f64, f64)) = (from, to);
                let (one, two, end) =
                    (at(a + c * ROUND, b + d * ROUND), at(c + a * ROUND, d + b * ROUND), at(c, d));
                path.cubic_to(one.0, one.1, two.0, two.1, end.0, end.1);
            }
            path.close();
        }
        Form::Text { .. } => {}
    }
}
