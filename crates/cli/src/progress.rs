//! A line that tells what the program is at, while a person waits at a terminal.

use anstream::stream::IsTerminal;
use std::io::Write;
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// Time between two tellings.
const PACE: Duration = Duration::from_millis(200);

/// One line on the error output, written over itself; silent when that is no terminal.
pub struct Progress {
    told: Option<Mutex<Instant>>,
}

impl Progress {
    /// A line, where there is a terminal.
    pub fn new() -> Self {
        Self { told: std::io::stderr().is_terminal().then(|| Mutex::new(Instant::now())) }
    }

    /// Tells, unless something was told just before.
    pub fn tell(&self, text: &str) {
        let Some(told) = &self.told else { return };
        let Ok(mut last) = told.lock() else { return };
        if last.elapsed() >= PACE {
            *last = Instant::now();
            // Whether the line arrives does not matter.
            let _ = write!(std::io::stderr(), "\r\x1b[K{text}");
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.told.is_some() {
            let _ = write!(std::io::stderr(), "\r\x1b[K");
        }
    }
}
