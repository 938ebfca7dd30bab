//! Intervals, resampling, isotonic fits and crossings against numbers from elsewhere.

use crawlspan::stats::{
    Crossing, CrossingQuery, CurvePoint, Estimate, LEVEL, Resamples, StatsError, Table, Trend,
    clopper_pearson, crossing, isotonic, mean_t, pooled_resamples, read_crossing,
    resampled_estimate, wilson,
};
use proptest::prelude::*;

type Outcome = Result<(), StatsError>;

/// Successes, trials, Wilson ends, Clopper-Pearson ends.
type ProportionRow = (u64, u64, [f64; 2], [f64; 2]);

fn assert_ends(made: Estimate, ends: [f64; 2], tolerance: f64) {
    assert!(
        (made.low - ends[0]).abs() <= tolerance && (made.high - ends[1]).abs() <= tolerance,
        "{made:?} is not {ends:?}"
    );
}

/// Newcombe (1998), Statistics in Medicine 17: 857-872, table I, methods 3 (score) and 5
/// (Clopper-Pearson), 95 %: printed to four decimals. Quoted from memory; the computed
/// values of the next test round to the same.
#[test]
fn published_proportion_intervals_of_newcombe() -> Outcome {
    let rows: [ProportionRow; 4] = [
        (81, 263, [0.2553, 0.3662], [0.2527, 0.3676]),
        (15, 148, [0.0624, 0.1605], [0.0578, 0.1617]),
        (0, 20, [0.0, 0.1611], [0.0, 0.1684]),
        (1, 29, [0.0061, 0.1718], [0.0009, 0.1776]),
    ];
    for (x, n, score, exact) in rows {
        assert_ends(wilson(x, n, LEVEL)?, score, 0.5e-4);
        assert_ends(clopper_pearson(x, n, LEVEL)?, exact, 0.5e-4);
    }
    Ok(())
}

/// Computed with statsmodels 0.15.0 and scipy 1.17.1; not published.
#[test]
fn practice_proportion_intervals_of_a_statistics_library() -> Outcome {
    let rows: [ProportionRow; 7] = [
        (
            81,
            263,
            [0.2552885198782742, 0.36620957698280004],
            [0.25273674558527126, 0.3676219226013514],
        ),
        (
            15,
            148,
            [0.06238639953073628, 0.16048724172330803],
            [0.05784401008344857, 0.161650490349479],
        ),
        (0, 20, [0.0, 0.1611251580528194], [0.0, 0.16843347098308534]),
        (
            1,
            29,
            [0.006113214292762667, 0.17175521879320294],
            [0.000872646883579922, 0.17764429548872293],
        ),
        (
            5,
            10,
            [0.23659309051256394, 0.7634069094874361],
            [0.18708602844739855, 0.8129139715526015],
        ),
        (10, 10, [0.7224672001371106, 1.0], [0.6915028921812392, 1.0]),
        (29, 29, [0.8830302015002592, 1.0], [0.8805551309304973, 1.0]),
    ];
    for (x, n, score, exact) in rows {
        assert_ends(wilson(x, n, LEVEL)?, score, 1e-9);
        assert_ends(clopper_pearson(x, n, LEVEL)?, exact, 1e-9);
    }
    Ok(())
}

/// The defining equation of the tail interval: each end leaves alpha / 2 beyond the count.
/// Binomial tails are summed here term by term.
#[test]
fn exact_clopper_pearson_ends_leave_the_stated_tails() -> Outcome {
    for (x, n) in [(1_u64, 40_000_u64), (3, 500), (250, 500), (39_999, 40_000)] {
        let made = clopper_pearson(x, n, LEVEL)?;
        let above = 1.0 - cumulative(x - 1, n, made.low);
        let below = cumulative(x, n, made.high);
        assert!((above - 0.025).abs() < 1e-8, "{x}/{n}: {above}");
        assert!((below - 0.025).abs() < 1e-8, "{x}/{n}: {below}");
    }
    Ok(())
}

