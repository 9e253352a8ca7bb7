//! Reference designators whose class letters are not those of the part's kind (IEEE 315, clause 22;
//! from memory).

use crate::{Board, Entity, Notice, PartKind};

/// The class letters of a kind, the customary ones first.
fn classes(kind: &PartKind) -> &'static [&'static str] {
    match kind {
        PartKind::Resistor { .. } => &["R"],
        PartKind::Capacitor { .. } => &["C"],
        PartKind::Diode(_) => &["D", "CR"],
        PartKind::Lamp(_) => &["DS"],
        PartKind::Bipolar(_) => &["Q"],
        PartKind::Button | PartKind::Toggle | PartKind::Selector => &["S"],
        PartKind::Link => &["W"],
        PartKind::Header => &["J", "P"],
        PartKind::TestPoint => &["TP"],
    }
}

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    for (id, part) in board.parts.iter() {
        let letters = part.reference.trim_end_matches(|c: char| c.is_ascii_digit());
        let classes = classes(&part.kind);
        if !classes.contains(&letters) || letters.len() == part.reference.len() {
            let text = format!("`{}` is no reference of such a part", part.reference);
            let mend = format!("begin it with {} and end it with a number", classes.join(" or "));
            out.push(Notice::error("reference-class", Entity::Part(id), text, mend));
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::{Board, Part, PartKind};

    #[test]
    fn a_link_called_r1_is_told() {
        let mut board = Board::default();
        board.parts.push(Part {
            reference: "R1".into(),
            kind: PartKind::Header,
            pins: vec![],
            place: None,
            section: String::new(),
        });
        assert!(board.check().iter().any(|notice| notice.code == "reference-class"));
    }
}
