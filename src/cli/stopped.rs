//! Why a command ends without its full result, and the exit code that says so.

use super::{EXIT_BAD_INPUT, EXIT_FAILED, EXIT_FINE, EXIT_INTERRUPTED};
use crate::study::StudyError;
use crate::trouble::Trouble;
use crate::trouble::shown::told;
use std::fmt;

/// Why a command ended without its full result.
#[derive(Debug)]
pub enum Stopped {
    /// Bad input, or a machine that failed.
    Trouble(Trouble),
    /// Interrupted; with what was kept and how to go on.
    Interrupted(String),
    /// Anything else.
    Failed(String),
    /// A shard has done its share; with what comes next.
    Shared(String),
}

impl Stopped {
    /// Whether the same command would end in the same way again: neither was it interrupted nor did the machine fail.
    pub fn would_recur(&self) -> bool {
        match self {
            Self::Trouble(trouble) => !trouble.by_machine,
            Self::Failed(_) => true,
            Self::Interrupted(_) | Self::Shared(_) => false,
        }
    }

    /// Exit code.
    pub fn code(&self) -> u8 {
        match self {
            Self::Trouble(trouble) if trouble.by_machine => EXIT_FAILED,
            Self::Trouble(_) => EXIT_BAD_INPUT,
            Self::Interrupted(_) => EXIT_INTERRUPTED,
            Self::Failed(_) => EXIT_FAILED,
            Self::Shared(_) => EXIT_FINE,
        }
    }
}

impl fmt::Display for Stopped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Trouble(trouble) => write!(f, "error: {trouble}"),
            Self::Interrupted(kept) => write!(f, "interrupted: {}", told(kept)),
            Self::Failed(why) => write!(f, "error: {}", told(why)),
            Self::Shared(next) => write!(f, "{next}"),
        }
    }
}

impl From<Trouble> for Stopped {
    fn from(trouble: Trouble) -> Self {
        Self::Trouble(trouble)
    }
}

impl From<StudyError> for Stopped {
    fn from(error: StudyError) -> Self {
        match error {
            StudyError::Trouble(trouble) => Self::Trouble(trouble),
            StudyError::Interrupted(_) => {
                Self::Interrupted("no results are written; give the same command again".to_owned())
            }
            StudyError::Unkept(unkept) => Self::Trouble(
                Trouble::new(unkept.to_string())
                    .expected("room for the pieces of a run, and nobody who removes them before it has ended")
                    .remedy("make room, or leave the folder alone; the same command then goes on from what is left")
                    .by_machine(),
            ),
            StudyError::Elsewhere | StudyError::Stats(_) => Self::Failed(error.to_string()),
        }
    }
}
