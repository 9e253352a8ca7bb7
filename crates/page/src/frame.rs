//! The frame around every screen.

use crate::lamp;
use crate::work::Work;
use maud::{DOCTYPE, Markup, html};

/// The screens with addresses of their own, the key that leads there, and their names.
pub const SCREENS: [(&str, &str, &str); 5] = [
    ("/before", "b", "Before power"),
    ("/step", "s", "Step"),
    ("/suspects", "p", "Suspects"),
    ("/log", "l", "Log"),
    ("/units", "a", "All units"),
];

/// A whole page.
pub fn page(work: &Work, here: &str, title: &str, main: &Markup) -> Markup {
    let board = work.subject.board();
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " · " (board.name) " " (work.serial) " · dryjoint" }
                link rel="stylesheet" href="/page.css";
                script src="/page.js" defer {}
            }
            body {
                a class="skip" href="#main" { "To the work" }
                (lamp::shapes())
                header {
                    p class="what" {
                        strong { (board.name) }
                        @if work.practice.is_some() { " practice unit" } @else { " unit " (work.serial) }
                    }
                    nav aria-label="Screens" {
                        @for (path, key, name) in SCREENS {
                            a href=(path) data-key=(key) aria-keyshortcuts=(key)
                                aria-current=[(path == here).then_some("page")] {
                                (name) " " kbd aria-hidden="true" { (key) }
                            }
                        }
                    }
                }
                main id="main" tabindex="-1" data-after=(work.count()) data-live="1" { (main) }
                footer {
                    p id="status" role="status" aria-live="polite" {}
                    p {
                        button type="button" id="keys" aria-pressed="true" { "Single keys on" }
                        " One key does one thing; switch them off if you dictate or a key sticks."
                    }
                    p { "Power off before you move a part or a plug. Your local rules come first." }
                }
            }
        }
    }
}

/// A page that only says something, for whoever may not see more.
pub fn bare(title: &str, text: &str, back: bool) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " · dryjoint" }
                link rel="stylesheet" href="/page.css";
            }
            body {
                main {
                    h1 { (title) }
                    p role="alert" { (text) }
                    @if back { p { a class="button" href="/step" { "Back to the step" } } }
                }
            }
        }
    }
}
