//! How big the board would be, worked out before anything is laid out: loops of cells, depth, parts.

use crate::body::{Body, Item};
use crate::door::Door;
use crate::limits::{MAX_DEPTH, MAX_ITEMS, MAX_NAME_BYTES};
use crate::source::Span;
use rustc_hash::FxHashSet;

/// What a body comes to with all cells within laid out.
#[derive(Clone, Copy, Debug, Default)]
struct Size {
    items: u64,
    name_bytes: u64,
    depth: u32,
}

/// A body being measured: the next item to look at.
struct Frame {
    body: usize,
    item: usize,
    size: Size,
}

/// Instances that would place a cell within itself, by body and item; they are not laid out.
pub(crate) type Loops = FxHashSet<(usize, usize)>;

/// Measures `bodies`, the board's own last. Nothing where the board would be too big to lay out.
pub(crate) fn measure(bodies: &[Body], door: &mut Door<'_>) -> Option<Loops> {
    let top = bodies.len().checked_sub(1)?;
    let mut sizes: Vec<Option<Size>> = vec![None; bodies.len()];
    let mut on_stack = vec![false; bodies.len()];
    let mut loops = Loops::default();
    let mut fits = true;
    // Every cell is looked at, used or not, so that a loop is told even where nothing places it yet.
    for start in (0..bodies.len()).rev() {
        if sizes[start].is_some() {
            continue;
        }
        let mut stack = vec![Frame { body: start, item: 0, size: Size::default() }];
        on_stack[start] = true;
        while let Some(frame) = stack.last_mut() {
            let body = &bodies[frame.body];
            let Some(item) = body.items.get(frame.item) else {
                let done = stack.pop()?;
                sizes[done.body] = Some(done.size);
                on_stack[done.body] = false;
                continue;
            };
            match item {
                Item::Part(part) => {
                    let pins = u64::from(part.pins.1 - part.pins.0);
                    frame.size.items = frame.size.items.saturating_add(1 + pins);
                }
                Item::Net(_) | Item::Section(_) => frame.size.items = frame.size.items.saturating_add(1),
                Item::Instance(instance) => match sizes[instance.cell] {
                    Some(size) => add(&mut frame.size, size, door.names.text(instance.name).len() as u64),
                    None if on_stack[instance.cell] => {
                        loops.insert((frame.body, frame.item));
                        let names = loop_names(&stack, instance.cell, bodies, door);
                        recursive(door, instance.span, &names);
                    }
                    None => {
                        on_stack[instance.cell] = true;
                        stack.push(Frame { body: instance.cell, item: 0, size: Size::default() });
                        continue;
                    }
                },
            }
            if let Some(frame) = stack.last_mut() {
                frame.item += 1;
            }
        }
        let size = sizes[start].unwrap_or_default();
        if start == top
            && (size.items > MAX_ITEMS || size.name_bytes > MAX_NAME_BYTES || size.depth > MAX_DEPTH)
        {
            fits = false;
            too_big(&bodies[top], &sizes, size, door);
        }
    }
    fits.then_some(loops)
}

fn add(total: &mut Size, inner: Size, name: u64) {
    total.items = total.items.saturating_add(inner.items).saturating_add(1);
    let names = inner.items.saturating_mul(name + 1).saturating_add(inner.name_bytes);
    total.name_bytes = total.name_bytes.saturating_add(names);
    total.depth = total.depth.max(inner.depth.saturating_add(1));
}

/// The cells of a loop in order, from `cell` back to it.
fn loop_names(stack: &[Frame], cell: usize, bodies: &[Body], door: &Door<'_>) -> Vec<String> {
    let start = stack.iter().position(|frame| frame.body == cell).unwrap_or(0);
    let mut names = Vec::new();
    for frame in stack[start..].iter().take(12) {
        if let Some(Item::Instance(instance)) = bodies[frame.body].items.get(frame.item) {
            let words = door.sources.words(instance.span);
            names.push(words.split_whitespace().last().unwrap_or("").to_owned());
        }
    }
    names
}

fn recursive(door: &mut Door<'_>, span: Span, names: &[String]) {
    let way = names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(" → ");
    let text = match names {
        [_] => format!("cell {way} holds itself"),
        _ => format!("these cells hold each other without end: {way}"),
    };
    door.error("cell-loop", span, text, "take one of the instances out");
}

fn too_big(top: &Body, sizes: &[Option<Size>], size: Size, door: &mut Door<'_>) {
    let biggest = top.items.iter().filter_map(|item| match item {
        Item::Instance(instance) => Some((sizes[instance.cell].unwrap_or_default(), instance.span)),
        _ => None,
    });
    let Some((inner, span)) =
        biggest.max_by_key(|(size, span)| (size.depth > MAX_DEPTH, size.items, std::cmp::Reverse(*span)))
    else {
        let Some(net) = top.nets.first() else { return };
        let text = format!("the board would have {} parts and pins", size.items);
        door.error("board-too-big", net.span, text, format!("at most {MAX_ITEMS} are laid out"));
        return;
    };
    if size.depth > MAX_DEPTH {
        let text = format!("cells within cells, {} deep", inner.depth + 1);
        door.error("cells-too-deep", span, text, format!("at most {MAX_DEPTH} are laid out"));
    } else if size.items > MAX_ITEMS {
        let text =
            format!("the board would have {} parts and pins, {} of them here", size.items, inner.items);
        door.error(
            "board-too-big",
            span,
            text,
            format!("at most {MAX_ITEMS} are laid out; is a range too long?"),
        );
    } else {
        let text = "the names of this board's nets and sections would fill hundreds of megabytes".into();
        door.error("board-too-big", span, text, "shorten the instances' names, or nest them less deep");
    }
}
