//! Drawings as SVG text, for paper and for eyes that tell no colours apart.
//!
//! The main type is [`Plot`], curves over an axis; its main verb is [`Plot::draw`]. Nothing in a
//! drawing is told by colour alone: curves differ by their dashes and carry their names.
//!
//! ```
//! use dryjoint_picture::{Axis, Curve, Plot, Stroke};
//! let points = (0..=50).map(|k| (f64::from(k), 1.0 - 0.95f64.powi(k))).collect();
//! let curve = Curve { name: "faults found".into(), points, stroke: Stroke::Solid, marks: false };
//! let minutes = Axis::of("bench time", "min", 0.0, 50.0);
//! let svg = Plot::single("Coverage", minutes, Axis::of("share", "", 0.0, 1.0), vec![curve]).draw();
//! assert!(svg.starts_with("<svg") && svg.contains("faults found"));
//! ```

mod plot;
mod plot_axis;

pub use plot::{Cursor, Curve, Panel, Plot, Stroke};
pub use plot_axis::Axis;
