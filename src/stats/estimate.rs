//! A value with its confidence interval.

use serde::{Deserialize, Serialize};

use super::StatsError;

/// Confidence level of every interval that does not state another: 95 %.
pub const LEVEL: f64 = 0.95;

/// A point estimate with the two ends of its confidence interval.
///
/// All three are in the unit of the quantity estimated; the level is [`LEVEL`] unless the
/// function that made it was given another. `low <= high` holds; the value lies between
/// them for every interval made in this module except the percentile bootstrap, which
/// does not promise it.
#[derive(Copy, Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// Point estimate.
    pub value: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
}

impl Estimate {
    /// Half the width of the interval, in the unit of the value.
    pub fn half_width(&self) -> f64 {
        (self.high - self.low) / 2.0
    }

    /// Whether the interval, ends included, holds `x`.
    pub fn contains(&self, x: f64) -> bool {
        (self.low..=self.high).contains(&x)
    }

    /// The estimate on another scale.
    ///
    /// `transform` must be monotone over the interval (an exponential, a percentage, one
    /// minus a proportion); a decreasing one swaps the ends.
    #[must_use]
    pub fn map(&self, transform: impl Fn(f64) -> f64) -> Self {
        let (a, b) = (transform(self.low), transform(self.high));
        Self {
            value: transform(self.value),
            low: a.min(b),
            high: a.max(b),
        }
    }
}

/// Probability left in each tail of a two-sided interval at `level`.
///
/// # Errors
/// [`StatsError::Level`] unless 0 < `level` < 1.
pub(super) fn tail(level: f64) -> Result<f64, StatsError> {
    if level > 0.0 && level < 1.0 {
        Ok((1.0 - level) / 2.0)
    } else {
        Err(StatsError::Level(level))
    }
}
