//! Which unknown matters most? Screening of every number with a plausible range, then shares of variance of those left.
//!
//! One parameter set is one point of the unit cube, by the ranges and distributions of [`super::uncertain`]. All sets
//! of a trajectory or a row live through the same seasons, so that their differences are the parameters' doing; each
//! set has its seasons in independent batches, by which the noise that is left is told apart. Shares are weighed as
//! angles and ratios as logarithms: there counting noise is even, and a few extreme sets do not rule the variance.

mod sets;

use super::gap::{self, GapQuestion};
use super::uncertain::{self, Ranged};
use super::{Effort, StudyError};
use crate::runner::Runner;
use crate::scenario::{Layered, LayoutKind, Scenario};
use crate::stats::sensitivity::{
    Rows, Screened, VarianceShares, screened, trajectories, variance_shares,
};
use crate::stats::{Crossing, LEVEL};
use crate::trouble::Trouble;
use sets::{Phase, Sets};

/// Levels of the screening grid, as Morris (1991) has them.
const LEVELS: usize = 4;
/// Batches of seasons: two are enough to tell noise, and more make each batch's ratios rougher.
const BATCHES: usize = 2;

/// Fewest and most trajectories: each holds about fifty kilobytes of parameter sets.
pub const TRAJECTORIES: (u64, u64) = (4, 2_000);
/// Fewest and most rows: each holds up to fifty kilobytes of parameter sets.
pub const ROWS: (u64, u64) = (16, 20_000);
/// Fewest and most unknowns that are weighed one by one; more than any scenario has.
pub const KEPT: (u64, u64) = (1, 500);

/// How much is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WeighQuestion {
    /// Trajectories through all parameters.
    pub trajectories: usize,
    /// Parameters that get variance shares of their own; all others are weighed as one.
    pub kept: usize,
    /// Rows of parameter sets behind the variance shares; each takes `kept` + 3 sets.
    pub rows: usize,
    /// Least number of seasons of a set in each of two batches, at each gap; sets with few larvae get more.
    pub seasons: u64,
    /// Bootstrap resamples.
    pub resamples: usize,
}

impl Default for WeighQuestion {
    /// About a minute on two cores.
    fn default() -> Self {
        Self {
            trajectories: 16,
            kept: 10,
            rows: 320,
            seasons: 5,
            resamples: crate::stats::DEFAULT_RESAMPLES,
        }
    }
}

impl WeighQuestion {
    /// Whether the question makes sense.
    ///
    /// # Errors
    /// When a number is too small to say anything, or so large that its parameter sets would not fit into memory.
    pub fn check(&self) -> Result<(), Trouble> {
        let within = |name: &str, given: u64, (least, most): (u64, u64)| {
            let (what, remedy) = if given < least {
                ("too few to say anything", "raise it")
            } else if given > most {
                ("more than fits into memory", "lower it")
            } else {
                return Ok(());
            };
            Err(Trouble::new(format!("{given} is {what}"))
                .at(format!("the option --{name}"))
                .expected(format!("at least {least} and at most {most}"))
                .remedy(remedy))
        };
        within("trajectories", self.trajectories as u64, TRAJECTORIES)?;
        within("rows", self.rows as u64, ROWS)?;
        within("kept", self.kept as u64, KEPT)?;
        within("seasons", self.seasons, (1, super::MOST_SEASONS))
    }
}

/// A quantity that is weighed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Quantity {
    /// Stray share of the patch that has more of them, at the gap where the central values just keep the tolerance:
    /// what moves it there moves the clear gap.
    StraysNear {
        /// That gap, metres.
        gap_m: f64,
    },
    /// The same at the scenario's own gap.
    Strays,
    /// Half drift.
    HalfDrift,
    /// Net yield.
    NetYield,
}

impl Quantity {
    /// Name in tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::StraysNear { .. } => "stray_share_at_clear_gap_angle",
            Self::Strays => "stray_share_angle",
            Self::HalfDrift => "half_drift_angle",
            Self::NetYield => "net_yield_log",
        }
    }
}

/// One quantity, weighed.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// What is weighed.
    pub quantity: Quantity,
    /// Screening of every parameter, in the order of [`WeighAnswer::parameters`].
    pub screened: Vec<Screened>,
    /// Shares of the parameters kept, in the order of [`WeighAnswer::kept`], then of all others together if there
    /// are any.
    pub shares: VarianceShares,
    /// Trajectories and rows in which every set defines the quantity.
    pub used: (usize, usize),
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct WeighAnswer {
    /// What was asked.
    pub question: WeighQuestion,
    /// Every number that parameter sets vary.
    pub parameters: Vec<Ranged>,
    /// Indices of those with shares of their own, the strongest of the screening first.
    pub kept: Vec<usize>,
    /// Number of the others.
    pub others: usize,
    /// Quantities.
    pub weighed: Vec<Weighed>,
    /// Seasons run.
    pub seasons: u64,
}

