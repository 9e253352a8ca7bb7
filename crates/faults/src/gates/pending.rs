//! What is still to be settled, in the order of the flow.

use super::circuit::NodeId;
use dryjoint_ids::Id;

/// The nodes still to look at, least first: a bit for each, and a bit for each 64 of those.
#[derive(Clone, Debug)]
pub(super) struct Pending {
    bits: Vec<u64>,
    summary: Vec<u64>,
    /// No set summary limb stands before this one.
    from: usize,
}

impl Pending {
    pub fn new(nodes: usize) -> Self {
        let limbs = nodes.div_ceil(64);
        Self { bits: vec![0; limbs], summary: vec![0; limbs.div_ceil(64)], from: 0 }
    }

    #[inline(always)]
    pub fn add(&mut self, node: NodeId) {
        let k = node.index();
        self.bits[k / 64] |= 1 << (k % 64);
        self.summary[k / 4096] |= 1 << (k / 64 % 64);
        self.from = self.from.min(k / 4096);
    }

    #[inline(always)]
    pub fn take(&mut self) -> Option<NodeId> {
        while let Some(&limbs) = self.summary.get(self.from) {
            if limbs == 0 {
                self.from += 1;
                continue;
            }
            let limb = self.from * 64 + limbs.trailing_zeros() as usize;
            let bits = self.bits[limb];
            self.bits[limb] = bits & (bits - 1);
            if self.bits[limb] == 0 {
                self.summary[self.from] = limbs & (limbs - 1);
            }
            return Some(NodeId::at(limb * 64 + bits.trailing_zeros() as usize));
        }
        None
    }

    pub fn clear(&mut self) {
        while self.take().is_some() {}
        self.from = self.summary.len();
    }
}
