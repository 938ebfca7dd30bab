//! Does the effect differ between two kinds of surroundings?
//!
//! At the ratio that fits all sites best, each site has a score, its treated count minus what that ratio expects. If
//! the effect is the same in both kinds, the labels of kind could as well be dealt to the sites at random: the sum of
//! the second kind's scores is held against its variance under such dealing and the normal law. (A z test of two log
//! ratios with sandwich errors was tried first and rejected a true null in up to 14 % of studies of 20 sites.)

use super::pool::{Comparison, SiteSeason};
use super::power::{
    FORM, PowerCurve, STUDIES_KEPT_TOGETHER, StudyPlan, TEST_LEVEL, curve_of_decisions, drawn,
    study_stream,
};
use crate::runner::{Digested, Runner, Taken};
use crate::stats::paired::{PairedSite, RatioEstimate, conditional};
use crate::study::StudyError;
use statrs::distribution::{ContinuousCDF, Normal};

/// Power to find a difference between two kinds.
#[derive(Debug, Clone, PartialEq)]
pub struct KindsAnswer {
    /// Home ratio at sites of the first and of the second kind, where it is defined.
    pub ratios: [Option<f64>; 2],
    /// Power against the number of sites of both kinds together.
    pub curve: PowerCurve,
}

/// Fewest informative sites of a kind with which a difference is tested.
const FEWEST_SITES: usize = 3;

/// z of a difference between kinds: the sum of the second kind's scores at the common ratio, over its SD when the
/// labels of kind are dealt to the sites at random. `None` with too few sites or an unbounded ratio.
#[must_use]
pub fn difference(sites: &[(bool, PairedSite)]) -> Option<f64> {
    let informative: Vec<&(bool, PairedSite)> = sites
        .iter()
        .filter(|site| site.1.is_informative())
        .collect();
    let counts: Vec<PairedSite> = informative.iter().map(|site| site.1).collect();
    let RatioEstimate::Finite { ratio } = conditional::estimate(&counts) else {
        return None;
    };
    let seconds = informative.iter().filter(|site| site.0).count();
    if seconds < FEWEST_SITES || informative.len() - seconds < FEWEST_SITES {
        return None;
    }
    let scores = informative
        .iter()
        .map(|site| (site.0, site.1.deviation(ratio)));
    let (mut sum, mut squares) = (0.0, 0.0);
    for (second, score) in scores {
        squares += score * score;
        sum += if second { score } else { 0.0 };
    }
    // The scores sum to zero at the common ratio, so this is the variance of a sum of `seconds` of them, drawn
    // without replacement.
    let (number, seconds) = (informative.len() as f64, seconds as f64);
    let variance = seconds * (number - seconds) / (number * (number - 1.0)) * squares;
    (variance > 0.0).then(|| sum / variance.sqrt())
}

/// Power when sites of the first kind come from one pool and those of the second kind from another, in which the same
/// sites have another effect; or from the same pool, when the kinds already differ in it.
///
/// # Errors
/// When the run is stopped or a statistic cannot be worked out.
pub fn kinds_power(
    pools: [&[SiteSeason]; 2],
    ratios: [Option<f64>; 2],
    plan: &StudyPlan,
    runner: &Runner<'_>,
) -> Result<KindsAnswer, StudyError> {
    let most = plan.sizes.iter().copied().max().unwrap_or(0);
    let length = pools[0].len().min(pools[1].len());
    let critical = Normal::standard().inverse_cdf(1.0 - TEST_LEVEL / 2.0);
    let pool_digest = Digested(&pools);
    let taken = Taken::new("difference between kinds", FORM)
        .of_no_seasons()
        .with(&pool_digest)
        .with(plan);
    let by_study = runner.run_each(
        &taken,
        0..plan.studies as u64,
        STUDIES_KEPT_TOGETHER,
        |study| {
            let mut stream = study_stream(runner.seed, study as usize);
            let sites: Vec<(bool, PairedSite)> = (0..most)
                .map(|_| {
                    let index = drawn(&mut stream, length);
                    let second = pools[0][index].second_kind;
                    let season = &pools[usize::from(second)][index];
                    (second, season.pair(Comparison::Late))
                })
                .collect();
            let decide =
                |size: &usize| difference(&sites[..*size]).is_some_and(|z| z.abs() >= critical);
            Ok::<Vec<bool>, StudyError>(plan.sizes.iter().map(decide).collect())
        },
    )?;
    let rejections: Vec<Vec<bool>> = (0..plan.sizes.len())
        .map(|size| by_study.iter().map(|study| study[size]).collect())
        .collect();
    Ok(KindsAnswer {
        ratios,
        curve: curve_of_decisions(&rejections, plan, runner.seed)?,
    })
}
