//! Which input moves an output most: held against test functions with known answers.

use crawlspan::stats::sensitivity::{
    Rows, Screened, VarianceShares, screened, trajectories, variance_shares,
};
use crawlspan::stats::{LEVEL, ResampledEstimate};
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::PI;

/// Repeats of a study with another seed; their spread is the standard error of their mean.
const SEEDS: u64 = 100;
/// Standard errors by which a mean over [`SEEDS`] may miss: Student's t with 99 degrees of freedom is beyond 5.5 less
/// than once in a million.
const FAR: f64 = 5.5;
/// Resamples where the interval is not what is looked at.
const FEW: usize = 2;

/// Ishigami & Homma (1990), First International Symposium on Uncertainty Modeling and Analysis: 398-403, on the unit
/// cube.
fn ishigami(point: &[f64], (a, b): (f64, f64)) -> f64 {
    let x: Vec<f64> = point.iter().map(|u| PI * (2.0 * u - 1.0)).collect();
    x[0].sin() + a * x[1].sin().powi(2) + b * x[2].powi(4) * x[0].sin()
}

/// The g-function of Saltelli & Sobol' (1995), Reliability Engineering & System Safety 50: 225-239.
fn g_function(point: &[f64], a: &[f64]) -> f64 {
    let factors = point
        .iter()
        .zip(a)
        .map(|(x, a)| ((4.0 * x - 2.0).abs() + a) / (1.0 + a));
    factors.product()
}

fn singles(inputs: usize) -> Vec<Vec<usize>> {
    (0..inputs).map(|input| vec![input]).collect()
}

/// Shares of a function, with noise of its own in every batch of every point.
fn shares(
    inputs: usize,
    rows: usize,
    seed: u64,
    (batches, noise_sd): (usize, f64),
    function: impl Fn(&[f64]) -> f64,
) -> VarianceShares {
    let rows = Rows::drawn(inputs, singles(inputs), rows, seed);
    let mut noise = Xoshiro256PlusPlus::seed_from_u64(seed ^ 0xabcd);
    let outputs: Vec<Vec<Vec<f64>>> = (0..rows.count())
        .map(|row| {
            let points = rows.points(row);
            let noisy = points.iter().map(|point| {
                let value = function(point);
                (0..batches)
                    .map(|_| {
                        let z: f64 = StandardNormal.sample(&mut noise);
                        value + noise_sd * z
                    })
                    .collect()
            });
            noisy.collect()
        })
        .collect();
    variance_shares(&outputs, FEW, LEVEL, seed).expect("finite outputs")
}

fn values(shares: &[ResampledEstimate]) -> Vec<f64> {
    let value = |share: &ResampledEstimate| share.value.expect("some variance");
    shares.iter().map(value).collect()
}

/// Means over seeds must lie within [`FAR`] standard errors of what is known.
fn assert_means(name: &str, runs: &[Vec<f64>], known: &[f64]) {
    for (index, known) in known.iter().enumerate() {
        let count = runs.len() as f64;
        let mean = runs.iter().map(|run| run[index]).sum::<f64>() / count;
        let squares: f64 = runs.iter().map(|run| (run[index] - mean).powi(2)).sum();
        let error = (squares / (count - 1.0) / count).sqrt();
        println!("{name} {index}: {mean:.5} +- {error:.5}, known {known:.5}");
        assert!(
            (mean - known).abs() <= FAR * error + 1e-12,
            "{name} {index}: {mean} misses {known} by more than {FAR} x {error}"
        );
    }
}

/// Means of indices over seeds against the known ones.
fn assert_indices(name: &str, runs: &[VarianceShares], first: &[f64], total: &[f64]) {
    let firsts: Vec<_> = runs.iter().map(|run| values(&run.first)).collect();
    let totals: Vec<_> = runs.iter().map(|run| values(&run.total)).collect();
    assert_means(&format!("{name}, first"), &firsts, first);
    assert_means(&format!("{name}, total"), &totals, total);
}

