//! Seasons at offered sites, pooled site by site.

use super::grounds::{Grounds, Setup};
use crate::random::{Key, Purpose};
use crate::runner::{Runner, Taken};
use crate::season::Season;
use crate::stats::{LEVEL, clopper_pearson};
use crate::study::StudyError;
use crate::survey::Volunteer;
use crate::walk::NoTrail;
use crate::world::HalfId;
use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal};

/// A value with its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranged {
    /// The value.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Ranged {
    /// A positive value by its logarithm and the standard error of that.
    #[must_use]
    pub fn of_log(log: f64, error: f64) -> Self {
        let reach = two_sided() * error;
        Self {
            value: log.exp(),
            low: (log - reach).exp(),
            high: (log + reach).exp(),
        }
    }

    /// A share by the logarithm of its odds and the standard error of that.
    #[must_use]
    pub fn of_log_odds(log: f64, error: f64) -> Self {
        let odds = Self::of_log(log, error);
        let share = |odds: f64| {
            if odds.is_finite() {
                odds / (1.0 + odds)
            } else {
                1.0
            }
        };
        Self {
            value: share(odds.value),
            low: share(odds.low),
            high: share(odds.high),
        }
    }

    /// A share of which nothing at all is known, as nothing was seen.
    pub const UNKNOWN_SHARE: Self = Self {
        value: 0.0,
        low: 0.0,
        high: 1.0,
    };

    /// The share, unless nothing at all is known of it.
    #[must_use]
    pub fn known_share(self) -> Option<Self> {
        (self != Self::UNKNOWN_SHARE).then_some(self)
    }

    /// Whether a limit lies within the interval, so that the value might as well be on its other side.
    #[must_use]
    pub fn is_close_to(self, limit: f64) -> bool {
        self.low < limit && limit < self.high
    }
}

/// Normal deviate of a two-sided 95 % interval.
fn two_sided() -> f64 {
    Normal::standard().inverse_cdf(f64::midpoint(1.0, LEVEL))
}

/// Parts of a site that are compared: two patches, or two halves of one.
const PARTS: usize = 2;
/// Tallies of a season: late-stage larvae by the part in which they stand and that in which they were laid, then what
/// the volunteer counts in each part.
const TALLIES: usize = PARTS * PARTS + PARTS;

/// Sums over the seasons of a site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pooled {
    /// Number of seasons.
    pub seasons: u64,
    sums: Vec<f64>,
    products: Vec<f64>,
}

impl Pooled {
    fn empty() -> Self {
        Self {
            seasons: 0,
            sums: vec![0.0; TALLIES],
            products: vec![0.0; TALLIES * TALLIES],
        }
    }

    fn add(&mut self, row: &[f64; TALLIES]) {
        self.seasons += 1;
        for (one, value) in row.iter().enumerate() {
            self.sums[one] += value;
            for (other, factor) in row.iter().enumerate() {
                self.products[one * TALLIES + other] += value * factor;
            }
        }
    }

    /// Late-stage larvae that stand in a part and were laid in it, summed over surveys and seasons.
    #[must_use]
    pub fn at_home(&self, part: usize) -> f64 {
        self.sums[home(part)]
    }

    /// Late-stage larvae that stand in a part and were laid in the other.
    #[must_use]
    pub fn strayed(&self, part: usize) -> f64 {
        self.sums[stray(part)]
    }

    /// What the volunteer counts in both parts.
    #[must_use]
    pub fn counted(&self) -> f64 {
        counts().iter().map(|at| self.sums[*at]).sum()
    }

    /// Stray share of a part with its interval over seasons.
    #[must_use]
    pub fn stray_share(&self, part: usize) -> Ranged {
        let (home_sum, strays) = (self.at_home(part), self.strayed(part));
        let all = home_sum + strays;
        if all <= 0.0 {
            // Nothing stands there.
            return Ranged::UNKNOWN_SHARE;
        }
        match self.log_ratio(&[stray(part)], &[home(part)]) {
            Some((log, error)) => Ranged::of_log_odds(log, error),
            None => {
                let share = clopper_pearson(strays as u64, all as u64, LEVEL);
                share.map_or(
                    Ranged {
                        value: strays / all,
                        low: 0.0,
                        high: 1.0,
                    },
                    |share| Ranged {
                        value: share.value,
                        low: share.low,
                        high: share.high,
                    },
                )
            }
        }
    }

    /// Logarithm of the ratio of late-stage larvae in the first part to those in the second by where they stand, with
    /// its standard error; `None` while one of them is zero.
    #[must_use]
    pub fn log_standing_ratio(&self) -> Option<(f64, f64)> {
        self.log_ratio(&[home(0), stray(0)], &[home(1), stray(1)])
    }

    /// The same by where they were laid.
    #[must_use]
    pub fn log_natal_ratio(&self) -> Option<(f64, f64)> {
        self.log_ratio(&[home(0), stray(1)], &[home(1), stray(0)])
    }

