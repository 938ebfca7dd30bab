//! Does cutting do net good? Net yield against the attraction of fresh stems, and where it breaks even.

use super::measures::{Contrast, Measured, measured};
use super::{Effort, StudyError, every, plan_with, resampled, side_by_side, tallies};
use crate::runner::Runner;
use crate::scenario::Layered;
use crate::stats::{CrossingQuery, CrossingReport, CurvePoint, LEVEL, Table, Trend, crossing};
use crate::trouble::Trouble;

/// Peak attraction ratios tried: the plausible range and a little beyond.
pub const ATTRACTIONS: [f64; 8] = [0.5, 1.0, 1.5, 2.2, 3.2, 4.7, 7.0, 10.0];

/// The answer.
#[derive(Debug, Clone)]
pub struct YieldAnswer {
    /// Peak attraction ratios tried.
    pub attractions: Vec<f64>,
    /// Net yield at each.
    pub yields: Vec<Measured>,
    /// Where net yield reaches 1.
    pub break_even: CrossingReport,
    /// Seasons at each.
    pub seasons: u64,
}

/// Net yield over a range of attraction ratios.
///
/// # Errors
/// When the scenario makes no sense or the run is stopped.
pub fn answer(
    layered: &Layered,
    attractions: &[f64],
    effort: Effort,
    runner: &Runner<'_>,
) -> Result<YieldAnswer, StudyError> {
    let mut contrast = None;
    let tables: Vec<Table> = every(attractions.iter().map(|attraction| {
        let plan = plan_with(
            layered,
            &[("laying.attraction_peak", attraction.to_string())],
        )?;
        contrast.get_or_insert_with(|| Contrast::of(&plan));
        tallies(&plan, runner, 0, effort)
    }))?;
    let Some(contrast) = contrast else {
        return Err(Trouble::new("no attraction was tried").into());
    };
    let resamples = resampled(&side_by_side(&tables)?, runner, effort)?;
    let width = contrast.columns().count();
    let yields = (0..attractions.len())
        .map(|index| {
            measured(&resamples, |sums| {
                contrast.net_yield(&sums[index * width..(index + 1) * width])
            })
        })
        .collect::<Result<Vec<_>, _>>()?;
    // Net yield y per stem is above 1 exactly when the share y/(1 + y) is above one half.
    let query = CrossingQuery {
        grid: attractions,
        trend: Trend::Increasing,
        threshold: 0.5,
    };
    let break_even = crossing(&query, &resamples, LEVEL, |sums, index| {
        let (treated, untouched) = contrast.pupated(&sums[index * width..(index + 1) * width]);
        let untouched = untouched * contrast.stem_ratio();
        CurvePoint {
            successes: treated,
            trials: treated + untouched,
        }
    })?;
    Ok(YieldAnswer {
        attractions: attractions.to_vec(),
        yields,
        break_even,
        seasons: effort.seasons,
    })
}
