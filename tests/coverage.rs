//! How often reported intervals hold the truth: nominally 95 %. Cheap synthetic seasons with known answers.

use crawlspan::stats::{
    Estimate, LEVEL, Table, mean_t, pooled_resamples, resampled_estimate, until_precise, wilson,
};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Gamma, Poisson, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rayon::prelude::*;
use statrs::distribution::{Binomial, Discrete};

/// Repeats of each study.
const REPEATS: u64 = 4_000;
/// Standard errors that the observed share may lie off its expectation: false alarms below one in a million.
const BOUND_SE: f64 = 5.0;

fn assert_covers(name: &str, expected: f64, holds: impl Fn(u64) -> bool + Sync + Send) {
    let held = (0..REPEATS).into_par_iter().filter(|repeat| holds(*repeat));
    let share = held.count() as f64 / REPEATS as f64;
    let error = (expected * (1.0 - expected) / REPEATS as f64).sqrt();
    println!(
        "{name}: {:.2} % of {REPEATS} intervals hold the truth (expected {:.2} %)",
        100.0 * share,
        100.0 * expected
    );
    assert!(
        (share - expected).abs() <= BOUND_SE * error,
        "{name}: {share}"
    );
}

fn random(repeat: u64, purpose: u64) -> Xoshiro256PlusPlus {
    Xoshiro256PlusPlus::seed_from_u64(repeat.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ purpose)
}

/// Coverage of Wilson's interval is a sum of binomial probabilities (Brown, Cai & DasGupta 2001, Statistical Science 16:
/// 101-133): exact for each number of trials and share, and it swings around the level.
#[test]
fn published_wilson_coverage_and_its_simulation() {
    for (trials, share) in [(2_000, 0.8), (2_000, 0.05), (300, 0.5), (400, 0.02)] {
        let law = Binomial::new(share, trials).unwrap();
        let holds = |hits: u64| wilson(hits, trials, LEVEL).unwrap().contains(share);
        let exact: f64 = (0..=trials)
            .filter(|hits| holds(*hits))
            .map(|hits| law.pmf(hits))
            .sum();
        println!(
            "Wilson, {trials} trials, share {share}: exactly {:.2} %",
            100.0 * exact
        );
        assert!((0.935..=0.965).contains(&exact), "{exact}");
        assert_covers("Wilson", exact, |repeat| {
            let mut random = random(repeat, trials);
            let hits = (0..trials)
                .filter(|_| random.random::<f64>() < share)
                .count();
            holds(hits as u64)
        });
    }
}

/// Student (1908), Biometrika 6: 1-25: exact for normal observations at any number of them.
#[test]
fn published_t_coverage() {
    for seasons in [5_u64, 40] {
        assert_covers("mean, t", LEVEL, |repeat| {
            let mut random = random(repeat, seasons);
            let draw = |_| {
                let z: f64 = StandardNormal.sample(&mut random);
                3.0 + 2.0 * z
            };
            let values: Vec<f64> = (0..seasons).map(draw).collect();
            mean_t(&values, LEVEL).unwrap().contains(3.0)
        });
    }
}

/// Share of larvae that are strays, as the program estimates it: seasons differ in their number of larvae (gamma sites)
/// and in their share of strays; the truth is the ratio of expectations. Runs stop at a precision asked for.
#[test]
fn stat_bootstrap_ratio_holds_the_truth_when_runs_stop_at_a_precision() {
    const MEAN_LARVAE: f64 = 12.0;
    const SHARE: f64 = 0.1;
    const RESAMPLES: usize = 400;
    const FIRST: u64 = 60;
    const ASKED: f64 = 0.011;
    let rich = Gamma::new(2.0, 0.5).unwrap();
    let season = |random: &mut Xoshiro256PlusPlus| -> [f64; 2] {
        let site: f64 = rich.sample(random);
        let larvae: f64 = Poisson::new(MEAN_LARVAE * site + 1e-9)
            .unwrap()
            .sample(random);
        // Shares of strays from 0 to twice the mean, whatever the number of larvae.
        let share = 2.0 * SHARE * random.random::<f64>();
        let strays = (0..larvae as u64).filter(|_| random.random::<f64>() < share);
        [larvae, strays.count() as f64]
    };
    let batch = |repeat: u64, first: u64, count: u64| -> Estimate {
        let rows: Vec<f64> = (first..first + count)
            .flat_map(|replicate| season(&mut random(repeat, replicate ^ 0x5ea5_0000)))
            .collect();
        let table = Table::from_rows(2, rows).unwrap();
        let resamples = pooled_resamples(&table, RESAMPLES, repeat ^ first).unwrap();
        let found = resampled_estimate(&resamples, LEVEL, |sums| Some(sums[1] / sums[0]));
        found.unwrap().estimate.unwrap()
    };
    let stopped = |repeat: u64| {
        until_precise(
            (0, FIRST),
            ASKED,
            |asked| Ok::<_, ()>((batch(repeat, asked.first, asked.count), asked.count)),
            |(estimate, _)| Some(estimate.half_width()),
            |_| false,
            |_, _| Ok(()),
        )
        .unwrap()
    };
    let sizes: Vec<u64> = (0..50).map(|repeat| stopped(repeat).1).collect();
    assert!(
        sizes.iter().any(|size| *size != sizes[0]),
        "the rule must have something to decide: {sizes:?}"
    );
    assert_covers("ratio, bootstrap, stopping rule", LEVEL, |repeat| {
        stopped(repeat).0.contains(SHARE)
    });
}
