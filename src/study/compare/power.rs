//! What one site adds to a study, at the same true effect in every variant.
//!
//! The effect is stated for stems: R late-stage larvae hatch on a cut stem for each one on a stem of the untouched part.
//! Larvae walk on their own, so what surveys would see under R follows from the seasons as they are: larvae that were
//! laid on cut stems count R / h times, h being that ratio in these seasons, and stay where they stand. What is left of
//! R in the comparison, O, is less than R where only half of the treated patch is cut and where larvae crawl across.
//!
//! Volunteers count another ratio still: weeks that are missed and people who leave early take more from the side that
//! fills late. The ratio that they count in these seasons over the one that stood at the surveys is taken to be the same
//! under R.
//!
//! The noise is that of the volunteers' counts in these seasons: the mean count, the noise between the two sides of a
//! site (1/k, by moments) and the spread of sites, as in [`crate::study::recruit::closed`]; errors of the stem count
//! add to it. With L the logarithm of the ratio counted, positive where it points the way of R, and V the variance of
//! the log ratio of one site, n sites find the effect with probability
//!
//!   Phi((root(n) L - z_a root(V + L^2)) / root(V)),
//!
//! for the sign-flip test holds a sum of scores against its own squares, which hold the effect too: under flips its
//! variance is V + L^2. A finding the wrong way counts for nothing.

use super::side::Side;
use crate::stats::design::{PairedDesign, StemPair, StemSpread};
use crate::study::recruit::power::TEST_LEVEL;
use crate::world::HalfId;
use statrs::distribution::{ContinuousCDF, Normal};

/// Sums over sites of the counts on the treated and on the untouched side.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CountSums {
    /// Sites.
    pub sites: f64,
    /// Counts, treated and untouched.
    pub counts: [f64; 2],
    /// Their squares.
    pub squares: [f64; 2],
    /// Their products.
    pub products: f64,
}

impl CountSums {
    /// Adds a site.
    #[must_use]
    pub fn with(self, treated: f64, untouched: f64) -> Self {
        Self {
            sites: self.sites + 1.0,
            counts: [self.counts[0] + treated, self.counts[1] + untouched],
            squares: [
                self.squares[0] + treated * treated,
                self.squares[1] + untouched * untouched,
            ],
            products: self.products + treated * untouched,
        }
    }

    fn total(&self) -> f64 {
        self.counts[0] + self.counts[1]
    }

    /// Sum of N (N - 1) over sites, N being both counts of a site together.
    fn pairs(&self) -> f64 {
        self.squares[0] + 2.0 * self.products + self.squares[1] - self.total()
    }

    /// 1/k of the noise between the two sides of a site: what the squared scores are above the variance of counting.
    /// A score is D = treated - N p with p the pooled share of the treated side, and noise adds (2/k) (N p (1 - p))^2
    /// to its variance. 0 where there is less than that of counting.
    #[must_use]
    pub fn inverse_k(&self) -> f64 {
        let share = self.counts[0] / self.total();
        let rest = 1.0 - share;
        let scores = rest * rest * self.squares[0] - 2.0 * share * rest * self.products
            + share * share * self.squares[1];
        let counting = self.total() * share * rest;
        let noise = self.pairs() * (share * rest).powi(2);
        if noise > 0.0 {
            ((scores - counting) / (2.0 * noise)).max(0.0)
        } else {
            0.0
        }
    }

    /// Squared coefficient of variation of the sites' quality.
    #[must_use]
    pub fn site_variation(&self) -> f64 {
        (self.sites * self.pairs() / self.total().powi(2) - 1.0).max(0.0)
    }
}

