//! The program at work, to be killed at will.

use crate::http::{Answer, request};
use std::io::{BufRead, BufReader, Lines};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};

/// `dryjoint bench` on the register board.
pub struct Server {
    child: Child,
    /// Held so that the program can go on printing.
    _said: Lines<BufReader<ChildStdout>>,
    /// The address with the token.
    pub url: String,
}

/// A folder with the board and no records yet.
pub fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("browser-{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    let boards = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../boards");
    std::fs::copy(boards.join("dunlin.cells"), folder.join("dunlin.cells")).unwrap();
    std::fs::write(folder.join("register.board"), include_str!("register.board")).unwrap();
    folder
}

impl Server {
    /// Starts it on the board in a folder, with the records in the same folder.
    pub fn start(folder: &Path, arguments: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_dryjoint"))
            .args(["bench", "register.board", "--records", "records.db", "--no-open"])
            .args(arguments)
            .current_dir(folder)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let url = lines.find_map(|line| line.ok()?.strip_prefix("Open ").map(str::to_owned));
        Self { child, _said: lines, url: url.expect("it prints its address") }
    }

    /// `127.0.0.1:4000`.
    pub fn address(&self) -> &str {
        self.url.split('/').nth(2).unwrap()
    }

    /// The address of a screen.
    pub fn at(&self, path: &str) -> String {
        format!("http://{}{path}", self.address())
    }

    /// The cookie that whoever knows the token gets.
    pub fn cookie(&self) -> String {
        let port = self.address().split(':').nth(1).unwrap();
        format!("dryjoint-{port}={}", self.url.rsplit('/').next().unwrap())
    }

    /// A form sent as the page would send it.
    pub fn submit(&self, path: &str, body: &str) -> Answer {
        let origin = self.at("");
        let cookie = self.cookie();
        let headers = [
            ("Origin", origin.as_str()),
            ("Cookie", cookie.as_str()),
            ("Content-Type", "application/x-www-form-urlencoded"),
        ];
        request(self.address(), "POST", path, &headers, body).unwrap()
    }

    /// A screen.
    pub fn read(&self, path: &str) -> Answer {
        request(self.address(), "GET", path, &[("Cookie", self.cookie().as_str())], "").unwrap()
    }

    /// Ends it at once, in the middle of whatever it does (SIGKILL).
    pub fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
