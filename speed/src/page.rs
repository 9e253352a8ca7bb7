//! How soon the page answers a reading on Dunlin's address board with twenty tabs open, each of which
//! loads its screen anew at every change; beside the least that a stored reading can take on this
//! machine, one write to the disk.

use crate::{address_board, best_of};
use dryjoint_faults::Priors;
use dryjoint_logic::extract;
use dryjoint_page::{Access, Page, Subject};
use dryjoint_procedure::{Costs, Effort, Study, plan};
use dryjoint_records::Store;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

const TABS: usize = 20;

/// What every request needs to be let in.
#[derive(Clone)]
struct Door {
    address: SocketAddr,
    cookie: String,
}

impl Door {
    /// One request on a connection of its own; its answer up to the end.
    fn ask(&self, method: &str, path: &str, body: &str) -> std::io::Result<String> {
        let mut stream = self.send(method, path, body)?;
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer)?;
        Ok(String::from_utf8_lossy(&answer).into_owned())
    }

    fn send(&self, method: &str, path: &str, body: &str) -> std::io::Result<TcpStream> {
        let Self { address, cookie } = self;
        let mut stream = TcpStream::connect(address)?;
        stream.set_nodelay(true)?;
        let head = format!(
            "{method} {path} HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\nCookie: {cookie}\r\n\
             Content-Type: application/x-www-form-urlencoded\r\nConnection: close\r\nContent-Length: {}\r\n\r\n",
            body.len()
        );
        stream.write_all((head + body).as_bytes())?;
        Ok(stream)
    }

    /// A tab: hears of every change and loads its screen anew.
    fn tab(&self, loads: &AtomicUsize) {
        let Ok(live) = self.send("GET", "/live", "") else { return };
        for line in BufReader::new(live).lines().map_while(Result::ok) {
            if line.starts_with("data:") && self.ask("GET", "/step", "").is_ok() {
                loads.fetch_add(1, Ordering::Relaxed);
            }
        }
    }
}

/// Everything that is computed once about the board; kept until this process ends, as the page needs it.
fn subject() -> Subject {
    let (extracted, _) = extract(Box::leak(Box::new(address_board())));
    let study = Study::new(Box::leak(Box::new(extracted)), &Priors::default());
    let effort = Effort { candidates: 4, patience: 2, ..Effort::default() };
    let procedure = plan(&study, &Costs::default(), &effort, &|_| true);
    Subject::kept(study, procedure, Priors::default())
}

/// What this process holds in memory, in MiB; nothing where the system does not tell.
fn resident() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmRSS:"))?;
    line.trim().strip_suffix("kB")?.trim().parse::<f64>().ok().map(|kib| kib / 1024.0)
}

/// One write of a reading's size that is on the disk when it returns.
fn one_write(folder: &std::path::Path) -> std::io::Result<Duration> {
    let mut file = std::fs::File::create(folder.join("plain"))?;
    let mut failed = None;
    let best = best_of(50, || {
        failed = file.write_all(&[b'x'; 1024]).and_then(|()| file.sync_data()).err();
    });
    failed.map_or(Ok(best), Err)
}

/// Prints the figures.
pub fn print() {
    let folder = std::env::temp_dir().join(format!("dryjoint-speed-{}", std::process::id()));
    let done = std::fs::create_dir_all(&folder).and_then(|()| measured(&folder));
    if let Err(error) = done {
        println!("the page's answers: not measured, {error}");
    }
    // What is left behind is in the system's own folder for it.
    let _ = std::fs::remove_dir_all(&folder);
}

fn failed(why: impl std::fmt::Display) -> std::io::Error {
    std::io::Error::other(why.to_string())
}

fn measured(folder: &std::path::Path) -> std::io::Result<()> {
    let subject = subject();
    let store = Store::open(&folder.join("records.db")).map_err(failed)?;
    let listener = TcpListener::bind("127.0.0.1:0")?;
    let access = Access::new(listener.local_addr()?);
    let page = Page::new(subject, store, "speed", None, true, &access).map_err(failed)?;
    std::thread::spawn(move || page.serve(listener));
    let address = access.address;
    let door = Door { address, cookie: format!("dryjoint-{}={}", address.port(), access.token) };
    let loads = Arc::new(AtomicUsize::new(0));
    for _ in 0..TABS {
        let (door, loads) = (door.clone(), Arc::clone(&loads));
        std::thread::spawn(move || door.tab(&loads));
    }
    // Each tab hears once of how things stand.
    while loads.load(Ordering::Relaxed) < TABS {
        std::thread::sleep(Duration::from_millis(5));
    }
    let before = resident();
    let mut answers = Vec::new();
    let wrong = subject.study.rig.lamps.first().map(|&(lamp, _)| &subject.board().parts[lamp].reference);
    for step in 1..=subject.procedure.steps.len() {
        // A lamp that contradicts everything sets the weighing off, as on a bad day at the bench.
        let odd = wrong.filter(|_| step % 5 == 0).map_or(String::new(), |lamp| format!("&lamp.{lamp}=dim"));
        let form = format!("key=speed{step:06}&after={}&step={step}{odd}", step - 1);
        let start = Instant::now();
        let answer = door.ask("POST", "/take", &form)?;
        let screen = door.ask("GET", "/step", "")?;
        answers.push(start.elapsed());
        if !answer.starts_with("HTTP/1.1 303") || !screen.starts_with("HTTP/1.1 200") {
            return Err(failed(format!("step {step}: {answer}")));
        }
    }
    answers.sort();
    let (count, parts) = (answers.len(), subject.board().parts.len());
    let (median, most) = (answers[count / 2], answers[count - 1]);
    println!("the page on a board of {parts} parts: {count} readings, stored, weighed, next screen shown");
    println!(
        "  answer {median:>10.1?} at the median, {most:.1?} at most, with {TABS} tabs that load every change"
    );
    let write = one_write(folder)?;
    println!("  disk   {write:>10.1?}, one write that is on the disk");
    println!("  ratio  {:>10.1}", median.as_secs_f64() / write.as_secs_f64());
    if let (Some(before), Some(after)) = (before, resident()) {
        let loads = loads.load(Ordering::Relaxed);
        println!("  memory {before:>6.0} MiB before, {after:.0} MiB after {loads} screens for the tabs");
    }
    Ok(())
}
