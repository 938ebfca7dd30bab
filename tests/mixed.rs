//! Mixed models against published data and fits by independent engines.

#[path = "support/samples.rs"]
mod samples;

use crawlspan::stats::paired::mixed::{
    GroupedCounts, GroupedFit, MixedOptions, Noise, Quadrature, Response, grouped_counts,
};
use crawlspan::stats::paired::{
    Estimator, PairedOptions, PairedSite, RatioEstimate, Warning, compare,
};
use nalgebra::DMatrix;
use samples::{assert_close, eight_sites};

/// Seizure counts of 59 patients in four periods (Thall & Vail 1990, Biometrics 46, 657), with the
/// covariates of Breslow & Clayton 1993: intercept, centred ln(base / 4), treatment, centred
/// ln(age), fourth period, base by treatment.
fn epilepsy() -> GroupedCounts {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path("tests/data/epilepsy.csv")
        .expect("test data");
    let rows: Vec<[u32; 6]> = reader
        .deserialize()
        .collect::<Result<_, _>>()
        .expect("whole numbers");
    let mean = |of: &dyn Fn(&[u32; 6]) -> f64| rows.iter().map(of).sum::<f64>() / rows.len() as f64;
    let base = |row: &[u32; 6]| (f64::from(row[2]) / 4.0).ln();
    let age = |row: &[u32; 6]| f64::from(row[3]).ln();
    let (mean_base, mean_age) = (mean(&base), mean(&age));
    let design = DMatrix::from_row_iterator(
        rows.len(),
        6,
        rows.iter().flat_map(|row| {
            let progabide = f64::from(row[1]);
            let centred = base(row) - mean_base;
            [
                1.0,
                centred,
                progabide,
                age(row) - mean_age,
                f64::from(u8::from(row[5] == 4)),
                centred * progabide,
            ]
        }),
    );
    let groups: Vec<usize> = rows.iter().map(|row| row[4] as usize - 1).collect();
    let counts = rows.iter().map(|row| row[0]).collect();
    GroupedCounts::new(counts, design, vec![0.0; rows.len()], &groups).expect("matching shapes")
}

/// A fit to be matched: coefficients and their standard errors, spread between patients,
/// log-likelihood.
struct Reference {
    quadrature: Quadrature,
    coefficients: [f64; 6],
    errors: [f64; 6],
    spread: f64,
    log_likelihood: f64,
}

fn assert_fit(found: &GroupedFit, expected: &Reference, tolerance: f64) {
    assert!(found.converged);
    let errors = found.standard_errors.as_ref().expect("regular information");
    for (found, expected) in found.coefficients.iter().zip(expected.coefficients) {
        assert_close(*found, expected, tolerance);
    }
    for (found, expected) in errors.iter().zip(expected.errors) {
        assert_close(*found, expected, tolerance);
    }
    assert_close(found.group_spread, expected.spread, tolerance);
    assert_close(found.log_likelihood, expected.log_likelihood, tolerance);
}

#[test]
#[rustfmt::skip]
fn practice_poisson_random_intercepts_of_the_epilepsy_counts() {
    // Computed with R 4.2.2 / lme4 1.1.31 (glmer, nAGQ = 1, 9, 25). At 9 and 25 nodes the
    // log-likelihood and the standard errors are those of a separate program that, unlike lme4,
    // keeps the constants of the likelihood and inverts the whole information matrix.
    let data = epilepsy();
    for reference in [
        Reference {
            quadrature: Quadrature::Laplace,
            coefficients: [
                1.83282842,
                0.883479046,
                -0.334210158,
                0.480925126,
                -0.159769643,
                0.338911106,
            ],
            errors: [
                0.1052864, 0.1308619, 0.1476521, 0.3463367, 0.05458371, 0.2027871,
            ],
            spread: 0.501135793,
            log_likelihood: -665.474426,
        },
        Reference {
            quadrature: Quadrature::Nine,
            coefficients: [
                1.83276433,
                0.883405547,
                -0.334255879,
                0.480567781,
                -0.159769583,
                0.338783761,
            ],
            errors: [
                0.1055022, 0.1311373, 0.1479471, 0.3470374, 0.05458371, 0.2031944,
            ],
            spread: 0.502387366,
            log_likelihood: -665.406583,
        },
        Reference {
            quadrature: Quadrature::TwentyFive,
            coefficients: [
                1.8327644,
                0.883405211,
                -0.334255918,
                0.480566891,
                -0.159769586,
                0.338784018,
            ],
            errors: [
                0.1055023, 0.1311374, 0.1479472, 0.3470376, 0.05458371, 0.2031945,
            ],
            spread: 0.502387761,
            log_likelihood: -665.406569,
        },
    ] {
        // lme4's own optimiser stops within about 1e-5.
        let fit = data.fit(Response::Poisson, reference.quadrature);
        assert_fit(&fit, &reference, 2e-5);
    }
}

