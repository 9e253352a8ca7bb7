//! `bench FILE --unit SERIAL`: the page at the bench.

use crate::arguments::Bench;
use crate::board_text::BoardText;
use crate::command::plan::planned;
use crate::command::{priors, records};
use crate::exit::{Exit, Failure};
use crate::states::supply_draw;
use dryjoint_logic::extract;
use dryjoint_page::{Access, Failure as PageFailure, Page, Subject};
use dryjoint_procedure::Study;
use dryjoint_records::Store;
use std::io::Write;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener, UdpSocket};
use std::process::{Command, Stdio};

/// Makes the procedure, serves the page until the program is ended, and opens the browser.
pub fn run(text: BoardText, bench: &Bench, out: &mut impl Write) -> Result<Exit, Failure> {
    let (store, place) = records::open(&bench.store)?;
    let subject = subject(text, bench, &store)?;
    let serial = match (&bench.unit, bench.practice) {
        (Some(serial), _) => serial_of(serial)?,
        (None, seed) => format!("practice {}", seed.unwrap_or_default()),
    };
    let ip = match bench.listen {
        None => IpAddr::V4(Ipv4Addr::LOCALHOST),
        Some(Some(ip)) if ip.is_unspecified() => {
            return Err(Failure::Input(format!(
                "{ip} is no address that can be opened; write --listen alone, or name one address of this machine"
            )));
        }
        Some(Some(ip)) => ip,
        Some(None) => outward()?,
    };
    let refused = |error: std::io::Error| {
        let (port, mend) = (bench.port, "give another --listen address or --port");
        Failure::Input(format!("{ip}, port {port}: {error}; {mend}"))
    };
    let listener = TcpListener::bind(SocketAddr::new(ip, bench.port)).map_err(refused)?;
    let access = Access::new(listener.local_addr().map_err(refused)?);
    let page =
        Page::new(subject, store, &serial, bench.practice, !bench.no_meter, &access).map_err(failed)?;
    writeln!(out, "Unit {serial} of board {}; records in {}", subject.board().name, place.display())?;
    if bench.listen.is_some() && !ip.is_loopback() {
        writeln!(
            out,
            "This opens the page to the network of {ip}. It is not encrypted, and whoever has the address below can\n\
             use it; nobody gets in without. Ctrl-C closes it.\n\n{}",
            access.qr()
        )?;
    }
    writeln!(out, "Open {}", access.url())?;
    writeln!(out, "Ctrl-C ends it; every reading is stored the moment it is taken.")?;
    out.flush()?;
    if !bench.no_open {
        browse(&access.url());
    }
    page.serve(listener).map_err(failed)?;
    Ok(Exit::Fine)
}

/// Everything that is computed once about a board. Pages are made on many threads until the process
/// ends, so it is kept until then and never freed.
fn subject(text: BoardText, bench: &Bench, store: &Store) -> Result<Subject, Failure> {
    let text: &'static BoardText = Box::leak(Box::new(text));
    let (extracted, notices) = extract(text.board());
    text.refuse_errors(&notices)?;
    text.refuse_errors(&extracted.refuse_edges())?;
    // What the records tell changes how suspects are weighed, not the steps: the log counts by those.
    let table = priors::own(&bench.priors)?;
    let weighed = if bench.priors.table.is_some() {
        table.clone()
    } else {
        priors::learnt(text.board(), &table, store)?
    };
    let limit = supply_draw(&extracted).map(|draw| draw.limit);
    let study = Study::new(Box::leak(Box::new(extracted)), &table);
    let procedure = planned(&study);
    Ok(Subject { limit, ..Subject::kept(study, procedure, weighed) })
}

/// A serial number that can stand on a board and in a table.
fn serial_of(serial: &str) -> Result<String, Failure> {
    let serial = serial.trim();
    if serial.is_empty() || serial.chars().count() > 40 || serial.chars().any(char::is_control) {
        let text = "a unit's serial number has 1 to 40 letters, digits or signs, such as --unit 7";
        return Err(Failure::Input(text.to_owned()));
    }
    if serial.starts_with("practice ") {
        return Err(Failure::Input("`practice …` is the name of virtual units; give another".to_owned()));
    }
    Ok(serial.to_owned())
}

fn failed(failure: PageFailure) -> Failure {
    match failure {
        PageFailure::Store(error) => Failure::Input(error.to_string()),
        other => Failure::Computation(other.to_string()),
    }
}

/// The address of this machine that leads outside. Nothing is sent: a datagram socket that is told its
/// peer only looks the way up. The peer is of the block that documents use (RFC 5737).
fn outward() -> Result<IpAddr, Failure> {
    let found = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).and_then(|socket| {
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        socket.local_addr()
    });
    match found {
        Ok(address) if !address.ip().is_unspecified() => Ok(address.ip()),
        _ => Err(Failure::Input(
            "this machine is in no network; name its address: --listen 192.168.1.20".to_owned(),
        )),
    }
}

/// Opens the browser; where there is none, the address stands in the terminal.
fn browse(url: &str) {
    let (program, before): (&str, &[&str]) = if cfg!(windows) {
        ("rundll32", &["url.dll,FileProtocolHandler"])
    } else if cfg!(target_os = "macos") {
        ("open", &[])
    } else {
        ("xdg-open", &[])
    };
    let quiet = || Stdio::null();
    let _ =
        Command::new(program).args(before).arg(url).stdin(quiet()).stdout(quiet()).stderr(quiet()).spawn();
}
