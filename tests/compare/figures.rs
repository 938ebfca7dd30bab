//! The figures against other ways to the same numbers.

use crate::common::{NO_WALKING, layered, plan};
use crawlspan::plan::Plan;
use crawlspan::random::Key;
use crawlspan::runner::{Runner, Unwatched};
use crawlspan::season::Season;
use crawlspan::stats::Table;
use crawlspan::stats::paired::{Estimator, PairedSite};
use crawlspan::study::compare::figures::{FIGURES, Figure, Study};
use crawlspan::study::compare::hours::SiteTime;
use crawlspan::study::compare::power::{
    CountSums, counted_ratio, design, power, shown_ratio, sites_needed,
};
use crawlspan::study::compare::side::Side;
use crawlspan::study::compare::{CompareAnswer, CompareQuestion, Ready, answer};
use crawlspan::study::measures::MEASURES;
use crawlspan::study::recruit::closed::closed_form;
use crawlspan::study::recruit::pool::{Comparison, SiteSeason};
use crawlspan::study::recruit::power::{StudyPlan, power_curve};
use crawlspan::study::sweep::{self, Axis};
use crawlspan::study::{Effort, resampled, side_by_side};
use crawlspan::walk::NoTrail;
use std::sync::atomic::AtomicBool;

const SEED: u64 = 20_261_125;
const STUDY: Study = Study {
    ratio: 2.0,
    sites: 40,
};
static STOP: AtomicBool = AtomicBool::new(false);

fn runner() -> Runner<'static> {
    Runner::new(SEED, &Unwatched, &STOP)
}

fn ready(name: &str, settings: &[(&str, &str)]) -> Ready {
    Ready {
        name: format!("{name} {settings:?}"),
        words: String::new(),
        plan: plan(name, settings),
    }
}

fn compared(variants: &[Ready], seasons: u64) -> CompareAnswer {
    let question = CompareQuestion {
        against: 0,
        study: STUDY,
        effort: Effort::of(seasons),
        precision: None,
    };
    answer(variants, &question, &runner()).unwrap()
}

fn sums(plan: &Plan, seasons: u64) -> (Side, Vec<f64>) {
    let side = Side::of(plan);
    let table = side.table(plan, &runner(), Effort::of(seasons)).unwrap();
    let sums = table.totals();
    (side, sums)
}

#[test]
fn exact_a_variant_beside_itself_differs_by_nothing() {
    let same = || ready("near-pair", &[]);
    let answer = compared(&[same(), same()], 120);
    for (figure, other) in FIGURES.iter().zip(&answer.variants[1].figures) {
        assert!(other.value.value.is_some(), "{}", figure.name);
        assert_eq!(other.difference.value, Some(0.0), "{}", figure.name);
        assert_eq!(
            other.difference.interval,
            Some((0.0, 0.0)),
            "{}",
            figure.name
        );
        assert_eq!(other.note, "", "{}", figure.name);
    }
}

/// No refuge and a patch that is cut whole are two ways to say one thing.
#[test]
fn exact_no_refuge_is_a_whole_cut() {
    let whole = ready("verge-pair", &[("site.layout", "PairWholeCut")]);
    let none = ready("verge-pair", &[("site.refuge_share", "0")]);
    let answer = compared(&[whole, none], 60);
    for (figure, other) in FIGURES.iter().zip(&answer.variants[1].figures) {
        if let Some(difference) = other.difference.value {
            assert_eq!(difference, 0.0, "{}", figure.name);
        }
    }
    assert_eq!(
        answer.variants[1]
            .figure("hours_needed")
            .unwrap()
            .difference
            .value,
        Some(0.0)
    );
}

