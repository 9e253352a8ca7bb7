//! The kinds of build fault, one file each: what it is, where it can occur, how it is spoken of.

pub mod bridge;
pub mod dead;
pub mod joint;
pub mod leads;
pub mod missing;
pub mod polarity;
pub mod rail;
pub mod reversed;
pub mod shifted;
pub mod value;
