//! The closed form beside the simulation: n = (z_a + z_b)^2 V / (ln R)^2.

use crate::stats::design::{Level, PairedDesign, StemPair, StemSpread};
use crate::stats::paired::{PairedSite, RatioEstimate, conditional};
use serde::Serialize;

/// What the closed form is fed with, and what it says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Closed {
    /// Mean count on an untouched patch of the mean size.
    pub mean: f64,
    /// Ratio of counts per stem as the volunteers see it.
    pub ratio: f64,
    /// 1/k of the noise between the patches of a site, from the counts by moments.
    pub inverse_k: f64,
    /// Squared coefficient of variation of site quality, from the counts by moments.
    pub site_variation: f64,
    /// Sites for a power of 80 % and 90 %, not rounded.
    pub sites: [f64; 2],
    /// Share of all counted larvae that the tenth of the sites with most of them holds.
    pub top_tenth_share: f64,
}

/// The closed form for the sites of a pool; `None` where it is undefined, as at no effect.
#[must_use]
pub fn closed_form(pool: &[PairedSite], powers: [f64; 2]) -> Option<Closed> {
    let RatioEstimate::Finite { ratio } = conditional::estimate(pool) else {
        return None;
    };
    let number = pool.len() as f64;
    let stems: f64 = pool.iter().map(|site| site.stems_untouched).sum::<f64>() / number;
    let counts: f64 = pool.iter().map(|site| f64::from(site.untouched)).sum();
    let (mut squares, mut counting, mut noise) = (0.0, 0.0, 0.0);
    let (mut first, mut second) = (0.0, 0.0);
    for site in pool {
        let (total, share) = (site.total(), site.treated_share(ratio));
        let binomial = share * (1.0 - share);
        squares += site.deviation(ratio).powi(2);
        counting += total * binomial;
        noise += total * (total - 1.0) * binomial * binomial;
        let size = ratio * site.stems_treated + site.stems_untouched;
        first += total / size;
        second += total * (total - 1.0) / (size * size);
    }
    // Given its total, the noise adds (2/k) (total x share x (1 - share))^2 to the variance of a score.
    let inverse_k = if noise > 0.0 {
        ((squares - counting) / (2.0 * noise)).max(0.0)
    } else {
        0.0
    };
    let site_variation = (second / number / (first / number).powi(2) - 1.0).max(0.0);
    let pairs: Vec<StemPair> = pool
        .iter()
        .map(|site| StemPair {
            treated: site.stems_treated,
            untouched: site.stems_untouched,
        })
        .collect();
    let design = PairedDesign {
        mean: counts / number,
        ratio,
        inverse_k,
        site_variation,
        stems: StemSpread::of(&pairs, ratio, stems).ok()?,
    };
    let sites = |power: f64| design.sites(Level::default(), power).ok();
    Some(Closed {
        mean: design.mean,
        ratio,
        inverse_k,
        site_variation,
        sites: [sites(powers[0])?, sites(powers[1])?],
        top_tenth_share: top_tenth(pool),
    })
}

fn top_tenth(pool: &[PairedSite]) -> f64 {
    const TENTH: usize = 10;
    let mut totals: Vec<f64> = pool.iter().map(PairedSite::total).collect();
    totals.sort_by(|a, b| b.total_cmp(a));
    let all: f64 = totals.iter().sum();
    let top: f64 = totals.iter().take(totals.len().div_ceil(TENTH)).sum();
    if all > 0.0 { top / all } else { 0.0 }
}
