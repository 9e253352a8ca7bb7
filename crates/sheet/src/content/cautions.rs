//! What to know before power: common practice at any bench, no source, but for the ties, which are computed.

use crate::{Block, Chapter, Layout};
use dryjoint_board::PartKind;
use dryjoint_logic::Extracted;
use dryjoint_survey::{Judgement, ties};

pub fn chapter(extracted: &Extracted) -> Chapter {
    let board = extracted.shape.board;
    let mut list = vec![
        "Set the current limit of the supply before you connect it, to the figure below and no higher."
            .to_owned(),
        "Power off before you move a part, a plug, or a jumper to a rail. A plug one pin off puts the rail \
         where it should not be."
            .to_owned(),
    ];
    let (ties, _) = ties(extracted, None);
    let hot = ties.iter().filter(|row| row.rail.judgement == Judgement::Unsafe);
    let hot: Vec<&str> = hot.map(|row| board.nets[board.pins[row.pin].net].name.as_str()).collect();
    if hot.is_empty() {
        list.push(
            "Tie to the rail only the lines that say so. An open line reads its idle level.".to_owned(),
        );
    } else {
        list.push(format!(
            "Never tie {} straight to the rail: a transistor that is on and pulls it low, here or on another \
             board, overheats. An open line reads its idle level.",
            hot.join(", ")
        ));
    }
    let polar: Vec<&str> = board
        .parts
        .rows()
        .iter()
        .filter(|part| matches!(part.kind, PartKind::Capacitor { polar: true, .. }))
        .map(|part| part.reference.as_str())
        .collect();
    if !polar.is_empty() {
        list.push(format!(
            "An electrolytic the wrong way round can burst: look at the + of {} before power, and keep your \
             face away at first power.",
            polar.join(", ")
        ));
    }
    list.push(
        "Smoke, a smell, a part too hot to touch, or the supply at its limit: power off first, then look."
            .to_owned(),
    );
    list.push(
        "A soldering iron is hot for minutes after it is off. Wear glasses when you cut leads. Touch ground \
         before you touch a chip: static kills silently."
            .to_owned(),
    );
    list.push(
        "The mains side of a supply is for licensed people only. Where your local rules and this sheet \
         differ, the local rules hold."
            .to_owned(),
    );
    Chapter {
        heading: "Before you switch on".to_owned(),
        layout: Layout::Follow,
        blocks: vec![Block::List(list)],
    }
}
