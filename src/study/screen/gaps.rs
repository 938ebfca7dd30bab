//! The gap that a site would need at its own sizes.

use super::figures::Origin;
use super::fit::Fitted;
use super::grounds::{Grounds, Setup, WIDEST_SIMULATED_M};
use super::pooled::{Job, simulated};
use crate::runner::Runner;
use crate::stats::{Crossing, CrossingQuery, CurvePoint, Trend, read_crossing};
use crate::study::StudyError;

/// The gap at which both patches of a site stay within the tolerated stray share, whichever is treated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NeededGap {
    /// Metres, rounded up to a half; `None` if no gap that was tried is wide enough.
    pub gap_m: Option<f64>,
    /// Widest gap tried, metres.
    pub tried_m: f64,
    /// Whether it was simulated or read off the fitted surface.
    pub origin: Origin,
}

/// Gaps that are tried, as multiples of the gap offered.
const STEPS: [f64; 7] = [1.0, 1.3, 1.7, 2.3, 3.2, 4.5, 6.5];
/// Gaps nearer than this are widened from here.
const LEAST_START_M: f64 = 1.0;
/// A gap is stated in steps of this, metres.
const STATED_STEP_M: f64 = 0.5;
/// Halvings of the range of gaps on a surface: to a millimetre.
const HALVINGS: usize = 20;

fn stated(gap_m: f64) -> f64 {
    (gap_m / STATED_STEP_M).ceil() * STATED_STEP_M
}

fn ladder(gap_m: f64) -> Vec<f64> {
    let start = gap_m.clamp(LEAST_START_M, WIDEST_SIMULATED_M / STEPS[1]);
    let mut gaps: Vec<f64> = STEPS
        .iter()
        .map(|step| (start * step).min(WIDEST_SIMULATED_M))
        .collect();
    gaps.dedup();
    gaps
}

/// Simulates some sites at wider gaps and reads off what each needs.
///
/// # Errors
/// When the run is stopped.
pub(super) fn simulated_gaps(
    grounds: &Grounds,
    sites: &[usize],
    seasons: u64,
    tolerance: f64,
    runner: &Runner<'_>,
) -> Result<Vec<NeededGap>, StudyError> {
    let ladders: Vec<Vec<f64>> = sites
        .iter()
        .map(|site| ladder(grounds.gap_m(*site).unwrap_or_default()))
        .collect();
    let variants: Vec<(usize, f64)> = sites
        .iter()
        .zip(&ladders)
        .flat_map(|(site, gaps)| gaps.iter().map(|gap| (*site, *gap)))
        .collect();
    let wider = grounds.with_gaps(&variants);
    let jobs: Vec<Job> = (0..variants.len())
        .flat_map(|site| {
            [0, 1].map(|treated| Job {
                site,
                setup: Setup::Treated(treated),
                seasons: super::seasons_at(&wider, site, seasons),
            })
        })
        .collect();
    let pools = simulated(&wider, &jobs, runner)?;
    let mut at = 0;
    ladders
        .iter()
        .map(|grid| {
            let of_site = &pools[2 * at..2 * (at + grid.len())];
            at += grid.len();
            let query = CrossingQuery {
                grid,
                trend: Trend::Decreasing,
                threshold: tolerance,
            };
            let mut gap_m = Some(grid[0]);
            for (treated, part) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
                let points: Vec<CurvePoint> = of_site
                    .chunks(2)
                    .map(|pair| CurvePoint {
                        successes: pair[treated].strayed(part),
                        trials: pair[treated].strayed(part) + pair[treated].at_home(part),
                    })
                    .collect();
                match read_crossing(&query, &points)? {
                    Some(Crossing::At(gap)) => gap_m = gap_m.map(|known| known.max(gap)),
                    Some(Crossing::NotReached) => gap_m = None,
                    Some(Crossing::BelowGrid) | None => {}
                }
            }
            Ok(NeededGap {
                gap_m: gap_m.map(stated),
                tried_m: grid[grid.len() - 1],
                origin: Origin::Simulated,
            })
        })
        .collect()
}

/// Reads the gap that a site needs off the fitted surfaces, up to the widest gap among the anchors.
pub(super) fn fitted_gap(
    grounds: &Grounds,
    fitted: &Fitted,
    site: usize,
    (widest_m, tolerance): (f64, f64),
) -> Option<NeededGap> {
    let worst = |gap_m: f64| {
        let moved = grounds.with_gaps(&[(site, gap_m)]);
        fitted
            .pair(&moved, 0)
            .map(|figures| figures.worst().share.value)
    };
    let mut low = grounds.gap_m(site)?;
    let mut high = widest_m;
    let needed = |gap_m: Option<f64>| NeededGap {
        gap_m,
        tried_m: widest_m,
        origin: Origin::Fitted,
    };
    if high <= low || worst(high)? > tolerance {
        return Some(needed(None));
    }
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if worst(middle)? > tolerance {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(needed(Some(stated(high))))
}
