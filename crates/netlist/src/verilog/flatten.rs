//! Modules into one flat netlist: every instance is replaced by what is in it, and every vector by
//! its bits.

use super::parse::GATES;
use super::problem::{Code, Problem};
use super::syntax::{At, Declared, Instance, Item, Kind, Module, Ports, Primitive, Wiring};
use dryjoint_board::nearest;
use dryjoint_logic::Gate;
use std::collections::BTreeMap;

/// Deeper hierarchies than this are a slip, not a circuit.
const DEEPEST: usize = 256;
/// More gates than this are a slip, not a circuit.
const MOST: usize = 4_000_000;

/// Where a net stands in [`Flat::nets`].
pub(super) type Net = u32;

/// What drives a net.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Driver {
    Gate(Gate, Vec<Net>),
    Constant(bool),
    /// A flip-flop: clock, data.
    Flop(Net, Net),
}

/// One gate, constant or flip-flop with the net it drives.
#[derive(Clone, Debug)]
pub(super) struct Element {
    pub name: String,
    pub driver: Driver,
    pub output: Net,
    pub at: At,
}

/// A netlist without hierarchy.
#[derive(Debug, Default)]
pub(super) struct Flat {
    pub name: String,
    pub at: At,
    pub nets: Vec<(String, At)>,
    pub elements: Vec<Element>,
    pub inputs: Vec<Net>,
    pub outputs: Vec<(String, Net)>,
}

type Modules<'m, 't> = BTreeMap<&'t str, &'m Module<'t>>;

/// Flattens the outermost module.
pub(super) fn flatten(modules: &[Module], top: Option<&str>, problems: &mut Vec<Problem>) -> Option<Flat> {
    let mut by_name: Modules = BTreeMap::new();
    for module in modules {
        if let Some(earlier) = by_name.insert(module.name, module) {
            let text = format!("the module `{}` stands already in line {}", module.name, earlier.at.line);
            problems.push(Problem::new(Code::Twice, module.at, text, "keep one of the two"));
        }
    }
    let top = outermost(modules, &by_name, top, problems)?;
    let mut flat = Flat { name: top.name.to_owned(), at: top.at, ..Flat::default() };
    let whole = problems.is_empty();
    let mut work = Work { modules: &by_name, flat: &mut flat, problems, open: Vec::new(), whole };
    let scope = work.ports(top);
    work.module(top, "", scope);
    Some(flat)
}

fn outermost<'m, 't>(
    modules: &'m [Module<'t>],
    by_name: &Modules<'m, 't>,
    top: Option<&str>,
    problems: &mut Vec<Problem>,
) -> Option<&'m Module<'t>> {
    let start = At::START;
    if let Some(name) = top {
        if !by_name.contains_key(name) {
            problems.push(Problem::new(
                Code::Top,
                start,
                format!("there is no module `{name}`"),
                "mend its name",
            ));
        }
        return by_name.get(name).copied();
    }
    let inner: std::collections::BTreeSet<&str> = modules
        .iter()
        .flat_map(|m| &m.items)
        .filter_map(|item| if let Item::Instance(instance) = item { Some(instance.module) } else { None })
        .collect();
    let outer: Vec<&Module> = modules.iter().filter(|m| !inner.contains(m.name) && !m.behaves).collect();
    match outer.as_slice() {
        [one] => Some(one),
        [] => {
            let (at, text, mend) = match modules.iter().find(|m| !m.behaves) {
                Some(m) => (m.at, "every module stands in another: none is the outermost", "add one"),
                // A module that could not be read has been named already.
                None if !problems.is_empty() => return None,
                None => (start, "there is no module", "a netlist starts with `module NAME (ports);`"),
            };
            if let Some(m) = modules.first() {
                // What contains itself is better named than the lack of an outermost module.
                let found = problems.len();
                let mut flat = Flat::default();
                let open = Vec::new();
                let mut work = Work { modules: by_name, flat: &mut flat, problems, open, whole: false };
                let scope = work.ports(m);
                work.module(m, "", scope);
                if problems[found..].iter().any(|p| p.code == Code::Recursion) {
                    return None;
                }
            }
            problems.push(Problem::new(Code::Top, at, text, mend));
            None
        }
        several => {
            let names: Vec<String> = several.iter().take(4).map(|m| format!("`{}`", m.name)).collect();
            let text = format!("{} modules stand in no other: {}", several.len(), names.join(", "));
            problems.push(Problem::new(
                Code::Top,
                several[1].at,
                text,
                "keep each in a file of its own, or put one into the other",
            ));
            None
        }
    }
}

