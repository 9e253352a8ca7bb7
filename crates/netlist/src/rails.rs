//! Rails: `rail VCC 5V limit 500mA`, `ground GND`.

use crate::collect::LineAt;
use crate::door::Door;
use crate::names::{Symbol, is_path};
use crate::notices::Placed;
use crate::source::Span;
use crate::value;
use dryjoint_board::Supply;
use dryjoint_units::{Amps, Volts};
use rustc_hash::FxHashMap;

/// The limit of a rail whose line names none: enough for a board of this kind, too little to burn a
/// trace (judgement).
const LIMIT: Amps = Amps(0.5);

/// A rail as its line says.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Rail {
    pub supply: Supply,
    pub span: Span,
}

/// Reads the `rail` and `ground` lines.
pub(crate) fn rails(lines: &[LineAt], door: &mut Door<'_>) -> FxHashMap<Symbol, Rail> {
    let mut out: FxHashMap<Symbol, Rail> = FxHashMap::default();
    for line in lines {
        let Some((name, rail)) = rail(*line, door) else { continue };
        if let Some(first) = out.get(&name) {
            let text = format!("rail `{}` is there already", door.names.text(name));
            let notice = Placed::error("rail-twice", rail.span, text)
                .mend("name each rail once".into())
                .also(first.span, "the first is here");
            door.notices.push(notice);
        } else {
            out.insert(name, rail);
        }
    }
    out
}

fn rail(line: LineAt, door: &mut Door<'_>) -> Option<(Symbol, Rail)> {
    let mut words = door.words(line);
    let keyword = words.next()?;
    let ground = keyword.text == "ground";
    let mend = if ground { "write `ground GND`" } else { "write `rail VCC 5V limit 500mA`" };
    let Some(name) = words.next() else {
        door.error("rail-what", keyword.span, format!("`{}` without a name", keyword.text), mend);
        return None;
    };
    if !name.is_word() || !is_path(name.text) {
        // The name's own notice tells how names look.
        door.name_of(name, None);
        return None;
    }
    let symbol = door.names.of(name.text);
    if ground {
        door.nothing_left(&mut words);
        return Some((symbol, Rail { supply: Supply::Ground, span: name.span }));
    }
    let mut quantity = |door: &mut Door<'_>, unit: &'static str, what: &str| -> Option<f64> {
        let token = words.next();
        let span = token.map_or(keyword.span, |token| token.span);
        match token.map(|token| value::read(token.text, unit)) {
            Some(Ok(value)) => Some(value),
            Some(Err(why)) => {
                let text = format!("`{}` is no {what}: {why}", door.sources.words(span));
                door.error("value-bad", span, text, mend);
                None
            }
            None => {
                door.error("rail-what", span, format!("this rail has no {what}"), mend);
                None
            }
        }
    };
    let volts = Volts(quantity(door, "V", "voltage").unwrap_or(5.0));
    let limit = words.after("limit").map(|_| {
        let token = words.next();
        let span = token.map_or(keyword.span, |token| token.span);
        token.and_then(|token| value::read(token.text, "A").ok()).unwrap_or_else(|| {
            door.error("value-bad", span, "`limit` wants a current".into(), mend);
            LIMIT.0
        })
    });
    let limit = limit.map_or_else(
        || {
            let text = format!("rail `{}` names no current limit; {LIMIT} is taken", name.text);
            let mend = "write `limit 500mA`: the limit to set on the bench supply".to_owned();
            door.notices.push(Placed::remark("rail-no-limit", name.span, text).mend(mend));
            LIMIT
        },
        Amps,
    );
    door.nothing_left(&mut words);
    Some((symbol, Rail { supply: Supply::Rail { volts, limit }, span: name.span }))
}
