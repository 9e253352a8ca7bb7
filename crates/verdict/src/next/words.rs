//! What may be seen and what it would mean, in words: for the page, the terminal and the dialogue alike.

use super::{Next, Outcome, Sign};
use dryjoint_board::{Board, PartId, PartKind};
use dryjoint_faults::lanes::Shown;
use dryjoint_faults::spoken;
use dryjoint_procedure::Study;
use dryjoint_units::Amps;

/// Causes that are told in words; of more the parts are named.
const FEW: usize = 3;

/// Parts that are named.
const PARTS: usize = 6;

/// One outcome as likely as this is foreseen.
const FORESEEN: f64 = 0.995;

/// What the hands open before ohms are measured, switch by switch: a closed one is a way round.
pub fn opened(board: &Board) -> Vec<String> {
    let toggles = board.parts.rows().iter().filter(|part| part.kind == PartKind::Toggle);
    let toggles = toggles.map(|part| format!("set {} off", part.reference));
    let selectors = board.clocks.rows().iter().filter_map(|clock| Some(&board.parts[clock.selector?]));
    toggles.chain(selectors.map(|part| format!("leave {} between two positions", part.reference))).collect()
}

impl Next {
    /// Why it is asked for all the same, where what it shows is foreseen.
    pub fn foreseen(&self) -> Option<&'static str> {
        let foreseen = self.outcomes.first().is_some_and(|first| first.probability > FORESEEN);
        foreseen.then_some(
            "most likely nothing new: it rules out what is unlikely, or leads on to a look that tells",
        )
    }
}

impl Outcome {
    /// Who would show it: `R43 missing, a joint of R43`, or `41 faults at R536 R530 …`.
    pub fn whose(&self, study: &Study) -> String {
        let board = study.extracted.shape.board;
        let mut whose: Vec<String> = if self.good { vec!["a good board".to_owned()] } else { Vec::new() };
        let causes = spoken(board, &study.faults, &self.faults);
        if causes.len() <= FEW {
            whose.extend(causes.into_iter().map(|cause| cause.words));
        } else {
            let mut parts: Vec<PartId> = Vec::new();
            for fault in &self.faults {
                let part = study.faults[*fault].parts(board).first().copied();
                parts.extend(part.filter(|part| !parts.contains(part)));
            }
            let more = if parts.len() > PARTS { " …" } else { "" };
            let named: Vec<&str> =
                parts.iter().take(PARTS).map(|&part| board.parts[part].reference.as_str()).collect();
            whose.push(format!("{} faults at {}{more}", self.faults.len(), named.join(" ")));
        }
        whose.join(", ")
    }
}

impl Sign {
    /// What is seen: `DS3 dark`, `0.10 V`, `2k2 to 4k7`, `no reading`.
    pub fn words(&self, board: &Board) -> String {
        // Nothing is nothing, on whichever side of it the solver ended.
        let plain = |figure: f64| if figure.abs() < 5e-6 { 0.0 } else { figure };
        match *self {
            Self::Lamps(ref lamps) if lamps.is_empty() => "whatever is seen".to_owned(),
            Self::Lamps(ref lamps) => {
                let word = |shown: Shown| match shown {
                    Shown::One => "lit",
                    Shown::Zero => "dark",
                    Shown::Dim => "dim",
                    Shown::Unknown => "unknown",
                };
                let one =
                    |(lamp, shown): &(_, Shown)| format!("{} {}", board.parts[*lamp].reference, word(*shown));
                lamps.iter().map(one).collect::<Vec<_>>().join(", ")
            }
            Self::Volts(least, most) => {
                let (least, most) = (plain(least.0), plain(most.0));
                if most - least < 0.05 {
                    format!("{:.2} V", f64::midpoint(least, most))
                } else {
                    format!("{least:.2} to {most:.2} V")
                }
            }
            Self::Amps(least, most) => {
                let (least, most) = (plain(least.0), plain(most.0));
                if most - least > 1e-3 {
                    format!("{} to {}", Amps(least), Amps(most))
                } else {
                    Amps(least).to_string()
                }
            }
            // The leads' own resistance is as much.
            Self::Ohms(_, most) if most.0 < 1.0 => "under 1R".to_owned(),
            Self::Ohms(least, most) => {
                let (least, most) = (least.two_digits(), most.two_digits());
                if least == most { least.to_string() } else { format!("{least} to {most}") }
            }
            Self::Open => "no reading".to_owned(),
        }
    }
}
