//! The page at the bench: what the hands do now, what the lamps must show, who is suspect, what was
//! done so far.
//!
//! The main type is [`Page`]; the main verb is [`Page::serve`]. A page is HTML made on this machine and
//! served to this machine; a little script adds the keyboard. Every reading is in the store before the
//! page shows it as taken, and everything shown is made from the store.

mod before;
mod frame;
mod gate;
mod lamp;
mod log;
mod page;
mod practice;
mod screen;
mod serve;
mod step;
mod subject;
mod suspects;
mod task;
mod units;
mod weigh;
mod work;

pub use gate::Access;
pub use page::{Failure, Page};
pub use practice::{Practice, Score, best, score};
pub use subject::Subject;
