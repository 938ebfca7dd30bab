//! Development, survival, feeding and egg-laying against the literature.

mod common;

use common::{ALL_ALIKE, BOUND_SE, NO_WALKING, each_season, plan};
use crawlspan::life::{Clock, weather};
use crawlspan::scenario::{Layered, Scenario};
use crawlspan::season::{Fate, State};
use std::io::Write;

/// Baskerville & Emin 1969 (Ecology 50:514), single sine with horizontal cut-off; thresholds 11.5 and 33 C
/// (Zalucki 1982, from memory). The seven values are exact integrals, computed apart from this program.
const SINGLE_SINE: [(f64, f64, f64); 7] = [
    (10.0, 30.0, 8.67569),
    (15.0, 35.0, 13.22880),
    (5.0, 20.0, 2.90858),
    (18.0, 38.0, 15.41002),
    (34.0, 40.0, 21.5),
    (0.0, 10.0, 0.0),
    (20.0, 30.0, 13.5),
];

#[test]
fn published_degree_days_of_the_single_sine() {
    for (low, high, expected) in SINGLE_SINE {
        let exact = weather::single_sine(low, high, 11.5, 33.0);
        assert!(
            (exact - expected).abs() < 5e-6,
            "{low}/{high}: {exact} against {expected}"
        );
    }
}

#[test]
fn published_degree_days_of_the_hourly_clock_agree_within_one_percent() {
    for (low, high, expected) in SINGLE_SINE {
        let (night, day) = (low.to_string(), high.to_string());
        let plan = plan(
            "verge-pair",
            &[("weather.night_c", &night), ("weather.day_c", &day)],
        );
        let a_day = plan.clock.degree_days.by(24.0);
        assert!(
            (a_day - expected).abs() <= 0.01 * expected,
            "{low}/{high}: {a_day} against {expected}"
        );
    }
}

/// Zalucki 1982, from memory: at a constant 25 C the egg takes 3.33 d and the larva 13.78 d.
#[test]
fn published_durations_at_constant_25_c() {
    let constant = [
        ("weather.source", "Constant"),
        ("weather.mean_c", "25"),
        ("site.refuge_share", "1"),
    ];
    let sure =
        ["egg", "l1", "l2", "l3", "l4", "l5"].map(|stage| format!("survival.mature.{stage}"));
    let mut settings: Vec<(&str, &str)> = [&constant[..], &NO_WALKING[..], &ALL_ALIKE[..]].concat();
    settings.extend(sure.iter().map(|path| (path.as_str(), "1")));
    let plan = plan("verge-pair", &settings);
    let egg_days = plan.clock.degree_days.when(plan.traits.need_dd[0]) / 24.0;
    assert!((egg_days - 3.33).abs() < 1.0 / 24.0, "egg {egg_days} d");
    let mut lives = 0;
    each_season(&plan, 3, 20, |season| {
        // With every egg surviving some stems are eaten out; larvae that had to walk moult at the end of an hour.
        for larva in season
            .larvae
            .iter()
            .filter(|larva| larva.fate() == Some(Fate::Pupated) && larva.bouts == 0)
        {
            let days = (larva.ended_at - larva.laid_at) / 24.0;
            assert!(
                (days - 3.33 - 13.78).abs() < 1.0 / 24.0,
                "egg to pupation {days} d"
            );
            lives += 1;
        }
    });
    assert!(lives > 100, "only {lives} lives");
}

/// Lemoine et al. 2015: third instar to pupation takes 12.5 d at 12.6/30 C night/day and 10.3 d at 17.3/32.5 C.
/// Within 15 %, with half of the day at each temperature.
#[test]
fn published_duration_from_third_instar_to_pupation() {
    for (night, day, expected) in [(12.6, 30.0, 12.5), (17.3, 32.5, 10.3)] {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("chamber.csv");
        let mut csv = std::fs::File::create(&file).unwrap();
        writeln!(csv, "datetime,temp_c").unwrap();
        for date in 1..=31 {
            for hour in 0..24 {
                let celsius = if (6..18).contains(&hour) { day } else { night };
                writeln!(csv, "2026-07-{date:02}T{hour:02}:00,{celsius}").unwrap();
            }
        }
        let source = format!("Station(\"{}\")", file.display());
        let mut layered = Layered::open("verge-pair").unwrap();
        let short = [
            ("dates.cutting", "\"2026-07-02\""),
            ("dates.lead_in_days", "1"),
            ("dates.laying_until_day", "16"),
            ("dates.run_out_days", "10"),
            ("dates.surveys", "1"),
        ];
        for (path, value) in short {
            layered.set(path, value).unwrap();
        }
        layered.set("weather.source", &source).unwrap();
        let scenario = Scenario::from_layers(&layered).unwrap();
        let clock = Clock::of(&scenario);
        let need: f64 = scenario.numbers.development.degree_days[3..].iter().sum();
        let days = clock.degree_days.when(need) / clock.ticks_per_day;
        assert!(
            (days / expected - 1.0).abs() < 0.15,
            "{night}/{day}: {days} d against {expected} d"
        );
    }
}

