//! Strangers, foreign names, foreign pages, and more than a form can hold.

use crate::driver::Browser;
use crate::http::request;
use crate::server::{Server, folder};

#[test]
fn a_stranger_is_refused_in_the_browser() {
    let _turn = crate::turn();
    let Some(browser) = Browser::start() else { return };
    let server = Server::start(&folder("stranger"), &["--unit", "11"]);
    browser.open(&server.at("/step"));
    browser.heading("Not let in");
    browser.open(&server.at("/enter/00000000000000000000000000000000"));
    browser.heading("Not let in");
    browser.open(&server.url);
    browser.heading("Before power");
    assert_eq!(browser.path(), "/before", "the token is gone from the address");
    assert_eq!(browser.run("return document.cookie"), "", "no script reads the token");
    // The loopback has other names; a name that somebody else owns is not one of them.
    browser.open(&server.url.replace("127.0.0.1", "localhost"));
    browser.heading("Before power");
}

#[test]
fn foreign_names_and_foreign_pages_change_nothing() {
    let server = Server::start(&folder("foreign"), &["--unit", "12"]);
    let (address, cookie, origin) = (server.address(), server.cookie(), server.at(""));
    let status = |method: &str, path: &str, headers: &[(&str, &str)], body: &str| {
        request(address, method, path, headers, body).unwrap().status
    };
    let cookie = ("Cookie", cookie.as_str());
    let form = ("Content-Type", "application/x-www-form-urlencoded");
    let note = "key=aaaaaaaaaa&after=0&text=hello";
    assert_eq!(status("GET", "/step", &[cookie], ""), 200);
    assert_eq!(status("GET", "/step", &[], ""), 403);
    assert_eq!(status("GET", "/live", &[], ""), 403);
    assert_eq!(status("GET", "/step", &[cookie, ("Host", "bench.example")], ""), 421);
    let port = address.split(':').nth(1).unwrap();
    assert_eq!(status("GET", "/step", &[cookie, ("Host", &format!("bench.example:{port}"))], ""), 421);
    let token = server.url.rsplit_once("/enter").unwrap().1;
    assert_eq!(status("GET", &format!("/enter{token}"), &[("Host", "bench.example")], ""), 421);
    assert_eq!(status("POST", "/note", &[cookie, form], note), 403, "no origin");
    assert_eq!(status("POST", "/note", &[cookie, form, ("Origin", "http://bench.example")], note), 403);
    assert_eq!(status("POST", "/note", &[form, ("Origin", &origin)], note), 403, "no cookie");
    let ours = [cookie, form, ("Origin", origin.as_str())];
    assert_eq!(status("POST", "/note", &ours, "after=0&text=hello"), 422, "no key");
    assert_eq!(
        status("POST", "/note", &ours, &format!("key=aaaaaaaaaa&after=0&text={}", "x".repeat(3000))),
        422
    );
    assert_eq!(status("POST", "/note", &ours, &"x".repeat(100_000)), 413);
    assert_eq!(status("POST", "/measure", &ours, "key=aaaaaaaaaa&after=0&sort=volts&what=NONE&value=1"), 422);
    assert_eq!(status("GET", "/../../etc/passwd", &[cookie], ""), 404);
    assert!(server.read("/log").body.contains("Nothing was done yet"), "nothing of that was taken");
    assert_eq!(status("POST", "/note", &ours, note), 303);
    assert!(server.read("/log").body.contains("hello"));
    let head = server.read("/step").head.to_lowercase();
    for wanted in ["default-src 'none'", "frame-ancestors 'none'", "nosniff", "no-store"] {
        assert!(head.contains(wanted), "{wanted}: {head}");
    }
}

/// Text from a form stays text.
#[test]
fn what_is_typed_is_never_markup() {
    let server = Server::start(&folder("markup"), &["--unit", "<b>13"]);
    let note = "key=aaaaaaaaaa&after=0&text=%3Cscript%3Ealert(1)%3C%2Fscript%3E";
    assert_eq!(server.submit("/note", note).status, 303);
    let log = server.read("/log").body;
    assert!(log.contains("&lt;script&gt;") && !log.contains("<script>alert"), "{log}");
    assert!(!log.contains("<b>13") && log.contains("&lt;b&gt;13"));
}
