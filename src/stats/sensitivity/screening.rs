//! Elementary effects (Morris 1991, Technometrics 33: 161-174), with the mean of absolute effects of Campolongo,
//! Cariboni & Saltelli (2007), Environmental Modelling & Software 22: 1509-1518.

use super::{across, mean};
use crate::random::numbered as stream;
use crate::stats::{
    Estimate, LEVEL, Resamples, StatsError, Table, pooled_resamples, resampled_estimate,
};
use rand::RngExt;
use rand::seq::SliceRandom;

/// A walk over a grid in the unit cube that moves every input once.
#[derive(Debug, Clone, PartialEq)]
pub struct Trajectory {
    /// One point more than there are inputs; neighbours differ in one input.
    pub points: Vec<Vec<f64>>,
    /// Which input moves on the way to the next point.
    pub moved: Vec<usize>,
}

/// Random trajectories over a grid with an even number of `levels` from 0 to 1. Every step is
/// `levels / (2 (levels - 1))` long, so that all levels are equally likely.
///
/// # Errors
/// [`StatsError::TooFew`] without inputs, [`StatsError::Value`] for levels that are odd or below 2.
pub fn trajectories(
    inputs: usize,
    levels: usize,
    count: usize,
    seed: u64,
) -> Result<Vec<Trajectory>, StatsError> {
    if inputs == 0 {
        return Err(StatsError::TooFew {
            needed: 1,
            given: 0,
        });
    }
    if levels < 2 || !levels.is_multiple_of(2) {
        return Err(StatsError::Value {
            what: "the number of levels",
            value: levels as f64,
        });
    }
    Ok((0..count)
        .map(|index| trajectory(inputs, levels, seed, index as u64))
        .collect())
}

fn trajectory(inputs: usize, levels: usize, seed: u64, index: u64) -> Trajectory {
    let mut random = stream(seed, index);
    let step = levels as f64 / (2.0 * (levels as f64 - 1.0));
    let mut ups = Vec::with_capacity(inputs);
    let mut point = Vec::with_capacity(inputs);
    for _ in 0..inputs {
        let low = random.random_range(0..levels / 2) as f64 / (levels as f64 - 1.0);
        let up: bool = random.random();
        ups.push(up);
        point.push(if up { low } else { low + step });
    }
    let mut moved: Vec<usize> = (0..inputs).collect();
    moved.shuffle(&mut random);
    let mut points = vec![point.clone()];
    for &input in &moved {
        point[input] += if ups[input] { step } else { -step };
        points.push(point.clone());
    }
    Trajectory { points, moved }
}

/// What screening says of one input. Effects are changes of the output per unit of the input, so over its range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Screened {
    /// Mean effect (mu).
    pub mean: f64,
    /// Mean absolute effect (mu star) with its bootstrap interval over trajectories; noise inflates it.
    pub absolute: Estimate,
    /// SD of the effects between trajectories (sigma): interactions and curvature, and noise.
    pub sd: f64,
    /// Mean squared effect without noise, with its bootstrap interval: what inputs are ranked by.
    pub square: Estimate,
    /// SD of one effect by noise alone; `None` with a single batch.
    pub noise_sd: Option<f64>,
}

/// Tallies of a trajectory and input: effect, its absolute value, its square, its product across batches.
const TALLIES: usize = 4;

/// Effects of every input from the outputs at the points of trajectories: by trajectory, point and batch.
///
/// # Errors
/// [`StatsError::TooFew`] below two trajectories or without batches, [`StatsError::Length`] where outputs and points
/// differ in number, [`StatsError::Value`] for an output that is not finite.
pub fn screened(
    trajectories: &[Trajectory],
    outputs: &[Vec<Vec<f64>>],
    resamples: usize,
    seed: u64,
) -> Result<Vec<Screened>, StatsError> {
    let inputs = trajectories
        .first()
        .map_or(0, |trajectory| trajectory.moved.len());
    let mut rows = Vec::with_capacity(trajectories.len() * inputs * TALLIES);
    let mut batches = 1;
    for (trajectory, outputs) in trajectories.iter().zip(outputs) {
        if outputs.len() != trajectory.points.len() {
            return Err(StatsError::Length {
                what: "outputs of a trajectory",
                expected: trajectory.points.len(),
                given: outputs.len(),
            });
        }
        batches = outputs[0].len();
        let mut row = vec![0.0; inputs * TALLIES];
        for (at, &input) in trajectory.moved.iter().enumerate() {
            let step = trajectory.points[at + 1][input] - trajectory.points[at][input];
            let effects: Vec<f64> = outputs[at + 1]
                .iter()
                .zip(&outputs[at])
                .map(|(after, before)| (after - before) / step)
                .collect();
            let effect = mean(&effects);
            row[input * TALLIES..][..TALLIES].copy_from_slice(&[
                effect,
                effect.abs(),
                effect * effect,
                across(effects.iter().copied()),
            ]);
        }
        rows.extend(row);
    }
    let table = Table::from_rows((inputs * TALLIES).max(1), rows)?;
    let count = table.seasons() as f64;
    let resampled = pooled_resamples(&table, resamples, seed)?;
    (0..inputs)
        .map(|input| {
            let total = |tally: usize| resampled.observed()[input * TALLIES + tally] / count;
            let (mean, square, noiseless) = (total(0), total(2), total(3));
            Ok(Screened {
                mean,
                absolute: average(&resampled, input * TALLIES + 1, count)?,
                sd: ((square - mean * mean) * count / (count - 1.0))
                    .max(0.0)
                    .sqrt(),
                square: average(&resampled, input * TALLIES + 3, count)?,
                noise_sd: (batches > 1).then(|| (square - noiseless).max(0.0).sqrt()),
            })
        })
        .collect()
}

fn average(resampled: &Resamples, column: usize, count: f64) -> Result<Estimate, StatsError> {
    let found = resampled_estimate(resampled, LEVEL, |sums| Some(sums[column] / count))?;
    found.estimate.ok_or(StatsError::TooFew {
        needed: 1,
        given: 0,
    })
}
