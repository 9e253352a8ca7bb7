//! Curves over one axis, in one panel or several above each other.
//!
//! The axes, their ticks and the mapping are a library's; names, dashes and cursors are placed here, so
//! that every curve carries its own name and none needs a legend in colour. Text is written as text, in
//! whatever plain face the viewer has.

use crate::Axis;
use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// How a curve's line is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stroke {
    /// Unbroken.
    Solid,
    /// Long dashes.
    Dashed,
    /// Short dashes.
    Dotted,
}

/// A named line through points.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Its name, written beside its right end.
    pub name: String,
    /// Its points in the axes' own units, in the order of drawing.
    pub points: Vec<(f64, f64)>,
    /// How its line is broken.
    pub stroke: Stroke,
    /// Whether each point has a mark, as for values that stand alone.
    pub marks: bool,
}

/// A value marked by a thin line across, with its words.
#[derive(Clone, Debug, PartialEq)]
pub struct Cursor {
    /// Where.
    pub at: f64,
    /// What it marks, such as `VIH 1.72 V`.
    pub label: String,
}

/// Curves that share their upright axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// The upright axis; what it counts stands above it.
    pub y: Axis,
    /// The curves, later ones over earlier ones.
    pub curves: Vec<Curve>,
    /// Values of the upright axis that are marked.
    pub levels: Vec<Cursor>,
}

/// A whole drawing: panels above each other over one axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Plot {
    /// What it shows.
    pub title: String,
    /// The axis that runs to the right.
    pub x: Axis,
    /// The panels from the top.
    pub panels: Vec<Panel>,
    /// Values of that axis that are marked through all panels.
    pub cursors: Vec<Cursor>,
}

const WIDTH: u32 = 800;
const TITLE: u32 = 34;
/// Height of a single panel, of one of several, and what the axis below takes.
const HEIGHTS: (u32, u32, u32) = (380, 124, 46);
/// Room for the upright axis, and for the names at the right.
const SIDES: (u32, u32) = (58, 200);
/// Room above a panel for the words of cursors: lines of them times their height.
const CURSOR_LINE: i32 = 16;
/// Height of a letter; the library counts it from another line and writes it a little smaller.
const TEXT: i32 = 15;
/// A piece of a curve's own line, drawn before its name.
const SAMPLE: i32 = 26;
/// Room above a panel for the words of its upright axis.
const WORDS: u32 = 22;
const GREY: RGBColor = RGBColor(110, 110, 110);
/// Lines that differ in lightness too, dark on white: they stay apart in print and for any eye.
const INKS: [RGBColor; 4] =
    [RGBColor(0, 0, 0), RGBColor(0, 90, 160), RGBColor(170, 60, 0), RGBColor(0, 110, 80)];

type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Chart<'a, 'b> = ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;
type Drawn = Result<(), DrawingAreaErrorKind<std::io::Error>>;

impl Plot {
    /// One panel.
    pub fn single(title: &str, x: Axis, y: Axis, curves: Vec<Curve>) -> Self {
        let panels = vec![Panel { y, curves, levels: Vec::new() }];
        Self { title: title.to_owned(), x, panels, cursors: Vec::new() }
    }

    /// The drawing as SVG. Points that are no numbers are left out.
    pub fn draw(&self) -> String {
        let mut text = String::new();
        let (alone, one, below) = HEIGHTS;
        let count = self.panels.len().max(1) as u32;
        let panels = if count == 1 { alone } else { one * count };
        let above = self.cursor_rows() * CURSOR_LINE as u32;
        {
            let root = SVGBackend::with_string(&mut text, (WIDTH, TITLE + above + panels + below))
                .into_drawing_area();
            // Writing into a string does not fail; a drawing that did would lack what came after.
            let _ = self.paint(&root, above, panels / count);
            let _ = root.present();
        }
        text
    }

    /// Lines of words above the first panel.
    fn cursor_rows(&self) -> u32 {
        self.cursors.len().min(3) as u32
    }

    fn paint(&self, root: &Area, above: u32, height: u32) -> Drawn {
        root.fill(&WHITE)?;
        write(root, &self.title, (10, 8), TEXT + 4, &BLACK, HPos::Left)?;
        let (_, rest) = root.split_vertically(TITLE + above);
        for (index, panel) in self.panels.iter().enumerate() {
            let last = index + 1 == self.panels.len();
            let top = index as u32 * height;
            let bottom = if last { HEIGHTS.2 } else { 0 };
            let area = rest.clone().shrink((0, top), (WIDTH, height + bottom));
            self.paint_panel(&area, root, panel, last)?;
        }
        Ok(())
    }

