//! Simulated paired studies and the share of them that each estimator rejects.

use crawlspan::stats::paired::{
    Estimator, PairedOptions, PairedSite, beta_binomial, conditional, flip, log_ratio_t,
    p_value_only,
};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, Gamma, Poisson, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use rayon::prelude::*;
use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};

/// Simulated studies in each row.
pub const STUDIES: u64 = 4_000;
/// Sites in each study.
pub const SITES: usize = 40;
/// Random flips of the sign-flip test.
pub const FLIPS: usize = 999;
/// Level of every test.
pub const LEVEL: f64 = 0.05;
/// Total stems of a site are log-uniform between these.
const STEMS: (f64, f64) = (20.0, 100.0);
/// Standard deviation of the logit of the treated patch's share of the stems.
const SPLIT_SPREAD: f64 = 0.6;
/// Patch size to which the mean count refers.
const STANDARD_STEMS: f64 = 25.0;
/// Standard deviation of the logarithm of site quality.
const SITE_SPREAD: f64 = 0.8;

/// One row of the table: how counts arise.
#[derive(Clone, Copy)]
pub struct Row {
    /// Mean count on an untouched patch of 25 stems.
    pub mean: f64,
    /// k of the negative-binomial noise between patches, none if Poisson.
    pub noise: Option<f64>,
    /// Whether site quality is gamma with a coefficient of variation of 1 instead of log-normal.
    pub gamma_sites: bool,
}

/// The five rows.
pub const ROWS: [Row; 5] = [
    Row {
        mean: 1.0,
        noise: None,
        gamma_sites: false,
    },
    Row {
        mean: 1.0,
        noise: Some(2.0),
        gamma_sites: false,
    },
    Row {
        mean: 5.0,
        noise: Some(2.0),
        gamma_sites: false,
    },
    Row {
        mean: 5.0,
        noise: Some(1.0),
        gamma_sites: true,
    },
    Row {
        mean: 0.3,
        noise: None,
        gamma_sites: false,
    },
];

/// Stated shares at a ratio of 1, to three decimals: flip, beta-binomial, log-ratio-t, plain
/// binomial. Taken from a separate simulation of 4,000 studies a row.
pub const STATED_SIZE: [[f64; 4]; 5] = [
    [0.046, 0.035, 0.046, 0.047],
    [0.051, 0.067, 0.046, 0.159],
    [0.049, 0.066, 0.049, 0.415],
    [0.051, 0.050, 0.048, 0.544],
    [0.052, 0.038, 0.052, 0.043],
];
/// Stated shares at a ratio of 2, to two decimals; not stated (NaN) where the size is far off.
pub const STATED_POWER: [[f64; 4]; 5] = [
    [0.91, 0.92, 0.82, 0.94],
    [0.62, 0.65, 0.60, f64::NAN],
    [0.83, 0.88, 0.85, f64::NAN],
    [0.54, 0.59, 0.58, f64::NAN],
    [0.42, 0.40, 0.38, 0.45],
];

/// Standard error of the difference of two shares from 4,000 studies each.
pub fn combined_error(found: f64, stated: f64) -> f64 {
    ((found * (1.0 - found) + stated * (1.0 - stated)) / STUDIES as f64).sqrt()
}

/// A gamma variate with mean 1.
fn gamma(shape: f64, random: &mut Xoshiro256PlusPlus) -> f64 {
    Gamma::new(shape, 1.0 / shape)
        .expect("positive shape")
        .sample(random)
}

/// A Poisson count, 0 at a mean of 0.
fn poisson(mean: f64, random: &mut Xoshiro256PlusPlus) -> u32 {
    Poisson::new(mean).map_or(0, |law| {
        let count: f64 = law.sample(random);
        count as u32
    })
}

/// One study.
pub fn study(row: Row, ratio: f64, seed: u64) -> Vec<PairedSite> {
    let random = &mut Xoshiro256PlusPlus::seed_from_u64(seed);
    (0..SITES)
        .map(|_| {
            let uniform: f64 = random.random();
            let stems = STEMS.0 * (STEMS.1 / STEMS.0).powf(uniform);
            let normal: f64 = StandardNormal.sample(random);
            let share = 1.0 / (1.0 + (-SPLIT_SPREAD * normal).exp());
            let quality = if row.gamma_sites {
                gamma(1.0, random)
            } else {
                let normal: f64 = StandardNormal.sample(random);
                (SITE_SPREAD * normal - 0.5 * SITE_SPREAD * SITE_SPREAD).exp()
            };
            let mut count = |stems: f64, ratio: f64| {
                let noise = row.noise.map_or(1.0, |shape| gamma(shape, random));
                poisson(
                    row.mean * stems / STANDARD_STEMS * quality * ratio * noise,
                    random,
                )
            };
            PairedSite {
                treated: count(stems * share, ratio),
                untouched: count(stems * (1.0 - share), 1.0),
                stems_treated: stems * share,
                stems_untouched: stems * (1.0 - share),
            }
        })
        .collect()
}

