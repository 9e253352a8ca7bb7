//! Addresses, and what a browser may send.

use crate::gate::HEADERS;
use crate::page::{Failure, Page};
use crate::task::Task;
use crate::work::{Refusal, Work, now, sight_named};
use crate::{before, frame, log, step, suspects, units};
use axum::Router;
use axum::extract::{DefaultBodyLimit, Form, Path, Request, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, Uri, header};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use dryjoint_board::PartId;
use dryjoint_ids::Id;
use dryjoint_records::{Entry, Kind, Read, Sort, StoreError};
use dryjoint_session::Sight;
use dryjoint_units::{Amps, Ohms, Volts};
use dryjoint_verdict::Deed;
use maud::Markup;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio_stream::StreamExt as _;
use tokio_stream::wrappers::WatchStream;

const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("page.js");

/// A form is a few hundred bytes; a board of very many lamps a few thousand.
const MOST_BYTES: usize = 64 * 1024;
/// A note's length.
const MOST_TEXT: usize = 2_000;
/// Threads that wait for the disk.
const WAITING: usize = 8;
/// How often the store is asked whether another process wrote to it.
const GLANCE: Duration = Duration::from_secs(1);

type Shared = State<Arc<Page>>;

/// What a form holds.
struct Fields(Vec<(String, String)>);

impl Fields {
    fn get(&self, name: &str) -> &str {
        self.0.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value)
    }

    /// The count of entries that its maker had seen.
    fn after(&self) -> usize {
        self.get("after").parse().unwrap_or(usize::MAX)
    }

    /// The key under which it is kept, so that it is kept once.
    fn key(&self) -> Result<&str, Refusal> {
        let key = self.get("key");
        let fit = (8..=64).contains(&key.len()) && key.bytes().all(|byte| byte.is_ascii_alphanumeric());
        if fit { Ok(key) } else { Err(Refusal::Unfit("the form has no key of its own".to_owned())) }
    }

    fn text(&self) -> Result<&str, Refusal> {
        let text = self.get("text").trim();
        if text.len() <= MOST_TEXT {
            Ok(text)
        } else {
            Err(Refusal::Unfit("the text is too long".to_owned()))
        }
    }

    /// Lamps that were marked.
    fn marks(&self, work: &Work) -> Result<Vec<(PartId, Sight)>, Refusal> {
        let named = self.0.iter().filter_map(|(name, value)| Some((name.strip_prefix("lamp.")?, value)));
        let mut marks = Vec::new();
        for (lamp, word) in named.filter(|(_, word)| !word.is_empty()) {
            let part = work.subject.lamp(lamp);
            let part = part.ok_or_else(|| Refusal::Unfit(format!("this board has no lamp {lamp}")))?;
            let sight = sight_named(word);
            let sight = sight.ok_or_else(|| Refusal::Unfit(format!("{word} is no look of a lamp")))?;
            marks.push((part, sight));
        }
        Ok(marks)
    }
}

impl Page {
    /// Serves the page on a listener of this machine, without end.
    pub fn serve(self: Arc<Self>, listener: std::net::TcpListener) -> Result<(), Failure> {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .max_blocking_threads(WAITING)
            .build()
            .map_err(Failure::Network)?;
        runtime
            .block_on(async {
                listener.set_nonblocking(true)?;
                let listener = tokio::net::TcpListener::from_std(listener)?;
                let page = Arc::clone(&self);
                tokio::spawn(async move {
                    loop {
                        tokio::time::sleep(GLANCE).await;
                        let page = Arc::clone(&page);
                        // Where it fails now it is tried again.
                        let _ = tokio::task::spawn_blocking(move || page.catch_up()).await;
                    }
                });
                axum::serve(listener, router(self)).await
            })
            .map_err(Failure::Network)
    }
}

