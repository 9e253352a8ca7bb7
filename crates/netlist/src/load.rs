//! Which files belong to the reading: the one named and all that `use` lines bring in.
//!
//! The door opens no file itself; whoever calls it hands in a loader. Each file is read once, however
//! often it is used.

use crate::limits::{MAX_FILE, MAX_FILES};
use crate::notices::{Notices, Placed};
use crate::scan::{Scanned, scan, unquote};
use crate::source::{FileId, Sources, Span};
use crate::words::Words;
use rustc_hash::FxHashMap;

/// What fetches the file of a path: its bytes, or why there are none.
pub type Loader<'l> = dyn FnMut(&str) -> Result<Vec<u8>, String> + 'l;

/// All files of a reading, cut into words.
pub(crate) struct Loaded {
    pub sources: Sources,
    pub scanned: Vec<Scanned>,
}

/// A file whose `use` lines are being followed.
struct Open {
    file: FileId,
    line: usize,
}

/// Reads the file `name` with text `bytes`, and everything it uses.
pub(crate) fn load(name: &str, bytes: &[u8], loader: &mut Loader<'_>, notices: &mut Notices) -> Loaded {
    let mut out = Loaded { sources: Sources::default(), scanned: Vec::new() };
    let mut known: FxHashMap<String, FileId> = FxHashMap::default();
    let first = add(name.to_owned(), bytes, &mut out, notices);
    known.insert(tidy("", name), first);
    let mut open = vec![Open { file: first, line: 0 }];
    while let Some(top) = open.last_mut() {
        let file = top.file;
        let wanted = next_use(&out, file, &mut top.line);
        let Some((path, span)) = wanted else {
            open.pop();
            continue;
        };
        let path = tidy(&out.sources.get(file).name, &path);
        if let Some(before) = known.get(&path) {
            if open.iter().any(|one| one.file == *before) {
                let text = format!("`{path}` is used while it is itself being read");
                notices.push(
                    Placed::error("use-loop", span, text)
                        .mend("move the cells that both need to a third file".into()),
                );
            }
            continue;
        }
        if out.scanned.len() >= MAX_FILES {
            notices.push(
                Placed::error("use-too-many", span, format!("more than {MAX_FILES} files"))
                    .mend("gather the cells in fewer files".into()),
            );
            continue;
        }
        match loader(&path) {
            Ok(bytes) => {
                let next = add(path.clone(), &bytes, &mut out, notices);
                known.insert(path, next);
                open.push(Open { file: next, line: 0 });
            }
            Err(why) => notices.push(
                Placed::error("use-unreadable", span, format!("`{path}` cannot be read: {why}"))
                    .mend("a path is relative to the file that uses it".into()),
            ),
        }
    }
    out
}

/// The path of the next `use` line of `file` at or after `line`.
fn next_use(loaded: &Loaded, file: FileId, line: &mut usize) -> Option<(String, Span)> {
    let text = &loaded.sources.get(file).text;
    let scanned = &loaded.scanned[file.0 as usize];
    while let Some(found) = scanned.lines.get(*line) {
        *line += 1;
        let mut words = Words::new(file, text, scanned, *found);
        if words.after("use").is_some()
            && let Some(path) = words.next()
        {
            return Some((unquote(path.text), path.span));
        }
    }
    None
}

fn add(name: String, bytes: &[u8], out: &mut Loaded, notices: &mut Notices) -> FileId {
    let file = FileId(out.scanned.len() as u32);
    let at = |start: usize, end: usize| Span { file, start: start as u32, end: end as u32 };
    let text = if bytes.len() > MAX_FILE {
        notices.push(
            Placed::error("file-too-big", at(0, 0), format!("a file of {} bytes", bytes.len()))
                .mend(format!("at most {MAX_FILE} bytes are read")),
        );
        String::new()
    } else {
        match std::str::from_utf8(bytes) {
            Ok(text) => text.to_owned(),
            Err(bad) => {
                let start = bad.valid_up_to();
                let byte = bytes[start];
                notices.push(
                    Placed::error("not-utf8", at(start, start + 3), format!("byte {byte:#04x} is no UTF-8"))
                        .mend("save the file as UTF-8".into()),
                );
                String::from_utf8_lossy(bytes).into_owned()
            }
        }
    };
    let scanned = scan(file, &text, notices);
    out.scanned.push(scanned);
    out.sources.push(name, text)
}

/// The path of `path` as seen from the folder of `from`, without `.` and `..` where they can go.
fn tidy(from: &str, path: &str) -> String {
    let folder = from.rfind('/').map_or("", |at| &from[..=at]);
    let absolute = path.starts_with('/') || (folder.starts_with('/'));
    let whole = if path.starts_with('/') { path.to_owned() } else { format!("{folder}{path}") };
    let mut parts: Vec<&str> = Vec::new();
    for part in whole.split('/') {
        match part {
            "" | "." => {}
            ".." if parts.last().is_some_and(|last| *last != "..") => {
                parts.pop();
            }
            ".." if absolute => {}
            other => parts.push(other),
        }
    }
    let joined = parts.join("/");
    if absolute { format!("/{joined}") } else { joined }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_are_relative_to_the_using_file() {
        assert_eq!(tidy("boards/alu.board", "dunlin.cells"), "boards/dunlin.cells");
        assert_eq!(tidy("boards/alu.board", "../lib/./a.cells"), "lib/a.cells");
        assert_eq!(tidy("alu.board", "../a"), "../a");
        assert_eq!(tidy("/x/y.board", "../../a"), "/a");
        assert_eq!(tidy("y.board", "/q/a"), "/q/a");
    }

    #[test]
    fn a_file_used_twice_is_read_once_and_a_loop_is_told() {
        let mut asked = Vec::new();
        let mut notices = Notices::default();
        let mut loader = |path: &str| {
            asked.push(path.to_owned());
            match path {
                "d/a" => Ok(b"use b\nuse c\n".to_vec()),
                "d/b" => Ok(b"use \"c\"\n".to_vec()),
                "d/c" => Ok(b"use a\n".to_vec()),
                _ => Err("no such file".into()),
            }
        };
        let loaded = load("d/top", b"use a\nuse b\nuse z\n", &mut loader, &mut notices);
        assert_eq!(loaded.sources.files().len(), 4);
        assert_eq!(asked, ["d/a", "d/b", "d/c", "d/z"]);
        let codes: Vec<_> = notices.finish().iter().map(|notice| notice.code).collect();
        assert_eq!(codes, ["use-unreadable", "use-loop"]);
    }
}
