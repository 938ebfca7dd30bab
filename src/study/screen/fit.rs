//! Figures of sites from surfaces that are fitted to simulated ones: for lists too long to simulate every site.

use super::features::{
    PLAIN_OF_HALVES, PLAIN_OF_PAIRS, contrast_features, halves_features, pair_features,
};
use super::figures::{HalvesFigures, Origin, PairFigures, home_ratio, larger_patch, mean_of};
use super::grounds::Grounds;
use super::pooled::{Pooled, Ranged};
use crate::stats::{CountObservation, StatsError, Surface, ValueObservation};

/// A site that was simulated to fit or to test the surfaces, with its pools in the order of `figures::setups`.
#[derive(Debug, Clone, PartialEq)]
pub struct Anchor {
    /// Index of the site.
    pub site: usize,
    /// Its pools: each patch treated in turn, nothing cut, halves; only halves for a single patch.
    pub pools: Vec<Pooled>,
}

impl Anchor {
    /// Pools of a pair: each patch treated in turn, then nothing cut.
    pub(super) fn pair(&self) -> Option<([&Pooled; 2], &Pooled)> {
        match self.pools.as_slice() {
            [first, second, uncut, _] => Some(([first, second], uncut)),
            _ => None,
        }
    }

    pub(super) fn halves(&self) -> Option<&Pooled> {
        self.pools.last()
    }
}

/// Surfaces of a pair, by the role of the patch: treated, untouched.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PairSurfaces {
    pub strays: [Surface; 2],
    pub false_ratio: Surface,
    pub counted: Surface,
}

/// Surfaces of one patch compared by halves.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct HalvesSurfaces {
    pub drift: Surface,
    pub counted: Surface,
}

/// What the surfaces miss: SD of the logarithm by which a surface differs from direct simulation beyond the errors that
/// both state, as held-out sites show it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Misfit {
    /// Of the odds of a stray.
    pub strays: f64,
    /// Of the false ratio.
    pub false_ratio: f64,
    /// Of the counts of a pair.
    pub counted: f64,
    /// Of the odds of drift between halves.
    pub drift: f64,
    /// Of the counts of halves.
    pub halves_counted: f64,
}

/// Fitted surfaces.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    pub(super) pair: Option<PairSurfaces>,
    pub(super) halves: HalvesSurfaces,
    /// What they miss.
    pub misfit: Misfit,
}

/// Variance of the logarithm of a ratio of counts that patch effects on egg-laying alone make over some seasons.
fn effects_spread(grounds: &Grounds, patches: f64, seasons: u64) -> f64 {
    let sd = grounds.template().numbers.laying.patch_log_sd;
    (patches * sd * sd).exp_m1() / seasons.max(1) as f64
}

impl Fitted {
    /// Fits surfaces to anchors.
    ///
    /// # Errors
    /// When there are too few anchors for the features.
    pub fn to(grounds: &Grounds, anchors: &[Anchor]) -> Result<Self, StatsError> {
        let pairs: Vec<&Anchor> = anchors.iter().filter(|a| a.pair().is_some()).collect();
        let pair = if pairs.is_empty() {
            None
        } else {
            Some(PairSurfaces {
                strays: [strays(grounds, &pairs, 0)?, strays(grounds, &pairs, 1)?],
                false_ratio: false_ratio(grounds, &pairs)?,
                counted: counted(grounds, &pairs)?,
            })
        };
        Ok(Self {
            pair,
            halves: halves(grounds, anchors)?,
            misfit: Misfit::default(),
        })
    }

    /// Logarithm of the odds of a stray in a patch of a role (0 treated, 1 untouched), and its standard error.
    pub(super) fn log_strays(
        &self,
        surfaces: &PairSurfaces,
        grounds: &Grounds,
        site: usize,
        (patch, role): (usize, usize),
    ) -> (f64, f64) {
        let (log, error) = surfaces.strays[role].at(&pair_features(grounds, site, patch));
        (log + eggs_beside(grounds, site, patch), error)
    }

