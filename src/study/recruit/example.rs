//! One simulated study, so that a coordinator sees what the data will look like.

use super::power::{StudyPlan, drawn, study_stream};
use crate::stats::paired::{PairedOptions, PairedResult, PairedSite, compare};
use crate::stats::{LEVEL, StatsError, clopper_pearson};
use crate::trouble::Trouble;

/// One site of the example.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExampleSite {
    /// Its counts.
    pub counts: PairedSite,
    /// Ratio of counts per stem; zero or infinite when one side is empty, `None` when both are.
    pub ratio: Option<f64>,
    /// 95 % interval of the ratio from the two counts alone (binomial, Clopper & Pearson).
    pub interval: Option<(f64, f64)>,
}

/// A simulated study and what the estimator makes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct ExampleStudy {
    /// Effect, in words.
    pub effect: String,
    /// Home ratio of the effect, where it is defined.
    pub home_ratio: Option<f64>,
    /// Sites.
    pub sites: Vec<ExampleSite>,
    /// The result.
    pub result: PairedResult,
}

/// A study drawn from a pool.
///
/// # Errors
/// When the counts make no comparison.
pub fn example(
    pool: &[PairedSite],
    size: usize,
    (effect, home_ratio): (String, Option<f64>),
    plan: &StudyPlan,
    seed: u64,
) -> Result<ExampleStudy, Trouble> {
    // The first study after those of the power curves.
    let mut stream = study_stream(seed, plan.studies);
    let counts: Vec<PairedSite> = (0..size)
        .map(|_| pool[drawn(&mut stream, pool.len())])
        .collect();
    let told = |fault: String| Trouble::new(format!("the example study: {fault}"));
    let options = PairedOptions {
        seed,
        ..PairedOptions::default()
    };
    let result =
        compare(&counts, plan.estimator, &options).map_err(|fault| told(fault.to_string()))?;
    let sites = counts
        .iter()
        .map(|site| example_site(*site))
        .collect::<Result<Vec<_>, _>>()
        .map_err(|fault| told(fault.to_string()))?;
    Ok(ExampleStudy {
        effect,
        home_ratio,
        sites,
        result,
    })
}

fn example_site(counts: PairedSite) -> Result<ExampleSite, StatsError> {
    if !counts.is_informative() {
        return Ok(ExampleSite {
            counts,
            ratio: None,
            interval: None,
        });
    }
    let total = u64::from(counts.treated) + u64::from(counts.untouched);
    let share = clopper_pearson(u64::from(counts.treated), total, LEVEL)?;
    let ratio = |share: f64| share / (1.0 - share) * counts.stems_untouched / counts.stems_treated;
    Ok(ExampleSite {
        counts,
        ratio: Some(ratio(share.value)),
        interval: Some((ratio(share.low), ratio(share.high))),
    })
}
