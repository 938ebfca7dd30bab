//! Power of t tests from the noncentral t distribution.

use statrs::distribution::{ContinuousCDF, StudentsT};
use statrs::function::beta::beta_reg;
use statrs::function::gamma::ln_gamma;

use super::{DesignError, Level, Sides, log_effect, normal_probability, positive, share};
use crate::stats::paired::root;

/// Beyond this noncentrality the first term of the series underflows; the probability of a usual
/// quantile is then 0 to double precision.
const LARGEST_NONCENTRALITY: f64 = 37.0;
/// Standard deviations of the Poisson weights over which the series is summed.
const SERIES_REACH: f64 = 12.0;
/// Terms summed at least.
const LEAST_TERMS: f64 = 60.0;
/// Accuracy of a sample size.
const SIZE_ACCURACY: f64 = 1e-10;
/// Largest sample size looked for.
const LARGEST_SIZE: f64 = 1e9;
/// Smallest size for which degrees of freedom are left; sizes are not rounded.
const SMALLEST_SIZE: f64 = 1.01;

/// Distribution function of Student's t with `freedom` degrees and a `noncentrality`.
///
/// Source: Lenth 1989, Applied Statistics 38, 185 (algorithm AS 243).
#[must_use]
pub fn noncentral_t_distribution(at: f64, freedom: f64, noncentrality: f64) -> f64 {
    if at < 0.0 {
        return 1.0 - noncentral_t_distribution(-at, freedom, -noncentrality);
    }
    let below_zero = normal_probability(-noncentrality);
    if at == 0.0 || noncentrality.abs() > LARGEST_NONCENTRALITY {
        return below_zero;
    }
    let x = at * at / (freedom + at * at);
    let half_square = 0.5 * noncentrality * noncentrality;
    let terms = half_square + SERIES_REACH * half_square.sqrt() + LEAST_TERMS;
    let mut sum = 0.0;
    let mut index = 0.0;
    while index <= terms {
        // Logarithms keep the powers and factorials in range; at no noncentrality only the first
        // term is left.
        let log_power = if index == 0.0 {
            0.0
        } else {
            index * half_square.ln()
        };
        let even = (log_power - half_square - ln_gamma(index + 1.0)).exp();
        let odd = noncentrality / std::f64::consts::SQRT_2
            * (log_power - half_square - ln_gamma(index + 1.5)).exp();
        sum += even * beta_reg(index + 0.5, 0.5 * freedom, x)
            + odd * beta_reg(index + 1.0, 0.5 * freedom, x);
        index += 1.0;
    }
    (below_zero + 0.5 * sum).clamp(0.0, 1.0)
}

/// What a t test compares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Comparison {
    /// Pairs: the size is the number of pairs, the effect in standard deviations of a difference.
    Paired,
    /// Two groups of equal size: the size is that of one group, the effect in standard deviations
    /// of an observation.
    TwoGroups,
}

/// Power of a t test with `size` pairs or observations in each group (above 1, not necessarily
/// whole) at an `effect` in standard deviations. Both tails of a two-sided test count.
///
/// # Errors
/// [`DesignError`] for numbers out of range.
pub fn t_test_power(
    size: f64,
    effect: f64,
    comparison: Comparison,
    level: Level,
) -> Result<f64, DesignError> {
    share("level", level.alpha)?;
    positive("size above 1", size - 1.0)?;
    let (freedom, noncentrality) = match comparison {
        Comparison::Paired => (size - 1.0, effect * size.sqrt()),
        Comparison::TwoGroups => (2.0 * (size - 1.0), effect * (0.5 * size).sqrt()),
    };
    let out_of_range = |_| DesignError::Range {
        name: "degrees of freedom",
        range: "positive and finite",
        value: freedom,
    };
    let student = StudentsT::new(0.0, 1.0, freedom).map_err(out_of_range)?;
    let critical = student.inverse_cdf(1.0 - level.tail());
    let above = 1.0 - noncentral_t_distribution(critical, freedom, noncentrality);
    Ok(match level.sides {
        Sides::One => above,
        Sides::Two => above + noncentral_t_distribution(-critical, freedom, noncentrality),
    })
}

/// Size, not rounded, at which a t test reaches a `power`.
///
/// # Errors
/// [`DesignError`] for numbers out of range, at no effect, or if the size would exceed 10^9.
pub fn t_test_sample_size(
    effect: f64,
    comparison: Comparison,
    level: Level,
    power: f64,
) -> Result<f64, DesignError> {
    share("power", power)?;
    // Reuses the check that an effect is finite and not zero.
    log_effect(effect.exp())?;
    let short = |size: f64| t_test_power(size, effect, comparison, level).map(|p| p - power);
    let mut high = 2.0 * SMALLEST_SIZE;
    while short(high)? < 0.0 {
        high *= 2.0;
        if high > LARGEST_SIZE {
            return Err(DesignError::NoEffect);
        }
    }
    root(
        |size| short(size).unwrap_or(f64::NAN),
        SMALLEST_SIZE,
        high,
        SIZE_ACCURACY,
    )
    .ok_or(DesignError::NoEffect)
}
