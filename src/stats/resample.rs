//! Bootstrap over seasons: resampled sums of tallies, and intervals from them.

use rand::RngExt;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::estimate::tail;
use super::{Estimate, StatsError};
use crate::random::numbered as stream;

/// Number of resamples unless stated: Monte Carlo error of a 2.5 % point is then about
/// .005 in probability.
pub const DEFAULT_RESAMPLES: usize = 1_000;

/// Smallest share of resamples with a defined statistic that still carries an interval.
pub const MIN_DEFINED_SHARE: f64 = 0.9;

/// Tallies of seasons: one row a season, one column a tally, stored row after row.
///
/// Where seasons are many, a row may hold the sums of a group of neighbouring seasons instead ([`Table::push_group`]).
/// Seasons are independent and alike, so sums of equal groups are too: resampling whole groups serves pooled sums as
/// well as resampling seasons does, while memory stays bounded.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    columns: usize,
    values: Vec<f64>,
}

impl Table {
    /// An empty table of `columns` tallies a season, with room for `seasons` rows.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] without columns.
    pub fn with_columns(columns: usize, seasons: usize) -> Result<Self, StatsError> {
        if columns == 0 {
            return Err(StatsError::TooFew {
                needed: 1,
                given: 0,
            });
        }
        Ok(Self {
            columns,
            values: Vec::with_capacity(columns.saturating_mul(seasons)),
        })
    }

    /// A table from values stored row after row.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] without columns, [`StatsError::Length`] if the last row is
    /// not full, [`StatsError::Value`] for a tally that is not finite.
    pub fn from_rows(columns: usize, values: Vec<f64>) -> Result<Self, StatsError> {
        let mut table = Self::with_columns(columns, 0)?;
        if !values.len().is_multiple_of(columns) {
            return Err(StatsError::Length {
                what: "tallies of the last season",
                expected: columns,
                given: values.len() % columns,
            });
        }
        check_tallies(&values)?;
        table.values = values;
        Ok(table)
    }

    /// Adds a season; its tallies may be of any type that widens to `f64` (`u32` say).
    ///
    /// # Errors
    /// [`StatsError::Length`] unless there is one value per column, [`StatsError::Value`]
    /// for a tally that is not finite; the table is then unchanged.
    pub fn push_season<T: Copy + Into<f64>>(&mut self, tallies: &[T]) -> Result<(), StatsError> {
        if tallies.len() != self.columns {
            return Err(StatsError::Length {
                what: "tallies of a season",
                expected: self.columns,
                given: tallies.len(),
            });
        }
        let before = self.values.len();
        self.values.extend(tallies.iter().map(|&t| t.into()));
        let checked = check_tallies(&self.values[before..]);
        if checked.is_err() {
            self.values.truncate(before);
        }
        checked
    }

    /// Adds one row for a group of seasons: the sum of each tally. An empty group adds nothing.
    ///
    /// Groups should be equal; a last one that is short, among thousands, does no harm.
    ///
    /// # Errors
    /// As [`Table::push_season`].
    pub fn push_group(&mut self, seasons: &[Vec<f64>]) -> Result<(), StatsError> {
        let Some((first, others)) = seasons.split_first() else {
            return Ok(());
        };
        if let Some(odd) = others.iter().find(|row| row.len() != self.columns) {
            return Err(StatsError::Length {
                what: "tallies of a season",
                expected: self.columns,
                given: odd.len(),
            });
        }
        let mut sums = first.clone();
        for row in others {
            add_weighted(&mut sums, row, 1.0);
        }
        self.push_season(&sums)
    }

    /// Number of rows: seasons, or groups of seasons.
    pub fn seasons(&self) -> usize {
        self.values.len() / self.columns
    }

    /// Number of tallies a season.
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// The tallies season by season.
    pub fn rows(&self) -> impl Iterator<Item = &[f64]> {
        self.values.chunks_exact(self.columns)
    }

    /// Sum of each tally over all seasons.
    pub fn totals(&self) -> Vec<f64> {
        let mut sums = vec![0.0; self.columns];
        for row in self.rows() {
            add_weighted(&mut sums, row, 1.0);
        }
        sums
    }
}

fn check_tallies(tallies: &[f64]) -> Result<(), StatsError> {
    match tallies.iter().find(|t| !t.is_finite()) {
        Some(&value) => Err(StatsError::Value {
            what: "a tally",
            value,
        }),
        None => Ok(()),
    }
}

fn add_weighted(sums: &mut [f64], row: &[f64], weight: f64) {
    for (sum, &value) in sums.iter_mut().zip(row) {
        *sum += weight * value;
    }
}

/// Pooled sums of every tally, in the data and in each resample of the seasons.
///
/// Within a resample all columns rest on the same drawn seasons, so differences, ratios
/// and crossings computed from one row keep the correlation between columns.
#[derive(Clone, Debug, PartialEq)]
pub struct Resamples {
    observed: Vec<f64>,
    sums: Vec<f64>,
}

impl Resamples {
    /// Sum of each tally over the seasons observed.
    pub fn observed(&self) -> &[f64] {
        &self.observed
    }

