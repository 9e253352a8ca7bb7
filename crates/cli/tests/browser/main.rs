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

/// What the virtual unit's lamps show.
const LOOK: &str = "
    const shown = [...document.querySelectorAll('.bench .one')].map(one =>
        [one.querySelector('.reference').innerText, one.querySelector('.word').innerText]);";

/// Marks them on the page that is open, and takes the reading.
const MARK: &str = "
    for (const [name, seen] of shown) {
        const lamp = document.querySelector(`[data-lamp=${name}]`);
        for (let taps = 0; taps < 4; taps++) {
            const now = lamp.querySelector('input').value || lamp.dataset.must;
            if (now === seen || now === 'either' && taps > 2) break;
            lamp.click();
        }
    }
    document.querySelector('#take').click();";

/// Something to do, or the verdict: the heading.
fn asked(browser: &Browser) -> String {
    browser.wait(
        "something to do",
        "const h = document.querySelector('h1'); \
         return document.readyState === 'complete' && !!h && h.innerText !== 'One moment'",
    );
    let heading = browser.text("h1");
    assert_ne!(heading, "Not let in");
    heading
}

/// Does what the page asks, in practice: a space holds the leads there, and the virtual lamps are copied.
fn done(browser: &Browser, heading: &str) {
    let before = browser.run("return document.querySelector('main').dataset.after");
    if heading.starts_with("Measure") || heading.starts_with("Read the supply") {
        browser.keys(" ");
    } else {
        browser.run(&format!("{LOOK}{MARK}"));
    }
    taken(browser, &before);
}

/// Presses a button from within the page: news of what the suspects say now may move it at any moment, and a
/// mouse would press beside it.
fn press(browser: &Browser, button: &str) {
    browser.run(&format!("document.querySelector({button:?}).click()"));
}

fn taken(browser: &Browser, before: &serde_json::Value) {
    browser.wait(
        "the reading to be taken",
        &format!("return document.querySelector('main').dataset.after !== {before}"),
    );
}

/// Numbers of hidden faults that were told apart by a prepared voltage and then by ohms when this was written. What
/// is asked may change with the advice; one of them will do.
const BY_BOTH: [u64; 5] = [4, 10, 2, 43, 19];

/// Hunts to the verdict: what had to be done before a voltage, and for ohms; empty where none was asked for.
fn hunted(browser: &Browser, server: &Server) -> (String, String) {
    browser.open(&server.url);
    browser.open(&server.at("/step"));
    let (mut prepared, mut dead) = (String::new(), String::new());
    for _ in 0..60 {
        let heading = asked(browser);
        if heading == "The verdict" {
            break;
        }
        if browser.run("return !!document.querySelector('[name=prepared]')").as_bool().unwrap() {
            prepared = browser.text("ol.do li");
        }
        if heading == "Measure with power off" {
            dead = browser.text("ol.do");
        }
        done(browser, &heading);
    }
    browser.heading("The verdict");
    (prepared, dead)
}

/// A fault of which as the board stands nothing tells more, then nothing with power on: a line is moved and
/// a voltage measured, then ohms, and the fault is named.
#[test]
fn a_wrong_lamp_leads_over_a_prepared_voltage_and_ohms_to_the_fault() {
    let _turn = turn();
    let Some(browser) = Browser::start() else { return };
    let hunt = |number: &u64| {
        let server = Server::start(&folder("practice"), &["--practice", &number.to_string()]);
        let (prepared, dead) = hunted(&browser, &server);
        (!prepared.is_empty() && !dead.is_empty()).then_some((server, prepared, dead))
    };
    let (server, prepared, dead) = BY_BOTH.iter().find_map(hunt).expect("one of them is hunted by both");
    let moves = ["tie", "take the jumper", "touch"];
    assert!(moves.iter().any(|one| prepared.starts_with(one)), "first a line is moved: {prepared}");
    for wanted in ["Switch the supply off", "capacitors are empty", "Red lead on", "Black lead on"] {
        assert!(dead.contains(wanted), "{wanted}: {dead}");
    }
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
    assert!(browser.text("main").contains("You found it."), "{first}");
    browser.wait(
        "the best possible",
        "return !document.querySelector('main').innerText.includes('being worked out')",
    );
    let score = browser.text("table");
    assert!(score.contains("Yours") && score.contains("looks"), "{score}");
    browser.open(&server.at("/log"));
    browser.heading("Log of unit");
    let lines = browser.run(
        "return [...document.querySelectorAll('.log li')].map(e => e.innerText).filter(t => / to /.test(t))",
    );
    assert!(lines.to_string().contains("power off"), "the log names what was done for the ohms: {lines}");
    let moved = browser.run(
        "return [...document.querySelectorAll('.log li')].map(e => e.innerText) \
         .filter(t => /[0-9][mu]?V/.test(t) && /(tie|release|pulse) /.test(t)).length",
    );
    let log = browser.text("main");
    assert!(moved.as_u64().unwrap() > 0, "the log names what was done for the volts: {log}");
}

