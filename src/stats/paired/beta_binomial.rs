//! Conditional beta-binomial model with a likelihood-ratio test.
//!
//! Given a site's total, the treated count is beta-binomial with mean N p(R) and one intraclass
//! correlation rho for all sites (0 is the binomial). In terms of rho,
//! P(y | N) = C(N, y) prod_{k<y} (p (1-rho) + k rho) prod_{k<N-y} (q (1-rho) + k rho)
//! / prod_{k<N} ((1-rho) + k rho), which needs no gamma function and holds at rho = 0 too.
//! Source of the parametrisation: Prentice 1986, J. Am. Stat. Assoc. 81, 321.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::conditional;
use super::flip::one_sided_interval;
use super::roots::{FARTHEST_LOG_RATIO, root, walk_out};
use super::types::{
    Estimator, PairedOptions, PairedResult, PairedSite, RatioEstimate, RatioInterval, Warning,
};

/// Largest intraclass correlation looked at; at 1 every site's count lies wholly on one side and
/// the likelihood of a divided one is zero.
const LARGEST_CORRELATION: f64 = 1.0 - 1e-9;
/// Absolute accuracy of the correlation.
const CORRELATION_ACCURACY: f64 = 1e-11;
/// Absolute accuracy of the log ratio.
const LOG_RATIO_ACCURACY: f64 = 1e-10;
/// Half width of the first bracket around the conditional estimate, which usually holds the root.
const FIRST_BRACKET: f64 = 0.5;
/// Products below this are put into the logarithm before they can underflow.
const SMALL_PRODUCT: f64 = 1e-200;
/// Products above this are put into the logarithm before they can overflow.
const LARGE_PRODUCT: f64 = 1e200;

/// Maximum-likelihood fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BetaBinomialFit {
    /// Natural logarithm of the ratio of counts per stem.
    pub log_ratio: f64,
    /// Intraclass correlation rho, from 0 (binomial) to 1.
    pub correlation: f64,
    /// Log-likelihood without the binomial coefficients.
    pub log_likelihood: f64,
}

/// Logarithm of a product of many terms, with few calls of the logarithm.
struct LogProduct {
    product: f64,
    logarithm: f64,
}

impl LogProduct {
    fn new() -> Self {
        Self {
            product: 1.0,
            logarithm: 0.0,
        }
    }

    fn multiply(&mut self, factor: f64) {
        self.product *= factor;
        if self.product < SMALL_PRODUCT || self.product > LARGE_PRODUCT {
            self.logarithm += self.product.ln();
            self.product = 1.0;
        }
    }

    fn ln(self) -> f64 {
        self.logarithm + self.product.ln()
    }
}

/// Log-likelihood without binomial coefficients at a log ratio and a correlation in [0, 1).
#[must_use]
pub fn log_likelihood(sites: &[PairedSite], log_ratio: f64, correlation: f64) -> f64 {
    let ratio = log_ratio.exp();
    let rest = 1.0 - correlation;
    let (mut above, mut below) = (LogProduct::new(), LogProduct::new());
    for site in sites {
        let share = site.treated_share(ratio);
        // The other share from its own formula: one minus a share near 1 would lose its digits.
        let other = untouched_share(site, ratio);
        for k in 0..site.treated {
            above.multiply(share * rest + f64::from(k) * correlation);
        }
        for k in 0..site.untouched {
            above.multiply(other * rest + f64::from(k) * correlation);
        }
        for k in 0..u64::from(site.treated) + u64::from(site.untouched) {
            below.multiply(rest + k as f64 * correlation);
        }
    }
    above.ln() - below.ln()
}

/// Expected share of the total on the untouched patch.
fn untouched_share(site: &PairedSite, ratio: f64) -> f64 {
    site.stems_untouched / (ratio * site.stems_treated + site.stems_untouched)
}

/// Derivatives of the log-likelihood by the log ratio and by the correlation.
fn gradient(sites: &[PairedSite], log_ratio: f64, correlation: f64) -> (f64, f64) {
    let ratio = log_ratio.exp();
    let rest = 1.0 - correlation;
    let (mut by_ratio, mut by_correlation) = (0.0, 0.0);
    for site in sites.iter().filter(|site| site.is_informative()) {
        let share = site.treated_share(ratio);
        let other = untouched_share(site, ratio);
        let mut by_share = 0.0;
        for k in 0..site.treated {
            let k = f64::from(k);
            let inverse = (share * rest + k * correlation).recip();
            by_share += rest * inverse;
            by_correlation += (k - share) * inverse;
        }
        for k in 0..site.untouched {
            let k = f64::from(k);
            let inverse = (other * rest + k * correlation).recip();
            by_share -= rest * inverse;
            by_correlation += (k - other) * inverse;
        }
        for k in 0..u64::from(site.treated) + u64::from(site.untouched) {
            let k = k as f64;
            by_correlation -= (k - 1.0) / (rest + k * correlation);
        }
        by_ratio += by_share * share * other;
    }
    (by_ratio, by_correlation)
}

/// Correlation that fits best at a given log ratio.
fn best_correlation(sites: &[PairedSite], log_ratio: f64) -> f64 {
    let slope = |correlation: f64| gradient(sites, log_ratio, correlation).1;
    if slope(0.0) <= 0.0 {
        return 0.0;
    }
    root(slope, 0.0, LARGEST_CORRELATION, CORRELATION_ACCURACY).unwrap_or(LARGEST_CORRELATION)
}