    /// Sums of each tally, resample by resample.
    pub fn rows(&self) -> impl Iterator<Item = &[f64]> {
        self.sums.chunks_exact(self.observed.len())
    }

    /// Number of resamples.
    pub fn count(&self) -> usize {
        self.sums.len() / self.observed.len()
    }

    /// Applies `statistic` to the sums of every resample, in parallel and in order.
    pub fn map<T: Send>(&self, statistic: impl Fn(&[f64]) -> T + Sync + Send) -> Vec<T> {
        self.sums
            .par_chunks_exact(self.observed.len())
            .map(statistic)
            .collect()
    }
}

/// Draws `resamples` bootstrap samples of whole seasons and sums every tally in each.
///
/// Resample i has its own random stream from (`seed`, i): the result depends neither on
/// the number of threads nor on their order.
///
/// # Errors
/// [`StatsError::TooFew`] below two seasons or without resamples, [`StatsError::TooMany`]
/// from 2^32 seasons.
pub fn pooled_resamples(
    table: &Table,
    resamples: usize,
    seed: u64,
) -> Result<Resamples, StatsError> {
    let given = table.seasons();
    if given < 2 {
        return Err(StatsError::TooFew { needed: 2, given });
    }
    if resamples == 0 {
        return Err(StatsError::TooFew {
            needed: 1,
            given: resamples,
        });
    }
    let seasons = u32::try_from(given).map_err(|_| StatsError::TooMany {
        limit: u32::MAX as usize,
        given,
    })?;
    let mut sums = vec![0.0; resamples * table.columns];
    sums.par_chunks_exact_mut(table.columns)
        .enumerate()
        .for_each_init(
            || vec![0_u32; given],
            |times, (index, sums)| {
                times.fill(0);
                let mut random = stream(seed, index as u64);
                for _ in 0..given {
                    times[random.random_range(0..seasons) as usize] += 1;
                }
                for (row, &times) in table.rows().zip(times.iter()) {
                    // A branch on zero (37 % of seasons) costs more than it saves.
                    add_weighted(sums, row, f64::from(times));
                }
            },
        );
    Ok(Resamples {
        observed: table.totals(),
        sums,
    })
}

/// A statistic of pooled sums with its bootstrap interval.
#[derive(Copy, Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ResampledEstimate {
    /// The statistic of the data as observed; `None` where undefined (nothing to divide by).
    pub value: Option<f64>,
    /// The value with its percentile interval; `None` if the value is undefined, or if
    /// fewer than [`MIN_DEFINED_SHARE`] of the resamples define the statistic.
    pub estimate: Option<Estimate>,
    /// Resamples in which the statistic is defined.
    pub defined: usize,
    /// Resamples drawn.
    pub resamples: usize,
}

/// Percentile interval of a statistic of pooled sums at confidence `level`.
///
/// `statistic` gets the sum of each column; `None` or a value that is not finite counts as
/// undefined. Percentiles sit at ranks (B + 1) p among the B defined values (Davison &
/// Hinkley 1997, Bootstrap Methods and their Application, section 5.3.1).
///
/// # Errors
/// [`StatsError::Level`] unless 0 < `level` < 1.
pub fn resampled_estimate(
    resamples: &Resamples,
    level: f64,
    statistic: impl Fn(&[f64]) -> Option<f64> + Sync + Send,
) -> Result<ResampledEstimate, StatsError> {
    let alpha = tail(level)?;
    let finite = |sums: &[f64]| statistic(sums).filter(|v| v.is_finite());
    let value = finite(resamples.observed());
    let mut values: Vec<f64> = resamples.map(finite).into_iter().flatten().collect();
    values.sort_by(f64::total_cmp);
    let enough = enough_defined(values.len(), resamples.count());
    let estimate = value.filter(|_| enough).map(|value| Estimate {
        value,
        low: sorted_quantile(&values, alpha),
        high: sorted_quantile(&values, 1.0 - alpha),
    });
    Ok(ResampledEstimate {
        value,
        estimate,
        defined: values.len(),
        resamples: resamples.count(),
    })
}

/// Whether `defined` of `resamples` suffice for an interval.
pub(super) fn enough_defined(defined: usize, resamples: usize) -> bool {
    defined > 0 && defined as f64 >= MIN_DEFINED_SHARE * resamples as f64
}

/// Quantile at rank (B + 1) p of ascending values, interpolated between neighbours and
/// held at the extremes. Infinite values are kept: next to one, the quantile is infinite.
/// The slice must not be empty.
pub(crate) fn sorted_quantile(sorted: &[f64], probability: f64) -> f64 {
    let last = sorted.len() - 1;
    let rank = ((sorted.len() + 1) as f64 * probability - 1.0).clamp(0.0, last as f64);
    let below = rank.floor() as usize;
    let share = rank - rank.floor();
    let (a, b) = (sorted[below], sorted[(below + 1).min(last)]);
    // Equal neighbours may both be infinite, whose difference is no number.
    if share == 0.0 || a == b {
        a
    } else {
        a + share * (b - a)
    }
}
