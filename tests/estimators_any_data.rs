//! Every estimator on many small data sets, sparse ones above all: a result without contradiction.

use crawlspan::stats::paired::{
    Estimator, PairedOptions, PairedSite, RatioEstimate, compare, p_value_only,
};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// Data sets tried.
const DATA_SETS: u64 = 60;

fn random_sites(seed: u64) -> Vec<PairedSite> {
    let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
    let number = random.random_range(1..=12);
    let most = random.random_range(0..=12);
    (0..number)
        .map(|_| PairedSite {
            treated: random.random_range(0..=most),
            untouched: random.random_range(0..=most / 3),
            stems_treated: f64::from(random.random_range(1..=60_u32)),
            stems_untouched: f64::from(random.random_range(1..=60_u32)),
        })
        .collect()
}

#[test]
fn exact_any_data_give_a_consistent_result() {
    let options = PairedOptions {
        flips: 199,
        ..PairedOptions::default()
    };
    let mut finite = 0;
    for seed in 0..DATA_SETS {
        let sites = random_sites(seed);
        for estimator in Estimator::ALL {
            let context = format!("{estimator}, data set {seed}: {sites:?}");
            let result = compare(&sites, estimator, &options).expect("valid data");
            let p = result.p_value;
            assert_eq!(p, p_value_only(&sites, estimator, &options), "{context}");
            assert!(
                p.is_none_or(|p| (0.0..=1.0).contains(&p)),
                "{context}: {p:?}"
            );
            let informative = sites.iter().any(PairedSite::is_informative);
            let undefined = result.estimate == RatioEstimate::Undefined;
            assert_eq!(undefined, !informative, "{context}");
            let (lower, upper) = (result.interval.lower, result.interval.upper);
            assert!(
                lower.is_none_or(f64::is_finite) && upper.is_none_or(f64::is_finite),
                "{context}"
            );
            if let Some(ratio) = result.estimate.ratio() {
                finite += 1;
                assert!(lower.is_none_or(|lower| lower <= ratio), "{context}");
                assert!(upper.is_none_or(|upper| upper >= ratio), "{context}");
            }
        }
    }
    assert!(finite > DATA_SETS, "most data sets have a finite ratio");
}
