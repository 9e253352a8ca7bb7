//! What each command prints as JSON, type by type.
//!
//! Every document starts with `format` and `version`. Names are those of the board text; quantities
//! are plain numbers in the SI unit that their key or schema names. The schemas under `docs/schema`
//! are written from these types.

mod card;
pub mod check;
mod find;
mod levels;
mod named;
mod parts;
mod plan;
mod priors;
pub mod survey;
pub mod timing;

pub use find::{
    Cause, Deed, Doubt, End, FaultSet, Figure, Next, Notice, Outcome, Resume, Several, Surprise, Suspect,
    Touch, Unit, Verdict,
};
pub use levels::Levels;
pub use named::Named;
pub use parts::{Parts, kind_name, model_name};
pub use plan::{Counts, Hands, Milestone, NotShown, OfChance, Plan, Proof, Step, Surely};
pub use priors::{Prior, Priors};

use crate::readings::Readings;
use schemars::{JsonSchema, schema_for};
use serde::{Deserialize, Serialize};

/// Version of all documents; it counts up whenever a key changes its meaning or goes away.
pub const VERSION: u32 = 1;

/// The start of every document.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Header {
    /// Which document this is, such as `dryjoint parts`.
    pub format: String,
    /// Version of the documents: a key that changes its meaning or goes away counts it up.
    pub version: u32,
    /// The board's name.
    pub board: String,
}

impl Header {
    /// The start of the document that `command` prints for this board.
    pub fn new(command: &str, board: &str) -> Self {
        Self { format: format!("dryjoint {command}"), version: VERSION, board: board.to_owned() }
    }
}

/// File name and text of every schema.
pub fn schemas() -> Vec<(&'static str, String)> {
    fn text<T: JsonSchema>() -> String {
        let schema = serde_json::to_string_pretty(&schema_for!(T)).expect("a schema is plain JSON");
        schema + "\n"
    }
    vec![
        ("check.json", text::<check::Check>()),
        ("find.json", text::<Verdict>()),
        ("levels.json", text::<Levels>()),
        ("parts.json", text::<Parts>()),
        ("plan.json", text::<Plan>()),
        ("priors.json", text::<Priors>()),
        ("readings.json", text::<Readings>()),
    ]
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    #[test]
    fn the_published_schemas_are_those_of_the_types() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema");
        for (name, schema) in super::schemas() {
            let published = std::fs::read_to_string(folder.join(name)).unwrap_or_default();
            assert!(published == schema, "docs/schema/{name} is out of date: run `cargo xtask schema`");
        }
    }
}
