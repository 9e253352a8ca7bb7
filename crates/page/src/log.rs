//! The log of a unit: every entry with its time, what was taken back too, and the way to correct one.

use crate::lamp::picture;
use crate::screen::{hidden, keyed, time};
use crate::step::summary;
use crate::work::Work;
use dryjoint_records::{Entry, Kind, StoreError, UnitRow};
use dryjoint_session::Sight;
use maud::{Markup, html};
use std::collections::BTreeSet;

/// The log of the unit at work.
pub fn screen(work: &Work) -> Markup {
    let standing: BTreeSet<&str> = work.stand().entries.iter().map(|entry| entry.key.as_str()).collect();
    html! {
        h1 { "Log of unit " (work.serial) }
        @if work.entries().is_empty() { p class="do" { "Nothing was done yet." } }
        ol class="log" reversed {
            @for entry in work.entries().iter().rev() {
                (line(entry, standing.contains(entry.key.as_str()) || entry.kind == Kind::Undo, true))
            }
        }
    }
}

fn line(entry: &Entry, stands: bool, here: bool) -> Markup {
    html! {
        li class=(if stands { "" } else { "gone" }) {
            (time(entry.at)) " "
            @if stands { span { (summary(entry)) } }
            @else { del { (summary(entry)) } " taken back" }
            @if !entry.actions.is_empty() { span class="did" { (entry.actions.join("; ")) } }
            @if here && stands && entry.kind == Kind::Look && !entry.readings.is_empty() {
                " " a href={ "/log/" (entry.key) } { "correct" span class="unseen" { " " (summary(entry)) } }
            }
        }
    }
}

/// The form that corrects a look.
pub fn correct(work: &Work, key: &str) -> Option<Markup> {
    let entry = work.stand().entries.iter().find(|entry| entry.key == key && entry.kind == Kind::Look)?;
    let sights = [Sight::Lit, Sight::Dark, Sight::Dim, Sight::Flickering, Sight::NotLooked];
    Some(html! {
        h1 { "Correct: " (summary(entry)) }
        p { "What you entered stays in the log beside the correction." }
        form method="post" action="/correct" {
            (keyed(work)) (hidden("about", key))
            div class="corrections" {
                @for read in &entry.readings {
                    label {
                        (picture(&read.sight)) " " (read.what)
                        @if !read.expected.is_empty() { " (must be " (read.expected) ")" }
                        " "
                        select name={ "lamp." (read.what) } {
                            @for sight in sights {
                                option value=(sight.word()) selected[sight.word() == read.sight] { (sight.word()) }
                            }
                        }
                    }
                }
            }
            button class="primary" { "Correct it" }
        }
    })
}

/// The log of any unit, to read only.
pub fn other(work: &Work, unit: &UnitRow) -> Result<Markup, StoreError> {
    let mut sessions = Vec::new();
    for session in work.store.sessions(unit.id)? {
        let entries = work.store.entries(session.id)?;
        sessions.push((session, entries));
    }
    Ok(html! {
        h1 { "Log of " (unit.board) " " (unit.serial) }
        @for (session, entries) in &sessions {
            h2 { "Begun " (time(session.began)) }
            @let standing = dryjoint_records::standing(entries);
            @let keys: BTreeSet<&str> = standing.iter().map(|entry| entry.key.as_str()).collect();
            ol class="log" {
                @for entry in entries {
                    (line(entry, keys.contains(entry.key.as_str()) || entry.kind == Kind::Undo, false))
                }
            }
        }
        p { a class="button" href="/units" { "All units" } }
    })
}
