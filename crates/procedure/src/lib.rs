//! The shortest list of steps that shows every fault a lamp can show, and proof of what none can.
//!
//! The main type is [`Procedure`]; the main verb is [`plan`]. Netlists that know only gates are
//! planned in [`gates`].

mod action;
mod awake;
mod compact;
mod costs;
mod drawn;
mod explain;
pub mod gates;
mod heading;
mod improve;
mod judge;
mod looks;
mod luck;
mod moves;
mod never;
mod partner;
mod plan;
mod reach;
mod replay;
mod resume;
mod rig;
mod run;
mod search;
mod step;
mod study;
mod sure;
mod ternary;
mod view;
mod walk;

pub use action::{Action, clocks_at_rest, in_words};
pub use costs::Costs;
pub use explain::{Explanation, Place, Wrong, explain};
pub use plan::{Progress, plan};
pub use reach::reach;
pub use replay::{Replay, act, act_seen};
pub use resume::{Resume, resume};
pub use rig::{Move, Rig};
pub use search::{Effort, Run};
pub use step::{Coverage, Procedure, Step, StepId};
pub use study::{Group, GroupId, Study, Wake};
pub use sure::{Sought, Sureness, surely};
pub use walk::Bound;
