//! Does the effect differ between two kinds of surroundings?
//!
//! Each kind gets its own conditional maximum-likelihood log ratio; their difference over the sandwich error of the
//! difference (with the small-sample factor n/(n-1) for each kind) is held against the normal law.

use super::pool::{Comparison, SiteSeason};
use super::power::{PowerCurve, StudyPlan, TEST_LEVEL, curve_of_decisions, drawn, study_stream};
use crate::runner::Runner;
use crate::stats::paired::{PairedSite, conditional};
use crate::study::StudyError;
use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};

/// Power to find a difference between two kinds.
#[derive(Debug, Clone, PartialEq)]
pub struct KindsAnswer {
    /// Home ratio at sites of the first and of the second kind.
    pub ratios: [f64; 2],
    /// Power against the number of sites of both kinds together.
    pub curve: PowerCurve,
}

/// Fewest informative sites of a kind with which a difference is tested.
const FEWEST_SITES: usize = 3;

/// z of the difference of two log ratios; `None` when either is unbounded.
#[must_use]
pub fn difference(first: &[PairedSite], second: &[PairedSite]) -> Option<f64> {
    let fitted = |sites: &[PairedSite]| {
        let informative = sites.iter().filter(|site| site.is_informative()).count();
        if informative < FEWEST_SITES {
            return None;
        }
        let fit = conditional::fit(sites)?;
        let number = informative as f64;
        Some((
            fit.log_ratio,
            fit.sandwich_error.powi(2) * number / (number - 1.0),
        ))
    };
    let ((one, one_variance), (other, other_variance)) = (fitted(first)?, fitted(second)?);
    let error = (one_variance + other_variance).sqrt();
    (error > 0.0).then(|| (one - other) / error)
}

/// Power when sites of the first kind come from one pool and those of the second kind from another, in which the same
/// sites have another effect; or from the same pool, when the kinds already differ in it.
///
/// # Errors
/// When the run is stopped or a statistic cannot be worked out.
pub fn kinds_power(
    pools: [&[SiteSeason]; 2],
    ratios: [f64; 2],
    plan: &StudyPlan,
    runner: &Runner<'_>,
) -> Result<KindsAnswer, StudyError> {
    let most = plan.sizes.iter().copied().max().unwrap_or(0);
    let length = pools[0].len().min(pools[1].len());
    let critical = Normal::standard().inverse_cdf(1.0 - TEST_LEVEL / 2.0);
    let by_study: Vec<Vec<bool>> = (0..plan.studies)
        .into_par_iter()
        .map(|study| {
            let mut stream = study_stream(runner.seed, study);
            let sites: Vec<(bool, PairedSite)> = (0..most)
                .map(|_| {
                    let index = drawn(&mut stream, length);
                    let second = pools[0][index].second_kind;
                    let season = &pools[usize::from(second)][index];
                    (second, season.pair(Comparison::Late))
                })
                .collect();
            let decide = |size: &usize| {
                let of = |kind: bool| -> Vec<PairedSite> {
                    let those = sites[..*size].iter().filter(|site| site.0 == kind);
                    those.map(|site| site.1).collect()
                };
                difference(&of(false), &of(true)).is_some_and(|z| z.abs() >= critical)
            };
            plan.sizes.iter().map(decide).collect()
        })
        .collect();
    let rejections: Vec<Vec<bool>> = (0..plan.sizes.len())
        .map(|size| by_study.iter().map(|study| study[size]).collect())
        .collect();
    Ok(KindsAnswer {
        ratios,
        curve: curve_of_decisions(&rejections, plan, runner.seed)?,
    })
}
