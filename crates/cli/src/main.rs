//! `dryjoint`: from the text of a board to the one bad joint, on the command line.

mod action;
mod arguments;
mod bench;
mod board_text;
mod command;
mod curve;
mod edges;
mod exit;
mod explain_text;
mod figures;
mod gates_text;
mod missing;
mod names;
mod next_text;
mod plots;
mod print;
mod procedure_text;
mod progress;
mod readings;
mod render;
mod shape;
mod states;
mod stop;
mod survey_shape;
mod survey_text;
mod ties_text;
mod timing_shape;
mod timing_text;
mod verdict_text;

use arguments::{Arguments, Command};
use board_text::{BoardText, is_netlist};
use clap::Parser;
use dryjoint_board::Severity;
use dryjoint_netlist::Placed;
use exit::{Exit, Failure};
use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let mut out = anstream::stdout().lock();
    let result = run(arguments, &mut out);
    if let Err(failure @ (Failure::Input(_) | Failure::Computation(_))) = &result {
        let _ = writeln!(anstream::stderr(), "{failure}");
    }
    exit::code(&result)
}

fn run(arguments: Arguments, out: &mut impl Write) -> Result<Exit, Failure> {
    match arguments.command {
        Some(Command::Check(check)) => command::check::run(&BoardText::open(&check.file)?, &check, out),
        Some(Command::Plan(plan)) if is_netlist(&plan.file) => command::plan_gates::run(&plan, out),
        Some(Command::Plan(plan)) => command::plan::run(&warned(&plan.file)?, &plan, out),
        Some(Command::Parts(one)) => command::parts::run(warned(&one.file)?.board(), one.form.json, out),
        Some(Command::Levels(levels)) => {
            command::levels::run(&warned(&levels.file)?, &levels.actions, levels.form.json, out)
        }
        Some(Command::Find(find)) => command::find::run(&warned(&find.file)?, &find, out),
        Some(Command::Bench(bench)) => command::bench::run(warned(&bench.file)?, &bench, out),
        Some(Command::Sheet(sheet)) => command::sheet::run(&warned(&sheet.file)?, &sheet, out),
        Some(Command::Priors(priors)) => command::priors::run(&warned(&priors.file)?, &priors, out),
        Some(Command::Records(records)) => command::records::run(&records, out),
        Some(Command::Schema { folder }) => command::schema::run(&folder),
        None => command::main_job::run(&arguments.hide, out),
    }
}

/// The board of a file, its warnings told on the error output.
fn warned(file: &Path) -> Result<BoardText, Failure> {
    let text = BoardText::open(file)?;
    let warnings: Vec<Placed> =
        text.remarks().iter().filter(|notice| notice.severity == Severity::Warning).cloned().collect();
    if !warnings.is_empty() {
        // The board is as good without the telling.
        let _ = writeln!(anstream::stderr(), "{}", text.drawn(&warnings).trim_end());
    }
    Ok(text)
}
