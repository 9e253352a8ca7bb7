//! `records export FILE` and `records import FILE`, and where the records are.

use crate::arguments::{Exchange, Records, RecordsFile};
use crate::exit::{Exit, Failure};
use crate::missing::{meant, unreadable};
use dryjoint_records::{Form, Store};
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Takes the records out or in.
pub fn run(records: &Records, out: &mut impl Write) -> Result<Exit, Failure> {
    match &records.what {
        Exchange::Export { to } => {
            let (store, place) = existing(&records.store)?;
            let Some(store) = store else {
                return Err(Failure::Input(format!(
                    "{}: there are no records yet; `bench` begins them, or name a file with --records",
                    place.display()
                )));
            };
            let file = File::create(to).map_err(|error| refused(to, &error))?;
            store.export(form(to), &mut BufWriter::new(file)).map_err(|error| refused(to, &error))?;
            writeln!(out, "{}: everything from {}", to.display(), place.display())?;
        }
        Exchange::Import { from } => {
            let file = File::open(from).map_err(|error| unreadable(from, &error))?;
            let (mut store, place) = open(&records.store)?;
            let imported = store.import(form(from), file).map_err(|error| refused(from, &error))?;
            let (taken, known) = (imported.taken, imported.known);
            writeln!(out, "{}: {taken} entries taken, {known} were there already", place.display())?;
        }
    }
    Ok(Exit::Fine)
}

/// The store of the arguments, or the usual one, with its place; made where there is none.
pub fn open(records: &RecordsFile) -> Result<(Store, PathBuf), Failure> {
    let place = place(records)?;
    let store = Store::open(&place).map_err(|error| Failure::Input(error.to_string()))?;
    Ok((store, place))
}

/// The same for whoever only reads: a file that is named must be there, and nothing is made. No store
/// where the usual one was never begun.
pub fn existing(records: &RecordsFile) -> Result<(Option<Store>, PathBuf), Failure> {
    let place = place(records)?;
    if place.exists() {
        return open(records).map(|(store, place)| (Some(store), place));
    }
    if records.file.is_some() {
        let meant = meant(&place);
        return Err(Failure::Input(format!("{}: there are no records of that name{meant}", place.display())));
    }
    Ok((None, place))
}

fn place(records: &RecordsFile) -> Result<PathBuf, Failure> {
    records.file.clone().or_else(usual).ok_or_else(|| {
        Failure::Input("no data folder is known on this machine: name a file with --records".to_owned())
    })
}

/// `records.db` in the user's data folder, where the system has one by convention.
fn usual() -> Option<PathBuf> {
    let folder = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let data = if cfg!(windows) {
        folder("APPDATA")
    } else if cfg!(target_os = "macos") {
        folder("HOME").map(|home| home.join("Library/Application Support"))
    } else {
        folder("XDG_DATA_HOME").or_else(|| folder("HOME").map(|home| home.join(".local/share")))
    };
    data.map(|data| data.join("dryjoint").join("records.db"))
}

fn form(path: &Path) -> Form {
    let is_table = path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("csv"));
    if is_table { Form::Csv } else { Form::JsonLines }
}

fn refused(path: &Path, error: &dyn std::fmt::Display) -> Failure {
    Failure::Input(format!("{}: {error}", path.display()))
}