#[test]
fn practice_negative_binomial_random_intercepts_of_the_epilepsy_counts() {
    // Computed with R 4.2.2 / glmmTMB 1.1.5 (family nbinom2, Laplace); k = 7.418096708066.
    let reference = Reference {
        quadrature: Quadrature::Laplace,
        coefficients: [
            1.840686132433,
            0.883680895688,
            -0.3346211345496,
            0.4798020738923,
            -0.1173115177615,
            0.3380498491621,
        ],
        errors: [
            0.106536858501,
            0.1303830779051,
            0.1472318375104,
            0.3454317374302,
            0.08711677021447,
            0.2020049922492,
        ],
        spread: 0.4640052829216,
        log_likelihood: -624.957119337095,
    };
    let fit = epilepsy().fit(Response::NegativeBinomial, Quadrature::Laplace);
    assert_fit(&fit, &reference, 1e-4);
    let k = fit.overdispersion.expect("estimated").powi(-2);
    assert_close(k, 7.418096708066, 5e-3);
}

#[test]
fn practice_poisson_random_intercepts_of_eight_sites() {
    // Computed with R 4.2.2 / lme4 1.1.31 (glmer): nAGQ, intercept, log ratio, its error, spread.
    let data = grouped_counts(&eight_sites()).unwrap();
    for (quadrature, intercept, log_ratio, error, spread) in [
        (
            Quadrature::Laplace,
            -2.499382439508,
            0.7512115230848,
            0.3279431621928,
            0.1037929523398,
        ),
        (
            Quadrature::Nine,
            -2.498571405466,
            0.7516794053026,
            0.327694786256,
            0.09853896949073,
        ),
        (
            Quadrature::TwentyFive,
            -2.49857141153,
            0.7516794151983,
            0.3276947801609,
            0.09853897224355,
        ),
    ] {
        let fit = data.fit(Response::Poisson, quadrature);
        assert!(fit.converged);
        assert_close(fit.coefficients[0], intercept, 1e-4);
        assert_close(fit.coefficients[1], log_ratio, 1e-4);
        // lme4 takes the error at a fixed spread, which shifts it by a few 1e-4 at most.
        assert_close(fit.standard_errors.unwrap()[1], error, 1e-3);
        // The likelihood is flat in so small a spread.
        assert_close(fit.group_spread, spread, 1e-3);
        if quadrature == Quadrature::Laplace {
            assert_close(fit.log_likelihood, -27.46665647869, 1e-6);
        }
    }
}

/// Sum over all counts of the likelihood: must be 1 for a proper distribution.
fn total_probability(response: Response, quadrature: Quadrature) -> f64 {
    (0..400_u32)
        .map(|count| {
            let data = GroupedCounts::new(
                vec![count],
                DMatrix::from_element(1, 1, 1.0),
                vec![0.3],
                &[0],
            )
            .unwrap();
            data.log_likelihood(response, quadrature, &[0.5], 0.6, 0.5)
                .exp()
        })
        .sum()
}

