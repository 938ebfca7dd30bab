//! What does the refuge half do to the late-stage counts? Counts by half and natal half against refuge share.

use super::measures::{Contrast, Measured, measured};
use super::{Effort, StudyError, every, plan_with, resampled, tallies};
use crate::runner::Runner;
use crate::scenario::{Layered, LayoutKind, Scenario};
use crate::stats::{Estimate, LEVEL, Table, mean_t};
use crate::trouble::Trouble;
use crate::world::HalfId;

/// Refuge shares tried unless others are asked for.
pub const SHARES: [f64; 7] = [0.0, 0.15, 0.3, 0.5, 0.7, 0.85, 1.0];

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
    const MOST_DOUBLINGS: u32 = 8;
    let mut effort = question.effort;
    if let Some(precision) = question.precision {
        for _ in 0..MOST_DOUBLINGS {
            let widest = widest_drift(&points(layered, question, effort, runner)?);
            effort.first_replicate += effort.seasons;
            if widest.is_some_and(|width| width <= precision) {
                break;
            }
            effort.seasons *= 2;
        }
    }
    points(layered, question, effort, runner)
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
    if let Some(precision) = question.precision
        && !(precision.is_finite() && precision > 0.0)
    {
        return Err(Trouble::new(format!("the precision is {precision}"))
            .at("the option --precision")
            .expected("a half-width above 0, such as 0.01")
            .remedy("mend it"));
    }
    Ok(())
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
    let mean = |stands: HalfId, natal: &[HalfId]| mean_late(&table, &contrast, stands, natal);
    let resamples = resampled(&table, runner, effort)?;
    let late = |sums: &[f64], stands, natal| sums[contrast.columns().late(stands, natal)];
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
        half_drift: measured(&resamples, |sums| {
            if plan.layout.stems_in(refuge) > 0 && plan.layout.stems_in(cut) > 0 {
                contrast.half_drift(sums)
            } else {
                None
            }
        })?,
        refuge_in_cut: measured(&resamples, |sums| {
            let all: f64 = contrast
                .columns()
                .halves()
                .map(|natal| late(sums, cut, natal))
                .sum();
            (all > 0.0 && plan.layout.stems_in(refuge) > 0).then(|| late(sums, cut, refuge) / all)
        })?,
        observed_ratio: measured(&resamples, |sums| contrast.observed_ratio(sums))?,
        home_ratio: measured(&resamples, |sums| contrast.home_ratio(sums))?,
        net_yield: measured(&resamples, |sums| contrast.net_yield(sums))?,
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
