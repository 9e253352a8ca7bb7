//! The order in which a transistor's leads come out of its case.

/// One lead of a bipolar transistor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Lead {
    /// Emitter.
    Emitter,
    /// Base.
    Base,
    /// Collector.
    Collector,
}

/// Lead order with the flat face to you and the leads down, left to right.
///
/// The two orders in use are each other's mirror image except for which of collector and emitter
/// stands where, which is why a transistor of the other family is fitted the wrong way round so often.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LeadOrder {
    /// Emitter, base, collector: 2N3904, 2N3906, PN2222A (datasheets).
    Ebc,
    /// Collector, base, emitter: BC547, BC557, P2N2222A (datasheets).
    Cbe,
}

impl LeadOrder {
    /// The leads from left to right.
    pub fn leads(self) -> [Lead; 3] {
        match self {
            Self::Ebc => [Lead::Emitter, Lead::Base, Lead::Collector],
            Self::Cbe => [Lead::Collector, Lead::Base, Lead::Emitter],
        }
    }
}
