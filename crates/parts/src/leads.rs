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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Model, library};

    #[test]
    fn leads_come_as_datasheets_draw_them() {
        // Datasheets, flat face to you, leads down: E-B-C 2N3904, 2N3906, PN2222A; C-B-E BC547, BC557. The
        // two are each other's mirror image.
        for (name, order) in [
            ("2N3904", LeadOrder::Ebc),
            ("2N3906", LeadOrder::Ebc),
            ("2N2222", LeadOrder::Ebc),
            ("BC547B", LeadOrder::Cbe),
            ("BC557B", LeadOrder::Cbe),
        ] {
            let Some(Model::Bipolar(card)) = library(name) else { panic!("{name}") };
            assert_eq!(card.leads, order, "{name}");
        }
        let mut mirrored = LeadOrder::Cbe.leads();
        mirrored.reverse();
        assert_eq!(mirrored, LeadOrder::Ebc.leads());
    }
}
