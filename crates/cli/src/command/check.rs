//! `check FILE`: is the board sound on paper? Every stage is found in the parts and held against the
//! circuit of the whole board.

use crate::board_text::BoardText;
use crate::exit::{Exit, Failure};
use crate::shape::Header;
use crate::shape::check::{Check, Counts, Disagreement, Notice, Proof, Signal};
use crate::states::{Visited, ties, visit};
use crate::{print, render};
use dryjoint_board::{Board, PartKind, Severity};
use dryjoint_logic::{Extracted, Prover, extract};
use dryjoint_netlist::Placed;
use dryjoint_units::{Amps, Volts};
use std::fmt::Write as _;
use std::io::Write;

/// States compared where the board has too many for all.
const SAMPLE: usize = 1000;
/// Signals with the smallest margins that the table shows.
const TIGHTEST: usize = 12;

/// Checks and prints.
pub fn run(text: &BoardText, json: bool, out: &mut impl Write) -> Result<Exit, Failure> {
    let board = text.board();
    let (extracted, notices) = extract(board);
    text.refuse_errors(&notices)?;
    let notices: Vec<Placed> = text.remarks().iter().cloned().chain(text.place(&notices)).collect();
    let mut prover = Prover::new(&extracted);
    let visited = visit(&extracted, SAMPLE, &mut |bench| {
        prover.compare(&ties(&extracted, bench), &|signal| bench.level(signal));
    });
    let check = document(text, &extracted, &prover, visited, &notices);
    if json {
        print::json(out, &check)?;
    } else {
        if !notices.is_empty() {
            writeln!(out, "{}", text.drawn(&notices).trim_end())?;
        }
        out.write_all(table(board, &check).as_bytes())?;
    }
    Ok(if check.fine { Exit::Fine } else { Exit::Finding })
}

fn document(
    text: &BoardText,
    extracted: &Extracted,
    prover: &Prover,
    visited: Visited,
    notices: &[Placed],
) -> Check {
    let board = text.board();
    let proof = proof(extracted, prover, visited);
    let sound = notices.iter().all(|notice| notice.severity == Severity::Remark);
    let transistors = board.parts.rows().iter().filter(|part| matches!(part.kind, PartKind::Bipolar(_)));
    Check {
        header: Header::new("check", &board.name),
        fine: sound && proof.disagreements.is_empty() && proof.unsolved == 0,
        counts: Counts {
            parts: board.parts.len(),
            transistors: transistors.count(),
            nets: board.nets.len(),
            signals: extracted.logic.signals.len(),
            stages: extracted.logic.stages.len(),
            solved: extracted.solved,
        },
        notices: text.plain(notices).into_iter().map(notice).collect(),
        proof,
        signals: signals(extracted),
        supply_amps: prover.proof.supply.map(|(least, most)| [least.0, most.0]),
    }
}

fn proof(extracted: &Extracted, prover: &Prover, visited: Visited) -> Proof {
    let proof = &prover.proof;
    let name = |signal| extracted.logic.signals[signal].name.clone();
    Proof {
        every_state: matches!(visited, Visited::Every(_)),
        states: proof.states,
        compared: proof.compared,
        agreed: proof.agreeing(extracted).len(),
        disagreements: proof
            .disagreements
            .iter()
            .map(|one| Disagreement {
                signal: name(one.signal),
                logic: one.logic.character(),
                volts: one.circuit.ok().map(|volts| volts.0),
            })
            .collect(),
        unsolved: proof.unsolved.len(),
    }
}

fn signals(extracted: &Extracted) -> Vec<Signal> {
    let nets = extracted.logic.signals.rows().iter().filter_map(|signal| signal.net);
    let of = |net| {
        let levels = &extracted.levels[net];
        let name = extracted.shape.board.nets[net].name.clone();
        Signal {
            net: name,
            high: levels.high.0,
            low: levels.low.0,
            reads_high_from: levels.thresholds.high.0,
            reads_low_to: levels.thresholds.low.0,
            margin_high: levels.high.0 - levels.thresholds.high.0,
            margin_low: levels.thresholds.low.0 - levels.low.0,
        }
    };
    nets.map(of).collect()
}

fn notice(plain: dryjoint_netlist::PlainNotice) -> Notice {
    let place = plain.places.first();
    Notice {
        severity: plain.severity.to_owned(),
        code: plain.code.to_owned(),
        file: place.map(|place| place.file.clone()),
        line: place.map(|place| place.line),
        column: place.map(|place| place.column),
        text: plain.text,
        mend: plain.mend,
    }
}

fn table(board: &Board, check: &Check) -> String {
    let counts = &check.counts;
    let mut text = render::heading(&format!("{}: {}", board.name, board.title));
    let _ = writeln!(
        text,
        "{} parts, {} of them transistors; {} nets, {} signals, {} stages ({} different circuits solved).",
        counts.parts, counts.transistors, counts.nets, counts.signals, counts.stages, counts.solved
    );
    if let Some([least, most]) = check.supply_amps {
        let _ = writeln!(text, "The supply gives {} to {} once it runs.", Amps(least), Amps(most));
    }
    text.push_str(&proof_text(check));
    text.push_str(&render::heading("Tightest levels, under their real loads"));
    let mut tightest: Vec<&Signal> = check.signals.iter().collect();
    tightest.sort_by(|a, b| {
        let margin = |signal: &Signal| signal.margin_high.min(signal.margin_low);
        margin(a).total_cmp(&margin(b))
    });
    let rows = tightest.into_iter().take(TIGHTEST).map(|signal| {
        let volts = |value: f64| format!("{value:.2} V");
        vec![
            signal.net.clone(),
            volts(signal.high),
            volts(signal.reads_high_from),
            volts(signal.margin_high),
            volts(signal.low),
            volts(signal.reads_low_to),
            volts(signal.margin_low),
        ]
    });
    let head = ["net", "high", "read from", "margin", "low", "read to", "margin"];
    text.push_str(&render::table(&head, &[1, 2, 3, 4, 5, 6], rows));
    text
}

fn proof_text(check: &Check) -> String {
    let proof = &check.proof;
    let which = if proof.every_state { "all" } else { "a sample of" };
    let mut text = render::heading("The logic against the whole board's circuit");
    let _ = writeln!(
        text,
        "{} of {} stages agree, in {which} {} states at rest; {} levels and lamps compared.",
        proof.agreed, check.counts.stages, proof.states, proof.compared
    );
    for one in &proof.disagreements {
        let circuit = one.volts.map_or("otherwise".to_owned(), |volts| Volts(volts).to_string());
        let _ = writeln!(text, "  {}: the logic says {}, the circuit {circuit}", one.signal, one.logic);
    }
    if proof.unsolved > 0 {
        let _ = writeln!(text, "  {} states have no solution that could be found", proof.unsolved);
    }
    text
}
