//! Counting sign patterns whose sum is at least as large as the one observed.
//!
//! Signed sums are looked up eight scores at a time: a table holds the 256 signed sums of its eight
//! scores, so that a pattern costs one addition per eight sites.

use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// Scores in one table: a byte of random bits selects an entry.
const TABLE_SCORES: usize = 8;
/// Entries of a table.
const TABLE_ENTRIES: usize = 1 << TABLE_SCORES;
/// Tables served by one 64-bit random word.
const TABLES_PER_WORD: usize = 8;

/// Most informative scores for which all sign patterns are enumerated (65,536 of them).
pub const LARGEST_ENUMERATION: usize = 16;

/// Sums this close to the observed one, relative to the sum of absolute scores, count as ties.
///
/// Adding 200 doubles in another order moves their sum by at most 200 x 1.1e-16 = 2e-14 of that
/// scale, so no true tie is lost; taking a near miss for a tie can only raise the p value.
pub const TIE_TOLERANCE: f64 = 1e-11;

/// The share of sign patterns at least as extreme, as a count over patterns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Extremes {
    /// Patterns at least as extreme as the observed one, itself counted.
    pub count: u64,
    /// Patterns looked at, the observed one counted.
    pub patterns: u64,
}

impl Extremes {
    /// Two-sided p value.
    pub(crate) fn p_value(self) -> f64 {
        self.count as f64 / self.patterns as f64
    }
}

/// Signed sums of up to eight scores; the bit pattern of the index selects the positive ones.
fn table(scores: &[f64]) -> [f64; TABLE_ENTRIES] {
    let mut sums = [-scores.iter().sum::<f64>(); TABLE_ENTRIES];
    for (bit, score) in scores.iter().enumerate() {
        let half = 1 << bit;
        for index in 0..half {
            sums[half + index] = sums[index] + 2.0 * score;
        }
    }
    // A short table repeats its sums, so that the unused bits of a random byte do not matter.
    let filled = 1 << scores.len();
    for index in filled..TABLE_ENTRIES {
        sums[index] = sums[index - filled];
    }
    sums
}

/// Smallest absolute sum that counts as at least as extreme as the observed one.
fn threshold(scores: &[f64]) -> f64 {
    let sum: f64 = scores.iter().sum();
    let scale: f64 = scores.iter().map(|score| score.abs()).sum();
    sum.abs() - TIE_TOLERANCE * scale
}

/// All sign patterns of at most [`LARGEST_ENUMERATION`] scores.
pub(crate) fn enumerate(scores: &[f64]) -> Extremes {
    let least = threshold(scores);
    // A pattern and its opposite have the same absolute sum: the last score keeps its sign.
    let Some((fixed, free)) = scores.split_last() else {
        return Extremes {
            count: 1,
            patterns: 1,
        };
    };
    let (low, high) = free.split_at(free.len().min(TABLE_SCORES));
    let low_sums = table(low);
    let high_sums = table(high);
    let low_sums = &low_sums[..1 << low.len()];
    let mut count: u64 = 0;
    for high_sum in &high_sums[..1 << high.len()] {
        let base = high_sum + fixed;
        let extreme = low_sums.iter().filter(|sum| (base + **sum).abs() >= least);
        count += extreme.count() as u64;
    }
    Extremes {
        count,
        patterns: 1 << free.len(),
    }
}

/// When counting random sign patterns may stop.
#[derive(Debug, Clone, Copy)]
enum Stop {
    /// Never: every pattern is looked at.
    Never,
    /// Once it is settled whether the count exceeds this number.
    Settled(usize),
}

/// Random sign patterns at least as extreme as the observed one, which is not counted.
///
/// Whether the count exceeds the number in [`Stop::Settled`] does not depend on the early stop.
fn count_random(scores: &[f64], flips: usize, seed: u64, stop: Stop) -> usize {
    let least = threshold(scores);
    let tables: Vec<[f64; TABLE_ENTRIES]> = scores.chunks(TABLE_SCORES).map(table).collect();
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let mut count = 0;
    for done in 0..flips {
        if let Stop::Settled(most) = stop
            && (count > most || count + (flips - done) <= most)
        {
            break;
        }
        let mut sum = 0.0;
        for chunk in tables.chunks(TABLES_PER_WORD) {
            let bytes = random.next_u64().to_le_bytes();
            for (sums, byte) in chunk.iter().zip(bytes) {
                sum += sums[usize::from(byte)];
            }
        }
        count += usize::from(sum.abs() >= least);
    }
    count
}

/// `flips` random sign patterns and the observed one.
pub(crate) fn sample(scores: &[f64], flips: usize, seed: u64) -> Extremes {
    Extremes {
        count: count_random(scores, flips, seed, Stop::Never) as u64 + 1,
        patterns: flips as u64 + 1,
    }
}

/// Whether the random test rejects at `level`: the decision of [`sample`], reached sooner.
pub(crate) fn sample_rejects(scores: &[f64], flips: usize, seed: u64, level: f64) -> bool {
    let patterns = flips as u64 + 1;
    let rejects = |count: u64| Extremes { count, patterns }.p_value() <= level;
    // Largest count that still rejects; rounding of the product is put right by the test itself.
    let mut largest = (level * patterns as f64).ceil() as u64;
    while largest > 0 && !rejects(largest) {
        largest -= 1;
    }
    // The observed pattern is one of them.
    let Some(most) = largest.checked_sub(1) else {
        return false;
    };
    let most = most as usize;
    count_random(scores, flips, seed, Stop::Settled(most)) <= most
}
