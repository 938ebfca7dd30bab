//! Which attraction gives which home ratio: effects are set where the biology sets them.

use super::pool::{Comparison, SiteSeason, site_seasons};
use super::sites::{Effect, Sites};
use crate::runner::Runner;
use crate::stats::paired::{PairedSite, RatioEstimate, conditional};
use crate::stats::{Estimate, LEVEL, Trend, isotonic};
use crate::study::{StudyError, every};
use statrs::distribution::{ContinuousCDF, Normal};

/// Peak attractions tried in search of a home ratio.
pub const ATTRACTIONS: [f64; 8] = [0.25, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0];

/// Ratio of counts per stem over a pool: what all its sites together say, by conditional maximum likelihood.
#[must_use]
pub fn pooled_ratio(pool: &[SiteSeason], comparison: Comparison) -> Option<Estimate> {
    let sites: Vec<PairedSite> = pool.iter().map(|site| site.pair(comparison)).collect();
    let fit = conditional::fit(&sites)?;
    let reach = Normal::standard().inverse_cdf(f64::midpoint(1.0, LEVEL)) * fit.sandwich_error;
    Some(Estimate {
        value: fit.log_ratio.exp(),
        low: (fit.log_ratio - reach).exp(),
        high: (fit.log_ratio + reach).exp(),
    })
}

/// The ratio of a pool; `None` where the side that it is over has no larva.
fn plain_ratio(pool: &[SiteSeason], comparison: Comparison) -> Option<f64> {
    let sites: Vec<PairedSite> = pool.iter().map(|site| site.pair(comparison)).collect();
    match conditional::estimate(&sites) {
        RatioEstimate::Finite { ratio } => Some(ratio),
        RatioEstimate::UnboundedBelow => Some(0.0),
        RatioEstimate::UnboundedAbove | RatioEstimate::Undefined => None,
    }
}

/// Home ratios over a range of attractions, from pilot seasons at the same sites.
#[derive(Debug, Clone, PartialEq)]
pub struct Pilot {
    /// Peak attractions.
    pub attractions: Vec<f64>,
    /// Home ratio of the pair at each, where it is defined: late-stage larvae per stem by natal patch.
    pub pair: Vec<Option<f64>>,
    /// The same of cut half against refuge half.
    pub halves: Vec<Option<f64>>,
}

impl Pilot {
    /// Runs pilot seasons.
    ///
    /// # Errors
    /// When the run is stopped.
    pub fn run(sites: &Sites, seasons: u64, runner: &Runner<'_>) -> Result<Self, StudyError> {
        let ratios = every(ATTRACTIONS.iter().map(|attraction| {
            let effect = Effect::Attraction(*attraction, *attraction);
            let pool = site_seasons(sites, effect, 0..seasons, runner)?;
            let ratio = |comparison| plain_ratio(&pool, comparison);
            Ok((ratio(Comparison::Home), ratio(Comparison::HalvesHome)))
        }))?;
        let (pair, halves) = ratios.into_iter().unzip();
        Ok(Self {
            attractions: ATTRACTIONS.to_vec(),
            pair,
            halves,
        })
    }

    /// The pilot as the whole pool would have it: its pair ratios times a factor.
    ///
    /// A few hundred sites happen to have rich treated patches or poor ones, under no effect as under any other, since
    /// a site keeps its draws; so the ratio of the whole pool to that of the pilot's sites, both at no effect, is the
    /// factor at every attraction.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            pair: self
                .pair
                .iter()
                .map(|ratio| Some((*ratio)? * factor))
                .collect(),
            ..self
        }
    }

    /// Attraction that gives the pair a home ratio; `None` outside what the attractions tried can give.
    #[must_use]
    pub fn for_pair(&self, ratio: f64) -> Option<f64> {
        invert(&self.attractions, &self.pair, ratio)
    }

    /// Attraction that gives the halves of the treated patch a home ratio.
    #[must_use]
    pub fn for_halves(&self, ratio: f64) -> Option<f64> {
        invert(&self.attractions, &self.halves, ratio)
    }

    /// Lowest and highest home ratio of the pair that was reached; `None` where none is defined.
    #[must_use]
    pub fn reach(&self) -> Option<(f64, f64)> {
        let mut defined = self.pair.iter().flatten();
        let first = defined.next()?;
        Some((*first, *defined.last().unwrap_or(first)))
    }
}

/// Where a rising curve takes a value. Straight lines between the points are right here: eggs on fresh stems, and
/// hence the home ratio, rise in proportion to the attraction.
fn invert(x: &[f64], y: &[Option<f64>], wanted: f64) -> Option<f64> {
    let defined = x.iter().zip(y).filter_map(|(x, y)| Some((*x, (*y)?)));
    let (x, y): (Vec<f64>, Vec<f64>) = defined.unzip();
    let rising = isotonic(&y, &vec![1.0; y.len()], Trend::Increasing).ok()?;
    let right = rising.iter().position(|height| *height >= wanted)?;
    if right == 0 {
        return (rising[0] == wanted).then(|| x[0]);
    }
    let (low, high) = (rising[right - 1], rising[right]);
    let share = (wanted - low) / (high - low);
    Some(x[right - 1] + share * (x[right] - x[right - 1]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_inversion_undoes_a_line_and_extrapolates_nothing() {
        let (x, y) = ([1.0, 2.0, 4.0], [10.0, 20.0, 40.0].map(Some));
        assert_eq!(invert(&x, &y, 30.0), Some(3.0));
        assert_eq!(invert(&x, &y, 10.0), Some(1.0));
        assert_eq!(invert(&x, &y, 41.0), None);
        assert_eq!(invert(&x, &y, 9.0), None);
        let gappy = [Some(10.0), None, Some(40.0)];
        assert_eq!(invert(&x, &gappy, 25.0), Some(2.5));
        assert_eq!(invert(&x, &[None; 3], 25.0), None);
    }
}