/// Who has no meter says so and is asked for lamps only; who has one again is asked for figures again.
#[test]
fn without_a_meter_the_advice_is_by_lamps_alone() {
    let server = Server::start(&folder("no-meter"), &["--unit", "1"]);
    for (step, lamps) in [(1, ""), (2, "&lamp.DS2=dark")] {
        let form = format!("key=lamps{step:06}&after={}&step={step}{lamps}", step - 1);
        assert_eq!(server.submit("/take", &form).status, 303);
    }
    let advised = || loop {
        let step = server.read("/step").body;
        if !step.contains("One moment") {
            return step;
        }
        std::thread::sleep(std::time::Duration::from_millis(50));
    };
    assert!(advised().contains("Meter on volts"), "a voltage tells most here");
    assert_eq!(server.submit("/meter", "key=lamps000003&after=2&meter=").status, 303);
    let step = advised();
    assert!(step.contains("by lamps alone, as no meter is at hand") && !step.contains("Meter on"), "{step}");
    assert!(
        step.contains("Now look at the lamps") && step.contains("You see"),
        "what the lamps would mean: {step}"
    );
    assert_eq!(server.submit("/meter", "key=lamps000004&after=2&meter=yes").status, 303);
    assert!(advised().contains("Meter on volts"), "with a meter the same as before");
    let server = Server::start(&folder("no-meter-asked"), &["--unit", "2", "--no-meter"]);
    assert!(server.read("/step").body.contains("by lamps alone, as no meter is at hand"));
}

/// Before power the virtual unit is measured too: nobody types what its meter shows.
#[test]
fn the_virtual_unit_is_measured_before_power() {
    let server = Server::start(&folder("before"), &["--practice", "2"]);
    let before = server.read("/before").body;
    assert!(before.contains("Hold them there") && !before.contains("Ohms read between"));
    let form = "key=aaaaaaaaaa&after=0&sort=ohms&what=VCC&other=GND&back=/before";
    assert_eq!(server.submit("/measure", form).status, 303);
    assert!(server.read("/log").body.contains("VCC to GND "), "the figure is in the log");
    let step = server.read("/step").body;
    assert!(
        step.contains("Step 1 of") && step.contains("Switch the supply on"),
        "the procedure is still to begin"
    );
}

/// What an entry was, as the button that takes it back says.
fn entered(browser: &Browser) -> String {
    let text = browser.text("form[action='/undo'] button");
    text.trim_start_matches("Take back: ").trim_end_matches('u').trim().to_owned()
}

/// What the virtual unit shows, entered by hand for a real one, asks for the same things in the same order; and
/// a meter on ohms that shows no reading is entered by its button, and taken back.
#[test]
fn a_real_unit_that_shows_the_same_is_asked_the_same() {
    let _turn = turn();
    let Some(browser) = Browser::start() else { return };
    assert!(BY_BOTH.iter().any(|number| mirrored(&browser, *number)), "ohms were asked for once");
}

/// Hunts a virtual unit and enters what it shows for a real one; whether ohms were asked for.
fn mirrored(browser: &Browser, number: u64) -> bool {
    let practice = Server::start(&folder("same-practice"), &["--practice", &number.to_string()]);
    let real = Server::start(&folder("same-real"), &["--unit", "14"]);
    for server in [&practice, &real] {
        browser.open(&server.url);
    }
    let after = || browser.run("return document.querySelector('main').dataset.after");
    let mut by_ohms = false;
    for _ in 0..60 {
        browser.open(&practice.at("/step"));
        let heading = asked(browser);
        let lamps = browser.run(&format!("{LOOK} return shown;"));
        if heading != "The verdict" {
            done(browser, &heading);
        }
        let shown = entered(browser);
        browser.open(&real.at("/step"));
        let same = asked(browser);
        assert_eq!(same, heading, "{}", browser.text("main"));
        if heading == "The verdict" {
            break;
        }
        if heading == "Measure with power off" && !by_ohms {
            by_ohms = true;
            for (button, wanted) in [("#open", true), ("form[action='/undo'] button", false)] {
                let before = after();
                press(browser, button);
                taken(browser, &before);
                assert_eq!(entered(browser).ends_with("no reading"), wanted);
            }
            browser.open(&real.at("/step"));
            assert_eq!(asked(browser), heading, "what was taken back is asked for again");
        }
        let before = after();
        let figure = shown.rsplit(' ').next().unwrap();
        if heading == "Measure with power off" && shown.ends_with("no reading") {
            press(browser, "#open");
        } else if heading.starts_with("Measure") || heading.starts_with("Read") {
            browser.run(&format!(
                "document.querySelector('#value').value = {figure:?}; \
                 document.querySelector('form.measure button.primary').click()"
            ));
        } else {
            browser.run(&format!("const shown = {lamps};{MARK}"));
        }
        taken(browser, &before);
        assert_eq!(entered(browser), shown);
    }
    browser.heading("The verdict");
    by_ohms
}