#[test]
fn exact_values_and_intervals_are_those_of_a_sweep() {
    let seasons = 150;
    let axis = Axis::parse("site.layout=PairHalfCut,PairWholeCut,OnePatchHalves").unwrap();
    let variants: Vec<Ready> = axis
        .values
        .iter()
        .map(|layout| ready("near-pair", &[("site.layout", layout)]))
        .collect();
    let answer = compared(&variants, seasons);
    let mut defined = 0;
    for (variant, layout) in answer.variants.iter().zip(&axis.values) {
        let point = sweep::point(
            &layered("near-pair", &[]),
            std::slice::from_ref(&axis),
            std::slice::from_ref(layout),
            (Effort::of(seasons), None),
            &runner(),
        )
        .unwrap();
        for named in &MEASURES {
            if let Some(figured) = variant.figure(named.name) {
                assert_eq!(
                    figured.value,
                    point.measure(named.name),
                    "{layout} {}",
                    named.name
                );
                defined += usize::from(figured.value.value.is_some());
            }
        }
        let strays =
            ["stray_share_treated", "stray_share_untouched"].map(|name| point.measure(name));
        let larger = strays
            .iter()
            .filter_map(|share| share.value)
            .max_by(f64::total_cmp);
        assert_eq!(variant.figure("stray_share").unwrap().value.value, larger);
    }
    assert!(defined > 12, "{defined} values were compared");
}

/// Width of the interval of a figure's difference between two variants whose seasons begin at the replicates given.
fn width(figure: &Figure, plans: [&Plan; 2], first: [u64; 2], seasons: u64) -> f64 {
    let sides = plans.map(Side::of);
    let efforts = first.map(|first_replicate| Effort {
        first_replicate,
        ..Effort::of(seasons)
    });
    let tables: Vec<Table> = (0..2)
        .map(|at| sides[at].table(plans[at], &runner(), efforts[at]).unwrap())
        .collect();
    let both = side_by_side(&tables).unwrap();
    let resamples = resampled(&both, &runner(), efforts[0]).unwrap();
    let cut = sides[0].columns();
    let measured = crawlspan::study::measures::measured(&resamples, |sums| {
        let one = figure.value(&sides[0], &sums[..cut], STUDY)?;
        let other = figure.value(&sides[1], &sums[cut..], STUDY)?;
        figure.scale.difference(other, one)
    });
    let (low, high) = measured.unwrap().interval.unwrap();
    high - low
}

/// Measured with 400 seasons: shared seasons narrow the interval of the log net yield from 0.25 to 0.05, of the log home
/// ratio from 0.28 to 0.07. Nothing is fitted: the bound is that of no gain at all.
#[test]
fn stat_shared_seasons_make_differences_sharper() {
    let (half, whole) = (
        plan("verge-pair", &[]),
        plan("verge-pair", &[("site.layout", "PairWholeCut")]),
    );
    for name in ["net_yield", "sites_needed", "home_ratio"] {
        let figure = Figure::named(name).unwrap();
        let shared = width(figure, [&half, &whole], [0, 0], 400);
        let apart = width(figure, [&half, &whole], [0, 400], 400);
        println!("{name}: {shared:.3} with shared seasons, {apart:.3} with seasons of their own");
        assert!(shared < apart, "{name}: {shared} against {apart}");
    }
}

#[test]
fn exact_undefined_says_why() {
    let one = ready("verge-pair", &[("site.layout", "OnePatchHalves")]);
    let whole = ready("verge-pair", &[("site.layout", "PairWholeCut")]);
    let uncut = ready("verge-pair", &[("site.refuge_share", "1")]);
    let answer = compared(&[one, whole, uncut], 40);
    let says = |variant: usize, figure: &str, words: &str| {
        let figured = answer.variants[variant].figure(figure).unwrap();
        assert_eq!(figured.value.value, None, "{figure}");
        assert!(figured.note.contains(words), "{figure}: {}", figured.note);
    };
    says(
        0,
        "stray_share",
        "a single patch has no other to stray from",
    );
    says(1, "half_drift", "no half is left as a refuge");
    says(2, "half_drift", "nothing is cut");
    says(2, "sites_needed", "nothing is cut");
    let strays = answer.variants[1].figure("stray_share").unwrap();
    assert!(strays.value.value.is_some() && strays.difference.value.is_none());
    assert!(
        strays.note.contains("in the reference, a single patch"),
        "{}",
        strays.note
    );
}