    fn paint_panel(&self, area: &Area, root: &Area, panel: &Panel, last: bool) -> Drawn {
        let (left, right) = SIDES;
        let mut chart = ChartBuilder::on(area)
            .margin_top(WORDS)
            .margin_right(right)
            .set_label_area_size(LabelAreaPosition::Left, left)
            .set_label_area_size(LabelAreaPosition::Bottom, if last { HEIGHTS.2 } else { 0 })
            .build_cartesian_2d(self.x.from..self.x.to, panel.y.from..panel.y.to)?;
        let face = face(TEXT, &BLACK);
        let figures = (|value: &f64| self.x.figure(*value), |value: &f64| panel.y.figure(*value));
        chart
            .configure_mesh()
            .x_labels(9)
            .y_labels(if self.panels.len() > 1 { 3 } else { 8 })
            .x_label_formatter(&figures.0)
            .y_label_formatter(&figures.1)
            .x_desc(if last { self.x.words() } else { String::new() })
            .label_style(face.clone())
            .axis_desc_style(face)
            .axis_style(BLACK)
            .bold_line_style(RGBColor(215, 215, 215))
            .light_line_style(TRANSPARENT)
            .draw()?;
        let corner = chart.plotting_area().map_coordinate(&(self.x.from, panel.y.to));
        write(root, &panel.y.words(), (10, corner.1 - WORDS as i32 + 1), TEXT, &BLACK, HPos::Left)?;
        for level in &panel.levels {
            let (from, to) = ((self.x.from, level.at), (self.x.to, level.at));
            line(&mut chart, vec![from, to], Stroke::Dotted, GREY.stroke_width(1))?;
        }
        for (index, curve) in panel.curves.iter().enumerate() {
            paint_curve(&mut chart, curve, INKS[index % INKS.len()])?;
        }
        self.name_curves(&chart, root, panel)?;
        self.mark_cursors(&mut chart, root, panel)
    }

    /// Names of curves and levels at the right, each at the height of what it names, moved apart, with
    /// a piece of its line before it.
    fn name_curves(&self, chart: &Chart, root: &Area, panel: &Panel) -> Drawn {
        let pixel = |y: f64| chart.plotting_area().map_coordinate(&(self.x.to, y));
        let mut names: Vec<(i32, Key)> = Vec::new();
        for (index, curve) in panel.curves.iter().enumerate() {
            let end = curve.points.iter().rfind(|(x, y)| *x <= self.x.to && y.is_finite());
            if let Some(&(_, y)) = end {
                names.push((pixel(y.clamp(panel.y.from, panel.y.to)).1, Key::of(curve, index)));
            }
        }
        for level in &panel.levels {
            let key = Key { name: &level.label, stroke: Stroke::Dotted, marks: false, ink: GREY, width: 1 };
            names.push((pixel(level.at).1, key));
        }
        names.sort_by_key(|name| name.0);
        let gap = TEXT + 2;
        for k in 1..names.len() {
            names[k].0 = names[k].0.max(names[k - 1].0 + gap);
        }
        let (right, floor) = pixel(panel.y.from);
        let mut below = floor + gap / 2;
        for name in names.iter_mut().rev() {
            name.0 = name.0.min(below);
            below = name.0 - gap;
        }
        for (y, key) in names {
            key.paint(root, (right + 8, y))?;
        }
        Ok(())
    }

    fn mark_cursors(&self, chart: &mut Chart, root: &Area, panel: &Panel) -> Drawn {
        let first = self.panels.first().is_some_and(|top| std::ptr::eq(top, panel));
        for (index, cursor) in self.cursors.iter().enumerate() {
            let (from, to) = ((cursor.at, panel.y.from), (cursor.at, panel.y.to));
            line(chart, vec![from, to], Stroke::Dashed, GREY.stroke_width(1))?;
            if !first {
                continue;
            }
            let (x, top) = chart.plotting_area().map_coordinate(&to);
            // Each next one a line lower, so that near ones do not overprint.
            let rows = self.cursor_rows() as i32;
            let row = rows - index as i32 % rows;
            let y = top - WORDS as i32 - row * CURSOR_LINE;
            let late = (cursor.at - self.x.from) > 0.7 * (self.x.to - self.x.from);
            let (side, aside) = if late { (HPos::Right, -4) } else { (HPos::Left, 4) };
            root.draw(&PathElement::new(vec![(x, y), (x, top)], GREY))?;
            write(root, &cursor.label, (x + aside, y), TEXT, &BLACK, side)?;
        }
        Ok(())
    }
}

/// A name with a piece of its line.
struct Key<'a> {
    name: &'a str,
    stroke: Stroke,
    marks: bool,
    ink: RGBColor,
    width: u32,
}

impl<'a> Key<'a> {
    fn of(curve: &'a Curve, index: usize) -> Self {
        let ink = INKS[index % INKS.len()];
        Self { name: &curve.name, stroke: curve.stroke, marks: curve.marks, ink, width: 2 }
    }