/// Share of the eggs of uncut stems that reach the last instar, with its standard error over larvae.
fn share_to_last_instar(settings: &[(&str, &str)], seasons: u64) -> (f64, f64) {
    let plan = plan(
        "verge-pair",
        &[&[("site.refuge_share", "1")], settings].concat(),
    );
    let (mut eggs, mut last) = (0.0, 0.0);
    each_season(&plan, 5, seasons, |season| {
        for larva in season.larvae.iter().filter(|larva| larva.was_laid()) {
            eggs += 1.0;
            last += f64::from(u8::from(larva.stage() == 5));
        }
    });
    let share: f64 = last / eggs;
    (share, (share * (1.0 - share) / eggs).sqrt())
}

#[test]
fn exact_survival_is_the_product_of_the_stage_survivals_without_walking() {
    let settings = [
        &NO_WALKING[..],
        &ALL_ALIKE[..],
        &[("survival.fresh_hazard.l1", "1")][..],
    ]
    .concat();
    let (share, se) = share_to_last_instar(&settings, 800);
    let product = 0.40 * 0.45 * 0.70 * 0.80 * 0.85;
    assert!(
        (share - product).abs() < BOUND_SE * se,
        "{share} against {product}, SE {se}"
    );
    // The same test must fail for a wrong stage.
    let (wrong, se) = share_to_last_instar(
        &[&settings[..], &[("survival.mature.l3", "0.72")]].concat(),
        800,
    );
    assert!(
        (wrong - product).abs() > BOUND_SE * se,
        "a wrong survival passes: {wrong}"
    );
}

/// Nail et al. 2015: 7 to 10 % of eggs reach the last instar.
#[test]
fn published_survival_from_egg_to_last_instar() {
    let (share, _) = share_to_last_instar(&[], 1500);
    println!("egg to last instar on mature stems, default set: {share:.4}");
    assert!((0.07..=0.10).contains(&share), "{share}");
}

/// Fisher et al. 2020: 3 to 4 stems fed on per survivor in the greenhouse, with ample stems. The greenhouse
/// is a constant 25 C and a patch so wide and dense that larvae do not leave it.
#[test]
fn published_stems_fed_on_per_survivor() {
    let plan = plan(
        "one-patch",
        &[
            ("weather.source", "Constant"),
            ("weather.mean_c", "25"),
            ("site.refuge_share", "1"),
            ("site.treated.stems", "1600"),
            ("site.treated.density_per_m2", "15"),
            ("site.treated.outline", "Rectangle"),
        ],
    );
    let (mut used, mut survivors) = (0.0, 0.0);
    each_season(&plan, 7, 60, |season| {
        for larva in season
            .larvae
            .iter()
            .filter(|larva| larva.fate() == Some(Fate::Pupated))
        {
            used += f64::from(larva.stems_used);
            survivors += 1.0;
        }
    });
    let mean: f64 = used / survivors;
    println!("stems fed on per survivor: {mean:.2} over {survivors} survivors");
    assert!(survivors > 500.0);
    assert!((2.5..=4.5).contains(&mean), "{mean}");
}

/// Eggs per stem: a negative binomial of mean 0.58 and k = 1.2 has a zero fraction of 0.623 (a published survey of
/// 326 stems found 200 without eggs; the fraction follows from (1 + m/k)^-k).
#[test]
fn published_zero_fraction_of_eggs_per_stem() {
    let base = plan(
        "one-patch",
        &[
            &[("site.refuge_share", "1"), ("site.treated.stems", "100")],
            &ALL_ALIKE[..],
        ]
        .concat(),
    );
    let rate = (0.58 / base.clock.flight_weeks.total()).to_string();
    let settings = [
        &[
            ("site.refuge_share", "1"),
            ("site.treated.stems", "100"),
            ("laying.eggs_per_stem_week", rate.as_str()),
        ],
        &ALL_ALIKE[..],
    ]
    .concat();
    let plan = plan("one-patch", &settings);
    let (mut stems, mut empty, mut eggs) = (0.0, 0.0, 0.0);
    each_season(&plan, 9, 300, |season| {
        let mut laid = vec![0u32; season.stems.len()];
        for larva in season
            .larvae
            .iter()
            .filter(|larva| larva.state != State::NeverLaid)
        {
            laid[larva.natal.index()] += 1;
        }
        stems += laid.len() as f64;
        empty += laid.iter().filter(|count| **count == 0).count() as f64;
        eggs += laid.iter().sum::<u32>() as f64;
    });
    let (zero, mean): (f64, f64) = (empty / stems, eggs / stems);
    let expected = (1.0 + 0.58f64 / 1.2).powf(-1.2);
    let se = (expected * (1.0 - expected) / stems).sqrt();
    assert!((expected - 0.623).abs() < 5e-4);
    assert!(
        (zero - expected).abs() < BOUND_SE * se,
        "{zero} against {expected}"
    );
    let mean_se = ((0.58 + 0.58 * 0.58 / 1.2) / stems).sqrt();
    assert!((mean - 0.58).abs() < BOUND_SE * mean_se, "mean {mean}");
}
