//! What may stand on the command line.

use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;
use std::time::Duration;

/// From the text of a board to the one bad joint.
///
/// Without a command the program does its whole job once, on a built-in board with a fault hidden in
/// a virtual unit.
#[derive(Debug, Parser)]
#[command(name = "dryjoint", version, after_help = AFTER, args_conflicts_with_subcommands = true)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Option<Command>,
    /// Which fault to hide, when no command is given: its name, such as `R12.1 open`, or a number that
    /// draws one.
    #[arg(long, default_value = "1", value_name = "FAULT")]
    pub hide: String,
}

const AFTER: &str = "\
Exit codes: 0 done and nothing found; 1 done, and the board or the unit is not as it should be;
2 the input or the command line cannot be used; 3 something could not be computed.";

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Prove a board on paper: levels, margins, currents, and every stage against the circuit.
    Check(Check),
    /// Make the bench procedure: what to tie, the steps, the lamps expected, what they show.
    Plan(Plan),
    /// Find the bad joint: readings in, suspects and the best next step out.
    Find(Find),
    /// List the parts as soldered.
    Parts(OneFile),
    /// Tell what a meter reads on every net, and every lamp, after some actions.
    Levels(Levels),
    /// Work at the bench on one unit: a page in the browser that says what to do and keeps every reading.
    Bench(Bench),
    /// Write the bench sheet of a board, for work from paper: PDF and HTML.
    Sheet(Sheet),
    /// Show how likely each kind of fault is taken to be, and what the records change in that.
    Priors(Priors),
    /// Take the records of all units out, or in.
    Records(Records),
    /// Write the JSON Schemas of all outputs into a folder.
    #[command(hide = true)]
    Schema {
        /// The folder.
        folder: PathBuf,
    },
}

/// A board text, and how to print.
#[derive(Debug, Args)]
pub struct OneFile {
    /// The board text.
    pub file: PathBuf,
    #[command(flatten)]
    pub form: Form,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct Check {
    /// The board text.
    pub file: PathBuf,
    /// Write plots into this folder as SVG: each clock at each of its rates, the phases where they are
    /// closest, the pulse at power-on, each kind of stage with its transfer curve and its high over the
    /// loads.
    #[arg(long, value_name = "FOLDER")]
    pub plots: Option<PathBuf>,
    #[command(flatten)]
    pub form: Form,
}

/// Arguments of `sheet`.
#[derive(Debug, Args)]
pub struct Sheet {
    /// The board text.
    pub file: PathBuf,
    /// Where to write it, ending with `.pdf` or `.html`; may be given twice. Without it, both under the
    /// board's file name in this folder.
    #[arg(long, value_name = "FILE")]
    pub out: Vec<PathBuf>,
    /// The paper of the PDF.
    #[arg(long, value_enum, default_value_t = Paper::A4)]
    pub paper: Paper,
    /// The image of the memory that this board shows word by word: Intel HEX, S-record or bare bytes. Its
    /// table then stands in the sheet.
    #[arg(long, value_name = "FILE")]
    pub memory: Option<PathBuf>,
}

/// A size of paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Paper {
    /// 210 by 297 mm.
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

impl Paper {
    /// For the line that tells what was written.
    pub fn words(self) -> &'static str {
        match self {
            Self::A4 => "PDF on A4",
            Self::Letter => "PDF on letter",
        }
    }
}

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub struct Plan {
    /// The board text, or a netlist of gates as structural Verilog (`.v`).
    pub file: PathBuf,
    /// Tell why a fault is shown or not, such as `R12.1 open`, or `N10/0` in a netlist of gates.
    #[arg(long, value_name = "FAULT", conflicts_with_all = ["curve", "all", "json"])]
    pub explain: Option<String>,
    /// Draw how soon the faults of a board show, most probable first, into this SVG file.
    #[arg(long, value_name = "FILE")]
    pub curve: Option<PathBuf>,
    /// Name every fault that is not surely shown, not only the first and how many there are.
    #[arg(long)]
    pub all: bool,
    /// Look for a shorter list for this long; Ctrl-C ends it sooner and keeps the best one.
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    pub effort: Option<Duration>,
    #[command(flatten)]
    pub priors: OwnPriors,
    #[command(flatten)]
    pub form: Form,
}

/// How to print.
#[derive(Debug, Args)]
pub struct Form {
    /// Print JSON (schemas: docs/schema) in place of tables.
    #[arg(long)]
    pub json: bool,
}

