//! The commands, one file each.

pub mod ask;
pub mod bench;
pub mod check;
pub mod find;
pub mod levels;
pub mod main_job;
pub mod parts;
pub mod plan;
pub mod plan_gates;
pub mod priors;
pub mod records;
pub mod schema;
pub mod sheet;