/// What is left of an effect: late-stage larvae per stem where they stand, treated over untouched, if cut stems bore
/// `ratio` times the larvae of untouched ones; and the factor on the larvae that stand in the untouched part. `None`
/// where nothing is cut, nothing is left untouched, or no larva is seen.
#[must_use]
pub fn shown_ratio(side: &Side, sums: &[f64], ratio: f64) -> Option<(f64, f64)> {
    let columns = side.contrast.columns();
    let (treated, untouched) = side.contrast.stems();
    let is_treated = |half: HalfId| side.contrast.is_treated(half);
    // Larvae by where they stand (treated, untouched) and by whether they were laid on cut stems.
    let mut standing = [[0.0; 2]; 2];
    let mut home_untouched = 0.0;
    for stands in columns.halves() {
        for natal in columns.halves() {
            let larvae = sums[columns.late(stands, natal)];
            standing[usize::from(!is_treated(stands))][usize::from(natal.is_cut())] += larvae;
            if !is_treated(natal) {
                home_untouched += larvae;
            }
        }
    }
    let home_cut = standing[0][1] + standing[1][1];
    if home_cut <= 0.0 || home_untouched <= 0.0 {
        return None;
    }
    let now = home_cut / side.cut_stems / (home_untouched / untouched);
    let factor = ratio / now;
    let under = |[uncut, cut]: [f64; 2]| uncut + factor * cut;
    let [here, there] = [under(standing[0]), under(standing[1])];
    let before = standing[1][0] + standing[1][1];
    let is_seen = here > 0.0 && there > 0.0 && before > 0.0;
    is_seen.then(|| (here / treated / (there / untouched), there / before))
}

/// The ratio that volunteers count at an effect: [`shown_ratio`] times what their counts of these seasons make of the
/// ratio that stands at the surveys. `None` where either is undefined.
#[must_use]
pub fn counted_ratio(side: &Side, sums: &[f64], ratio: f64) -> Option<f64> {
    let (shown, _) = shown_ratio(side, sums, ratio)?;
    let (treated, untouched) = side.contrast.stems();
    let [here, there] = side.counts(sums).counts;
    if here <= 0.0 || there <= 0.0 {
        return None;
    }
    let counted = here / treated / (there / untouched);
    Some(shown * counted / side.contrast.observed_ratio(sums)?)
}

/// The study of sites like this one at an effect on cut stems; `None` where the effect is undefined or nothing is
/// counted on one of the sides.
#[must_use]
pub fn design(side: &Side, sums: &[f64], ratio: f64) -> Option<PairedDesign> {
    let counted = counted_ratio(side, sums, ratio)?;
    let (_, factor) = shown_ratio(side, sums, ratio)?;
    let counts = side.counts(sums);
    let (treated, untouched) = side.contrast.stems();
    let pair = StemPair { treated, untouched };
    Some(PairedDesign {
        mean: factor * counts.counts[1] / counts.sites,
        ratio: counted,
        // An error of the stem count shifts a site's log ratio; the noise between sides does so with variance 2/k.
        inverse_k: counts.inverse_k() + side.miscount_variance / 2.0,
        site_variation: counts.site_variation(),
        stems: StemSpread::of(&[pair], counted, untouched).ok()?,
    })
}

/// Logarithm of the ratio counted, positive where it points the way of the effect, and the SD of the log ratio of a
/// site.
fn effect(side: &Side, sums: &[f64], ratio: f64) -> Option<(f64, f64)> {
    let design = design(side, sums, ratio)?;
    let towards = ratio.ln().signum();
    Some((towards * design.ratio.ln(), design.variance().ok()?.sqrt()))
}

/// Sites for a power, not rounded; `None` where undefined, and where nothing is left of the effect or it points the
/// wrong way.
#[must_use]
pub fn sites_needed(side: &Side, sums: &[f64], ratio: f64, power: f64) -> Option<f64> {
    let (log, sd) = effect(side, sums, ratio)?;
    let reach = critical() * sd.hypot(log) + Normal::standard().inverse_cdf(power) * sd;
    (log > 0.0).then(|| (reach / log).powi(2))
}

/// Power of a number of sites.
#[must_use]
pub fn power(side: &Side, sums: &[f64], ratio: f64, sites: f64) -> Option<f64> {
    let (log, sd) = effect(side, sums, ratio)?;
    let beyond = sites.sqrt() * log - critical() * sd.hypot(log);
    Some(Normal::standard().cdf(beyond / sd))
}

/// Signal over noise of a single site: L / root V; below 0 where the comparison points the wrong way.
#[must_use]
pub fn signal(side: &Side, sums: &[f64], ratio: f64) -> Option<f64> {
    let (log, sd) = effect(side, sums, ratio)?;
    Some(log / sd)
}

/// Normal deviate beyond which the test rejects.
fn critical() -> f64 {
    Normal::standard().inverse_cdf(1.0 - TEST_LEVEL / 2.0)
}