#[test]
fn exact_marginal_probabilities_sum_to_one() {
    for response in [
        Response::Poisson,
        Response::NegativeBinomial,
        Response::LogNormal,
    ] {
        let total = total_probability(response, Quadrature::TwentyFive);
        assert_close(total, 1.0, 1e-6);
    }
}

#[test]
fn exact_two_sources_of_log_normal_noise_add_their_variances() {
    // One count a group: a group effect of SD a and an error of SD b are one effect of SD
    // sqrt(a^2 + b^2).
    let design = DMatrix::from_element(3, 1, 1.0);
    let data = GroupedCounts::new(vec![0, 3, 11], design, vec![0.0; 3], &[0, 1, 2]).unwrap();
    let quadrature = Quadrature::TwentyFive;
    let both = data.log_likelihood(Response::LogNormal, quadrature, &[1.0], 0.3, 0.4);
    let one = data.log_likelihood(Response::Poisson, quadrature, &[1.0], 0.5, 0.0);
    assert_close(both, one, 1e-7);
}

#[test]
fn exact_no_overdispersion_is_the_poisson_limit() {
    let data = epilepsy();
    let coefficients = [1.8, 0.9, -0.3, 0.5, -0.2, 0.3];
    let at = |response, overdispersion| {
        data.log_likelihood(
            response,
            Quadrature::Nine,
            &coefficients,
            0.5,
            overdispersion,
        )
    };
    let poisson = at(Response::Poisson, 0.0);
    for response in [Response::NegativeBinomial, Response::LogNormal] {
        assert_close(at(response, 0.0), poisson, 1e-7);
        assert_close(at(response, 1e-6), poisson, 1e-4);
    }
}

fn noisy_sites() -> Vec<PairedSite> {
    [
        (9, 1),
        (0, 4),
        (12, 3),
        (5, 5),
        (7, 0),
        (2, 6),
        (8, 1),
        (3, 2),
        (0, 0),
        (21, 9),
        (4, 1),
        (1, 0),
        (6, 8),
        (15, 2),
    ]
    .iter()
    .map(|(treated, untouched)| PairedSite {
        treated: *treated,
        untouched: *untouched,
        stems_treated: 25.0,
        stems_untouched: 20.0,
    })
    .collect()
}

#[test]
fn exact_profile_interval_ends_where_the_test_is_at_its_level() {
    for noise in [Noise::NegativeBinomial, Noise::LogNormal] {
        for quadrature in [Quadrature::Laplace, Quadrature::Nine] {
            let options = PairedOptions {
                mixed: MixedOptions { noise, quadrature },
                ..PairedOptions::default()
            };
            let result = compare(&noisy_sites(), Estimator::Mixed, &options).unwrap();
            assert_eq!((result.informative, result.sites), (13, 14));
            let best = result.estimate.ratio().unwrap();
            // Multiplying the treated stems by a ratio makes the tested ratio 1.
            for bound in [
                result.interval.lower.unwrap(),
                result.interval.upper.unwrap(),
            ] {
                let moved: Vec<_> = noisy_sites()
                    .iter()
                    .map(|site| PairedSite {
                        stems_treated: site.stems_treated * bound,
                        ..*site
                    })
                    .collect();
                let there = compare(&moved, Estimator::Mixed, &options).unwrap();
                assert_close(there.p_value.unwrap(), 0.05, 1e-5);
                assert_close(there.estimate.ratio().unwrap() * bound, best, 1e-4);
            }
        }
    }
}

#[test]
fn exact_one_sided_counts_are_unbounded() {
    let sites: Vec<_> = noisy_sites()
        .iter()
        .map(|site| PairedSite {
            untouched: 0,
            ..*site
        })
        .collect();
    let result = compare(&sites, Estimator::Mixed, &PairedOptions::default()).unwrap();
    assert_eq!(result.estimate, RatioEstimate::UnboundedAbove);
    assert_eq!(result.interval.upper, None);
    assert!(result.p_value.unwrap() < 1e-4);
    assert!(matches!(
        result.warnings[..],
        [.., Warning::OneSided { .. }]
    ));
}