/// Arguments of `find`.
#[derive(Debug, Args)]
pub struct Find {
    /// The board text.
    pub file: PathBuf,
    /// What was seen: JSON, or one line a step such as `step 3: DS1 dark, ADDRESS 010011`.
    #[arg(long, value_name = "FILE", required_unless_present = "ask")]
    pub readings: Option<PathBuf>,
    /// Ask for the readings line by line: what to do is said, what differs is typed.
    #[arg(long)]
    pub ask: bool,
    /// No meter is at hand: advise by lamps alone.
    #[arg(long)]
    pub no_meter: bool,
    #[command(flatten)]
    pub priors: OwnPriors,
    #[command(flatten)]
    pub form: Form,
}

/// Arguments of `levels`.
#[derive(Debug, Args)]
pub struct Levels {
    /// The board text.
    pub file: PathBuf,
    /// Actions after power-on, such as `tie /LD low; pulse /P1; wait 2 clocks`, or their JSON.
    #[arg(long = "do", value_name = "ACTIONS", default_value = "")]
    pub actions: String,
    #[command(flatten)]
    pub form: Form,
}

/// A time that a person might wait for.
fn seconds(text: &str) -> Result<Duration, String> {
    let seconds: f64 = text.parse().map_err(|_| "write seconds, such as 60".to_owned())?;
    if (0.0..=MOST_SECONDS).contains(&seconds) {
        Ok(Duration::from_secs_f64(seconds))
    } else {
        Err(format!("write seconds from 0 to {MOST_SECONDS}"))
    }
}

/// A day.
const MOST_SECONDS: f64 = 86_400.0;

/// Arguments of `bench`.
#[derive(Debug, Args)]
pub struct Bench {
    /// The board text.
    pub file: PathBuf,
    /// The serial number of the unit, as you write it on the board.
    #[arg(long, value_name = "SERIAL", required_unless_present = "practice")]
    pub unit: Option<String>,
    /// Practise on a virtual unit with a fault hidden in it; the same number hides the same fault.
    #[arg(long, value_name = "SEED", num_args = 0..=1, default_missing_value = "1", conflicts_with = "unit")]
    pub practice: Option<u64>,
    /// No meter is at hand: advise by lamps alone, until the page is told that there is one.
    #[arg(long)]
    pub no_meter: bool,
    #[command(flatten)]
    pub store: RecordsFile,
    #[command(flatten)]
    pub priors: OwnPriors,
    /// Serve the page to the network, for a tablet, at this ADDRESS of this machine; without one, at the
    /// one that leads outside. The page is not encrypted; whoever has its address can use it.
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1)]
    pub listen: Option<Option<std::net::IpAddr>>,
    /// The port; 0 takes a free one.
    #[arg(long, default_value_t = 0)]
    pub port: u16,
    /// Print the address and leave the browser alone.
    #[arg(long)]
    pub no_open: bool,
}

/// Arguments of `priors`.
#[derive(Debug, Args)]
pub struct Priors {
    /// The board text.
    pub file: PathBuf,
    #[command(flatten)]
    pub store: RecordsFile,
    #[command(flatten)]
    pub form: Form,
}

/// A table of priors of one's own.
#[derive(Debug, Args)]
pub struct OwnPriors {
    /// A table of priors in place of the built-in one: what `priors --json` printed, with figures changed.
    #[arg(long = "priors", value_name = "FILE")]
    pub table: Option<PathBuf>,
}

/// Where the records are.
#[derive(Debug, Args)]
pub struct RecordsFile {
    /// The file of the records, in place of the usual one in your own data folder.
    #[arg(id = "records", long = "records", value_name = "FILE", global = true)]
    pub file: Option<PathBuf>,
}

/// Arguments of `records`.
#[derive(Debug, Args)]
pub struct Records {
    #[command(subcommand)]
    pub what: Exchange,
    #[command(flatten)]
    pub store: RecordsFile,
}

/// Out or in.
#[derive(Debug, Subcommand)]
pub enum Exchange {
    /// Write everything to a file: JSON lines, or CSV where its name ends in `.csv`.
    Export {
        /// The file to write.
        to: PathBuf,
    },
    /// Take in what `export` wrote; what is there already stays as it is.
    Import {
        /// The file to read.
        from: PathBuf,
    },
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_definition_is_sound() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn actions_are_optional_and_stay_one_word() {
        let read = Arguments::try_parse_from(["dryjoint", "levels", "a.board", "--do", "tie /LD low"]);
        let Ok(Arguments { command: Some(Command::Levels(levels)), .. }) = read else { panic!("{read:?}") };
        assert_eq!(levels.actions, "tie /LD low");
        assert!(!levels.form.json);
    }
}
