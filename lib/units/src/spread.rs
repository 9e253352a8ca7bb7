//! A value with its least and greatest, as datasheets print it.

/// Least, typical and greatest of one quantity.
///
/// **Invariant:** `min <= typ <= max`; [`Spread::new`] refuses anything else.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread<T> {
    /// The least a part may show.
    pub min: T,
    /// What most parts show.
    pub typ: T,
    /// The most a part may show.
    pub max: T,
}

impl<T: PartialOrd + Copy> Spread<T> {
    /// A spread, or nothing where the three are out of order.
    pub fn new(min: T, typ: T, max: T) -> Option<Self> {
        (min <= typ && typ <= max).then_some(Self { min, typ, max })
    }

    /// A value without spread.
    pub fn exact(value: T) -> Self {
        Self { min: value, typ: value, max: value }
    }
}