/// Fit with the log ratio held fixed.
#[must_use]
pub fn fit_at(sites: &[PairedSite], log_ratio: f64) -> BetaBinomialFit {
    let correlation = best_correlation(sites, log_ratio);
    BetaBinomialFit {
        log_ratio,
        correlation,
        log_likelihood: log_likelihood(sites, log_ratio, correlation),
    }
}

/// Joint fit of ratio and correlation; `None` where the ratio is unbounded or undefined.
#[must_use]
pub fn fit(sites: &[PairedSite]) -> Option<BetaBinomialFit> {
    let centre = conditional::estimate(sites).ratio()?.ln();
    // At the best correlation for each ratio, the slope of the profile is the slope by the ratio.
    let slope = |at: f64| gradient(sites, at, best_correlation(sites, at)).0;
    let near = root(
        slope,
        centre - FIRST_BRACKET,
        centre + FIRST_BRACKET,
        LOG_RATIO_ACCURACY,
    );
    near.or_else(|| {
        root(
            slope,
            -FARTHEST_LOG_RATIO,
            FARTHEST_LOG_RATIO,
            LOG_RATIO_ACCURACY,
        )
    })
    .map(|log_ratio| fit_at(sites, log_ratio))
}

/// Two-sided p value of the likelihood-ratio test of R = 1 (chi-squared with one degree of
/// freedom), the path for simulated studies; `None` without an informative site.
#[must_use]
pub fn p_value_only(sites: &[PairedSite]) -> Option<f64> {
    let highest = match conditional::estimate(sites) {
        RatioEstimate::Undefined => return None,
        // As the ratio grows without limit the outcome becomes certain.
        RatioEstimate::UnboundedAbove | RatioEstimate::UnboundedBelow => 0.0,
        RatioEstimate::Finite { .. } => fit(sites)?.log_likelihood,
    };
    Some(ratio_test(highest, fit_at(sites, 0.0).log_likelihood))
}

/// Upper tail of chi-squared with one degree of freedom at twice the gain in log-likelihood.
pub(crate) fn ratio_test(highest: f64, restricted: f64) -> f64 {
    let gain = 2.0 * (highest - restricted).max(0.0);
    ChiSquared::new(1.0).map_or(f64::NAN, |law| law.sf(gain))
}

/// Loss of log-likelihood at the bounds of a profile interval of this confidence.
pub(crate) fn allowed_loss(confidence: f64) -> f64 {
    ChiSquared::new(1.0).map_or(f64::NAN, |law| 0.5 * law.inverse_cdf(confidence))
}

/// Where the profile log-likelihood falls to `least` on one side of `from`; `None` if it does not
/// within reach.
pub(crate) fn profile_bound(
    profile: impl Fn(f64) -> f64,
    from: f64,
    direction: f64,
    least: f64,
) -> Option<f64> {
    /// Accuracy of a profile bound on the log scale.
    const BOUND_ACCURACY: f64 = 1e-7;
    let (within, without) = walk_out(from, direction, |at| profile(at) >= least)?;
    root(|at| profile(at) - least, within, without, BOUND_ACCURACY)
}

/// Ratio, profile interval and likelihood-ratio test.
pub(crate) fn compare(sites: &[PairedSite], options: &PairedOptions) -> PairedResult {
    let mut warnings = Vec::new();
    let mut estimate = conditional::estimate(sites);
    let interval = match estimate {
        RatioEstimate::Undefined => {
            warnings.push(Warning::NoInformativeSite);
            RatioInterval::open(options.confidence)
        }
        RatioEstimate::UnboundedAbove | RatioEstimate::UnboundedBelow => {
            one_sided_interval(sites, estimate, options, &mut warnings)
        }
        RatioEstimate::Finite { .. } => {
            warnings.push(Warning::SlightlyLiberal);
            let (found, interval) = fitted(sites, options, &mut warnings);
            estimate = found;
            interval
        }
    };
    PairedResult {
        estimator: Estimator::BetaBinomial,
        estimate,
        log_ratio: estimate.ratio().map(f64::ln),
        interval,
        p_value: p_value_only(sites),
        informative: sites.iter().filter(|site| site.is_informative()).count(),
        sites: sites.len(),
        warnings,
    }
}

/// Estimate and profile interval where counts lie on both sides.
fn fitted(
    sites: &[PairedSite],
    options: &PairedOptions,
    warnings: &mut Vec<Warning>,
) -> (RatioEstimate, RatioInterval) {
    let Some(best) = fit(sites) else {
        warnings.push(Warning::NotConverged {
            detail: "no maximum of the likelihood was found".to_owned(),
        });
        return (
            RatioEstimate::Undefined,
            RatioInterval::open(options.confidence),
        );
    };
    if best.correlation == 0.0 {
        warnings.push(Warning::NoOverdispersion);
    }
    let least = best.log_likelihood - allowed_loss(options.confidence);
    let profile = |at: f64| fit_at(sites, at).log_likelihood;
    let mut side = |direction: f64, name: &'static str| {
        let bound = profile_bound(profile, best.log_ratio, direction, least);
        if bound.is_none() {
            warnings.push(Warning::OpenSide { side: name });
        }
        bound
    };
    let lower = side(-1.0, "below");
    let upper = side(1.0, "above");
    (
        RatioEstimate::Finite {
            ratio: best.log_ratio.exp(),
        },
        RatioInterval::from_logs(lower, upper, options.confidence),
    )
}
