//! A survey as its document: references in place of ids, figures to four digits.

use crate::shape::survey as shape;
use crate::timing_shape;
use dryjoint_board::{Board, NetId, PartId};
use dryjoint_logic::Extracted;
use dryjoint_parts::Glow;
use dryjoint_survey::{
    Burden, Dead, Draw, Judgement, Jumper, Kind, Load, Margin, NetMargins, PinTies, Reason, Shine, Survey,
    Unpowered,
};
use dryjoint_units::{Amps, Volts};

/// The document of a survey of this board.
pub fn document(extracted: &Extracted, survey: &Survey) -> shape::Survey {
    let board = extracted.shape.board;
    let part = |id: PartId| board.parts[id].reference.clone();
    let net = |id: NetId| board.nets[id].name.clone();
    shape::Survey {
        margins: survey.margins.iter().map(|row| margins(board, row)).collect(),
        fan_out: survey
            .fan_out
            .iter()
            .map(|row| shape::FanOut { net: net(row.net), feeds: row.feeds, left: row.left })
            .collect(),
        kinds: survey.kinds.iter().map(|row| kind(board, row)).collect(),
        usual_load_ohms: survey.usual_load.map(|load| load.0),
        driven: survey
            .driven
            .iter()
            .map(|row| shape::Driven {
                part: part(row.part),
                forced_beta: digits(row.drive.forced_beta()),
                least_gain: digits(row.least_gain),
                overdrive: digits(row.overdrive()),
                collector_amps: digits(row.drive.collector.0),
                across_volts: digits(row.drive.across.0),
            })
            .collect(),
        lamps: survey.lamps.iter().map(|row| shine(board, row)).collect(),
        limits: survey.limits.iter().map(|row| limit(board, row.part, row.load)).collect(),
        supply: survey.draw.as_ref().map(draw),
        ties: survey.ties.iter().map(|row| pin_ties(board, row)).collect(),
        unpowered: unpowered(board, &survey.unpowered),
        timing: timing_shape::document(extracted, &survey.timing),
    }
}

fn limit(board: &Board, part: PartId, load: Load) -> shape::Limit {
    let (found, limit) = load.figures();
    let (on, share) = (load.name().to_owned(), digits(load.share()));
    let part = board.parts[part].reference.clone();
    shape::Limit { part, on, found: digits(found), limit: digits(limit), share }
}

fn pin_ties(board: &Board, row: &PinTies) -> shape::PinTies {
    let pin = &board.pins[row.pin];
    let (judgement, reason) = row.open_judgement;
    shape::PinTies {
        pin: format!("{}.{}", board.parts[pin.part].reference, pin.name),
        net: board.nets[pin.net].name.clone(),
        open: shape::Open {
            verdict: judgement_word(judgement).to_owned(),
            reason: reason_words(reason).to_owned(),
            volts: row.open.map(|volts| digits(volts.0)),
            reads: row.reads.map(|high| if high { "high" } else { "low" }.to_owned()),
        },
        ground: jumper(board, &row.ground),
        rail: jumper(board, &row.rail),
    }
}

fn jumper(board: &Board, jumper: &Jumper) -> shape::Jumper {
    let burden = |burden: Burden| shape::Burden {
        limit: limit(board, burden.part, burden.load),
        junction_celsius: burden.junction.map(|junction| digits(junction.0)),
    };
    shape::Jumper {
        verdict: judgement_word(jumper.judgement).to_owned(),
        reason: reason_words(jumper.reason).to_owned(),
        amps: nano(jumper.amps),
        amps_fought: jumper.fought.map(nano),
        own: jumper.own.map(burden),
        other: jumper.other.map(burden),
    }
}

fn judgement_word(judgement: Judgement) -> &'static str {
    match judgement {
        Judgement::Safe => "safe",
        Judgement::Unsafe => "unsafe",
        Judgement::Pointless => "pointless",
    }
}

fn reason_words(reason: Reason) -> &'static str {
    match reason {
        Reason::Moves => "the board reads what the hand says",
        Reason::AsOpen => "the open pin reads the same",
        Reason::Unread => "nothing on the board reads it",
        Reason::OwnOutput => "the board itself says what is here",
        Reason::Floats => "nothing holds it",
        Reason::Limit => "a part of this board overheats or comes beyond its limit",
        Reason::OthersLimit => "a driver on another board overheats or comes beyond its limit",
        Reason::Supply => "the supply comes to its limit",
    }
}

