//! Boards on which luck falls as it is drawn: five hundred and twelve copies with the same fault, each lucky in its own way.
//!
//! Lanes say what surely is so where every stage takes a tick. On a bench one stage takes longer than another, and a level
//! between the thresholds is read one way here and another way there. So on these boards every signal that is about to
//! move does so in this tick or stays for another, as a coin has it, and what nobody knows is drawn each time it is
//! looked up. Every signal woke up as it was drawn. Whatever shows on all of them hangs neither on equal stages nor on
//! how a level is read, as far as so many draws can tell: they prove nothing, but what fails on one of them is no sure way.
//! What goes on for ever is looked at wherever it is after a while.

use super::behaviour::Behaviour;
use super::machine::{Machine, mark};
use super::program::Program;
use super::word::{LANES, Planes, Word};
use dryjoint_draws::Draws;
use dryjoint_logic::SignalId;

/// Ticks after which a board that still moves is looked at wherever it is, in times the patience that lanes have: a coin
/// makes each stage half as quick.
const LONGER: usize = 8;

/// Where the luck of boards comes from.
pub(super) struct Coins(Draws);

impl Coins {
    fn word(&mut self) -> Word {
        let mut word = Word([0; LANES / 64]);
        word.0.iter_mut().for_each(|limb| *limb = self.0.bits());
        word
    }

    /// What a signal becomes that is about to move, and whether it stays as it was on some boards.
    pub fn fall(&mut self, old: &Planes, new: Planes) -> (Planes, bool) {
        let (up, stays) = (self.word(), self.word());
        let open = !(new.one | new.zero);
        let new = Planes { one: new.one | open & up, zero: new.zero | open & !up };
        let stays = stays & new.differs(old);
        let stay = |new: Word, old: Word| new & !stays | old & stays;
        (Planes { one: stay(new.one, old.one), zero: stay(new.zero, old.zero) }, !stays.is_none())
    }
}

impl<'p> Machine<'p> {
    /// Copies of a board with a fault in it, as many as there are lanes, each woken up and lucky as drawn from a seed.
    pub fn drawn(program: &'p Program, behaviour: &Behaviour, seed: u64) -> Self {
        let mut machine = Self::of(program, (0..LANES).map(|lane| (lane, behaviour)));
        let mut coins = Coins(Draws::new(seed));
        for value in machine.state.values.values_mut() {
            let up = coins.word();
            *value = Planes { one: up, zero: !up };
        }
        machine.coins = Some(coins);
        machine
    }

    /// How long boards whose luck is drawn are followed.
    pub(super) fn longest(&self) -> usize {
        LONGER * self.program.patience()
    }

    /// Moves a signal as luck has it.
    pub(super) fn fall(&mut self, signal: SignalId, new: Planes) -> Planes {
        let old = self.state.values[signal];
        let Some(coins) = &mut self.coins else { return new };
        let (value, stays) = coins.fall(&old, new);
        if stays {
            mark(&mut self.dirty, self.program, signal);
        }
        value
    }
}
