//! The reading as a whole: files to words, words to bodies, bodies to a board.

use crate::bench::bench;
use crate::cards::Cards;
use crate::collect::{Collected, collect};
use crate::compile::compile;
use crate::door::Door;
use crate::layout::Layout;
use crate::load::{Loader, load};
use crate::names::is_name;
use crate::notices::{Notices, Placed};
use crate::positions::Positions;
use crate::rails::rails;
use crate::scan::unquote;
use crate::size::measure;
use crate::source::Sources;
use dryjoint_board::{Board, Severity};
use rustc_hash::FxHashSet;

/// What came of a text.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The board; nothing where the text has an error.
    pub board: Option<Board>,
    /// What could be made out of the text where it has errors.
    pub(crate) draft: Option<Board>,
    /// Where the board's things stand in the text.
    pub positions: Positions,
    /// The texts.
    pub sources: Sources,
    /// What there is to remark, in the order of the text.
    pub notices: Vec<Placed>,
}

impl Reading {
    /// Whether a notice is an error, so that there is no board.
    pub fn has_errors(&self) -> bool {
        self.notices.iter().any(|notice| notice.severity == Severity::Error)
    }
}

/// Reads a board from `text`, which is the file `name`; `loader` fetches the files its `use` lines name.
pub fn read(name: &str, text: impl AsRef<[u8]>, loader: &mut Loader<'_>) -> Reading {
    let mut notices = Notices::default();
    let loaded = load(name, text.as_ref(), loader, &mut notices);
    let mut door = Door::new(&loaded.sources, &loaded.scanned, notices);
    let (board, positions) = board(&mut door);
    let whole = door.notices.errors() == 0;
    let notices = door.notices.finish();
    let (board, draft) = if whole { (board, None) } else { (None, board) };
    Reading { board, draft, positions, sources: loaded.sources, notices }
}

/// Reads a board from a text that uses no other file.
pub fn read_alone(name: &str, text: impl AsRef<[u8]>) -> Reading {
    read(name, text, &mut |_| Err("this text stands alone".into()))
}

fn board(door: &mut Door<'_>) -> (Option<Board>, Positions) {
    let collected = collect(door);
    let rails = rails(&collected.rails, door);
    let rail_names: FxHashSet<_> = rails.keys().copied().collect();
    let mut cards = Cards::read(&collected.models, door);
    let mut bodies = Vec::with_capacity(collected.cells.len() + 1);
    for cell in &collected.cells {
        bodies.push(compile(door, &collected, &mut cards, &rail_names, Some(&cell.head), &cell.lines));
    }
    bodies.push(compile(door, &collected, &mut cards, &rail_names, None, &collected.top));
    // What is too big is not laid out.
    let loops = measure(&bodies, door).filter(|_| !door.is_spent());
    let Some(loops) = loops else { return (None, Positions::default()) };
    let mut layout = Layout::new(door, &mut cards, &bodies, &loops, &rails);
    layout.lay_out();
    bench(&collected.bench, &mut layout);
    let (mut board, mut positions) = (layout.board, layout.positions);
    title(&collected, &mut board, &mut positions, door);
    (Some(board), positions)
}

/// `board address "Six-bit program address"`.
fn title(collected: &Collected, board: &mut Board, positions: &mut Positions, door: &mut Door<'_>) {
    let Some(at) = collected.board else {
        return;
    };
    let mut words = door.words(at);
    let keyword = words.next();
    match words.next().filter(|token| token.is_word() && is_name(token.text)) {
        Some(name) => {
            board.name = name.text.to_owned();
            positions.board = Some(name.span);
            if let Some(title) = words.take_quoted() {
                board.title = unquote(title.text);
            }
            door.nothing_left(&mut words);
        }
        None => {
            let span = keyword.map_or(words.span(), |token| token.span);
            let mend = "write `board address \"Six-bit program address\"`";
            door.error("board-what", span, "`board` without a name".into(), mend);
        }
    }
}
