//! Model cards: the built-in ones and those a text makes with `model QX npn like 2N3904 BF=200`.

use crate::body::{Family, Written};
use crate::collect::LineAt;
use crate::door::Door;
use crate::names::{Symbol, is_name};
use crate::notices::Placed;
use crate::source::Span;
use crate::value;
use crate::words::{Token, Words};
use dryjoint_parts::{CARDS, LeadOrder, Model, Polarity, library};
use rustc_hash::FxHashMap;

/// A card a text made; nothing in it where its line could not be read.
struct Own {
    model: Option<Model>,
    span: Span,
}

/// Every card of a reading.
#[derive(Default)]
pub(crate) struct Cards {
    own: FxHashMap<Symbol, Own>,
    /// Names of the own cards in the order of the text.
    order: Vec<Symbol>,
    built_in: FxHashMap<Symbol, Option<Model>>,
}

impl Family {
    /// Whether a card is of this family.
    pub fn fits(self, model: &Model) -> bool {
        matches!(
            (self, model),
            (Self::Bipolar, Model::Bipolar(_))
                | (Self::Diode, Model::Diode(_))
                | (Self::Lamp, Model::Lamp(_))
        )
    }

    fn words(self) -> &'static str {
        match self {
            Self::Bipolar => "bipolar transistor",
            Self::Diode => "diode",
            Self::Lamp => "lamp",
        }
    }
}

/// What a card is of, as a notice says it.
fn is_of(model: &Model) -> &'static str {
    match model {
        Model::Bipolar(_) => "a bipolar transistor",
        Model::Diode(_) => "a diode",
        Model::Lamp(_) => "a lamp",
        _ => "a transistor of another kind",
    }
}

impl Cards {
    /// Reads all `model` lines, in the order of the text.
    pub fn read(lines: &[LineAt], door: &mut Door<'_>) -> Self {
        let mut cards = Self::default();
        for line in lines {
            let words = door.words(*line);
            cards.line(words, door);
        }
        cards
    }

    /// The card of that name, without a notice.
    pub fn get(&mut self, name: Symbol, door: &Door<'_>) -> Option<&Model> {
        if let Some(own) = self.own.get(&name) {
            return own.model.as_ref();
        }
        self.built_in.entry(name).or_insert_with(|| library(door.names.text(name))).as_ref()
    }

    /// The card a part of that family names, or a notice why there is none.
    pub fn look_up(&mut self, family: Family, wanted: Written, door: &mut Door<'_>) -> Option<Model> {
        if let Some(model) = self.get(wanted.word, door) {
            if family.fits(model) {
                return Some(model.clone());
            }
            let text =
                format!("`{}` is {}, not a {}", door.names.text(wanted.word), is_of(model), family.words());
            let mend = "name a card of the right kind, or check the class letters of the reference";
            door.error("model-kind", wanted.span, text, mend);
            return None;
        }
        if self.own.contains_key(&wanted.word) {
            // Its `model` line could not be read, and says so.
            return None;
        }
        let name = door.names.text(wanted.word).to_owned();
        let mut known: Vec<&str> = self.order.iter().map(|own| door.names.text(*own)).collect();
        known.extend(CARDS);
        let fitting: Vec<&str> =
            CARDS.into_iter().filter(|card| library(card).is_some_and(|model| family.fits(&model))).collect();
        let mend = door.notices.meant(&name, known).unwrap_or_else(|| {
            format!(
                "built in are {}; others are made with `model {name} {} like …`",
                fitting.join(", "),
                match family {
                    Family::Bipolar => "npn",
                    Family::Diode => "diode",
                    Family::Lamp => "lamp",
                }
            )
        });
        door.error("model-unknown", wanted.span, format!("there is no card `{name}`"), mend);
        None
    }

    /// `model NAME npn|pnp|diode|lamp [like CARD] KEY=value …`.
    fn line(&mut self, mut words: Words<'_>, door: &mut Door<'_>) {
        let keyword = words.next().map_or(words.span(), |token| token.span);
        let Some(name) = words.next().filter(|token| token.is_word() && is_card_name(token.text)) else {
            let mend = "write `model QX npn like 2N3904 BF=200`";
            door.error("model-what", keyword, "`model` without a name".into(), mend);
            return;
        };
        let symbol = door.names.of(name.text);
        if let Some(first) = self.own.get(&symbol) {
            let text = format!("card `{}` is there already", name.text);
            let notice = Placed::error("model-twice", name.span, text)
                .mend("give one of them another name".into())
                .also(first.span, "the first is here");
            door.notices.push(notice);
            return;
        }
        let model = self.model(name, words, door);
        self.own.insert(symbol, Own { model, span: name.span });
        self.order.push(symbol);
    }

    fn model(&mut self, name: Token<'_>, mut words: Words<'_>, door: &mut Door<'_>) -> Option<Model> {
        let kind = words.next();
        let Some(kind) = kind.filter(|kind| matches!(kind.text, "npn" | "pnp" | "diode" | "lamp")) else {
            let span = kind.map_or(name.span, |kind| kind.span);
            let text = format!("card `{}` says not what it is of", name.text);
            door.error("model-what", span, text, "write npn, pnp, diode or lamp behind the name");
            return None;
        };
        let mut given = Vec::new();
        let mut model = match words.after("like") {
            Some(like) => self.like(like, &mut words, kind, door)?,
            None => blank(kind.text)?,
        };
        let bare = model_is_blank(&model);
        if let Model::Bipolar(card) = &mut model {
            card.polarity = if kind.text == "pnp" { Polarity::Pnp } else { Polarity::Npn };
        }
        let mut whole = true;
        for token in words {
            match token.keyed() {
                Some((key, value)) => match set(&mut model, key, value, door) {
                    Some(parameter) => given.push(parameter),
                    None => whole = false,
                },
                None => {
                    let text = format!("`{}` is no figure of a card", token.text);
                    door.error("word-extra", token.span, text, "write figures as `BF=200`");
                    whole = false;
                }
            }
        }
        if bare && whole {
            whole = complete(&model, name, &given, door);
        }
        if whole {
            for fault in model.check() {
                let text = format!(
                    "{} of card `{}` is {:e}; real parts show {:e} to {:e}",
                    fault.parameter, name.text, fault.value, fault.least, fault.most
                );
                door.error("model-range", name.span, text, fault.mend);
                whole = false;
            }
        }
        whole.then_some(model)
    }