    /// At the left end of the piece of line.
    fn paint(&self, root: &Area, (x, y): (i32, i32)) -> Drawn {
        let ends = [(x, y), (x + SAMPLE, y)];
        let style = self.ink.stroke_width(self.width);
        match self.stroke {
            Stroke::Solid => root.draw(&PathElement::new(ends, style))?,
            Stroke::Dashed => root.draw(&plotters::element::DashedPathElement::new(ends, 9, 5, style))?,
            Stroke::Dotted => root.draw(&plotters::element::DashedPathElement::new(ends, 2, 4, style))?,
        }
        if self.marks {
            root.draw(&Circle::new((x + SAMPLE / 2, y), 4, self.ink.filled()))?;
        }
        write(root, self.name, (x + SAMPLE + 6, y - TEXT / 2), TEXT, &BLACK, HPos::Left)
    }
}

fn paint_curve(chart: &mut Chart, curve: &Curve, ink: RGBColor) -> Drawn {
    let points = curve.points.iter().copied().filter(|(x, y)| x.is_finite() && y.is_finite());
    let points: Vec<(f64, f64)> = points.collect();
    if curve.marks {
        chart.draw_series(points.iter().map(|&point| Circle::new(point, 4, ink.filled())))?;
    }
    line(chart, points, curve.stroke, ink.stroke_width(2))
}

fn line(chart: &mut Chart, points: Vec<(f64, f64)>, stroke: Stroke, style: ShapeStyle) -> Drawn {
    match stroke {
        Stroke::Solid => chart.draw_series(LineSeries::new(points, style))?,
        Stroke::Dashed => chart.draw_series(DashedLineSeries::new(points, 9, 5, style))?,
        Stroke::Dotted => chart.draw_series(DashedLineSeries::new(points, 2, 4, style))?,
    };
    Ok(())
}

fn face(size: i32, ink: &RGBColor) -> TextStyle<'static> {
    ("sans-serif", size).into_font().color(ink)
}

fn write(area: &Area, words: &str, at: (i32, i32), size: i32, ink: &RGBColor, side: HPos) -> Drawn {
    let style = face(size, ink).pos(Pos::new(side, VPos::Top));
    area.draw(&Text::new(words.to_owned(), at, style))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp(name: &str, stroke: Stroke) -> Curve {
        let points = (0..=20).map(|k| (f64::from(k) / 20.0, f64::from(k) / 4.0)).collect();
        Curve { name: name.to_owned(), points, stroke, marks: false }
    }

    fn waveforms() -> Plot {
        let panel = |name: &str| Panel {
            y: Axis::of("", "V", 0.0, 5.0),
            curves: vec![ramp(name, Stroke::Solid)],
            levels: vec![Cursor { at: 1.72, label: "reads high 1.72 V".into() }],
        };
        let cursors = [(0.3, "falls"), (0.9, "rises")].map(|(at, label)| Cursor { at, label: label.into() });
        Plot {
            title: "Phases & reset".into(),
            x: Axis::of("time", "s", 0.0, 1.0),
            panels: vec![panel("P1N"), panel("P2N")],
            cursors: cursors.into(),
        }
    }

    #[test]
    fn every_name_and_cursor_stands_in_the_drawing_as_text() {
        let svg = waveforms().draw();
        for words in ["Phases &amp; reset", "P1N", "P2N", "falls", "rises", "reads high 1.72 V", "time, s"] {
            assert!(svg.contains(words), "{words} is missing");
        }
        assert!(svg.trim_end().ends_with("</svg>"));
        assert_eq!(svg, waveforms().draw());
    }

    #[test]
    fn broken_lines_are_more_pieces_than_unbroken_ones() {
        let pieces = |stroke| {
            let plot = Plot::single(
                "t",
                Axis::of("x", "", 0.0, 1.0),
                Axis::of("y", "V", 0.0, 5.0),
                vec![ramp("r", stroke)],
            );
            plot.draw().matches("<polyline").count()
        };
        assert!(pieces(Stroke::Dotted) > pieces(Stroke::Dashed));
        assert!(pieces(Stroke::Dashed) > pieces(Stroke::Solid));
    }

    #[test]
    fn points_that_are_no_numbers_and_empty_plots_draw() {
        let mut curve = ramp("r", Stroke::Dashed);
        curve.points.push((f64::NAN, 1.0));
        curve.points.push((0.5, f64::INFINITY));
        let plot = Plot::single("t", Axis::of("x", "s", 0.0, 1.0), Axis::of("y", "V", 0.0, 5.0), vec![curve]);
        assert!(!plot.draw().contains("NaN"));
        let empty =
            Plot { title: String::new(), x: Axis::of("x", "", 0.0, 1.0), panels: vec![], cursors: vec![] };
        assert!(empty.draw().trim_end().ends_with("</svg>"));
    }
}