/// p values of the plain binomial model, for comparison only: Wald's test and the likelihood ratio.
fn plain_binomial(sites: &[PairedSite]) -> [f64; 2] {
    let Some(fit) = conditional::fit(sites) else {
        return [1.0; 2];
    };
    let at = |log_ratio: f64| beta_binomial::log_likelihood(sites, log_ratio, 0.0);
    let law = ChiSquared::new(1.0).expect("one degree of freedom");
    [
        law.sf((fit.log_ratio / fit.model_error).powi(2)),
        law.sf(2.0 * (at(fit.log_ratio) - at(0.0)).max(0.0)),
    ]
}

/// Share of studies rejected by flip, beta-binomial, log-ratio-t, and the plain binomial by Wald's
/// test and by the likelihood ratio.
pub fn rejected(row: Row, ratio: f64, seed: u64) -> [f64; 5] {
    let counts = (0..STUDIES)
        .into_par_iter()
        .map(|at| {
            let seed = seed * STUDIES + at;
            let sites = study(row, ratio, seed);
            let [wald, likelihood_ratio] = plain_binomial(&sites);
            let below = |p: Option<f64>| u32::from(p.is_some_and(|p| p <= LEVEL));
            [
                u32::from(flip::rejects(&sites, 1.0, FLIPS, seed, LEVEL)),
                below(beta_binomial::p_value_only(&sites)),
                below(log_ratio_t::p_value_only(&sites)),
                below(Some(wald)),
                below(Some(likelihood_ratio)),
            ]
        })
        .reduce(|| [0; 5], |a, b| std::array::from_fn(|at| a[at] + b[at]));
    counts.map(|count| f64::from(count) / STUDIES as f64)
}

/// Share of the first `studies` that one estimator rejects at a ratio.
pub fn rejected_by(
    estimator: Estimator,
    options: &PairedOptions,
    row: Row,
    ratio: f64,
    seed: u64,
    studies: u64,
) -> f64 {
    let count = (0..studies)
        .into_par_iter()
        .filter(|at| {
            let sites = study(row, ratio, seed * STUDIES + at);
            p_value_only(&sites, estimator, options).is_some_and(|p| p <= LEVEL)
        })
        .count();
    count as f64 / studies as f64
}

/// Share of studies in which the flip test rejects the true ratio: those whose interval misses it.
pub fn truth_rejected(row: Row, ratio: f64, seed: u64) -> f64 {
    let missed = (0..STUDIES)
        .into_par_iter()
        .filter(|at| {
            let seed = seed * STUDIES + at;
            flip::rejects(&study(row, ratio, seed), ratio, FLIPS, seed, LEVEL)
        })
        .count();
    missed as f64 / STUDIES as f64
}

/// Bias of the log ratio by conditional maximum likelihood and by the mean log ratio, with their
/// standard errors, and coverage of the sandwich interval.
pub struct Estimation {
    /// Bias and standard error of the conditional log ratio.
    pub conditional: (f64, f64),
    /// Bias and standard error of the mean log ratio with half a larva added.
    pub log_ratio_t: (f64, f64),
    /// Coverage of the 95 % interval from the sandwich standard error and the normal law.
    pub coverage: f64,
    /// The same with the factor n / (n - 1) on the variance and Student's law.
    pub student_coverage: f64,
}

/// Estimates over the studies of one row.
pub fn estimation(row: Row, ratio: f64, seed: u64) -> Estimation {
    let truth = ratio.ln();
    let each: Vec<[f64; 4]> = (0..STUDIES)
        .into_par_iter()
        .filter_map(|at| {
            let sites = study(row, ratio, seed * STUDIES + at);
            let fit = conditional::fit(&sites)?;
            let values = log_ratio_t::log_ratios(&sites);
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            let off = (fit.log_ratio - truth).abs();
            let number = values.len() as f64;
            let student = StudentsT::new(0.0, 1.0, number - 1.0)
                .ok()?
                .inverse_cdf(0.975);
            let wider = student * (number / (number - 1.0)).sqrt();
            let covered = |reach: f64| f64::from(u8::from(off <= reach * fit.sandwich_error));
            Some([
                fit.log_ratio - truth,
                mean - truth,
                covered(1.959_964),
                covered(wider),
            ])
        })
        .collect();
    let number = each.len() as f64;
    let summary = |at: usize| {
        let mean = each.iter().map(|row| row[at]).sum::<f64>() / number;
        let squares: f64 = each.iter().map(|row| (row[at] - mean).powi(2)).sum();
        (mean, (squares / (number - 1.0) / number).sqrt())
    };
    Estimation {
        conditional: summary(0),
        log_ratio_t: summary(1),
        coverage: summary(2).0,
        student_coverage: summary(3).0,
    }
}
