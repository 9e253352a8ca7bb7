//! The board map: every part drawn to its place, and marks for where to look and where to probe.

use crate::label;
use crate::outline::{Body, Outline, outline};
use crate::shape::{Anchor, Drawing, Form, Ink, LETTER, Point};
use dryjoint_board::{Board, NetId, Part, PartId, PartKind, PinId, Place};

/// Room between the outermost part and the board's edge that is drawn, millimetres.
const MARGIN: f64 = 6.0;
/// Room around the marks when only their surroundings are drawn, and the least that is drawn.
const AROUND: f64 = 14.0;
const LEAST: f64 = 50.0;

/// A board to be drawn.
#[derive(Clone, Debug)]
pub struct BoardMap<'b> {
    /// The board.
    pub board: &'b Board,
    /// What to mark, the most important first.
    pub marks: Vec<Mark>,
    /// How much of it to draw.
    pub view: View,
    /// Whether parts bear their references: legible where a millimetre is six pixels or more.
    pub names: bool,
    /// The size of labels as a share of the drawing's width: 1/30 is 12 pixels on a narrow telephone.
    pub letters: f64,
}

/// How much of a board to draw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum View {
    /// All of it.
    Whole,
    /// What lies around the marks; all of it without marks.
    Near,
}

/// A place to mark.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Where.
    pub spot: Spot,
    /// What for.
    pub kind: Kind,
    /// What stands beside it, short: `1`, `A2`, `4.28 V`; empty for a mark alone.
    pub label: String,
    /// What it is called when a person points at it.
    pub title: String,
}

/// What is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spot {
    /// A whole part.
    Part(PartId),
    /// A pin, and so a joint.
    Pin(PinId),
    /// The handiest bare joint of a net.
    Net(NetId),
}

/// What a mark asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Look here: a ring.
    Look,
    /// Hold a lead here: an arrow head whose tip is the joint.
    Probe,
}

/// Where on the board something is: to the right, and away from the front edge, millimetres. Nothing for what
/// has no place, or for a net that no lead reaches.
pub fn spot(board: &Board, spot: Spot) -> Option<(f64, f64)> {
    let hole = |pin| board.hole(pin).map(|(x, y)| (x.0, y.0));
    match spot {
        Spot::Part(part) => board.parts[part].place.map(|place| (place.x.0, place.y.0)),
        Spot::Pin(pin) => hole(pin),
        Spot::Net(net) if !board.nets[net].reachable => None,
        Spot::Net(net) => {
            let handy = |pin: &&PinId| match board.parts[board.pins[**pin].part].kind {
                PartKind::TestPoint => 0,
                PartKind::Header => 1,
                PartKind::Resistor { .. } | PartKind::Link => 2,
                _ => 3,
            };
            let placed = board.nets[net].pins.iter().filter(|pin| hole(**pin).is_some());
            placed.min_by_key(handy).and_then(|pin| hole(*pin))
        }
    }
}

impl<'b> BoardMap<'b> {
    /// The whole board with these marks and no names.
    pub fn new(board: &'b Board, marks: Vec<Mark>) -> Self {
        Self { board, marks, view: View::Whole, names: false, letters: 1.0 / 30.0 }
    }

    /// The surroundings of these marks with the names of the parts.
    pub fn near(board: &'b Board, marks: Vec<Mark>) -> Self {
        Self { view: View::Near, names: true, ..Self::new(board, marks) }
    }

    /// The drawing, in millimetres; nothing where no part has a place. Marks without a place are left
    /// out: see [`spot`].
    pub fn draw(&self) -> Option<Drawing> {
        let board = self.board;
        let whole = extent(board)?;
        let marked: Vec<(f64, f64)> = self.marks.iter().filter_map(|mark| spot(board, mark.spot)).collect();
        let window = match self.view {
            View::Near if !marked.is_empty() => whole.window(&marked),
            _ => whole,
        };
        let title = match self.view {
            View::Whole => format!("Map of board {}", board.name),
            View::Near => format!("Detail of board {}", board.name),
        };
        let (width, height) = (window.right - window.left, window.top - window.bottom);
        let mut drawing = Drawing { title, width, height, shapes: Vec::new() };
        let at = |(x, y): (f64, f64)| Point { x: x - window.left, y: window.top - y };
        let corners = [
            (whole.left, whole.bottom),
            (whole.right, whole.bottom),
            (whole.right, whole.top),
            (whole.left, whole.top),
        ];
        drawing.add(Ink::Edge, Form::Area(corners.map(at).to_vec()));
        let seen = |place: Place| {
            let reach = 12.0;
            (window.left - reach..=window.right + reach).contains(&place.x.0)
                && (window.bottom - reach..=window.top + reach).contains(&place.y.0)
        };
        let parts: Vec<(PartId, &Part, Place, Outline)> = board
            .parts
            .iter()
            .filter_map(|(id, part)| Some((id, part, part.place?)))
            // A header is long: it is drawn whenever the board is.
            .filter(|(_, part, place)| part.kind == PartKind::Header || seen(*place))
            .map(|(id, part, place)| (id, part, place, outline(&part.kind, part.pins.len())))
            .collect();
        self.draw_parts(&mut drawing, &parts, &at);
        self.draw_marks(&mut drawing, &at);
        Some(drawing)
    }

