//! Simulated studies drawn from a pool of site-seasons, and the power curve they give.

use crate::random::{Key, Purpose, Stream, unit};
use crate::runner::{Digested, Runner, Taken};
use crate::stats::paired::{Estimator, PairedOptions, PairedSite, flip, p_value_only};
use crate::stats::{
    Crossing, CrossingQuery, CrossingReport, CurvePoint, Estimate, LEVEL, StatsError, Table, Trend,
    crossing_of_reads, pooled_resamples, read_crossing, wilson,
};
use crate::study::{StudyError, every};
use rayon::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};

/// Level of the tests.
pub const TEST_LEVEL: f64 = 0.05;
/// Random flips in a simulated study: fewer than for real data, as thousands of studies average out what one
/// study's flips add.
const FLIPS: usize = 1_999;
/// Resamples of pool and studies for an interval.
const RESAMPLES: usize = 400;
/// Numbers of sites tried unless others are asked for.
pub const SIZES: [usize; 8] = [10, 20, 30, 45, 65, 90, 130, 200];
/// Powers that a study is planned for.
pub const POWERS: [f64; 2] = [0.8, 0.9];

/// Number of the form of what is kept of studies: raised when the way they are made is changed.
pub(super) const FORM: u32 = 1;
/// Studies that are kept together: each takes milliseconds, with a slow estimator far more.
pub(super) const STUDIES_KEPT_TOGETHER: u64 = 8;

/// How studies are made.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyPlan {
    /// Numbers of sites tried, ascending.
    pub sizes: Vec<usize>,
    /// Studies at each number; with fresh sites, as many as the sites allow.
    pub studies: usize,
    /// How patches are compared.
    pub estimator: Estimator,
    /// Whether each study has sites of its own, so that no site-season is used twice.
    pub fresh: bool,
    /// Whether a coin swaps the two patches of every drawn site: right where nothing was done to either.
    pub coin: bool,
}

/// Power at one number of sites.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerPoint {
    /// Sites recruited.
    pub sites: usize,
    /// Simulated studies.
    pub studies: usize,
    /// Share of them that reject no effect, with the 95 % Wilson interval for their number.
    pub power: Estimate,
    /// 95 % interval that also holds the size of the pool.
    pub with_pool: (f64, f64),
}

/// A power curve.
#[derive(Debug, Clone, PartialEq)]
pub struct PowerCurve {
    /// Power at each number of sites.
    pub points: Vec<PowerPoint>,
    /// Sites needed for each of [`POWERS`].
    pub needed: [CrossingReport; 2],
}

/// Whether the studies reject: by number of sites, then by study.
type Rejections = Vec<Vec<bool>>;

/// Power of studies of one comparison whose sites are drawn from a pool.
///
/// # Errors
/// When the run is stopped, or a statistic cannot be worked out.
pub fn power_curve(
    pool: &[PairedSite],
    plan: &StudyPlan,
    runner: &Runner<'_>,
) -> Result<PowerCurve, StudyError> {
    let rejections = rejections(pool, plan, runner)?;
    let shifts = if plan.fresh {
        vec![0.0; RESAMPLES]
    } else {
        pool_shifts(pool, plan.coin, runner.seed)?
    };
    curve_of(&rejections, plan, &shifts, runner.seed)
}

/// The curve of decisions that were made elsewhere; the size of the pool is left out of its intervals.
///
/// # Errors
/// As [`power_curve`].
pub fn curve_of_decisions(
    rejections: &[Vec<bool>],
    plan: &StudyPlan,
    seed: u64,
) -> Result<PowerCurve, StudyError> {
    curve_of(rejections, plan, &[0.0; RESAMPLES], seed)
}

/// Stream of a study: which sites it has.
#[must_use]
pub fn study_stream(seed: u64, study: usize) -> Stream {
    Key::apart(seed, Purpose::Study).with(study as u64).stream()
}

/// Index of a site drawn from a pool.
#[must_use]
pub fn drawn(stream: &mut Stream, pool: usize) -> usize {
    ((unit(stream) * pool as f64) as usize).min(pool.saturating_sub(1))
}

