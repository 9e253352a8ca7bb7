//! Before power: cautions, the supply, where each line may be tied, what a meter shows on the dead board.

use crate::screen::{hidden, keyed};
use crate::subject::Subject;
use crate::work::Work;
use dryjoint_board::{Access, Board, Line, NetId, PartKind, Supply};
use dryjoint_circuit::Solver;
use dryjoint_procedure::clocks_at_rest;
use dryjoint_session::{Unit, Wiring, resistance};
use dryjoint_survey::Judgement;
use dryjoint_units::{Amps, Ohms};
use maud::{Markup, html};

/// What a good board shows before and at first power.
#[derive(Clone, Debug, Default)]
pub struct Before {
    /// Two nets and the ohms between them with power off; nothing where a meter shows no reading.
    ohms: Vec<(NetId, NetId, Option<Ohms>)>,
    /// The supply's current with everything open, least and most: how latches wake up is chance.
    amps: Option<(Amps, Amps)>,
    /// Pins that a jumper to the rail may harm something at.
    hot: Vec<NetId>,
}

/// Lines of which the pull-up is measured, at most.
const MOST_LINES: usize = 8;

impl Before {
    /// Computes it from the circuit of the good board.
    pub fn of(subject: Subject) -> Self {
        let board = subject.board();
        let wiring = Wiring::new(subject.study.extracted, &[]);
        let mut solver = Solver::default();
        let ground = board.nets.iter().find(|(_, net)| net.supply == Some(Supply::Ground)).map(|(id, _)| id);
        let rails = board.nets.iter().filter(|(_, net)| matches!(net.supply, Some(Supply::Rail { .. })));
        let rails: Vec<NetId> = rails.map(|(id, _)| id).collect();
        let mut pairs: Vec<(NetId, NetId)> = rails.iter().copied().zip(ground.into_iter().cycle()).collect();
        if let Some(&rail) = rails.first() {
            let lines = board.lines.rows().iter().filter(|line| !matches!(line.access, Access::Contact(_)));
            pairs.extend(lines.take(MOST_LINES).map(|line| (line.net, rail)));
        }
        let ohms = pairs
            .into_iter()
            .filter_map(|(a, b)| Some((a, b, resistance(&mut solver, &wiring, a, b).ok()?)))
            .collect();
        let good = Unit::good_ones(subject.study.extracted).unwrap_or_default();
        let woken: Vec<f64> = good.iter().map(|unit| unit.supply().0).collect();
        let least = woken.iter().copied().reduce(f64::min);
        let amps =
            least.zip(woken.iter().copied().reduce(f64::max)).map(|(least, most)| (Amps(least), Amps(most)));
        let (ties, _) = dryjoint_survey::ties(subject.study.extracted, None);
        let hot = ties.into_iter().filter(|row| row.rail.judgement == Judgement::Unsafe);
        Self { ohms, amps, hot: hot.map(|row| board.pins[row.pin].net).collect() }
    }
}

/// The screen.
pub fn screen(work: &Work, before: &Before) -> Markup {
    let board = work.subject.board();
    html! {
        h1 { "Before power" }
        (cautions(board))
        section aria-labelledby="h-supply" {
            h2 id="h-supply" { "The supply" }
            ul class="big" {
                @for net in board.nets.rows() {
                    @if let Some(Supply::Rail { volts, limit }) = net.supply {
                        li { "Output off. Set " strong { (volts) } " for " (net.name) ", current limit " strong { (work.subject.limit.unwrap_or(limit)) } @if work.subject.limit.is_some() { ", computed from the parts" } "." }
                    }
                }
                @if let Some(clocks) = clocks_at_rest(board) {
                    li { (clocks) }
                }
                @if let Some(amps) = before.amps {
                    li { "Expect " strong { (Amps::range_to_tens(amps)) } " with every line open. Twice that, or the limit: off at once." }
                }
            }
        }
        (unpowered(work, before))
        (ties(board, before))
        p { a class="button primary" href="/step" { "All of this is so: to the first step" } }
    }
}

