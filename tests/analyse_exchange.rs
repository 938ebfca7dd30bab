//! Correction of a ratio for larvae that change sides, against simulated seasons whose home ratio is known.

mod common;

use common::{BOUND_SE, each_season, layered, plan, ratio_se};
use crawlspan::output::tables::SurveyTable;
use crawlspan::runner::{Runner, Unwatched};
use crawlspan::stats::paired::{Estimator, PairedOptions, PairedSite};
use crawlspan::study::StudyError;
use crawlspan::study::analyse::{
    Comparison, CountedStage, Exchange, ExchangeEffort, Question, Transfer, compare_sites,
    corrected, exchange, home_ratio, prepare, read_counts,
};
use crawlspan::study::tally::Columns;
use crawlspan::world::HalfId;
use std::sync::atomic::AtomicBool;

/// Pairs one metre apart with a strong effect, so that exchange attenuates it well beyond its error. Readers make no
/// mistakes and nobody drops out: the only thing between the observed and the home ratio is exchange.
const NEAR: [(&str, &str); 6] = [
    ("site.layout", "PairWholeCut"),
    ("site.gap_m", "1"),
    ("laying.attraction_peak", "10"),
    ("surveying.misread_late", "0"),
    ("surveying.drop_out", "0"),
    ("surveying.stem_miscount_sd", "0"),
];

fn simulated(settings: &[(&str, &str)], question: &Question, seed: u64, sets: u64) -> Exchange {
    let stop = AtomicBool::new(false);
    let effort = ExchangeEffort {
        seasons: 2000,
        sets,
        seasons_per_set: 60,
    };
    let runner = Runner::new(seed, &Unwatched, &stop);
    exchange(&layered("verge-pair", settings), question, effort, &runner)
        .unwrap()
        .expect("larvae on both sides")
}

/// The home ratio of a setting: late larvae at surveys by the patch on which they were laid, with its error.
fn truth(settings: &[(&str, &str)], seed: u64, seasons: u64) -> (f64, f64) {
    let plan = plan("verge-pair", settings);
    let mut counts = Vec::new();
    each_season(&plan, seed, seasons, |season| {
        let laid = |patch: usize| {
            let late = season.sightings.iter().filter(|seen| seen.stage == 5);
            late.filter(|seen| seen.natal.patch() == patch).count() as f64
        };
        counts.push((laid(0), laid(1)));
    });
    ratio_se(&counts)
}

fn equal_sites() -> Vec<PairedSite> {
    (1..6)
        .map(|count| PairedSite {
            treated: 2 * count,
            untouched: count,
            stems_treated: 25.0,
            stems_untouched: 25.0,
        })
        .collect()
}

#[test]
fn exact_home_ratio_of_equal_patches() {
    let transfer = |from_treated, from_other| Transfer {
        from_treated,
        from_other,
    };
    for (observed, a, b) in [(2.0, 0.1, 0.2), (0.4, 0.05, 0.05), (1.0, 0.3, 0.1)] {
        let expected = (observed * (1.0 - b) - b) / (1.0 - a - a * observed);
        let found = home_ratio(&equal_sites(), observed, transfer(a, b)).unwrap();
        assert!((found / expected - 1.0).abs() < 1e-7, "{found} {expected}");
    }
    let home = |observed, a, b| home_ratio(&equal_sites(), observed, transfer(a, b));
    // Nobody changes sides: nothing is corrected.
    assert!((home(1.7, 0.0, 0.0).unwrap() - 1.7).abs() < 1e-7);
    // With a = 0.2 the treated share cannot exceed 0.8, a ratio of 4; with b = 0.2 it cannot fall below 0.2.
    assert_eq!(home(4.1, 0.2, 0.2), Some(f64::INFINITY));
    assert_eq!(home(0.2, 0.2, 0.2), Some(0.0));
    assert_eq!(home(f64::INFINITY, 0.2, 0.2), Some(f64::INFINITY));
    assert_eq!(home(0.0, 0.2, 0.2), Some(0.0));
    // Complete mixing says nothing about origin.
    assert_eq!(home(1.5, 0.6, 0.4), None);
}

/// Corrected by the exchange of the very same seasons, the pooled ratio is their home ratio, without error.
#[test]
fn exact_pooled_seasons_are_corrected_to_their_own_home_ratio() {
    const SEASONS: u64 = 2000;
    let near = plan("verge-pair", &NEAR);
    let mut stands = [0_u32; 2];
    each_season(&near, 109, SEASONS, |season| {
        for seen in season.sightings.iter().filter(|seen| seen.stage == 5) {
            stands[seen.stands.patch()] += 1;
        }
    });
    let pooled = PairedSite {
        treated: stands[0],
        untouched: stands[1],
        stems_treated: 150.0,
        stems_untouched: 150.0,
    };
    let exchange = simulated(&NEAR, &Question::default(), 109, 0);
    assert_eq!(exchange.seasons, SEASONS);
    let observed = f64::from(stands[0]) / f64::from(stands[1]);
    let found = home_ratio(&[pooled], observed, exchange.central).unwrap();
    let (home, _) = truth(&NEAR, 109, SEASONS);
    assert!((found / home - 1.0).abs() < 1e-7, "{found} {home}");
    assert!(observed < home);
}

#[test]
fn exact_eggs_do_not_change_sides() {
    let question = Question {
        stage: CountedStage::Eggs,
        ..Question::default()
    };
    let found = simulated(&NEAR, &question, 91, 0);
    assert_eq!(
        (found.central.from_treated, found.central.from_other),
        (0.0, 0.0)
    );
}