fn router(page: Arc<Page>) -> Router {
    Router::new()
        .route("/", get(async || Redirect::to("/step")))
        .route("/enter/{token}", get(enter))
        .route("/page.css", get(async || asset("text/css; charset=utf-8", STYLE)))
        .route("/page.js", get(async || asset("text/javascript; charset=utf-8", SCRIPT)))
        .route("/live", get(live))
        .route(
            "/before",
            get(async |page: Shared| {
                shown(page, "/before", "Before power", |page, work| Ok(before::screen(work, &page.before)))
                    .await
            }),
        )
        .route("/step", get(step_screen))
        .route(
            "/step/procedure",
            get(async |page: Shared| {
                shown(page, "/step", "Step", |page, work| {
                    Ok(step::procedure(page, work).unwrap_or_else(|| step::screen(page, work, false)))
                })
                .await
            }),
        )
        .route(
            "/suspects",
            get(async |page: Shared| {
                shown(page, "/suspects", "Suspects", |page, work| Ok(suspects::screen(page, work))).await
            }),
        )
        .route(
            "/log",
            get(async |page: Shared| shown(page, "/log", "Log", |_, work| Ok(log::screen(work))).await),
        )
        .route("/log/{key}", get(correct_screen))
        .route(
            "/units",
            get(async |page: Shared| shown(page, "/units", "All units", |_, work| units::screen(work)).await),
        )
        .route("/units/{id}", get(unit_screen))
        .route("/take", post(async |page: Shared, form| entered(page, form, "/step", take).await))
        .route("/measure", post(async |page: Shared, form| entered(page, form, "", measure).await))
        .route("/noticed", post(async |page: Shared, form| entered(page, form, "/step", noticed).await))
        .route("/undo", post(async |page: Shared, form| entered(page, form, "/step", undo).await))
        .route("/afresh", post(async |page: Shared, form| entered(page, form, "/step", afresh).await))
        .route("/meter", post(async |page: Shared, form| entered(page, form, "/step", meter).await))
        .route("/note", post(async |page: Shared, form| entered(page, form, "", note).await))
        .route("/repair", post(async |page: Shared, form| entered(page, form, "", repair).await))
        .route("/correct", post(async |page: Shared, form| entered(page, form, "/log", correct).await))
        .fallback(async || {
            (StatusCode::NOT_FOUND, frame::bare("No such screen", "There is nothing at this address.", true))
        })
        .layer(DefaultBodyLimit::max(MOST_BYTES))
        .layer(from_fn_with_state(Arc::clone(&page), guard))
        .with_state(page)
}

