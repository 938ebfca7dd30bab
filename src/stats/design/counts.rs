//! Sample sizes and statistics for two independent groups of counts.

use super::{
    DesignError, Level, log_effect, normal_probability, normal_quantile, not_negative, positive,
    share,
};

/// Number of observations in all for a Poisson regression on one yes-or-no covariate.
///
/// `rate` is the mean count without exposure, `ratio` the ratio of means with exposure to without,
/// `exposed` the share exposed, `overdispersion` the variance over the mean (1 for Poisson).
/// Source: Signorini 1991, Biometrika 78, 446, with the variance at no effect for the level and
/// that at the effect for the power.
///
/// # Errors
/// [`DesignError`] for numbers out of range or a ratio of 1.
pub fn poisson_regression_sample_size(
    rate: f64,
    ratio: f64,
    exposed: f64,
    overdispersion: f64,
    level: Level,
    power: f64,
) -> Result<f64, DesignError> {
    let log = log_effect(ratio)?;
    positive("rate", rate)?;
    positive("overdispersion", overdispersion)?;
    share("share exposed", exposed)?;
    let unexposed = 1.0 - exposed;
    let at_null = (exposed * unexposed).recip();
    let at_effect = unexposed.recip() + (exposed * ratio).recip();
    let reach = level.critical()? * at_null.sqrt()
        + normal_quantile(share("power", power)?) * at_effect.sqrt();
    Ok(overdispersion * reach * reach / (rate * log * log))
}

/// Variance taken to hold at no effect in the comparison of two negative-binomial rates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NullVariance {
    /// Both groups have the reference rate (method 1).
    ReferenceRate,
    /// The rates differ as they do at the effect (method 2).
    TrueRates,
    /// Both groups have the rate that fits best under no effect (method 3).
    PooledRate,
}

/// Two groups with negative-binomial counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NegativeBinomialGroups {
    /// Rate per unit time in the reference group (above 0).
    pub rate: f64,
    /// Rate of the other group over that of the reference group (above 0).
    pub ratio: f64,
    /// Dispersion 1/k: the variance of a count with mean m is m + m^2 / k.
    pub inverse_k: f64,
    /// Mean time of exposure of an observation (above 0).
    pub time: f64,
    /// Size of the other group over that of the reference group (above 0).
    pub allocation: f64,
}

impl NegativeBinomialGroups {
    /// Number of observations in the reference group, not rounded.
    ///
    /// Source: Zhu & Lakkis 2014, Statistics in Medicine 33, 376.
    ///
    /// # Errors
    /// [`DesignError`] for numbers out of range or a ratio of 1.
    pub fn reference_size(
        &self,
        null_variance: NullVariance,
        level: Level,
        power: f64,
    ) -> Result<f64, DesignError> {
        let log = log_effect(self.ratio)?;
        let rate = positive("rate", self.rate)?;
        positive("time", self.time)?;
        positive("allocation", self.allocation)?;
        not_negative("dispersion", self.inverse_k)?;
        let other = rate * self.ratio;
        let pooled = (rate + self.allocation * other) / (1.0 + self.allocation);
        let at_null = match null_variance {
            NullVariance::ReferenceRate => self.variance(rate, rate),
            NullVariance::TrueRates => self.variance(rate, other),
            NullVariance::PooledRate => self.variance(pooled, pooled),
        };
        let reach = level.critical()? * at_null.sqrt()
            + normal_quantile(share("power", power)?) * self.variance(rate, other).sqrt();
        Ok(reach * reach / (log * log))
    }

    /// Variance of the log ratio times the size of the reference group.
    fn variance(&self, reference: f64, other: f64) -> f64 {
        (reference.recip() + (self.allocation * other).recip()) / self.time
            + (1.0 + self.allocation) * self.inverse_k / self.allocation
    }
}

/// Statistics of the hypothesis that two Poisson rates are equal, each standard normal under it.
///
/// Source: Gu, Ng, Tang & Schucany 2008, Biometrical Journal 50, 283.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoissonRatioStatistics {
    /// First rate over the second.
    pub ratio: f64,
    /// Difference of counts over its unconstrained standard error (W1).
    pub unconstrained: f64,
    /// Difference of counts over its standard error at equal rates (W2).
    pub constrained: f64,
    /// Log ratio over its standard error (W3).
    pub logarithmic: f64,
    /// Difference of square roots after adding 3/8 to the counts (W5).
    pub variance_stabilised: f64,
}

impl PoissonRatioStatistics {
    /// Two-sided p value of one of the statistics.
    #[must_use]
    pub fn p_value(statistic: f64) -> f64 {
        2.0 * normal_probability(-statistic.abs())
    }
}

/// Statistics for `first` events in `first_time` against `second` in `second_time`.
///
/// # Errors
/// [`DesignError`] when a count or a time is not positive.
pub fn poisson_ratio_statistics(
    first: f64,
    first_time: f64,
    second: f64,
    second_time: f64,
) -> Result<PoissonRatioStatistics, DesignError> {
    /// Added to a Poisson count so that its square root has a nearly constant variance (Anscombe).
    const STABILISER: f64 = 0.375;
    positive("first count", first)?;
    positive("second count", second)?;
    let times = positive("first time", first_time)? / positive("second time", second_time)?;
    let difference = first - times * second;
    let roots = (first + STABILISER).sqrt() - (times * (second + STABILISER)).sqrt();
    Ok(PoissonRatioStatistics {
        ratio: first / second / times,
        unconstrained: difference / (first + times * times * second).sqrt(),
        constrained: difference / (times * (first + second)).sqrt(),
        logarithmic: (first / second / times).ln() / (first.recip() + second.recip()).sqrt(),
        variance_stabilised: 2.0 * roots / (1.0 + times).sqrt(),
    })
}
