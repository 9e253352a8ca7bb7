//! One reading: what was seen or measured at one look, and how likely it was misread.

use crate::LookId;
use dryjoint_board::{NetId, PartId};
use dryjoint_ids::id;
use dryjoint_units::{Amps, Ohms, Volts};

id!(
    /// A reading of a session.
    ReadingId, "reading"
);

/// A lamp as the eye has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sight {
    /// Plainly lit.
    Lit,
    /// Nobody would call it lit.
    Dark,
    /// Visible, but clearly weaker than its neighbours.
    Dim,
    /// It does not keep still.
    Flickering,
    /// Not looked at: says nothing, and takes back what an earlier reading said when it corrects it.
    NotLooked,
}

impl Sight {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Lit => "lit",
            Self::Dark => "dark",
            Self::Dim => "dim",
            Self::Flickering => "flickering",
            Self::NotLooked => "not looked at",
        }
    }
}

/// What was seen or measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Seen {
    /// How a lamp looked.
    Lamp(PartId, Sight),
    /// A meter's volts between a net and ground.
    Volts(NetId, Volts),
    /// The current that the supply shows.
    Supply(Amps),
    /// A meter's ohms between two nets, with power off: the red lead on the first, the black one on the
    /// other. Infinite where the meter shows no reading.
    Ohms(NetId, NetId, Ohms),
    /// A part got hot.
    Hot(PartId),
    /// It smelt of something burning, nobody knows where.
    Smelt,
    /// A part was looked at closely, its joints too, and is as it should be.
    Sound(PartId),
}

impl Seen {
    /// Whether it can be seen or measured only while the board has power.
    pub fn needs_power(self) -> bool {
        matches!(self, Self::Lamp(..) | Self::Volts(..) | Self::Supply(_))
    }
}

/// A reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// After which look's actions it was taken.
    pub look: LookId,
    /// What was read.
    pub seen: Seen,
    /// The chance that it is not what was there: a lamp mistaken for its neighbour, a lead on the
    /// wrong pin.
    pub misread: f64,
}

/// How often each kind of reading is wrong. Judgement: a lamp is one of a row and looked at for a
/// moment; a meter lead has to find its pin among many, but its figure is then read with care.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Misreads {
    /// One lamp.
    pub lamp: f64,
    /// One voltage.
    pub volts: f64,
    /// One supply current.
    pub supply: f64,
    /// One resistance.
    pub ohms: f64,
    /// One finger on a part.
    pub hot: f64,
    /// One nose.
    pub smelt: f64,
    /// One close look at a part: many a dry joint looks well.
    pub sound: f64,
}

impl Default for Misreads {
    fn default() -> Self {
        Self { lamp: 0.005, volts: 0.02, supply: 0.01, ohms: 0.03, hot: 0.1, smelt: 0.1, sound: 0.15 }
    }
}

impl Misreads {
    /// The chance for a reading that its reader is not sure of.
    pub const UNSURE: f64 = 0.2;

    /// The chance for one reading.
    pub fn of(&self, seen: Seen) -> f64 {
        match seen {
            Seen::Lamp(..) => self.lamp,
            Seen::Volts(..) => self.volts,
            Seen::Supply(_) => self.supply,
            Seen::Ohms(..) => self.ohms,
            Seen::Hot(_) => self.hot,
            Seen::Smelt => self.smelt,
            Seen::Sound(_) => self.sound,
        }
    }
}
