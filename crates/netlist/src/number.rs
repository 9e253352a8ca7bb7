//! Which number each part of an instance gets.
//!
//! Without a word about it every class letter counts on from the highest number so far, past those
//! that the board's own lines write further down. `number N` makes every class of the instance count from N; `as R7 R8 …` lists the references one by one.

use crate::body::Numbering;
use crate::door::Door;
use crate::names::Symbol;
use crate::notices::Placed;
use crate::source::Span;
use rustc_hash::{FxHashMap, FxHashSet};
use std::collections::VecDeque;

/// How the instance being laid out numbers its parts.
#[derive(Default)]
enum Rule {
    #[default]
    CountOn,
    From {
        start: u32,
        next: FxHashMap<Symbol, u32>,
    },
    List(VecDeque<(Symbol, Symbol, u32, Span)>, Span),
}

/// The counters of a board.
#[derive(Default)]
pub(crate) struct Numbers {
    /// References that the board's own lines write, anywhere in the text: counting passes them over.
    pub written: FxHashSet<(Symbol, u32)>,
    highest: FxHashMap<Symbol, u32>,
    rule: Rule,
}

impl Numbers {
    /// A reference the text wrote itself.
    pub fn met(&mut self, class: Symbol, number: u32) {
        let highest = self.highest.entry(class).or_insert(0);
        *highest = (*highest).max(number);
    }

    /// The parts that follow belong to the instance at `span`, numbered like this.
    pub fn begin(&mut self, numbering: &Numbering, span: Span) {
        match numbering {
            Numbering::CountOn => self.rule = Rule::CountOn,
            Numbering::From(start) => {
                self.rule = Rule::From { start: *start, next: FxHashMap::default() };
            }
            Numbering::Continue => {}
            Numbering::List(list) => self.rule = Rule::List(list.iter().copied().collect(), span),
        }
    }

    /// The reference of the next part, which is of `class`.
    pub fn next(&mut self, class: Symbol, span: Span, door: &mut Door<'_>) -> (String, u32) {
        let number = match &mut self.rule {
            Rule::CountOn => {
                let mut number = self.highest.get(&class).map_or(1, |highest| highest.saturating_add(1));
                while self.written.contains(&(class, number)) {
                    number = number.saturating_add(1);
                }
                number
            }
            Rule::From { start, next } => {
                let next = next.entry(class).or_insert(*start);
                *next = next.saturating_add(1);
                *next - 1
            }
            Rule::List(list, instance) => match list.pop_front() {
                Some((reference, given, number, at)) => {
                    if given != class {
                        let text = format!(
                            "`{}` numbers a part whose class is {}",
                            door.names.text(reference),
                            door.names.text(class)
                        );
                        let notice = Placed::error("as-class", at, text)
                            .mend("list the references in the cell's order".into())
                            .also(span, "the part is here");
                        door.notices.push(notice);
                    }
                    number
                }
                None => {
                    let text = "`as` lists fewer references than the instance has parts".to_owned();
                    let notice = Placed::error("as-short", *instance, text)
                        .mend("list one reference for every part of the instance".into())
                        .also(span, "the first part without one");
                    door.notices.push(notice);
                    self.highest.get(&class).map_or(1, |highest| highest.saturating_add(1))
                }
            },
        };
        self.met(class, number);
        (format!("{}{number}", door.names.text(class)), number)
    }

    /// The last part of an instance has its number.
    pub fn end(&mut self, span: Span, door: &mut Door<'_>) {
        if let Rule::List(list, _) = std::mem::take(&mut self.rule)
            && let Some((_, _, _, at)) = list.front()
        {
            let text = format!("`as` lists more references than the instance has parts, by {}", list.len());
            let notice = Placed::error("as-long", *at, text)
                .mend("list one reference for every part of the instance".into())
                .also(span, "the instance is here");
            door.notices.push(notice);
        }
    }
}
