//! The map of a real board: nothing is left out, nothing leaves the frame, labels keep clear.

use dryjoint_board::{Board, PartKind};
use dryjoint_netlist::read;
use dryjoint_picture::{BoardMap, Drawing, Form, Ink, Kind, Mark, Spot, View, spot};

fn board(file: &str) -> Board {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../boards/");
    let text = |name: &str| std::fs::read(format!("{folder}{name}")).map_err(|error| error.to_string());
    let mut loader = |name: &str| text(name);
    let reading = read(file, text(file).unwrap_or_else(|error| panic!("{file}: {error}")), &mut loader);
    reading.board.unwrap_or_else(|| panic!("{:?}", reading.notices))
}

fn marks(board: &Board) -> Vec<Mark> {
    let mark = |spot, kind, label: &str| Mark {
        spot,
        kind,
        label: label.to_owned(),
        title: format!("{kind:?} {label}"),
    };
    let transistors = board.parts.iter().filter(|(_, part)| matches!(part.kind, PartKind::Bipolar(_)));
    let mut marks: Vec<Mark> = transistors
        .skip(40)
        .step_by(3)
        .take(5)
        .enumerate()
        .map(|(index, (id, part))| match index {
            0 => mark(Spot::Part(id), Kind::Look, "1"),
            _ => mark(Spot::Pin(part.pins[index % 3]), Kind::Look, &(index + 1).to_string()),
        })
        .collect();
    let bus = board.nets.iter().find(|(_, net)| net.name == "A2" || net.name == "T2");
    marks.push(mark(Spot::Net(bus.expect("the board has that net").0), Kind::Probe, "4.28 V"));
    marks
}

fn count(drawing: &Drawing, ink: Ink) -> usize {
    drawing.shapes.iter().filter(|shape| shape.ink == ink).count()
}

#[test]
fn every_part_and_every_mark_is_drawn() {
    for file in ["address.board", "phase.board"] {
        let board = board(file);
        let mut map = BoardMap::new(&board, marks(&board));
        map.names = true;
        let drawing = map.draw().expect("the parts have places");
        let holes = board.pins.ids().filter(|pin| board.hole(*pin).is_some()).count();
        assert_eq!(count(&drawing, Ink::Hole), holes);
        assert_eq!(count(&drawing, Ink::Name), board.parts.len());
        assert_eq!((count(&drawing, Ink::Look), count(&drawing, Ink::Probe)), (5, 1));
        assert_eq!(count(&drawing, Ink::Label), 6);
        let svg = drawing.svg();
        let tree = roxmltree::Document::parse(&svg).unwrap_or_else(|error| panic!("{file}: {error}"));
        let titles = tree.descendants().filter(|node| node.has_tag_name("title")).count();
        assert!(titles > board.parts.len(), "each part and mark tells its name: {titles}");
        for node in tree.descendants().filter(|node| node.is_element()) {
            assert!(
                !node.has_attribute("style") && !node.has_tag_name("style"),
                "a strict page refuses styles"
            );
        }
        assert_eq!(svg, map.draw().map(|drawing| drawing.svg()).unwrap_or_default(), "same bytes again");
    }
}

#[test]
fn all_of_a_whole_map_lies_within_its_frame() {
    let board = board("address.board");
    let drawing = BoardMap::new(&board, marks(&board)).draw().expect("the parts have places");
    // The board's README gives the size: 260 × 190 mm; the drawing may be a little short of the edge.
    assert!(
        (drawing.width - 260.0).abs() < 5.0 && (drawing.height - 190.0).abs() < 12.0,
        "{} {}",
        drawing.width,
        drawing.height
    );
    for shape in &drawing.shapes {
        let points = match &shape.form {
            Form::Line(points) | Form::Area(points) => points.clone(),
            Form::Circle { middle, radius } => vec![middle.by(-radius, -radius), middle.by(*radius, *radius)],
            Form::Text { at, .. } => vec![*at],
        };
        for point in points {
            let inside =
                (0.0..=drawing.width).contains(&point.x) && (0.0..=drawing.height).contains(&point.y);
            assert!(inside, "{shape:?}");
        }
    }
}

#[test]
fn a_detail_is_smaller_than_the_board_and_holds_all_marks() {
    let board = board("address.board");
    let marks = marks(&board);
    let map = BoardMap::near(&board, marks[1..3].to_vec());
    assert_eq!(map.view, View::Near);
    let detail = map.draw().expect("the parts have places");
    assert!(detail.width < 130.0 && detail.height < 130.0, "{} {}", detail.width, detail.height);
    assert_eq!(count(&detail, Ink::Label), 2);
}

#[test]
fn a_net_is_probed_where_a_lead_holds_best() {
    let board = board("address.board");
    let net = |name: &str| board.nets.iter().find(|(_, net)| net.name == name).expect("a net of the board").0;
    let at = |reference: &str, pin: &str| {
        let part =
            board.parts.rows().iter().find(|part| part.reference == reference).expect("a part of the board");
        let pin = part.pins.iter().find(|id| board.pins[**id].name == pin).expect("a pin of the part");
        spot(&board, Spot::Pin(*pin))
    };
    assert_eq!(spot(&board, Spot::Net(net("P1N"))), at("TP1", "1"), "a test point before all else");
    assert_eq!(spot(&board, Spot::Net(net("A2"))), at("J1", "17"), "then a connector");
}

#[test]
fn a_board_without_places_has_no_map() {
    let mut board = board("address.board");
    let ids: Vec<_> = board.parts.ids().collect();
    ids.into_iter().for_each(|id| board.parts[id].place = None);
    assert!(BoardMap::new(&board, Vec::new()).draw().is_none());
}

#[test]
#[ignore = "slow: writes the drawings into the folder that DRAWINGS names, for a person to look at"]
fn drawings_to_look_at() {
    let folder = std::env::var("DRAWINGS").expect("DRAWINGS names a folder");
    for file in ["address.board", "phase.board"] {
        let board = board(file);
        let marks = marks(&board);
        for (name, map) in
            [("whole", BoardMap::new(&board, marks.clone())), ("near", BoardMap::near(&board, marks))]
        {
            let svg = map.draw().expect("the parts have places").svg();
            std::fs::write(format!("{folder}/{file}-{name}.svg"), svg).expect("the folder takes files");
        }
    }
}
