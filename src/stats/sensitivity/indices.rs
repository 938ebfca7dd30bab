//! Shares of an output's variance: first-order and total indices of Sobol' (1993; 2001, Mathematics and Computers in
//! Simulation 55: 271-280), from the sampling of Saltelli et al. (2010), Computer Physics Communications 181:
//! 259-270, with the estimators of Jansen (1999), Computer Physics Communications 117: 35-43.
//!
//! Points are drawn independently rather than from a quasi-random sequence: with noisy outputs a sequence gains
//! little, and independent rows make the bootstrap over rows an honest interval.

use super::{across, mean};
use crate::random::numbered as stream;
use crate::stats::{
    ResampledEstimate, Resamples, StatsError, Table, pooled_resamples, resampled_estimate,
};
use rand::RngExt;

/// One input, or a group of inputs that are weighed together: indices into the point.
pub type Factor = Vec<usize>;

/// Independent pairs of points in the unit cube.
#[derive(Debug, Clone, PartialEq)]
pub struct Rows {
    pairs: Vec<[Vec<f64>; 2]>,
    factors: Vec<Factor>,
}

impl Rows {
    /// Draws `rows` pairs of points with a number of inputs.
    #[must_use]
    pub fn drawn(inputs: usize, factors: Vec<Factor>, rows: usize, seed: u64) -> Self {
        let pairs = (0..rows)
            .map(|row| {
                let mut random = stream(seed, row as u64);
                [(); 2].map(|()| (0..inputs).map(|_| random.random::<f64>()).collect())
            })
            .collect();
        Self { pairs, factors }
    }

    /// Number of rows.
    #[must_use]
    pub fn count(&self) -> usize {
        self.pairs.len()
    }

    /// Points to be evaluated for a row: the first of its pair, the second, and for each factor the first with that
    /// factor taken from the second.
    #[must_use]
    pub fn points(&self, row: usize) -> Vec<Vec<f64>> {
        let [first, second] = &self.pairs[row];
        let mut points = vec![first.clone(), second.clone()];
        for factor in &self.factors {
            let mut mixed = first.clone();
            for &input in factor {
                mixed[input] = second[input];
            }
            points.push(mixed);
        }
        points
    }
}

/// Shares of the variance of an output over its inputs.
#[derive(Debug, Clone, PartialEq)]
pub struct VarianceShares {
    /// Mean of the output.
    pub mean: f64,
    /// Variance of the output over the inputs, without noise.
    pub variance: f64,
    /// Share of each factor alone: by how much the variance would fall on average if it were known.
    pub first: Vec<ResampledEstimate>,
    /// Share of each factor with everything that it takes part in: what variance would remain if all else were known.
    pub total: Vec<ResampledEstimate>,
    /// Variance by noise of the mean over all batches, as a share of noise and variance together; undefined with a
    /// single batch.
    pub noise: ResampledEstimate,
}

/// Tallies of a row ahead of those of its factors.
const AHEAD: usize = 4;
/// Tallies of a row: one, for the number of rows.
const ONE: usize = 0;
/// Mean of both points of the pair.
const LEVEL_OF: usize = 1;
/// Product across batches of the difference of the pair.
const PAIR: usize = 2;
/// Plain square of that difference of means: with noise.
const PAIR_NOISY: usize = 3;

/// Variance shares from the outputs of rows: by row, point (as [`Rows::points`] gives them) and batch.
///
/// All expectations are means over rows of half squared differences between points of a row: the pair for the whole
/// variance, the second point and the mixed one for what a factor alone leaves, the first point and the mixed one
/// for what remains when all else is known. Intervals are percentile bootstrap intervals over rows at `level`.
///
/// # Errors
/// [`StatsError::TooFew`] below two rows, [`StatsError::Length`] for a row without all its points,
/// [`StatsError::Value`] for an output that is not finite, [`StatsError::Level`] unless 0 < `level` < 1.
pub fn variance_shares(
    outputs: &[Vec<Vec<f64>>],
    resamples: usize,
    level: f64,
    seed: u64,
) -> Result<VarianceShares, StatsError> {
    let points = outputs.first().map_or(0, Vec::len);
    if points < 3 {
        return Err(StatsError::TooFew {
            needed: 3,
            given: points,
        });
    }
    let factors = points - 2;
    let columns = AHEAD + 2 * factors;
    let mut tallies = Vec::with_capacity(outputs.len() * columns);
    for row in outputs {
        if row.len() != points {
            return Err(StatsError::Length {
                what: "points of a row",
                expected: points,
                given: row.len(),
            });
        }
        tallies.extend(row_tallies(row));
    }
    let table = Table::from_rows(columns, tallies)?;
    let resampled = pooled_resamples(&table, resamples, seed)?;
    let observed = resampled.observed();
    let share = |resampled: &Resamples, column: usize, alone: bool| {
        resampled_estimate(resampled, level, |sums| {
            let rest = (sums[PAIR] > 0.0).then(|| sums[column] / sums[PAIR])?;
            Some(if alone { 1.0 - rest } else { rest })
        })
    };
    let each = |offset: usize, alone: bool| {
        (0..factors)
            .map(|factor| share(&resampled, AHEAD + 2 * factor + offset, alone))
            .collect::<Result<Vec<_>, _>>()
    };
    let single = outputs[0][0].len() < 2;
    Ok(VarianceShares {
        mean: observed[LEVEL_OF] / observed[ONE],
        variance: observed[PAIR] / observed[ONE] / 2.0,
        first: each(0, true)?,
        total: each(1, false)?,
        noise: resampled_estimate(&resampled, level, |sums| {
            (!single && sums[PAIR_NOISY] > 0.0).then(|| 1.0 - sums[PAIR] / sums[PAIR_NOISY])
        })?,
    })
}

fn row_tallies(row: &[Vec<f64>]) -> Vec<f64> {
    let (first, second) = (&row[0], &row[1]);
    let difference =
        |one: &[f64], other: &[f64]| across(one.iter().zip(other).map(|(one, other)| one - other));
    let gap = mean(first) - mean(second);
    let mut tallies = vec![
        1.0,
        f64::midpoint(mean(first), mean(second)),
        difference(first, second),
        gap * gap,
    ];
    for mixed in &row[2..] {
        tallies.push(difference(second, mixed));
        tallies.push(difference(first, mixed));
    }
    tallies
}