/// By the formula in the description of the numbers: 300 stems on two patches, 75 of them cut, four surveys held.
#[test]
fn exact_hours_by_hand() {
    let settings = [
        ("hours.travel_min", "20"),
        ("hours.set_up_min", "30"),
        ("hours.count_stem_min", "0.1"),
        ("hours.cut_stem_min", "0.2"),
        ("hours.search_stem_min", "0.5"),
        ("hours.notes_min", "15"),
    ];
    let time = SiteTime::of(&plan("verge-pair", &settings));
    // Set-up visit 20 + 2 x 30 + 300 x 0.1 = 110; cutting visit 20 + 75 x 0.2 = 35; a survey 20 + 15 + 150 = 185.
    assert_eq!(time.once_min, 145.0);
    assert_eq!(time.survey_min, 185.0);
    assert_eq!(time.hours(4.0), (145.0 + 4.0 * 185.0) / 60.0);
    let uncut = [("site.refuge_share", "1"), ("hours.travel_min", "20")];
    let one = [
        ("site.layout", "OnePatchHalves"),
        ("site.refuge_share", "0.8"),
    ];
    let (uncut, one) = (plan("verge-pair", &uncut), plan("verge-pair", &one));
    // Nothing to cut, no visit to cut it: 20 + 2 x 45 + 300 x 0.05.
    assert_eq!(SiteTime::of(&uncut).once_min, 125.0);
    // The preset's minutes: 30 + 45 + 150 x 0.05, and 30 + 30 x 0.1 for the cutting.
    assert_eq!(SiteTime::of(&one).once_min, 82.5 + 33.0);
}

/// Without walking all of the effect stands where it was laid; a half-cut patch shows the part of its stems that is cut.
#[test]
fn exact_what_surveys_show_without_walking() {
    let with = |more: &[(&'static str, &'static str)]| {
        let mut settings = NO_WALKING.to_vec();
        settings.extend_from_slice(more);
        plan("verge-pair", &settings)
    };
    let (side, all) = sums(&with(&[("site.layout", "PairWholeCut")]), 100);
    let (shown, factor) = shown_ratio(&side, &all, 3.0).unwrap();
    assert!((shown - 3.0).abs() < 1e-12 && (factor - 1.0).abs() < 1e-12);
    let (side, all) = sums(&with(&[("site.layout", "OnePatchHalves")]), 100);
    assert!((shown_ratio(&side, &all, 3.0).unwrap().0 - 3.0).abs() < 1e-12);
    let (side, all) = sums(&with(&[]), 100);
    let columns = side.contrast.columns();
    let late = |half| all[columns.late(half, half)];
    let [refuge, cut, untouched] = [0, 1, 2].map(|half| late(crawlspan::world::HalfId(half)));
    assert!(refuge > 0.0 && cut > 0.0 && untouched > 0.0);
    // 75 stems bear three times the larvae of the untouched patch's stems, the other 75 what they bear.
    let wanted = (refuge + 75.0 * 3.0 * untouched / 150.0) / untouched;
    assert!((shown_ratio(&side, &all, 3.0).unwrap().0 - wanted).abs() < 1e-12);
}

/// At the ratio that the seasons have, larvae stay as they are.
#[test]
fn exact_the_effect_that_is_there_is_shown_as_observed() {
    let plan = plan("near-pair", &[("site.layout", "PairWholeCut")]);
    let (side, all) = sums(&plan, 100);
    let home = side.contrast.home_ratio(&all).unwrap();
    let (shown, factor) = shown_ratio(&side, &all, home).unwrap();
    assert!((shown - side.contrast.observed_ratio(&all).unwrap()).abs() < 1e-12);
    assert!((factor - 1.0).abs() < 1e-12);
}

