//! Typed `u32` ids and the tables they index.
//!
//! An id is a plain number that remembers what it counts, so that a net can never be used where a
//! part is meant. A [`Table`] owns the things themselves; a [`Side`] table hangs a value on each
//! id of somebody else's table.
//!
//! ```
//! use dryjoint_ids::{id, Table};
//! id!(
//!     /// A lamp of the example.
//!     LampId, "lamp"
//! );
//! let mut lamps: Table<LampId, &str> = Table::new();
//! let red = lamps.push("red");
//! assert_eq!(lamps[red], "red");
//! assert_eq!(format!("{red:?}"), "lamp0");
//! ```

mod side;
mod table;
mod union;

pub use side::Side;
pub use table::Table;
pub use union::Union;

/// A typed index: made by [`id!`], held by [`Table`] and [`Side`].
pub trait Id: Copy + Eq + Ord + std::hash::Hash + std::fmt::Debug {
    /// The id that stands at `index`. Panics past `u32::MAX`, which no file that fits in memory reaches.
    fn at(index: usize) -> Self;
    /// Where in its table the id stands.
    fn index(self) -> usize;
}

/// Declares a typed id with the prefix its debug form prints.
#[macro_export]
macro_rules! id {
    ($(#[$doc:meta])* $name:ident, $prefix:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(u32);

        impl $crate::Id for $name {
            fn at(index: usize) -> Self {
                Self(u32::try_from(index).expect("a table holds fewer than 2^32 rows"))
            }
            fn index(self) -> usize {
                self.0 as usize
            }
        }

        impl ::std::fmt::Debug for $name {
            fn fmt(&self, f: &mut ::std::fmt::Formatter<'_>) -> ::std::fmt::Result {
                write!(f, concat!($prefix, "{}"), self.0)
            }
        }
    };
}
