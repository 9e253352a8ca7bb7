//! `check FILE`: is the board sound on paper? Every stage is found in the parts and held against the
//! circuit of the whole board.

use crate::arguments;
use crate::board_text::BoardText;
use crate::exit::{Exit, Failure};
use crate::shape::Header;
use crate::shape::check::{Check, Counts, Disagreement, Notice, Proof};
use crate::shape::survey::Survey;
use crate::states::{SAMPLE, Visited, ties, visit};
use crate::{edges, plots, print, render, survey_shape, survey_text};
use dryjoint_board::{Board, PartKind, Severity};
use dryjoint_logic::{Extracted, Prover, extract};
use dryjoint_netlist::Placed;
use dryjoint_survey::{Watch, survey};
use dryjoint_units::Volts;
use std::fmt::Write as _;
use std::io::Write;

/// States without a solution that are told of.
const TOLD: usize = 3;

/// Checks, writes the plots asked for, and prints.
pub fn run(text: &BoardText, asked: &arguments::Check, out: &mut impl Write) -> Result<Exit, Failure> {
    let board = text.board();
    let (extracted, notices) = extract(board);
    text.refuse_errors(&notices)?;
    let mut notices: Vec<Placed> = text.remarks().iter().cloned().chain(text.place(&notices)).collect();
    let mut prover = Prover::new(&extracted);
    let mut watch = Watch::new(&extracted);
    let visited = visit(&extracted, SAMPLE, &mut |bench| {
        let (ties, level) = (ties(&extracted, bench), |signal| bench.level(signal));
        if let Some((network, solution)) = prover.compare(&ties, &level) {
            watch.see(&ties, &network, &solution, &level);
        }
    });
    let (survey, found) = survey(&watch);
    notices.extend(text.place(&found));
    let plots = match &asked.plots {
        Some(folder) => plots::write(folder, board, &survey)?,
        None => Vec::new(),
    };
    let survey = survey_shape::document(&extracted, &survey);
    let mut check = document(text, &extracted, &prover, visited, &notices, survey);
    check.plots = plots.iter().map(|file| file.display().to_string()).collect();
    if asked.form.json {
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
    survey: Survey,
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
        edges: edges::document(extracted),
        survey,
        plots: Vec::new(),
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
        no_solution: proof
            .unsolved
            .iter()
            .take(TOLD)
            .map(|failure| failure.told(extracted.shape.board))
            .collect(),
    }
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
    text.push_str(&survey_text::text(&check.survey));
    text.push_str(&edges::text(&check.edges));
    text.push_str(&proof_text(check));
    if !check.plots.is_empty() {
        text.push_str(&render::heading("Plots"));
        for file in &check.plots {
            let _ = writeln!(text, "{file}");
        }
    }
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
        let _ = writeln!(text, "  {} states have no solution that could be found, such as", proof.unsolved);
        for failure in &proof.no_solution {
            let _ = writeln!(text, "  {failure}");
        }
    }
    text
}
