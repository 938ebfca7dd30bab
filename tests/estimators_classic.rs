//! t, signed-rank and beta-binomial estimators against published and independently computed numbers.

#[path = "support/samples.rs"]
mod samples;

use crawlspan::stats::paired::{Estimator, PairedSite, beta_binomial, log_ratio_t, signed_rank};
use samples::{DARWIN, assert_close, eight_sites, run, site};

#[test]
fn published_t_test_on_darwins_pairs() {
    // Fisher 1935, "The design of experiments", chapter 3: t = 2.148 on 14 degrees of freedom; digits with scipy 1.17.1.
    let test = log_ratio_t::student_test(&DARWIN).unwrap();
    assert_close(test.statistic, 2.1479874613311205, 1e-12);
    assert_close(test.p_value, 0.049702944021800866, 1e-9);
    assert_eq!(test.freedom, 14.0);
}

#[test]
fn practice_log_ratio_t_with_and_without_the_empty_site() {
    // All eight sites, computed with R 4.2.2 (t.test).
    let all: Vec<f64> = eight_sites()
        .iter()
        .map(PairedSite::log_ratio_with_half)
        .collect();
    let test = log_ratio_t::student_test(&all).unwrap();
    assert_close(test.mean, 0.504153691192, 1e-11);
    assert_close(test.statistic, 1.680106534563, 1e-11);
    assert_close(test.p_value, 0.1368260060104, 1e-9);
    // The seven informative ones: their sum computed with numpy 2.4.6.
    let result = run(&eight_sites(), Estimator::LogRatioT);
    assert_close(result.log_ratio.unwrap(), 3.5224039057700596 / 7.0, 1e-12);
    assert!(
        result
            .warnings
            .iter()
            .any(|warning| warning.to_string().contains("pulls the ratio towards 1"))
    );
}

#[test]
fn exact_t_interval_ends_where_the_test_is_at_its_level() {
    let result = run(&eight_sites(), Estimator::LogRatioT);
    for bound in [result.interval.lower, result.interval.upper] {
        let shifted: Vec<f64> = log_ratio_t::log_ratios(&eight_sites())
            .iter()
            .map(|value| value - bound.unwrap().ln())
            .collect();
        let p = log_ratio_t::student_test(&shifted).unwrap().p_value;
        assert_close(p, 0.05, 1e-8);
    }
}

/// Depression scores of nine patients before and after a tranquilliser (Hollander & Wolfe 1973,
/// "Nonparametric statistical methods", table 3.1).
// A score of 3.14 is no approximation of a constant.
#[allow(clippy::approx_constant)]
fn hollander_wolfe() -> Vec<f64> {
    let before = [1.83, 0.5, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.3];
    let after = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29];
    before.iter().zip(&after).map(|(b, a)| b - a).collect()
}

#[test]
fn published_signed_rank_of_hollander_and_wolfe() {
    // Hollander & Wolfe 1973: rank sum 40, one-sided p = 0.0195; also R 4.2.2 (wilcox.test).
    let test = signed_rank::signed_rank(&hollander_wolfe()).unwrap();
    assert_eq!(test.positive_ranks, 40.0);
    assert!(test.exact && !test.tied);
    assert_close(test.p_value, 2.0 * 0.01953125, 1e-15);
}

#[test]
fn practice_signed_rank_on_darwins_pairs() {
    // Computed with R 4.2.2 (wilcox.test): rank sum 96, exact two-sided p = 0.041259765625.
    let test = signed_rank::signed_rank(&DARWIN).unwrap();
    assert_eq!(test.positive_ranks, 96.0);
    assert_close(test.p_value, 0.041259765625, 1e-15);
}

#[test]
fn exact_signed_rank_equals_a_plain_loop_over_signs() {
    for number in 1..=12_u32 {
        let values: Vec<f64> = (1..=number)
            .map(|rank| f64::from(rank) * if rank % 3 == 0 { -1.0 } else { 1.0 })
            .collect();
        let centre = f64::from(number * (number + 1)) / 4.0;
        let observed: f64 = values.iter().filter(|v| **v > 0.0).sum();
        let extreme = (0..1_u32 << number)
            .filter(|pattern| {
                let sum: u32 = (1..=number)
                    .filter(|rank| pattern >> (rank - 1) & 1 == 1)
                    .sum();
                (f64::from(sum) - centre).abs() >= (observed - centre).abs()
            })
            .count();
        let expected = extreme as f64 / f64::from(1_u32 << number);
        let test = signed_rank::signed_rank(&values).unwrap();
        assert_close(test.p_value, expected, 1e-14);
    }
}

#[test]
fn exact_signed_rank_with_ties_uses_the_corrected_normal_law() {
    // Values 1, 1, -1, 2, 3, 3 and a zero, by hand: ranks 2, 2, 2, 4, 5.5, 5.5; rank sum 19;
    // mean 10.5; variance 6 x 7 x 13 / 24 - ((27 - 3) + (8 - 2)) / 48 = 22.125;
    // z = (8.5 - 0.5) / 4.7037 = 1.70078, two-sided p = 0.08898.
    let test = signed_rank::signed_rank(&[1.0, 1.0, -1.0, 2.0, 3.0, 3.0, 0.0]).unwrap();
    assert_eq!((test.positive_ranks, test.ranked, test.zeros), (19.0, 6, 1));
    assert!(!test.exact && test.tied);
    assert_close(test.p_value, 0.08898, 5e-6);
}

