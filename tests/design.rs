//! Closed-form sample sizes against published formulas evaluated by other programs.
//!
//! Unless a source is named, values were computed from the cited formulas with numpy 2.4.6 and
//! scipy 1.17.1 by a separate program.

use crawlspan::stats::design::{
    Comparison, DesignError, Level, NegativeBinomialGroups, NullVariance, PairedDesign,
    PoissonRatioStatistics, Sides, StemPair, StemSpread, diluted_ratio, diluted_ratio_of_stems,
    dilution_factor, noncentral_t_distribution, poisson_ratio_statistics,
    poisson_regression_sample_size, t_test_power, t_test_sample_size,
};
use statrs::distribution::{ContinuousCDF, Normal};

/// Relative agreement of two evaluations of one closed formula.
const CLOSED: f64 = 1e-9;

fn assert_close(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance * expected.abs(),
        "found {found}, expected {expected} within {tolerance} of it"
    );
}

#[test]
fn practice_signorini_poisson_regression() {
    // Formula of Signorini 1991 (Biometrika 78, 446): rate, ratio, share exposed, overdispersion,
    // level, sides, power, size.
    let one = Level {
        alpha: 0.05,
        sides: Sides::One,
    };
    #[rustfmt::skip]
    let rows = [
        (0.85, 1.3, 0.5, 1.0, one, 0.95, 696.5164687421301),
        (1.0, 2.0, 0.5, 1.0, Level::default(), 0.8, 60.19155323059928),
        (1.0, 0.5, 0.5, 1.0, Level::default(), 0.8, 74.46719841575938),
        (
        1.0,
        2.0,
        0.5,
        2.0,
        Level::default(),
        0.8,
        120.38310646119857,
        ),
    ];
    for (rate, ratio, exposed, overdispersion, level, power, expected) in rows {
        let size =
            poisson_regression_sample_size(rate, ratio, exposed, overdispersion, level, power);
        assert_close(size.unwrap(), expected, CLOSED);
    }
}

#[test]
fn practice_zhu_and_lakkis_negative_binomial() {
    // Formulas of Zhu & Lakkis 2014 (Stat. Med. 33, 376), equal groups, two-sided 5 %: rate, ratio,
    // dispersion, time, power, sizes of methods 1 to 3.
    #[rustfmt::skip]
    let rows = [
        (0.8, 0.85, 0.4, 0.75, 0.8, [1254.2286484892754, 1315.6898675556597, 1310.730106483209]),
        (0.8, 0.85, 0.7, 0.75, 0.8, [1432.5673385933267, 1493.9897344608996, 1489.0302139533637]),
        (1.0, 0.5, 0.5, 1.0, 0.8, [53.67034839031336, 65.34565925887091, 61.51116510852907]),
        (1.0, 2.0, 0.5, 1.0, 0.9, [61.16722964427909, 54.67456107596371, 52.455622824529826]),
        (3.0, 1.5, 1.0, 1.0, 0.8, [125.70659576896892, 122.00735900643754, 121.26465253531627]),
    ];
    for (rate, ratio, inverse_k, time, power, expected) in rows {
        let methods = [
            NullVariance::ReferenceRate,
            NullVariance::TrueRates,
            NullVariance::PooledRate,
        ];
        for (method, expected) in methods.into_iter().zip(expected) {
            let groups = NegativeBinomialGroups {
                rate,
                ratio,
                inverse_k,
                time,
                allocation: 1.0,
            };
            let size = groups.reference_size(method, Level::default(), power);
            assert_close(size.unwrap(), expected, CLOSED);
        }
    }
}

#[test]
fn practice_gu_poisson_ratio_statistics() {
    // Formulas of Gu et al. 2008 (Biom. J. 50, 283). The first data set is their example of heart
    // disease and hormone use (from memory); the second is that of R 4.2.2's poisson.test.
    #[rustfmt::skip]
    let rows = [
        ((60.0, 51477.5), (30.0, 54308.7), [3.3849125562607925, 3.417401839000214, 3.3392848704672393, 3.445485019563682], 2.1099975717546497, 0.0005700355621795125, 0.0006322188820470972),
        ((11.0, 800.0), (21.0, 3011.0), [1.5342150126346434, 1.8589658187635634, 1.8237510865393123, 1.7592102474449223], 1.9714880952380953, 0.07854180436145652, 0.06303198352660346),
    ];
    for (first, second, expected, ratio, stabilised_p, constrained_p) in rows {
        let found = poisson_ratio_statistics(first.0, first.1, second.0, second.1).unwrap();
        assert_close(found.ratio, ratio, CLOSED);
        let statistics = [
            found.unconstrained,
            found.constrained,
            found.logarithmic,
            found.variance_stabilised,
        ];
        for (statistic, expected) in statistics.into_iter().zip(expected) {
            assert_close(statistic, expected, CLOSED);
        }
        let p = PoissonRatioStatistics::p_value;
        assert_close(p(found.variance_stabilised), stabilised_p, 1e-8);
        assert_close(p(found.constrained), constrained_p, 1e-8);
    }
}

