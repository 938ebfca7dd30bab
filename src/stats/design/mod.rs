//! Closed-form sample sizes, power and test statistics for comparisons of counts and of means.
//!
//! They stand beside simulated answers as a check; each function names its source.

mod counts;
mod paired;
mod student;

use statrs::distribution::{ContinuousCDF, Normal};
use thiserror::Error;

pub use counts::{
    NegativeBinomialGroups, NullVariance, PoissonRatioStatistics, poisson_ratio_statistics,
    poisson_regression_sample_size,
};
pub use paired::{
    PairedDesign, StemPair, StemSpread, diluted_ratio, diluted_ratio_of_stems, dilution_factor,
};
pub use student::{Comparison, noncentral_t_distribution, t_test_power, t_test_sample_size};

/// Why a closed form could not be evaluated.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum DesignError {
    /// A number outside its range.
    #[error("{name} must be {range}, got {value}")]
    Range {
        /// What the number is.
        name: &'static str,
        /// The range it must lie in.
        range: &'static str,
        /// The number given.
        value: f64,
    },
    /// There is no effect to find.
    #[error("at no effect the power never exceeds the level")]
    NoEffect,
}

/// Sides of a test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sides {
    /// Only an effect in the expected direction counts.
    One,
    /// An effect in either direction counts.
    #[default]
    Two,
}

/// Level and sides of a test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Level {
    /// Probability of rejecting a true null, strictly between 0 and 1.
    pub alpha: f64,
    /// Sides of the test.
    pub sides: Sides,
}

impl Default for Level {
    /// 5 %, two-sided.
    fn default() -> Self {
        Self {
            alpha: 0.05,
            sides: Sides::Two,
        }
    }
}

impl Level {
    /// Probability in each tail that counts.
    fn tail(self) -> f64 {
        match self.sides {
            Sides::One => self.alpha,
            Sides::Two => 0.5 * self.alpha,
        }
    }

    /// Normal quantile that the statistic must exceed.
    fn critical(self) -> Result<f64, DesignError> {
        share("level", self.alpha)?;
        Ok(normal_quantile(1.0 - self.tail()))
    }
}

/// Quantile of the standard normal law.
fn normal_quantile(probability: f64) -> f64 {
    Normal::standard().inverse_cdf(probability)
}

/// Distribution function of the standard normal law.
fn normal_probability(at: f64) -> f64 {
    Normal::standard().cdf(at)
}

/// A number that must be positive and finite.
fn positive(name: &'static str, value: f64) -> Result<f64, DesignError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(DesignError::Range {
            name,
            range: "positive and finite",
            value,
        })
    }
}

/// A number that must be zero or more and finite.
fn not_negative(name: &'static str, value: f64) -> Result<f64, DesignError> {
    if value.is_finite() && value >= 0.0 {
        Ok(value)
    } else {
        Err(DesignError::Range {
            name,
            range: "zero or more and finite",
            value,
        })
    }
}

/// A number that must lie strictly between 0 and 1.
fn share(name: &'static str, value: f64) -> Result<f64, DesignError> {
    if value > 0.0 && value < 1.0 {
        Ok(value)
    } else {
        Err(DesignError::Range {
            name,
            range: "strictly between 0 and 1",
            value,
        })
    }
}

/// Logarithm of a ratio that must be positive and differ from 1.
fn log_effect(ratio: f64) -> Result<f64, DesignError> {
    let log = positive("ratio", ratio)?.ln();
    if log == 0.0 {
        return Err(DesignError::NoEffect);
    }
    Ok(log)
}
