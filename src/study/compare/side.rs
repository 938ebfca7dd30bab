//! One variant: what is kept of its seasons, and what its figures are read from.

use super::hours::SiteTime;
use super::power::CountSums;
use crate::plan::Plan;
use crate::runner::{Runner, Taken};
use crate::season::Season;
use crate::stats::Table;
use crate::study::measures::Contrast;
use crate::study::{Effort, StudyError, pooled, tally};
use crate::survey::Volunteer;

/// Number of the form of a row: raised when what its columns hold is changed.
const FORM: u32 = 1;
/// Columns after the tallies: seasons, surveys held, counts of both sides, their squares, their product.
const FURTHER: usize = 7;

/// What a variant's figures are read from.
#[derive(Debug, Clone)]
pub struct Side {
    /// Its contrast; the first columns are its tallies.
    pub contrast: Contrast,
    /// What a site costs.
    pub time: SiteTime,
    /// Whether anything is left uncut in a patch that is cut.
    pub has_refuge: bool,
    /// Stems that are cut.
    pub cut_stems: f64,
    /// Variance of a site's log ratio that errors of the stem count make.
    pub miscount_variance: f64,
}

impl Side {
    /// The side of a plan.
    #[must_use]
    pub fn of(plan: &Plan) -> Self {
        let patches = &plan.layout.patches;
        let cut = || patches.iter().filter(|patch| patch.cut_stems > 0);
        let contrast = Contrast::of(plan);
        Self {
            miscount_variance: miscount_variance(plan, &contrast),
            contrast,
            time: SiteTime::of(plan),
            has_refuge: cut().any(|patch| patch.cut_stems < patch.stems()),
            cut_stems: cut().map(|patch| patch.cut_stems as f64).sum(),
        }
    }

    /// Columns of a row.
    #[must_use]
    pub fn columns(&self) -> usize {
        self.tallies() + FURTHER
    }

    fn tallies(&self) -> usize {
        self.contrast.columns().count()
    }

    fn row(&self, season: &Season<'_>) -> Vec<f64> {
        let columns = self.contrast.columns();
        let mut row = columns.row(season);
        let volunteer = Volunteer::of(season.plan, season.key());
        let held = volunteer.held.iter().filter(|held| **held).count();
        let mut counts = [0.0; 2];
        for half in columns.halves() {
            counts[usize::from(!self.contrast.is_treated(half))] += row[columns.counted(half)];
        }
        let sums = CountSums::default().with(counts[0], counts[1]);
        row.extend([sums.sites, held as f64]);
        row.extend(sums.counts);
        row.extend(sums.squares);
        row.push(sums.products);
        row
    }

    /// Rows of the variant's seasons.
    ///
    /// # Errors
    /// When the run is stopped.
    pub fn table(
        &self,
        plan: &Plan,
        runner: &Runner<'_>,
        effort: Effort,
    ) -> Result<Table, StudyError> {
        let forms = tally::FORM;
        let taken = Taken::new("side by side", FORM).with(&forms);
        pooled(plan, runner, &taken, 0, effort, self.columns(), |season| {
            self.row(season)
        })
    }

    /// Sums of the volunteers' late-stage counts, treated and untouched side, over the surveys that were held.
    #[must_use]
    pub fn counts(&self, sums: &[f64]) -> CountSums {
        let further = &sums[self.tallies()..];
        CountSums {
            sites: further[0],
            counts: [further[2], further[3]],
            squares: [further[4], further[5]],
            products: further[6],
        }
    }

    /// Late-stage larvae counted at a site over a season.
    #[must_use]
    pub fn counted_a_site(&self, sums: &[f64]) -> Option<f64> {
        let counts = self.counts(sums);
        (counts.sites > 0.0).then(|| (counts.counts[0] + counts.counts[1]) / counts.sites)
    }

    /// Hours that a site takes in a season.
    #[must_use]
    pub fn hours(&self, sums: &[f64]) -> Option<f64> {
        let (seasons, held) = (sums[self.tallies()], sums[self.tallies() + 1]);
        (seasons > 0.0).then(|| self.time.hours(held / seasons))
    }
}

/// Each half is counted with an error of its own, the SD of whose logarithm is the scenario's.
fn miscount_variance(plan: &Plan, contrast: &Contrast) -> f64 {
    let sd = plan.scenario.numbers.surveying.stem_miscount_sd;
    let (treated, untouched) = contrast.stems();
    let shares = contrast.columns().halves().map(|half| {
        let side = if contrast.is_treated(half) {
            treated
        } else {
            untouched
        };
        if side > 0.0 {
            plan.layout.stems_in(half) as f64 / side
        } else {
            0.0
        }
    });
    sd * sd * shares.map(|share| share * share).sum::<f64>()
}