/// Weighs the unknowns of a scenario.
///
/// # Errors
/// When the question makes no sense, nothing has a plausible range, no quantity is defined, or the run is stopped.
pub fn answer(
    layered: &Layered,
    question: &WeighQuestion,
    runner: &Runner<'_>,
) -> Result<WeighAnswer, StudyError> {
    check(layered, question)?;
    let parameters = uncertain::ranged(layered);
    let sets = Sets::of(layered, question.seasons, near_gap(layered, runner)?);
    let (kept, screened) = screen(&sets, parameters.len(), question, runner)?;
    let others: Vec<usize> = (0..parameters.len())
        .filter(|index| !kept.contains(index))
        .collect();
    let mut factors: Vec<Vec<usize>> = kept.iter().map(|index| vec![*index]).collect();
    if !others.is_empty() {
        factors.push(others.clone());
    }
    let rows = Rows::drawn(parameters.len(), factors, question.rows, runner.seed);
    let points: Vec<_> = (0..rows.count()).map(|row| rows.points(row)).collect();
    let outputs = sets.evaluate(Phase::Shares, &points, runner)?;
    let mut weighed = Vec::new();
    for (quantity, screened, trajectories) in screened {
        let defined = sets.defined(&outputs, quantity);
        if defined.len() < 2 {
            continue;
        }
        let chosen: Vec<_> = defined.into_iter().map(|(_, row)| row).collect();
        weighed.push(Weighed {
            quantity,
            screened,
            shares: variance_shares(&chosen, question.resamples, LEVEL, runner.seed)?,
            used: (trajectories, chosen.len()),
        });
    }
    Ok(WeighAnswer {
        question: *question,
        kept,
        others: others.len(),
        parameters,
        weighed,
        seasons: sets.seasons_run(),
    })
}

/// Checks a question before anything is run.
///
/// # Errors
/// When it makes no sense, or nothing in the scenario has a plausible range.
pub fn check(layered: &Layered, question: &WeighQuestion) -> Result<(), Trouble> {
    question.check()?;
    Scenario::from_layers(layered)?;
    if uncertain::ranged(layered).is_empty() {
        return Err(Trouble::new(
            "no number of nature has a plausible range, so there is nothing to weigh",
        )
        .expected("numbers as About(value: .., low: .., high: .., standing: Assumed)")
        .remedy("extend a preset, or give ranges"));
    }
    Ok(())
}

/// Gap at which the central values just keep the tolerance, to a tenth of a metre; `None` where there is no gap, or
/// where it lies outside the gaps tried.
fn near_gap(layered: &Layered, runner: &Runner<'_>) -> Result<Option<f64>, StudyError> {
    /// Enough to find the place; nothing rests on its last digit.
    const SEASONS: u64 = 500;
    const PER_METRE: f64 = 10.0;
    let scenario = Scenario::from_layers(layered)?;
    if !matches!(
        scenario.layout,
        LayoutKind::PairHalfCut | LayoutKind::PairWholeCut
    ) {
        return Ok(None);
    }
    let question = GapQuestion {
        grid_m: gap::GAP_GRID_M.to_vec(),
        tolerance: scenario.numbers.answers.stray_tolerance,
        effort: Effort {
            resamples: 1,
            ..Effort::of(SEASONS)
        },
        precision_m: None,
    };
    let seasons = SEASONS * question.grid_m.len() as u64;
    runner
        .watch
        .begin("clear gap of the central values", seasons);
    let found = gap::answer(layered, &question, runner, 0)?;
    runner.watch.end();
    Ok(match found.clear_crossing() {
        Some(Crossing::At(gap_m)) => Some((gap_m * PER_METRE).round() / PER_METRE),
        Some(Crossing::BelowGrid | Crossing::NotReached) | None => None,
    })
}

/// A quantity with the screening of every parameter and the number of trajectories behind it.
type ScreenedQuantity = (Quantity, Vec<Screened>, usize);

/// Screens all parameters; the indices of those to be kept, the screening by quantity.
fn screen(
    sets: &Sets<'_>,
    parameters: usize,
    question: &WeighQuestion,
    runner: &Runner<'_>,
) -> Result<(Vec<usize>, Vec<ScreenedQuantity>), StudyError> {
    let walks = trajectories(parameters, LEVELS, question.trajectories, runner.seed)?;
    let points: Vec<_> = walks.iter().map(|walk| walk.points.clone()).collect();
    let outputs = sets.evaluate(Phase::Screening, &points, runner)?;
    let mut found = Vec::new();
    let mut scores = vec![0.0_f64; parameters];
    for quantity in sets.quantities() {
        let (chosen, outputs): (Vec<_>, Vec<_>) = sets
            .defined(&outputs, quantity)
            .into_iter()
            .map(|(index, outputs)| (walks[index].clone(), outputs))
            .unzip();
        if chosen.len() < 2 {
            continue;
        }
        let effects = screened(&chosen, &outputs, question.resamples, runner.seed)?;
        let all: f64 = effects
            .iter()
            .map(|effect| effect.square.value.max(0.0))
            .sum();
        for (score, effect) in scores.iter_mut().zip(&effects) {
            *score = score.max(effect.square.value / all);
        }
        found.push((quantity, effects, chosen.len()));
    }
    if found.is_empty() {
        return Err(Trouble::new(
            "no quantity is defined in enough parameter sets: too few larvae reach the late stage",
        )
        .at("the option --seasons")
        .expected("late-stage larvae on both sides in two sets or more")
        .remedy("raise --seasons, enlarge the patches, or look at laying.eggs_per_stem_week and the dates")
        .into());
    }
    let mut order: Vec<usize> = (0..parameters).filter(|at| scores[*at] > 0.0).collect();
    order.sort_by(|a, b| scores[*b].total_cmp(&scores[*a]));
    order.truncate(question.kept);
    Ok((order, found))
}
