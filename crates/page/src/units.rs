//! All units: what became of each, which faults were found how often, how long a board takes.

use crate::screen::{percent, time};
use crate::work::Work;
use dryjoint_records::{FaultCount, Kind, StoreError, UnitRow, standing};
use maud::{Markup, html};

/// The screen.
pub fn screen(work: &Work) -> Result<Markup, StoreError> {
    let units = work.store.units()?;
    let mut rows = Vec::new();
    for unit in units.into_iter().rev() {
        let mut log = Vec::new();
        for session in work.store.sessions(unit.id)? {
            log.extend(standing(&work.store.entries(session.id)?));
        }
        let count = |kind: Kind| log.iter().filter(|entry| entry.kind == kind).count();
        let state = if count(Kind::Passed) > 0 {
            "passed"
        } else if log.is_empty() {
            "new"
        } else {
            "at work"
        };
        rows.push((unit, count(Kind::Look), count(Kind::Repair), state));
    }
    let faults = work.store.faults()?;
    let boards = work.store.boards()?;
    Ok(html! {
        h1 { "All units" }
        section aria-labelledby="h-boards" {
            h2 id="h-boards" { "By board" }
            div class="scroll" tabindex="0" role="region" aria-label="By board" {
                table {
                    thead { tr { th scope="col" { "Board" } th scope="col" class="figure" { "units" } th scope="col" class="figure" { "passed" } th scope="col" class="figure" { "at first pass" } th scope="col" class="figure" { "minutes each" } } }
                    tbody { @for board in &boards {
                        tr {
                            th scope="row" { (board.board) } td class="figure" { (board.units) } td class="figure" { (board.passed) }
                            td class="figure" { @if board.passed > 0 { (percent(board.first_pass as f64 / board.passed as f64)) } @else { "–" } }
                            td class="figure" { @match board.minutes { Some(minutes) => (format!("{minutes:.1}")), None => "–" } }
                        }
                    } }
                }
            }
            p class="hint" { "Practice is not counted. Breaks of more than five minutes are left out." }
        }
        (pareto(&faults))
        section aria-labelledby="h-units" {
            h2 id="h-units" { "Units" }
            div class="scroll" tabindex="0" role="region" aria-label="Units" {
                table {
                    thead { tr { th scope="col" { "Unit" } th scope="col" { "state" } th scope="col" class="figure" { "looks" } th scope="col" class="figure" { "repairs" } th scope="col" { "begun" } } }
                    tbody { @for (unit, looks, repairs, state) in &rows {
                        tr {
                            th scope="row" { a href={ "/units/" (unit.id.0) } { (name(unit)) } }
                            td { (state) } td class="figure" { (looks) } td class="figure" { (repairs) } td { (time(unit.began)) }
                        }
                    } }
                }
            }
            p { "To work on another unit: " code { "dryjoint bench BOARD --unit SERIAL" } }
        }
    })
}

fn name(unit: &UnitRow) -> String {
    format!("{} {}", unit.board, unit.serial)
}

/// Faults by kind and board in falling order, with the share that they make up together (Pareto chart,
/// one of the basic quality tools of ISO/TR 10017 and common practice).
fn pareto(faults: &[FaultCount]) -> Markup {
    let all: usize = faults.iter().map(|fault| fault.count).sum();
    let most = faults.first().map_or(1, |fault| fault.count).max(1);
    let mut sum = 0;
    let rows: Vec<(&FaultCount, f64)> = faults
        .iter()
        .map(|fault| {
            sum += fault.count;
            (fault, sum as f64 / all.max(1) as f64)
        })
        .collect();
    html! {
        section aria-labelledby="h-pareto" {
            h2 id="h-pareto" { "Faults found, the most frequent first" }
            @if faults.is_empty() { p { "No repair was entered yet." } }
            @else {
                div class="scroll" tabindex="0" role="region" aria-label="Faults found" {
                    table class="pareto" {
                        thead { tr { th scope="col" { "Fault" } th scope="col" { "board" } th scope="col" class="figure" { "found" } th scope="col" { span class="unseen" { "bar" } } th scope="col" class="figure" { "together" } } }
                        tbody { @for (fault, together) in rows {
                            tr {
                                th scope="row" { (fault.kind) } td { (fault.board) } td class="figure" { (fault.count) }
                                td class="bar" { svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true" {
                                    rect x="0" y="1" height="8" width=(100 * fault.count / most) {}
                                } }
                                td class="figure" { (percent(together)) }
                            }
                        } }
                    }
                }
            }
        }
    }
}