    /// Logarithm of the odds of a stray in a part, with its standard error.
    #[must_use]
    pub fn log_stray_odds(&self, part: usize) -> Option<(f64, f64)> {
        self.log_ratio(&[stray(part)], &[home(part)])
    }

    /// What the volunteer counts in both parts in a season.
    #[must_use]
    pub fn counted_a_season(&self) -> Ranged {
        let (sum, variance) = self.total(&counts());
        let seasons = self.seasons.max(1) as f64;
        let reach = two_sided() * variance.sqrt() / seasons;
        let value = sum / seasons;
        Ranged {
            value,
            low: (value - reach).max(0.0),
            high: value + reach,
        }
    }

    /// Sum of some tallies and its variance.
    fn total(&self, tallies: &[usize]) -> (f64, f64) {
        let mut weights = [0.0; TALLIES];
        for at in tallies {
            weights[*at] = 1.0;
        }
        let sum: f64 = tallies.iter().map(|at| self.sums[*at]).sum();
        (sum, self.variance_of(&weights))
    }

    fn log_ratio(&self, top: &[usize], bottom: &[usize]) -> Option<(f64, f64)> {
        let sum = |of: &[usize]| of.iter().map(|at| self.sums[*at]).sum::<f64>();
        let (over, under) = (sum(top), sum(bottom));
        if over <= 0.0 || under <= 0.0 {
            return None;
        }
        let mut weights = [0.0; TALLIES];
        for at in top {
            weights[*at] += 1.0 / over;
        }
        for at in bottom {
            weights[*at] -= 1.0 / under;
        }
        let error = self.variance_of(&weights).sqrt();
        Some(((over / under).ln(), error))
    }

    /// Variance of a weighted sum of the sums over independent seasons (delta method where weights depend on them).
    fn variance_of(&self, weights: &[f64; TALLIES]) -> f64 {
        let n = self.seasons as f64;
        if n < 2.0 {
            return f64::INFINITY;
        }
        let mut square = 0.0;
        for (one, weight) in weights.iter().enumerate() {
            for (other, factor) in weights.iter().enumerate() {
                square += weight * factor * self.products[one * TALLIES + other];
            }
        }
        let sum: f64 = weights.iter().zip(&self.sums).map(|(w, s)| w * s).sum();
        (n / (n - 1.0) * (square - sum * sum / n)).max(0.0)
    }
}

const fn home(part: usize) -> usize {
    part * PARTS + part
}

const fn stray(part: usize) -> usize {
    part * PARTS + (1 - part)
}

const fn counts() -> [usize; PARTS] {
    [PARTS * PARTS, PARTS * PARTS + 1]
}

/// A site to be simulated in a way, in so many seasons.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Job {
    /// Index of the site.
    pub site: usize,
    /// What is done to it.
    pub setup: Setup,
    /// Seasons.
    pub seasons: u64,
}

/// Number of the form of a [`Pooled`]: raised when what it holds is changed.
const FORM: u32 = 1;

/// Simulates jobs, one after the other on each thread. The seasons of a site are the same under every setup.
///
/// # Errors
/// When the run is stopped.
pub fn simulated(
    grounds: &Grounds,
    jobs: &[Job],
    runner: &Runner<'_>,
) -> Result<Vec<Pooled>, StudyError> {
    let root = Key::apart(runner.seed, Purpose::Screening);
    let of_jobs: Vec<_> = jobs
        .iter()
        .map(|job| (job, grounds.settings(job.site)))
        .collect();
    let template = grounds.template();
    let taken = Taken::new("screened sites", FORM)
        .with(template)
        .with(&of_jobs)
        .of_no_seasons();
    runner.run_each(&taken, 0..jobs.len() as u64, 1, |number| {
        let job = jobs[number as usize];
        let plan = grounds.plan(job.site, job.setup)?;
        let key = grounds.key(job.site, root);
        let mut season = Season::new(&plan);
        let mut pooled = Pooled::empty();
        for replicate in 0..job.seasons {
            season.run_unless(runner.stop, key.with(replicate), &mut NoTrail)?;
            pooled.add(&row(&season, job.setup));
        }
        runner.watch.advance(job.seasons);
        Ok(pooled)
    })
}

fn row(season: &Season<'_>, setup: Setup) -> [f64; TALLIES] {
    let part = |half: HalfId| match setup {
        Setup::Halves(_) => usize::from(half.is_cut()),
        Setup::Treated(_) | Setup::Uncut => half.patch().min(PARTS - 1),
    };
    let scenario = &season.plan.scenario;
    let volunteer = Volunteer::of(season.plan, season.key());
    let mut row = [0.0; TALLIES];
    for sighting in &season.sightings {
        let stands = part(sighting.stands);
        if scenario.is_late(usize::from(sighting.stage)) {
            row[stands * PARTS + part(sighting.natal)] += 1.0;
        }
        let reads_late = sighting
            .read
            .is_some_and(|stage| scenario.is_late(usize::from(stage)));
        if reads_late && volunteer.held[usize::from(sighting.survey)] {
            row[counts()[stands]] += 1.0;
        }
    }
    row
}
