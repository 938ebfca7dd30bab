//! Wilcoxon's signed-rank test on log ratios of informative sites.
//!
//! Exact null distribution up to 50 values without ties; beyond, or with ties, the normal
//! approximation with tie and continuity correction. Zero differences are dropped, as Wilcoxon did.

use statrs::distribution::{ContinuousCDF, Normal};

use super::log_ratio_t::{log_ratios, mean_count};
use super::types::{
    Estimator, PairedOptions, PairedResult, PairedSite, RatioEstimate, RatioInterval, Warning,
};

/// Most values for which the exact distribution is used without ties (the customary limit: beyond
/// it the normal approximation is right to three decimals).
pub const LARGEST_EXACT: usize = 50;

/// Log ratios closer than this, relative to the largest, are ties: rounding of logarithms moves
/// equal ones by a few 1e-16 only.
const TIE_TOLERANCE: f64 = 1e-12;

/// Correction for the signed rank's steps of one when a normal distribution stands in for it.
const CONTINUITY: f64 = 0.5;

/// Outcome of the signed-rank test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SignedRank {
    /// Sum of the ranks of positive values.
    pub positive_ranks: f64,
    /// Values ranked, zeros left out.
    pub ranked: usize,
    /// Zeros left out.
    pub zeros: usize,
    /// Two-sided p value.
    pub p_value: f64,
    /// Whether the exact distribution was used.
    pub exact: bool,
    /// Whether absolute values were tied.
    pub tied: bool,
}

/// Ranks of absolute values, shared by ties, and the sum over ties of t^3 - t.
fn ranks(values: &[f64]) -> (Vec<f64>, f64) {
    let largest = values.iter().fold(0.0_f64, |most, v| most.max(v.abs()));
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].abs().total_cmp(&values[*b].abs()));
    let mut ranks = vec![0.0; values.len()];
    let mut tie_term = 0.0;
    let mut start = 0;
    while start < order.len() {
        let base = values[order[start]].abs();
        let tied = order[start..]
            .iter()
            .take_while(|at| values[**at].abs() - base <= TIE_TOLERANCE * largest)
            .count();
        // Mean of the ranks start + 1 to start + tied.
        let shared = start as f64 + 0.5 * (tied as f64 + 1.0);
        for at in &order[start..start + tied] {
            ranks[*at] = shared;
        }
        let size = tied as f64;
        tie_term += size * size * size - size;
        start += tied;
    }
    (ranks, tie_term)
}

/// Probability of each sum of a random subset of the ranks 1 to `number`.
fn rank_sum_distribution(number: usize) -> Vec<f64> {
    let mut probability = vec![0.0; number * (number + 1) / 2 + 1];
    probability[0] = 1.0;
    let mut highest = 0;
    for rank in 1..=number {
        highest += rank;
        for sum in (0..=highest).rev() {
            let without = probability[sum];
            let with = if sum >= rank {
                probability[sum - rank]
            } else {
                0.0
            };
            probability[sum] = 0.5 * (without + with);
        }
    }
    probability
}

/// Wilcoxon's signed-rank test of symmetry about zero; `None` if no value differs from zero.
#[must_use]
pub fn signed_rank(values: &[f64]) -> Option<SignedRank> {
    let nonzero: Vec<f64> = values.iter().copied().filter(|v| *v != 0.0).collect();
    if nonzero.is_empty() {
        return None;
    }
    let (ranks, tie_term) = ranks(&nonzero);
    let positive_ranks: f64 = nonzero
        .iter()
        .zip(&ranks)
        .filter(|(value, _)| **value > 0.0)
        .map(|(_, rank)| rank)
        .sum();
    let tied = tie_term > 0.0;
    let exact = !tied && nonzero.len() <= LARGEST_EXACT;
    let p_value = if exact {
        exact_p_value(nonzero.len(), positive_ranks)
    } else {
        let number = nonzero.len() as f64;
        let off = positive_ranks - mean_rank_sum(number);
        let standard = (off.abs() - CONTINUITY).max(0.0) / rank_sum_error(number, tie_term);
        2.0 * Normal::standard().sf(standard)
    };
    Some(SignedRank {
        positive_ranks,
        ranked: nonzero.len(),
        zeros: values.len() - nonzero.len(),
        p_value: p_value.min(1.0),
        exact,
        tied,
    })
}

/// Mean of the rank sum under the hypothesis.
fn mean_rank_sum(number: f64) -> f64 {
    number * (number + 1.0) / 4.0
}

