//! What can go wrong in a statistic.

use thiserror::Error;

/// Why a statistic could not be computed.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum StatsError {
    /// A confidence level outside the open interval (0, 1).
    #[error("the confidence level must lie between 0 and 1, both excluded; it is {0}")]
    Level(f64),
    /// More successes than trials, or no trial at all.
    #[error("{successes} of {trials} is no proportion")]
    Proportion {
        /// Number of successes given.
        successes: u64,
        /// Number of trials given.
        trials: u64,
    },
    /// Fewer values than the statistic needs.
    #[error("{needed} values are needed, {given} are given")]
    TooFew {
        /// Smallest number that would do.
        needed: usize,
        /// Number given.
        given: usize,
    },
    /// More values than the method can index.
    #[error("at most {limit} rows can be resampled, {given} are given")]
    TooMany {
        /// Largest number that would do.
        limit: usize,
        /// Number given.
        given: usize,
    },
    /// Two inputs that must run in parallel have different lengths.
    #[error("{what}: {expected} values are expected, {given} are given")]
    Length {
        /// Which input is meant.
        what: &'static str,
        /// Expected length.
        expected: usize,
        /// Length given.
        given: usize,
    },
    /// A value that is not a finite number, or lies outside its range.
    #[error("{what} cannot be {value}")]
    Value {
        /// Which input is meant.
        what: &'static str,
        /// The value given.
        value: f64,
    },
    /// A distribution function did not give a finite quantile.
    #[error("no quantile of the {0} distribution could be computed")]
    Quantile(&'static str),
}