fn cumulative(x: u64, n: u64, p: f64) -> f64 {
    let mut log_term = n as f64 * (-p).ln_1p();
    let mut sum = log_term.exp();
    for k in 1..=x {
        log_term += ((n - k + 1) as f64 / k as f64).ln() + (p / (1.0 - p)).ln();
        sum += log_term.exp();
    }
    sum
}

/// Hours of sleep gained, differences of ten patients: Student (1908), Biometrika 6: 1-25.
/// The interval is the one R prints for `t.test` on its `sleep` data (from memory).
#[test]
fn published_t_interval_of_the_sleep_data() -> Outcome {
    let gained = [1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4];
    let made = mean_t(&gained, LEVEL)?;
    assert!((made.value - 1.58).abs() < 1e-12);
    assert_ends(made, [0.7001142, 2.4598858], 0.5e-7);
    Ok(())
}

#[test]
fn exact_bad_input_is_an_error_not_a_number() {
    assert!(wilson(0, 0, LEVEL).is_err());
    assert!(wilson(3, 2, LEVEL).is_err());
    assert!(clopper_pearson(1, 2, 1.0).is_err());
    assert!(wilson(1, 2, f64::NAN).is_err());
    assert!(mean_t(&[1.0], LEVEL).is_err());
    assert!(mean_t(&[1.0, f64::NAN], LEVEL).is_err());
    assert!(isotonic(&[1.0, 2.0], &[1.0], Trend::Increasing).is_err());
    assert!(isotonic(&[1.0, 2.0], &[1.0, 0.0], Trend::Increasing).is_err());
    assert!(Table::from_rows(0, vec![]).is_err());
    assert!(Table::from_rows(2, vec![1.0; 3]).is_err());
    let grid = [1.0, 1.0];
    let query = CrossingQuery {
        grid: &grid,
        trend: Trend::Increasing,
        threshold: 0.5,
    };
    let point = CurvePoint {
        successes: 1.0,
        trials: 2.0,
    };
    assert!(read_crossing(&query, &[point; 2]).is_err());
}

#[test]
fn exact_a_decreasing_map_swaps_the_ends() -> Outcome {
    let made = wilson(3, 10, LEVEL)?;
    let other = made.map(|p| 1.0 - p);
    assert_eq!(other.low, 1.0 - made.high);
    assert_eq!(other.high, 1.0 - made.low);
    assert!(other.contains(0.7));
    assert!((other.half_width() - made.half_width()).abs() < 1e-15);
    Ok(())
}

/// First row: the worked example of R's `isoreg` help (from memory; followed by hand: 1, 0
/// pool to 0.5, the seven from 4 to 0 to 21 / 7). The others are worked by hand.
#[test]
fn exact_isotonic_fits_worked_by_hand() -> Outcome {
    let ones = [1.0; 9];
    let made = isotonic(
        &[1.0, 0.0, 4.0, 3.0, 3.0, 5.0, 4.0, 2.0, 0.0],
        &ones,
        Trend::Increasing,
    )?;
    let by_hand = [0.5, 0.5, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0];
    assert!(made.iter().zip(by_hand).all(|(a, b)| (a - b).abs() < 1e-12));
    // (4 x 1 + 2 x 2) / 3
    let weighted = isotonic(&[4.0, 2.0, 3.0], &[1.0, 2.0, 1.0], Trend::Increasing)?;
    assert_eq!(weighted, [8.0 / 3.0, 8.0 / 3.0, 3.0]);
    // (1 x 3 + 3 x 1) / 4 = 1.5, below 2
    let falling = isotonic(
        &[2.0, 1.0, 3.0, 0.5],
        &[1.0, 3.0, 1.0, 1.0],
        Trend::Decreasing,
    )?;
    assert_eq!(falling, [2.0, 1.5, 1.5, 0.5]);
    Ok(())
}

