//! Monotone least-squares fit by pooling adjacent violators.

use serde::{Deserialize, Serialize};

use super::StatsError;

/// Which way a curve is known to run.
#[derive(Copy, Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Trend {
    /// Never falls as x grows.
    Increasing,
    /// Never rises as x grows.
    Decreasing,
}

/// Weighted isotonic regression (Ayer, Brunk, Ewing, Reid & Silverman 1955, Annals of
/// Mathematical Statistics 26: 641-647; the pool-adjacent-violators algorithm).
///
/// `values` in order of x, `weights` their positive weights (numbers of observations).
/// Returns one fitted value per input: the monotone sequence with the smallest weighted
/// sum of squares. The weighted sum of the values is kept.
///
/// # Errors
/// [`StatsError::Length`] for different lengths, [`StatsError::Value`] for a value that is
/// not finite or a weight that is not finite and positive.
pub fn isotonic(values: &[f64], weights: &[f64], trend: Trend) -> Result<Vec<f64>, StatsError> {
    if values.len() != weights.len() {
        return Err(StatsError::Length {
            what: "isotonic weights",
            expected: values.len(),
            given: weights.len(),
        });
    }
    if let Some(&value) = values.iter().find(|v| !v.is_finite()) {
        let what = "a value of an isotonic fit";
        return Err(StatsError::Value { what, value });
    }
    if let Some(&value) = weights.iter().find(|w| !(w.is_finite() && **w > 0.0)) {
        let what = "a weight of an isotonic fit";
        return Err(StatsError::Value { what, value });
    }
    let mut fitted = Vec::with_capacity(values.len());
    for block in pool(values.iter().copied().zip(weights.iter().copied()), trend) {
        fitted.resize(fitted.len() + block.length, block.value);
    }
    Ok(fitted)
}

/// A run of neighbouring points with one fitted value.
#[derive(Copy, Clone, Debug)]
pub(super) struct Block {
    pub value: f64,
    pub weight: f64,
    pub length: usize,
}

/// Blocks of the monotone fit to `(value, weight)` pairs, which the caller has checked.
pub(super) fn pool(points: impl Iterator<Item = (f64, f64)>, trend: Trend) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::with_capacity(points.size_hint().0);
    for (value, weight) in points {
        let mut last = Block {
            value,
            weight,
            length: 1,
        };
        while let Some(previous) = blocks.last().copied() {
            let ordered = match trend {
                Trend::Increasing => previous.value <= last.value,
                Trend::Decreasing => previous.value >= last.value,
            };
            if ordered {
                break;
            }
            blocks.pop();
            let total = previous.weight + last.weight;
            last = Block {
                value: (previous.value * previous.weight + last.value * last.weight) / total,
                weight: total,
                length: previous.length + last.length,
            };
        }
        blocks.push(last);
    }
    blocks
}