#[test]
fn exact_a_scenario_without_the_sides_is_refused() {
    let stop = AtomicBool::new(false);
    let runner = Runner::new(1, &Unwatched, &stop);
    let effort = ExchangeEffort {
        seasons: 10,
        sets: 0,
        seasons_per_set: 1,
    };
    for (scenario, comparison) in [
        ("verge-pair", Comparison::Halves),
        ("one-patch", Comparison::Patches),
    ] {
        let question = Question {
            comparison,
            ..Question::default()
        };
        let found = exchange(&layered(scenario, &[]), &question, effort, &runner);
        assert!(matches!(found, Err(StudyError::Trouble(_))), "{scenario}");
    }
}

/// 1,500 sites through the table: the observed ratio is attenuated, the corrected one is the home ratio.
#[test]
fn stat_the_corrected_ratio_is_the_home_ratio() {
    let near = plan("verge-pair", &NEAR);
    let mut table = SurveyTable::new().unwrap();
    let mut replicate = 0;
    each_season(&near, 93, 1500, |season| {
        table.add(season, replicate).unwrap();
        replicate += 1;
    });
    let question = Question::default();
    let counts = read_counts(&table.taken().unwrap()[..], "simulated").unwrap();
    let sites = prepare(&counts, &question).unwrap().pairs();
    let options = PairedOptions::default();
    let result = &compare_sites(&sites, 1.0, &[Estimator::Flip], &options).unwrap()[0];
    let exchange = simulated(&NEAR, &question, 95, 0);
    let corrected = corrected(&exchange, &sites, result, 1);
    let (home, home_se) = truth(&NEAR, 97, 2000);
    let error = |low: f64, high: f64| (high / low).ln() / (2.0 * 1.959_963_984_540_054);
    let interval = corrected.interval.unwrap();
    let (observed, observed_se) = (
        result.log_ratio.unwrap(),
        error(
            result.interval.lower.unwrap(),
            result.interval.upper.unwrap(),
        ),
    );
    let (found, found_se) = (
        corrected.home_ratio.unwrap().ln(),
        error(interval.low.unwrap(), interval.high.unwrap()),
    );
    println!(
        "observed {:.3} (log se {observed_se:.3}), corrected {:.3} ({found_se:.3}), home {home:.3} ({:.3})",
        observed.exp(),
        found.exp(),
        home_se / home
    );
    let off = |log: f64, se: f64| (log - home.ln()) / se.hypot(home_se / home);
    assert!(off(observed, observed_se) < -BOUND_SE);
    assert!(off(found, found_se).abs() < BOUND_SE);
    // The correction amplifies the error of the ratio and adds that of the exchange.
    assert!(found_se > observed_se);
}

/// Of 100 studies of 40 sites each, the corrected 95 % intervals hold the home ratio in about 95.
#[test]
fn stat_the_corrected_interval_covers_the_home_ratio() {
    const STUDIES: usize = 100;
    const SITES: usize = 40;
    let near = plan("verge-pair", &NEAR);
    let columns = Columns::of(&near);
    let mut sites = Vec::new();
    each_season(&near, 101, (STUDIES * SITES) as u64, |season| {
        let row = columns.row(season);
        let count = |half: HalfId| row[columns.counted(half)] as u32;
        sites.push(PairedSite {
            treated: count(HalfId::new(0, false)) + count(HalfId::new(0, true)),
            untouched: count(HalfId::new(1, false)),
            stems_treated: 150.0,
            stems_untouched: 150.0,
        });
    });
    let exchange = simulated(&NEAR, &Question::default(), 103, 0);
    let (home, _) = truth(&NEAR, 105, 4000);
    let options = PairedOptions {
        flips: 999,
        ..PairedOptions::default()
    };
    let (mut plain, mut covered) = (0, 0);
    for (study, sites) in sites.chunks(SITES).enumerate() {
        let result = &compare_sites(sites, 1.0, &[Estimator::Flip], &options).unwrap()[0];
        let interval = corrected(&exchange, sites, result, study as u64)
            .interval
            .unwrap();
        let holds = |low: Option<f64>, high: Option<f64>| {
            low.is_none_or(|low| low <= home) && high.is_none_or(|high| high >= home)
        };
        plain += usize::from(holds(result.interval.lower, result.interval.upper));
        covered += usize::from(holds(interval.low, interval.high));
    }
    println!(
        "home {home:.3}: held by {plain} plain and {covered} corrected intervals of {STUDIES}"
    );
    let expected = 0.95 * STUDIES as f64;
    let bound = BOUND_SE * (expected * 0.05).sqrt();
    assert!(covered as f64 > expected - bound);
    assert!(plain < covered);
}

/// Parameter sets drawn from the plausible ranges widen the interval, and the same seed gives the same answer.
#[test]
fn exact_parameter_sets_widen_the_interval() {
    let question = Question::default();
    let run = || simulated(&NEAR, &question, 107, 25);
    let exchange = run();
    assert_eq!(exchange.sets, run().sets);
    assert!(exchange.sets.len() > 10);
    let result = &compare_sites(
        &equal_sites(),
        1.0,
        &[Estimator::LogRatioT],
        &PairedOptions::default(),
    )
    .unwrap()[0];
    let corrected = corrected(&exchange, &equal_sites(), result, 1);
    let width = |ends: Option<crawlspan::study::analyse::CorrectedInterval>| {
        let ends = ends.unwrap();
        ends.high.unwrap_or(f64::INFINITY) / ends.low.unwrap_or(0.0)
    };
    assert!(width(corrected.over_sets) > width(corrected.interval));
}