proptest! {
    /// The max-min formula of isotonic regression (Barlow, Bartholomew, Bremner & Brunk
    /// 1972, Statistical Inference under Order Restrictions, section 1.4): another
    /// algorithm for the same fit.
    #[test]
    fn exact_isotonic_fit_is_the_max_of_min_averages(
        points in prop::collection::vec((-10.0_f64..10.0, 0.1_f64..5.0), 1..12)
    ) {
        let (values, weights): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
        let average = |from: usize, to: usize| {
            let part = &points[from..=to];
            part.iter().map(|(v, w)| v * w).sum::<f64>() / part.iter().map(|p| p.1).sum::<f64>()
        };
        let made = isotonic(&values, &weights, Trend::Increasing).expect("valid input");
        for (i, fitted) in made.iter().enumerate() {
            let max_min = (0..=i)
                .map(|from| (i..values.len()).map(|to| average(from, to)).fold(f64::MAX, f64::min))
                .fold(f64::MIN, f64::max);
            prop_assert!((fitted - max_min).abs() < 1e-9);
        }
        let negated: Vec<f64> = values.iter().map(|v| -v).collect();
        let falling = isotonic(&negated, &weights, Trend::Decreasing).expect("valid input");
        prop_assert!(made.iter().zip(&falling).all(|(a, b)| *a == -*b));
    }
}

/// Column 0 counts seasons, column 1 is a square number, column 2 falls with the season.
fn small_table() -> Result<Table, StatsError> {
    let mut table = Table::with_columns(3, 30)?;
    for season in 0..30_u32 {
        table.push_season(&[1, season * season % 17, 30 - season])?;
    }
    Ok(table)
}

/// Given the data, the variance of a resampled sum is n times the variance (divisor n) of
/// its column, and likewise for the covariance (Efron & Tibshirani 1993, section 5.2 and
/// equation 6.8). With B resamples the sample covariance has a standard error of at most
/// sqrt((var a var b + cov^2) / B), sums of 30 values being short-tailed (excess kurtosis
/// of the sum below 0 here, as that of one value is); the bound is 5 of them.
#[test]
fn stat_resampled_sums_vary_as_theory_says() -> Outcome {
    let table = small_table()?;
    let count = 20_000;
    let made = pooled_resamples(&table, count, 20_240_601)?;
    let n = table.seasons() as f64;
    let mean: Vec<f64> = table.totals().iter().map(|t| t / n).collect();
    let theory = |a: usize, b: usize| -> f64 {
        table
            .rows()
            .map(|r| (r[a] - mean[a]) * (r[b] - mean[b]))
            .sum()
    };
    let found = |a: usize, b: usize| -> f64 {
        let product = |r: &[f64]| (r[a] - n * mean[a]) * (r[b] - n * mean[b]);
        made.rows().map(product).sum::<f64>() / count as f64
    };
    for (a, b) in [(1, 1), (2, 2), (1, 2)] {
        let square = theory(a, a) * theory(b, b) + theory(a, b).powi(2);
        let error = (square / count as f64).sqrt();
        let gap = (found(a, b) - theory(a, b)).abs();
        assert!(gap < 5.0 * error, "{a} {b}: {gap} against {error}");
    }
    assert!(made.rows().all(|sums| sums[0] == n));
    Ok(())
}

#[test]
fn exact_resamples_depend_on_the_seed_only() -> Outcome {
    let table = small_table()?;
    let made = pooled_resamples(&table, 50, 7)?;
    assert_eq!(made, pooled_resamples(&table, 50, 7)?);
    assert_ne!(made, pooled_resamples(&table, 50, 8)?);
    // The first resamples of a longer run are those of a shorter one.
    let longer = pooled_resamples(&table, 80, 7)?;
    assert!(made.rows().zip(longer.rows()).all(|(a, b)| a == b));
    let single = rayon::ThreadPoolBuilder::new().num_threads(1).build();
    let alone = single
        .expect("a thread")
        .install(|| pooled_resamples(&table, 50, 7))?;
    assert_eq!(made, alone);
    Ok(())
}

