//! The kinds of faults: what a log counts and what a table of priors has a row for.

use crate::Fault;

/// What sort of thing is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// A joint that does not join.
    OpenJoint,
    /// A part that is not there.
    Missing,
    /// A part of another value.
    WrongValue,
    /// A part the wrong way round.
    Reversed,
    /// A transistor with leads exchanged.
    Leads,
    /// A transistor of the other polarity.
    WrongType,
    /// Two pins joined.
    Bridge,
    /// A net that touches a rail.
    RailShort,
    /// A plug one pin off.
    Shifted,
    /// A lamp that does not light.
    Dead,
}

impl Kind {
    /// All kinds.
    pub const ALL: [Self; 10] = [
        Self::OpenJoint,
        Self::Missing,
        Self::WrongValue,
        Self::Reversed,
        Self::Leads,
        Self::WrongType,
        Self::Bridge,
        Self::RailShort,
        Self::Shifted,
        Self::Dead,
    ];

    /// The words for it, as records and tables have them.
    pub fn words(self) -> &'static str {
        match self {
            Self::OpenJoint => "open joint",
            Self::Missing => "missing part",
            Self::WrongValue => "wrong value",
            Self::Reversed => "wrong way round",
            Self::Leads => "leads exchanged",
            Self::WrongType => "wrong type",
            Self::Bridge => "bridge",
            Self::RailShort => "short to a rail",
            Self::Shifted => "plug one pin off",
            Self::Dead => "dead lamp",
        }
    }

    /// The kind of those words.
    pub fn of(words: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.words() == words)
    }
}

impl Fault {
    /// What sort of fault it is.
    pub fn kind(&self) -> Kind {
        match self {
            Self::JointOpen(_) => Kind::OpenJoint,
            Self::Missing(_) => Kind::Missing,
            Self::WrongValue(..) => Kind::WrongValue,
            Self::Reversed(_) => Kind::Reversed,
            Self::Leads(..) => Kind::Leads,
            Self::WrongType(_) => Kind::WrongType,
            Self::Bridge(..) => Kind::Bridge,
            Self::RailShort(..) => Kind::RailShort,
            Self::Shifted(..) => Kind::Shifted,
            Self::Dead(_) => Kind::Dead,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_is_found_by_its_words() {
        for kind in Kind::ALL {
            assert_eq!(Kind::of(kind.words()), Some(kind));
        }
        assert_eq!(Kind::of("gremlin"), None);
    }
}