    fn draw_parts(
        &self,
        drawing: &mut Drawing,
        parts: &[(PartId, &Part, Place, Outline)],
        at: &dyn Fn((f64, f64)) -> Point,
    ) {
        let board = self.board;
        let holes = |part: &Part| {
            part.pins
                .iter()
                .filter_map(|pin| board.hole(*pin))
                .map(|(x, y)| at((x.0, y.0)))
                .collect::<Vec<_>>()
        };
        for (_, part, ..) in parts {
            let holes = holes(part);
            let legs = matches!(
                part.kind,
                PartKind::Resistor { .. }
                    | PartKind::Capacitor { polar: false, .. }
                    | PartKind::Diode(_)
                    | PartKind::Link
            );
            if legs && holes.len() == 2 {
                drawing.add(Ink::Leg, Form::Line(holes));
            }
        }
        for (id, _, place, outline) in parts {
            for body in &outline.bodies {
                drawing.add_named(Ink::Body, form(body, *place, at), said(board, *id));
            }
        }
        for (_, _, place, outline) in parts {
            for detail in &outline.details {
                drawing.add(Ink::Detail, form(detail, *place, at));
            }
        }
        for (_, part, ..) in parts {
            for middle in holes(part) {
                drawing.add(Ink::Hole, Form::Circle { middle, radius: 0.45 });
            }
        }
        for (_, part, place, outline) in parts.iter().filter(|_| self.names) {
            drawing.add(Ink::Name, name(&part.reference, *place, outline, at));
        }
    }

    fn draw_marks(&self, drawing: &mut Drawing, at: &dyn Fn((f64, f64)) -> Point) {
        let (width, height) = (drawing.width, drawing.height);
        let size = self.letters * width;
        let marks: Vec<(&Mark, Point)> =
            self.marks.iter().filter_map(|mark| Some((mark, at(spot(self.board, mark.spot)?)))).collect();
        let ring = |mark: &Mark| match mark.spot {
            Spot::Part(_) => (size * 0.55).max(3.2),
            _ => (size * 0.4).max(1.1),
        };
        for &(mark, middle) in &marks {
            match mark.kind {
                Kind::Look => {
                    let form = Form::Circle { middle, radius: ring(mark) };
                    drawing.add_named(Ink::Look, form, mark.title.clone());
                }
                Kind::Probe => {
                    // The head comes from below, at the lower edge from above.
                    let long = size.max(2.4);
                    let down = if middle.y + long < height { long } else { -long };
                    let head = vec![middle, middle.by(long * 0.45, down), middle.by(-long * 0.45, down)];
                    drawing.add_named(Ink::Probe, Form::Area(head), mark.title.clone());
                }
            }
        }
        let labelled: Vec<&(&Mark, Point)> =
            marks.iter().filter(|(mark, _)| !mark.label.is_empty()).collect();
        let sizes: Vec<(Point, f64, f64)> = labelled
            .iter()
            .map(|(mark, point)| {
                let long = (mark.label.chars().count() as f64 * LETTER + 0.6) * size;
                (*point, long.max(1.3 * size), 1.4 * size)
            })
            .collect();
        let clear = (size * 0.6).max(1.6);
        let boxes = label::place(&sizes, clear, width, height);
        for (&&(mark, point), field) in labelled.iter().zip(&boxes) {
            // The line starts at the mark's rim, so that the joint itself stays in sight.
            let (x, y) = (field.middle.x - point.x, field.middle.y - point.y);
            let far = x.hypot(y).max(f64::MIN_POSITIVE);
            let rim = if mark.kind == Kind::Look { ring(mark).min(far) } else { 0.0 };
            let start = point.by(x / far * rim, y / far * rim);
            drawing.add(Ink::Leader, Form::Line(vec![start, field.middle]));
        }
        for field in &boxes {
            drawing.add(Ink::Field, Form::rectangle(field.middle, field.width, field.height));
        }
        for ((mark, _), field) in labelled.iter().zip(&boxes) {
            let base = field.middle.by(0.0, 0.36 * size);
            drawing.write(Ink::Label, base, Anchor::Middle, size, mark.label.clone());
        }
    }
}