/// Ratio of pooled counts over a column that is 1 in one season of ten: a resample misses
/// it with probability .9^10 = .349, so no interval may be given.
#[test]
fn stat_a_ratio_undefined_in_many_resamples_has_no_interval() -> Outcome {
    let mut table = Table::with_columns(2, 10)?;
    for season in 0..10_u32 {
        table.push_season(&[season, u32::from(season == 3)])?;
    }
    let count = 4_000;
    let made = pooled_resamples(&table, count, 99)?;
    let ratio = |sums: &[f64]| (sums[1] > 0.0).then(|| sums[0] / sums[1]);
    let report = resampled_estimate(&made, LEVEL, ratio)?;
    assert_eq!(report.value, Some(45.0));
    assert_eq!(report.estimate, None);
    let missing = 0.9_f64.powi(10);
    let error = (missing * (1.0 - missing) * count as f64).sqrt();
    let undefined = (report.resamples - report.defined) as f64;
    assert!((undefined - missing * count as f64).abs() < 5.0 * error);
    Ok(())
}

/// The percentile interval of a mean of many seasons meets the t interval: both ends are
/// mean +- 1.96 SE to first order. Monte Carlo error of a 2.5 % point of a normal sample:
/// sqrt(.025 x .975 / B) / .0584 standard errors = .027 at B = 10,000; bound 5 of them,
/// plus the difference between the t and normal points and the divisors (below .01 SE at
/// n = 400) and the skewness term (1.96^2 - 1) skew / (6 sqrt n) < .01.
#[test]
fn stat_percentile_interval_of_a_mean_meets_the_t_interval() -> Outcome {
    let values: Vec<f64> = (0..400_u32).map(|i| f64::from(i * 37 % 101)).collect();
    let by_t = mean_t(&values, LEVEL)?;
    let error = by_t.half_width() / 1.96;
    let made = pooled_resamples(&Table::from_rows(1, values)?, 10_000, 5)?;
    let report = resampled_estimate(&made, LEVEL, |sums| Some(sums[0] / 400.0))?;
    let bound = (5.0 * 0.027 + 0.02) * error;
    let ends = [by_t.low, by_t.high];
    assert_ends(report.estimate.expect("all are defined"), ends, bound);
    Ok(())
}

const GRID: [f64; 6] = [1.0, 2.0, 3.5, 5.0, 8.0, 10.0];

fn points(height: impl Fn(f64) -> f64) -> Vec<CurvePoint> {
    let trials = 1e6;
    let point = |&x: &f64| CurvePoint {
        successes: trials * height(x),
        trials,
    };
    GRID.iter().map(point).collect()
}

fn query(trend: Trend, threshold: f64) -> CrossingQuery<'static> {
    CrossingQuery {
        grid: &GRID,
        trend,
        threshold,
    }
}

/// A straight line on the log-odds scale is reproduced, rising or falling; outside the
/// grid nothing is extrapolated.
#[test]
fn exact_crossings_of_a_logistic_curve() -> Outcome {
    let rising = |x: f64| 1.0 / (1.0 + (-(0.7 * x - 4.0)).exp());
    let falling = |x: f64| 1.0 - rising(x);
    for (trend, threshold) in [(Trend::Increasing, 0.8), (Trend::Decreasing, 0.2)] {
        let curve = match trend {
            Trend::Increasing => points(rising),
            Trend::Decreasing => points(falling),
        };
        let truth = (4.0 + 4.0_f64.ln()) / 0.7;
        match read_crossing(&query(trend, threshold), &curve)? {
            Some(Crossing::At(x)) => assert!((x - truth).abs() < 1e-9, "{x} {truth}"),
            other => panic!("{other:?}"),
        }
        // 0.7 x - 4 spans -3.3..3, that is .036..0.953 rising.
        let (easy, hard) = match trend {
            Trend::Increasing => (0.03, 0.96),
            Trend::Decreasing => (0.97, 0.04),
        };
        let read = |threshold| read_crossing(&query(trend, threshold), &curve);
        assert_eq!(read(easy)?, Some(Crossing::BelowGrid));
        assert_eq!(read(hard)?, Some(Crossing::NotReached));
    }
    Ok(())
}

