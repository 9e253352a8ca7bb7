//! What of the score is wanted: `[--pairs N] [--every N] [--lamps | --meter] [--circuit | --lanes] [--only FAULT]…
//! [--worst N] [--agree] BOARD…`.

use crate::unit::Stuff;
use dryjoint_board::Board;

/// How it is asked for.
pub const USAGE: &str = "usage: score [--pairs N] [--every N] [--lamps | --meter] [--circuit | --lanes] \
                         [--only FAULT]… [--worst N] [--agree] BOARD…";

/// What of the score is wanted.
pub struct Wanted {
    /// How many pairs of faults are drawn.
    pub pairs: usize,
    /// One of so many groups is hunted.
    pub every: usize,
    /// Hunts by lamps only.
    pub by_lamps: bool,
    /// Hunts with perfect readings and a meter only.
    pub meter_only: bool,
    /// What the units are made of that have one fault; where it is not said lanes for hunts by lamps, and the circuit for
    /// those with a meter.
    pub stuff: Option<Stuff>,
    /// The faults that are hunted, where not all are.
    pub only: Vec<String>,
    /// Of how many of the hunts that end with the most repairs it is told how they went.
    pub worst: usize,
    /// Instead of hunts, how far the lanes agree with the circuit.
    pub agree: bool,
    /// The files of the boards.
    pub boards: Vec<String>,
}

impl Wanted {
    /// What some arguments ask for; the message of a refusal says which one and why.
    pub fn of(mut arguments: impl Iterator<Item = String>) -> Result<Self, String> {
        let mut wanted = Self {
            pairs: 2000,
            every: 1,
            by_lamps: false,
            meter_only: false,
            stuff: None,
            only: Vec::new(),
            worst: 0,
            agree: false,
            boards: Vec::new(),
        };
        while let Some(argument) = arguments.next() {
            let mut value = || arguments.next().ok_or(format!("{argument} wants something after it"));
            let number = |text: String| {
                text.parse().map_err(|_| format!("{argument} wants a number after it, not `{text}`"))
            };
            match argument.as_str() {
                "--pairs" => wanted.pairs = number(value()?)?,
                "--every" => wanted.every = number(value()?)?.max(1),
                "--lamps" => wanted.by_lamps = true,
                "--agree" => wanted.agree = true,
                "--circuit" => wanted.stuff = Some(Stuff::Circuit),
                "--lanes" => wanted.stuff = Some(Stuff::Lanes),
                "--only" => wanted.only.push(value()?),
                "--worst" => wanted.worst = number(value()?)?,
                "--meter" => (wanted.meter_only, wanted.pairs) = (true, 0),
                option if option.starts_with('-') => return Err(format!("there is no option `{option}`")),
                _ => wanted.boards.push(argument),
            }
        }
        if wanted.boards.is_empty() { Err("which board?".to_owned()) } else { Ok(wanted) }
    }
}

/// Reads a board; the message of a refusal says what keeps it from being read.
pub fn board(path: &str) -> Result<Board, String> {
    let text = std::fs::read_to_string(path).map_err(|error| format!("{path}: {error}"))?;
    let mut loader = |name: &str| std::fs::read(name).map_err(|error| error.to_string());
    let reading = dryjoint_netlist::read(path, text, &mut loader);
    reading.board.ok_or_else(|| format!("{path} is not sound: `dryjoint check {path}` says where"))
}
