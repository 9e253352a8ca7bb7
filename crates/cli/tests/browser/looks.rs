//! How every screen looks: pictures of each, room for all of it, and an accessibility check.

use crate::driver::Browser;
use crate::server::{Server, folder};
use std::path::{Path, PathBuf};
use std::process::Command;

/// The accessibility rules' version; they come from npm and are used in this test only.
const AXE: &str = "axe-core@4.11.1";

/// The script of the accessibility check, where npm can bring it.
fn axe() -> Option<String> {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("axe");
    let script = folder.join("node_modules/axe-core/axe.min.js");
    if !script.exists() {
        let done = Command::new("npm")
            .args(["install", "--no-save", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix"])
            .arg(&folder)
            .arg(AXE)
            .output();
        let done = done.is_ok_and(|done| done.status.success());
        let ci = std::env::var("CI").is_ok_and(|ci| ci == "true");
        assert!(done || !ci, "with CI=true the accessibility check must run");
        if !done {
            eprintln!("SKIPPED: the accessibility check; npm does not bring {AXE}");
            return None;
        }
    }
    Some(std::fs::read_to_string(script).unwrap())
}

/// Findings that are serious or worse.
fn findings(browser: &Browser, axe: &str) -> String {
    browser.run(axe);
    let found = browser.run_async(
        "const done = arguments[arguments.length - 1]; \
         axe.run(document, {resultTypes: ['violations']}).then(r => done(r.violations \
         .filter(v => v.impact === 'serious' || v.impact === 'critical') \
         .map(v => v.id + ': ' + v.nodes.map(n => n.target.join(' ') + ' ' + n.failureSummary).join(' | ')) \
         .join('\\n')), e => done('the check itself failed: ' + e))",
    );
    found.as_str().unwrap().to_owned()
}

/// Every screen by name and address, in a state worth a look, what to do there first, and whether README
/// shows it wide.
const SCREENS: [(&str, &str, &str); 7] = [
    ("before", "/before", ""),
    ("step", "/step", ""),
    ("suspects", "/suspects", ""),
    ("log", "/log", ""),
    ("units", "/units", ""),
    ("procedure", "/step/procedure", "document.querySelector('[data-lamp=DS2]').click()"),
    ("refused", "/step?late=1", ""),
];

/// Those that README shows: name, width, scheme.
const SHOWN: [(&str, u32, &str); 4] = [
    ("procedure", 360, "light"),
    ("suspects", 1280, "light"),
    ("step", 360, "dark"),
    ("units", 1280, "dark"),
];

fn pictures() -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("screens");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// A unit with a past: others before it, repairs, and a lamp that is wrong now.
fn a_past(folder: &Path) -> Server {
    for (unit, fault) in [("1", "R7 missing"), ("2", "Q3.b open"), ("3", "R12 missing")] {
        let server = Server::start(folder, &["--unit", unit]);
        let repair = format!("key=repair000{unit}&after=0&fault={}&text=soldered", fault.replace(' ', "+"));
        assert_eq!(server.submit("/repair", &repair).status, 303);
        for step in 1..=14 {
            let answer = server.submit("/take", &format!("key=pass{unit}{step:06}&after={step}&step={step}"));
            assert_eq!(answer.status, 303);
        }
    }
    let server = Server::start(folder, &["--unit", "7"]);
    for step in 1..=4 {
        let lamps = if step == 4 { "&lamp.DS2=dark&lamp.DS3=dim" } else { "" };
        let form = format!("key=looks{step:06}&after={}&step={step}{lamps}", step - 1);
        assert_eq!(server.submit("/take", &form).status, 303);
    }
    server.submit("/note", "key=looksnote1&after=4&text=flux+left+at+the+header");
    server
}

#[test]
fn every_screen_fits_and_can_be_read() {
    let _turn = crate::turn();
    let Some(browser) = Browser::start() else { return };
    let axe = axe();
    let server = a_past(&folder("looks"));
    browser.open(&server.url);
    browser
        .wait("the advice", "return fetch('/suspects').then(r => r.text()).then(t => t.includes('Next: '))");
    let folder = pictures();
    let practice = Server::start(&crate::server::folder("looks-practice"), &["--practice"]);
    for (scheme, contrast) in
        [("light", "no-preference"), ("dark", "no-preference"), ("light", "more"), ("dark", "more")]
    {
        for width in [360, 1280] {
            browser.look(width, scheme, contrast);
            browser.open(&practice.url);
            browser.open(&practice.at("/step"));
            examine(&browser, &folder, axe.as_deref(), "practice", width, scheme, contrast);
            browser.open(&server.url);
            for (name, path, first) in SCREENS {
                browser.open(&server.at(path));
                browser.run(first);
                examine(&browser, &folder, axe.as_deref(), name, width, scheme, contrast);
            }
        }
    }
    for (name, wanted) in [("prepared", PREPARED_ASKED), ("ohms", OHMS_ASKED)] {
        let hunt = crate::BY_BOTH.iter().find_map(|number| until(&browser, *number, wanted));
        let hunt = hunt.unwrap_or_else(|| panic!("{name} was never asked for"));
        for (scheme, width) in [("light", 360), ("light", 1280), ("dark", 360), ("dark", 1280)] {
            browser.look(width, scheme, "no-preference");
            browser.open(&hunt.at("/step"));
            crate::asked(&browser);
            examine(&browser, &folder, axe.as_deref(), name, width, scheme, "no-preference");
            browser.open(&hunt.at("/suspects"));
            let name = format!("{name}-suspects");
            examine(&browser, &folder, axe.as_deref(), &name, width, scheme, "no-preference");
        }
    }
    by_hand(&browser, &folder, axe.as_deref());
    if std::env::var_os("BLESS").is_some() {
        let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/bench");
        std::fs::create_dir_all(&docs).unwrap();
        for (name, width, scheme) in SHOWN {
            let file = format!("{name}-{width}-{scheme}.png");
            std::fs::copy(folder.join(&file), docs.join(&file)).unwrap();
        }
    }
}

/// Ohms to enter for a real unit, and the form for what a nose or a finger finds.
fn by_hand(browser: &Browser, folder: &Path, axe: Option<&str>) {
    let server = Server::start(&crate::server::folder("looks-hand"), &["--unit", "8"]);
    browser.open(&server.url);
    // A lamp driver whose transistor gets no drive: volts end at two resistors that only ohms tell apart.
    for (step, lamps) in [(1, ""), (2, "&lamp.DS2=dark")] {
        let form = format!("key=hands{step:06}&after={}&step={step}{lamps}", step - 1);
        assert_eq!(server.submit("/take", &form).status, 303);
    }
    let ohms = "key=hands000003&after=2&sort=ohms&what=VCC&other=D0&value=4k7&back=/step";
    assert_eq!(server.submit("/measure", ohms).status, 303);
    for (scheme, width) in [("light", 360), ("light", 1280), ("dark", 360), ("dark", 1280)] {
        browser.look(width, scheme, "no-preference");
        browser.open(&server.at("/step"));
        crate::asked(browser);
        browser.run("document.querySelectorAll('details.free').forEach(one => { one.open = true; })");
        examine(browser, folder, axe, "off", width, scheme, "no-preference");
    }
    assert_eq!(server.submit("/meter", "key=hands000004&after=3&meter=").status, 303);
    for (scheme, width) in [("light", 360), ("dark", 1280)] {
        browser.look(width, scheme, "no-preference");
        browser.open(&server.at("/step"));
        crate::asked(browser);
        examine(browser, folder, axe, "no-meter", width, scheme, "no-preference");
    }
    // And a look that tells most, with what the lamps would mean.
    let server = Server::start(&crate::server::folder("looks-lamps"), &["--unit", "9", "--no-meter"]);
    browser.open(&server.url);
    for (step, lamps) in [(1, ""), (2, "&lamp.DS2=dark")] {
        let form = format!("key=lamps{step:06}&after={}&step={step}{lamps}", step - 1);
        assert_eq!(server.submit("/take", &form).status, 303);
    }
    for (scheme, width) in [("light", 360), ("dark", 1280)] {
        browser.look(width, scheme, "no-preference");
        browser.open(&server.at("/step"));
        crate::asked(browser);
        examine(browser, folder, axe, "lamps-mean", width, scheme, "no-preference");
    }
}

/// Hunts a hidden fault up to where the page asks for something; nothing where it comes to the verdict first.
fn until(browser: &Browser, number: u64, wanted: &str) -> Option<Server> {
    let server = Server::start(&crate::server::folder("looks-hunt"), &["--practice", &number.to_string()]);
    browser.open(&server.url);
    browser.open(&server.at("/step"));
    loop {
        let heading = crate::asked(browser);
        if browser.run(wanted).as_bool().unwrap() {
            return Some(server);
        }
        if heading == "The verdict" {
            return None;
        }
        crate::done(browser, &heading);
    }
}

/// Whether the page asks for a voltage after a line was moved.
const PREPARED_ASKED: &str = "return !!document.querySelector('[name=prepared]')";

/// Whether the page asks for ohms.
const OHMS_ASKED: &str =
    "const h = document.querySelector('h1'); return !!h && h.innerText === 'Measure with power off'";

fn examine(
    browser: &Browser,
    folder: &Path,
    axe: Option<&str>,
    name: &str,
    width: u32,
    scheme: &str,
    contrast: &str,
) {
    let place = format!("{name}, {width} px, {scheme}, contrast {contrast}");
    let wide = browser.run("return document.documentElement.scrollWidth");
    assert!(wide.as_u64().unwrap() <= u64::from(width), "{place}: it is {wide} px wide");
    let small = browser.run(
        "return [...document.querySelectorAll('main button, main .button, nav a')].filter(e => { \
         const r = e.getBoundingClientRect(); return r.height && (r.height < 43 || r.width < 43); }) \
         .map(e => e.innerText).join(', ')",
    );
    assert_eq!(small, "", "{place}: too small for a finger");
    if contrast == "no-preference" {
        browser.picture(&folder.join(format!("{name}-{width}-{scheme}.png")));
    }
    if let Some(axe) = axe {
        let found = findings(browser, axe);
        assert!(found.is_empty(), "{place}:\n{found}");
    }
}
