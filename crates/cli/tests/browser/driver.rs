//! A browser without a window, steered as W3C WebDriver has it, and the few commands these tests need.

use crate::http::request;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// How long something on a page may take: machines that run tests are busy.
const PATIENCE: Duration = Duration::from_secs(30);

/// A browser with one session.
pub struct Browser {
    driver: Child,
    address: String,
    session: String,
}

fn found(names: &[&str]) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    let folders: Vec<PathBuf> = std::env::split_paths(&path).collect();
    names
        .iter()
        .flat_map(|name| folders.iter().map(move |folder| folder.join(name)))
        .find(|file| file.is_file())
}

fn in_ci() -> bool {
    std::env::var("CI").is_ok_and(|ci| ci == "true")
}

fn is_root() -> bool {
    let id = Command::new("id").arg("-u").output();
    id.is_ok_and(|output| output.stdout == b"0\n")
}

/// The browser and its driver; installed where that is allowed. Says so where the tests are skipped.
fn programs() -> Option<(PathBuf, PathBuf)> {
    let both =
        || Some((found(&["chromium", "chromium-browser", "google-chrome"])?, found(&["chromedriver"])?));
    if both().is_none() && in_ci() && is_root() {
        for arguments in
            [&["update"][..], &["install", "-y", "--no-install-recommends", "chromium", "chromium-driver"]]
        {
            let done =
                Command::new("apt-get").args(arguments).env("DEBIAN_FRONTEND", "noninteractive").output();
            assert!(done.is_ok_and(|done| done.status.success()), "apt-get {arguments:?}");
        }
    }
    let programs = both();
    assert!(programs.is_some() || !in_ci(), "with CI=true the browser tests must run");
    if programs.is_none() {
        eprintln!(
            "SKIPPED: no browser to test the page with; `apt install chromium chromium-driver` brings one"
        );
    }
    programs
}

impl Browser {
    /// Starts one; nothing where the machine has none and may not get one.
    pub fn start() -> Option<Self> {
        let (browser, driver) = programs()?;
        let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
        let driver = Command::new(driver)
            .arg(format!("--port={}", free.port()))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut started = Self { driver, address: free.to_string(), session: String::new() };
        let begun = Instant::now();
        while request(&started.address, "GET", "/status", &[], "").is_err() {
            assert!(begun.elapsed() < PATIENCE, "the driver does not start");
            std::thread::sleep(Duration::from_millis(50));
        }
        let mut arguments = vec![
            "--headless=new",
            "--disable-gpu",
            "--disable-dev-shm-usage",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-default-apps",
            "--disable-sync",
            "--no-first-run",
            "--hide-scrollbars",
            "--window-size=1280,900",
        ];
        if is_root() {
            arguments.push("--no-sandbox");
        }
        let wanted = json!({"capabilities": {"alwaysMatch": {
            "goog:chromeOptions": {"args": arguments, "binary": browser.to_string_lossy()}
        }}});
        let session = started.send("POST", "/session", &wanted);
        session["sessionId"].as_str().unwrap().clone_into(&mut started.session);
        Some(started)
    }

    fn send(&self, method: &str, path: &str, body: &Value) -> Value {
        let text = if method == "POST" { body.to_string() } else { String::new() };
        let headers = [("Content-Type", "application/json")];
        let answer = request(&self.address, method, path, &headers, &text).unwrap();
        let value: Value = serde_json::from_str(&answer.body).unwrap_or_default();
        assert_eq!(answer.status, 200, "{method} {path}: {}", answer.body);
        value["value"].clone()
    }

    fn post(&self, path: &str, body: &Value) -> Value {
        self.send("POST", &format!("/session/{}/{path}", self.session), body)
    }

    /// Opens an address.
    pub fn open(&self, url: &str) {
        self.post("url", &json!({ "url": url }));
    }

    /// The address of the page that is open, without the server's.
    pub fn path(&self) -> String {
        self.run("return location.pathname").as_str().unwrap().to_owned()
    }

    /// Runs a script in the page.
    pub fn run(&self, script: &str) -> Value {
        self.post("execute/sync", &json!({ "script": script, "args": [] }))
    }

    /// Runs a script that answers later.
    pub fn run_async(&self, script: &str) -> Value {
        self.post("execute/async", &json!({ "script": script, "args": [] }))
    }

    /// The text of the first element of a selector, empty where there is none.
    pub fn text(&self, selector: &str) -> String {
        let script = format!("const e = document.querySelector({selector:?}); return e ? e.innerText : ''");
        self.run(&script).as_str().unwrap_or_default().to_owned()
    }

