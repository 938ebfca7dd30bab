//! Whole parameter sets drawn from the plausible ranges, and what they make of the clear gap.

use super::gap::{self, GapQuestion};
use super::{Effort, StudyError, every};
use crate::random::{Key, Purpose, unit};
use crate::runner::Runner;
use crate::scenario::Layered;
use crate::scenario::given::{Dimension, Given, Measure};
use crate::stats::Crossing;

/// A range whose ends differ by this factor or more is drawn on the log scale.
const WIDE: f64 = 3.0;

/// Layered settings with every ranged number of nature drawn from its range. What the designer chooses
/// (everything under `site`, `dates`, `recruitment`) keeps its value. Parameter set 0 is the central one.
#[must_use]
pub fn drawn(layered: &Layered, seed: u64, parameter_set: u64) -> Layered {
    let mut set = layered.clone();
    if parameter_set == 0 {
        return set;
    }
    let mut stream = Key::master(seed, parameter_set)
        .to(Purpose::ParameterSet)
        .stream();
    // The method of cutting stands for numbers that are guesses like any other.
    set.complete();
    set.visit(&mut |leaf| {
        let chosen = ["site.", "dates.", "recruitment."]
            .iter()
            .any(|group| leaf.path.starts_with(group));
        let Some(range) = leaf
            .given
            .as_ref()
            .and_then(|given| given.range)
            .filter(|_| !chosen)
        else {
            return;
        };
        let draw = unit(&mut stream);
        let value = between(range, draw);
        let fitting = Measure::Plain(value).in_unit(Dimension::of_unit(leaf.meaning.unit));
        *leaf.given = fitting.map(Given::plain);
    });
    set
}

fn between((low, high): (f64, f64), draw: f64) -> f64 {
    if low > 0.0 && high / low >= WIDE {
        low * (high / low).powf(draw)
    } else {
        low + (high - low) * draw
    }
}

/// Gaps tried for each parameter set, metres: fewer than for the central values.
pub const BAND_GRID_M: [f64; 6] = [0.5, 1.5, 4.0, 9.0, 18.0, 36.0];

/// Clear gap over plausible parameter sets.
#[derive(Debug, Clone, PartialEq)]
pub struct GapBand {
    /// Parameter sets drawn that make sense together.
    pub sets: usize,
    /// Fifth, fiftieth and ninety-fifth percentile of the clear gap, metres; `None` beyond the grid.
    pub percentiles_m: [Option<f64>; 3],
    /// Sets whose clear gap is below the smallest and beyond the largest gap tried.
    pub outside: (usize, usize),
    /// Clear gap of each set, metres, ascending; infinite beyond the grid, 0 below it.
    pub gaps_m: Vec<f64>,
}

/// Answers the gap question for a number of parameter sets.
///
/// # Errors
/// When the run is stopped.
pub fn gap_band(
    layered: &Layered,
    tolerance: f64,
    sets: u64,
    seasons: u64,
    runner: &Runner<'_>,
) -> Result<GapBand, StudyError> {
    // Only the crossing itself is wanted of each set, not its interval.
    let effort = Effort {
        resamples: 1,
        ..Effort::of(seasons)
    };
    let question = GapQuestion {
        grid_m: BAND_GRID_M.to_vec(),
        tolerance,
        effort,
        precision_m: None,
    };
    let found = every((1..=sets).map(|set| {
        let layered = drawn(layered, runner.seed, set);
        match gap::answer(&layered, &question, runner, set) {
            Ok(answer) => Ok(Some(match answer.clear().crossing {
                Crossing::At(gap_m) => gap_m,
                Crossing::BelowGrid => 0.0,
                Crossing::NotReached => f64::INFINITY,
            })),
            // A draw can put a lower threshold above an upper one; such a set is no parameter set.
            Err(StudyError::Trouble(_)) => Ok(None),
            Err(other) => Err(other),
        }
    }))?;
    let mut gaps_m: Vec<f64> = found.into_iter().flatten().collect();
    gaps_m.sort_by(f64::total_cmp);
    let outside = (
        gaps_m.iter().filter(|gap| **gap == 0.0).count(),
        gaps_m.iter().filter(|gap| gap.is_infinite()).count(),
    );
    let percentile = |share: f64| {
        let index = (share * gaps_m.len() as f64) as usize;
        gaps_m
            .get(index.min(gaps_m.len().saturating_sub(1)))
            .copied()
            .filter(|gap| gap.is_finite())
    };
    Ok(GapBand {
        sets: gaps_m.len(),
        percentiles_m: [percentile(0.05), percentile(0.5), percentile(0.95)],
        outside,
        gaps_m,
    })
}