fn cautions(board: &Board) -> Markup {
    let polar = |kind: &PartKind| matches!(kind, PartKind::Capacitor { polar: true, .. });
    let polar: Vec<&str> = board
        .parts
        .rows()
        .iter()
        .filter(|part| polar(&part.kind))
        .map(|part| part.reference.as_str())
        .collect();
    html! {
        section class="caution" aria-labelledby="h-caution" {
            h2 id="h-caution" { span aria-hidden="true" { "⚠ " } "Cautions" }
            ul {
                li { "Power off before you move a part or a plug. Jumpers to ground go on and off one at a time." }
                li { "Count the pins twice: a plug one pin off puts the rail where it should not be." }
                @if !polar.is_empty() {
                    li { "Look at the + of every electrolytic (" (polar.join(", ")) "). One the wrong way round can burst: keep your face away at first power." }
                }
                li { "Touch ground before you touch a part: static kills silently. An iron is hot for minutes after it is off." }
                li { "The mains side of the supply is for licensed people only. Where your local rules say more, they hold." }
            }
        }
    }
}

fn unpowered(work: &Work, before: &Before) -> Markup {
    let board = work.subject.board();
    let name = |net: NetId| board.nets[net].name.as_str();
    html! {
        section aria-labelledby="h-ohms" {
            h2 id="h-ohms" { "A meter on the dead board" }
            p { "Supply off and unplugged, meter on ohms. A low range is fooled by junctions, and a big capacitor takes a while to stand still. A meter that shows no reading is " strong { "open" } "." }
            div class="scroll" tabindex="0" role="region" aria-label="Ohms on the dead board" {
                table {
                    thead { tr { th scope="col" { "Red lead" } th scope="col" { "black lead" } th scope="col" class="figure" { "a good board" } th scope="col" { "you read" } } }
                    tbody {
                        @for &(a, b, ohms) in &before.ohms {
                            tr {
                                td { (name(a)) } td { (name(b)) }
                                td class="figure" { (figure(ohms)) }
                                td {
                                    form method="post" action="/measure" class="inline" {
                                        (keyed(work)) (hidden("back", "/before")) (hidden("sort", "ohms"))
                                        (hidden("what", name(a))) (hidden("other", name(b)))
                                        @if work.practice.is_some() {
                                            button { "Hold them there" }
                                        } @else {
                                            input name="value" required maxlength="20" autocomplete="off" inputmode="text" size="6"
                                                aria-label={ "Ohms read between " (name(a)) " and " (name(b)) ", or open" } placeholder="4k7";
                                            button { "Take" }
                                        }
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Ohms as everywhere else: to two digits.
fn figure(ohms: Option<Ohms>) -> String {
    ohms.map_or("no reading".to_owned(), |ohms| ohms.two_digits().to_string())
}

fn ties(board: &Board, before: &Before) -> Markup {
    let hot: Vec<&str> = before.hot.iter().map(|net| board.nets[*net].name.as_str()).collect();
    html! {
        section aria-labelledby="h-ties" {
            h2 id="h-ties" { "Lines, and the only way each may be tied" }
            p { "Leave all of them open for now." }
            @if !hot.is_empty() {
                p class="caution" { "Never straight to the rail: " strong { (hot.join(", ")) } ". A transistor that is on and pulls the pin low, here or on another board, overheats." }
            }
            div class="scroll" tabindex="0" role="region" aria-label="Lines" {
                table {
                    thead { tr { th scope="col" { "Line" } th scope="col" { "at" } th scope="col" { "by" } th scope="col" { "for" } } }
                    tbody {
                        @for line in board.lines.rows() {
                            tr { th scope="row" { (line.name) } td { (place(board, line)) } td { (how(board, line)) } td { (line.purpose) } }
                        }
                    }
                }
            }
        }
    }
}

fn how(board: &Board, line: &Line) -> &'static str {
    match line.access {
        Access::TieLow => "jumper to ground",
        Access::TieHigh => "jumper to the rail",
        Access::Contact(part) if board.parts[part].kind == PartKind::Button => "its button",
        Access::Contact(_) => "its switch",
    }
}

fn place(board: &Board, line: &Line) -> String {
    if let Access::Contact(part) = line.access {
        return board.parts[part].reference.clone();
    }
    let pins = board.nets[line.net].pins.iter().map(|pin| &board.pins[*pin]);
    let mut header = pins.filter(|pin| board.parts[pin.part].kind == PartKind::Header);
    header.next().map_or_else(String::new, |pin| format!("{}.{}", board.parts[pin.part].reference, pin.name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ohms_have_two_digits() {
        assert_eq!(figure(Some(Ohms(268.43))), "270R");
        assert_eq!(figure(None), "no reading");
    }
}