/// Whether a study rejects no effect.
#[must_use]
pub fn rejects(sites: &[PairedSite], estimator: Estimator, seed: u64) -> bool {
    if estimator == Estimator::Flip {
        return flip::rejects(sites, 1.0, FLIPS, seed, TEST_LEVEL);
    }
    let options = PairedOptions {
        flips: FLIPS,
        seed,
        ..PairedOptions::default()
    };
    p_value_only(sites, estimator, &options).is_some_and(|p| p <= TEST_LEVEL)
}

fn rejections(
    pool: &[PairedSite],
    plan: &StudyPlan,
    runner: &Runner<'_>,
) -> Result<Rejections, StudyError> {
    if pool.is_empty() {
        return Err(StatsError::TooFew {
            needed: 1,
            given: 0,
        }
        .into());
    }
    let pool_digest = Digested(pool);
    let taken = Taken::new("studies", FORM)
        .of_no_seasons()
        .with(&pool_digest);
    if plan.fresh {
        return fresh_rejections(pool, plan, taken.with(&plan.estimator), runner);
    }
    let by_study = runner.run_each(
        &taken.with(plan),
        0..plan.studies as u64,
        STUDIES_KEPT_TOGETHER,
        |study| {
            let sites = study_sites(pool, plan, runner.seed, study as usize);
            let decide = |size: &usize| rejects(&sites[..*size], plan.estimator, study);
            Ok::<Vec<bool>, StudyError>(plan.sizes.iter().map(decide).collect())
        },
    )?;
    Ok((0..plan.sizes.len())
        .map(|size| by_study.iter().map(|study| study[size]).collect())
        .collect())
}

/// Decisions of studies none of which shares a site with another of its size.
fn fresh_rejections(
    pool: &[PairedSite],
    plan: &StudyPlan,
    taken: Taken<'_>,
    runner: &Runner<'_>,
) -> Result<Rejections, StudyError> {
    every(plan.sizes.iter().map(|size| {
        let sites = (*size).max(1);
        let studies = plan.studies.min(pool.len() / sites) as u64;
        runner.run_each(
            &taken.clone().with(size),
            0..studies,
            STUDIES_KEPT_TOGETHER,
            |study| {
                let first = study as usize * sites;
                let own = &pool[first..first + sites];
                Ok(rejects(own, plan.estimator, study))
            },
        )
    }))
}

/// The sites of one study; a smaller study has the first of them.
fn study_sites(pool: &[PairedSite], plan: &StudyPlan, seed: u64, study: usize) -> Vec<PairedSite> {
    let most = plan.sizes.iter().copied().max().unwrap_or(0);
    let mut stream = study_stream(seed, study);
    (0..most)
        .map(|_| {
            let site = pool[drawn(&mut stream, pool.len())];
            let heads = unit(&mut stream) < 0.5;
            if plan.coin && heads {
                swapped(site)
            } else {
                site
            }
        })
        .collect()
}

fn swapped(site: PairedSite) -> PairedSite {
    PairedSite {
        treated: site.untouched,
        untouched: site.treated,
        stems_treated: site.stems_untouched,
        stems_untouched: site.stems_treated,
    }
}

/// By how much a pool drawn anew would move the power, on the probit scale and per root of a site.
///
/// The test statistic of n sites has mean root(n) m / s about, with m the mean and s the root mean square of the
/// scores D. A bootstrap of the pool gives the spread of m / s; thousands of studies need not be redone for it. The
/// statistic's own SD is not 1 under an effect (skewed scores raise m and s together) but root(N) times the SD of m / s
/// over resamples of N sites: the shift is stated in units of it.
fn pool_shifts(pool: &[PairedSite], coin: bool, seed: u64) -> Result<Vec<f64>, StudyError> {
    if coin {
        // The coin makes the mean score zero in any pool.
        return Ok(vec![0.0; RESAMPLES]);
    }
    let rows: Vec<f64> = pool
        .iter()
        .flat_map(|site| {
            let score = site.deviation(1.0);
            [score, score * score]
        })
        .collect();
    let resamples = pooled_resamples(&Table::from_rows(2, rows)?, RESAMPLES, seed)?;
    let sites = pool.len() as f64;
    let strength = |sums: &[f64]| {
        if sums[1] > 0.0 {
            (sums[0] / sites).abs() / (sums[1] / sites).sqrt()
        } else {
            0.0
        }
    };
    let observed = strength(resamples.observed());
    let shifts = resamples.map(|sums| strength(sums) - observed);
    let square = shifts.iter().map(|shift| shift * shift).sum::<f64>() / shifts.len() as f64;
    let own_sd = (square * sites).sqrt();
    if own_sd <= 0.0 {
        return Ok(vec![0.0; RESAMPLES]);
    }
    Ok(shifts.into_iter().map(|shift| shift / own_sd).collect())
}

