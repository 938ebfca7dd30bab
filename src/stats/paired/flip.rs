//! The sign-flip randomisation test, the default estimator.
//!
//! A coin decided which patch of a site was treated. Had it fallen the other way, the deviation
//! D = y_t - N p of the treated count from its expected share would have had the opposite sign, at
//! no effect and with stems counted before treatment. So the sum of D over sites is compared with
//! its values under all sign patterns (up to 16 informative sites) or under random ones, the
//! observed pattern counted, and the test has the right size whatever the noise between patches.
//! At a ratio other than 1, where the interval is found, the sign symmetry of D is approximate.

use super::conditional;
use super::flip_signs::{LARGEST_ENUMERATION, enumerate, sample, sample_rejects};
use super::roots::{bisect, walk_out};
use super::types::{
    Estimator, PairedOptions, PairedResult, PairedSite, RatioEstimate, RatioInterval, Warning,
};

/// Accuracy of the interval's bounds on the log scale: finer than any use of them.
const BOUND_ACCURACY: f64 = 1e-9;

/// Below this number of sites with a count on a side, the interval rests on so few sign changes
/// that its coverage is not to be trusted (5 sites allow a two-sided p value of 1/16 at best).
const SPARSE_SITES: usize = 6;

/// Smallest two-sided p value the test can give with this many informative sites: 2 / 2^n.
#[must_use]
pub fn smallest_p_value(informative: usize) -> f64 {
    if informative == 0 {
        return 1.0;
    }
    let halvings = i32::try_from(informative - 1).unwrap_or(i32::MAX);
    0.5_f64.powi(halvings)
}

/// Deviations of the informative sites under the `ratio`.
fn scores(sites: &[PairedSite], ratio: f64) -> Vec<f64> {
    sites
        .iter()
        .filter(|site| site.is_informative())
        .map(|site| site.deviation(ratio))
        .collect()
}

/// Two-sided p value of any scores that are symmetric about zero under the hypothesis.
///
/// All sign patterns up to 16 scores, else `flips` random ones from `seed` with the observed pattern
/// counted on top. Zero scores count as scores. 1 without scores.
#[must_use]
pub fn p_value_of_scores(scores: &[f64], flips: usize, seed: u64) -> f64 {
    if scores.len() <= LARGEST_ENUMERATION {
        enumerate(scores).p_value()
    } else {
        sample(scores, flips, seed).p_value()
    }
}

/// Two-sided p value of the hypothesis that the ratio of counts per stem is `ratio` (above 0).
///
/// The fast path for simulated studies: no estimate, no interval, no check of the stems. `None`
/// without an informative site. The same seed gives the same flips at every ratio.
#[must_use]
pub fn p_value_only(sites: &[PairedSite], ratio: f64, flips: usize, seed: u64) -> Option<f64> {
    let scores = scores(sites, ratio);
    (!scores.is_empty()).then(|| p_value_of_scores(&scores, flips, seed))
}

/// Whether [`p_value_only`] would be at most `level`: the same decision, usually reached sooner,
/// since counting stops once it is settled.
#[must_use]
pub fn rejects(sites: &[PairedSite], ratio: f64, flips: usize, seed: u64, level: f64) -> bool {
    scores_reject(&scores(sites, ratio), flips, seed, level)
}

/// The decision on scores; never a rejection without scores.
fn scores_reject(scores: &[f64], flips: usize, seed: u64, level: f64) -> bool {
    if scores.is_empty() {
        false
    } else if scores.len() <= LARGEST_ENUMERATION {
        enumerate(scores).p_value() <= level
    } else {
        sample_rejects(scores, flips, seed, level)
    }
}