/// Refuses whoever may not come in, and puts the headers on every answer.
async fn guard(State(page): Shared, request: Request, next: Next) -> Response {
    let path = request.uri().path();
    let entering = path.starts_with("/enter/") || path == "/page.css";
    let refused = page.gate.refusal(request.method(), request.headers(), entering);
    let mut answer = match refused {
        Some((status, why)) => (status, frame::bare("Not let in", why, false)).into_response(),
        None => next.run(request).await,
    };
    for (name, value) in HEADERS {
        answer.headers_mut().insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    answer
}

async fn enter(State(page): Shared, Path(token): Path<String>) -> Response {
    if !page.gate.knows(&token) {
        let why = "That is not the token of this page. Open the address that the terminal shows.";
        return (StatusCode::FORBIDDEN, frame::bare("Not let in", why, false)).into_response();
    }
    let fresh = page.work().entries().is_empty();
    let to = if fresh { "/before" } else { "/step" };
    ([(header::SET_COOKIE, page.gate.cookie())], Redirect::to(to)).into_response()
}

fn asset(kind: &'static str, text: &'static str) -> Response {
    ([(header::CONTENT_TYPE, kind)], text).into_response()
}

/// Does something that may wait for the disk or another tab.
async fn waiting(work: impl FnOnce() -> Response + Send + 'static) -> Response {
    tokio::task::spawn_blocking(work).await.unwrap_or_else(|_| {
        let why = "Something went wrong inside the program. What was shown as taken is stored.";
        (StatusCode::INTERNAL_SERVER_ERROR, frame::bare("An error", why, true)).into_response()
    })
}

/// One screen.
async fn shown(
    State(page): Shared,
    here: &'static str,
    title: &'static str,
    screen: impl FnOnce(&Arc<Page>, &Work) -> Result<Markup, StoreError> + Send + 'static,
) -> Response {
    waiting(move || {
        let work = page.work();
        match screen(&page, &work) {
            Ok(main) => frame::page(&work, here, title, &main).into_response(),
            Err(error) => unstored(&error.to_string()),
        }
    })
    .await
}

fn unstored(why: &str) -> Response {
    (StatusCode::INTERNAL_SERVER_ERROR, frame::bare("The records", why, true)).into_response()
}

fn unknown() -> Response {
    (StatusCode::NOT_FOUND, frame::bare("No such entry", "It was taken back, or never made.", true))
        .into_response()
}

async fn step_screen(State(page): Shared, address: Uri) -> Response {
    let late = address.query() == Some("late=1");
    shown(State(page), "/step", "Step", move |page, work| Ok(step::screen(page, work, late))).await
}

async fn correct_screen(State(page): Shared, Path(key): Path<String>) -> Response {
    waiting(move || {
        let work = page.work();
        let main = log::correct(&work, &key);
        main.map_or_else(unknown, |main| frame::page(&work, "/log", "Correct", &main).into_response())
    })
    .await
}

async fn unit_screen(State(page): Shared, Path(id): Path<i64>) -> Response {
    waiting(move || {
        let work = page.work();
        let units = match work.store.units() {
            Ok(units) => units,
            Err(error) => return unstored(&error.to_string()),
        };
        let Some(unit) = units.iter().find(|unit| unit.id.0 == id) else { return unknown() };
        match log::other(&work, unit) {
            Ok(main) => frame::page(&work, "/units", "Log", &main).into_response(),
            Err(error) => unstored(&error.to_string()),
        }
    })
    .await
}

/// Tells of every change, for as long as the tab is open.
async fn live(State(page): Shared) -> Response {
    let Ok(permit) = Arc::clone(&page.listeners).try_acquire_owned() else {
        return (StatusCode::TOO_MANY_REQUESTS, "too many tabs hear of changes").into_response();
    };
    let changes = WatchStream::new(page.listen()).map(move |version| {
        let _held = &permit;
        Ok::<Event, Infallible>(Event::default().data(version.to_string()))
    });
    Sse::new(changes).keep_alive(KeepAlive::default()).into_response()
}

/// Enters what a form says; on the disk before the answer.
async fn entered(
    State(page): Shared,
    Form(fields): Form<Vec<(String, String)>>,
    to: &'static str,
    enter: fn(&Page, &mut Work, &Fields) -> Result<(), Refusal>,
) -> Response {
    waiting(move || {
        let fields = Fields(fields);
        // Where to go back to is one of our own addresses and nothing else.
        let back = frame::SCREENS.iter().map(|(path, ..)| *path).find(|path| *path == fields.get("back"));
        let to = if to.is_empty() { back.unwrap_or("/step") } else { to };
        let result = {
            let mut work = page.work();
            let known = work.entries().iter().any(|entry| entry.key == fields.get("key"));
            if known { Ok(()) } else { enter(&page, &mut work, &fields) }
        };
        match result {
            Ok(()) => {
                page.entered();
                Redirect::to(to).into_response()
            }
            Err(Refusal::Late) => {
                page.entered();
                Redirect::to("/step?late=1").into_response()
            }
            Err(Refusal::Unfit(why)) => {
                let why = format!("Not taken: {why}.");
                (StatusCode::UNPROCESSABLE_ENTITY, frame::bare("Not taken", &why, true)).into_response()
            }
            Err(Refusal::Store(why)) => unstored(&format!("Not taken, nothing was stored: {why}")),
        }
    })
    .await
}

fn take(page: &Page, work: &mut Work, fields: &Fields) -> Result<(), Refusal> {
    let named = fields.get("step");
    let is_named = |task: &Task| match task {
        Task::Do(Deed::Look { step, .. }) => {
            step.map_or(String::new(), |step| (step.index() + 1).to_string()) == named
        }
        _ => false,
    };
    let task = page.task(work);
    let other = work.next_step().map(|step| Task::step(work, step));
    let task = [Some(task), other].into_iter().flatten().find(is_named);
    let Some(Task::Do(Deed::Look { step, actions, expect })) = task else { return Err(Refusal::Late) };
    let entry = work.look(fields.key()?, step, &actions, &expect, &fields.marks(work)?);
    work.keep(fields.after(), entry)
}

fn measure(page: &Page, work: &mut Work, fields: &Fields) -> Result<(), Refusal> {
    let unfit = |why: String| Refusal::Unfit(why);
    let sort = Sort::of(fields.get("sort")).ok_or_else(|| unfit("that cannot be measured".to_owned()))?;
    let what = if sort == Sort::Supply { "" } else { fields.get("what") };
    let net =
        |name: &str| work.subject.net(name).ok_or_else(|| unfit(format!("this board has no net {name}")));
    let value = fields.get("value").trim();
    // What was asked to be done first is what the bench's next task says, or the form is an old one.
    let actions = match page.task(work) {
        Task::Do(Deed::Volts { actions, net, .. })
            if !fields.get("prepared").is_empty() && work.subject.board().nets[net].name == what =>
        {
            actions
        }
        _ if fields.get("prepared").is_empty() => Vec::new(),
        _ => return Err(Refusal::Late),
    };
    let unread = |error: dryjoint_units::ParseQuantityError| unfit(error.to_string());
    let no_reading = !fields.get("open").is_empty() || matches!(value, "open" | "OL" | "ol" | "no reading");
    let figure = match sort {
        Sort::Ohms if page.practice().is_some() => {
            let mut practice = page.practice().ok_or(Refusal::Late)?;
            let (red, black) = (net(what)?, net(fields.get("other"))?);
            practice.ohms(red, black).map_err(|failure| unfit(failure.to_string()))?.map(|ohms| ohms.0)
        }
        Sort::Volts | Sort::Supply if page.practice().is_some() => {
            let mut practice = page.practice().ok_or(Refusal::Late)?;
            let unit =
                practice.after(work.stand(), &actions).map_err(|failure| unfit(failure.to_string()))?;
            // A meter on its 20 V range shows hundredths.
            let volts = || unit.volts(net(what).ok()?).map(|volts| (volts.0 * 100.0).round() / 100.0);
            let read = if sort == Sort::Supply { Some(unit.supply().0) } else { volts() };
            Some(read.ok_or_else(|| unfit(format!("no lead reaches {what}")))?)
        }
        Sort::Volts => Some(net(what).and(Volts::parse(value).map_err(unread)).map(|volts| volts.0)?),
        Sort::Supply => Some(Amps::parse(value).map_err(unread)?.0),
        Sort::Ohms => {
            net(what).and(net(fields.get("other")))?;
            if no_reading { None } else { Some(Ohms::parse(value).map_err(unread)?.0) }
        }
        Sort::Lamp | Sort::Hot | Sort::Smelt | Sort::Sound => {
            return Err(unfit("that cannot be measured".to_owned()));
        }
    };
    let mut read = Read { value: figure, ..Read::figure(sort, what, 0.0) };
    if sort == Sort::Ohms {
        fields.get("other").clone_into(&mut read.other);
    }
    let mut entry = Entry::new(fields.key()?, now(), Kind::Measure);
    entry.actions = actions.iter().map(|action| work.subject.written(*action)).collect();
    if sort == Sort::Ohms && !work.stand().session.is_off() {
        entry.actions.push("power off".to_owned());
    }
    entry.readings.push(read);
    work.keep(fields.after(), entry)
}

fn noticed(_: &Page, work: &mut Work, fields: &Fields) -> Result<(), Refusal> {
    let what = fields.get("what");
    let read = match Sort::of(fields.get("sort")) {
        Some(Sort::Smelt) => Read::noticed(Sort::Smelt, ""),
        Some(sort @ (Sort::Hot | Sort::Sound)) if work.subject.part(what).is_some() => {
            Read::noticed(sort, what)
        }
        Some(Sort::Hot | Sort::Sound) => {
            return Err(Refusal::Unfit(format!("this board has no part {what}")));
        }
        _ => return Err(Refusal::Unfit("nobody can notice that".to_owned())),
    };
    let mut entry = Entry::new(fields.key()?, now(), Kind::Measure);
    entry.readings.push(read);
    work.keep(fields.after(), entry)
}

fn undo(_: &Page, work: &mut Work, fields: &Fields) -> Result<(), Refusal> {
    work.undo(fields.key()?, fields.after())
}

fn afresh(_: &Page, work: &mut Work, fields: &Fields) -> Result<(), Refusal> {
    let entry = Entry::new(fields.key()?, now(), Kind::Afresh);
    work.keep(fields.after(), entry)
}

fn meter(_: &Page, work: &mut Work, fields: &Fields) -> Result<(), Refusal> {
    work.meter = !fields.get("meter").is_empty();
    Ok(())
}

fn note(_: &Page, work: &mut Work, fields: &Fields) -> Result<(), Refusal> {
    let mut entry = Entry::new(fields.key()?, now(), Kind::Note);
    fields.text()?.clone_into(&mut entry.text);
    if entry.text.is_empty() {
        return Err(Refusal::Unfit("the note is empty".to_owned()));
    }
    work.keep(fields.after(), entry)
}

fn repair(page: &Page, work: &mut Work, fields: &Fields) -> Result<(), Refusal> {
    let fault = fields.get("fault");
    let probability = page.opinion().and_then(|opinion| {
        let id = work.subject.fault(fault)?;
        let suspect = opinion.verdict.suspects.get(opinion.verdict.place_of(id)?)?;
        Some(suspect.probability)
    });
    let entry = work.repair(fields.key()?, fault, probability, fields.text()?);
    work.keep(fields.after(), entry)
}

fn correct(_: &Page, work: &mut Work, fields: &Fields) -> Result<(), Refusal> {
    let about = fields.get("about");
    let wrong = work.stand().entries.iter().find(|entry| entry.key == about && entry.kind == Kind::Look);
    let Some(wrong) = wrong else { return Err(Refusal::Late) };
    let marks = fields.marks(work)?;
    let board = work.subject.board();
    let mut entry = Entry::new(fields.key()?, now(), Kind::Correction);
    about.clone_into(&mut entry.about);
    for read in &wrong.readings {
        let mark = marks.iter().find(|(lamp, _)| board.parts[*lamp].reference == read.what);
        let mut read = read.clone();
        if let Some((_, sight)) = mark {
            sight.word().clone_into(&mut read.sight);
        }
        if read.sight != Sight::NotLooked.word() {
            entry.readings.push(read);
        }
    }
    work.keep(fields.after(), entry)
}
