//! Paired estimators against published and independently computed numbers.

use crawlspan::stats::paired::{
    Estimator, PairedError, PairedOptions, PairedResult, PairedSite, RatioEstimate, Warning,
    beta_binomial, compare, conditional, flip, log_ratio_t, signed_rank,
};

/// Differences in height of Darwin's 15 pairs of maize plants, crossed minus self-fertilised, in
/// eighths of an inch (Darwin 1876, "The effects of cross and self fertilisation").
const DARWIN: [f64; 15] = [
    49.0, -67.0, 8.0, 16.0, 6.0, 23.0, 28.0, 41.0, 14.0, 29.0, 56.0, 24.0, 75.0, 60.0, -48.0,
];

/// Eight made-up sites, one of them empty, for which every intermediate was computed with
/// numpy 2.4.6 and scipy 1.17.1 by a separate program.
fn eight_sites() -> Vec<PairedSite> {
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

fn site(treated: u32, untouched: u32) -> PairedSite {
    PairedSite {
        treated,
        untouched,
        stems_treated: 25.0,
        stems_untouched: 25.0,
    }
}

fn run(sites: &[PairedSite], estimator: Estimator) -> PairedResult {
    compare(sites, estimator, &PairedOptions::default()).expect("valid sites")
}

fn assert_close(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "found {found}, expected {expected} within {tolerance}"
    );
}

#[test]
fn published_sign_flip_on_darwins_pairs() {
    // Fisher 1935, "The design of experiments", chapter 3: 1,726 of 32,768 sign patterns have a
    // sum as large as 314 in absolute value; p = 0.05267.
    let p = flip::p_value_of_scores(&DARWIN, 999, 1);
    assert_eq!(p, 1726.0 / 32768.0);
}

#[test]
fn practice_sign_flip_on_eight_sites() {
    // Computed with numpy 2.4.6: 12 of 256 patterns (the empty site doubles both counts).
    let p = flip::p_value_only(&eight_sites(), 1.0, 999, 1);
    assert_eq!(p, Some(12.0 / 256.0));
    // p values at other log ratios, computed with numpy 2.4.6.
    for (log_ratio, expected) in [
        (0.1, 0.046875),
        (0.3, 0.125),
        (0.6547722934458016, 1.0),
        (1.0, 0.15625),
        (1.4, 0.0625),
        (1.6, 0.03125),
    ] {
        let p = flip::p_value_only(&eight_sites(), f64::exp(log_ratio), 999, 1);
        assert_eq!(p, Some(expected), "at log ratio {log_ratio}");
    }
}

#[test]
fn practice_flip_interval_and_ratio_on_eight_sites() {
    // Ratio by conditional maximum likelihood and interval by a root search on the p value,
    // computed with scipy 1.17.1; the log ratio also with R 4.2.2 (glm, 0.6547722930).
    let result = run(&eight_sites(), Estimator::Flip);
    assert_close(result.log_ratio.unwrap(), 0.6547722934458016, 1e-9);
    assert_close(
        result.interval.lower.unwrap().ln(),
        0.18232155679201162,
        1e-8,
    );
    assert_close(result.interval.upper.unwrap().ln(), 1.501706225214728, 1e-8);
    assert_eq!(result.p_value, Some(0.046875));
    assert_eq!((result.informative, result.sites), (7, 8));
}

#[test]
fn practice_conditional_errors_on_eight_sites() {
    // Computed with numpy 2.4.6; the model error also with R 4.2.2 (glm, 0.32658).
    let fit = conditional::fit(&eight_sites()).unwrap();
    assert_close(fit.model_error, 0.3265839082888269, 1e-9);
    assert_close(fit.sandwich_error, 0.16520561451469679, 1e-9);
    assert_close(fit.dispersion.unwrap(), 0.6960508693488779, 1e-9);
}

#[test]
fn exact_smallest_p_value_is_two_patterns_of_all() {
    for informative in 1..=20_u32 {
        let sites: Vec<_> = (0..informative).map(|_| site(3, 0)).collect();
        let expected = 2.0 / f64::from(1_u32 << informative);
        assert_eq!(flip::smallest_p_value(informative as usize), expected);
        if informative <= 16 {
            assert_eq!(flip::p_value_only(&sites, 1.0, 999, 1), Some(expected));
        }
    }
}

#[test]
fn exact_enumeration_equals_a_plain_loop_over_patterns() {
    for number in 1..=16_u32 {
        // Scores with many ties: small integers.
        let scores: Vec<f64> = (0..number)
            .map(|at| f64::from((at * 7 + 3) % 11) - 4.0)
            .collect();
        let observed: f64 = scores.iter().sum();
        let extreme = (0..1_u32 << number)
            .filter(|pattern| {
                let sum: f64 = (0..number)
                    .map(|at| {
                        let sign = if pattern >> at & 1 == 1 { 1.0 } else { -1.0 };
                        sign * scores[at as usize]
                    })
                    .sum();
                sum.abs() >= observed.abs()
            })
            .count();
        let expected = extreme as f64 / f64::from(1_u32 << number);
        assert_eq!(flip::p_value_of_scores(&scores, 999, 1), expected);
    }
}

