//! Nets with a single pin: the other end was misspelt, or forgotten.

use crate::{Board, Entity, Notice, Part, PartKind, Pin, nearest};

pub(super) fn check(board: &Board, meant: &mut Meant, out: &mut Vec<Notice>) {
    for (id, net) in board.nets.iter() {
        match net.pins[..] {
            [] => {
                let text = format!("no part is on net `{}`", net.name);
                let mend = meant.of(board, &net.name).unwrap_or_else(|| "remove it, or connect it".into());
                out.push(Notice::warning("net-no-pin", Entity::Net(id), text, mend));
            }
            [pin] => {
                let pin = &board.pins[pin];
                let part = &board.parts[pin.part];
                if left_open(&net.name, part, pin) || net.supply.is_some() {
                    continue;
                }
                let text = format!("net `{}` ends at {}, pin {}", net.name, part.reference, pin.name);
                let mend = meant.of(board, &net.name).unwrap_or_else(|| {
                    format!("connect it, or write `-` for pin {} to leave it open", pin.name)
                });
                // A connector's pin may wait for a part that is still to come.
                let new = if part.kind == PartKind::Header { Notice::remark } else { Notice::warning };
                out.push(new("net-single-pin", Entity::Net(id), text, mend));
            }
            _ => {}
        }
    }
}

/// Whether the text left the pin open on purpose: its net is called by the pin.
fn left_open(net: &str, part: &Part, pin: &Pin) -> bool {
    net.strip_prefix(part.reference.as_str()).and_then(|rest| rest.strip_prefix('.')) == Some(&pin.name)
}

/// The search for nets that were likely meant, which ends when it has cost enough.
pub(super) struct Meant {
    /// Names that may still be compared.
    left: usize,
}

impl Meant {
    pub fn new() -> Self {
        Self { left: 2_000_000 }
    }

    /// The net that was likely meant by `name`, looked for among those of the same instance or board.
    pub fn of(&mut self, board: &Board, name: &str) -> Option<String> {
        if self.left < board.nets.len() {
            return None;
        }
        self.left -= board.nets.len();
        let path = name.rfind('.').map_or("", |at| &name[..=at]);
        let names = board.nets.rows().iter().map(|net| net.name.as_str());
        let siblings = names.filter_map(|other| other.strip_prefix(path).filter(|own| !own.contains('.')));
        nearest(&name[path.len()..], siblings).map(|other| format!("did you mean `{other}`?"))
    }
}