#[test]
fn practice_paired_sample_sizes() {
    // Mean, ratio, 1/k, squared variation of sites, V, sites for 80 % and for 90 % power.
    #[rustfmt::skip]
    let rows = [
        (0.3, 1.5, 0.0, 0.9, 5.555555555555556, 265.2333891444295, 355.0722554154861),
        (0.3, 1.5, 0.5, 0.9, 7.455555555555556, 355.9432082318243, 476.50696676758236),
        (0.3, 1.5, 1.0, 1.0, 9.555555555555557, 456.20142932841867, 610.7242793146361),
        (0.3, 2.0, 0.0, 0.9, 5.0, 81.68207407358865, 109.34912215192743),
        (0.3, 2.0, 0.5, 0.9, 6.9, 112.72126222155234, 150.90178856965986),
        (0.3, 2.0, 1.0, 1.0, 9.0, 147.02773333245955, 196.8284198734694),
        (0.3, 3.0, 0.0, 0.9, 4.444444444444445, 28.90255600117067, 38.69232218353832),
        (0.3, 3.0, 0.5, 0.9, 6.344444444444445, 41.258398691671125, 55.23328991700097),
        (0.3, 3.0, 1.0, 1.0, 8.444444444444445, 54.91485640222426, 73.51541214872282),
        (1.0, 1.5, 0.0, 0.9, 1.6666666666666667, 79.57001674332884, 106.52167662464582),
        (1.0, 1.5, 0.5, 0.9, 3.5666666666666664, 170.2798358307237, 227.95638797674204),
        (1.0, 1.5, 1.0, 1.0, 5.666666666666667, 270.53805692731805, 362.1737005237958),
        (1.0, 2.0, 0.0, 0.9, 1.5, 24.50462222207659, 32.80473664557823),
        (1.0, 2.0, 0.5, 0.9, 3.4, 55.543810370040276, 74.35740306331064),
        (1.0, 2.0, 1.0, 1.0, 5.5, 89.8502814809475, 120.28403436712017),
        (1.0, 3.0, 0.0, 0.9, 1.3333333333333333, 8.670766800351199, 11.607696655061497),
        (1.0, 3.0, 0.5, 0.9, 3.2333333333333334, 21.026609490851662, 28.148664388524132),
        (1.0, 3.0, 1.0, 1.0, 5.333333333333333, 34.683067201404796, 46.43078662024599),
        (2.0, 1.5, 0.0, 0.9, 0.8333333333333334, 39.78500837166442, 53.26083831232291),
        (2.0, 1.5, 0.5, 0.9, 2.7333333333333334, 130.49482745905928, 174.69554966441913),
        (2.0, 1.5, 1.0, 1.0, 4.833333333333333, 230.7530485556536, 308.9128622114729),
        (2.0, 2.0, 0.0, 0.9, 0.75, 12.252311111038296, 16.402368322789115),
        (2.0, 2.0, 0.5, 0.9, 2.65, 43.29149925900198, 57.95503474052154),
        (2.0, 2.0, 1.0, 1.0, 4.75, 77.59797036990922, 103.88166604433106),
        (2.0, 3.0, 0.0, 0.9, 0.6666666666666666, 4.3353834001755995, 5.803848327530749),
        (2.0, 3.0, 0.5, 0.9, 2.5666666666666664, 16.691226090676057, 22.344816060993377),
        (2.0, 3.0, 1.0, 1.0, 4.666666666666667, 30.3476838012292, 40.62693829271524),
        (5.0, 1.5, 0.0, 0.9, 0.3333333333333333, 15.914003348665764, 21.304335324929163),
        (5.0, 1.5, 0.5, 0.9, 2.2333333333333334, 106.62382243606064, 142.73904667702539),
        (5.0, 1.5, 1.0, 1.0, 4.333333333333333, 206.88204353265496, 276.9563592240791),
        (5.0, 2.0, 0.0, 0.9, 0.3, 4.900924444415319, 6.5609473291156455),
        (5.0, 2.0, 0.5, 0.9, 2.1999999999999997, 35.940112592378995, 48.11361374684807),
        (5.0, 2.0, 1.0, 1.0, 4.3, 70.24658370328623, 94.04024505065759),
        (5.0, 3.0, 0.0, 0.9, 0.26666666666666666, 1.73415336007024, 2.3215393310122994),
        (5.0, 3.0, 0.5, 0.9, 2.1666666666666665, 14.0899960505707, 18.862507064474933),
        (5.0, 3.0, 1.0, 1.0, 4.266666666666667, 27.74645376112384, 37.14462929619679),
    ];
    for (mean, ratio, inverse_k, site_variation, variance, sites_80, sites_90) in rows {
        let design = PairedDesign {
            mean,
            ratio,
            inverse_k,
            site_variation,
            stems: StemSpread::default(),
        };
        assert_close(design.variance().unwrap(), variance, CLOSED);
        for (power, expected) in [(0.8, sites_80), (0.9, sites_90)] {
            let sites = design.sites(Level::default(), power).unwrap();
            assert_close(sites, expected, CLOSED);
            assert_close(
                design.power(sites, Level::default()).unwrap(),
                power,
                CLOSED,
            );
        }
    }
}

