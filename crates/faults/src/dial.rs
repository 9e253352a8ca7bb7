//! How a board's clock stands, told to the lanes by what the bench puts on signals that nothing else asks.
//!
//! A fault may stop the clock at one position of its switch and not at another. So its table looks at the
//! nets that the switch feeds: what the bench puts there says where the switch stands. Where the clock
//! stands as luck had it when power came on, or as it stood before the switch was turned, the table looks at a net
//! that only the oscillator knows.

use dryjoint_board::ClockId;
use dryjoint_logic::{Extracted, Level, SignalId};
use dryjoint_survey::{contacts, hidden, keeps};

/// A clock and its switch as signals.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Dial {
    /// The clock.
    pub clock: ClockId,
    /// Its signal.
    pub signal: SignalId,
    /// Its complement.
    pub complement: Option<SignalId>,
    /// The nets that the switch feeds, in the order of its positions; none where it cannot be told from them
    /// where the switch stands.
    pub contacts: Vec<SignalId>,
    /// The position at which periods are counted.
    pub slowest: usize,
    /// High or low as luck has it, where a clock that stands at every position stands as it woke up.
    pub luck: Option<SignalId>,
    /// The same where it stands at its slowest position and may have run since at another: then nobody knows.
    pub woken: Option<SignalId>,
    /// How the clock stood when the switch was last turned away from its slowest position, as far as that is known
    /// of a clock that runs there.
    pub held: Option<SignalId>,
    /// Whether the switch feeds an oscillator: what the bench puts on a contact, whichever it is. For a table that does not
    /// ask at which position the switch is.
    pub fed: Option<SignalId>,
    /// Whether the good clock keeps still as it stood with the switch between two positions: then nobody knows how it
    /// stands when power comes on.
    pub keeps: bool,
}

/// What the bench puts on a contact with the switch there, …
pub const THERE: Level = Level::One;
/// … and with the switch between this position and the next, when it stood here before.
pub const BESIDE: Level = Level::WeakZero;

impl Dial {
    /// The dials of a board, one for each clock.
    pub fn all(extracted: &Extracted) -> Vec<Self> {
        let board = extracted.shape.board;
        let signal = |net| extracted.signal_of[net];
        let dial = |(clock, row): (ClockId, &dryjoint_board::Clock)| {
            let slowest = row.rates.iter().enumerate().min_by(|(_, a), (_, b)| a.rate.0.total_cmp(&b.rate.0));
            let mut hidden = hidden(extracted, clock).into_iter().filter_map(signal);
            let contacts: Vec<_> = contacts(extracted, clock).into_iter().filter_map(signal).collect();
            Some(Self {
                clock,
                signal: signal(row.net)?,
                complement: row.complement.and_then(signal),
                slowest: slowest.map_or(0, |(position, _)| position),
                luck: hidden.next(),
                woken: hidden.next(),
                held: hidden.next(),
                fed: hidden.next().filter(|_| !contacts.is_empty()),
                contacts,
                keeps: keeps(extracted, clock),
            })
        };
        board.clocks.iter().filter_map(dial).collect()
    }

    /// The clock and its complement where the clock stands at a level.
    pub fn standing(&self, level: Level) -> impl Iterator<Item = (SignalId, Level)> {
        let not = level.value().map_or(Level::Unknown, |high| Level::from(!high));
        std::iter::once((self.signal, level)).chain(self.complement.map(|signal| (signal, not)))
    }

    /// What the bench says with the switch at a position.
    pub fn turned_to(&self, position: usize) -> impl Iterator<Item = (SignalId, Level)> + '_ {
        let contacts = self.contacts.iter().enumerate();
        contacts
            .map(move |(at, &contact)| (contact, if at == position { THERE } else { Level::Floating }))
            .chain(self.fed.map(|fed| (fed, THERE)))
    }

    /// What it says besides once the switch was turned away from there.
    pub fn turned_away(&self, position: usize) -> impl Iterator<Item = (SignalId, Level)> {
        let contact = self.contacts.get(position).copied();
        contact.into_iter().chain(self.fed).map(|signal| (signal, BESIDE))
    }

    /// What says where the switch stands; nobody holds it with the switch elsewhere.
    pub fn switch(&self) -> impl Iterator<Item = SignalId> + '_ {
        self.contacts.iter().copied().chain(self.fed)
    }

    /// Everything that the bench may put something on, but for the clock itself.
    pub fn told(&self) -> impl Iterator<Item = SignalId> + '_ {
        self.switch().chain(self.luck).chain(self.woken).chain(self.held)
    }
}