/// The noise is that of `recruit`'s closed form: the same moments from sums as from the sites one by one.
#[test]
fn exact_noise_is_that_of_the_closed_form_of_recruit() {
    let plan = plan("verge-pair", &[("site.layout", "PairWholeCut")]);
    let seasons = 400;
    let sites = site_seasons(&plan, seasons);
    // Counts as volunteers make them, with the stems that really stand there.
    let pool: Vec<PairedSite> = sites
        .iter()
        .map(|site| PairedSite {
            stems_treated: site.pair(Comparison::Standing).stems_treated,
            stems_untouched: site.pair(Comparison::Standing).stems_untouched,
            ..site.pair(Comparison::Late)
        })
        .collect();
    let closed = closed_form(&pool, [0.8, 0.9]).unwrap();
    let added = pool.iter().fold(CountSums::default(), |sums, site| {
        sums.with(f64::from(site.treated), f64::from(site.untouched))
    });
    let (side, all) = sums(&plan, seasons);
    assert_eq!(side.counts(&all), added);
    let near = |one: f64, other: f64| assert!((one / other - 1.0).abs() < 1e-9, "{one} {other}");
    near(added.inverse_k(), closed.inverse_k);
    near(added.site_variation(), closed.site_variation);
    let own = closed.ratio / side.contrast.observed_ratio(&all).unwrap();
    let counted = counted_ratio(&side, &all, 2.0).unwrap();
    near(counted, own * shown_ratio(&side, &all, 2.0).unwrap().0);
    let design = design(&side, &all, 2.0).unwrap();
    assert_eq!(design.ratio, counted);
    // Four halves, each counted with an SD of 0.1 of the logarithm; a whole-cut pair has two that hold stems.
    near(design.inverse_k, closed.inverse_k + 2.0 * 0.01 / 2.0);
}

/// Sites needed by the formula beside studies simulated by the engine of `recruit` from the same seasons, at an effect
/// that the seasons really have. Simulated studies of the formula's number of sites are asked to have a power of 65 to
/// 92 %: what a planner would still call the same answer. Measured: 0.72 to 0.85; before the ratio was taken as counted
/// and the flips' variance was allowed for, 0.54 to 0.68, which this test refused.
#[test]
fn stat_sites_needed_beside_simulated_studies() {
    for (layout, attraction) in [
        ("PairWholeCut", "5"),
        ("PairHalfCut", "8"),
        ("OnePatchHalves", "8"),
    ] {
        let settings = [
            ("site.layout", layout),
            ("laying.attraction_peak", attraction),
        ];
        let plan = plan("verge-pair", &settings);
        let seasons = 3_000;
        let (side, all) = sums(&plan, seasons);
        let ratio = on_cut_stems(&side, &all);
        let needed = sites_needed(&side, &all, ratio, 0.8).unwrap();
        let comparison = match layout {
            "OnePatchHalves" => Comparison::Halves,
            _ => Comparison::Late,
        };
        let sites = site_seasons(&plan, seasons);
        let counted: Vec<PairedSite> = sites.iter().map(|site| site.pair(comparison)).collect();
        let size = needed.ceil() as usize;
        let studies = StudyPlan {
            sizes: vec![size, 2 * size],
            studies: 600,
            estimator: Estimator::Flip,
            fresh: false,
            coin: false,
        };
        let curve = power_curve(&counted, &studies, &runner()).unwrap();
        let simulated = curve.points[0].power.value;
        let by_formula = power(&side, &all, ratio, size as f64).unwrap();
        println!(
            "{layout}, ratio {ratio:.2}: {needed:.1} sites; power {by_formula:.3}, simulated {simulated:.3}"
        );
        assert!((0.8..0.9).contains(&by_formula), "{layout}: {by_formula}");
        assert!((0.65..=0.92).contains(&simulated), "{layout}: {simulated}");
    }
}

fn site_seasons(plan: &Plan, seasons: u64) -> Vec<SiteSeason> {
    let mut season = Season::new(plan);
    let one = |replicate| {
        season.run(Key::master(SEED, 0).with(replicate), &mut NoTrail);
        SiteSeason::of(&season, false)
    };
    (0..seasons).map(one).collect()
}

/// Late-stage larvae hatched on a cut stem for each one on a stem of the untouched part.
fn on_cut_stems(side: &Side, sums: &[f64]) -> f64 {
    let columns = side.contrast.columns();
    let (mut cut, mut untouched) = (0.0, 0.0);
    for stands in columns.halves() {
        for natal in columns.halves() {
            let larvae = sums[columns.late(stands, natal)];
            if natal.is_cut() {
                cut += larvae;
            } else if !side.contrast.is_treated(natal) {
                untouched += larvae;
            }
        }
    }
    cut / side.cut_stems / (untouched / side.contrast.stems().1)
}