/// Sites with total stems log-uniform from 20 to 100 and a logistic-normal split of SD 0.6, on a
/// regular grid of quantiles.
fn stem_grid() -> Vec<StemPair> {
    const STEPS: u32 = 200;
    let middle = |at: u32| (f64::from(at) + 0.5) / f64::from(STEPS);
    (0..STEPS)
        .flat_map(|row| (0..STEPS).map(move |column| (middle(row), middle(column))))
        .map(|(size, split)| {
            let total = 20.0 * 5.0_f64.powf(size);
            let share = 1.0 / (1.0 + (-0.6 * Normal::standard().inverse_cdf(split)).exp());
            StemPair {
                treated: total * share,
                untouched: total * (1.0 - share),
            }
        })
        .collect()
}

#[test]
fn practice_paired_standard_errors_with_unequal_stems() {
    // Number of sites, mean, ratio, 1/k, squared variation of sites, standard error of ln R. These
    // were averaged over a random sample of sites and printed to four decimals. The size of the
    // sample is not recorded; taken as 10^4 sites whose information varies by half, its mean has a
    // relative error of 0.5 %, the standard error one of 0.25 %: five such errors are allowed.
    let stems = stem_grid();
    #[rustfmt::skip]
    let rows = [
        (20.0, 1.0, 1.0, 0.0, 0.9, 0.33),
        (80.0, 1.0, 1.0, 0.0, 0.9, 0.1653),
        (20.0, 1.0, 2.0, 0.0, 0.9, 0.2845),
        (80.0, 1.0, 2.0, 0.0, 0.9, 0.1422),
        (20.0, 2.0, 1.0, 0.0, 0.9, 0.2333),
        (80.0, 2.0, 1.0, 0.0, 0.9, 0.1168),
        (20.0, 2.0, 2.0, 0.0, 0.9, 0.2019),
        (80.0, 2.0, 2.0, 0.0, 0.9, 0.1007),
        (20.0, 5.0, 1.0, 0.0, 0.9, 0.1475),
        (80.0, 5.0, 1.0, 0.0, 0.9, 0.0739),
        (20.0, 5.0, 2.0, 0.0, 0.9, 0.1276),
        (80.0, 5.0, 2.0, 0.0, 0.9, 0.0638),
        (20.0, 1.0, 1.0, 0.5, 0.9, 0.4742),
        (80.0, 1.0, 1.0, 0.5, 0.9, 0.2367),
        (20.0, 1.0, 2.0, 0.5, 0.9, 0.4445),
        (80.0, 1.0, 2.0, 0.5, 0.9, 0.2228),
        (20.0, 2.0, 1.0, 0.5, 0.9, 0.4126),
        (80.0, 2.0, 1.0, 0.5, 0.9, 0.2062),
        (20.0, 2.0, 2.0, 0.5, 0.9, 0.3955),
        (80.0, 2.0, 2.0, 0.5, 0.9, 0.1979),
        (20.0, 5.0, 1.0, 0.5, 0.9, 0.3705),
        (80.0, 5.0, 1.0, 0.5, 0.9, 0.1851),
        (20.0, 5.0, 2.0, 0.5, 0.9, 0.3636),
        (80.0, 5.0, 2.0, 0.5, 0.9, 0.1822),
        (20.0, 1.0, 1.0, 1.0, 1.0, 0.5942),
        (80.0, 1.0, 1.0, 1.0, 1.0, 0.2969),
        (20.0, 1.0, 2.0, 1.0, 1.0, 0.5707),
        (80.0, 1.0, 2.0, 1.0, 1.0, 0.2852),
        (20.0, 2.0, 1.0, 1.0, 1.0, 0.5454),
        (80.0, 2.0, 1.0, 1.0, 1.0, 0.2733),
        (20.0, 2.0, 2.0, 1.0, 1.0, 0.5342),
        (80.0, 2.0, 2.0, 1.0, 1.0, 0.2674),
        (20.0, 5.0, 1.0, 1.0, 1.0, 0.5143),
        (80.0, 5.0, 1.0, 1.0, 1.0, 0.258),
        (20.0, 5.0, 2.0, 1.0, 1.0, 0.5119),
        (80.0, 5.0, 2.0, 1.0, 1.0, 0.2558),
    ];
    for (sites, mean, ratio, inverse_k, site_variation, expected) in rows {
        let design = PairedDesign {
            mean,
            ratio,
            inverse_k,
            site_variation,
            stems: StemSpread::of(&stems, ratio, 25.0).unwrap(),
        };
        let error: f64 = (design.variance().unwrap() / sites).sqrt();
        assert_close(error, expected, 0.0125);
    }
}

