//! Free-running clocks, and nets that take turns: `clock`, `phases`.

use super::{listed, net_named};
use crate::find::Finder;
use crate::layout::Layout;
use crate::value;
use crate::words::{Token, Words};
use dryjoint_board::{Clock, PartKind, Phases, Rate};
use dryjoint_units::Hertz;

/// `clock CLK [not CLKN] [selector S3] slow=1Hz …`, or `clock CLK 1kHz`.
pub(super) fn clock(head: Token<'_>, mut words: Words<'_>, layout: &mut Layout<'_, '_>, finder: &mut Finder) {
    let mend = "write `clock CLK 1kHz`, or `clock CLK not CLKN selector S1 slow=1Hz run=10kHz`";
    let Some(name) = words.next() else {
        layout.door.error("clock-what", head.span, "this clock names no net".into(), mend);
        return;
    };
    let net = net_named(name, layout, finder);
    let complement =
        words.after("not").and_then(|_| words.next()).map(|token| net_named(token, layout, finder));
    let mut selector = None;
    if words.after("selector").is_some()
        && let Some(token) = words.next()
    {
        selector = finder.part(token.text, layout);
        let fits = selector.is_some_and(|part| {
            matches!(layout.board.parts[part].kind, PartKind::Selector | PartKind::Toggle)
        });
        if selector.is_none() {
            finder.unknown(token.text, token.span, "switch", layout);
        } else if !fits {
            let text = format!("`{}` is no selector", token.text);
            layout.door.error("clock-what", token.span, text, mend);
            selector = None;
        }
    }
    let tried = words.peek().is_some();
    let rates = rates(words, layout, mend);
    if rates.is_empty() && !tried {
        layout.door.error("clock-what", name.span, "this clock has no rate".into(), mend);
    }
    let positions = selector.map(|part| match layout.board.parts[part].kind {
        PartKind::Selector => layout.board.parts[part].pins.len().saturating_sub(1),
        _ => 2,
    });
    if let Some(positions) = positions.filter(|positions| *positions != rates.len() && !rates.is_empty()) {
        let text = format!("the switch has {positions} positions; rates given: {}", rates.len());
        layout.door.error("clock-what", name.span, text, "give one rate for each position, in order");
    }
    if let Some(net) = net {
        layout.board.clocks.push(Clock { net, complement: complement.flatten(), selector, rates });
    }
}

/// `phases PH1 PH2`: nets of which no two may act at once.
pub(super) fn phases(
    head: Token<'_>,
    mut words: Words<'_>,
    layout: &mut Layout<'_, '_>,
    finder: &mut Finder,
) {
    let mut nets = Vec::new();
    let names = listed(&mut words, layout);
    let few = names.len() < 2;
    for (name, span) in names {
        let text = layout.door.names.text(name).to_owned();
        match finder.net(&text, layout) {
            Some(net) => nets.push(net),
            None => finder.unknown(&text, span, "net", layout),
        }
    }
    if few {
        let mend = "write `phases PH1 PH2`: nets of which no two act at once";
        layout.door.error("phases-what", head.span, "phases are two nets or more".into(), mend);
    } else {
        layout.board.phases.push(Phases { nets });
    }
}

fn rates(words: Words<'_>, layout: &mut Layout<'_, '_>, mend: &str) -> Vec<Rate> {
    let mut rates = Vec::new();
    for token in words {
        let (position, rate) = match token.keyed() {
            Some((key, value)) => (key.text.to_owned(), value),
            None => (String::new(), token),
        };
        match value::read(rate.text, "Hz") {
            Ok(value) if value > 0.0 => rates.push(Rate { position, rate: Hertz(value) }),
            Ok(_) => {
                let text = format!("a clock of {} stands still", rate.text);
                layout.door.error("value-bad", rate.span, text, mend);
            }
            Err(why) => {
                let text = format!("`{}` is no rate: {why}", rate.text);
                layout.door.error("value-bad", rate.span, text, mend);
            }
        }
    }
    rates
}