/// The indices are analytic and printed with the function (Ishigami & Homma 1990; Saltelli et al. 2008, Global
/// Sensitivity Analysis: The Primer, Wiley).
#[test]
fn published_ishigami_indices() {
    let cases = [
        (
            (7.0, 0.1),
            [0.313_905_191_147_811_46, 0.442_411_144_790_040_9, 0.0],
            [
                0.557_588_855_209_959_2,
                0.442_411_144_790_040_9,
                0.243_683_664_062_147_7,
            ],
            13.844_587_940_719_254,
        ),
        (
            (7.0, 0.05),
            [0.218_518_564_427_014_33, 0.686_894_643_648_693, 0.0],
            [
                0.313_105_356_351_307_1,
                0.686_894_643_648_693,
                0.094_586_791_924_293_76,
            ],
            8.916_942_440_349_825,
        ),
    ];
    for (constants, first, total, variance) in cases {
        let runs: Vec<_> = (0..SEEDS)
            .map(|seed| shares(3, 4_096, seed, (1, 0.0), |x| ishigami(x, constants)))
            .collect();
        assert_indices("Ishigami", &runs, &first, &total);
        let variances: Vec<_> = runs.iter().map(|run| vec![run.variance]).collect();
        assert_means("Ishigami, variance", &variances, &[variance]);
        let means: Vec<_> = runs.iter().map(|run| vec![run.mean]).collect();
        assert_means("Ishigami, mean", &means, &[3.5]);
        assert!(runs[0].noise.value.is_none(), "one batch tells no noise");
    }
}

/// The indices follow in closed form from V_i = 1 / (3 (1 + a_i)^2) (Saltelli & Sobol' 1995).
#[test]
fn published_g_function_indices() {
    let a = [0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0];
    let (small_first, small_total) = (7.161_921_688_790_333e-5, 1.049_490_519_195_06e-4);
    let first = [
        0.716_192_168_879_033_1,
        0.179_048_042_219_758_29,
        0.023_675_774_177_818_19,
        0.007_161_921_688_790_333,
        small_first,
        small_first,
        small_first,
        small_first,
    ];
    let total = [
        0.787_144_126_659_274_8,
        0.242_198_192_818_238_4,
        0.034_316_910_154_082_82,
        0.010_460_387_065_239_534,
        small_total,
        small_total,
        small_total,
        small_total,
    ];
    let runs: Vec<_> = (0..SEEDS)
        .map(|seed| shares(8, 2_048, seed, (1, 0.0), |x| g_function(x, &a)))
        .collect();
    assert_indices("g-function", &runs, &first, &total);
}

/// A group of inputs is weighed as one: for the product of the g-function, 1 - S of the others taken together is the
/// group's total index.
#[test]
fn exact_a_group_and_the_rest_share_the_variance() {
    let a = [0.0, 0.5, 3.0, 9.0];
    let part = |a: f64| 1.0 / (3.0 * (1.0 + a) * (1.0 + a));
    let joint = |a: &[f64]| a.iter().map(|a| 1.0 + part(*a)).product::<f64>() - 1.0;
    let variance = joint(&a);
    let first: Vec<f64> = [&a[..2], &a[2..]].map(|a| joint(a) / variance).to_vec();
    let total = [1.0 - first[1], 1.0 - first[0]];
    let runs: Vec<_> = (0..SEEDS)
        .map(|seed| {
            let rows = Rows::drawn(4, vec![vec![0, 1], vec![2, 3]], 1_024, seed);
            let outputs: Vec<Vec<Vec<f64>>> = (0..rows.count())
                .map(|row| {
                    let points = rows.points(row);
                    points.iter().map(|x| vec![g_function(x, &a)]).collect()
                })
                .collect();
            variance_shares(&outputs, FEW, LEVEL, seed).expect("finite outputs")
        })
        .collect();
    assert_indices("group", &runs, &first, &total);
}

/// With noise of SD 3.72 on the Ishigami function half of the plain variance of one evaluation is noise, a fifth of
/// that of the mean of four: sigma^2 / R / (V + sigma^2 / R). Indices must stay those of the function without noise.
#[test]
fn exact_noise_gets_a_share_of_its_own() {
    const NOISE_SD: f64 = 3.72;
    let first = [0.313_905_191_147_811_46, 0.442_411_144_790_040_9, 0.0];
    let total = [
        0.557_588_855_209_959_2,
        0.442_411_144_790_040_9,
        0.243_683_664_062_147_7,
    ];
    for (batches, share) in [
        (4, 0.199_928_480_426_351_67),
        (16, 0.058_798_783_716_036_605),
    ] {
        let runs: Vec<_> = (0..SEEDS)
            .map(|seed| {
                shares(3, 4_096, seed, (batches, NOISE_SD), |x| {
                    ishigami(x, (7.0, 0.1))
                })
            })
            .collect();
        assert_indices(&format!("{batches} noisy batches"), &runs, &first, &total);
        let noise: Vec<_> = runs
            .iter()
            .map(|run| vec![run.noise.value.expect("two batches or more")])
            .collect();
        assert_means("noise share", &noise, &[share]);
    }
}