/// A part in words: `R17 22k`.
fn said(board: &Board, id: PartId) -> String {
    let part = &board.parts[id];
    match &part.kind {
        PartKind::Resistor { ohms, .. } => format!("{} {ohms}", part.reference),
        PartKind::Capacitor { farads, .. } => format!("{} {farads}", part.reference),
        PartKind::Diode(model) | PartKind::Lamp(model) | PartKind::Bipolar(model) => {
            format!("{} {}", part.reference, board.models[*model].name)
        }
        _ => part.reference.clone(),
    }
}

/// A piece of a part where it sits.
fn form(body: &Body, place: Place, at: &dyn Fn((f64, f64)) -> Point) -> Form {
    match body {
        Body::Polygon(corners) => {
            Form::Area(corners.iter().map(|&corner| at(turned(corner, place))).collect())
        }
        &Body::Circle(x, y, radius) => Form::Circle { middle: at(turned((x, y), place)), radius },
    }
}

fn turned((x, y): (f64, f64), place: Place) -> (f64, f64) {
    let (sine, cosine) = place.rotation.to_radians().sin_cos();
    (place.x.0 + x * cosine - y * sine, place.y.0 + x * sine + y * cosine)
}

/// The reference in the room its outline leaves, along a body that stands upright, never upside down.
fn name(reference: &str, place: Place, outline: &Outline, at: &dyn Fn((f64, f64)) -> Point) -> Form {
    let (long, high) = outline.name.size;
    let size = (long / (LETTER * reference.chars().count().max(1) as f64)).min(high);
    let upright = place.rotation.rem_euclid(180.0) > 45.0 && place.rotation.rem_euclid(180.0) < 135.0;
    let middle = at(turned(outline.name.middle, place));
    let (turn, base) =
        if upright { (90.0, middle.by(0.36 * size, 0.0)) } else { (0.0, middle.by(0.0, 0.36 * size)) };
    Form::Text { at: base, anchor: Anchor::Middle, size, turn, text: reference.to_owned() }
}

/// A rectangle of the board, millimetres.
#[derive(Clone, Copy, Debug)]
struct Window {
    left: f64,
    right: f64,
    bottom: f64,
    top: f64,
}

impl Window {
    fn around(points: &[(f64, f64)], room: f64) -> Self {
        let fold = |start: f64, pick: fn(f64, f64) -> f64, of: fn(&(f64, f64)) -> f64| {
            points.iter().map(of).fold(start, pick)
        };
        Self {
            left: fold(f64::INFINITY, f64::min, |p| p.0) - room,
            right: fold(f64::NEG_INFINITY, f64::max, |p| p.0) + room,
            bottom: fold(f64::INFINITY, f64::min, |p| p.1) - room,
            top: fold(f64::NEG_INFINITY, f64::max, |p| p.1) + room,
        }
    }

    /// The part of this window around some points of it: never narrower than it must be to tell where
    /// one is, never beyond the board.
    fn window(&self, points: &[(f64, f64)]) -> Self {
        let near = Self::around(points, AROUND);
        let stretch = |low: f64, high: f64, least: f64, from: f64, to: f64| {
            let more = ((least - (high - low)) / 2.0).max(0.0);
            let (low, high) = (low - more, high + more);
            let shift = (from - low).max(0.0) - (high - to).max(0.0);
            ((low + shift).max(from), (high + shift).min(to))
        };
        let (left, right) = stretch(near.left, near.right, LEAST, self.left, self.right);
        // At least half as high as wide, so that a row of marks does not become a ribbon.
        let least = LEAST.max((right - left) / 2.0);
        let (bottom, top) = stretch(near.bottom, near.top, least, self.bottom, self.top);
        Self { left, right, bottom, top }
    }
}

/// The board's edge as far as its parts tell: from its corner, or from further out where parts do.
fn extent(board: &Board) -> Option<Window> {
    let holes = board.pins.ids().filter_map(|pin| board.hole(pin)).map(|(x, y)| (x.0, y.0));
    let middles = board.parts.rows().iter().filter_map(|part| part.place).map(|place| (place.x.0, place.y.0));
    // A header bears its name beside its first pin.
    let headers = board.parts.rows().iter().filter(|part| part.kind == PartKind::Header);
    let names = headers.filter_map(|part| {
        let field = outline(&part.kind, part.pins.len()).name;
        Some(turned((field.middle.0 + MARGIN - field.size.0, field.middle.1), part.place?))
    });
    let points: Vec<(f64, f64)> =
        holes.chain(middles).chain(names).filter(|(x, y)| x.is_finite() && y.is_finite()).collect();
    if points.is_empty() {
        return None;
    }
    let found = Window::around(&points, MARGIN);
    Some(Window { left: found.left.min(0.0), bottom: found.bottom.min(0.0), ..found })
}
