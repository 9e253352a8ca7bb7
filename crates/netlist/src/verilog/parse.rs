//! Tokens into modules. After a problem reading goes on behind the next `;`, so that one pass
//! reports all of them.

use super::keywords::KEYWORDS;
use super::problem::{Code, Problem};
use super::scan::{Token, Word};
use super::syntax::{At, Declared, Instance, Item, Kind, Module, Ports, Primitive, Range, Wiring};
use dryjoint_logic::Gate;

/// Wider vectors than this are a slip, not a circuit.
const WIDEST: u64 = 1 << 16;
/// Deeper concatenations than this are a slip, not a circuit.
const DEEPEST: u32 = 16;

/// Parsing one construct either works or has put its problem on the list.
struct Bad;
type Maybe<T> = Result<T, Bad>;

/// All modules of the text.
pub(super) fn parse<'t>(tokens: &[Token<'t>], problems: &mut Vec<Problem>) -> Vec<Module<'t>> {
    let mut parser = Parser { tokens, place: 0, problems };
    let mut modules = Vec::new();
    while let Some(token) = parser.peek() {
        if parser.keyword("module") || parser.keyword("macromodule") {
            if let Ok(module) = parser.module(token.at) {
                modules.push(module);
            }
        } else {
            let found = shown(Some(token));
            let _: Bad =
                parser.bad(Code::Malformed, token.at, format!("expected `module`, found {found}"), STARTS);
            while parser.peek().is_some() && !parser.at_word("module") {
                parser.place += 1;
            }
        }
    }
    modules
}

const STARTS: &str = "a netlist starts with `module NAME (ports);`";
const FIXED: &str = "write the module with its values in place";
const ONE_WAY: &str = "declare it `input` or `output`";

struct Parser<'p, 't> {
    tokens: &'p [Token<'t>],
    place: usize,
    problems: &'p mut Vec<Problem>,
}

