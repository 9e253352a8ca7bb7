//! Merging ids into sets, each known by its first member.

use crate::{Id, Side, Table};

/// Disjoint sets over the ids of a table.
///
/// **Invariant:** a set is known by its least id, so that the result does not depend on the order of
/// joining.
#[derive(Clone)]
pub struct Union<K> {
    first: Side<K, K>,
}

impl<K: Id> Union<K> {
    /// Every id of `table` in a set of its own.
    pub fn new<R>(table: &Table<K, R>) -> Self {
        Self { first: Side::new(table, |id| id) }
    }

    /// The least id of the set that holds `id`.
    pub fn first(&self, mut id: K) -> K {
        while self.first[id] != id {
            id = self.first[id];
        }
        id
    }

    /// Makes one set of the two that hold `a` and `b`.
    pub fn join(&mut self, a: K, b: K) {
        let (a, b) = (self.first(a), self.first(b));
        let (low, high) = if a < b { (a, b) } else { (b, a) };
        self.first[high] = low;
    }

    /// The least id of each id's set, looked up once for all.
    pub fn settle(mut self) -> Side<K, K> {
        let ids: Vec<K> = self.first.iter().map(|(id, _)| id).collect();
        for id in ids {
            // Every link points down, so the set of a lower id is settled already.
            self.first[id] = self.first[self.first[id]];
        }
        self.first
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    crate::id!(
        /// A row of the test.
        RowId, "row"
    );

    #[test]
    fn sets_are_known_by_their_least_member() {
        let table: Table<RowId, char> = "abcdef".chars().collect();
        let id = RowId::at;
        let mut union = Union::new(&table);
        union.join(id(5), id(3));
        union.join(id(3), id(4));
        union.join(id(4), id(1));
        assert_eq!(union.first(id(5)), id(1));
        assert_eq!(union.settle().rows(), [0, 1, 2, 1, 1, 1].map(RowId::at));
    }
}
