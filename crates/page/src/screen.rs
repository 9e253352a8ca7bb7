//! Pieces that several screens share: the hidden fields of a form, percentages, times.

use crate::work::{Work, random_key};
use dryjoint_records::Millis;
use maud::{Markup, html};

/// A field that is not shown.
pub fn hidden(name: &str, value: &str) -> Markup {
    html! { input type="hidden" name=(name) value=(value); }
}

/// What every form carries: its own key, so that the same one sent twice is taken once, and how much
/// its maker had seen, so that it is not taken for an answer to something else.
pub fn keyed(work: &Work) -> Markup {
    html! { (hidden("key", &random_key())) (hidden("after", &work.count().to_string())) }
}

/// `93.5 %`.
pub fn percent(share: f64) -> String {
    let percent = 100.0 * share;
    if (0.05..=99.95).contains(&percent) { format!("{percent:.1} %") } else { format!("{percent:.0} %") }
}

/// A moment, in UTC until the script puts it into local time.
pub fn time(at: Millis) -> Markup {
    let utc = at.utc();
    html! { time datetime={ (utc.replace(' ', "T")) "Z" } { (utc) " UTC" } }
}