impl<'t> Parser<'_, 't> {
    fn peek(&self) -> Option<Token<'t>> {
        self.tokens.get(self.place).copied()
    }

    fn at(&self) -> At {
        self.peek().or(self.tokens.last().copied()).map_or(At::START, |t| t.at)
    }

    fn at_word(&self, word: &str) -> bool {
        self.peek().is_some_and(|t| t.word == Word::Name(word))
    }

    fn at_mark(&self, mark: char) -> bool {
        self.peek().is_some_and(|t| t.word == Word::Mark(mark))
    }

    fn keyword(&mut self, word: &str) -> bool {
        let there = self.at_word(word);
        self.place += usize::from(there);
        there
    }

    fn mark(&mut self, mark: char) -> bool {
        let there = self.at_mark(mark);
        self.place += usize::from(there);
        there
    }

    fn bad(&mut self, code: Code, at: At, text: impl Into<String>, mend: &str) -> Bad {
        self.problems.push(Problem::new(code, at, text, mend));
        Bad
    }

    fn expected<T>(&mut self, what: &str) -> Maybe<T> {
        let found = shown(self.peek());
        let at = self.at();
        let mend = format!("write {what} before {found}");
        Err(self.bad(Code::Malformed, at, format!("expected {what}, found {found}"), &mend))
    }

    fn expect(&mut self, mark: char) -> Maybe<()> {
        if self.mark(mark) { Ok(()) } else { self.expected(&format!("`{mark}`")) }
    }

    fn name(&mut self, what: &str) -> Maybe<&'t str> {
        match self.peek().map(|t| t.word) {
            Some(Word::Name(name)) if !KEYWORDS.contains(&name) => {
                self.place += 1;
                Ok(name)
            }
            Some(Word::Escaped(name)) => {
                self.place += 1;
                Ok(name)
            }
            _ => self.expected(what),
        }
    }

    /// Skips past the next `;`, or to what can only be the start of something else.
    fn resync(&mut self) {
        while self.peek().is_some() && !self.at_word("endmodule") && !self.at_word("module") {
            if self.mark(';') {
                return;
            }
            self.place += 1;
        }
    }

    fn module(&mut self, at: At) -> Maybe<Module<'t>> {
        let name = match self.name("the module's name") {
            Ok(name) => name,
            Err(bad) => {
                self.skip_module();
                return Err(bad);
            }
        };
        let mut module =
            Module { name, at, ports: Vec::new(), declared: Vec::new(), items: Vec::new(), behaves: false };
        if self.header(&mut module).is_err() {
            self.resync();
        }
        loop {
            let at = self.at();
            if self.keyword("endmodule") {
                return Ok(module);
            }
            if self.peek().is_none() || self.at_word("module") {
                let text = format!("the module `{name}` that starts here has no `endmodule`");
                return Err(self.bad(Code::Malformed, module.at, text, "end it with `endmodule`"));
            }
            if self.keyword("always") || self.keyword("initial") {
                if name.eq_ignore_ascii_case("dff") {
                    module.behaves = true;
                } else {
                    let text = format!("`always` and `initial` in `{name}` describe behaviour, not gates");
                    let mend = "write gates, and flip-flops as instances of `dff` with pins CK, D and Q";
                    let _: Bad = self.bad(Code::Unsupported, at, text, mend);
                }
                self.skip_module();
                return Ok(module);
            }
            if self.item(&mut module).is_err() {
                self.resync();
            }
        }
    }

    fn skip_module(&mut self) {
        while self.peek().is_some() && !self.at_word("module") {
            if self.keyword("endmodule") {
                return;
            }
            self.place += 1;
        }
    }

    /// `#(...)` and the list of ports, with or without their directions in it.
    fn header(&mut self, module: &mut Module<'t>) -> Maybe<()> {
        if self.at_mark('#') {
            let at = self.at();
            return Err(self.bad(Code::Unsupported, at, "module parameters are not read", FIXED));
        }
        if self.mark('(') && !self.mark(')') {
            let mut direction: Option<(Kind, Option<Range>)> = None;
            loop {
                let at = self.at();
                if let Some(kind) = self.direction()? {
                    self.net_type();
                    direction = Some((kind, self.range()?));
                }
                let name = self.name("a port's name")?;
                module.ports.push((name, at));
                if let Some((kind, range)) = direction {
                    module.declared.push(Declared { name, kind, range, at });
                }
                if self.mark(')') {
                    break;
                }
                self.expect(',')?;
            }
        }
        self.expect(';')
    }

    fn direction(&mut self) -> Maybe<Option<Kind>> {
        let at = self.at();
        if self.keyword("input") {
            Ok(Some(Kind::Input))
        } else if self.keyword("output") {
            Ok(Some(Kind::Output))
        } else if self.keyword("inout") {
            Err(self.bad(Code::Unsupported, at, "an `inout` port: gates drive one way only", ONE_WAY))
        } else {
            Ok(None)
        }
    }

    fn net_type(&mut self) {
        let _ = self.keyword("wire") || self.keyword("tri") || self.keyword("reg");
        let _ = self.keyword("signed");
    }

    fn range(&mut self) -> Maybe<Option<Range>> {
        if !self.mark('[') {
            return Ok(None);
        }
        let at = self.at();
        let left = self.integer()?;
        let right = if self.mark(':') { self.integer()? } else { left };
        self.expect(']')?;
        if left.abs_diff(right) >= WIDEST {
            let text = format!("the range [{left}:{right}] is wider than {WIDEST} bits");
            return Err(self.bad(Code::TooLarge, at, text, "split it, or mend its numbers"));
        }
        Ok(Some(Range { left, right }))
    }

    fn integer(&mut self) -> Maybe<i64> {
        let negative = self.mark('-');
        if let Some(Token { word: Word::Number(text), .. }) = self.peek()
            && let Ok(value) = text.replace('_', "").parse::<i64>()
        {
            self.place += 1;
            return Ok(if negative { -value } else { value });
        }
        self.expected("a whole number")
    }

    fn item(&mut self, module: &mut Module<'t>) -> Maybe<()> {
        let at = self.at();
        if let Some(kind) = self.direction()? {
            self.net_type();
            return self.declaration(module, kind);
        }
        let Some(Token { word, .. }) = self.peek() else { return self.expected("an item of the module") };
        let Word::Name(word) = word else {
            return if let Word::Escaped(_) = word {
                self.instances(module)
            } else {
                self.expected("a gate, an instance or a declaration")
            };
        };
        if let Some(gate) = gate(word) {
            self.place += 1;
            return self.primitives(module, gate);
        }
        match word {
            "wire" | "tri" | "reg" => {
                self.net_type();
                self.declaration(module, Kind::Wire)
            }
            "supply0" | "supply1" => {
                self.place += 1;
                self.declaration(module, Kind::Supply(word == "supply1"))
            }
            "assign" => {
                self.place += 1;
                self.assign(module)
            }
            _ if KEYWORDS.contains(&word) => {
                let text = format!("`{word}` is not part of a netlist of gates");
                let mend = "only and, nand, or, nor, xor, xnor, buf, not, assign and instances are read";
                let bad = self.bad(Code::Unsupported, at, text, mend);
                if let Some(end) = closing(word) {
                    while self.peek().is_some() && !self.at_word("endmodule") && !self.keyword(end) {
                        self.place += 1;
                    }
                    return Ok(());
                }
                Err(bad)
            }
            _ => self.instances(module),
        }
    }

    fn declaration(&mut self, module: &mut Module<'t>, kind: Kind) -> Maybe<()> {
        let range = self.range()?;
        self.delay()?;
        loop {
            let at = self.at();
            let name = self.name("a net's name")?;
            module.declared.push(Declared { name, kind, range, at });
            if self.at_mark('=') {
                self.place += 1;
                let source = self.wiring(0)?;
                module.items.push(Item::Assign(Wiring::Whole(name, at), source, at));
            }
            if self.mark(';') {
                return Ok(());
            }
            self.expect(',')?;
        }
    }

    /// `#…`: a delay, which changes nothing about what a gate computes.
    fn delay(&mut self) -> Maybe<()> {
        if !self.mark('#') {
            return Ok(());
        }
        if self.mark('(') {
            while !self.mark(')') {
                if self.peek().is_none() || self.at_mark(';') {
                    return self.expected("`)` after the delay");
                }
                self.place += 1;
            }
            return Ok(());
        }
        match self.peek().map(|t| t.word) {
            Some(Word::Number(_) | Word::Name(_)) => {
                self.place += 1;
                if self.mark('.') {
                    self.place += 1;
                }
                Ok(())
            }
            _ => self.expected("a delay"),
        }
    }

    /// `(strong0, strong1)`, which changes nothing as long as one gate drives a net.
    fn strength(&mut self) {
        let ahead = |k: usize| self.tokens.get(self.place + k).map(|t| t.word);
        if ahead(0) == Some(Word::Mark('('))
            && let Some(Word::Name(word)) = ahead(1)
            && ["strong0", "strong1", "pull0", "pull1", "weak0", "weak1", "supply0", "supply1"]
                .contains(&word)
        {
            while self.peek().is_some() && !self.mark(')') && !self.at_mark(';') {
                self.place += 1;
            }
        }
    }

    fn assign(&mut self, module: &mut Module<'t>) -> Maybe<()> {
        self.strength();
        self.delay()?;
        loop {
            let at = self.at();
            let target = self.wiring(0)?;
            self.expect('=')?;
            let source = self.wiring(0)?;
            module.items.push(Item::Assign(target, source, at));
            if self.mark(';') {
                return Ok(());
            }
            if !self.at_mark(',') {
                let found = shown(self.peek());
                let text = format!("`assign` with the operator {found}: only a plain connection is read");
                let at = self.at();
                return Err(self.bad(Code::Unsupported, at, text, "write it as gates"));
            }
            self.place += 1;
        }
    }

    fn primitives(&mut self, module: &mut Module<'t>, gate: Gate) -> Maybe<()> {
        self.strength();
        self.delay()?;
        loop {
            let at = self.at();
            let name = if self.at_mark('(') { None } else { Some(self.name("the gate's name or `(`")?) };
            if self.at_mark('[') {
                let at = self.at();
                return Err(self.bad(Code::Unsupported, at, "an array of gates", "write the gates out"));
            }
            self.expect('(')?;
            let mut terminals = vec![self.wiring(0)?];
            while !self.mark(')') {
                self.expect(',')?;
                terminals.push(self.wiring(0)?);
            }
            if terminals.len() < 2 {
                let text = format!("the gate `{}` has no input", name.unwrap_or("without a name"));
                let _: Bad = self.bad(Code::Malformed, at, text, "a gate is written (output, input, …)");
            } else {
                let outputs = if matches!(gate, Gate::Buf | Gate::Not) { terminals.len() - 1 } else { 1 };
                let inputs = terminals.split_off(outputs);
                module.items.push(Item::Primitive(Primitive { gate, name, outputs: terminals, inputs, at }));
            }
            if self.mark(';') {
                return Ok(());
            }
            self.expect(',')?;
        }
    }

    fn instances(&mut self, module: &mut Module<'t>) -> Maybe<()> {
        let module_at = self.at();
        let of = self.name("a module's name")?;
        if self.at_mark('#') {
            let at = self.at();
            return Err(self.bad(
                Code::Unsupported,
                at,
                format!("parameters for `{of}` are not read"),
                FIXED,
            ));
        }
        loop {
            let at = self.at();
            let name = self.name("the instance's name")?;
            if self.at_mark('[') {
                let at = self.at();
                return Err(self.bad(Code::Unsupported, at, "an array of instances", "write them out"));
            }
            self.expect('(')?;
            let ports = self.connections()?;
            module.items.push(Item::Instance(Instance { module: of, module_at, name, ports, at }));
            if self.mark(';') {
                return Ok(());
            }
            self.expect(',')?;
        }
    }

    fn connections(&mut self) -> Maybe<Ports<'t>> {
        if self.mark(')') {
            return Ok(Ports::InOrder(Vec::new()));
        }
        if !self.at_mark('.') {
            let mut wirings = Vec::new();
            loop {
                let open = self.at_mark(',') || self.at_mark(')');
                wirings.push(if open { None } else { Some(self.wiring(0)?) });
                if self.mark(')') {
                    return Ok(Ports::InOrder(wirings));
                }
                self.expect(',')?;
            }
        }
        let mut named = Vec::new();
        loop {
            let at = self.at();
            self.expect('.')?;
            let port = self.name("a port's name")?;
            self.expect('(')?;
            let wiring = if self.at_mark(')') { None } else { Some(self.wiring(0)?) };
            self.expect(')')?;
            named.push((port, wiring, at));
            if self.mark(')') {
                return Ok(Ports::ByName(named));
            }
            self.expect(',')?;
        }
    }

    fn wiring(&mut self, depth: u32) -> Maybe<Wiring<'t>> {
        let at = self.at();
        if self.mark('{') {
            if depth >= DEEPEST {
                return Err(self.bad(
                    Code::TooLarge,
                    at,
                    format!("braces nested deeper than {DEEPEST}"),
                    "nest fewer",
                ));
            }
            let mut joined = vec![self.wiring(depth + 1)?];
            while !self.mark('}') {
                self.expect(',')?;
                joined.push(self.wiring(depth + 1)?);
            }
            return Ok(Wiring::Joined(joined, at));
        }
        if let Some(Token { word: Word::Number(text), .. }) = self.peek() {
            self.place += 1;
            return match bits(text) {
                Some(bits) => Ok(Wiring::Constant(bits, at)),
                None => {
                    let text = format!("the number `{text}`: only binary constants such as 1'b0 are read");
                    Err(self.bad(Code::Unsupported, at, text, "write 1'b0 or 1'b1, bit for bit"))
                }
            };
        }
        if self.at_mark('~') || self.at_mark('!') || self.at_mark('(') {
            let found = shown(self.peek());
            let text = format!("the operator {found} in a connection: only nets and constants are read");
            return Err(self.bad(Code::Unsupported, at, text, "write it as gates"));
        }
        let name = self.name("a net")?;
        Ok(match self.range()? {
            Some(range) => Wiring::Part(name, range, at),
            None => Wiring::Whole(name, at),
        })
    }
}

