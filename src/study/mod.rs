//! Questions asked of many seasons.

pub mod allot;
pub mod analyse;
pub mod brief;
pub mod calendar;
pub mod compare;
pub mod drawn;
pub mod gap;
pub mod lesson;
pub mod measures;
pub mod recruit;
pub mod refuge;
pub mod screen;
pub mod sweep;
pub mod tally;
pub mod tune;
pub mod uncertain;
pub mod weigh;
pub mod yields;

use crate::plan::Plan;
use crate::random::{Key, Purpose};
use crate::runner::{Halt, Interrupted, Row, Runner, Taken, Unkept};
use crate::scenario::{Layered, Scenario};
use crate::season::Season;
use crate::stats::{
    Batch, MOST_DOUBLINGS, Resamples, StatsError, Table, expected_count, pooled_resamples,
    until_precise,
};
use crate::trouble::Trouble;

/// Why a study has no answer.
#[derive(Debug, thiserror::Error)]
pub enum StudyError {
    /// Something in the scenario or the request makes no sense.
    #[error(transparent)]
    Trouble(#[from] Trouble),
    /// The run was stopped from outside.
    #[error(transparent)]
    Interrupted(#[from] Interrupted),
    /// This process is a shard and has done what it can before results of the other shards are known.
    #[error("results of other shards are needed")]
    Elsewhere,
    /// Finished pieces could not be kept.
    #[error(transparent)]
    Unkept(#[from] Unkept),
    /// A statistic could not be worked out.
    #[error("a statistic could not be worked out: {0}")]
    Stats(#[from] StatsError),
}

impl From<Halt> for StudyError {
    fn from(halt: Halt) -> Self {
        match halt {
            Halt::Interrupted(interrupted) => Self::Interrupted(interrupted),
            Halt::Elsewhere => Self::Elsewhere,
            Halt::Unkept(unkept) => Self::Unkept(unkept),
        }
    }
}

/// Lets a shard go on with what does not need a result that other shards have parts of; it is `None` then.
///
/// # Errors
/// Any other that the result has.
pub fn known<T>(result: Result<T, StudyError>) -> Result<Option<T>, StudyError> {
    match result {
        Ok(value) => Ok(Some(value)),
        Err(StudyError::Elsewhere) => Ok(None),
        Err(other) => Err(other),
    }
}

/// All results, each of which can be had without the others: a shard does its share of every one before it stops.
///
/// # Errors
/// The first that is not [`StudyError::Elsewhere`]; else that, if there is any.
pub fn every<T>(
    results: impl Iterator<Item = Result<T, StudyError>>,
) -> Result<Vec<T>, StudyError> {
    let all: Vec<Option<T>> = results.map(known).collect::<Result<_, _>>()?;
    all.into_iter()
        .collect::<Option<_>>()
        .ok_or(StudyError::Elsewhere)
}

/// How many seasons and resamples a study uses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effort {
    /// Seasons for each setting that is tried.
    pub seasons: u64,
    /// Bootstrap resamples for intervals.
    pub resamples: usize,
    /// Replicate from which seasons are counted.
    pub first_replicate: u64,
}

impl Effort {
    /// A number of seasons, with 1,000 resamples.
    #[must_use]
    pub fn of(seasons: u64) -> Self {
        Self {
            seasons,
            resamples: crate::stats::DEFAULT_RESAMPLES,
            first_replicate: 0,
        }
    }
}

/// Asks a question with doubling numbers of seasons until an answer is as precise as asked for, then once more with
/// seasons that had no part in the decision; `settings` is how many settings each season is run at. An answer that is
/// empty is not asked for twice.
fn precise<T>(
    (effort, settings): (Effort, u64),
    asked: f64,
    runner: &Runner<'_>,
    ask: impl Fn(Effort) -> Result<T, StudyError>,
    (half_width, is_empty): (impl Fn(&T) -> Option<f64>, impl Fn(&T) -> bool),
    known: impl Fn(f64) -> String,
) -> Result<T, StudyError> {
    until_precise(
        (effort.first_replicate, effort.seasons),
        asked,
        |batch| {
            ask(Effort {
                first_replicate: batch.first,
                seasons: batch.count,
                ..effort
            })
        },
        half_width,
        is_empty,
        |width, batch| {
            check_attainable((effort.seasons, MOST_BATCH), asked, width, batch)?;
            let words = width.map_or_else(|| "nothing known yet".to_owned(), &known);
            runner.watch.goes_on(&words, batch.count * settings);
            Ok(())
        },
    )
}

/// Refuses a half-width that is out of reach as soon as that is seen: `width` was found before `next` is to come, in a
/// search that began with a batch of `first` and may take at most `most`.
///
/// # Errors
/// When it would take many times what the search ends with, with the half-width that can be had.
fn check_attainable(
    (first, most): (u64, u64),
    asked: f64,
    width: Option<f64>,
    next: Batch,
) -> Result<(), StudyError> {
    /// A half-width from a few seasons is a rough guess itself.
    const BENEFIT_OF_DOUBT: f64 = 3.0;
    let Some(width) = width.filter(|width| *width > asked) else {
        return Ok(());
    };
    let tried = next.count / 2;
    let reached = first.saturating_mul(1 << MOST_DOUBLINGS).min(most) as f64;
    let expected = expected_count(tried, width, asked);
    if expected <= BENEFIT_OF_DOUBT * reached && next.count <= most {
        return Ok(());
    }
    let can_be_had = width * (tried as f64 / reached).sqrt();
    Err(Trouble::new(format!(
        "a precision of {asked} would take about {expected:.0e} seasons, and the search ends with {reached:.0e}"
    ))
    .at("the option --precision")
    .expected(format!("a half-width of {can_be_had:.2e} or more"))
    .remedy("ask for less precision, or begin with more seasons")
    .into())
}

/// Ratios of counts that an effect or a hypothesis can sensibly name.
pub const RATIO_LIMITS: std::ops::RangeInclusive<f64> = 1e-3..=1e3;

/// Whether a ratio is one that an effect may have.
#[must_use]
pub fn is_effect(ratio: f64) -> bool {
    RATIO_LIMITS.contains(&ratio) && ratio != 1.0
}

/// The ratios that an effect may have, in words.
#[must_use]
pub fn effect_words() -> String {
    let (low, high) = (RATIO_LIMITS.start(), RATIO_LIMITS.end());
    format!("from {low} to {high} that is not 1")
}

/// Most gaps or refuge shares that are tried: what is pooled of each is held in memory.
pub(in crate::study) const MOST_SETTINGS: usize = 200;
/// Most seasons of a batch in search of a precision.
const MOST_BATCH: u64 = 100 * MOST_SEASONS;
/// Most seasons of one setting.
pub const MOST_SEASONS: u64 = 10_000_000;
/// Most seasons of all settings of a command together: what is kept of them fills a disk, and the list of what is kept
/// half a gigabyte of memory.
const MOST_SEASONS_IN_ALL: u64 = 100_000_000;

/// Checks that the seasons of all settings can be kept.
///
/// # Errors
/// When they cannot; with the number that can.
pub fn check_seasons(seasons: u64, settings: u64) -> Result<(), Trouble> {
    let most = (MOST_SEASONS_IN_ALL / settings.max(1)).clamp(1, MOST_SEASONS);
    if seasons <= most {
        return Ok(());
    }
    Err(Trouble::new(format!(
        "{seasons} seasons at each of {settings} settings are more than can be kept"
    ))
    .at("the option --seasons")
    .expected(format!("at most {most} for so many settings"))
    .remedy("lower --seasons, or ask for fewer settings"))
}

/// Checks a half-width that is asked for.
///
/// # Errors
/// When it is not above 0.
pub fn check_precision(precision: Option<f64>, example: &str) -> Result<(), Trouble> {
    match precision {
        Some(width) if !(width.is_finite() && width > 0.0) => {
            Err(Trouble::new(format!("the precision is {width}"))
                .at("the option --precision")
                .expected(format!("a half-width above 0, such as {example}"))
                .remedy("mend it"))
        }
        _ => Ok(()),
    }
}

/// Layered settings with some paths set to values; the scenario and its plan.
///
/// # Errors
/// When a path is unknown or the result makes no sense.
pub fn plan_with(layered: &Layered, settings: &[(&str, String)]) -> Result<Plan, Trouble> {
    let mut changed = layered.clone();
    for (path, value) in settings {
        changed.set(path, value)?;
    }
    Plan::of(Scenario::from_layers(&changed)?)
}

/// Runs the seasons of one plan and pools their tallies.
///
/// # Errors
/// When the run is stopped.
pub fn tallies(
    plan: &Plan,
    runner: &Runner<'_>,
    parameter_set: u64,
    effort: Effort,
) -> Result<Table, StudyError> {
    let columns = tally::Columns::of(plan);
    pooled(
        plan,
        runner,
        &Taken::new("tallies", tally::FORM),
        parameter_set,
        effort,
        columns.count(),
        |season| columns.row(season),
    )
}

/// Most rows that a table of seasons gets. More seasons than that are summed in equal groups of neighbours, which the
/// bootstrap resamples whole: memory does not grow with the number of seasons, and thousands of rows leave nothing to
/// be wished for in an interval.
pub const MOST_ROWS: u64 = 8_192;

/// Seasons that are summed in one row of a table: 1 up to [`MOST_ROWS`] seasons.
#[must_use]
pub fn seasons_a_row(seasons: u64) -> u64 {
    seasons.div_ceil(MOST_ROWS).max(1)
}

/// Runs the seasons of one plan and pools a row of each, which `taken` names, in at most [`MOST_ROWS`] rows.
///
/// # Errors
/// When the run is stopped, or a row is not of the length stated.
pub fn pooled(
    plan: &Plan,
    runner: &Runner<'_>,
    taken: &Taken<'_>,
    parameter_set: u64,
    effort: Effort,
    columns: usize,
    row: impl Fn(&Season<'_>) -> Vec<f64> + Sync + Send,
) -> Result<Table, StudyError> {
    let group = seasons_a_row(effort.seasons);
    // Rows are summed as they come in, so that never more of them are held than a table has.
    let block = group * (MOST_ROWS / group).max(1);
    let end = effort.first_replicate + effort.seasons;
    let mut table = Table::with_columns(columns, effort.seasons.div_ceil(group) as usize)?;
    let mut first = effort.first_replicate;
    let mut whole = true;
    while first < end {
        let last = end.min(first + block);
        let of_block = runner.run(plan, taken, parameter_set, first..last, |season| {
            Row(row(season))
        });
        match known(of_block.map_err(StudyError::from))? {
            Some(rows) => {
                let rows: Vec<Vec<f64>> = rows.into_iter().map(|row| row.0).collect();
                for seasons in rows.chunks(group as usize) {
                    table.push_group(seasons)?;
                }
            }
            None => whole = false,
        }
        first = last;
    }
    if whole {
        Ok(table)
    } else {
        Err(StudyError::Elsewhere)
    }
}

/// Tables of several plans side by side, season by season: the columns of the first, then of the second, ...
///
/// # Errors
/// When the tables differ in their number of seasons.
pub fn side_by_side(tables: &[Table]) -> Result<Table, StudyError> {
    let columns: usize = tables.iter().map(Table::columns).sum();
    let seasons = tables.first().map_or(0, Table::seasons);
    let mut all = Vec::with_capacity(columns * seasons);
    let mut rows: Vec<_> = tables.iter().map(|table| table.rows()).collect();
    for _ in 0..seasons {
        for row in &mut rows {
            all.extend_from_slice(row.next().unwrap_or_default());
        }
    }
    Ok(Table::from_rows(columns, all)?)
}

/// Seed of the bootstrap: fixed by the master seed, apart from all streams of seasons.
#[must_use]
pub fn bootstrap_seed(seed: u64) -> u64 {
    Key::apart(seed, Purpose::Bootstrap).seed()
}

/// Bootstrap resamples of a table.
///
/// # Errors
/// When the table is empty.
pub fn resampled(
    table: &Table,
    runner: &Runner<'_>,
    effort: Effort,
) -> Result<Resamples, StudyError> {
    Ok(pooled_resamples(
        table,
        effort.resamples,
        bootstrap_seed(runner.seed),
    )?)
}
