//! The whole board on one page, to find a part by its reference.

use crate::{Block, Chapter, Layout};
use dryjoint_board::Board;
use dryjoint_picture::BoardMap;

pub fn chapter(board: &Board) -> Option<Chapter> {
    let map = BoardMap { names: true, ..BoardMap::new(board, Vec::new()) };
    let drawing = map.draw()?;
    Some(Chapter {
        heading: "Where the parts are".to_owned(),
        layout: Layout::OnePage,
        blocks: vec![Block::Drawing(drawing)],
    })
}
