//! Rank correlation of many candidates with one outcome, and how strong the strongest is by chance.

use super::StatsError;
use crate::random::numbered as stream;
use rand::seq::SliceRandom;
use rayon::prelude::*;

/// The candidate that goes along most with an outcome.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strongest {
    /// Index of the candidate.
    pub index: usize,
    /// Its rank correlation with the outcome (Spearman), from -1 to 1.
    pub correlation: f64,
    /// Share of shuffles of the outcome in which the strongest of all candidates is at least as strong: the p value
    /// of this one with all others in mind (maximum statistic of Westfall & Young 1993, Resampling-Based Multiple
    /// Testing, Wiley). The order as observed counts as one shuffle.
    pub by_chance: f64,
}

/// The strongest rank correlation among candidates; ties have their mean rank. `None` when the outcome, or every
/// candidate, is the same throughout.
///
/// # Errors
/// [`StatsError::TooFew`] below three values, [`StatsError::Length`] for a candidate of another length,
/// [`StatsError::Value`] for a value that is not a number.
pub fn strongest_rank_correlation(
    candidates: &[Vec<f64>],
    outcome: &[f64],
    shuffles: usize,
    seed: u64,
) -> Result<Option<Strongest>, StatsError> {
    const FEWEST: usize = 3;
    if outcome.len() < FEWEST {
        return Err(StatsError::TooFew {
            needed: FEWEST,
            given: outcome.len(),
        });
    }
    let ranked = candidates
        .iter()
        .map(|candidate| {
            if candidate.len() == outcome.len() {
                standard_ranks(candidate)
            } else {
                Err(StatsError::Length {
                    what: "values of a candidate",
                    expected: outcome.len(),
                    given: candidate.len(),
                })
            }
        })
        .collect::<Result<Vec<_>, _>>()?;
    let Some(outcome) = standard_ranks(outcome)? else {
        return Ok(None);
    };
    let best = |outcome: &[f64]| {
        let correlated = ranked.iter().enumerate().filter_map(|(index, ranks)| {
            let ranks = ranks.as_ref()?;
            let correlation: f64 = ranks.iter().zip(outcome).map(|(a, b)| a * b).sum();
            Some((index, correlation))
        });
        correlated.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
    };
    let Some((index, correlation)) = best(&outcome) else {
        return Ok(None);
    };
    // Rounding must not make a shuffle weaker that is as strong.
    const ROUNDING: f64 = 1e-12;
    let as_strong = (0..shuffles)
        .into_par_iter()
        .filter(|shuffle| {
            let mut shuffled = outcome.clone();
            shuffled.shuffle(&mut stream(seed, *shuffle as u64));
            best(&shuffled).is_some_and(|(_, other)| other.abs() >= correlation.abs() - ROUNDING)
        })
        .count();
    Ok(Some(Strongest {
        index,
        correlation,
        by_chance: (as_strong + 1) as f64 / (shuffles + 1) as f64,
    }))
}

/// Ranks with mean 0 and sum of squares 1; `None` when all values are the same.
fn standard_ranks(values: &[f64]) -> Result<Option<Vec<f64>>, StatsError> {
    if let Some(&value) = values.iter().find(|value| value.is_nan()) {
        let what = "a value to be ranked";
        return Err(StatsError::Value { what, value });
    }
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let mut ranks = vec![0.0; values.len()];
    let mut before = 0;
    for tied in order.chunk_by(|a, b| values[*a] == values[*b]) {
        let rank = before as f64 + (tied.len() as f64 - 1.0) / 2.0;
        for index in tied {
            ranks[*index] = rank;
        }
        before += tied.len();
    }
    let middle = (values.len() as f64 - 1.0) / 2.0;
    ranks.iter_mut().for_each(|rank| *rank -= middle);
    let length = ranks.iter().map(|rank| rank * rank).sum::<f64>().sqrt();
    if length == 0.0 {
        return Ok(None);
    }
    ranks.iter_mut().for_each(|rank| *rank /= length);
    Ok(Some(ranks))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Spearman (1904), American Journal of Psychology 15: 72-101; without ties 1 - 6 sum d^2 / (n (n^2 - 1)).
    #[test]
    fn exact_rank_correlation_without_and_with_ties() {
        let outcome = [1.0, 2.0, 3.0, 4.0, f64::INFINITY];
        let falling = vec![9.0, 7.0, 8.0, 2.0, 1.0];
        let flat = vec![1.0; 5];
        let found = strongest_rank_correlation(&[flat.clone(), falling], &outcome, 9, 1);
        let found = found.expect("numbers").expect("they vary");
        assert_eq!(found.index, 1);
        // d = 4, 1, 1, 2, 4: 38 squared; 1 - 6 x 38 / 120.
        assert!((found.correlation + 0.9).abs() < 1e-12);
        assert!(found.by_chance > 0.0 && found.by_chance <= 1.0);
        let tied = [0.0, 0.0, 1.0, 1.0];
        let found = strongest_rank_correlation(&[tied.to_vec()], &tied, 9, 1);
        let found = found.expect("numbers").expect("they vary");
        assert!((found.correlation - 1.0).abs() < 1e-12);
        assert!(strongest_rank_correlation(&[flat], &tied, 9, 1).is_err());
        let same = strongest_rank_correlation(&[tied.to_vec()], &[2.0; 4], 9, 1);
        assert_eq!(same, Ok(None));
    }

    /// Where nothing goes along with the outcome, the p value of the strongest is uniform: over 400 data sets the
    /// share at or below .1 has SE .015; five of them bound it.
    #[test]
    fn stat_chance_is_told_with_all_candidates_in_mind() {
        use rand::RngExt;
        const SETS: u64 = 400;
        let mut hits = 0;
        for set in 0..SETS {
            let mut random = stream(set, 77);
            let mut values = || (0..20).map(|_| random.random::<f64>()).collect::<Vec<_>>();
            let outcome = values();
            let candidates: Vec<Vec<f64>> = (0..15).map(|_| values()).collect();
            let found = strongest_rank_correlation(&candidates, &outcome, 99, set);
            let found = found.expect("numbers").expect("they vary");
            hits += u64::from(found.by_chance <= 0.1);
        }
        let share = hits as f64 / SETS as f64;
        let error = (0.1 * 0.9 / SETS as f64).sqrt();
        assert!((share - 0.1).abs() <= 5.0 * error, "{share}");
    }
}
