//! How far apart must two patches be? Stray share against gap, and the clear gap.

use super::measures::{Contrast, Measured, measured};
use super::{
    Effort, StudyError, check_precision, every, plan_with, pooled, resampled, side_by_side, tally,
};
use crate::plan::Plan;
use crate::runner::{Runner, Taken};
use crate::scenario::draft::check_as;
use crate::scenario::{Layered, LayoutKind, Scenario};
use crate::stats::{
    Crossing, CrossingQuery, CrossingReport, CurvePoint, LEVEL, Resamples, Table, Trend,
    clopper_pearson, crossing,
};
use crate::trouble::Trouble;

/// Gaps tried unless others are asked for, metres: about equal steps in ratio, from nearly touching to
/// beyond any rule of thumb.
pub const GAP_GRID_M: [f64; 12] = [
    0.5, 0.8, 1.2, 1.8, 2.6, 3.8, 5.5, 8.0, 12.0, 17.0, 24.0, 34.0,
];

/// Options of the gap question.
#[derive(Debug, Clone, PartialEq)]
pub struct GapQuestion {
    /// Gaps to try, metres, ascending.
    pub grid_m: Vec<f64>,
    /// Stray share that is tolerable.
    pub tolerance: f64,
    /// Seasons per gap.
    pub effort: Effort,
    /// Half-width of the interval of the clear gap at which to stop, metres.
    pub precision_m: Option<f64>,
}

/// Stray share of one patch against gap.
#[derive(Debug, Clone)]
pub struct PatchCurve {
    /// Name of the patch.
    pub patch: String,
    /// Stray share at each gap.
    pub shares: Vec<Measured>,
    /// Where it falls to the tolerance.
    pub crossing: CrossingReport,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct GapAnswer {
    /// Gaps tried, metres.
    pub grid_m: Vec<f64>,
    /// Tolerance.
    pub tolerance: f64,
    /// Seasons per gap in the reported figures.
    pub seasons: u64,
    /// One curve a patch.
    pub curves: Vec<PatchCurve>,
    /// Index of the curve that needs the larger gap; `None` where that of some patch is undefined, so that nothing can be
    /// said of both.
    pub deciding: Option<usize>,
}

impl GapAnswer {
    /// The clear gap: the larger of the patches' crossings, so that every patch stays within the tolerance.
    #[must_use]
    pub fn clear(&self) -> Option<&CrossingReport> {
        Some(&self.curves.get(self.deciding?)?.crossing)
    }

    /// The crossing at the clear gap, where it is defined.
    #[must_use]
    pub fn clear_crossing(&self) -> Option<Crossing> {
        self.clear()?.crossing
    }

    /// Whether no late-stage larva was seen at any gap.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        let mut shares = self.curves.iter().flat_map(|curve| &curve.shares);
        shares.all(|share| share.value.is_none())
    }

    /// Half-width of the interval of the clear gap, metres, when both ends lie on the grid.
    #[must_use]
    pub fn half_width_m(&self) -> Option<f64> {
        let interval = self.clear()?.interval?;
        Some((interval.high? - interval.low?) / 2.0)
    }
}

/// Answers the gap question for a scenario with two patches.
///
/// # Errors
/// When the scenario is not a pair, the question makes no sense, or the run is stopped.
pub fn answer(
    layered: &Layered,
    question: &GapQuestion,
    runner: &Runner<'_>,
    parameter_set: u64,
) -> Result<GapAnswer, StudyError> {
    check(layered, question)?;
    let effort = question.effort;
    let at = |effort| at_effort(layered, question, effort, runner, parameter_set);
    let Some(precision) = question.precision_m else {
        return at(effort);
    };
    let at = |effort| at(effort).and_then(within_grid);
    let known = |width: f64| format!("clear gap known to +-{width:.2} m");
    let settings = question.grid_m.len() as u64;
    super::precise(
        (effort, settings),
        precision,
        runner,
        at,
        (GapAnswer::half_width_m, GapAnswer::is_empty),
        known,
    )
}

/// Refuses a clear gap that lies outside the gaps tried: no number of seasons would make it precise.
fn within_grid(answer: GapAnswer) -> Result<GapAnswer, StudyError> {
    let (first, last) = (answer.grid_m.first(), answer.grid_m.last());
    let (what, remedy) = match (answer.clear_crossing(), first, last) {
        (Some(Crossing::BelowGrid), Some(first), _) => (
            format!("the clear gap lies below the smallest gap tried, {first} m"),
            "try smaller ones too, such as --gaps 0,0.1,0.2,0.5,1,2",
        ),
        (Some(Crossing::NotReached), _, Some(last)) => (
            format!("the clear gap lies beyond the largest gap tried, {last} m"),
            "try larger ones too, such as --gaps 5,10,20,50,100",
        ),
        _ => return Ok(answer),
    };
    Err(
        Trouble::new(format!("{what}, so that it cannot be known to a precision"))
            .at("the option --precision")
            .expected("gaps on both sides of the clear gap")
            .remedy(remedy)
            .into(),
    )
}

