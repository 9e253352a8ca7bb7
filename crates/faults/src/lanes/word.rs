//! Five hundred and twelve lanes, and the two planes that make them three-valued.

use super::behaviour::Shown;
use std::ops::{BitAnd, BitOr, BitXor, Not};

/// How many machines stand side by side.
pub const LANES: usize = 512;

/// One bit for each lane. The loops over the eight limbs are what the compiler turns into the
/// machine's widest vectors.
#[derive(Clone, Copy, PartialEq, Eq)]
#[repr(align(64))]
pub struct Word(pub [u64; LANES / 64]);

impl Word {
    /// No lane.
    pub const NONE: Self = Self([0; LANES / 64]);
    /// Every lane.
    pub const ALL: Self = Self([u64::MAX; LANES / 64]);

    /// The lane's bit.
    #[inline(always)]
    pub fn get(&self, lane: usize) -> bool {
        self.0[lane / 64] >> (lane % 64) & 1 != 0
    }

    /// Sets the lane's bit.
    #[inline(always)]
    pub fn set(&mut self, lane: usize, bit: bool) {
        let mask = 1 << (lane % 64);
        if bit {
            self.0[lane / 64] |= mask;
        } else {
            self.0[lane / 64] &= !mask;
        }
    }

    /// The lanes of an odd number: the second of each pair.
    pub const SECOND: Self = Self([0xaaaa_aaaa_aaaa_aaaa; LANES / 64]);

    /// Both lanes of a pair as its first.
    #[inline(always)]
    fn of_first(self) -> Self {
        Self((self & !Self::SECOND).0.map(|limb| limb | limb << 1))
    }

    /// Whether no lane is set.
    #[inline(always)]
    pub fn is_none(&self) -> bool {
        self.0.iter().fold(0, |all, limb| all | limb) == 0
    }

    /// The lanes that are set, in order.
    pub fn lanes(self) -> impl Iterator<Item = usize> {
        self.0.into_iter().enumerate().flat_map(|(index, mut limb)| {
            std::iter::from_fn(move || {
                if limb == 0 {
                    return None;
                }
                let bit = limb.trailing_zeros() as usize;
                limb &= limb - 1;
                Some(index * 64 + bit)
            })
        })
    }
}

macro_rules! bitwise {
    ($trait:ident, $method:ident, $op:tt) => {
        impl $trait for Word {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                let mut limbs = self.0;
                for (limb, other) in limbs.iter_mut().zip(other.0) {
                    *limb $op other;
                }
                Self(limbs)
            }
        }
    };
}
bitwise!(BitAnd, bitand, &=);
bitwise!(BitOr, bitor, |=);
bitwise!(BitXor, bitxor, ^=);

impl Not for Word {
    type Output = Self;
    #[inline(always)]
    fn not(self) -> Self {
        Self(self.0.map(|limb| !limb))
    }
}

impl std::fmt::Debug for Word {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_list().entries(self.lanes()).finish()
    }
}

/// A three-valued signal in every lane: surely high, surely low, or neither. On a lamp's signal both
/// planes together mean dim.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Planes {
    /// Lanes in which it is surely high (a lamp: lit).
    pub one: Word,
    /// Lanes in which it is surely low (a lamp: dark).
    pub zero: Word,
}

impl Planes {
    /// What it shows in one lane.
    pub fn shown(&self, lane: usize) -> Shown {
        match (self.one.get(lane), self.zero.get(lane)) {
            (true, false) => Shown::One,
            (false, true) => Shown::Zero,
            (true, true) => Shown::Dim,
            (false, false) => Shown::Unknown,
        }
    }

    /// Unknown in every lane.
    pub const UNKNOWN: Self = Self { one: Word::NONE, zero: Word::NONE };

    /// The same value in every lane.
    pub fn broadcast(value: Option<bool>) -> Self {
        match value {
            Some(true) => Self { one: Word::ALL, zero: Word::NONE },
            Some(false) => Self { one: Word::NONE, zero: Word::ALL },
            None => Self::UNKNOWN,
        }
    }

    /// The complement.
    #[inline(always)]
    pub fn inverted(self) -> Self {
        Self { one: self.zero, zero: self.one }
    }

    /// In every lane of an odd number as in the lane before it, and in that as it is: of a pair both as its first.
    #[inline(always)]
    pub fn of_first(&self) -> Self {
        Self { one: self.one.of_first(), zero: self.zero.of_first() }
    }

    /// As in the first lane of the pair wherever both planes are set.
    #[inline(always)]
    pub(super) fn first_where_both(self) -> Self {
        let both = self.one & self.zero;
        let first = self.of_first();
        Self { one: (self.one & !both) | (both & first.one), zero: (self.zero & !both) | (both & first.zero) }
    }

    /// Not known wherever both planes are set.
    #[inline(always)]
    pub(super) fn neither_where_both(self) -> Self {
        Self { one: self.one & !self.zero, zero: self.zero & !self.one }
    }

    /// Both planes in one lane: surely high, surely low.
    pub fn lane(&self, lane: usize) -> (bool, bool) {
        (self.one.get(lane), self.zero.get(lane))
    }

    /// The lanes in which two are not the same.
    #[inline(always)]
    pub(super) fn differs(&self, other: &Self) -> Word {
        (self.one ^ other.one) | (self.zero ^ other.zero)
    }

    /// What both agree on.
    #[inline(always)]
    pub fn common(self, other: Self) -> Self {
        Self { one: self.one & other.one, zero: self.zero & other.zero }
    }

    /// Lanes whose value is known and differs, for sure, from a known value of lane 0.
    pub fn differs_from_good(&self) -> Word {
        match (self.one.get(0), self.zero.get(0)) {
            (true, false) => self.zero,
            (false, true) => self.one,
            _ => Word::NONE,
        }
    }
}
