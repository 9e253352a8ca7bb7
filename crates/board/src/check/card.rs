//! Cards of the wrong kind, and cards whose figures cannot be true.

use crate::{Board, Entity, Notice, PartKind};
use dryjoint_ids::Side;
use dryjoint_parts::Model;

pub(super) fn check(board: &Board, out: &mut Vec<Notice>) {
    let mut told = Side::filled(&board.models, false);
    for (id, part) in board.parts.iter() {
        let (model, fits) = match part.kind {
            PartKind::Bipolar(model) => (model, matches!(board.models[model].model, Model::Bipolar(_))),
            PartKind::Diode(model) => (model, matches!(board.models[model].model, Model::Diode(_))),
            PartKind::Lamp(model) => (model, matches!(board.models[model].model, Model::Lamp(_))),
            _ => continue,
        };
        let named = &board.models[model];
        if !fits {
            let text = format!("`{}` has the card `{}` of another kind of part", part.reference, named.name);
            out.push(Notice::error("card-kind", Entity::Part(id), text, "name a card of the right kind"));
        }
        if std::mem::replace(&mut told[model], true) {
            continue;
        }
        for fault in named.model.check() {
            let text = format!(
                "{} of card `{}` is {:e}; real parts show {:e} to {:e}",
                fault.parameter, named.name, fault.value, fault.least, fault.most
            );
            out.push(Notice::error("card-range", Entity::Part(id), text, fault.mend));
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::{Board, NamedModel, Part, PartKind};
    use dryjoint_parts::library;

    #[test]
    fn a_card_that_cannot_be_true_and_one_of_another_kind_are_told() {
        let mut board = Board::default();
        let mut card = library("2N3904").unwrap();
        card.set("BF", -3.0);
        let model = board.models.push(NamedModel { name: "QX".into(), model: card });
        let mut part = |reference: &str, kind: PartKind| {
            let row =
                Part { reference: reference.into(), kind, pins: vec![], place: None, section: String::new() };
            board.parts.push(row);
        };
        part("Q1", PartKind::Bipolar(model));
        part("D1", PartKind::Diode(model));
        let mut out = Vec::new();
        super::check(&board, &mut out);
        let codes: Vec<_> = out.iter().map(|notice| notice.code).collect();
        assert_eq!(codes, ["card-range", "card-kind"]);
    }
}