    /// Waits until a script says yes. A page that is just being left says nothing.
    pub fn wait(&self, what: &str, script: &str) {
        let begun = Instant::now();
        loop {
            let body = json!({ "script": script, "args": [] }).to_string();
            let path = format!("/session/{}/execute/sync", self.session);
            let headers = [("Content-Type", "application/json")];
            let answer = request(&self.address, "POST", &path, &headers, &body).unwrap();
            let value: Value = serde_json::from_str(&answer.body).unwrap_or_default();
            if answer.status == 200 && value["value"] == json!(true) {
                return;
            }
            assert!(begun.elapsed() < PATIENCE, "waited for {what}; the page says: {}", self.text("main"));
            std::thread::sleep(Duration::from_millis(30));
        }
    }

    /// Waits for a page whose heading holds this.
    pub fn heading(&self, text: &str) {
        let script = format!(
            "const h = document.querySelector('h1'); \
             return document.readyState === 'complete' && !!h && h.innerText.includes({text:?})"
        );
        self.wait(&format!("a heading {text}"), &script);
    }

    /// Presses keys one after the other, each let go before the next.
    pub fn keys(&self, keys: &str) {
        let strokes: Vec<Value> = keys
            .chars()
            .flat_map(|key| ["keyDown", "keyUp"].map(|kind| json!({"type": kind, "value": key.to_string()})))
            .collect();
        self.post("actions", &json!({"actions": [{"type": "key", "id": "keys", "actions": strokes}]}));
    }

    /// Clicks the first element of a selector, as a mouse does. A page that goes on by itself between the
    /// look and the click is looked at again.
    pub fn click(&self, selector: &str) {
        let begun = Instant::now();
        loop {
            let element = self.post("element", &json!({"using": "css selector", "value": selector}));
            let id = element.as_object().unwrap().values().next().unwrap().as_str().unwrap().to_owned();
            let path = format!("/session/{}/element/{id}/click", self.session);
            let headers = [("Content-Type", "application/json")];
            let answer = request(&self.address, "POST", &path, &headers, "{}").unwrap();
            if answer.status == 200 {
                return;
            }
            let gone = answer.body.contains("stale element reference");
            assert!(gone && begun.elapsed() < PATIENCE, "click on {selector}: {}", answer.body);
        }
    }

    /// Opens a second tab and turns to it; returns the first one's name.
    pub fn second_tab(&self) -> (String, String) {
        let path = format!("/session/{}/window", self.session);
        let first = self.send("GET", &path, &Value::Null).as_str().unwrap().to_owned();
        let second =
            self.post("window/new", &json!({"type": "window"}))["handle"].as_str().unwrap().to_owned();
        self.turn(&second);
        (first, second)
    }

    /// Turns to a tab.
    pub fn turn(&self, tab: &str) {
        self.post("window", &json!({ "handle": tab }));
    }

    /// Sets the size of the page and what the user prefers.
    pub fn look(&self, width: u32, scheme: &str, contrast: &str) {
        let size = json!({"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false});
        self.devtools("Emulation.setDeviceMetricsOverride", &size);
        let features = json!([
            {"name": "prefers-color-scheme", "value": scheme},
            {"name": "prefers-contrast", "value": contrast},
            {"name": "prefers-reduced-motion", "value": "reduce"},
        ]);
        self.devtools("Emulation.setEmulatedMedia", &json!({ "features": features }));
    }

    fn devtools(&self, command: &str, parameters: &Value) -> Value {
        self.post("goog/cdp/execute", &json!({ "cmd": command, "params": parameters }))
    }

    /// The whole page as a PNG.
    pub fn picture(&self, file: &Path) {
        let taken =
            self.devtools("Page.captureScreenshot", &json!({"format": "png", "captureBeyondViewport": true}));
        std::fs::write(file, decoded(taken["data"].as_str().unwrap())).unwrap();
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        if !self.session.is_empty() {
            let _ = request(&self.address, "DELETE", &format!("/session/{}", self.session), &[], "");
        }
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}

/// Base64 as RFC 4648 has it.
fn decoded(text: &str) -> Vec<u8> {
    let value = |byte: u8| match byte {
        b'A'..=b'Z' => u32::from(byte - b'A'),
        b'a'..=b'z' => u32::from(byte - b'a') + 26,
        b'0'..=b'9' => u32::from(byte - b'0') + 52,
        b'+' => 62,
        _ => 63,
    };
    let bytes: Vec<u8> = text.bytes().filter(|byte| *byte != b'=' && !byte.is_ascii_whitespace()).collect();
    let mut out = Vec::new();
    for four in bytes.chunks(4) {
        let bits = four.iter().fold(0, |bits, &byte| bits << 6 | value(byte)) << (6 * (4 - four.len()));
        out.extend((0..four.len() - 1).map(|at| (bits >> (16 - 8 * at)) as u8));
    }
    out
}
