//! Intervals of a proportion and of a mean.

use statrs::distribution::{Beta, ContinuousCDF, Normal, StudentsT};

use super::estimate::tail;
use super::{Estimate, StatsError};

/// Score interval of a proportion (Wilson 1927, Journal of the American Statistical
/// Association 22: 209-212), without continuity correction.
///
/// `successes` of `trials` at confidence `level` (0.95 say). The value is the observed
/// proportion; the ends lie in 0..=1.
///
/// # Errors
/// [`StatsError::Proportion`] without trials or with more successes than trials,
/// [`StatsError::Level`] unless 0 < `level` < 1.
pub fn wilson(successes: u64, trials: u64, level: f64) -> Result<Estimate, StatsError> {
    let value = proportion(successes, trials)?;
    let z = normal_quantile(1.0 - tail(level)?)?;
    let n = trials as f64;
    let shrink = 1.0 + z * z / n;
    let centre = (value + z * z / (2.0 * n)) / shrink;
    let half = z / shrink * (value * (1.0 - value) / n + z * z / (4.0 * n * n)).sqrt();
    // The ends at none and at all are exactly 0 and 1; rounding would miss them.
    let low = if successes == 0 { 0.0 } else { centre - half };
    let high = if successes == trials {
        1.0
    } else {
        centre + half
    };
    Ok(Estimate { value, low, high })
}

/// Exact ("tail") interval of a proportion (Clopper & Pearson 1934, Biometrika 26: 404-413).
///
/// `successes` of `trials` at confidence `level`. The value is the observed proportion;
/// coverage is at least `level` at every true proportion.
///
/// # Errors
/// As [`wilson`]; [`StatsError::Quantile`] should the beta quantile fail.
pub fn clopper_pearson(successes: u64, trials: u64, level: f64) -> Result<Estimate, StatsError> {
    let value = proportion(successes, trials)?;
    let alpha = tail(level)?;
    let (x, n) = (successes as f64, trials as f64);
    // With none or all, the open end solves (1 - p)^n = alpha in closed form.
    let one_sided = 1.0 - (alpha.ln() / n).exp();
    let low = if successes == 0 {
        0.0
    } else if successes == trials {
        1.0 - one_sided
    } else {
        beta_quantile(x, n - x + 1.0, alpha)?
    };
    let high = if successes == trials {
        1.0
    } else if successes == 0 {
        one_sided
    } else {
        beta_quantile(x + 1.0, n - x, 1.0 - alpha)?
    };
    Ok(Estimate { value, low, high })
}

/// Student's t interval of a mean, at confidence `level`.
///
/// `values` are independent observations (one per season), at least two, all finite.
///
/// # Errors
/// [`StatsError::TooFew`] below two values, [`StatsError::Value`] for one that is not
/// finite, [`StatsError::Level`] unless 0 < `level` < 1.
pub fn mean_t(values: &[f64], level: f64) -> Result<Estimate, StatsError> {
    let alpha = tail(level)?;
    if values.len() < 2 {
        return Err(StatsError::TooFew {
            needed: 2,
            given: values.len(),
        });
    }
    if let Some(&value) = values.iter().find(|v| !v.is_finite()) {
        let what = "an observation";
        return Err(StatsError::Value { what, value });
    }
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
    let standard_error = (squares / (n - 1.0) / n).sqrt();
    let half = t_quantile(n - 1.0, 1.0 - alpha)? * standard_error;
    Ok(Estimate {
        value: mean,
        low: mean - half,
        high: mean + half,
    })
}

fn proportion(successes: u64, trials: u64) -> Result<f64, StatsError> {
    if trials == 0 || successes > trials {
        return Err(StatsError::Proportion { successes, trials });
    }
    Ok(successes as f64 / trials as f64)
}

fn normal_quantile(probability: f64) -> Result<f64, StatsError> {
    let standard = Normal::standard();
    finite(standard.inverse_cdf(probability), "normal")
}

fn t_quantile(freedom: f64, probability: f64) -> Result<f64, StatsError> {
    let student =
        StudentsT::new(0.0, 1.0, freedom).map_err(|_| StatsError::Quantile("Student's t"))?;
    finite(student.inverse_cdf(probability), "Student's t")
}

fn beta_quantile(a: f64, b: f64, probability: f64) -> Result<f64, StatsError> {
    let beta = Beta::new(a, b).map_err(|_| StatsError::Quantile("beta"))?;
    finite(beta.inverse_cdf(probability), "beta")
}

fn finite(quantile: f64, name: &'static str) -> Result<f64, StatsError> {
    if quantile.is_finite() {
        Ok(quantile)
    } else {
        Err(StatsError::Quantile(name))
    }
}
