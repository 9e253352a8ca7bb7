//! Structural Verilog: gate primitives, module instances, and nothing that behaves.
//!
//! Reads the part of IEEE 1364-2005 that describes a netlist: modules with scalar or vector ports
//! (§12), nets (§4), the gate primitives `and nand or nor xor xnor buf not` (§7.2, §7.3), plain
//! continuous assignments, and instances of other modules, which are flattened. A module called
//! `dff` with pins `CK`, `D` and `Q` is the flip-flop of [`dryjoint_logic::Function::Flop`], whether
//! the file describes it behaviourally or leaves it out.
//!
//! Everything wrong is reported at once, each with its line and the construct it is about.

mod build;
mod flatten;
mod keywords;
mod parse;
mod problem;
mod scan;
mod syntax;
#[cfg(test)]
mod tests;

pub use problem::{Code, Problem};

use crate::{Placed, Sources};
use dryjoint_logic::Logic;

/// A netlist that knows only gates.
#[derive(Clone, Debug, PartialEq)]
pub struct Gates {
    /// The name of the outermost module.
    pub name: String,
    /// Its logic: inputs in port order, then inner nets, then what is seen, in port order.
    pub logic: Logic,
    /// The input that clocks every flip-flop; it is no signal of the logic.
    pub clock: Option<String>,
}

/// Reads a file's text. Without `top` the outermost module is the one that no other instantiates.
/// The netlist is there only when no problem is an error.
pub fn read(text: &str, top: Option<&str>) -> (Option<Gates>, Vec<Problem>) {
    let mut problems = Vec::new();
    let tokens = scan::scan(text, &mut problems);
    let modules = parse::parse(&tokens, &mut problems);
    let flat = flatten::flatten(&modules, top, &mut problems);
    let gates = flat.and_then(|flat| build::build(flat, &mut problems));
    problems.sort_by_key(|p| (p.line, p.column));
    if problems.is_empty() { (gates, problems) } else { (None, problems) }
}

/// What came of a file, ready to be drawn.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The netlist; nothing where there is a notice.
    pub gates: Option<Gates>,
    /// The text.
    pub sources: Sources,
    /// What is wrong, in the order of the text.
    pub notices: Vec<Placed>,
}

/// Reads the file `name`; see [`read`].
pub fn read_file(name: &str, text: &str, top: Option<&str>) -> Reading {
    let (gates, problems) = read(text, top);
    let mut sources = Sources::default();
    let file = sources.push(name.to_owned(), text.to_owned());
    let notices = problems.into_iter().map(|problem| problem.placed(file, text)).collect();
    Reading { gates, sources, notices }
}
