//! Whole parameter sets drawn from the plausible ranges, and what they make of an answer.

use super::gap::{self, GapQuestion};
use super::measures::{self, Contrast};
use super::{Effort, StudyError, every, plan_with, tallies};
use crate::random::{Key, Purpose, unit};
use crate::runner::Runner;
use crate::scenario::Layered;
use crate::scenario::draft::Leaf;
use crate::scenario::given::{Dimension, Given, Measure, Standing};
use crate::stats::{Crossing, strongest_rank_correlation};

/// A range whose ends differ by this factor or more is drawn on the log scale.
const WIDE: f64 = 3.0;

/// A number of nature with a plausible range: one of those that parameter sets vary.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranged {
    /// Dotted path.
    pub path: String,
    /// Unit; empty for a pure number.
    pub unit: &'static str,
    /// What it means.
    pub meaning: &'static str,
    /// Lowest and highest plausible value.
    pub range: (f64, f64),
    /// How well it is known.
    pub standing: Standing,
}

impl Ranged {
    /// The value at a share of the way through the range, from 0 to 1: even on the log scale where the range is
    /// wide, else on the plain one. A share drawn uniformly gives a draw of the parameter.
    #[must_use]
    pub fn at(&self, share: f64) -> f64 {
        between(self.range, share)
    }
}

/// The numbers that parameter sets vary, in the order of the file. What the designer chooses (everything under
/// `site`, `dates`, `recruitment`) and what no larva feels (`hours`) are not among them.
#[must_use]
pub fn ranged(layered: &Layered) -> Vec<Ranged> {
    let mut set = layered.clone();
    let mut found = Vec::new();
    visit_ranged(&mut set, |leaf, range| {
        let standing = leaf.given.as_ref().and_then(|given| given.standing);
        found.push(Ranged {
            path: leaf.path.clone(),
            unit: leaf.meaning.unit,
            meaning: leaf.meaning.words,
            range,
            standing: standing.unwrap_or(Standing::Chosen),
        });
    });
    found
}

/// Layered settings with every number of [`ranged`] put at a share of the way through its range, in that order.
/// Numbers for which no share is given keep their value.
#[must_use]
pub fn placed(layered: &Layered, shares: &[f64]) -> Layered {
    let mut set = layered.clone();
    let mut shares = shares.iter();
    visit_ranged(&mut set, |leaf, range| {
        if let Some(share) = shares.next() {
            let value = between(range, *share);
            let fitting = Measure::Plain(value).in_unit(Dimension::of_unit(leaf.meaning.unit));
            *leaf.given = fitting.map(Given::plain);
        }
    });
    set
}

/// Layered settings with every ranged number of nature drawn from its range. What the designer chooses
/// (everything under `site`, `dates`, `recruitment`) and what no larva feels (`hours`) keep their values. Parameter set 0 is the central one.
#[must_use]
pub fn drawn(layered: &Layered, seed: u64, parameter_set: u64) -> Layered {
    if parameter_set == 0 {
        return layered.clone();
    }
    let count = ranged(layered).len();
    placed(layered, &shares_of(count, Key::master(seed, parameter_set)))
}

/// Where a parameter set, given its key, lies in the ranges of a number of parameters.
#[must_use]
pub fn shares_of(parameters: usize, of_set: Key) -> Vec<f64> {
    let mut stream = of_set.to(Purpose::ParameterSet).stream();
    (0..parameters).map(|_| unit(&mut stream)).collect()
}