fn curve_of(
    rejections: &[Vec<bool>],
    plan: &StudyPlan,
    shifts: &[f64],
    seed: u64,
) -> Result<PowerCurve, StudyError> {
    let grid: Vec<f64> = plan.sizes.iter().map(|size| *size as f64).collect();
    let counts: Vec<(u64, u64)> = rejections
        .iter()
        .map(|studies| {
            (
                studies.iter().filter(|r| **r).count() as u64,
                studies.len() as u64,
            )
        })
        .collect();
    let key = Key::apart(seed, Purpose::Study).to(Purpose::Bootstrap);
    let resampled: Vec<Vec<CurvePoint>> = shifts
        .par_iter()
        .enumerate()
        .map(|(index, shift)| resampled_curve(rejections, &grid, *shift, key.with(index as u64)))
        .collect();
    let points = counts
        .iter()
        .enumerate()
        .map(|(index, (rejected, studies))| {
            let mut shares: Vec<f64> = resampled
                .iter()
                .map(|curve| curve[index].successes / curve[index].trials)
                .collect();
            shares.sort_by(f64::total_cmp);
            let at = |share: f64| shares[(share * (shares.len() - 1) as f64).round() as usize];
            let power = wilson(*rejected, *studies, LEVEL)?;
            let tail = (1.0 - LEVEL) / 2.0;
            Ok(PowerPoint {
                sites: plan.sizes[index],
                studies: *studies as usize,
                with_pool: (at(tail).min(power.low), at(1.0 - tail).max(power.high)),
                power,
            })
        })
        .collect::<Result<Vec<_>, StatsError>>()?;
    let observed: Vec<CurvePoint> = counts
        .iter()
        .map(|(rejected, studies)| CurvePoint {
            successes: *rejected as f64,
            trials: *studies as f64,
        })
        .collect();
    let needed = [
        needed(&grid, &observed, &resampled, POWERS[0])?,
        needed(&grid, &observed, &resampled, POWERS[1])?,
    ];
    Ok(PowerCurve { points, needed })
}

/// Studies drawn anew, and the pool moved by a shift.
fn resampled_curve(
    rejections: &[Vec<bool>],
    grid: &[f64],
    shift: f64,
    key: Key,
) -> Vec<CurvePoint> {
    let normal = Normal::standard();
    let mut stream = key.stream();
    let studies = rejections.iter().map(Vec::len).max().unwrap_or(0);
    let draws: Vec<f64> = (0..studies).map(|_| unit(&mut stream)).collect();
    rejections
        .iter()
        .zip(grid)
        .map(|(decisions, sites)| {
            let trials = decisions.len() as f64;
            // The same draws at all numbers of sites, as these share their studies.
            let again = draws[..decisions.len()]
                .iter()
                .filter(|draw| decisions[(**draw * trials) as usize])
                .count() as f64;
            let margin = 0.5 / trials;
            let share = (again / trials).clamp(margin, 1.0 - margin);
            let moved = normal.cdf(normal.inverse_cdf(share) + shift * sites.sqrt());
            CurvePoint {
                successes: moved * trials,
                trials,
            }
        })
        .collect()
}

fn needed(
    grid: &[f64],
    observed: &[CurvePoint],
    resampled: &[Vec<CurvePoint>],
    power: f64,
) -> Result<CrossingReport, StatsError> {
    let query = CrossingQuery {
        grid,
        trend: Trend::Increasing,
        threshold: power,
    };
    let crossing = read_crossing(&query, observed)?.or(Some(Crossing::NotReached));
    let reads = resampled
        .iter()
        .map(|curve| read_crossing(&query, curve))
        .collect::<Result<Vec<_>, _>>()?;
    crossing_of_reads(grid, crossing, &reads, LEVEL)
}