/// Checks a question before anything is run.
///
/// # Errors
/// When the scenario is not a pair, or the gaps, the tolerance or the precision make no sense.
pub fn check(layered: &Layered, question: &GapQuestion) -> Result<(), Trouble> {
    let scenario = Scenario::from_layers(layered)?;
    if !matches!(
        scenario.layout,
        LayoutKind::PairHalfCut | LayoutKind::PairWholeCut
    ) {
        return Err(Trouble::new(format!(
            "the scenario `{}` has no gap between two patches",
            scenario.name
        ))
        .at("site.layout")
        .expected("PairHalfCut or PairWholeCut")
        .remedy("ask for `refuge` instead, or choose a scenario with two patches"));
    }
    let ascending = question.grid_m.windows(2).all(|pair| pair[0] < pair[1]);
    let count = question.grid_m.len();
    if !(2..=super::MOST_SETTINGS).contains(&count) || !ascending || question.grid_m[0] < 0.0 {
        return Err(Trouble::new("the list of gaps makes no sense")
            .at("the option --gaps")
            .expected(format!(
                "from two to {} gaps in metres, ascending, none negative",
                super::MOST_SETTINGS
            ))
            .remedy("such as --gaps 1,2,4,8,16"));
    }
    super::check_seasons(question.effort.seasons, count as u64)?;
    check_tolerance(question.tolerance)?;
    check_precision(question.precision_m, "0.5 (metres)")?;
    // Only the ends need a look: what fits between them makes sense.
    for gap_m in [question.grid_m.first(), question.grid_m.last()] {
        let mut changed = layered.clone();
        if let Some(gap_m) = gap_m {
            changed.set("site.gap_m", &gap_m.to_string())?;
        }
        Scenario::from_layers(&changed)?;
    }
    Ok(())
}

/// Checks a stray share that is to be tolerated.
///
/// # Errors
/// When it is not between 0 and 1.
pub fn check_tolerance(tolerance: f64) -> Result<(), Trouble> {
    check_as(
        "answers.stray_tolerance",
        tolerance,
        "the option --tolerance",
    )
    .map(|_| ())
}

/// Columns kept of a season for one patch: late-stage larvae standing on it, and those of them laid elsewhere.
const KEPT: usize = 2;

fn at_effort(
    layered: &Layered,
    question: &GapQuestion,
    effort: Effort,
    runner: &Runner<'_>,
    parameter_set: u64,
) -> Result<GapAnswer, StudyError> {
    let mut names = Vec::new();
    let tables = every(question.grid_m.iter().map(|gap_m| {
        let plan = plan_with(layered, &[("site.gap_m", gap_m.to_string())])?;
        names = plan
            .layout
            .patches
            .iter()
            .map(|patch| patch.settings.name.clone())
            .collect();
        strays(&plan, effort, runner, parameter_set)
    }))?;
    let resamples = resampled(&side_by_side(&tables)?, runner, effort)?;
    let patches = names.len();
    let curves = names
        .into_iter()
        .enumerate()
        .map(|(patch, name)| curve((patch, patches), name, question, &resamples))
        .collect::<Result<Vec<_>, _>>()?;
    let position = |curve: &PatchCurve| {
        curve.crossing.crossing.map(|crossing| match crossing {
            Crossing::At(x) => x,
            Crossing::BelowGrid => f64::NEG_INFINITY,
            Crossing::NotReached => f64::INFINITY,
        })
    };
    let positions: Option<Vec<f64>> = curves.iter().map(position).collect();
    let deciding = positions.and_then(|at| (0..at.len()).max_by(|a, b| at[*a].total_cmp(&at[*b])));
    Ok(GapAnswer {
        grid_m: question.grid_m.clone(),
        tolerance: question.tolerance,
        seasons: effort.seasons,
        curves,
        deciding,
    })
}

fn strays(
    plan: &Plan,
    effort: Effort,
    runner: &Runner<'_>,
    parameter_set: u64,
) -> Result<Table, StudyError> {
    let contrast = Contrast::of(plan);
    let columns = KEPT * contrast.patches();
    let taken = Taken::new("strays by patch", tally::FORM);
    pooled(
        plan,
        runner,
        &taken,
        parameter_set,
        effort,
        columns,
        |season| {
            let row = contrast.columns().row(season);
            (0..contrast.patches())
                .flat_map(|patch| {
                    let (all, strays) = contrast.strays(&row, patch);
                    [all, strays]
                })
                .collect()
        },
    )
}

fn curve(
    (patch, patches): (usize, usize),
    name: String,
    question: &GapQuestion,
    resamples: &Resamples,
) -> Result<PatchCurve, StudyError> {
    let counts = |sums: &[f64], index: usize| {
        let at = KEPT * (index * patches + patch);
        (sums[at], sums[at + 1])
    };
    let shares = (0..question.grid_m.len())
        .map(|index| {
            let share = measured(resamples, |sums| {
                let (all, strays) = counts(sums, index);
                (all > 0.0).then(|| strays / all)
            })?;
            let (all, strays) = counts(resamples.observed(), index);
            if strays > 0.0 || all <= 0.0 {
                return Ok(share);
            }
            // Resampling no strays gives none again: the exact bound of a proportion stands in for the interval.
            let bound = clopper_pearson(0, all as u64, LEVEL)?;
            Ok(Measured {
                interval: Some((0.0, bound.high)),
                ..share
            })
        })
        .collect::<Result<Vec<_>, StudyError>>()?;
    let query = CrossingQuery {
        grid: &question.grid_m,
        trend: Trend::Decreasing,
        threshold: question.tolerance,
    };
    let crossing = crossing(&query, resamples, LEVEL, |sums, index| {
        let (trials, successes) = counts(sums, index);
        CurvePoint { successes, trials }
    })?;
    Ok(PatchCurve {
        patch: name,
        shares,
        crossing,
    })
}