#[test]
fn stat_random_flips_agree_with_the_binomial_tail() {
    // 200 scores of +-1 with a sum of 28: the sum of random signs is binomial, so the two-sided p
    // value is 2 P(Bin(200, 1/2) >= 114), summed here term by term.
    let scores: Vec<f64> = (0..200)
        .map(|at| if at < 114 { 1.0 } else { -1.0 })
        .collect();
    let mut tail = 0.0;
    let mut term = 0.5_f64.powi(200);
    for successes in 0..=200_u32 {
        if successes >= 114 {
            tail += 2.0 * term;
        }
        term *= f64::from(200 - successes) / f64::from(successes + 1);
    }
    let flips = 99_999;
    let p = flip::p_value_of_scores(&scores, flips, 20);
    // Five standard errors of a binomial share: false alarm below 1e-6.
    let bound = 5.0 * (tail * (1.0 - tail) / flips as f64).sqrt() + 1.0 / flips as f64;
    assert_close(p, tail, bound);
}

#[test]
fn exact_flip_is_deterministic_and_symmetric() {
    let sites: Vec<_> = (0..40_u32)
        .map(|at| PairedSite {
            treated: at % 5,
            untouched: (at * 3) % 4,
            stems_treated: 20.0 + f64::from(at % 7),
            stems_untouched: 18.0 + f64::from(at % 9),
        })
        .collect();
    let swapped: Vec<_> = sites
        .iter()
        .map(|site| PairedSite {
            treated: site.untouched,
            untouched: site.treated,
            stems_treated: site.stems_untouched,
            stems_untouched: site.stems_treated,
        })
        .collect();
    let p = flip::p_value_only(&sites, 1.0, 999, 7);
    assert_eq!(p, flip::p_value_only(&sites, 1.0, 999, 7));
    // Swapping the patches negates every deviation, hence every signed sum; their sizes stay.
    assert_eq!(p, flip::p_value_only(&swapped, 1.0, 999, 7));
}

#[test]
fn exact_early_stop_reaches_the_same_decision() {
    let mut decisions = [0, 0];
    for study in 0..400_u32 {
        let sites: Vec<_> = (0..30_u32)
            .map(|at| {
                site(
                    (at * 7 + study) % 4 + u32::from(at % 4 < study % 4),
                    (at * 5 + study * 3) % 4,
                )
            })
            .collect();
        for level in [0.001, 0.01, 0.05, 0.1] {
            for flips in [99, 999] {
                let seed = u64::from(study);
                let p = flip::p_value_only(&sites, 1.0, flips, seed).unwrap();
                let rejected = flip::rejects(&sites, 1.0, flips, seed, level);
                assert_eq!(rejected, p <= level, "p {p}, level {level}, flips {flips}");
                decisions[usize::from(rejected)] += 1;
            }
        }
    }
    assert!(decisions.iter().all(|count| *count > 20), "{decisions:?}");
}

#[test]
fn exact_empty_sites_change_nothing_but_the_recruitment() {
    let mut more = eight_sites();
    more.extend([site(0, 0), site(0, 0)]);
    let (few, many) = (
        run(&eight_sites(), Estimator::Flip),
        run(&more, Estimator::Flip),
    );
    assert_eq!(few.p_value, many.p_value);
    assert_eq!(few.interval, many.interval);
    assert_eq!((many.informative, many.sites), (7, 10));
}

#[test]
fn exact_one_sided_counts_give_an_unbounded_ratio_and_a_one_sided_interval() {
    let sites: Vec<_> = (0..8).map(|_| site(2, 0)).collect();
    let result = run(&sites, Estimator::Flip);
    assert_eq!(result.estimate, RatioEstimate::UnboundedAbove);
    assert_eq!(result.interval.upper, None);
    // Equal stems: the bound solves (R / (1 + R))^8 = 0.025.
    let share = 0.025_f64.powf(1.0 / 8.0);
    assert_close(result.interval.lower.unwrap(), share / (1.0 - share), 1e-9);
    assert!(matches!(result.warnings[..], [Warning::OneSided { .. }]));
    let mirrored: Vec<_> = (0..8).map(|_| site(0, 2)).collect();
    let result = run(&mirrored, Estimator::Flip);
    assert_eq!(result.estimate, RatioEstimate::UnboundedBelow);
    assert_close(result.interval.upper.unwrap(), (1.0 - share) / share, 1e-9);
    assert_eq!(result.interval.lower, None);
}

#[test]
fn exact_no_informative_site_is_undefined_not_an_error() {
    for estimator in Estimator::ALL {
        let result = run(&[site(0, 0), site(0, 0)], estimator);
        assert_eq!(result.estimate, RatioEstimate::Undefined);
        assert_eq!(result.p_value, None);
        assert!(result.warnings.contains(&Warning::NoInformativeSite));
    }
}

#[test]
fn exact_bad_input_is_an_error_value() {
    let mut sites = eight_sites();
    sites[3].stems_untouched = 0.0;
    let options = PairedOptions::default();
    assert!(matches!(
        compare(&sites, Estimator::Flip, &options),
        Err(PairedError::Stems { site: 3, .. })
    ));
    let options = PairedOptions {
        confidence: 1.0,
        ..options
    };
    assert!(matches!(
        compare(&eight_sites(), Estimator::Flip, &options),
        Err(PairedError::Confidence(_))
    ));
}

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

#[test]
fn exact_names_round_trip() {
    for estimator in Estimator::ALL {
        assert_eq!(estimator.name().parse(), Ok(estimator));
    }
    assert!(matches!(
        "binomial".parse::<Estimator>(),
        Err(PairedError::UnknownEstimator(_))
    ));
}