#[test]
fn exact_equal_standard_patches_have_stem_factors_of_one() {
    let pair = StemPair {
        treated: 25.0,
        untouched: 25.0,
    };
    for ratio in [0.5, 1.0, 3.0] {
        let spread = StemSpread::of(&[pair; 3], ratio, 25.0).unwrap();
        assert_close(spread.counting, 1.0, 1e-14);
        assert_close(spread.noise, 1.0, 1e-14);
    }
}

#[test]
fn practice_dilution_by_exchange() {
    // True ratio, exchange, observed ratio, factor on the number of sites.
    #[rustfmt::skip]
    let rows = [
        (1.5, 0.0, 1.5, 1.0),
        (1.5, 0.05, 1.4390243902439024, 1.2410430004487858),
        (1.5, 0.1, 1.3809523809523812, 1.578016433338236),
        (1.5, 0.2, 1.2727272727272727, 2.8267605150501995),
        (1.5, 0.3, 1.1739130434782608, 6.394533404855792),
        (1.5, 0.4, 1.083333333333333, 25.660400582539786),
        (2.0, 0.0, 2.0, 1.0),
        (2.0, 0.05, 1.857142857142857, 1.2537605717804932),
        (2.0, 0.1, 1.7272727272727273, 1.6084261557087904),
        (2.0, 0.2, 1.4999999999999998, 2.922428855258121),
        (2.0, 0.3, 1.307692307692308, 6.6761513493220015),
        (2.0, 0.4, 1.142857142857143, 26.945370860897807),
        (3.0, 0.0, 3.0, 1.0),
        (3.0, 0.05, 2.636363636363636, 1.2843469985162295),
        (3.0, 0.1, 2.333333333333333, 1.681189564944975),
        (3.0, 0.2, 1.8571428571428574, 3.1495796162824883),
        (3.0, 0.3, 1.4999999999999998, 7.3414514379610365),
        (3.0, 0.4, 1.2222222222222219, 29.97236367374604),
    ];
    for (ratio, exchange, observed, factor) in rows {
        assert_close(diluted_ratio(ratio, exchange).unwrap(), observed, CLOSED);
        assert_close(dilution_factor(ratio, exchange).unwrap(), factor, CLOSED);
    }
    // True ratio, exchange, treated over untouched stems, observed ratio.
    #[rustfmt::skip]
    let rows = [
        (1.0, 0.1, 0.5, 1.1578947368421053),
        (1.0, 0.1, 1.0, 1.0),
        (1.0, 0.1, 2.0, 0.8636363636363636),
        (1.0, 0.2, 0.5, 1.3333333333333335),
        (1.0, 0.2, 1.0, 1.0),
        (1.0, 0.2, 2.0, 0.7499999999999999),
        (2.0, 0.1, 0.5, 2.0),
        (2.0, 0.1, 1.0, 1.7272727272727273),
        (2.0, 0.1, 2.0, 1.4230769230769231),
        (2.0, 0.2, 0.5, 2.0),
        (2.0, 0.2, 1.0, 1.4999999999999998),
        (2.0, 0.2, 2.0, 1.0625),
    ];
    for (ratio, exchange, stems, observed) in rows {
        let found = diluted_ratio_of_stems(ratio, exchange, stems).unwrap();
        assert_close(found, observed, CLOSED);
    }
}