#[test]
fn exact_shapes_that_do_not_match_are_errors() {
    let design = DMatrix::from_element(2, 1, 1.0);
    assert!(GroupedCounts::new(vec![], DMatrix::zeros(0, 1), vec![], &[]).is_err());
    assert!(GroupedCounts::new(vec![1, 2], design.clone(), vec![0.0], &[0, 1]).is_err());
    assert!(GroupedCounts::new(vec![1, 2], design.clone(), vec![0.0, f64::NAN], &[0, 1]).is_err());
    assert!(GroupedCounts::new(vec![1, 2], design, vec![0.0; 2], &[0, 9]).is_err());
}

/// Logarithm of the probability of a Poisson count with a normal error on the log scale, by a
/// trapezoid sum over ten standard deviations either way.
fn log_normal_by_trapezoid(count: u32, eta: f64, spread: f64) -> f64 {
    let step = 1e-3;
    let count_factorial: f64 = (1..=count).map(|k| f64::from(k).ln()).sum();
    let sum: f64 = (-10_000..=10_000)
        .map(|at| {
            let error = f64::from(at) * step;
            let log_mean = eta + spread * error;
            let poisson = f64::from(count) * log_mean - log_mean.exp() - count_factorial;
            (poisson - 0.5 * error * error).exp() * step
        })
        .sum();
    (sum / (2.0 * std::f64::consts::PI).sqrt()).ln()
}

#[test]
fn exact_quadrature_agrees_with_a_trapezoid_sum() {
    let design = DMatrix::from_element(1, 1, 1.0);
    // A likelihood-ratio test turns on a difference of 1.92; a hundred-thousandth is nothing.
    let tolerance = 1e-5;
    for spread in [0.5, 1.0, 1.5, 2.0] {
        for count in [0, 1, 5, 40] {
            for eta in [0.0, 3.0] {
                let expected = log_normal_by_trapezoid(count, eta, spread);
                let data =
                    GroupedCounts::new(vec![count], design.clone(), vec![0.0], &[0]).unwrap();
                let nodes = Quadrature::TwentyFive;
                let site = data.log_likelihood(Response::Poisson, nodes, &[eta], spread, 0.0);
                let noise = data.log_likelihood(Response::LogNormal, nodes, &[eta], 0.0, spread);
                assert_close(site, expected, tolerance);
                assert_close(noise, expected, tolerance);
            }
        }
    }
}

/// Counts of mites on 150 leaves (70, 38, 17, 10, 9, 3, 2, 1 leaves with 0 .. 7 mites; Bliss & Fisher 1953, Biometrics
/// 9:176): the negative binomial has mean 1.1466667, k = 1.0246 and log-likelihood -222.43715 (k and log-likelihood
/// computed with scipy 1.17.1; k = 1.0246 is also the published value). All leaves are one group, so nothing varies
/// between groups.
#[test]
fn published_negative_binomial_of_mites_on_leaves() {
    let leaves = [70, 38, 17, 10, 9, 3, 2, 1];
    let counts: Vec<u32> = leaves
        .iter()
        .enumerate()
        .flat_map(|(mites, leaves)| std::iter::repeat_n(mites as u32, *leaves))
        .collect();
    let all = counts.len();
    let design = DMatrix::from_element(all, 1, 1.0);
    let data = GroupedCounts::new(counts, design, vec![0.0; all], &vec![0; all]).unwrap();
    let fit = data.fit(Response::NegativeBinomial, Quadrature::Nine);
    let k = fit.overdispersion.unwrap().powi(-2);
    println!(
        "k {k}, mean {}, spread {}, log-likelihood {}",
        fit.coefficients[0].exp(),
        fit.group_spread,
        fit.log_likelihood
    );
    assert_close(fit.coefficients[0].exp(), 172.0 / 150.0, 1e-3);
    assert_close(k, 1.024_592, 1e-3);
    assert_close(fit.log_likelihood, -222.437_154, 1e-4);
}
