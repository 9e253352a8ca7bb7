//! Parts, pins and nets by the names a person gives them, once the board is laid out.

use crate::layout::Layout;
use crate::names::{Symbol, reference};
use crate::source::Span;
use dryjoint_board::{NetId, PartId, PinId};
use rustc_hash::FxHashMap;

/// Where a line for the bench may take hold.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Found {
    Part(PartId),
    Pin(PinId),
    Net(NetId),
}

/// Names that are looked up; the longer tables are made when the first such name is.
#[derive(Default)]
pub(crate) struct Finder {
    nets: Option<FxHashMap<String, NetId>>,
    parts: Option<FxHashMap<String, PartId>>,
}

impl Finder {
    /// A part by its reference, or by its path such as `BIT3.DS1`.
    pub fn part(&mut self, name: &str, layout: &Layout<'_, '_>) -> Option<PartId> {
        if let Some((letters, number)) = reference(name) {
            let class: Symbol = layout.door.names.find(letters)?;
            return layout.references.get(&(class, number)).copied();
        }
        if !name.contains('.') {
            return None;
        }
        let parts = self.parts.get_or_insert_with(|| {
            let rows = layout.board.parts.iter().zip(&layout.local);
            rows.filter(|((_, part), _)| !part.section.is_empty())
                .map(|((id, part), local)| {
                    (format!("{}.{}", part.section.replace('/', "."), layout.door.names.text(*local)), id)
                })
                .collect()
        });
        parts.get(name).copied()
    }

    /// A pin written as `J1.3`.
    pub fn pin(&mut self, name: &str, layout: &Layout<'_, '_>) -> Option<PinId> {
        let (part, pin) = name.rsplit_once('.')?;
        let part = self.part(part, layout)?;
        let pins = &layout.board.parts[part].pins;
        pins.iter().copied().find(|id| layout.board.pins[*id].name == pin)
    }

    /// A net by its full name.
    pub fn net(&mut self, name: &str, layout: &Layout<'_, '_>) -> Option<NetId> {
        let symbol = layout.door.names.find(name);
        if let Some(net) = symbol.and_then(|symbol| layout.named.get(&symbol)) {
            return Some(*net);
        }
        let nets = self.nets.get_or_insert_with(|| {
            layout.board.nets.iter().map(|(id, net)| (net.name.clone(), id)).collect()
        });
        nets.get(name).copied()
    }

    /// Whatever the name names: a part, a pin, or a net.
    pub fn any(&mut self, name: &str, layout: &Layout<'_, '_>) -> Option<Found> {
        if let Some(part) = self.part(name, layout) {
            return Some(Found::Part(part));
        }
        if let Some(pin) = self.pin(name, layout) {
            return Some(Found::Pin(pin));
        }
        self.net(name, layout).map(Found::Net)
    }

    /// Notes a name that names nothing, with the one that was likely meant.
    pub fn unknown(&mut self, name: &str, span: Span, wanted: &str, layout: &mut Layout<'_, '_>) {
        let board = &layout.board;
        let meant = match wanted {
            "lamp" | "switch" => {
                layout.door.notices.meant(name, board.parts.rows().iter().map(|part| part.reference.as_str()))
            }
            _ => layout.door.notices.meant(name, board.nets.rows().iter().map(|net| net.name.as_str())),
        };
        let mend = meant.unwrap_or_else(|| match wanted {
            "lamp" => "name lamps by their references, such as DS1, or by path, such as `BIT3.DS1`".into(),
            "switch" => "name a switch by its reference, such as S1".into(),
            "net" => "name a net that a part's pin is on".into(),
            _ => "name a connector's pin such as J1.3, a net, or a switch".into(),
        });
        let code = if wanted == "net" { "net-unknown" } else { "name-unknown" };
        layout.door.error(code, span, format!("there is no {wanted} `{name}`"), mend);
    }
}
