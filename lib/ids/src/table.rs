//! The table that owns its rows.

use crate::Id;
use std::marker::PhantomData;
use std::ops::{Index, IndexMut};

/// Rows in the order they were pushed, each known by a typed id.
///
/// **Invariant:** ids are dense: row `k` has the id that stands at `k`, and rows are never removed.
#[derive(Clone, PartialEq, Eq)]
pub struct Table<K, V> {
    rows: Vec<V>,
    key: PhantomData<fn(K)>,
}

impl<K: Id, V> Table<K, V> {
    /// A table without rows.
    pub const fn new() -> Self {
        Self { rows: Vec::new(), key: PhantomData }
    }

    /// Appends a row and returns its id.
    pub fn push(&mut self, row: V) -> K {
        let id = K::at(self.rows.len());
        self.rows.push(row);
        id
    }

    /// The id the next [`push`](Self::push) will return.
    pub fn next_id(&self) -> K {
        K::at(self.rows.len())
    }

    /// How many rows there are.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The row of `id`, or nothing where the id belongs to a longer table.
    pub fn get(&self, id: K) -> Option<&V> {
        self.rows.get(id.index())
    }

    /// All ids in order.
    pub fn ids(&self) -> impl DoubleEndedIterator<Item = K> + ExactSizeIterator + use<K, V> {
        (0..self.rows.len()).map(K::at)
    }

    /// Ids with their rows, in order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (K, &V)> + ExactSizeIterator {
        self.rows.iter().enumerate().map(|(index, row)| (K::at(index), row))
    }

    /// Ids with their rows, in order, to change.
    pub fn iter_mut(&mut self) -> impl DoubleEndedIterator<Item = (K, &mut V)> + ExactSizeIterator {
        self.rows.iter_mut().enumerate().map(|(index, row)| (K::at(index), row))
    }

    /// The rows alone.
    pub fn rows(&self) -> &[V] {
        &self.rows
    }
}

impl<K: Id, V> Default for Table<K, V> {
    fn default() -> Self {
        Self::new()
    }
}

impl<K: Id, V> Index<K> for Table<K, V> {
    type Output = V;
    fn index(&self, id: K) -> &V {
        &self.rows[id.index()]
    }
}

impl<K: Id, V> IndexMut<K> for Table<K, V> {
    fn index_mut(&mut self, id: K) -> &mut V {
        &mut self.rows[id.index()]
    }
}

impl<K: Id, V> FromIterator<V> for Table<K, V> {
    fn from_iter<T: IntoIterator<Item = V>>(rows: T) -> Self {
        Self { rows: rows.into_iter().collect(), key: PhantomData }
    }
}

impl<K: Id, V: std::fmt::Debug> std::fmt::Debug for Table<K, V> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_map().entries(self.iter()).finish()
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
    fn ids_are_dense_and_find_their_rows() {
        let mut table: Table<RowId, char> = Table::new();
        let ids: Vec<RowId> = "abc".chars().map(|c| table.push(c)).collect();
        assert_eq!(ids, table.ids().collect::<Vec<_>>());
        assert_eq!(table[ids[2]], 'c');
        assert_eq!(table.get(RowId::at(3)), None);
    }
}
