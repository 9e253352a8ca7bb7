//! A behaviour in its shortest form, so that equal behaviours are equal.
//!
//! Columns that are not wanted go, then every read on which no column depends. What is left is sorted
//! by signal. Two faults that do the same in every case come out the same.

use crate::lanes::{Behaviour, Shown};

/// The behaviour with only the `kept` columns and the reads that matter; nothing when no column is left.
pub(super) fn reduce(behaviour: Behaviour, kept: &[usize]) -> Option<Behaviour> {
    if kept.is_empty() {
        return None;
    }
    let width = behaviour.writes.len();
    let mut columns = kept.to_vec();
    columns.sort_by_key(|&column| behaviour.writes[column]);
    let table: Vec<Shown> = behaviour
        .table
        .chunks(width)
        .flat_map(|row| columns.iter().map(|&column| row[column]).collect::<Vec<_>>())
        .collect();
    let writes = columns.iter().map(|&column| behaviour.writes[column]).collect();
    let mut short = Behaviour { reads: behaviour.reads, writes, table, blackout: behaviour.blackout };
    for read in (0..short.reads.len()).rev() {
        drop_idle_read(&mut short, read);
    }
    Some(short)
}

/// Removes a read if the table is the same for each of its drives.
fn drop_idle_read(behaviour: &mut Behaviour, read: usize) {
    let width = behaviour.writes.len();
    let radix = behaviour.reads[read].drives.len();
    let stride: usize = behaviour.reads[..read].iter().map(|read| read.drives.len()).product();
    let row = |index: usize| &behaviour.table[index * width..(index + 1) * width];
    let rows = behaviour.table.len() / width;
    let first = |index: usize| (index / stride).is_multiple_of(radix);
    let idle = (0..rows)
        .filter(|&index| first(index))
        .all(|index| (1..radix).all(|drive| row(index + drive * stride) == row(index)));
    if idle {
        behaviour.table =
            (0..rows).filter(|&index| first(index)).flat_map(|index| row(index).to_vec()).collect();
        behaviour.reads.remove(read);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lanes::{Drive, Read, Target};
    use dryjoint_ids::Id;
    use dryjoint_logic::SignalId;

    #[test]
    fn reads_that_do_not_matter_go_and_the_rest_stays_in_order() {
        let read = |at: usize| Read {
            signal: SignalId::at(at),
            stages: Vec::new(),
            bench: true,
            drives: vec![Drive::Free, Drive::Low],
        };
        // Two reads, two columns; column 0 follows read 1, column 1 is constant.
        let table = [0, 0, 1, 1]
            .into_iter()
            .flat_map(|bit| [if bit == 1 { Shown::One } else { Shown::Zero }, Shown::Zero]);
        let behaviour = Behaviour {
            reads: vec![read(5), read(6)],
            writes: [9, 8].map(SignalId::at).map(Target::Signal).to_vec(),
            table: table.collect(),
            blackout: None,
        };
        let short = reduce(behaviour.clone(), &[0, 1]).unwrap();
        assert_eq!(short.reads, [read(6)]);
        assert_eq!(short.writes, [8, 9].map(SignalId::at).map(Target::Signal));
        assert_eq!(short.table, [Shown::Zero, Shown::Zero, Shown::Zero, Shown::One]);
        let constant = reduce(behaviour, &[1]).unwrap();
        assert_eq!((constant.reads.len(), constant.table), (0, vec![Shown::Zero]));
    }
}
