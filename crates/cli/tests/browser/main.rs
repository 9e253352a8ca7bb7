//! The page in a real browser: whole sessions by keyboard and by clicks, a wrong lamp up to the verdict,
//! a killed program, two tabs, strangers, and how every screen looks.
//!
//! Pictures of every screen, light and dark, narrow and wide, are written below the target folder;
//! `BLESS=1` puts those that README shows into `docs/bench`.

#![allow(clippy::print_stderr, reason = "a check that is skipped says so")]

mod access;
mod driver;
mod http;
mod looks;
mod server;

use driver::Browser;
use server::{Server, folder};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// One browser at a time: each is a dozen processes.
static TURN: Mutex<()> = Mutex::new(());

fn turn() -> MutexGuard<'static, ()> {
    TURN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Enter, as the browser is told it.
const ENTER: &str = "\u{e007}";
const RIGHT: &str = "\u{e014}";

/// The number of steps of the register's procedure, as the page tells it.
fn steps(browser: &Browser) -> usize {
    browser.text("h1").split_whitespace().nth(3).unwrap().parse().unwrap()
}

#[test]
fn a_whole_session_by_keyboard_alone() {
    let _turn = turn();
    let Some(browser) = Browser::start() else { return };
    let server = Server::start(&folder("keyboard"), &["--unit", "7"]);
    browser.open(&server.url);
    browser.heading("Before power");
    browser.keys("s");
    browser.heading("Step 1 of");
    let steps = steps(&browser);
    browser.keys(" ");
    browser.heading("Step 2 of");
    // A wrong mark, taken off again before it is sent, and a reading taken back.
    browser.keys(RIGHT);
    browser.keys("0");
    assert!(browser.text("#take").starts_with("Take: DS4 dark, rest as expected"));
    browser.keys("1");
    assert!(browser.text("#take").starts_with("As expected"));
    browser.keys(" ");
    browser.heading("Step 3 of");
    browser.keys("u");
    browser.heading("Step 2 of");
    browser.keys("n");
    browser.keys("flux on J1");
    browser.keys(ENTER);
    browser.wait("the note to be kept", "return document.querySelector('main').dataset.after === '4'");
    for step in 2..steps {
        browser.keys(" ");
        browser.heading(&format!("Step {} of", step + 1));
    }
    browser.keys(" ");
    browser.heading("This unit passes");
    browser.keys("l");
    browser.heading("Log of unit 7");
    let log = browser.text("main");
    assert!(log.contains("flux on J1") && log.contains("taken back"), "{log}");
    browser.keys("a");
    browser.heading("All units");
    assert!(browser.text("main").contains("100 %"), "passed without a repair");
}

#[test]
fn a_whole_session_by_clicks_with_a_correction() {
    let _turn = turn();
    let Some(browser) = Browser::start() else { return };
    let server = Server::start(&folder("clicks"), &["--unit", "8"]);
    browser.open(&server.url);
    browser.heading("Before power");
    browser.click("main a.primary");
    browser.heading("Step 1 of");
    let steps = steps(&browser);
    browser.click("#take");
    browser.heading("Step 2 of");
    // A lamp marked by mistake, sent, and corrected in the log: the procedure then goes on.
    browser.click("[data-lamp=DS1]");
    assert!(browser.text("#take").starts_with("Take: DS1 dark"));
    browser.click("#take");
    browser.wait(
        "something that tells the suspects apart",
        "const h = document.querySelector('h1'); return document.readyState === 'complete' && !!h \
         && /^(Measure|What tells most|Read the supply)/.test(h.innerText)",
    );
    browser.click("nav a[href='/log']");
    browser.heading("Log of unit 8");
    browser.click("main .log a");
    browser.heading("Correct: step 2: DS1 dark");
    browser.run("document.querySelector(\"[name='lamp.DS1']\").value = 'lit'");
    browser.click("main button.primary");
    browser.heading("Log of unit 8");
    browser.click("nav a[href='/step']");
    for step in 3..=steps {
        browser.heading(&format!("Step {step} of"));
        browser.click("#take");
    }
    browser.heading("This unit passes");
}

/// Marks what the virtual unit's lamps show otherwise than they must, and takes the reading.
const LOOK: &str = "
    for (const one of document.querySelectorAll('.bench .one')) {
        const name = one.querySelector('.reference').innerText, seen = one.querySelector('.word').innerText;
        const lamp = document.querySelector(`[data-lamp=${name}]`);
        for (let taps = 0; taps < 4; taps++) {
            const now = lamp.querySelector('input').value || lamp.dataset.must;
            if (now === seen || now === 'either' && taps > 2) break;
            lamp.click();
        }
    }
    document.querySelector('#take').click();";

