//! Lamps as pictures, and how to read them.

use crate::{Block, Chapter, Layout};
use dryjoint_board::{Board, PartId};
use dryjoint_picture::{LampPicture, LampRow, Sign, lamps};
use dryjoint_procedure::Study;

/// The width that pictures of lamps keep to, millimetres.
pub const WIDTH: f64 = 96.0;

pub fn chapter(study: &Study) -> Option<Chapter> {
    let board = study.extracted.shape.board;
    let all: Vec<(PartId, Option<bool>)> =
        study.rig.lamps.iter().map(|&(lamp, _)| (lamp, Some(false))).collect();
    if all.is_empty() {
        return None;
    }
    let text = "All lamps as they stand on the board, the most significant of a group at the left. In the steps \
                a full disc is a lamp that is lit, a ring one that is dark, and a ring with a question mark one \
                that may be either. A wedge below a lamp says that it has just changed.";
    let drawing = lamps(&rows(board, &all, None), 160.0, true);
    Some(Chapter {
        heading: "Lamps".to_owned(),
        layout: Layout::Follow,
        blocks: vec![Block::Text(text.to_owned()), Block::Drawing(drawing)],
    })
}

/// Lamps with what they show, group by group; a lamp of no group stands alone under its reference.
pub fn rows(
    board: &Board,
    shown: &[(PartId, Option<bool>)],
    before: Option<&[(PartId, Option<bool>)]>,
) -> Vec<LampRow> {
    let picture = |&(lamp, lit): &(PartId, Option<bool>)| {
        let earlier = before.and_then(|before| before.iter().find(|(known, _)| *known == lamp));
        LampPicture {
            reference: board.parts[lamp].reference.clone(),
            sign: match lit {
                Some(true) => Sign::Lit,
                Some(false) => Sign::Dark,
                None => Sign::Unknown,
            },
            changed: earlier
                .is_some_and(|&(_, earlier)| earlier.is_some() && lit.is_some() && earlier != lit),
        }
    };
    let group_of = |lamp: PartId| board.lamps.rows().iter().find(|group| group.lamps.contains(&lamp));
    let mut rows: Vec<LampRow> = Vec::new();
    for one in shown {
        let name = group_of(one.0).map_or(&board.parts[one.0].reference, |group| &group.name);
        match rows.last_mut() {
            Some(row) if row.name == *name => row.lamps.push(picture(one)),
            _ => rows.push(LampRow { name: name.clone(), lamps: vec![picture(one)] }),
        }
    }
    rows
}
