//! What is read, and what is refused with which words.

use super::{Code, read, read_file};
use crate::{Look, draw};
use dryjoint_logic::{Function, Gate, Role};
use proptest::prelude::*;

/// The text must be refused, and the first problem must be of this kind, in this line, and name this.
#[track_caller]
fn refused(text: &str, code: Code, line: u32, names: &str) {
    let (gates, problems) = read(text, None);
    assert!(gates.is_none());
    let first = problems.first().expect("a problem");
    assert_eq!((first.code, first.line), (code, line), "{problems:?}");
    assert!(problems.iter().any(|p| p.text.contains(names)), "{problems:?}");
}

#[test]
fn vectors_hierarchy_and_implicit_nets_are_flattened() {
    let text = "
        module half(input [1:0] a, output s, c); xor x(s, a[0], a[1]); and n(c, a[1], a[0]); endmodule
        module top(x, y, q); input x; input [2:0] y; output [0:1] q; wire w;
          half h1({y[2], x}, w, k);           // k is declared by its use (IEEE 1364 4.5)
          half h2(.a({w, y[1]}), .s(q[0]), .c());
          nor #(1,2) (q[1], k, y[0], 1'b0), spare(t, y);
        endmodule";
    let (_, problems) = read(text, None);
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert_eq!(problems[0].code, Code::Mismatch); // y is three bits wide
    let (gates, problems) = read(&text.replace(", spare(t, y)", ""), None);
    assert!(problems.is_empty(), "{problems:?}");
    let gates = gates.expect("read");
    let names: Vec<&str> = gates.logic.inputs().map(|s| gates.logic.signals[s].name.as_str()).collect();
    assert_eq!((gates.name.as_str(), names), ("top", vec!["x", "y[2]", "y[1]", "y[0]"]));
    let seen: Vec<&str> = gates.logic.seen().map(|s| gates.logic.signals[s].name.as_str()).collect();
    assert_eq!(seen, ["q[0]", "q[1]"]);
    let stages: Vec<&str> = gates.logic.stages.rows().iter().map(|s| s.name.as_str()).collect();
    assert_eq!(stages.len(), 8);
    assert!(stages.contains(&"h1.x") && stages.contains(&"h2.n"), "{stages:?}");
}

#[test]
fn flip_flops_share_a_clock_that_is_no_signal() {
    for text in [
        "module t(CK, d, q); input CK, d; output q; dff f(.CK(CK), .D(d), .Q(q)); endmodule",
        "module dff(CK, Q, D); input CK, D; output Q; reg Q; always @(posedge CK) Q <= D; endmodule
         module t(CK, d, q); input CK, d; output q; dff f(CK, q, d); endmodule",
    ] {
        let (gates, problems) = read(text, None);
        let gates = gates.unwrap_or_else(|| panic!("{problems:?}"));
        assert_eq!(gates.clock.as_deref(), Some("CK"));
        assert_eq!(gates.logic.inputs().count(), 1);
        let roles: Vec<Role> = gates.logic.signals.rows().iter().map(|s| s.role).collect();
        assert_eq!(roles, [Role::Input, Role::Inside, Role::Seen]);
        let functions: Vec<&Function> = gates.logic.stages.rows().iter().map(|s| &s.function).collect();
        assert_eq!(functions, [&Function::Flop, &Function::Gate(Gate::Buf)]);
    }
}

#[test]
fn constants_and_supplies_drive() {
    let text =
        "module t(a, y, z); input a; output y, z; supply1 up; and g(y, a, up); assign z = 1'b0; endmodule";
    let (gates, problems) = read(text, None);
    let gates = gates.unwrap_or_else(|| panic!("{problems:?}"));
    let constants = gates.logic.stages.rows().iter().filter(|s| matches!(s.function, Function::Found(_)));
    assert_eq!(constants.count(), 2);
}

#[test]
fn what_behaves_is_refused_by_name() {
    refused("module t(a);\n input a;\n always @(a) x = a;\nendmodule", Code::Unsupported, 3, "always");
    refused(
        "module t(a, y);\n input a; output y;\n assign y = a & b;\nendmodule",
        Code::Unsupported,
        3,
        "`&`",
    );
    refused(
        "module t(a, y);\n input a; output y;\n bufif1 b(y, a, a);\nendmodule",
        Code::Unsupported,
        3,
        "bufif1",
    );
    refused("module t(a);\n inout a;\nendmodule", Code::Unsupported, 2, "inout");
    refused("`ifdef X\nmodule t; endmodule", Code::Unsupported, 1, "`ifdef");
    refused("module t(y); output y;\n buf b(y, 1'bx);\nendmodule", Code::Unsupported, 2, "1'bx");
    refused(
        "module t(a, y); input a; output y;\n and g[3:0](y, a, a);\nendmodule",
        Code::Unsupported,
        2,
        "array",
    );
}

#[test]
fn malformed_text_is_refused_and_reading_goes_on() {
    refused("modul t; endmodule", Code::Malformed, 1, "`modul`");
    refused("module t(a, y); input a; output y;\n and g(y a);\nendmodule", Code::Malformed, 2, "found `a`");
    refused("module t(a);\n input a;\n", Code::Malformed, 1, "endmodule");
    refused("module t; /* open", Code::Malformed, 1, "endmodule");
    refused("", Code::Top, 1, "no module");
    let text = "module t(a, y); input a; output y;\n and g(y a);\n nand (, a);\n foo f(y);\nendmodule";
    let lines: Vec<u32> = read(text, None).1.iter().map(|p| p.line).collect();
    assert_eq!(lines, [2, 3, 4], "each problem once, and no word about what the unread lines drive");
}