/// The names of one module instance: for each the bits' nets, most significant first.
struct Scope<'m, 't> {
    names: BTreeMap<&'t str, Named<'m, 't>>,
}

struct Named<'m, 't> {
    declared: Option<&'m Declared<'t>>,
    nets: Vec<Net>,
}

struct Work<'w, 'm, 't> {
    modules: &'w Modules<'m, 't>,
    flat: &'w mut Flat,
    problems: &'w mut Vec<Problem>,
    /// The modules being flattened, outermost first.
    open: Vec<&'t str>,
    /// Whether the text could be read whole; otherwise what is missing may be in what was not read.
    whole: bool,
}

impl<'m, 't> Work<'_, 'm, 't> {
    fn problem(&mut self, code: Code, at: At, text: impl Into<String>, mend: &str) {
        self.problems.push(Problem::new(code, at, text, mend));
    }

    fn net(&mut self, name: String, at: At) -> Net {
        let net = u32::try_from(self.flat.nets.len()).expect("the count of gates is limited");
        self.flat.nets.push((name, at));
        net
    }

    /// The nets of the outermost module's ports, which are the netlist's inputs and outputs.
    fn ports(&mut self, top: &'m Module<'t>) -> BTreeMap<&'t str, Vec<Net>> {
        let mut bound = BTreeMap::new();
        for &(port, at) in &top.ports {
            let Some(declared) = direction(top, port) else {
                if self.whole {
                    let text = format!("the port `{port}` is neither declared an input nor an output");
                    self.problem(Code::Unknown, at, text, "declare it");
                }
                continue;
            };
            let bits = bit_names(port, declared);
            let nets: Vec<Net> = bits.iter().map(|bit| self.net(bit.clone(), declared.at)).collect();
            if declared.kind == Kind::Input {
                self.flat.inputs.extend(&nets);
            } else {
                self.flat.outputs.extend(bits.into_iter().zip(nets.iter().copied()));
            }
            bound.insert(port, nets);
        }
        bound
    }

    /// Puts what is in `module` into the flat netlist; `bound` are the nets of its ports.
    fn module(&mut self, module: &'m Module<'t>, path: &str, bound: BTreeMap<&'t str, Vec<Net>>) {
        self.open.push(module.name);
        let mut scope = self.scope(module, path, bound);
        for (index, item) in module.items.iter().enumerate() {
            if self.flat.elements.len() > MOST {
                let text = format!("more than {MOST} gates when flattened");
                if !self.problems.iter().any(|p| p.code == Code::TooLarge) {
                    self.problem(Code::TooLarge, module.at, text, "plan its modules one by one");
                }
                break;
            }
            match item {
                Item::Primitive(primitive) => self.primitive(primitive, index, path, &mut scope),
                Item::Instance(instance) => self.instance(instance, path, &mut scope),
                Item::Assign(target, source, at) => self.assign(target, source, *at, path, &mut scope),
            }
        }
        self.open.pop();
    }

    fn scope(
        &mut self,
        module: &'m Module<'t>,
        path: &str,
        mut bound: BTreeMap<&'t str, Vec<Net>>,
    ) -> Scope<'m, 't> {
        let mut scope = Scope { names: BTreeMap::new() };
        for declared in &module.declared {
            if let Some(earlier) = scope.names.get(declared.name).and_then(|n: &Named| n.declared) {
                // `output y; wire y;` says the same net twice, which the standard allows for ports.
                let same = earlier.kind != Kind::Wire
                    && declared.kind == Kind::Wire
                    && (declared.range.is_none() || declared.range == earlier.range);
                if !same {
                    let text = format!("`{}` is declared already in line {}", declared.name, earlier.at.line);
                    self.problem(Code::Twice, declared.at, text, "keep one of the two");
                }
                continue;
            }
            let port = module.ports.iter().any(|(port, _)| *port == declared.name);
            if matches!(declared.kind, Kind::Input | Kind::Output) && !port {
                let text =
                    format!("`{}` is declared as a port but stands not in the list of ports", declared.name);
                self.problem(Code::Unknown, declared.at, text, "add it to the list behind the module's name");
            }
            // A port is declared by its direction; an earlier `wire` for it names the same net.
            let declared = if port { direction(module, declared.name).unwrap_or(declared) } else { declared };
            let nets = match bound.remove(declared.name) {
                Some(nets) => nets,
                None => bit_names(declared.name, declared)
                    .into_iter()
                    .map(|bit| self.net(format!("{path}{bit}"), declared.at))
                    .collect(),
            };
            if let Kind::Supply(high) = declared.kind {
                for &output in &nets {
                    self.element(
                        format!("{path}{}", declared.name),
                        Driver::Constant(high),
                        output,
                        declared.at,
                    );
                }
            }
            scope.names.insert(declared.name, Named { declared: Some(declared), nets });
        }
        scope
    }

    fn element(&mut self, name: String, driver: Driver, output: Net, at: At) {
        self.flat.elements.push(Element { name, driver, output, at });
    }

    /// The nets of a wiring, most significant first. A scalar that nothing declares is declared by
    /// being used (IEEE 1364 §4.5).
    fn nets(&mut self, wiring: &Wiring<'t>, path: &str, scope: &mut Scope<'m, 't>) -> Option<Vec<Net>> {
        match wiring {
            Wiring::Whole(name, at) => {
                if let Some(named) = scope.names.get(name) {
                    return Some(named.nets.clone());
                }
                let nets = vec![self.net(format!("{path}{name}"), *at)];
                scope.names.insert(name, Named { declared: None, nets: nets.clone() });
                Some(nets)
            }
            Wiring::Part(name, part, at) => {
                let range = scope.names.get(name).and_then(|n| n.declared).and_then(|d| d.range);
                let Some(range) = range else {
                    self.problem(
                        Code::Unknown,
                        *at,
                        format!("`{name}` is no declared vector"),
                        "declare it, as in `wire [3:0] name;`",
                    );
                    return None;
                };
                let mut nets = Vec::new();
                for bit in part.bits() {
                    if !range.contains(bit) {
                        let text = format!(
                            "`{name}` has no bit {bit}: it is declared [{}:{}]",
                            range.left, range.right
                        );
                        self.problem(Code::Mismatch, *at, text, "name a bit in its range, or widen it");
                        return None;
                    }
                    let place = range.left.abs_diff(bit) as usize;
                    nets.push(scope.names.get(name)?.nets.get(place).copied()?);
                }
                Some(nets)
            }
            Wiring::Constant(bits, at) => Some(
                bits.iter()
                    .map(|&high| {
                        let name = format!("{path}constant:{}:{}", at.line, at.column);
                        let net = self.net(name.clone(), *at);
                        self.element(name, Driver::Constant(high), net, *at);
                        net
                    })
                    .collect(),
            ),
            Wiring::Joined(parts, _) => {
                let mut nets = Vec::new();
                for part in parts {
                    nets.extend(self.nets(part, path, scope)?);
                }
                Some(nets)
            }
        }
    }

    fn one(&mut self, wiring: &Wiring<'t>, path: &str, scope: &mut Scope<'m, 't>) -> Option<Net> {
        let nets = self.nets(wiring, path, scope)?;
        if nets.len() != 1 {
            let text = format!("a gate's terminal is one bit wide, this connection {}", nets.len());
            self.problem(Code::Mismatch, wiring.at(), text, "connect one bit, as in `name[0]`");
            return None;
        }
        nets.first().copied()
    }

    fn primitive(&mut self, primitive: &Primitive<'t>, index: usize, path: &str, scope: &mut Scope<'m, 't>) {
        let name = match primitive.name {
            Some(name) => format!("{path}{name}"),
            None => format!("{path}gate{index}"),
        };
        let inputs: Option<Vec<Net>> = primitive.inputs.iter().map(|w| self.one(w, path, scope)).collect();
        for (k, output) in primitive.outputs.iter().enumerate() {
            let name = if k == 0 { name.clone() } else { format!("{name}.{}", k + 1) };
            if let Wiring::Constant(_, at) = output {
                self.problem(
                    Code::Mismatch,
                    *at,
                    format!("the gate `{name}` drives a constant"),
                    "connect its output to a net",
                );
            } else if let (Some(output), Some(inputs)) = (self.one(output, path, scope), &inputs) {
                self.element(name, Driver::Gate(primitive.gate, inputs.clone()), output, primitive.at);
            }
        }
    }

    fn assign(
        &mut self,
        target: &Wiring<'t>,
        source: &Wiring<'t>,
        at: At,
        path: &str,
        scope: &mut Scope<'m, 't>,
    ) {
        let (Some(to), Some(from)) = (self.nets(target, path, scope), self.nets(source, path, scope)) else {
            return;
        };
        if to.len() != from.len() {
            let text = format!("`assign` of {} bits to {}", from.len(), to.len());
            self.problem(Code::Mismatch, at, text, "make both sides equally wide");
            return;
        }
        for (output, input) in to.into_iter().zip(from) {
            let name = format!("assign {}", self.flat.nets[output as usize].0);
            self.element(name, Driver::Gate(Gate::Buf, vec![input]), output, at);
        }
    }

    fn instance(&mut self, instance: &Instance<'t>, path: &str, scope: &mut Scope<'m, 't>) {
        let name = format!("{path}{}", instance.name);
        let module = self.modules.get(instance.module).copied();
        let flop = instance.module.eq_ignore_ascii_case("dff") && module.is_none_or(|m| m.behaves);
        if flop {
            return self.flop(instance, module, name, path, scope);
        }
        let Some(module) = module else {
            let text = format!("`{}` is neither a gate nor a module of this file", instance.module);
            let known = GATES.iter().copied().chain(["dff"]).chain(self.modules.keys().copied());
            let mend = match nearest(instance.module, known) {
                Some(meant) => format!("did you mean `{meant}`?"),
                None => "add the module, or mend its name".to_owned(),
            };
            return self.problem(Code::Unknown, instance.module_at, text, &mend);
        };
        if self.open.contains(&module.name) {
            let text =
                format!("`{}` contains itself: {} → {}", module.name, self.open.join(" → "), module.name);
            return self.problem(
                Code::Recursion,
                instance.at,
                text,
                "take this instance out, or name another module",
            );
        }
        if self.open.len() >= DEEPEST {
            let text = format!("instances nested deeper than {DEEPEST}");
            return self.problem(Code::TooLarge, instance.at, text, "nest fewer modules");
        }
        let Some(pairs) = self.pairs(instance, module) else { return };
        let mut bound = BTreeMap::new();
        for (port, wiring) in pairs {
            let Some(declared) = direction(module, port) else {
                if self.whole {
                    let text = format!("the port `{port}` of `{}` has no direction", module.name);
                    self.problem(Code::Unknown, instance.at, text, "declare it in the module");
                }
                continue;
            };
            let width = declared.range.map_or(1, |range| range.bits().len());
            let Some(nets) = self.nets(wiring, path, scope) else { continue };
            if nets.len() != width {
                let text =
                    format!("`{}.{port}` is {width} bits wide, its connection {}", instance.name, nets.len());
                self.problem(Code::Mismatch, wiring.at(), text, "connect as many bits as the port has");
                continue;
            }
            if declared.kind == Kind::Output && matches!(wiring, Wiring::Constant(..)) {
                let text = format!("the output `{}.{port}` drives a constant", instance.name);
                self.problem(Code::Mismatch, wiring.at(), text, "connect it to a net");
                continue;
            }
            bound.insert(port, nets);
        }
        self.module(module, &format!("{name}."), bound);
    }

    fn flop(
        &mut self,
        instance: &Instance<'t>,
        module: Option<&'m Module<'t>>,
        name: String,
        path: &str,
        scope: &mut Scope<'m, 't>,
    ) {
        let mut pins: [Option<Net>; 3] = [None; 3];
        let named: Vec<(&str, &Wiring<'t>)> = match (&instance.ports, module) {
            (Ports::ByName(named), _) => {
                named.iter().filter_map(|(port, wiring, _)| Some((*port, wiring.as_ref()?))).collect()
            }
            (Ports::InOrder(_), Some(module)) => self.pairs(instance, module).unwrap_or_default(),
            (Ports::InOrder(_), None) => {
                let text = format!("the pins of the flip-flop `{}` have no names", instance.name);
                return self.problem(Code::Mismatch, instance.at, text, "write .CK(…), .D(…), .Q(…)");
            }
        };
        for (port, wiring) in named {
            let Some(pin) = ["CK", "D", "Q"].iter().position(|pin| pin.eq_ignore_ascii_case(port)) else {
                let text = format!("a `dff` has no pin `{port}`");
                self.problem(Code::Mismatch, instance.at, text, "its pins are CK, D and Q");
                continue;
            };
            pins[pin] = self.one(wiring, path, scope);
        }
        match pins {
            [Some(clock), Some(data), Some(output)] => {
                self.element(name, Driver::Flop(clock, data), output, instance.at);
            }
            _ => {
                let text = format!("the flip-flop `{}` needs its three pins CK, D and Q", instance.name);
                self.problem(Code::Mismatch, instance.at, text, "write .CK(…), .D(…), .Q(…)");
            }
        }
    }

    /// The ports of an instance with what they are connected to.
    fn pairs<'i>(
        &mut self,
        instance: &'i Instance<'t>,
        module: &'m Module<'t>,
    ) -> Option<Vec<(&'t str, &'i Wiring<'t>)>> {
        match &instance.ports {
            Ports::InOrder(wirings) => {
                if wirings.len() > module.ports.len() {
                    let text = format!(
                        "`{}` has {} ports, the instance `{}` connects {}",
                        module.name,
                        module.ports.len(),
                        instance.name,
                        wirings.len()
                    );
                    self.problem(Code::Mismatch, instance.at, text, "connect each port once, in their order");
                    return None;
                }
                let ports = module.ports.iter().map(|(port, _)| *port);
                Some(ports.zip(wirings).filter_map(|(port, w)| Some((port, w.as_ref()?))).collect())
            }
            Ports::ByName(named) => {
                let mut pairs: Vec<(&str, &Wiring)> = Vec::new();
                for (port, wiring, at) in named {
                    if !module.ports.iter().any(|(p, _)| p == port) {
                        let text = format!("`{}` has no port `{port}`", module.name);
                        let ports: Vec<&str> = module.ports.iter().map(|(port, _)| *port).collect();
                        let mend = format!("its ports are {}", ports.join(", "));
                        self.problem(Code::Mismatch, *at, text, &mend);
                    } else if pairs.iter().any(|(p, _)| p == port) {
                        let text = format!("the port `{port}` of `{}` is connected twice", instance.name);
                        self.problem(Code::Twice, *at, text, "keep one of the two");
                    } else if let Some(wiring) = wiring {
                        pairs.push((port, wiring));
                    }
                }
                Some(pairs)
            }
        }
    }
}

/// The declaration that makes `port` an input or an output.
fn direction<'m, 't>(module: &'m Module<'t>, port: &str) -> Option<&'m Declared<'t>> {
    module.declared.iter().find(|d| d.name == port && matches!(d.kind, Kind::Input | Kind::Output))
}

fn bit_names(name: &str, declared: &Declared) -> Vec<String> {
    match declared.range {
        None => vec![name.to_owned()],
        Some(range) => range.bits().into_iter().map(|bit| format!("{name}[{bit}]")).collect(),
    }
}