/// Standard deviation of the rank sum under the hypothesis, with tie correction.
fn rank_sum_error(number: f64, tie_term: f64) -> f64 {
    (number * (number + 1.0) * (2.0 * number + 1.0) / 24.0 - tie_term / 48.0).sqrt()
}

/// Twice the smaller tail of the exact distribution.
fn exact_p_value(number: usize, positive_ranks: f64) -> f64 {
    let distribution = rank_sum_distribution(number);
    let all = number as f64 * (number as f64 + 1.0) / 2.0;
    // Without ties rank sums are whole numbers.
    let smaller = positive_ranks.min(all - positive_ranks).round() as usize;
    2.0 * distribution[..=smaller].iter().sum::<f64>()
}

/// Walsh averages (means of all pairs, each value with itself too) in order.
fn walsh_averages(values: &[f64]) -> Vec<f64> {
    let mut averages: Vec<f64> = values
        .iter()
        .enumerate()
        .flat_map(|(at, a)| values[at..].iter().map(move |b| 0.5 * (a + b)))
        .collect();
    averages.sort_by(f64::total_cmp);
    averages
}

/// Hodges and Lehmann's estimate: the median of Walsh averages.
#[must_use]
pub fn hodges_lehmann(values: &[f64]) -> Option<f64> {
    let averages = walsh_averages(values);
    let middle = averages.len() / 2;
    match averages.len() {
        0 => None,
        odd if odd % 2 == 1 => Some(averages[middle]),
        _ => Some(0.5 * (averages[middle - 1] + averages[middle])),
    }
}

/// Number of Walsh averages cut off at each end of the interval; 0 if the level is out of reach.
fn cut_off(number: usize, level: f64) -> usize {
    if number <= LARGEST_EXACT {
        let mut tail = 0.0;
        rank_sum_distribution(number)
            .iter()
            .take_while(|probability| {
                tail += **probability;
                tail <= 0.5 * level
            })
            .count()
    } else {
        let size = number as f64;
        let reach = Normal::standard().inverse_cdf(1.0 - 0.5 * level) * rank_sum_error(size, 0.0);
        (mean_rank_sum(size) - reach - CONTINUITY).max(0.0).floor() as usize + 1
    }
}

/// Bounds of the interval that inverts the test (Walsh averages; conservative with ties).
#[must_use]
pub fn interval(values: &[f64], level: f64) -> (Option<f64>, Option<f64>) {
    let averages = walsh_averages(values);
    let cut = cut_off(values.len(), level);
    if cut == 0 || cut > averages.len() {
        return (None, None);
    }
    (
        averages.get(cut - 1).copied(),
        averages.get(averages.len() - cut).copied(),
    )
}

/// Two-sided p value of the test alone, the path for simulated studies; `None` without an
/// informative site.
#[must_use]
pub fn p_value_only(sites: &[PairedSite]) -> Option<f64> {
    let values = log_ratios(sites);
    // Log ratios that are all zero do not contradict a ratio of 1 at all.
    signed_rank(&values)
        .map(|test| test.p_value)
        .or((!values.is_empty()).then_some(1.0))
}

/// Hodges-Lehmann ratio, interval from Walsh averages and signed-rank test.
pub(crate) fn compare(sites: &[PairedSite], options: &PairedOptions) -> PairedResult {
    let values = log_ratios(sites);
    let test = signed_rank(&values);
    let log_ratio = hodges_lehmann(&values);
    let (lower, upper) = interval(&values, options.level());
    let mut warnings = Vec::new();
    if values.is_empty() {
        warnings.push(Warning::NoInformativeSite);
    } else {
        warnings.push(Warning::PulledToOne {
            mean_count: mean_count(sites, values.len()),
        });
        if lower.is_none() {
            warnings.push(Warning::CannotReachLevel {
                informative: values.len(),
                smallest: super::flip::smallest_p_value(values.len()),
                level: options.level(),
            });
        }
    }
    if let Some(test) = test.filter(|test| !test.exact) {
        warnings.push(Warning::NormalApproximation {
            reason: if test.tied {
                "tied log ratios"
            } else {
                "more than 50 sites"
            },
        });
    }
    PairedResult {
        estimator: Estimator::SignedRank,
        estimate: log_ratio.map_or(RatioEstimate::Undefined, |log_ratio| {
            RatioEstimate::Finite {
                ratio: log_ratio.exp(),
            }
        }),
        log_ratio,
        interval: RatioInterval::from_logs(lower, upper, options.confidence),
        p_value: p_value_only(sites),
        informative: values.len(),
        sites: sites.len(),
        warnings,
    }
}
