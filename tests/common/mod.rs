//! What several tests share.
#![allow(dead_code)]

use crawlspan::plan::Plan;
use crawlspan::random::Key;
use crawlspan::scenario::{Layered, Scenario};
use crawlspan::season::Season;
use crawlspan::walk::NoTrail;

/// Standard errors that a result may lie off: a normal deviate is beyond them once in 1.7 million draws.
pub const BOUND_SE: f64 = 5.0;

/// Layers of a ready scenario with settings on top.
pub fn layered(name: &str, settings: &[(&str, &str)]) -> Layered {
    let mut layered = Layered::open(name).unwrap();
    for (path, value) in settings {
        layered.set(path, value).unwrap();
    }
    layered
}

/// A plan of a ready scenario with settings on top.
pub fn plan(name: &str, settings: &[(&str, &str)]) -> Plan {
    Plan::of(Scenario::from_layers(&layered(name, settings)).unwrap()).unwrap()
}

/// Settings under which nobody walks.
pub const NO_WALKING: [(&str, &str); 6] = [
    ("leaving.per_day.l1", "0"),
    ("leaving.per_day.l2", "0"),
    ("leaving.per_day.l3", "0"),
    ("leaving.per_day.l4", "0"),
    ("leaving.per_day.l5", "0"),
    ("leaving.falls_per_day", "0"),
];

/// Settings under which sites, patches and larvae are all alike.
pub const ALL_ALIKE: [(&str, &str); 4] = [
    ("laying.site_log_sd", "0"),
    ("laying.patch_log_sd", "0"),
    ("survival.site_logit_sd", "0"),
    ("development.rate_log_sd", "0"),
];

/// Runs seasons and hands each to a function.
pub fn each_season(plan: &Plan, seed: u64, seasons: u64, mut look: impl FnMut(&Season<'_>)) {
    let mut season = Season::new(plan);
    for replicate in 0..seasons {
        season.run(Key::master(seed, 0).with(replicate), &mut NoTrail);
        look(&season);
    }
}

/// Mean and its standard error.
pub fn mean_se(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}

/// A pooled ratio of two columns and its standard error over seasons (delta method).
pub fn ratio_se(rows: &[(f64, f64)]) -> (f64, f64) {
    let n = rows.len() as f64;
    let (top, bottom) = rows
        .iter()
        .fold((0.0, 0.0), |sum, row| (sum.0 + row.0, sum.1 + row.1));
    let ratio = top / bottom;
    let squares: f64 = rows.iter().map(|row| (row.0 - ratio * row.1).powi(2)).sum();
    (ratio, (squares * n / (n - 1.0)).sqrt() / bottom)
}
