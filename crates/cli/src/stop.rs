//! When to stop looking for something better: the time is up, or Ctrl-C was pressed.

use std::cell::Cell;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Whether Ctrl-C was pressed since the program began to listen.
static PRESSED: AtomicBool = AtomicBool::new(false);

/// Says when a search has to end.
#[derive(Debug)]
pub struct Stop {
    until: Option<Instant>,
    stopped: Cell<bool>,
}

impl Stop {
    /// Never: for work that must run to its end.
    pub fn never() -> Self {
        Self { until: None, stopped: Cell::new(false) }
    }

    /// After some time, or when Ctrl-C is pressed. A second Ctrl-C ends the program at once.
    pub fn on_request(after: Option<Duration>) -> Self {
        let pressed = || {
            if PRESSED.swap(true, Ordering::Relaxed) {
                std::process::exit(130);
            }
        };
        // Where nobody can listen, Ctrl-C ends the program as it does everywhere.
        let _ = ctrlc::set_handler(pressed);
        Self { until: after.map(|time| Instant::now() + time), ..Self::never() }
    }

    /// Whether to stop now.
    pub fn now(&self) -> bool {
        let up = self.until.is_some_and(|until| Instant::now() >= until);
        if up || PRESSED.load(Ordering::Relaxed) {
            self.stopped.set(true);
        }
        self.stopped.get()
    }

    /// Whether anything was stopped.
    pub fn stopped(&self) -> bool {
        self.stopped.get()
    }

    /// Whether there is a limit of time.
    pub fn is_timed(&self) -> bool {
        self.until.is_some()
    }
}