#[test]
fn exact_signed_rank_interval_inverts_the_test() {
    for level in [0.05, 0.1, 0.3] {
        for values in [
            hollander_wolfe(),
            DARWIN.iter().map(|v| v + 0.37 / (v + 80.0)).collect(),
        ] {
            let (lower, upper) = signed_rank::interval(&values, level);
            let p_at = |shift: f64| {
                let moved: Vec<f64> = values.iter().map(|v| v - shift).collect();
                signed_rank::signed_rank(&moved).unwrap().p_value
            };
            let step = 1e-7;
            for (bound, inward) in [(lower.unwrap(), step), (upper.unwrap(), -step)] {
                assert!(p_at(bound + inward) > level);
                assert!(p_at(bound - inward) <= level);
            }
        }
    }
}

/// Families of twelve children in Saxony by number of boys, 0 to 12 (Geissler 1889, as printed in
/// Lindsey & Altham 1998, Applied Statistics 47, 149).
const SAXONY: [usize; 13] = [3, 24, 104, 286, 670, 1033, 1343, 1112, 829, 478, 181, 45, 7];

#[test]
fn published_beta_binomial_on_saxony_families() {
    let sites: Vec<_> = SAXONY
        .iter()
        .zip(0_u32..)
        .flat_map(|(families, boys)| vec![site(boys, 12 - boys); *families])
        .collect();
    let fit = beta_binomial::fit(&sites).unwrap();
    // R 4.2.2 with VGAM 1.1.7 (betabinomialff): shapes 34.102857613, 31.578234153; with equal
    // stems the ratio is alpha / beta and the correlation 1 / (alpha + beta + 1).
    let (alpha, beta): (f64, f64) = (34.102857613385, 31.578234152762);
    assert_close(fit.log_ratio, (alpha / beta).ln(), 1e-8);
    assert_close(fit.correlation, 1.0 / (alpha + beta + 1.0), 1e-9);
    // The log-likelihood there, -12492.8713585513, includes the binomial coefficients.
    let choose = |k: u32| (0..k).fold(1.0, |c, at| c * f64::from(12 - at) / f64::from(at + 1));
    let coefficients: f64 = SAXONY
        .iter()
        .zip(0_u32..)
        .map(|(families, boys)| *families as f64 * choose(boys).ln())
        .sum();
    assert_close(fit.log_likelihood + coefficients, -12492.8713585513, 1e-6);
}

#[test]
fn practice_binomial_limit_on_eight_sites() {
    // Computed with numpy 2.4.6: binomial log-likelihoods without coefficients. These counts are
    // less variable than binomial ones, so the correlation is 0 at the best ratio.
    let sites = eight_sites();
    let fit = beta_binomial::fit(&sites).unwrap();
    assert_eq!(fit.correlation, 0.0);
    assert_close(fit.log_ratio, 0.6547722934458016, 1e-8);
    assert_close(fit.log_likelihood, -27.54774646271587, 1e-10);
    assert_close(
        beta_binomial::log_likelihood(&sites, 0.0, 0.0),
        -29.685728689228057,
        1e-10,
    );
}

#[test]
fn exact_beta_binomial_probabilities_sum_to_one() {
    for correlation in [0.0, 1e-6, 0.1, 0.7] {
        let total: f64 = (0..=9_u32)
            .map(|treated| {
                let choose =
                    (0..treated).fold(1.0, |c, at| c * f64::from(9 - at) / f64::from(at + 1));
                let mut one = site(treated, 9 - treated);
                one.stems_treated = 40.0;
                choose * beta_binomial::log_likelihood(&[one], 0.4, correlation).exp()
            })
            .sum();
        assert_close(total, 1.0, 1e-12);
    }
}

#[test]
fn exact_beta_binomial_interval_ends_where_the_test_is_at_its_level() {
    let sites: Vec<_> = [
        (9, 1),
        (0, 4),
        (12, 3),
        (5, 5),
        (7, 0),
        (2, 6),
        (8, 1),
        (3, 2),
    ]
    .iter()
    .map(|(treated, untouched)| site(*treated, *untouched))
    .collect();
    let result = run(&sites, Estimator::BetaBinomial);
    let best = beta_binomial::fit(&sites).unwrap();
    assert!(best.correlation > 0.05);
    for bound in [result.interval.lower, result.interval.upper] {
        let there = beta_binomial::fit_at(&sites, bound.unwrap().ln());
        // Half the 95 % point of chi-squared with one degree of freedom, 3.841459 / 2.
        assert_close(best.log_likelihood - there.log_likelihood, 1.920729, 1e-6);
    }
    // The maximum is one: every neighbour is lower.
    for (by_ratio, by_correlation) in [(0.01, 0.0), (-0.01, 0.0), (0.0, 0.01), (0.0, -0.01)] {
        let near = beta_binomial::log_likelihood(
            &sites,
            best.log_ratio + by_ratio,
            best.correlation + by_correlation,
        );
        assert!(near < best.log_likelihood);
    }
}
