//! What does the refuge half do to the late-stage counts? Counts by half and natal half against refuge share.

use super::measures::{Contrast, Measured, measured};
use super::uncertain::{self, Band};
use super::{Effort, StudyError, check_precision, every, plan_with, resampled, tallies};
use crate::plan::Plan;
use crate::runner::Runner;
use crate::scenario::{Layered, LayoutKind, Scenario};
use crate::stats::{Estimate, LEVEL, Table, mean_t};
use crate::trouble::Trouble;
use crate::world::HalfId;

/// Refuge shares tried unless others are asked for.
pub const SHARES: [f64; 7] = [0.0, 0.15, 0.3, 0.5, 0.7, 0.85, 1.0];

/// Index of the one of [`SHARES`] that is nearest to a refuge share.
#[must_use]
pub fn nearest_share(refuge_share: f64) -> usize {
    let away = |index: &usize| (SHARES[*index] - refuge_share).abs();
    (0..SHARES.len())
        .min_by(|a, b| away(a).total_cmp(&away(b)))
        .unwrap_or(0)
}

/// Options of the refuge question.
#[derive(Debug, Clone, PartialEq)]
pub struct RefugeQuestion {
    /// Refuge shares to try, ascending.
    pub shares: Vec<f64>,
    /// Seasons per share.
    pub effort: Effort,
    /// Half-width of the interval of half drift at which to stop.
    pub precision: Option<f64>,
}

/// The answer at one refuge share. Means are late-stage larvae per season, present at the surveys together.
#[derive(Debug, Clone)]
pub struct RefugePoint {
    /// Refuge share.
    pub share: f64,
    /// Stems in the refuge half and in the cut half.
    pub stems: (usize, usize),
    /// Standing in the refuge half: laid there, laid in the cut half, laid in the other patch.
    pub on_refuge: [Estimate; 3],
    /// Standing in the cut half: laid there, laid in the refuge half, laid in the other patch.
    pub on_cut: [Estimate; 3],
    /// Half drift.
    pub half_drift: Measured,
    /// Of those in the cut half, the share laid in the refuge half.
    pub refuge_in_cut: Measured,
    /// Observed ratio of the treated patch over the untouched, or of the halves in a single patch.
    pub observed_ratio: Measured,
    /// The same by natal patch or half.
    pub home_ratio: Measured,
    /// Net yield.
    pub net_yield: Measured,
}

/// Answers the refuge question.
///
/// # Errors
/// When the scenario has no halves, the question makes no sense, or the run is stopped.
pub fn answer(
    layered: &Layered,
    question: &RefugeQuestion,
    runner: &Runner<'_>,
) -> Result<Vec<RefugePoint>, StudyError> {
    check(layered, question)?;
    let at = |effort| points(layered, question, effort, runner);
    let Some(precision) = question.precision else {
        return at(question.effort);
    };
    let known = |width: f64| format!("half drift known to +-{width:.4}");
    let settings = (question.effort, question.shares.len() as u64);
    let widest = |points: &Vec<RefugePoint>| widest_drift(points);
    let is_empty = |points: &Vec<RefugePoint>| {
        let all = |point: &RefugePoint| [point.on_refuge, point.on_cut].concat();
        points.iter().flat_map(all).all(|mean| mean.value == 0.0)
    };
    let judged = (widest, is_empty);
    super::precise(settings, precision, runner, at, judged, known)
}

fn widest_drift(points: &[RefugePoint]) -> Option<f64> {
    let widths = points.iter().filter_map(|point| {
        point
            .half_drift
            .interval
            .map(|(low, high)| (high - low) / 2.0)
    });
    widths.max_by(f64::total_cmp)
}

/// Checks a question before anything is run.
///
/// # Errors
/// When the scenario has no halves, or the shares or the precision make no sense.
pub fn check(layered: &Layered, question: &RefugeQuestion) -> Result<(), Trouble> {
    let scenario = Scenario::from_layers(layered)?;
    if !matches!(
        scenario.layout,
        LayoutKind::PairHalfCut | LayoutKind::OnePatchHalves
    ) {
        return Err(Trouble::new(format!(
            "the scenario `{}` has no refuge half to vary",
            scenario.name
        ))
        .at("site.layout")
        .expected("PairHalfCut or OnePatchHalves")
        .remedy("choose a scenario with a refuge half"));
    }
    let count = question.shares.len();
    if count > super::MOST_SETTINGS {
        return Err(Trouble::new(format!("{count} refuge shares are asked for"))
            .at("the option --shares")
            .expected(format!("at most {}", super::MOST_SETTINGS))
            .remedy("take wider steps"));
    }
    super::check_seasons(question.effort.seasons, count as u64)?;
    let proper = question
        .shares
        .iter()
        .all(|share| (0.0..=1.0).contains(share));
    if question.shares.is_empty() || !proper {
        return Err(Trouble::new("the list of refuge shares makes no sense")
            .at("the option --shares")
            .expected("shares from 0 to 1, such as 0,0.25,0.5,0.75")
            .remedy("mend the list"));
    }
    check_precision(question.precision, "0.01")
}