/// Noise that batches of the same number share within a row leaves the indices as they are, and an input that does
/// nothing then has no share at all in any single run.
#[test]
fn exact_shared_noise_cancels_within_a_row() {
    let runs: Vec<_> = (0..SEEDS)
        .map(|seed| {
            let rows = Rows::drawn(3, singles(3), 512, seed);
            let mut noise = Xoshiro256PlusPlus::seed_from_u64(seed);
            let outputs: Vec<Vec<Vec<f64>>> = (0..rows.count())
                .map(|row| {
                    let shared: [f64; 2] = [(); 2].map(|()| StandardNormal.sample(&mut noise));
                    let points = rows.points(row);
                    let value = |x: &Vec<f64>| x[0] + 2.0 * x[1];
                    let noisy = |x| shared.iter().map(|z| value(x) + 5.0 * z).collect();
                    points.iter().map(noisy).collect()
                })
                .collect();
            variance_shares(&outputs, FEW, LEVEL, seed).expect("finite outputs")
        })
        .collect();
    for run in &runs {
        assert!(run.first[2].value.expect("variance").abs() < 1e-9);
        assert!(run.total[2].value.expect("variance").abs() < 1e-9);
    }
    assert_indices("shared noise", &runs, &[0.2, 0.8, 0.0], &[0.2, 0.8, 0.0]);
}

fn screen(
    inputs: usize,
    levels: usize,
    count: usize,
    (seed, batches, noise_sd): (u64, usize, f64),
    function: impl Fn(&[f64]) -> f64,
) -> Vec<Screened> {
    let walks = trajectories(inputs, levels, count, seed).expect("a grid");
    let mut noise = Xoshiro256PlusPlus::seed_from_u64(seed ^ 0xef);
    let outputs: Vec<Vec<Vec<f64>>> = walks
        .iter()
        .map(|walk| {
            let noisy = walk.points.iter().map(|point| {
                let value = function(point);
                (0..batches)
                    .map(|_| {
                        let z: f64 = StandardNormal.sample(&mut noise);
                        value + noise_sd * z
                    })
                    .collect()
            });
            noisy.collect()
        })
        .collect();
    screened(&walks, &outputs, FEW, seed).expect("finite outputs")
}

/// Effects of Morris (1991): means over all pairs of grid points, computed by enumerating the grid with numpy 2.4.6.
#[test]
fn published_effects_of_the_test_functions() {
    let check = |name: &str, runs: Vec<Vec<Screened>>, absolute: &[f64], square: &[f64]| {
        let of = |pick: fn(&Screened) -> f64| -> Vec<Vec<f64>> {
            runs.iter()
                .map(|run| run.iter().map(pick).collect())
                .collect()
        };
        assert_means(&format!("{name}, mu*"), &of(|s| s.absolute.value), absolute);
        assert_means(&format!("{name}, square"), &of(|s| s.square.value), square);
    };
    let square = |mean: f64, sd: f64| mean * mean + sd * sd;
    for (levels, absolute, squares) in [
        (
            4,
            [7.704_054_111_593_104, 7.875, 6.248_796_103_333_118_5],
            [
                square(7.704_054_111_593_104, 6.248_796_103_333_118_5),
                square(0.0, 7.875),
                square(0.0, 8.837_132_197_837_843),
            ],
        ),
        (
            8,
            [
                7.959_192_784_102_099,
                3.230_809_279_517_572,
                5.723_541_455_537_877,
            ],
            [
                square(7.959_192_784_102_099, 10.020_504_604_906_488),
                square(0.0, 3.360_531_161_095_309),
                square(0.0, 8.171_655_486_333_74),
            ],
        ),
    ] {
        let runs = (0..SEEDS)
            .map(|seed| screen(3, levels, 200, (seed, 1, 0.0), |x| ishigami(x, (7.0, 0.1))))
            .collect();
        check(
            &format!("Ishigami, {levels} levels"),
            runs,
            &absolute,
            &squares,
        );
    }
    let a = [0.0, 1.0, 4.5, 9.0];
    let runs = (0..SEEDS)
        .map(|seed| screen(4, 6, 200, (seed, 1, 0.0), |x| g_function(x, &a)))
        .collect();
    check(
        "g-function, 6 levels",
        runs,
        &[2.0672, 1.127_563_636_363_636_5, 0.4352, 0.2432],
        &[
            2.663_760_209_108_906,
            1.585_844_488_703_276,
            0.634_337_795_481_310_4,
            0.356_073_492_774_098_17,
        ]
        .map(|sd| sd * sd),
    );
}

