//! Drawings for page and paper, and for eyes that tell no colours apart.
//!
//! The main type is [`Drawing`], a small list of shapes that knows neither page nor paper; the main verb is
//! [`BoardMap::draw`], which draws every part to its place with marks for the joints to look at and the
//! points to probe. [`Drawing::svg`] writes a drawing for the page: lines in `currentColor`, a class on
//! every kind of shape, so that the page's own style sheet decides the colours in light and dark. Another
//! writer can walk [`Drawing::shapes`] and ask [`Ink::pen`] what each looks like in black and white.
//!
//! [`lamps()`] and [`header()`] draw lamp groups and connectors.
//! [`Plot`] is curves over an axis; its verb is [`Plot::draw`]. Nothing in a drawing is told by colour
//! alone: marks differ by shape, curves by their dashes, and all carry their names.
//!
//! ```
//! use dryjoint_picture::{Axis, Curve, Plot, Stroke};
//! let points = (0..=50).map(|k| (f64::from(k), 1.0 - 0.95f64.powi(k))).collect();
//! let curve = Curve { name: "faults found".into(), points, stroke: Stroke::Solid, marks: false };
//! let minutes = Axis::of("bench time", "min", 0.0, 50.0);
//! let svg = Plot::single("Coverage", minutes, Axis::of("share", "", 0.0, 1.0), vec![curve]).draw();
//! assert!(svg.starts_with("<svg") && svg.contains("faults found"));
//! ```

mod header;
mod label;
mod lamps;
mod map;
mod outline;
mod plot;
mod plot_axis;
mod shape;
mod svg;

pub use header::{PinPicture, Touch, header};
pub use lamps::{LampPicture, LampRow, Sign, lamps};
pub use map::{BoardMap, Kind, Mark, Spot, View, spot};
pub use plot::{Cursor, Curve, Panel, Plot, Stroke};
pub use plot_axis::Axis;
pub use shape::{Anchor, Drawing, Fill, Form, Ink, Pen, Point, Shape};
pub use svg::escaped;