/// Test, conditional maximum-likelihood ratio and interval by inverting the test.
pub(crate) fn compare(sites: &[PairedSite], options: &PairedOptions) -> PairedResult {
    let informative = sites.iter().filter(|site| site.is_informative()).count();
    let estimate = conditional::estimate(sites);
    let mut warnings = Vec::new();
    let smallest = smallest_p_value(informative);
    if informative > 0 && smallest > options.level() {
        warnings.push(Warning::CannotReachLevel {
            informative,
            smallest,
            level: options.level(),
        });
    }
    let interval = match estimate {
        RatioEstimate::Undefined => {
            warnings.push(Warning::NoInformativeSite);
            RatioInterval::open(options.confidence)
        }
        RatioEstimate::UnboundedAbove | RatioEstimate::UnboundedBelow => {
            one_sided_interval(sites, estimate, options, &mut warnings)
        }
        RatioEstimate::Finite { ratio } => {
            warnings.extend(sparse_sides(sites));
            inverted_interval(sites, ratio.ln(), options, &mut warnings)
        }
    };
    PairedResult {
        estimator: Estimator::Flip,
        estimate,
        log_ratio: estimate.ratio().map(f64::ln),
        interval,
        p_value: p_value_only(sites, 1.0, options.flips, options.seed),
        informative,
        sites: sites.len(),
        warnings,
    }
}

/// The interval when all counts are on one side.
///
/// The flip test cannot give it: every deviation then has the same sign at any ratio. The bound of
/// [`conditional::one_sided_bound`] is taken at half the level, in keeping with the two-sided test.
pub(crate) fn one_sided_interval(
    sites: &[PairedSite],
    estimate: RatioEstimate,
    options: &PairedOptions,
    warnings: &mut Vec<Warning>,
) -> RatioInterval {
    let on_treated = estimate == RatioEstimate::UnboundedAbove;
    warnings.push(Warning::OneSided {
        side: if on_treated { "treated" } else { "untouched" },
    });
    let bound = conditional::one_sided_bound(sites, on_treated, 0.5 * options.level());
    let (lower, upper) = if on_treated {
        (bound, None)
    } else {
        (None, bound)
    };
    RatioInterval::from_logs(lower, upper, options.confidence)
}

/// Warnings for sides on which few sites have any count.
fn sparse_sides(sites: &[PairedSite]) -> impl Iterator<Item = Warning> {
    let treated = sites.iter().filter(|site| site.treated > 0).count();
    let untouched = sites.iter().filter(|site| site.untouched > 0).count();
    [("treated", treated), ("untouched", untouched)]
        .into_iter()
        .filter(|(_, count)| *count < SPARSE_SITES)
        .map(|(side, sites)| Warning::SparseSide { side, sites })
}

/// The ratios around the estimate that the test does not reject.
fn inverted_interval(
    sites: &[PairedSite],
    estimate: f64,
    options: &PairedOptions,
    warnings: &mut Vec<Warning>,
) -> RatioInterval {
    let level = options.level();
    let kept =
        |log_ratio: f64| !rejects(sites, log_ratio.exp(), options.flips, options.seed, level);
    // In the limit of a ratio of zero only treated counts deviate, in that of an infinite one only
    // untouched ones; if the test keeps the limit, that side stays open.
    let treated: Vec<f64> = counts(sites, |site| site.treated);
    let untouched: Vec<f64> = counts(sites, |site| site.untouched);
    let mut side = |direction: f64, limit: &[f64], name: &'static str| {
        let bound = scores_reject(limit, options.flips, options.seed, level)
            .then(|| walk_out(estimate, direction, kept))
            .flatten()
            .map(|(within, without)| bisect(within, without, BOUND_ACCURACY, kept));
        if bound.is_none() {
            warnings.push(Warning::OpenSide { side: name });
        }
        bound
    };
    let lower = side(-1.0, &treated, "below");
    let upper = side(1.0, &untouched, "above");
    RatioInterval::from_logs(lower, upper, options.confidence)
}

/// Counts of informative sites as scores.
fn counts(sites: &[PairedSite], count: impl Fn(&PairedSite) -> u32) -> Vec<f64> {
    sites
        .iter()
        .filter(|site| site.is_informative())
        .map(|site| f64::from(count(site)))
        .collect()
}