    /// Figures of a pair; `None` without surfaces of pairs.
    #[must_use]
    pub fn pair(&self, grounds: &Grounds, site: usize) -> Option<PairFigures> {
        let surfaces = self.pair.as_ref()?;
        let share = |treated: usize, patch: usize| {
            let role = usize::from(patch != treated);
            let (log, error) = self.log_strays(surfaces, grounds, site, (patch, role));
            Ranged::of_log_odds(log, error.hypot(self.misfit.strays))
        };
        let home = home_ratio(grounds, site);
        let (beside, error) = surfaces.false_ratio.at(&contrast_features(grounds, site));
        let counts = [0, 1].map(|treated| {
            let (log, error) = surfaces.counted.at(&pair_features(grounds, site, treated));
            let log = log + total_eggs(grounds, site).ln();
            Ranged::of_log(log, error.hypot(self.misfit.counted))
        });
        Some(PairFigures {
            strays: [0, 1].map(|treated| [0, 1].map(|patch| share(treated, patch))),
            home_ratio: home,
            standing_ratio: Ranged::of_log(
                home.ln() + beside,
                error.hypot(self.misfit.false_ratio),
            ),
            counted: mean_of(counts),
            origin: Origin::Fitted,
        })
    }

    /// Figures of one patch compared by halves.
    #[must_use]
    pub fn halves(&self, grounds: &Grounds, site: usize) -> HalvesFigures {
        let patch = larger_patch(grounds, site);
        let features = halves_features(grounds, site);
        let (drift, drift_error) = self.halves.drift.at(&features);
        let (log, error) = self.halves.counted.at(&features);
        let eggs = grounds.patch(site, patch).eggs;
        HalvesFigures {
            patch,
            drift: Ranged::of_log_odds(drift, drift_error.hypot(self.misfit.drift)),
            counted: Ranged::of_log(log + eggs.ln(), error.hypot(self.misfit.halves_counted)),
            origin: Origin::Fitted,
        }
    }

    /// Whether a site lies within what the anchors cover, so that its figures are no extrapolation: in gap, areas,
    /// densities and daylight, and in having covers that some anchor has. Outlines by corners are always beyond.
    #[must_use]
    pub fn covers(&self, grounds: &Grounds, site: usize) -> bool {
        let within = |surface: &Surface, features: &[f64], plain: [usize; 2]| {
            let from_end = features.len() - plain[1];
            surface
                .reach
                .iter()
                .zip(features)
                .enumerate()
                .filter(|(at, _)| *at < plain[0] || *at >= from_end)
                .all(|(_, ((low, high), value))| (*low..=*high).contains(value))
        };
        let single = halves_features(grounds, site);
        if grounds.has_corners(site) || !within(&self.halves.drift, &single, PLAIN_OF_HALVES) {
            return false;
        }
        if grounds.gap_m(site).is_none() {
            return true;
        }
        self.pair.as_ref().is_some_and(|pair| {
            [0, 1].iter().all(|own| {
                let features = pair_features(grounds, site, *own);
                within(&pair.strays[0], &features, PLAIN_OF_PAIRS)
            })
        })
    }
}

/// Logarithm of the eggs of the other patch over those of a patch: what strays are in proportion to.
pub(super) fn eggs_beside(grounds: &Grounds, site: usize, patch: usize) -> f64 {
    (grounds.patch(site, 1 - patch).eggs / grounds.patch(site, patch).eggs).ln()
}

fn total_eggs(grounds: &Grounds, site: usize) -> f64 {
    grounds.patch(site, 0).eggs + grounds.patch(site, 1).eggs
}

