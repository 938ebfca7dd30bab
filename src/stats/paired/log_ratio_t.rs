//! Paired t test on log ratios of counts with half a larva added.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::types::{
    Estimator, PairedOptions, PairedResult, PairedSite, RatioEstimate, RatioInterval, Warning,
};

/// A one-sample t test of a mean of zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StudentTest {
    /// Mean of the values.
    pub mean: f64,
    /// Standard error of the mean.
    pub error: f64,
    /// t statistic; infinite if the values do not vary.
    pub statistic: f64,
    /// Degrees of freedom, one less than the number of values.
    pub freedom: f64,
    /// Two-sided p value.
    pub p_value: f64,
}

/// One-sample t test of a mean of zero; `None` with fewer than two values or values that are all
/// equal, which leave the spread unknown.
#[must_use]
pub fn student_test(values: &[f64]) -> Option<StudentTest> {
    if values.len() < 2 {
        return None;
    }
    let number = values.len() as f64;
    let freedom = number - 1.0;
    let mean = values.iter().sum::<f64>() / number;
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let error = (squares / freedom / number).sqrt();
    let statistic = mean / error;
    let student = StudentsT::new(0.0, 1.0, freedom).ok()?;
    (error > 0.0).then(|| StudentTest {
        mean,
        error,
        statistic,
        freedom,
        p_value: 2.0 * student.cdf(-statistic.abs()),
    })
}

/// Two-sided p value of the test alone, the path for simulated studies; `None` where it is
/// undefined (fewer than two informative sites, or log ratios that do not vary).
#[must_use]
pub fn p_value_only(sites: &[PairedSite]) -> Option<f64> {
    student_test(&log_ratios(sites)).map(|test| test.p_value)
}

/// Log ratios of the informative sites.
#[must_use]
pub fn log_ratios(sites: &[PairedSite]) -> Vec<f64> {
    sites
        .iter()
        .filter(|site| site.is_informative())
        .map(PairedSite::log_ratio_with_half)
        .collect()
}

/// Mean count per patch over informative sites.
pub(crate) fn mean_count(sites: &[PairedSite], informative: usize) -> f64 {
    let total: f64 = sites.iter().map(PairedSite::total).sum();
    total / (2 * informative.max(1)) as f64
}

/// Ratio, t interval and test on the informative sites.
pub(crate) fn compare(sites: &[PairedSite], options: &PairedOptions) -> PairedResult {
    let values = log_ratios(sites);
    let test = student_test(&values);
    let mean = (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64);
    let interval = test
        .and_then(|test| {
            let student = StudentsT::new(0.0, 1.0, test.freedom).ok()?;
            let reach = test.error * student.inverse_cdf(1.0 - 0.5 * options.level());
            Some(RatioInterval::from_logs(
                Some(test.mean - reach),
                Some(test.mean + reach),
                options.confidence,
            ))
        })
        .unwrap_or_else(|| RatioInterval::open(options.confidence));
    let mut warnings = Vec::new();
    if values.is_empty() {
        warnings.push(Warning::NoInformativeSite);
    } else {
        warnings.push(Warning::PulledToOne {
            mean_count: mean_count(sites, values.len()),
        });
        if test.is_none() {
            warnings.push(Warning::NoSpread);
        }
    }
    PairedResult {
        estimator: Estimator::LogRatioT,
        estimate: mean.map_or(RatioEstimate::Undefined, |mean| RatioEstimate::Finite {
            ratio: mean.exp(),
        }),
        log_ratio: mean,
        interval,
        p_value: test.map(|test| test.p_value),
        informative: values.len(),
        sites: sites.len(),
        warnings,
    }
}