fn visit_ranged(set: &mut Layered, mut visitor: impl FnMut(Leaf<'_>, (f64, f64))) {
    // The method of cutting stands for numbers that are guesses like any other.
    set.complete();
    set.visit(&mut |leaf| {
        let chosen = ["site.", "dates.", "recruitment.", "hours."]
            .iter()
            .any(|group| leaf.path.starts_with(group));
        let range = leaf.given.as_ref().and_then(|given| given.range);
        if let Some(range) = range.filter(|_| !chosen) {
            visitor(leaf, range);
        }
    });
}

fn between((low, high): (f64, f64), draw: f64) -> f64 {
    if low > 0.0 && high / low >= WIDE {
        low * (high / low).powf(draw)
    } else {
        low + (high - low) * draw
    }
}

/// Asks a question of parameter sets 1 to `sets`; the same sets for every question at one seed. A draw can put a
/// lower threshold above an upper one: such a set is no parameter set and is left out. What was found comes with the
/// number of its set.
///
/// # Errors
/// When the run is stopped, or a statistic cannot be worked out.
pub fn over_sets<T>(
    layered: &Layered,
    sets: u64,
    runner: &Runner<'_>,
    mut ask: impl FnMut(&Layered, u64) -> Result<T, StudyError>,
) -> Result<Vec<(u64, T)>, StudyError> {
    let found = every(
        (1..=sets).map(|set| match ask(&drawn(layered, runner.seed, set), set) {
            Ok(answer) => Ok(Some((set, answer))),
            Err(StudyError::Trouble(_)) => Ok(None),
            Err(other) => Err(other),
        }),
    )?;
    Ok(found.into_iter().flatten().collect())
}

/// Shares of the parameter sets at which a band is read: its ends and its middle.
pub const BAND_AT: [f64; 3] = [0.05, 0.5, 0.95];

/// A quantity over plausible parameter sets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Sets that make sense.
    pub sets: usize,
    /// Those of them for which the quantity is undefined.
    pub undefined: usize,
    /// Fifth, fiftieth and ninety-fifth percentile among the sets that define it; an end may be infinite.
    pub percentiles: Option<[f64; 3]>,
}

impl Band {
    /// The band of values, one a set; `None` is undefined, infinity is beyond what was tried.
    #[must_use]
    pub fn of(values: &[Option<f64>]) -> Self {
        let mut defined: Vec<f64> = values.iter().copied().flatten().collect();
        defined.sort_by(f64::total_cmp);
        Self {
            sets: values.len(),
            undefined: values.len() - defined.len(),
            percentiles: (!defined.is_empty())
                .then(|| BAND_AT.map(|share| percentile(&defined, share))),
        }
    }
}

/// Value below which a share of ascending values lies.
fn percentile(ascending: &[f64], share: f64) -> f64 {
    let index = (share * ascending.len() as f64) as usize;
    ascending[index.min(ascending.len() - 1)]
}

/// Seasons of a parameter set, at each setting, where a question does not say otherwise: what parameters do is by far
/// more than what so few seasons leave open, which widens the band a little.
pub const SEASONS_PER_SET: u64 = 100;

/// Parameter sets of a band unless another number is asked for.
pub const BAND_SETS: u64 = 40;

/// Seasons at each gap for each set of the band of the clear gap: the band then takes about as long as the central
/// answer at its usual effort.
pub const GAP_SEASONS_PER_SET: u64 = 60;

/// Bands of all measures, in the order of [`super::measures::MEASURES`], with settings put on top of every set.
///
/// # Errors
/// When the run is stopped.
pub fn measure_bands(
    layered: &Layered,
    settings: &[(&str, String)],
    (sets, seasons): (u64, u64),
    runner: &Runner<'_>,
) -> Result<Vec<Band>, StudyError> {
    let found = over_sets(layered, sets, runner, |layered, set| {
        let plan = plan_with(layered, settings)?;
        let table = tallies(&plan, runner, set, Effort::of(seasons))?;
        Ok(measures::values(&Contrast::of(&plan), &table.totals()))
    })?;
    Ok(bands(found, measures::MEASURES.len()))
}

/// Bands of several quantities that every set gave in one order.
#[must_use]
pub fn bands(found: Vec<(u64, Vec<Option<f64>>)>, quantities: usize) -> Vec<Band> {
    (0..quantities)
        .map(|at| {
            let values: Vec<Option<f64>> = found.iter().map(|(_, values)| values[at]).collect();
            Band::of(&values)
        })
        .collect()
}

/// Gaps tried for each parameter set, metres: fewer than for the central values.
pub const BAND_GRID_M: [f64; 6] = [0.5, 1.5, 4.0, 9.0, 18.0, 36.0];

