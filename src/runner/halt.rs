//! Why a run ends before its results are whole.

use crate::season::Interrupted;
use std::path::PathBuf;

/// A finished piece could not be kept: the disk is full, or the file is gone.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("finished pieces cannot be kept in {}: {why}", path.display())]
pub struct Unkept {
    /// The file of pieces.
    pub path: PathBuf,
    /// What the system says.
    pub why: String,
}

/// Why a run has no results.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Halt {
    /// It was stopped from outside.
    #[error(transparent)]
    Interrupted(#[from] Interrupted),
    /// This process is a shard and has done its share; the rest belongs to others.
    #[error("results of other shards are needed")]
    Elsewhere,
    /// A finished piece could not be kept.
    #[error(transparent)]
    Unkept(#[from] Unkept),
}
