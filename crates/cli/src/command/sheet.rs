//! `sheet FILE`: the bench sheet of a board, written as PDF and HTML.

use super::plan::planned;
use crate::arguments;
use crate::board_text::{self, BoardText};
use crate::exit::{Exit, Failure};
use crate::missing::unreadable;
use crate::states::supply_draw;
use dryjoint_faults::Priors;
use dryjoint_logic::extract;
use dryjoint_netlist::draw;
use dryjoint_netlist::image::{self, Image};
use dryjoint_procedure::Study;
use dryjoint_sheet::{Paper, Sheet, memory_rows};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// A table of more rows is nothing that a person ticks.
const MOST_ROWS: usize = 4096;

/// What a file's name asks for.
#[derive(Clone, Copy)]
enum Form {
    Pdf,
    Html,
}

/// Plans, computes and writes.
pub fn run(text: &BoardText, asked: &arguments::Sheet, out: &mut impl Write) -> Result<Exit, Failure> {
    let files = if asked.out.is_empty() { beside(&asked.file) } else { asked.out.clone() };
    // Told before the work rather than after it.
    let forms: Vec<(PathBuf, Form)> =
        files.into_iter().map(|file| form(&file).map(|form| (file, form))).collect::<Result<_, _>>()?;
    let memory = asked.memory.as_deref().map(memory_of).transpose()?;
    let (extracted, notices) = extract(text.board());
    text.refuse_errors(&notices)?;
    text.refuse_errors(&extracted.refuse_edges())?;
    let priors = Priors::default();
    let study = Study::new(&extracted, &priors);
    let limit = supply_draw(&extracted).map(|draw| draw.limit);
    let mut sheet = Sheet::of(&study, &planned(&study), &priors, limit);
    if let Some((name, image)) = memory {
        sheet = sheet.with_memory(&name, &image.bytes);
    }
    for (file, form) in forms {
        let (bytes, of) = match form {
            Form::Pdf => (pdf(&sheet, asked.paper)?, asked.paper.words()),
            Form::Html => (sheet.html().into_bytes(), "HTML"),
        };
        fs::write(&file, bytes).map_err(|error| {
            Failure::Input(format!("{}: {error}; name another place with --out", file.display()))
        })?;
        writeln!(out, "{}: the bench sheet of {}, {of}", file.display(), text.board().name)?;
    }
    Ok(Exit::Fine)
}

/// The image of a memory with its file's name.
fn memory_of(path: &Path) -> Result<(String, Image), Failure> {
    let bytes = fs::read(path).map_err(|error| unreadable(path, &error))?;
    let reading = image::read(&path.to_string_lossy(), &bytes);
    let image = reading.image.ok_or_else(|| {
        let drawn = draw(&reading.sources, &reading.notices, board_text::look());
        Failure::Input(drawn.trim_end().to_owned())
    })?;
    let rows = memory_rows(&image.bytes);
    if image.bytes.is_empty() || rows > MOST_ROWS {
        return Err(Failure::Input(format!(
            "{}: {rows} rows of words do not make a table for paper (1 to {MOST_ROWS} do); give the part of the \
             image that is looked at",
            path.display()
        )));
    }
    Ok((path.file_name().unwrap_or_default().to_string_lossy().into_owned(), image))
}

fn pdf(sheet: &Sheet, paper: arguments::Paper) -> Result<Vec<u8>, Failure> {
    let paper = match paper {
        arguments::Paper::A4 => Paper::A4,
        arguments::Paper::Letter => Paper::Letter,
    };
    sheet.pdf(paper).map_err(|error| Failure::Computation(error.to_string()))
}

/// Both forms under the board's own file name, in the folder in which the program was started.
fn beside(board: &Path) -> Vec<PathBuf> {
    let stem = Path::new(board.file_stem().unwrap_or_default());
    vec![stem.with_extension("pdf"), stem.with_extension("html")]
}

fn form(file: &Path) -> Result<Form, Failure> {
    match file.extension().and_then(|end| end.to_str()).map(str::to_ascii_lowercase).as_deref() {
        Some("pdf") => Ok(Form::Pdf),
        Some("html" | "htm") => Ok(Form::Html),
        _ => Err(Failure::Input(format!(
            "{}: a sheet is written as `.pdf` or `.html`; end the name with one of these",
            file.display()
        ))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_says_its_form_and_a_board_names_both() {
        assert!(matches!(form(Path::new("a/B.PDF")), Ok(Form::Pdf)));
        assert!(matches!(form(Path::new("b.html")), Ok(Form::Html)));
        assert!(
            matches!(form(Path::new("b.txt")), Err(Failure::Input(text)) if text.contains("`.pdf` or `.html`"))
        );
        assert_eq!(
            beside(Path::new("boards/phase.board")),
            [Path::new("phase.pdf"), Path::new("phase.html")]
        );
    }
}
