//! Correction of a ratio for larvae that walk from one side to the other.
//!
//! Of the larvae laid on the treated side and standing on either side at a survey, a share a stands on the other;
//! of those laid on the other side, a share b stands on the treated one. A site with stems s_t and s_c whose larvae
//! per stem are in the home ratio H is then expected to show the treated share
//!
//! p(H) = ((1 - a) H s_t + b s_c) / (H s_t + s_c)
//!
//! instead of R s_t / (R s_t + s_c). The home ratio that belongs to an observed ratio R is the one at which both
//! give the same treated total over the sites, each with its own stems and total count. With equal patches that is
//! H = (R (1 - b) - b) / (1 - a - a R).
//!
//! a and b are simulated; they hardly depend on the ratio itself, unlike the stray shares of the two sides, which
//! do: the more larvae one side raises, the more of the other's are strays.

use super::exchange::{Exchange, Transfer};
use crate::random::{Key, Purpose};
use crate::stats::paired::{PairedResult, PairedSite, RatioEstimate, root};
use crate::stats::sorted_quantile;
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};

/// Draws that combine the errors of ratio and exchange: a 2.5 % tail holds a hundred of them.
const DRAWS: usize = 4000;
/// Log home ratios beyond this are zero or without limit: a factor of 10^13.
const FARTHEST_LOG_RATIO: f64 = 30.0;
/// Absolute accuracy of a log home ratio, far below its error.
const LOG_RATIO_ACCURACY: f64 = 1e-9;

impl Transfer {
    /// Expected treated share of a site's count at a log home ratio.
    fn treated_share(self, site: &PairedSite, log_home: f64) -> f64 {
        let home = site.treated_share(log_home.exp());
        (1.0 - self.from_treated) * home + self.from_other * (1.0 - home)
    }
}

/// The home ratio that belongs to an observed ratio (0 to infinite) at sites with an exchange.
///
/// 0 or infinite where the observed ratio is as far from 1 as the exchange allows, or farther. `None` without a
/// count above zero, and where so many larvae change sides that the ratio says nothing about their origin
/// (the two shares together are 1 or more).
#[must_use]
pub fn home_ratio(sites: &[PairedSite], observed: f64, transfer: Transfer) -> Option<f64> {
    if transfer.from_treated + transfer.from_other >= 1.0 {
        return None;
    }
    let informative: Vec<&PairedSite> = sites.iter().filter(|site| site.is_informative()).collect();
    if informative.is_empty() || observed.is_nan() {
        return None;
    }
    let target: f64 = informative
        .iter()
        .map(|site| site.total() * site.treated_share(observed))
        .sum();
    let excess = |log_home: f64| {
        informative
            .iter()
            .map(|site| site.total() * transfer.treated_share(site, log_home))
            .sum::<f64>()
            - target
    };
    if excess(-FARTHEST_LOG_RATIO) >= 0.0 {
        return Some(0.0);
    }
    if excess(FARTHEST_LOG_RATIO) <= 0.0 {
        return Some(f64::INFINITY);
    }
    root(
        excess,
        -FARTHEST_LOG_RATIO,
        FARTHEST_LOG_RATIO,
        LOG_RATIO_ACCURACY,
    )
    .map(f64::exp)
}

/// An interval for the home ratio; an end that is `None` is open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CorrectedInterval {
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

/// A ratio corrected for exchange.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Corrected {
    /// The home ratio, above 0; `None` if it is zero, without limit or undefined.
    pub home_ratio: Option<f64>,
    /// Interval from the error of the ratio and the Monte Carlo error of the exchange.
    pub interval: Option<CorrectedInterval>,
    /// The same over plausible parameter sets.
    pub over_sets: Option<CorrectedInterval>,
    /// Share of the parameter sets in which so many larvae change sides that nothing can be corrected.
    pub sets_without_answer: f64,
}

/// Corrects what an estimator found for a simulated exchange.
///
/// The observed log ratio is drawn from two half normal distributions that join at the estimate and end at the
/// estimator's interval, the exchange from its resamples or from the parameter sets; the interval holds the
/// middle of the home ratios, at the estimator's own confidence.
#[must_use]
pub fn corrected(
    exchange: &Exchange,
    sites: &[PairedSite],
    result: &PairedResult,
    seed: u64,
) -> Corrected {
    let usable = |transfer: &Transfer| transfer.from_treated + transfer.from_other < 1.0;
    let without = exchange.sets.iter().filter(|set| !usable(set)).count();
    let interval = |transfers: &[Transfer]| combined(transfers, sites, result, seed);
    Corrected {
        home_ratio: result
            .estimate
            .ratio()
            .and_then(|ratio| home_ratio(sites, ratio, exchange.central))
            .filter(|home| *home > 0.0 && home.is_finite()),
        interval: interval(&exchange.resamples),
        over_sets: (!exchange.sets.is_empty())
            .then(|| interval(&exchange.sets))
            .flatten(),
        sets_without_answer: without as f64 / exchange.sets.len().max(1) as f64,
    }
}

/// Where the observed log ratio of a draw lies, given its normal score.
fn observed_log(result: &PairedResult, score: f64, reach: f64) -> Option<f64> {
    let end = |bound: Option<f64>, open: f64| bound.map_or(open, f64::ln);
    let (low, high) = (
        end(result.interval.lower, f64::NEG_INFINITY),
        end(result.interval.upper, f64::INFINITY),
    );
    match result.estimate {
        RatioEstimate::Undefined => None,
        RatioEstimate::UnboundedAbove => Some(if score < 0.0 { low } else { f64::INFINITY }),
        RatioEstimate::UnboundedBelow => Some(if score > 0.0 { high } else { f64::NEG_INFINITY }),
        RatioEstimate::Finite { ratio } => {
            let centre = ratio.ln();
            let far = if score < 0.0 { low } else { high };
            // A score of exactly 0 does not occur: the draws lie on both sides of the middle.
            Some(centre + (far - centre) * score.abs() / reach)
        }
    }
}

fn combined(
    transfers: &[Transfer],
    sites: &[PairedSite],
    result: &PairedResult,
    seed: u64,
) -> Option<CorrectedInterval> {
    let normal = Normal::standard();
    let tail = 0.5 * (1.0 - result.interval.confidence);
    let reach = normal.inverse_cdf(1.0 - tail);
    let key = Key::apart(seed, Purpose::Correction);
    let mut homes: Vec<f64> = (0..DRAWS)
        .filter_map(|draw| {
            let pick = key.with(draw as u64).unit() * transfers.len() as f64;
            let transfer = transfers.get(pick as usize)?;
            let score = normal.inverse_cdf((draw as f64 + 0.5) / DRAWS as f64);
            let observed = observed_log(result, score, reach)?.exp();
            home_ratio(sites, observed, *transfer)
        })
        .collect();
    if homes.is_empty() {
        return None;
    }
    homes.sort_by(f64::total_cmp);
    let (low, high) = (
        sorted_quantile(&homes, tail),
        sorted_quantile(&homes, 1.0 - tail),
    );
    Some(CorrectedInterval {
        low: (low > 0.0).then_some(low),
        high: high.is_finite().then_some(high),
    })
}
