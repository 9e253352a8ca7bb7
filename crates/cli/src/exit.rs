//! How a command ends.

use std::fmt;
use std::process::ExitCode;

/// What the exit code says when a command did its work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Nothing is wrong: 0.
    Fine,
    /// The board, or the unit, is not as it should be: 1.
    Finding,
}

/// Why a command could not do its work, ready for a person to read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Failure {
    /// A file or an argument cannot be used: 2.
    Input(String),
    /// Something could not be computed: 3.
    Computation(String),
    /// Whoever read the output has seen enough and went away: 0, and nothing to tell.
    ReaderGone,
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Input(text) | Self::Computation(text) => f.write_str(text),
            Self::ReaderGone => Ok(()),
        }
    }
}

impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Self {
        if error.kind() == std::io::ErrorKind::BrokenPipe {
            return Self::ReaderGone;
        }
        Self::Computation(format!("the output cannot be written: {error}"))
    }
}

/// The process's exit code.
pub fn code(result: &Result<Exit, Failure>) -> ExitCode {
    ExitCode::from(match result {
        Ok(Exit::Fine) | Err(Failure::ReaderGone) => 0,
        Ok(Exit::Finding) => 1,
        Err(Failure::Input(_)) => 2,
        Err(Failure::Computation(_)) => 3,
    })
}