/// The bits of a sized binary constant, most significant first (IEEE 1364 §3.5.1).
fn bits(text: &str) -> Option<Vec<bool>> {
    let (size, digits) = text.split_once('\'')?;
    let digits = digits.strip_prefix(['b', 'B'])?.replace('_', "");
    let size: usize = if size.is_empty() { digits.len() } else { size.parse().ok()? };
    if digits.is_empty() || size == 0 || size as u64 > WIDEST {
        return None;
    }
    let value: Vec<bool> = digits
        .chars()
        .map(|c| match c {
            '0' => Some(false),
            '1' => Some(true),
            _ => None,
        })
        .collect::<Option<_>>()?;
    let kept = value.len().min(size);
    let mut bits = vec![false; size - kept];
    bits.extend_from_slice(&value[value.len() - kept..]);
    Some(bits)
}

/// Every word that [`gate`] knows.
pub(super) const GATES: [&str; 8] = ["and", "nand", "or", "nor", "xor", "xnor", "buf", "not"];

fn gate(word: &str) -> Option<Gate> {
    Some(match word {
        "and" => Gate::And,
        "nand" => Gate::Nand,
        "or" => Gate::Or,
        "nor" => Gate::Nor,
        "xor" => Gate::Xor,
        "xnor" => Gate::Xnor,
        "buf" => Gate::Buf,
        "not" => Gate::Not,
        _ => return None,
    })
}

/// The keyword that closes a block opened by `word`.
fn closing(word: &str) -> Option<&'static str> {
    Some(match word {
        "function" => "endfunction",
        "task" => "endtask",
        "generate" => "endgenerate",
        "specify" => "endspecify",
        "primitive" => "endprimitive",
        "table" => "endtable",
        _ => return None,
    })
}

fn shown(token: Option<Token>) -> String {
    match token.map(|t| t.word) {
        None => "the end of the file".to_owned(),
        Some(Word::Name(text) | Word::Escaped(text) | Word::Number(text)) => {
            format!("`{}`", text.chars().take(40).collect::<String>())
        }
        Some(Word::Text) => "a string".to_owned(),
        Some(Word::Mark(mark)) => format!("`{}`", mark.escape_debug()),
    }
}