fn points(
    layered: &Layered,
    question: &RefugeQuestion,
    effort: Effort,
    runner: &Runner<'_>,
) -> Result<Vec<RefugePoint>, StudyError> {
    every(
        question
            .shares
            .iter()
            .map(|share| point(layered, *share, effort, runner)),
    )
}

/// Names of the measures of a refuge share, in the order of [`bands`].
pub const REFUGE_MEASURES: [&str; 5] = [
    "half_drift",
    "laid_in_refuge_of_cut",
    "observed_ratio",
    "home_ratio",
    "net_yield",
];

/// Bands of the measures over plausible parameter sets: by refuge share, then in the order of [`REFUGE_MEASURES`].
///
/// # Errors
/// When the run is stopped.
pub fn bands(
    layered: &Layered,
    shares: &[f64],
    (sets, seasons): (u64, u64),
    runner: &Runner<'_>,
) -> Result<Vec<Vec<Band>>, StudyError> {
    every(shares.iter().map(|share| {
        let found = uncertain::over_sets(layered, sets, runner, |layered, set| {
            let plan = plan_with(layered, &[("site.refuge_share", share.to_string())])?;
            let totals = tallies(&plan, runner, set, Effort::of(seasons))?.totals();
            let contrast = Contrast::of(&plan);
            Ok((0..REFUGE_MEASURES.len())
                .map(|at| measure(&plan, &contrast, &totals, at))
                .collect())
        })?;
        Ok(uncertain::bands(found, REFUGE_MEASURES.len()))
    }))
}

/// One of [`REFUGE_MEASURES`] from pooled sums.
fn measure(plan: &Plan, contrast: &Contrast, sums: &[f64], at: usize) -> Option<f64> {
    let (refuge, cut) = (HalfId::new(0, false), HalfId::new(0, true));
    let value = match at {
        0 if plan.layout.stems_in(refuge) > 0 && plan.layout.stems_in(cut) > 0 => {
            contrast.half_drift(sums)
        }
        1 if plan.layout.stems_in(refuge) > 0 => {
            let columns = contrast.columns();
            let late = |natal| sums[columns.late(cut, natal)];
            let all: f64 = columns.halves().map(late).sum();
            (all > 0.0).then(|| late(refuge) / all)
        }
        2 => contrast.observed_ratio(sums),
        3 => contrast.home_ratio(sums),
        4 => contrast.net_yield(sums),
        _ => None,
    };
    value.filter(|value| value.is_finite())
}

fn point(
    layered: &Layered,
    share: f64,
    effort: Effort,
    runner: &Runner<'_>,
) -> Result<RefugePoint, StudyError> {
    let plan = plan_with(layered, &[("site.refuge_share", share.to_string())])?;
    let contrast = Contrast::of(&plan);
    let table = tallies(&plan, runner, 0, effort)?;
    let (refuge, cut) = (HalfId::new(0, false), HalfId::new(0, true));
    let others: Vec<HalfId> = contrast
        .columns()
        .halves()
        .filter(|half| half.patch() != 0)
        .collect();
    let mean = |stands: HalfId, natal: &[HalfId]| {
        let rows = mean_late(&table, &contrast, stands, natal)?;
        // A row may be the sum of a group of seasons.
        let rows_a_season = table.seasons() as f64 / effort.seasons as f64;
        Ok::<_, StudyError>(rows.map(|mean| mean * rows_a_season))
    };
    let resamples = resampled(&table, runner, effort)?;
    let of = |at| measured(&resamples, |sums| measure(&plan, &contrast, sums, at));
    Ok(RefugePoint {
        share,
        stems: (plan.layout.stems_in(refuge), plan.layout.stems_in(cut)),
        on_refuge: [
            mean(refuge, &[refuge])?,
            mean(refuge, &[cut])?,
            mean(refuge, &others)?,
        ],
        on_cut: [
            mean(cut, &[cut])?,
            mean(cut, &[refuge])?,
            mean(cut, &others)?,
        ],
        half_drift: of(0)?,
        refuge_in_cut: of(1)?,
        observed_ratio: of(2)?,
        home_ratio: of(3)?,
        net_yield: of(4)?,
    })
}

fn mean_late(
    table: &Table,
    contrast: &Contrast,
    stands: HalfId,
    natal: &[HalfId],
) -> Result<Estimate, StudyError> {
    let values: Vec<f64> = table
        .rows()
        .map(|row| {
            natal
                .iter()
                .map(|home| row[contrast.columns().late(stands, *home)])
                .sum()
        })
        .collect();
    Ok(mean_t(&values, LEVEL)?)
}
