//! A lamp as the page draws it: lit with rays, dark as a bare ring, told by shape before colour.

use dryjoint_board::{Board, PartId};
use dryjoint_session::Sight;
use maud::{Markup, PreEscaped, html};

/// The pictures, once for each page; `use` refers to them.
const SHAPES: &str = r##"<svg class="shapes" aria-hidden="true" width="0" height="0"><defs>
<symbol id="lamp-lit" viewBox="-16 -16 32 32"><circle r="8.5" class="core"/><g class="rays"><path d="M0-11.5v-3M0 11.5v3M11.5 0h3M-11.5 0h-3M8.2-8.2l2.1-2.1M-8.2 8.2l-2.1 2.1M8.2 8.2l2.1 2.1M-8.2-8.2l-2.1-2.1"/></g></symbol>
<symbol id="lamp-dark" viewBox="-16 -16 32 32"><circle r="8.5" class="ring"/></symbol>
<symbol id="lamp-dim" viewBox="-16 -16 32 32"><path d="M-8.5 0a8.5 8.5 0 0 0 17 0z" class="core"/><circle r="8.5" class="ring"/></symbol>
<symbol id="lamp-flickering" viewBox="-16 -16 32 32"><circle r="8.5" class="ring"/><path d="M-14 0l3.5-4 3.5 8 3.5-8 3.5 8 3.5-8 3.5 8 3.5-8 3.5 4" class="wave"/></symbol>
<symbol id="lamp-open" viewBox="-16 -16 32 32"><circle r="8.5" class="ring dashed"/><path d="M-3-2.5c0-4 6-4 6 0 0 2.3-3 2.2-3 4.5M0 5v.6" class="wave"/></symbol>
<symbol id="lamp-none" viewBox="-16 -16 32 32"><path d="M-5 0h10" class="wave"/></symbol>
</defs></svg>"##;

/// The pictures, to stand somewhere in the page.
pub fn shapes() -> Markup {
    PreEscaped(SHAPES.to_owned())
}

/// The word for what a lamp must show: `either` where nobody can know.
pub fn must(good: Option<bool>) -> &'static str {
    match good {
        Some(true) => "lit",
        Some(false) => "dark",
        None => "either",
    }
}

/// A lamp's picture by the word of its state. What it says is said in text beside it.
pub fn picture(word: &str) -> Markup {
    let shape = match word {
        "lit" | "dark" | "dim" | "flickering" => word,
        "either" => "open",
        _ => "none",
    };
    html! {
        svg class={ "lamp " (shape) } aria-hidden="true" focusable="false" {
            use href={ "#lamp-" (shape) } {}
        }
    }
}

/// The lamps group by group in reading order, those of no group last without a name.
pub fn groups(board: &Board, lamps: &[PartId]) -> Vec<(String, Vec<PartId>)> {
    let mut groups: Vec<(String, Vec<PartId>)> = board
        .lamps
        .rows()
        .iter()
        .map(|group| {
            let known = group.lamps.iter().copied().filter(|lamp| lamps.contains(lamp));
            (group.name.clone(), known.collect())
        })
        .collect();
    let grouped = |lamp: &PartId| groups.iter().any(|(_, known)| known.contains(lamp));
    let alone: Vec<PartId> = lamps.iter().copied().filter(|lamp| !grouped(lamp)).collect();
    groups.push((String::new(), alone));
    groups.retain(|(_, lamps)| !lamps.is_empty());
    groups
}

/// The lamps of a board as they look somewhere, without anything to press.
pub fn row(board: &Board, lamps: &[(PartId, Sight)], label: &str) -> Markup {
    let ids: Vec<PartId> = lamps.iter().map(|(lamp, _)| *lamp).collect();
    html! {
        div class="row" role="group" aria-label=(label) {
            @for (name, members) in groups(board, &ids) {
                div class="group" {
                    @if !name.is_empty() { span class="group-name" { (name) } }
                    span class="lamps" {
                        @for lamp in members {
                            @let sight = lamps.iter().find(|(id, _)| *id == lamp).map_or("", |(_, s)| s.word());
                            span class="one" {
                                (picture(sight))
                                span class="reference" { (board.parts[lamp].reference) }
                                span class="word" { (sight) }
                            }
                        }
                    }
                }
            }
        }
    }
}