fn unpowered(board: &Board, unpowered: &Unpowered) -> shape::Unpowered {
    let volts = |volts: Option<Volts>| volts.map(|volts| digits(volts.0));
    let name = |net: NetId| board.nets[net].name.clone();
    let dead = |row: &Dead| shape::Dead {
        red: name(row.red),
        black: name(row.black),
        ohms: row.ohms.map(|ohms| digits(ohms.0)),
        forward_volts: volts(row.forward),
        backward_volts: volts(row.backward),
    };
    shape::Unpowered {
        rails: unpowered.rails.iter().map(dead).collect(),
        points: unpowered.points.iter().map(dead).collect(),
        transistors: unpowered
            .transistors
            .iter()
            .map(|row| shape::DeadTransistor {
                parts: row.parts.iter().map(|part| board.parts[*part].reference.clone()).collect(),
                base_emitter_volts: volts(row.emitter),
                base_collector_volts: volts(row.collector),
            })
            .collect(),
    }
}

fn margins(board: &Board, row: &NetMargins) -> shape::NetMargins {
    let side = |margin: Margin| shape::Margin {
        level: digits(margin.level.0),
        wanted: digits(margin.wanted.0),
        typical: digits(margin.typical.0),
        level_worst: digits(margin.level_worst.0),
        wanted_worst: digits(margin.wanted_worst.0),
        worst: digits(margin.worst.0),
        receiver: board.parts[margin.receiver].reference.clone(),
    };
    shape::NetMargins {
        net: board.nets[row.net].name.clone(),
        driver: row.driver.map(|part| board.parts[part].reference.clone()),
        receivers: row.receivers,
        high: row.high.map(side),
        low: row.low.map(side),
    }
}

fn kind(board: &Board, kind: &Kind) -> shape::Kind {
    shape::Kind {
        drivers: kind.drivers.iter().map(|part| board.parts[*part].reference.clone()).collect(),
        inputs: kind.inputs,
        reads: [kind.reads.0, kind.reads.1].map(|volts| digits(volts.0)),
        high_volts: kind.high.iter().map(|volts| digits(volts.0)).collect(),
        feeds: kind.feeds,
        wanted: kind.wanted.map(|(typical, worst)| [typical, worst].map(|volts| digits(volts.0))),
    }
}

fn shine(board: &Board, row: &Shine) -> shape::Shine {
    shape::Shine {
        lamp: board.parts[row.part].reference.clone(),
        lit_amps: row.lit.map(|(least, most)| [least, most].map(nano)),
        looks: row.glow.map(looks),
        dark_amps: row.dark.map(|(amps, _)| nano(amps)),
        dark_looks: row.dark.map(|(_, glow)| looks(glow)),
    }
}

fn draw(draw: &Draw) -> shape::Draw {
    let amps = |amps: Amps| digits(amps.0);
    shape::Draw {
        idle: draw.idle.map(|(least, most)| [amps(least), amps(most)]),
        typical: amps(draw.typical),
        most: amps(draw.most),
        worst: amps(draw.worst),
        limit: amps(draw.limit),
        stated: amps(draw.stated),
    }
}

/// `dark`, `dim` or `lit`.
pub fn looks(glow: Glow) -> String {
    match glow {
        Glow::Dark => "dark",
        Glow::Dim => "dim",
        Glow::Lit => "lit",
    }
    .to_owned()
}

/// A current to four digits; below a nanoampere nothing flows that anything here could show.
fn nano(amps: Amps) -> f64 {
    if amps.0.abs() < 1e-9 { 0.0 } else { digits(amps.0) }
}

/// To four digits: more mean nothing, and the last of them could differ from machine to machine.
pub fn digits(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value) + 0.0
}

#[cfg(test)]
mod tests {
    use super::digits;

    #[test]
    fn four_digits_are_kept() {
        assert_eq!([3.76875, 0.000_123_456, -0.0, 99_999.0].map(digits), [3.769, 0.000_123_5, 0.0, 1e5]);
    }
}
