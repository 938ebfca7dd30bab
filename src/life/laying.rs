//! Egg-laying: which stem gets an egg, and when.

use super::Clock;
use crate::ids::StemId;
use crate::maths::{exp, pow};
use crate::random::{Gamma, Key, Purpose, exponential, normal, unit};
use crate::scenario::{REFERENCE_STEMS, Scenario};
use crate::world::layout::PlacedPatch;
use crate::world::stems::Stem;

/// What egg-laying needs to know, worked out once.
#[derive(Debug, Clone)]
pub struct Laying {
    eggs_per_stem_week: f64,
    batch: (f64, f64),
    peak: f64,
    /// Weeks after cutting: from, peak, to.
    weeks: (f64, f64, f64),
    size_exponent: f64,
    site_log_sd: f64,
    patch_log_sd: f64,
    full_shade_factor: f64,
    stem_weight: Option<Gamma>,
}

/// An egg that a female would lay if the stem has leaves by then.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Egg {
    /// Stem.
    pub stem: StemId,
    /// Time, ticks.
    pub time: f64,
    /// Identity, from which all its later draws come.
    pub key: Key,
}

impl Laying {
    /// Egg-laying in a scenario.
    #[must_use]
    pub fn of(scenario: &Scenario) -> Self {
        let laying = &scenario.numbers.laying;
        Self {
            eggs_per_stem_week: laying.eggs_per_stem_week,
            batch: (laying.batch_smallest, laying.batch_largest),
            peak: laying.attraction_peak,
            weeks: (
                laying.attraction_from_weeks,
                laying.attraction_peak_weeks,
                laying.attraction_to_weeks,
            ),
            size_exponent: laying.size_exponent,
            site_log_sd: laying.site_log_sd,
            patch_log_sd: laying.patch_log_sd,
            full_shade_factor: laying.full_shade_factor,
            stem_weight: Gamma::new(laying.stem_dispersion_k, 1.0 / laying.stem_dispersion_k),
        }
    }

    /// Eggs per stem and week of full flight in each patch of one season: flux x patch size x shade x site and
    /// patch effects. The effects have mean 1 over sites.
    #[must_use]
    pub fn patch_rates(&self, patches: &[PlacedPatch], season: Key) -> Vec<f64> {
        let effect = |key: Key, log_sd: f64| {
            let z = normal(&mut key.stream());
            exp(log_sd * z - log_sd * log_sd / 2.0)
        };
        let patch_key = season.to(Purpose::PatchLaying);
        let site_effect = effect(season.to(Purpose::SiteLaying), self.site_log_sd);
        patches
            .iter()
            .enumerate()
            .map(|(index, patch)| {
                let numbers = &patch.settings.numbers;
                let size = pow(numbers.stems / REFERENCE_STEMS, self.size_exponent);
                let shade = 1.0 - numbers.shade_share * (1.0 - self.full_shade_factor);
                let patch_effect = effect(patch_key.with(index as u64), self.patch_log_sd);
                self.eggs_per_stem_week * size * shade * site_effect * patch_effect
            })
            .collect()
    }

    /// Relative attraction of a stem at a number of weeks after it was cut; `None` for a stem never cut.
    ///
    /// Zero until it turns fresh, then a straight rise to the peak and a straight fall back to 1.
    #[must_use]
    pub fn attraction(&self, weeks_since_cut: Option<f64>) -> f64 {
        let Some(weeks) = weeks_since_cut else {
            return 1.0;
        };
        let (from, peak, to) = self.weeks;
        if weeks < 0.0 || weeks >= to {
            1.0
        } else if weeks < from {
            0.0
        } else if weeks < peak {
            self.peak * (weeks - from) / (peak - from)
        } else {
            self.peak + (1.0 - self.peak) * (weeks - peak) / (to - peak)
        }
    }

    fn mean_batch(&self) -> f64 {
        f64::midpoint(self.batch.0, self.batch.1)
    }

    /// All eggs of one stem over the season, by thinning a process at the stem's highest attraction.
    ///
    /// `is_cut` says whether the stem is cut; its own regrowth decides in the season whether an egg that falls
    /// on stubble is laid.
    pub fn eggs(
        &self,
        index: StemId,
        stem: &Stem,
        stem_key: Key,
        rate: f64,
        clock: &Clock,
        eggs: &mut Vec<Egg>,
    ) {
        let mut stream = stem_key.stream();
        let weight = self
            .stem_weight
            .map_or(1.0, |gamma| gamma.sample(&mut stream));
        let is_cut = stem.half.is_cut();
        let cap = if is_cut { self.peak.max(1.0) } else { 1.0 };
        let expected = weight * rate * clock.flight_weeks.total() * cap / self.mean_batch();
        let mut reached = exponential(&mut stream);
        let mut visit = 0;
        while reached < expected {
            let (when, mark) = (unit(&mut stream), unit(&mut stream));
            let size =
                self.batch.0 + (unit(&mut stream) * (self.batch.1 - self.batch.0 + 1.0)).floor();
            let time = clock.flight_weeks.when(when * clock.flight_weeks.total());
            let since = is_cut.then(|| clock.days_since_cutting(time) / 7.0);
            if mark * cap < self.attraction(since) {
                let visit_key = stem_key.with(visit);
                for egg in 0..size as u64 {
                    eggs.push(Egg {
                        stem: index,
                        time,
                        key: visit_key.with(egg),
                    });
                }
            }
            reached += exponential(&mut stream);
            visit += 1;
        }
    }
}