#[test]
fn a_wrong_lamp_leads_to_a_verdict_in_practice() {
    let _turn = turn();
    let Some(browser) = Browser::start() else { return };
    let server = Server::start(&folder("practice"), &["--practice", "3"]);
    browser.open(&server.url);
    browser.open(&server.at("/step"));
    let mut surprised = false;
    for _ in 0..60 {
        browser.wait(
            "something to do",
            "const h = document.querySelector('h1'); \
            return document.readyState === 'complete' && !!h && h.innerText !== 'One moment'",
        );
        let heading = browser.text("h1");
        surprised |= heading.starts_with("What tells most") || heading.starts_with("Measure");
        if heading == "The verdict" {
            break;
        }
        let before = browser.run("return document.querySelector('main').dataset.after");
        if heading.starts_with("Measure") || heading.starts_with("Read the supply") {
            browser.keys(" ");
        } else {
            browser.run(LOOK);
        }
        browser.wait(
            "the reading to be taken",
            &format!("return document.querySelector('main').dataset.after !== {before}"),
        );
    }
    assert!(surprised, "a fault that some step shows was noticed");
    browser.heading("The verdict");
    browser.click("main a.primary");
    browser.heading("Suspects");
    assert!(
        browser.run("return !!document.querySelector('.map .look')").as_bool().unwrap(),
        "marks on the map"
    );
    let first = browser.text(".suspects .names");
    browser.click(".repair button");
    browser.heading("What was hidden");
    let hidden = browser.text("main .do");
    assert!(first.split(", ").any(|name| name == hidden), "{hidden} is not among {first}");
    browser.wait(
        "the best possible",
        "return !document.querySelector('main').innerText.includes('being worked out')",
    );
    let score = browser.text("table");
    assert!(score.contains("Yours") && score.contains("looks"), "{score}");
}

#[test]
fn a_killed_program_resumes_where_it_was() {
    let _turn = turn();
    let Some(browser) = Browser::start() else { return };
    let folder = folder("killed");
    let server = Server::start(&folder, &["--unit", "9"]);
    browser.open(&server.url);
    browser.open(&server.at("/step"));
    for step in 1..=3 {
        browser.heading(&format!("Step {step} of"));
        if step == 3 {
            break;
        }
        browser.keys(" ");
    }
    let form =
        browser.run("return new URLSearchParams(new FormData(document.querySelector('#look'))).toString()");
    browser.keys(" ");
    browser.heading("Step 4 of");
    server.kill();
    let server = Server::start(&folder, &["--unit", "9"]);
    browser.open(&server.url);
    browser.heading("Step 4 of");
    // The form of step 3 once more, as a browser that heard no answer would send it.
    let again = server.submit("/take", form.as_str().unwrap());
    assert_eq!(again.status, 303);
    browser.open(&server.at("/log"));
    browser.heading("Log of unit 9");
    assert_eq!(
        browser.run("return document.querySelectorAll('.log li').length"),
        3,
        "nothing lost, nothing twice"
    );
}

#[test]
fn two_tabs_stay_in_step() {
    let _turn = turn();
    let Some(browser) = Browser::start() else { return };
    let server = Server::start(&folder("tabs"), &["--unit", "10"]);
    browser.open(&server.url);
    browser.open(&server.at("/step"));
    browser.heading("Step 1 of");
    let late =
        browser.run("return new URLSearchParams(new FormData(document.querySelector('#look'))).toString()");
    let (first, second) = browser.second_tab();
    browser.open(&server.at("/step"));
    browser.heading("Step 1 of");
    browser.run("window.sameDocument = true");
    browser.turn(&first);
    browser.keys(" ");
    browser.heading("Step 2 of");
    browser.turn(&second);
    browser.heading("Step 2 of");
    assert_eq!(browser.run("return window.sameDocument"), true, "it was told, and not loaded anew");
    // A form made before that reading, with a key of its own.
    let late = late.as_str().unwrap().replacen("key=", "key=aaaaaaaa", 1);
    assert!(server.submit("/take", &late).head.contains("/step?late=1"));
    browser.open(&server.at("/step?late=1"));
    assert!(browser.text("[role=alert]").starts_with("Not taken"));
    browser.heading("Step 2 of");
}