    fn like(
        &mut self,
        like: Token<'_>,
        words: &mut Words<'_>,
        kind: Token<'_>,
        door: &mut Door<'_>,
    ) -> Option<Model> {
        let Some(word) = words.next().filter(|token| !token.is_keyed()) else {
            door.error("model-what", like.span, "`like` names no card".into(), "write `like 2N3904`");
            return None;
        };
        let family = match kind.text {
            "diode" => Family::Diode,
            "lamp" => Family::Lamp,
            _ => Family::Bipolar,
        };
        let written = Written { word: door.names.of(word.text), span: word.span };
        self.look_up(family, written, door)
    }
}

/// A card's name may begin with a digit: `2N3904`.
pub(crate) fn is_card_name(text: &str) -> bool {
    is_name(text) || is_name(&format!("_{text}"))
}

/// A card of that kind whose figures are all still to be given, marked by what is no number.
fn blank(kind: &str) -> Option<Model> {
    let mut model = library(match kind {
        "npn" => "2N3904",
        "pnp" => "2N3906",
        "diode" => "1N4148",
        _ => "red",
    })?;
    for (name, _) in model.parameters() {
        let usual = model.usual(name).unwrap_or(f64::NAN);
        model.set(name, usual);
    }
    if let Model::Lamp(lamp) = &mut model {
        lamp.colour = String::new();
    }
    Some(model)
}

fn model_is_blank(model: &Model) -> bool {
    model.parameters().iter().any(|(_, value)| value.is_nan())
}

/// Whether a card that is like no other has all its figures; a notice where it has not.
fn complete(model: &Model, name: Token<'_>, given: &[&str], door: &mut Door<'_>) -> bool {
    let needed = model.parameters().into_iter().map(|(key, _)| key).filter(|key| model.usual(key).is_none());
    let mut missing: Vec<&str> = needed.filter(|key| !given.contains(key)).collect();
    if matches!(model, Model::Bipolar(_)) && !given.contains(&"leads") {
        missing.push("leads");
    }
    if matches!(model, Model::Lamp(_)) && !given.contains(&"colour") {
        missing.push("colour");
    }
    if missing.is_empty() {
        return true;
    }
    let text = format!("card `{}` lacks {}", name.text, missing.join(" "));
    let mend = "give every figure, or take the rest from a known card with `like`";
    door.error("model-lacks", name.span, text, mend);
    false
}

/// Sets one figure; returns its name as the card prints it.
fn set(model: &mut Model, key: Token<'_>, value: Token<'_>, door: &mut Door<'_>) -> Option<&'static str> {
    match (&mut *model, key.text) {
        (Model::Bipolar(card), "leads") => {
            card.leads = match value.text {
                "ebc" => LeadOrder::Ebc,
                "cbe" => LeadOrder::Cbe,
                _ => {
                    let text = format!("`{}` is no order of leads", value.text);
                    door.error("value-bad", value.span, text, "write leads=ebc or leads=cbe");
                    return None;
                }
            };
            return Some("leads");
        }
        (Model::Lamp(card), "colour") if is_name(value.text) => {
            card.colour = value.text.to_owned();
            return Some("colour");
        }
        _ => {}
    }
    let capital = key.text.to_ascii_uppercase();
    let parameters = model.parameters();
    let Some((name, _)) = parameters.iter().find(|(name, _)| *name == capital) else {
        let names = parameters.iter().map(|(name, _)| *name);
        let list = names.clone().collect::<Vec<_>>().join(" ");
        let meant = door.notices.meant(&capital, names).unwrap_or_else(|| format!("its figures are {list}"));
        let text = format!("a card of {} has no figure `{}`", is_of(model), key.text);
        door.error("model-figure", key.span, text, meant);
        return None;
    };
    let read =
        if value.text == "inf" { Ok(f64::INFINITY) } else { value::read(value.text, figure_symbol(name)) };
    match read {
        Ok(value) => {
            model.set(name, value);
            Some(name)
        }
        Err(why) => {
            let text = format!("`{}` is no figure: {why}", value.text);
            door.error("value-bad", value.span, text, "write it as cards do: `BF=200`, `IS=14.34f`");
            None
        }
    }
}

/// The unit that may follow a figure.
fn figure_symbol(name: &str) -> &'static str {
    match name {
        "RB" | "RC" | "RS" => "R",
        "CJE" | "CJC" | "CJO" | "CGS" | "CGD" => "F",
        "TF" | "TR" | "TT" => "s",
        "EG" | "VDOWN" | "VUP" | "VAF" | "VJE" | "VJC" | "VJ" | "BV" | "VEBO" | "VCEO" | "VRMAX" => "V",
        "PMAX" => "W",
        "IS" | "ISE" | "IKF" | "ICMAX" | "IFMAX" | "LIT" | "DARK" => "A",
        _ => "",
    }
}