#[test]
fn a_smell_a_hot_part_and_ohms_of_ones_own_are_kept() {
    let _turn = turn();
    let Some(browser) = Browser::start() else { return };
    let folder = folder("noticed");
    let server = Server::start(&folder, &["--unit", "15"]);
    browser.open(&server.url);
    browser.open(&server.at("/step"));
    browser.heading("Step 1 of");
    browser.keys(" ");
    browser.heading("Step 2 of");
    browser.keys(" ");
    browser.heading("Step 3 of");
    browser.click("#noticed summary");
    browser.click("#noticed button[value=smelt]");
    browser.wait("the smell to be kept", "return document.querySelector('main').dataset.after === '3'");
    browser.click("#noticed summary");
    browser.click("#noticed input[name=what]");
    browser.keys("Q3");
    browser.click("#noticed button[value=hot]");
    browser.wait("the hot part to be kept", "return document.querySelector('main').dataset.after === '4'");
    browser.click("#noticed summary");
    browser.click("#noticed input[name=what]");
    browser.keys("R9");
    browser.click("#noticed button[value=sound]");
    browser.wait("the look to be kept", "return document.querySelector('main').dataset.after === '5'");
    browser.heading("Step 3 of");
    let own = "document.querySelectorAll('details.free form.measure').forEach(form => { if (form.sort && form.other) { \
         form.sort.value = 'ohms'; form.what.value = 'VCC'; form.other.value = 'D0'; form.value.value = 'open'; \
         form.requestSubmit(); } })";
    browser.run(own);
    browser.heading("Step 1 of");
    assert!(browser.text("ol.do").contains("Switch the supply on"), "power was off for the ohms");
    server.kill();
    let server = Server::start(&folder, &["--unit", "15"]);
    browser.open(&server.url);
    browser.open(&server.at("/log"));
    browser.heading("Log of unit 15");
    let log = browser.text("main");
    for wanted in ["it smelt of something burning", "Q3 hot", "R9 sound", "VCC to D0 no reading", "power off"]
    {
        assert!(log.contains(wanted), "{wanted}: {log}");
    }
    let unknown = "key=aaaaaaaaaa&after=6&sort=hot&what=Q999";
    assert_eq!(server.submit("/noticed", unknown).status, 422, "no such part");
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

/// The advice comes while somebody writes a note: its place is filled, and neither the note nor the focus is lost;
/// a listener hears once what is still awaited, and an answer that was overtaken is not shown.
#[test]
fn advice_that_comes_later_disturbs_nobody() {
    let _turn = turn();
    let Some(browser) = Browser::start() else { return };
    let server = Server::start(&folder("advice"), &["--unit", "16"]);
    browser.open(&server.url);
    for (step, lamps) in [(1, ""), (2, "&lamp.DS2=dark")] {
        let form = format!("key=advice{step:06}&after={}&step={step}{lamps}", step - 1);
        assert_eq!(server.submit("/take", &form).status, 303);
    }
    browser.open(&server.at("/step"));
    let advice = asked(&browser);
    browser.wait("who is suspect", "return document.querySelector('#likeliest').innerText.includes('%')");
    // The same page as it is while the advice is sought, in place of what the program answers.
    browser.run(
        "const real = document.querySelector('main').outerHTML; \
         const sought = document.querySelector('main').cloneNode(true); \
         sought.querySelector('#task').innerHTML = '<h1>One moment</h1><p data-say>still being worked out.</p>'; \
         for (const main of [sought, document]) main.querySelector('#likeliest').dataset.say = ''; \
         const page = text => ({ ok: true, text: async () => '<!doctype html>' + text }); \
         window.heard = []; window.answers = [sought.outerHTML, real]; window.late = []; \
         new MutationObserver(() => heard.push(...[document.querySelector('#status').textContent].filter(Boolean))) \
             .observe(document.querySelector('#status'), { childList: true }); \
         window.fetch = () => window.slow ? new Promise(done => late.push(text => done(page(text)))) \
             : Promise.resolve(page(answers[0])); \
         window.besides = document.querySelector('[data-part=besides]');",
    );
    // Refused, and all tabs are told.
    let news = || assert!(server.submit("/take", "key=bbbbbbbbbb&after=0&step=1").head.contains("late=1"));
    news();
    browser.heading("One moment");
    let awaited = browser.text("#likeliest") + " still being worked out.";
    assert_eq!(browser.run("return heard"), serde_json::json!([awaited]));
    browser.keys("n");
    browser.keys("flux");
    let focus = "return document.activeElement.id + ' ' + document.querySelector('#note').value";
    assert_eq!(browser.run(focus), "note flux");
    browser.run("window.slow = true");
    for count in 1..=2 {
        news();
        browser.wait("the page to ask again", &format!("return late.length >= {count}"));
    }
    // The later question is answered first.
    browser.run("late[late.length - 1](answers[1])");
    browser.heading(&advice);
    browser.run_async("const done = arguments[0]; late[0](answers[0]); setTimeout(() => done(true), 0)");
    assert_eq!(browser.text("h1"), advice);
    assert_eq!(browser.run(focus), "note flux");
    assert_eq!(browser.run("return document.querySelector('[data-part=besides]') === besides"), true);
    assert_eq!(browser.run("return heard"), serde_json::json!([awaited, advice]));
    assert_eq!(
        browser.run("return document.querySelectorAll('[data-say]').length"),
        0,
        "nothing is awaited any more"
    );
}
