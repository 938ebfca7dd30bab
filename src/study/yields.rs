//! Does cutting do net good? Net yield against the attraction of fresh stems, and where it breaks even.

use super::measures::{Contrast, Measured, measured};
use super::uncertain::{self, Band};
use super::{Effort, StudyError, every, plan_with, resampled, side_by_side, tallies};
use crate::runner::Runner;
use crate::scenario::Layered;
use crate::stats::{
    Crossing, CrossingQuery, CrossingReport, CurvePoint, LEVEL, Table, Trend, crossing,
};
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

/// Net yield and break-even over plausible parameter sets.
#[derive(Debug, Clone, PartialEq)]
pub struct YieldBand {
    /// Net yield at each attraction ratio.
    pub yields: Vec<Band>,
    /// Break-even; 0 below the smallest attraction tried, infinite beyond the largest.
    pub break_even: Band,
}

/// Net yield and break-even of parameter sets; the attraction itself takes the values asked for.
///
/// # Errors
/// As [`answer`].
pub fn band(
    layered: &Layered,
    attractions: &[f64],
    (sets, seasons): (u64, u64),
    runner: &Runner<'_>,
) -> Result<YieldBand, StudyError> {
    let effort = Effort {
        resamples: 1,
        ..Effort::of(seasons)
    };
    let found = uncertain::over_sets(layered, sets, runner, |layered, set| {
        let answer = answer(layered, attractions, effort, runner, set)?;
        let break_even = answer.break_even.crossing.map(|crossing| match crossing {
            Crossing::At(attraction) => attraction,
            Crossing::BelowGrid => 0.0,
            Crossing::NotReached => f64::INFINITY,
        });
        let yields = answer.yields.iter().map(|measured| measured.value);
        Ok(yields.chain([break_even]).collect())
    })?;
    let mut yields = uncertain::bands(found, attractions.len() + 1);
    let break_even = yields.pop().unwrap_or(Band::of(&[]));
    Ok(YieldBand { yields, break_even })
}

/// Net yield over a range of attraction ratios, of one parameter set (0 is the central one).
///
/// # Errors
/// When the scenario makes no sense or the run is stopped.
pub fn answer(
    layered: &Layered,
    attractions: &[f64],
    effort: Effort,
    runner: &Runner<'_>,
    parameter_set: u64,
) -> Result<YieldAnswer, StudyError> {
    let mut contrast = None;
    let tables: Vec<Table> = every(attractions.iter().map(|attraction| {
        let plan = plan_with(
            layered,
            &[("laying.attraction_peak", attraction.to_string())],
        )?;
        contrast.get_or_insert_with(|| Contrast::of(&plan));
        tallies(&plan, runner, parameter_set, effort)
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
    let (stems_treated, stems_untouched) = contrast.stems();
    let break_even = crossing(&query, &resamples, LEVEL, |sums, index| {
        if stems_treated == 0.0 || stems_untouched == 0.0 {
            // Nothing is compared with nothing.
            return CurvePoint {
                successes: 0.0,
                trials: 0.0,
            };
        }
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