/// Proportions of exactly 0 and 1 have no log odds, yet the crossing between them stays
/// between its neighbours; points without trials are left out.
#[test]
fn exact_crossings_among_empty_and_extreme_points() -> Outcome {
    let point = |successes, trials| CurvePoint { successes, trials };
    let step = [
        point(3.0, 3.0),
        point(3.0, 3.0),
        point(0.0, 0.0),
        point(0.0, 3.0),
        point(0.0, 3.0),
        point(0.0, 3.0),
    ];
    match read_crossing(&query(Trend::Decreasing, 0.05), &step)? {
        Some(Crossing::At(x)) => assert!(2.0 < x && x <= 5.0, "{x}"),
        other => panic!("{other:?}"),
    }
    let mut empty = [point(0.0, 0.0); 6];
    empty[1] = point(1.0, 2.0);
    assert_eq!(
        read_crossing(&query(Trend::Decreasing, 0.05), &empty)?,
        None
    );
    empty[2] = point(3.0, 2.0);
    assert!(read_crossing(&query(Trend::Decreasing, 0.05), &empty).is_err());
    Ok(())
}

/// 200 seasons, each a success at the first `heights[k]` of 200: nested, as with common
/// random numbers.
fn nested(heights: [u32; 6]) -> Result<Resamples, StatsError> {
    let mut table = Table::with_columns(6, 200)?;
    for season in 0..200_u32 {
        table.push_season(&heights.map(|h| u32::from(season < h)))?;
    }
    pooled_resamples(&table, 1_000, 3)
}

#[test]
fn exact_interval_ends_outside_the_grid_are_open() -> Outcome {
    let point = |sums: &[f64], k: usize| CurvePoint {
        successes: sums[k],
        trials: 200.0,
    };
    let ask = |heights, threshold| {
        let query = query(Trend::Decreasing, threshold);
        crossing(&query, &nested(heights)?, LEVEL, point)
    };
    let inside = ask([180, 140, 90, 30, 4, 0], 0.3)?;
    let interval = inside.interval.expect("defined");
    assert!(matches!(inside.crossing, Some(Crossing::At(x)) if interval.contains(x)));
    assert!(interval.low.is_some() && interval.high.is_some());
    assert_eq!((inside.below, inside.beyond, inside.defined), (0, 0, 1_000));

    // 9 of 200 is just below .05: many resamples do not get there.
    let edge = ask([180, 140, 90, 60, 40, 9], 0.05)?;
    let interval = edge.interval.expect("defined");
    assert!(matches!(edge.crossing, Some(Crossing::At(_))) && edge.beyond > 25);
    assert!(interval.low.is_some() && interval.high.is_none());

    let never = ask([190, 180, 170, 160, 150, 140], 0.05)?;
    assert_eq!(
        (never.crossing, never.beyond),
        (Some(Crossing::NotReached), 1_000)
    );
    assert_eq!(
        never.interval.map(|i| (i.low, i.high)),
        Some((Some(10.0), None))
    );

    let always = ask([2, 1, 0, 0, 0, 0], 0.9)?;
    assert_eq!(
        (always.crossing, always.below),
        (Some(Crossing::BelowGrid), 1_000)
    );
    assert_eq!(
        always.interval.map(|i| (i.low, i.high)),
        Some((None, Some(1.0)))
    );
    Ok(())
}
