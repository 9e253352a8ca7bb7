//! A value hung on each id of somebody else's table.

use crate::{Id, Table};
use std::marker::PhantomData;
use std::ops::{Index, IndexMut};

/// One `V` per row of a table of `K`, made full and never growing.
#[derive(PartialEq, Eq)]
pub struct Side<K, V> {
    rows: Vec<V>,
    key: PhantomData<fn(K)>,
}

// By hand, so that a copy over another keeps the other's memory.
impl<K, V: Clone> Clone for Side<K, V> {
    fn clone(&self) -> Self {
        Self { rows: self.rows.clone(), key: PhantomData }
    }

    fn clone_from(&mut self, source: &Self) {
        self.rows.clone_from(&source.rows);
    }
}

impl<K: Id, V> Side<K, V> {
    /// A side table for `table`, each row made by `make`.
    pub fn new<R>(table: &Table<K, R>, make: impl FnMut(K) -> V) -> Self {
        Self { rows: table.ids().map(make).collect(), key: PhantomData }
    }

    /// A side table for `table`, each row a copy of `value`.
    pub fn filled<R>(table: &Table<K, R>, value: V) -> Self
    where
        V: Clone,
    {
        Self { rows: vec![value; table.len()], key: PhantomData }
    }

    /// A side table over the same ids, each value made from this one's.
    pub fn map<W>(&self, mut make: impl FnMut(K, &V) -> W) -> Side<K, W> {
        Side { rows: self.iter().map(|(id, row)| make(id, row)).collect(), key: PhantomData }
    }

    /// Ids with their values, in order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (K, &V)> + ExactSizeIterator {
        self.rows.iter().enumerate().map(|(index, row)| (K::at(index), row))
    }

    /// The values alone, to change.
    pub fn values_mut(&mut self) -> impl Iterator<Item = &mut V> {
        self.rows.iter_mut()
    }

    /// The values alone.
    pub fn rows(&self) -> &[V] {
        &self.rows
    }
}

impl<K: Id, V> Index<K> for Side<K, V> {
    type Output = V;
    fn index(&self, id: K) -> &V {
        &self.rows[id.index()]
    }
}

impl<K: Id, V> IndexMut<K> for Side<K, V> {
    fn index_mut(&mut self, id: K) -> &mut V {
        &mut self.rows[id.index()]
    }
}

impl<K: Id, V: std::fmt::Debug> std::fmt::Debug for Side<K, V> {
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
    fn a_side_table_has_one_value_per_row() {
        let table: Table<RowId, char> = "abc".chars().collect();
        let mut side = Side::filled(&table, 0);
        side[RowId::at(1)] = 7;
        assert_eq!(side.rows(), [0, 7, 0]);
    }
}
