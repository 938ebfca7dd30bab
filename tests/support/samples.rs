//! Small data sets shared by the tests of paired estimators.

#![allow(dead_code, reason = "each test binary uses some of them")]

use crawlspan::stats::paired::{Estimator, PairedOptions, PairedResult, PairedSite, compare};

/// Differences in height of Darwin's 15 pairs of maize plants, crossed minus self-fertilised, in
/// eighths of an inch (Darwin 1876, "The effects of cross and self fertilisation").
pub const DARWIN: [f64; 15] = [
    49.0, -67.0, 8.0, 16.0, 6.0, 23.0, 28.0, 41.0, 14.0, 29.0, 56.0, 24.0, 75.0, 60.0, -48.0,
];

/// Eight made-up sites, one of them empty, for which every intermediate was computed with
/// numpy 2.4.6 and scipy 1.17.1 by a separate program.
pub fn eight_sites() -> Vec<PairedSite> {
    let treated = [5, 0, 7, 2, 3, 0, 9, 4];
    let untouched = [2, 1, 3, 0, 3, 0, 4, 1];
    let stems_treated = [20.0, 15.0, 30.0, 10.0, 25.0, 12.0, 40.0, 18.0];
    let stems_untouched = [25.0, 15.0, 20.0, 14.0, 30.0, 20.0, 35.0, 10.0];
    (0..8)
        .map(|site| PairedSite {
            treated: treated[site],
            untouched: untouched[site],
            stems_treated: stems_treated[site],
            stems_untouched: stems_untouched[site],
        })
        .collect()
}

/// A site with 25 stems on each patch.
pub fn site(treated: u32, untouched: u32) -> PairedSite {
    PairedSite {
        treated,
        untouched,
        stems_treated: 25.0,
        stems_untouched: 25.0,
    }
}

/// A comparison with the default options.
pub fn run(sites: &[PairedSite], estimator: Estimator) -> PairedResult {
    compare(sites, estimator, &PairedOptions::default()).expect("valid sites")
}

/// Asserts agreement within an absolute tolerance.
pub fn assert_close(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "found {found}, expected {expected} within {tolerance}"
    );
}
