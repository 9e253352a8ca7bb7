//! Notices about a board's things, brought back to the text they come from.

use crate::notices::Placed;
use crate::read::Reading;
use crate::source::Span;
use dryjoint_board::{Notice, Severity};
use rustc_hash::FxHashMap;

impl Reading {
    /// `notices` of any later stage with their places, those of one cell's line gathered into one.
    pub fn place(&self, notices: &[Notice]) -> Vec<Placed> {
        let Some(board) = self.board.as_ref().or(self.draft.as_ref()) else { return Vec::new() };
        let mut out: Vec<Placed> = Vec::new();
        let mut known: FxHashMap<(&'static str, Span), (usize, usize)> = FxHashMap::default();
        for notice in notices {
            let span = self.positions.span(notice.about);
            let around = self.positions.placed_by(board, notice.about);
            if let Some(span) = span.filter(|_| !around.is_empty()) {
                if let Some((_, more)) = known.get_mut(&(notice.code, span)) {
                    *more += 1;
                    continue;
                }
                known.insert((notice.code, span), (out.len(), 0));
            }
            let also = around.last().map(|span| (*span, "laid out for this line".to_owned()));
            out.push(Placed {
                severity: notice.severity,
                code: notice.code,
                text: notice.text.clone(),
                mend: notice.mend.clone(),
                place: span,
                also: also.into_iter().collect(),
            });
        }
        for (at, more) in known.into_values().filter(|(_, more)| *more > 0) {
            let what = if more == 1 { "once more".to_owned() } else { format!("{more} times more") };
            out[at].text.push_str(&format!(" (and the same {what}, elsewhere)"));
        }
        out
    }

    /// Adds what [`Board::check`](dryjoint_board::Board::check) has to remark. Where the text has errors only those remarks are added
    /// that a line which could not be read does not bring about by itself.
    pub fn check(&mut self) {
        let found = match (&self.board, &self.draft) {
            (Some(board), _) => board.check(),
            (None, Some(draft)) => {
                let mut found = draft.check();
                found.retain(|notice| !dryjoint_board::FOLLOW_ON.contains(&notice.code));
                found
            }
            (None, None) => return,
        };
        let placed = self.place(&found);
        self.notices.extend(placed);
        self.notices.sort_by_key(|notice| notice.place.map_or((1, None), |span| (0, Some(span))));
        if self.notices.iter().any(|notice| notice.severity == Severity::Error) && self.draft.is_none() {
            self.draft = self.board.take();
        }
    }
}