#[test]
fn practice_t_test_power() {
    // Computed with statsmodels 0.15.0; the first also with R 4.2.2 (power.t.test, one tail only).
    let level = Level::default();
    #[rustfmt::skip]
    let rows = [
        (20.0, 1.0, 0.8689530277239897),
        (64.0, 0.5, 0.8014595579222542),
        (26.0, 0.8, 0.8074866151465275),
        (393.0, 0.2, 0.7995942411619142),
        (30.0, 0.5, 0.4778965207601643),
        (10.0, 0.8, 0.39506921211364077),
        (50.0, 0.4, 0.508185735314822),
    ];
    for (size, effect, expected) in rows {
        let power = t_test_power(size, effect, Comparison::TwoGroups, level).unwrap();
        assert_close(power, expected, 1e-8);
    }
    #[rustfmt::skip]
    let rows = [
        (10.0, 0.5, 0.2931756065140767),
        (20.0, 0.5, 0.5645044184390203),
        (34.0, 0.5, 0.8077775012792737),
        (15.0, 0.8, 0.8213105387241096),
        (40.0, 0.3, 0.4565221127061356),
        (80.0, 0.3, 0.7550840393499447),
    ];
    for (size, effect, expected) in rows {
        let power = t_test_power(size, effect, Comparison::Paired, level).unwrap();
        assert_close(power, expected, 1e-8);
    }
}

#[test]
fn practice_t_test_sample_sizes() {
    // Computed with statsmodels 0.15.0.
    let level = Level::default();
    let two = |effect, power| t_test_sample_size(effect, Comparison::TwoGroups, level, power);
    let paired = |effect, power| t_test_sample_size(effect, Comparison::Paired, level, power);
    assert_close(two(0.2, 0.8).unwrap(), 393.4056930002526, 1e-6);
    assert_close(two(0.5, 0.8).unwrap(), 63.76561058891169, 1e-6);
    assert_close(two(0.8, 0.8).unwrap(), 25.524571854446116, 1e-6);
    assert_close(two(1.0, 0.9).unwrap(), 22.021088441446192, 1e-6);
    assert_close(paired(0.2, 0.8).unwrap(), 198.150820955562, 1e-6);
    assert_close(paired(0.3, 0.8).unwrap(), 89.14936472045834, 1e-6);
    assert_close(paired(0.5, 0.8).unwrap(), 33.36713118431779, 1e-6);
    assert_close(paired(0.8, 0.8).unwrap(), 14.30276455812943, 1e-6);
}

#[test]
fn exact_noncentral_t_is_student_at_zero_and_symmetric() {
    // One degree of freedom: Cauchy, 1/2 + atan(1) / pi = 3/4 at 1.
    assert_close(noncentral_t_distribution(1.0, 1.0, 0.0), 0.75, 1e-10);
    for noncentrality in [0.5, 2.0, 7.0] {
        let above = noncentral_t_distribution(1.3, 6.0, noncentrality);
        let below = noncentral_t_distribution(-1.3, 6.0, -noncentrality);
        assert_close(above + below, 1.0, 1e-12);
        assert!(above < noncentral_t_distribution(1.4, 6.0, noncentrality));
    }
}

#[test]
fn exact_numbers_out_of_range_are_errors() {
    let level = Level::default();
    assert!(poisson_regression_sample_size(0.0, 2.0, 0.5, 1.0, level, 0.8).is_err());
    assert!(poisson_regression_sample_size(1.0, 2.0, 1.5, 1.0, level, 0.8).is_err());
    assert_eq!(
        poisson_regression_sample_size(1.0, 1.0, 0.5, 1.0, level, 0.8),
        Err(DesignError::NoEffect)
    );
    assert!(diluted_ratio(2.0, 1.2).is_err());
    assert!(t_test_power(1.0, 0.5, Comparison::Paired, level).is_err());
    assert!(t_test_sample_size(0.0, Comparison::Paired, level, 0.8).is_err());
    assert!(StemSpread::of(&[], 1.0, 25.0).is_err());
}