/// Clear gap over plausible parameter sets.
#[derive(Debug, Clone, PartialEq)]
pub struct GapBand {
    /// Parameter sets drawn that make sense together.
    pub sets: usize,
    /// Those of them whose clear gap is undefined, as too few late-stage larvae were there.
    pub undefined: usize,
    /// Fifth, fiftieth and ninety-fifth percentile of the clear gap among the sets that define it, metres, if there are
    /// any; `None` beyond the grid.
    pub percentiles_m: Option<[Option<f64>; 3]>,
    /// Sets whose clear gap is below the smallest and beyond the largest gap tried.
    pub outside: (usize, usize),
    /// Clear gap of each set that defines it, metres, ascending; infinite beyond the grid, 0 below it.
    pub gaps_m: Vec<f64>,
    /// Number of each set that defines it and its clear gap, in the order of the sets.
    pub by_set: Vec<(u64, f64)>,
}

impl GapBand {
    /// The band as of any quantity: 0 below the smallest gap tried, infinite beyond the largest.
    #[must_use]
    pub fn band(&self) -> Band {
        let defined = self.gaps_m.iter().copied().map(Some);
        let undefined = std::iter::repeat_n(None, self.undefined);
        let gaps_m: Vec<Option<f64>> = defined.chain(undefined).collect();
        Band::of(&gaps_m)
    }
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
    let found = over_sets(layered, sets, runner, |layered, set| {
        let answer = gap::answer(layered, &question, runner, set)?;
        Ok(answer.clear_crossing().map(|crossing| match crossing {
            Crossing::At(gap_m) => gap_m,
            Crossing::BelowGrid => 0.0,
            Crossing::NotReached => f64::INFINITY,
        }))
    })?;
    let sets = found.len();
    let by_set: Vec<(u64, f64)> = found
        .into_iter()
        .filter_map(|(set, gap_m)| Some((set, gap_m?)))
        .collect();
    let mut gaps_m: Vec<f64> = by_set.iter().map(|(_, gap_m)| *gap_m).collect();
    gaps_m.sort_by(f64::total_cmp);
    let outside = (
        gaps_m.iter().filter(|gap| **gap == 0.0).count(),
        gaps_m.iter().filter(|gap| gap.is_infinite()).count(),
    );
    let at = |share| Some(percentile(&gaps_m, share)).filter(|gap_m| gap_m.is_finite());
    Ok(GapBand {
        sets,
        undefined: sets - gaps_m.len(),
        percentiles_m: (!gaps_m.is_empty()).then(|| BAND_AT.map(at)),
        outside,
        gaps_m,
        by_set,
    })
}

/// The parameter that goes along most with a quantity over the parameter sets of a band.
#[derive(Debug, Clone, PartialEq)]
pub struct Driver {
    /// Dotted path.
    pub path: String,
    /// Rank correlation with the quantity.
    pub correlation: f64,
    /// Share of shuffles in which the strongest of all parameters is as strong.
    pub by_chance: f64,
    /// Parameter sets behind it.
    pub sets: usize,
    /// Parameters that vary.
    pub parameters: usize,
}

/// Shuffles behind [`Driver::by_chance`].
const SHUFFLES: usize = 999;

/// Which parameter drives a quantity, from the values that sets gave, each with the number of its set; `None` where
/// the quantity or the parameters do not vary.
///
/// # Errors
/// When a statistic cannot be worked out.
pub fn driver(
    layered: &Layered,
    by_set: &[(u64, f64)],
    seed: u64,
) -> Result<Option<Driver>, StudyError> {
    const FEWEST_SETS: usize = 8;
    let parameters = ranged(layered);
    if by_set.len() < FEWEST_SETS || parameters.is_empty() {
        return Ok(None);
    }
    let sets: Vec<Vec<f64>> = by_set
        .iter()
        .map(|(set, _)| shares_of(parameters.len(), Key::master(seed, *set)))
        .collect();
    let candidates: Vec<Vec<f64>> = (0..parameters.len())
        .map(|parameter| sets.iter().map(|set| set[parameter]).collect())
        .collect();
    let values: Vec<f64> = by_set.iter().map(|(_, value)| *value).collect();
    let seed = super::bootstrap_seed(seed);
    let found = strongest_rank_correlation(&candidates, &values, SHUFFLES, seed)?;
    Ok(found.map(|strongest| Driver {
        path: parameters[strongest.index].path.clone(),
        correlation: strongest.correlation,
        by_chance: strongest.by_chance,
        sets: by_set.len(),
        parameters: parameters.len(),
    }))
}
