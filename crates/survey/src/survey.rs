//! The survey itself: everything that a board's own numbers say before power.

use crate::deaf::deaf;
use crate::decoupling::decoupling;
use crate::drive::{Driven, driven};
use crate::fan_out::{FanOut, fan_out};
use crate::kinds::{Kind, kinds};
use crate::lamps::{Shine, lamps};
use crate::levels::Levels;
use crate::limits::{Limit, limits};
use crate::margins::{NetMargins, margins};
use crate::receivers::Receivers;
use crate::rest::rest;
use crate::supply::{Draw, draw};
use crate::ties::{PinTies, ties};
use crate::time::{Timing, timing};
use crate::unpowered::{Unpowered, unpowered};
use crate::watch::Watch;
use dryjoint_board::Notice;
use dryjoint_circuit::{Conditions, Solver};
use dryjoint_units::Ohms;

/// What a board's own numbers say before power.
#[derive(Clone, Debug)]
pub struct Survey {
    /// Levels and noise margins of every net that is read, smallest first.
    pub margins: Vec<NetMargins>,
    /// The board's usual base resistor, the load that fan-out is counted in.
    pub usual_load: Option<Ohms>,
    /// How many more loads each net could feed, fewest first.
    pub fan_out: Vec<FanOut>,
    /// The kinds of stages the board is made of, the commonest first.
    pub kinds: Vec<Kind>,
    /// Every transistor that conducts in some state, weakest drive first.
    pub driven: Vec<Driven>,
    /// Every lamp.
    pub lamps: Vec<Shine>,
    /// Every part that has limits, nearest to its limit first.
    pub limits: Vec<Limit>,
    /// What the supply gives; nothing where no state was seen.
    pub draw: Option<Draw>,
    /// Every connector pin left open and tied either way.
    pub ties: Vec<PinTies>,
    /// What a meter reads with the supply off.
    pub unpowered: Unpowered,
    /// Clocks, resets, delays, phases and paths.
    pub timing: Timing,
}

/// Surveys a board whose states `watch` has seen. A warning among the notices says what must be mended
/// before power.
pub fn survey(watch: &Watch) -> (Survey, Vec<Notice>) {
    let mut notices = Vec::new();
    let mut solver = Solver::default();
    let conditions = Conditions::default();
    let mut receivers = Receivers::new(watch.extracted, conditions);
    let mut levels = Levels::new(watch.extracted, conditions);
    let margins = margins(watch, &mut receivers, &mut levels, &mut solver, &mut notices);
    let board = watch.extracted.shape.board;
    let (usual_load, fan_out) = fan_out(board, &margins, &mut levels, &mut solver);
    let draw = draw(watch, &mut solver, &mut notices);
    let (ties, unsafe_lines) = ties(watch.extracted, draw.as_ref());
    notices.extend(unsafe_lines);
    deaf(watch.extracted, &mut notices);
    rest(watch.extracted, &mut notices);
    decoupling(board, &mut notices);
    let kinds = kinds(watch.extracted, &margins, usual_load, &mut solver);
    let (timing, found) = timing(watch);
    notices.extend(found);
    let survey = Survey {
        margins,
        kinds,
        usual_load,
        fan_out,
        driven: driven(watch, &mut notices),
        lamps: lamps(watch, &mut notices),
        limits: limits(watch, &mut notices),
        draw,
        ties,
        unpowered: unpowered(watch.extracted, &mut solver),
        timing,
    };
    notices.sort_by_key(|notice| (std::cmp::Reverse(notice.severity), notice.about, notice.code));
    (survey, notices)
}
