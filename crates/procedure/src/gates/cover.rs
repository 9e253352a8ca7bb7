//! A list of vectors with what each shows, and how often each target is shown.

use super::targets::Targets;
use dryjoint_faults::gates::{Grader, Vector};

/// Vectors and the targets they show.
#[derive(Clone, Debug)]
pub(crate) struct Cover {
    pub vectors: Vec<Vector>,
    /// For each vector the targets it shows.
    pub shows: Vec<Vec<u32>>,
    /// For each target how many vectors show it.
    pub count: Vec<u32>,
}

impl Cover {
    pub fn new(targets: &Targets, grader: &mut Grader, vectors: Vec<Vector>) -> Self {
        let mut cover = Self { vectors: Vec::new(), shows: Vec::new(), count: vec![0; targets.len()] };
        for vector in vectors {
            let shows = targets.shown(grader, &vector);
            cover.add(vector, shows);
        }
        cover
    }

    pub fn add(&mut self, vector: Vector, shows: Vec<u32>) {
        for &target in &shows {
            self.count[target as usize] += 1;
        }
        self.vectors.push(vector);
        self.shows.push(shows);
    }

    /// Takes a vector out; the last one moves to its place.
    pub fn remove(&mut self, at: usize) -> Vector {
        for target in self.shows.swap_remove(at) {
            self.count[target as usize] -= 1;
        }
        self.vectors.swap_remove(at)
    }

    pub fn replace(&mut self, at: usize, vector: Vector, shows: Vec<u32>) {
        for &target in &self.shows[at] {
            self.count[target as usize] -= 1;
        }
        for &target in &shows {
            self.count[target as usize] += 1;
        }
        self.vectors[at] = vector;
        self.shows[at] = shows;
    }

    /// Targets that only this vector shows.
    pub fn essential(&self, at: usize) -> impl Iterator<Item = u32> {
        self.shows[at].iter().copied().filter(|&target| self.count[target as usize] == 1)
    }

    pub fn missing(&self) -> Vec<u32> {
        (0_u32..).zip(&self.count).filter(|(_, count)| **count == 0).map(|(target, _)| target).collect()
    }

    /// Drops vectors that show nothing that others do not, latest first.
    pub fn drop_idle(&mut self) {
        for at in (0..self.vectors.len()).rev() {
            if self.essential(at).next().is_none() {
                self.remove(at);
            }
        }
    }
}
