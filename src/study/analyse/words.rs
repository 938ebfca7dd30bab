//! What the words of a table of counts mean.

use crate::scenario::{STAGE_NAMES, STAGES, Stage};
use serde::Serialize;
use std::fmt;

/// Which patch of a site.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Patch {
    /// The patch in which stems were cut.
    Treated,
    /// The patch that was left alone.
    Untouched,
}

/// Which part of a patch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Half {
    /// All of an undivided patch.
    Whole,
    /// The half that was left.
    Refuge,
    /// The half that was cut.
    Cut,
}

/// Whole or divided part of a patch: what one stem count belongs to.
pub(super) type Plot = (Patch, Half);

impl Patch {
    /// Words in tables.
    pub const WORDS: &str = "treated or untouched";

    pub(super) fn of_word(word: &str) -> Option<Self> {
        match word.to_lowercase().as_str() {
            "treated" => Some(Self::Treated),
            "untouched" => Some(Self::Untouched),
            _ => None,
        }
    }
}

impl Half {
    /// Words in tables.
    pub const WORDS: &str = "whole, refuge or cut";

    pub(super) fn of_word(word: &str) -> Option<Self> {
        match word.to_lowercase().as_str() {
            "" | "whole" => Some(Self::Whole),
            "refuge" => Some(Self::Refuge),
            "cut" => Some(Self::Cut),
            _ => None,
        }
    }
}

/// Words of stages in tables.
pub(super) const STAGE_WORDS: &str = "egg, L1, L2, L3, L4 or L5";

/// Stage of a word, in capitals or not; `eggs` is `egg`.
pub(super) fn stage_of_word(word: &str) -> Option<Stage> {
    let known = STAGE_NAMES
        .iter()
        .position(|name| name.eq_ignore_ascii_case(word));
    known.or_else(|| word.eq_ignore_ascii_case("eggs").then_some(0))
}

/// Which stages are counted together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum CountedStage {
    /// The late stage: L5, or L4 and L5 where a scenario says so.
    #[default]
    Late,
    /// Eggs.
    Eggs,
    /// One instar, 1 to 5.
    Instar(Stage),
}

impl CountedStage {
    /// The first and last stage that are counted, given the youngest late stage.
    #[must_use]
    pub fn stages(self, late_from: Stage) -> std::ops::RangeInclusive<Stage> {
        match self {
            Self::Late => late_from..=STAGES - 1,
            Self::Eggs => 0..=0,
            Self::Instar(stage) => stage..=stage,
        }
    }

    /// In words, given the youngest late stage.
    #[must_use]
    pub fn words(self, late_from: Stage) -> String {
        match self {
            Self::Late if late_from == STAGES - 1 => "late stage (L5)".to_owned(),
            Self::Late => format!("late stage (L{late_from} to L5)"),
            Self::Eggs => "eggs".to_owned(),
            Self::Instar(stage) => format!("L{stage}"),
        }
    }
}

impl fmt::Display for CountedStage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Late => f.write_str("late"),
            Self::Eggs => f.write_str("eggs"),
            Self::Instar(stage) => write!(f, "L{stage}"),
        }
    }
}

/// An unknown word for the stage that is to be counted.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("expected late, eggs, L1, L2, L3, L4 or L5")]
pub struct UnknownStage;

impl std::str::FromStr for CountedStage {
    type Err = UnknownStage;

    fn from_str(word: &str) -> Result<Self, Self::Err> {
        if word.eq_ignore_ascii_case("late") {
            return Ok(Self::Late);
        }
        match stage_of_word(word) {
            Some(0) => Ok(Self::Eggs),
            Some(stage) => Ok(Self::Instar(stage)),
            None => Err(UnknownStage),
        }
    }
}

/// What is compared with what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Comparison {
    /// The treated patch, all of it, with the untouched patch.
    #[default]
    Patches,
    /// The cut half of the treated patch with its refuge half.
    Halves,
}

impl Comparison {
    /// Name on the command line and in tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Patches => "patches",
            Self::Halves => "halves",
        }
    }

    /// The treated and the other side, in words.
    #[must_use]
    pub fn sides(self) -> [&'static str; 2] {
        match self {
            Self::Patches => ["treated patch", "untouched patch"],
            Self::Halves => ["cut half", "refuge half"],
        }
    }

    /// The side a plot belongs to: 0 treated, 1 the other, `None` neither.
    pub(super) fn side(self, plot: Plot) -> Option<usize> {
        match (self, plot) {
            (Self::Patches, (Patch::Treated, _)) | (Self::Halves, (Patch::Treated, Half::Cut)) => {
                Some(0)
            }
            (Self::Patches, (Patch::Untouched, _))
            | (Self::Halves, (Patch::Treated, Half::Refuge)) => Some(1),
            (Self::Halves, _) => None,
        }
    }
}

impl std::str::FromStr for Comparison {
    type Err = UnknownComparison;

    fn from_str(word: &str) -> Result<Self, Self::Err> {
        [Self::Patches, Self::Halves]
            .into_iter()
            .find(|comparison| comparison.name() == word)
            .ok_or(UnknownComparison)
    }
}

/// An unknown word for what is compared.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("expected patches or halves")]
pub struct UnknownComparison;