fn strays(grounds: &Grounds, pairs: &[&Anchor], role: usize) -> Result<Surface, StatsError> {
    let mut observations = Vec::with_capacity(2 * pairs.len());
    let mut seasons = 0;
    for anchor in pairs {
        let Some((treated, _)) = anchor.pair() else {
            continue;
        };
        for (which, pool) in treated.iter().enumerate() {
            let patch = if role == 0 { which } else { 1 - which };
            seasons = seasons.max(pool.seasons);
            let exposure = pool.at_home(role) * eggs_beside(grounds, anchor.site, patch).exp();
            if exposure > 0.0 {
                observations.push(CountObservation {
                    features: pair_features(grounds, anchor.site, patch),
                    count: pool.strayed(role),
                    exposure,
                });
            }
        }
    }
    Surface::of_counts(&observations, effects_spread(grounds, 2.0, seasons))
}

fn false_ratio(grounds: &Grounds, pairs: &[&Anchor]) -> Result<Surface, StatsError> {
    let mut observations = Vec::with_capacity(2 * pairs.len());
    for anchor in pairs {
        let Some((_, uncut)) = anchor.pair() else {
            continue;
        };
        let Some((log, error)) = uncut.log_standing_ratio() else {
            continue;
        };
        let [first, second] = [0, 1].map(|patch| grounds.patch(anchor.site, patch).stems);
        let beside = log - (first / second).ln() - home_ratio(grounds, anchor.site).ln();
        let features = contrast_features(grounds, anchor.site);
        // Each pair is entered from either side, half as sure, so that the surface is as odd as its features.
        let mirrored = features.iter().map(|feature| -feature).collect();
        for (features, value) in [(features, beside), (mirrored, -beside)] {
            observations.push(ValueObservation {
                features,
                value,
                variance: 2.0 * error * error,
            });
        }
    }
    Surface::of_values(&observations)
}

fn counted(grounds: &Grounds, pairs: &[&Anchor]) -> Result<Surface, StatsError> {
    let mut observations = Vec::with_capacity(2 * pairs.len());
    for anchor in pairs {
        let Some((treated, _)) = anchor.pair() else {
            continue;
        };
        for (which, pool) in treated.iter().enumerate() {
            observations.push(CountObservation {
                features: pair_features(grounds, anchor.site, which),
                count: pool.counted(),
                exposure: total_eggs(grounds, anchor.site) * pool.seasons as f64,
            });
        }
    }
    Surface::of_counts(&observations, site_spread(grounds, pairs))
}

/// Variance of the logarithm of a mean count that site effects on egg-laying alone make over some seasons.
fn site_spread(grounds: &Grounds, anchors: &[&Anchor]) -> f64 {
    let seasons = anchors
        .iter()
        .filter_map(|anchor| anchor.halves())
        .map(|pool| pool.seasons)
        .max()
        .unwrap_or(1);
    let sd = grounds.template().numbers.laying.site_log_sd;
    (sd * sd).exp_m1() / seasons.max(1) as f64
}

fn halves(grounds: &Grounds, anchors: &[Anchor]) -> Result<HalvesSurfaces, StatsError> {
    let (mut drift, mut counted) = (Vec::new(), Vec::new());
    for anchor in anchors {
        let Some(pool) = anchor.halves() else {
            continue;
        };
        let features = halves_features(grounds, anchor.site);
        let eggs = grounds
            .patch(anchor.site, larger_patch(grounds, anchor.site))
            .eggs;
        if pool.at_home(0) > 0.0 {
            drift.push(CountObservation {
                features: features.clone(),
                count: pool.strayed(0),
                exposure: pool.at_home(0),
            });
        }
        counted.push(CountObservation {
            features,
            count: pool.counted(),
            exposure: eggs * pool.seasons as f64,
        });
    }
    let all: Vec<&Anchor> = anchors.iter().collect();
    Ok(HalvesSurfaces {
        drift: Surface::of_counts(&drift, 0.0)?,
        counted: Surface::of_counts(&counted, site_spread(grounds, &all))?,
    })
}
