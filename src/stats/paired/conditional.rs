//! The ratio of counts per stem by conditional maximum likelihood.
//!
//! Given a site's total count N, the treated half's count has mean N p(R) with
//! p(R) = R s_t / (R s_t + s_c). The estimating equation is the sum of y_t - N p(R) over sites. It
//! is unbiased whatever the site means and whatever the noise between patches, which is why the
//! estimate is used with the sign-flip test although a binomial model would be wrong.

use super::roots::{FARTHEST_LOG_RATIO, root};
use super::{PairedSite, RatioEstimate};

/// Absolute accuracy of the log ratio.
const LOG_RATIO_ACCURACY: f64 = 1e-12;

/// The conditional estimate with its standard errors on the log scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConditionalFit {
    /// Natural logarithm of the ratio.
    pub log_ratio: f64,
    /// Standard error if counts were binomial given the totals (no noise between patches).
    pub model_error: f64,
    /// Sandwich standard error, right under noise between patches, without a small-sample factor.
    pub sandwich_error: f64,
    /// Pearson's chi-squared over its degrees of freedom (1 without noise between patches);
    /// `None` with fewer than two informative sites.
    pub dispersion: Option<f64>,
}

/// Sum over sites of y_t - N p(R): positive below the estimate, negative above it.
#[must_use]
pub fn score(sites: &[PairedSite], log_ratio: f64) -> f64 {
    let ratio = log_ratio.exp();
    sites.iter().map(|site| site.deviation(ratio)).sum()
}

/// Which side the informative counts fall on, and the ratio where both sides hold some.
#[must_use]
pub fn estimate(sites: &[PairedSite]) -> RatioEstimate {
    let treated: u64 = sites.iter().map(|site| u64::from(site.treated)).sum();
    let untouched: u64 = sites.iter().map(|site| u64::from(site.untouched)).sum();
    match (treated, untouched) {
        (0, 0) => RatioEstimate::Undefined,
        (_, 0) => RatioEstimate::UnboundedAbove,
        (0, _) => RatioEstimate::UnboundedBelow,
        _ => root(
            |at| score(sites, at),
            -FARTHEST_LOG_RATIO,
            FARTHEST_LOG_RATIO,
            LOG_RATIO_ACCURACY,
        )
        .map_or(RatioEstimate::Undefined, |log_ratio| {
            RatioEstimate::Finite {
                ratio: log_ratio.exp(),
            }
        }),
    }
}

/// The estimate with its standard errors; `None` where the ratio is unbounded or undefined.
#[must_use]
pub fn fit(sites: &[PairedSite]) -> Option<ConditionalFit> {
    let RatioEstimate::Finite { ratio } = estimate(sites) else {
        return None;
    };
    let (mut information, mut squares, mut pearson) = (0.0, 0.0, 0.0);
    let mut informative: u32 = 0;
    for site in sites.iter().filter(|site| site.is_informative()) {
        let share = site.treated_share(ratio);
        let variance = site.total() * share * (1.0 - share);
        let deviation = site.deviation(ratio);
        information += variance;
        squares += deviation * deviation;
        pearson += deviation * deviation / variance;
        informative += 1;
    }
    Some(ConditionalFit {
        log_ratio: ratio.ln(),
        model_error: information.sqrt().recip(),
        sandwich_error: squares.sqrt() / information,
        dispersion: (informative > 1).then(|| pearson / f64::from(informative - 1)),
    })
}

/// The bound on the log ratio when every informative count lies on one side.
///
/// A site's count can lie wholly on a side that takes the share p of it on average with
/// probability p at most, whatever the noise, so the product of the shares bounds the probability
/// of the whole outcome. The bound is where that product falls to `tail`. Lower bound when the
/// counts are on the treated side, upper bound otherwise.
#[must_use]
pub fn one_sided_bound(sites: &[PairedSite], on_treated: bool, tail: f64) -> Option<f64> {
    let target = tail.ln();
    let product = |at: f64| {
        let ratio = at.exp();
        sites
            .iter()
            .filter(|site| site.is_informative())
            .map(|site| {
                let share = site.treated_share(ratio);
                if on_treated { share } else { 1.0 - share }.ln()
            })
            .sum::<f64>()
            - target
    };
    root(
        product,
        -FARTHEST_LOG_RATIO,
        FARTHEST_LOG_RATIO,
        LOG_RATIO_ACCURACY,
    )
}
