//! The sign-flip test against published and independently computed numbers.

#[path = "support/samples.rs"]
mod samples;

use crawlspan::stats::paired::{
    Estimator, PairedError, PairedOptions, PairedSite, RatioEstimate, Warning, compare,
    conditional, flip,
};
use samples::{DARWIN, assert_close, eight_sites, run, site};

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
fn exact_names_round_trip() {
    for estimator in Estimator::ALL {
        assert_eq!(estimator.name().parse(), Ok(estimator));
    }
    assert!(matches!(
        "binomial".parse::<Estimator>(),
        Err(PairedError::UnknownEstimator(_))
    ));
}