#[test]
fn nets_without_a_driver_or_with_two_are_named() {
    refused("module t(a, y); input a; output y;\n and g(y, a,\n b);\nendmodule", Code::Undriven, 3, "`b`");
    refused(
        "module t(a, y, z);\n input a; output y, z;\n buf (y, a);\nendmodule",
        Code::Undriven,
        2,
        "output `z`",
    );
    let two = "module t(a, y); input a; output y;\n not g1(y, a);\n not g2(y, a);\nendmodule";
    refused(two, Code::SeveralDrivers, 3, "`g1` in line 2");
    refused(
        "module t(a, y); input a; output y;\n not (a, y);\n not (y, a);\nendmodule",
        Code::SeveralDrivers,
        2,
        "bench",
    );
    let child = "module c(o); output o; supply0 o2; buf(o, o2); endmodule
module t(a, y); input a; output y; c c1(.o(a)); buf(y, a); endmodule";
    refused(child, Code::SeveralDrivers, 1, "`a`");
}

#[test]
fn loops_are_named_with_their_gates() {
    let text =
        "module t(a, y); input a; output y;\n nand g1(y, a, n);\n not g2(m, y);\n not g3(n, m);\nendmodule";
    refused(text, Code::Loop, 2, "3 gates");
    refused(text, Code::Loop, 2, "g1 → g2 → g3");
    let through_a_flop = "module t(CK, a, y); input CK, a; output y; nand g1(y, a, n); dff f(.CK(CK), .D(y), .Q(n)); endmodule";
    assert!(read(through_a_flop, None).0.is_some());
}

#[test]
fn modules_that_contain_themselves_are_named() {
    let text = "module a(x); input x; b i(x); endmodule\nmodule b(x); input x; a i(x); endmodule";
    refused(text, Code::Recursion, 2, "a → b → a");
    let under = "module t(x); input x; r i(x); endmodule\nmodule r(x); input x;\n r i(x); endmodule";
    refused(under, Code::Recursion, 3, "`r` contains itself");
}

#[test]
fn clocks_and_ports_must_fit() {
    let two = "module t(c, d, a, y, z); input c, d, a; output y, z;
 dff f(.CK(c), .D(a), .Q(y));\n dff g(.CK(d), .D(a), .Q(z));\nendmodule";
    refused(two, Code::Clock, 3, "`g`");
    let data = "module t(c, y, z); input c; output y, z; dff f(.CK(c), .D(c), .Q(y)); buf(z, c); endmodule";
    refused(data, Code::Clock, 1, "read as data");
    refused(
        "module t(c, y); input c; output y;\n dff f(.CK(c), .Q(y));\nendmodule",
        Code::Mismatch,
        2,
        "three pins",
    );
    refused("module t(a, y); input a; output y;\n dff f(a, y, a);\nendmodule", Code::Mismatch, 2, "no names");
    let port = "module c(i); input i; endmodule\nmodule t(a); input a;\n c x(.j(a)); endmodule";
    refused(port, Code::Mismatch, 3, "no port `j`");
    refused("module a; endmodule\nmodule b; endmodule", Code::Top, 2, "2 modules");
    refused("module t(a, a2);\n input a;\n input [99999999:0] a2;\nendmodule", Code::TooLarge, 3, "wider");
}

#[test]
fn problems_are_drawn_at_their_words() {
    let text = "module t(a, y);\n input a; output y;\n nand g1(y, a, m);\nendmodule\n";
    let reading = read_file("t.v", text, None);
    let drawn = draw(&reading.sources, &reading.notices, Look::default());
    assert!(drawn.contains("t.v:3:16") && drawn.contains("nothing drives the net `m`"), "{drawn}");
    assert_eq!(reading.sources.words(reading.notices[0].place.expect("a place")), "m");
}

#[test]
fn a_misspelt_gate_or_module_is_drawn_at_its_own_word_with_what_was_meant() {
    for (word, meant) in [("nnad", "nand"), ("hlaf", "half"), ("dfff", "dff")] {
        let text = format!(
            "module half(input a, b, output y); and x(y, a, b); endmodule\n\
             module t(a, b, y);\n input a, b; output y;\n {word} g(y, a, b);\n half h(y, a, b);\nendmodule\n"
        );
        let reading = read_file("t.v", &text, None);
        let notice = reading.notices.iter().find(|one| one.text.contains("neither")).expect(word);
        assert_eq!(reading.sources.words(notice.place.expect("a place")), word);
        assert_eq!(notice.mend, format!("did you mean `{meant}`?"));
    }
    let far = "module t(a, y); input a; output y;\n adder g(y, a);\nendmodule";
    assert_eq!(read(far, None).1[0].mend, "add the module, or mend its name");
}

proptest! {
    /// No text makes the reader panic.
    #[test]
    fn nothing_panics(text in "\\PC{0,200}") {
        let _ = read(&text, None);
    }

    /// Nor does anything that looks like a netlist.
    #[test]
    fn nothing_verilog_like_panics(
        words in prop::collection::vec(prop::sample::select(vec![
            "module", "endmodule", "t", "u", "(", ")", ";", ",", "input", "output", "wire", "[", "]", "3", ":", "0",
            "and", "not", "a", "y", "dff", ".", "CK", "D", "Q", "{", "}", "1'b0", "assign", "=", "#", "always", "supply0",
        ]), 0..80),
    ) {
        let _ = read(&words.join(" "), None);
    }
}