/// A plane has the same effect everywhere, and noise is told apart from it: each effect is a difference of two means
/// of two batches over a step of 2/3, so its noise has SD sqrt(2 / 2) x 1 / (2/3) = 1.5.
#[test]
fn exact_effects_of_a_plane_and_their_noise() {
    let plane = |x: &[f64]| 1.0 + 2.0 * x[0] - 3.0 * x[1];
    for effects in [screen(2, 4, 10, (3, 1, 0.0), plane)] {
        for (effect, slope) in effects.iter().zip([2.0_f64, -3.0]) {
            assert!((effect.mean - slope).abs() < 1e-9);
            assert!((effect.absolute.value - slope.abs()).abs() < 1e-9);
            assert!((effect.square.value - slope * slope).abs() < 1e-9);
            assert!(effect.sd < 1e-6 && effect.noise_sd.is_none());
        }
    }
    let runs: Vec<_> = (0..SEEDS)
        .map(|seed| screen(2, 4, 200, (seed, 2, 1.0), plane))
        .collect();
    let squares: Vec<_> = runs
        .iter()
        .map(|run| run.iter().map(|s| s.square.value).collect())
        .collect();
    assert_means("noisy plane, square", &squares, &[4.0, 9.0]);
    let noise: Vec<_> = runs
        .iter()
        .map(|run| {
            let variance = |s: &Screened| s.noise_sd.expect("two batches").powi(2);
            run.iter().map(variance).collect()
        })
        .collect();
    assert_means("noisy plane, noise variance", &noise, &[2.25, 2.25]);
}

#[test]
fn exact_trajectories_move_every_input_once_within_the_cube() {
    for walk in trajectories(7, 4, 50, 11).expect("a grid") {
        assert_eq!(walk.points.len(), 8);
        let mut moved = walk.moved.clone();
        moved.sort_unstable();
        assert_eq!(moved, (0..7).collect::<Vec<_>>());
        for (at, &input) in walk.moved.iter().enumerate() {
            let step = walk.points[at + 1][input] - walk.points[at][input];
            assert!((step.abs() - 2.0 / 3.0).abs() < 1e-12);
            let others = (0..7).filter(|other| *other != input);
            for other in others {
                assert_eq!(walk.points[at + 1][other], walk.points[at][other]);
            }
        }
        let within = |x: &f64| (-1e-12..=1.0 + 1e-12).contains(x);
        assert!(walk.points.iter().flatten().all(within));
    }
    assert!(trajectories(3, 5, 1, 0).is_err());
    assert!(trajectories(0, 4, 1, 0).is_err());
}

/// Nominal 95 % bootstrap intervals over rows, with noise: the share of 400 studies that hold the truth lies within
/// five binomial standard errors of 0.95. The figures are printed.
#[test]
fn stat_intervals_hold_the_truth() {
    const STUDIES: u64 = 400;
    let known = [
        ("first 1", 0.313_905_191_147_811_46),
        ("first 2", 0.442_411_144_790_040_9),
        ("total 1", 0.557_588_855_209_959_2),
        ("total 3", 0.243_683_664_062_147_7),
        ("noise", 0.333_233_994_671_606_2),
    ];
    let mut held = [0_u64; 5];
    for seed in 0..STUDIES {
        let rows = Rows::drawn(3, singles(3), 256, 1_000 + seed);
        let mut noise = Xoshiro256PlusPlus::seed_from_u64(seed);
        let outputs: Vec<Vec<Vec<f64>>> = (0..rows.count())
            .map(|row| {
                let points = rows.points(row);
                let noisy = points.iter().map(|x| {
                    let value = ishigami(x, (7.0, 0.1));
                    let z: [f64; 2] = [(); 2].map(|()| StandardNormal.sample(&mut noise));
                    z.map(|z| value + 3.72 * z).to_vec()
                });
                noisy.collect()
            })
            .collect();
        let found = variance_shares(&outputs, 400, LEVEL, seed).expect("finite outputs");
        let estimates = [
            found.first[0],
            found.first[1],
            found.total[0],
            found.total[2],
            found.noise,
        ];
        for ((held, estimate), (_, truth)) in held.iter_mut().zip(estimates).zip(known) {
            let interval = estimate.estimate.expect("defined");
            *held += u64::from(interval.contains(truth));
        }
    }
    for (held, (name, _)) in held.iter().zip(known) {
        let share = *held as f64 / STUDIES as f64;
        println!("coverage of {name}: {share:.3} of {STUDIES}");
        let error = (LEVEL * (1.0 - LEVEL) / STUDIES as f64).sqrt();
        assert!((share - LEVEL).abs() <= 5.0 * error, "{name}: {share}");
    }
}
