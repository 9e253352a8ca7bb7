//! A process killed at any moment under load loses nothing that was acknowledged.
//!
//! This program starts itself as the process that is killed: two threads keep entries of a dozen
//! readings as fast as they can and print each key once it was taken.

use dryjoint_records::{Entry, Kept, Kind, Millis, Read, SessionId, Store};
use std::collections::BTreeSet;
use std::io::{Read as _, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

const KILLS: usize = 200;
const FILE: &str = "DRYJOINT_FILE_UNDER_LOAD";

fn entry(key: String) -> Entry {
    let mut entry = Entry::new(key, Millis(1), Kind::Look);
    entry.readings = (0..12).map(|lamp| Read::lamp(format!("DS{lamp}"), "lit", "lit")).collect();
    entry
}

fn keep_without_end(file: &Path, thread: usize) {
    let Ok(mut store) = Store::open(file) else { panic!("the file opens") };
    let session = SessionId(thread as i64 + 1);
    let mut count = store.entries(session).unwrap().len();
    loop {
        let key = format!("{thread}-{count}");
        assert_eq!(store.keep(session, count, &entry(key.clone())).unwrap(), Kept::Taken);
        // One write of one line, so that lines of the two threads do not mix.
        std::io::stdout().write_all(format!("took {key}.\n").as_bytes()).unwrap();
        count += 1;
    }
}

#[test]
fn the_process_that_is_killed() {
    let Some(file) = std::env::var_os(FILE).map(PathBuf::from) else { return };
    std::thread::scope(|scope| {
        for thread in 0..2 {
            let file = &file;
            scope.spawn(move || keep_without_end(file, thread));
        }
    });
}

/// Starts a process on the file, kills it after a while, and returns the keys that it acknowledged.
fn run_and_kill(file: &Path, after: Duration) -> Vec<String> {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "the_process_that_is_killed", "--nocapture", "--test-threads=1"])
        .env(FILE, file)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut said = child.stdout.take().unwrap();
    let mut text = vec![0; 1];
    // It is at work once it says anything about an entry; the harness's own words come before.
    let mut so_far = Vec::new();
    while !so_far.ends_with(b"took ") && said.read(&mut text).unwrap() == 1 {
        so_far.push(text[0]);
    }
    std::thread::sleep(after);
    child.kill().unwrap();
    child.wait().unwrap();
    said.read_to_end(&mut so_far).unwrap();
    let text = String::from_utf8(so_far).unwrap();
    let lines = text.split("took ").skip(1);
    lines.filter_map(|rest| Some(rest.split_once(".\n")?.0.to_owned())).collect()
}

#[test]
fn two_hundred_kills_lose_nothing_that_was_acknowledged() {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("killed-{}", std::process::id()));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join("records.db");
    let mut store = Store::open(&file).unwrap();
    for thread in 0..2 {
        let unit = store.unit("address", &thread.to_string(), None, Millis(1)).unwrap();
        store.begin(unit, &format!("session {thread}"), "mark", Millis(1)).unwrap();
    }
    drop(store);
    let mut acknowledged = BTreeSet::new();
    let mut draw = 0x9e37_79b9_7f4a_7c15_u64;
    for kill in 0..KILLS {
        // xorshift64: moments from nothing to sixteen milliseconds into the work.
        draw ^= draw << 13;
        draw ^= draw >> 7;
        draw ^= draw << 17;
        acknowledged.extend(run_and_kill(&file, Duration::from_micros(draw % 16_000)));
        let store = Store::open(&file).unwrap_or_else(|error| panic!("kill {kill}: {error}"));
        for thread in 0..2 {
            let kept = store.entries(SessionId(thread + 1)).unwrap();
            for (at, known) in kept.iter().enumerate() {
                assert_eq!(*known, entry(format!("{thread}-{at}")), "whole, in order, once: kill {kill}");
            }
            let said = acknowledged.iter().filter(|key: &&String| key.starts_with(&format!("{thread}-")));
            let said = said.count();
            assert!(kept.len() >= said, "kill {kill}: {said} acknowledged, {} kept", kept.len());
            // One commit more may have reached the disk before its line was printed, each time.
            assert!(kept.len() <= said + kill + 1);
        }
    }
    assert!(acknowledged.len() > KILLS, "the process was at work: {} entries", acknowledged.len());
    std::fs::remove_dir_all(&folder).unwrap();
}
