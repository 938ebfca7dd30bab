//! The recruitment question: simulated studies made of simulated seasons.

mod common;

use common::{BOUND_SE, NO_WALKING, layered, mean_se};
use crawlspan::output::recruit::tables;
use crawlspan::runner::{Runner, Unwatched};
use crawlspan::scenario::Scenario;
use crawlspan::stats::paired::{Estimator, PairedSite};
use crawlspan::study::recruit::effects::{Pilot, pooled_ratio};
use crawlspan::study::recruit::pool::{Comparison, SiteSeason, site_seasons};
use crawlspan::study::recruit::power::{PowerPoint, StudyPlan, power_curve};
use crawlspan::study::recruit::sites::{Effect, Sites};
use crawlspan::study::recruit::{RecruitQuestion, answer};
use std::ops::Range;
use std::sync::atomic::AtomicBool;

fn scenario(settings: &[(&str, &str)]) -> Scenario {
    Scenario::from_layers(&layered("verge-pair", settings)).unwrap()
}

fn with_runner<R>(seed: u64, work: impl FnOnce(&Runner<'_>) -> R) -> R {
    let stop = AtomicBool::new(false);
    work(&Runner::new(seed, &Unwatched, &stop))
}

fn pool(sites: &Sites, attraction: f64, which: Range<u64>, seed: u64) -> Vec<SiteSeason> {
    let effect = Effect::Attraction(attraction, attraction);
    with_runner(seed, |runner| {
        site_seasons(sites, effect, which, runner).unwrap()
    })
}

fn late(pool: &[SiteSeason]) -> Vec<PairedSite> {
    pool.iter()
        .map(|site| site.pair(Comparison::Late))
        .collect()
}

fn plan(sizes: &[usize], studies: usize) -> StudyPlan {
    StudyPlan {
        sizes: sizes.to_vec(),
        studies,
        estimator: Estimator::Flip,
        fresh: false,
        coin: false,
    }
}

fn power(sites: &[PairedSite], plan: &StudyPlan, seed: u64) -> Vec<PowerPoint> {
    with_runner(seed, |runner| {
        power_curve(sites, plan, runner).unwrap().points
    })
}

/// Binomial standard error of a share.
fn share_se(share: f64, studies: usize) -> f64 {
    (share.clamp(0.01, 0.99) * (1.0 - share.clamp(0.01, 0.99)) / studies as f64).sqrt()
}

/// Studies drawn with replacement from a pool, and studies with sites of their own that no other study has.
#[test]
fn stat_pool_and_fresh_sites_agree() {
    let sites = Sites::of(&scenario(&[])).unwrap();
    let sizes = [20, 45];
    let drawn = late(&pool(&sites, 9.0, 0..4000, 71));
    let fresh = late(&pool(&sites, 9.0, 100_000..118_000, 71));
    let from_pool = power(&drawn, &plan(&sizes, 2000), 71);
    let own = StudyPlan {
        fresh: true,
        ..plan(&sizes, 100_000)
    };
    for (one, other) in from_pool.iter().zip(power(&fresh, &own, 71)) {
        let pool_se = (one.with_pool.1 - one.with_pool.0) / (2.0 * 1.96);
        let se = pool_se.hypot(share_se(other.power.value, other.studies));
        println!(
            "{} sites: pool {:.3}, fresh {:.3} ({} studies), SE {se:.3}",
            one.sites, one.power.value, other.power.value, other.studies
        );
        assert_eq!(other.studies, 18_000 / other.sites);
        assert!((one.power.value - other.power.value).abs() < BOUND_SE * se);
    }
}

/// Nothing is cut: no stem is cut, the ratio of the pool is 1, and the test has its size, whether the coin is tossed
/// for sites of a pool or every study has sites of its own.
#[test]
fn stat_no_effect_is_a_true_null() {
    let sites = Sites::of(&scenario(&[])).unwrap();
    with_runner(73, |runner| {
        for number in 0..20 {
            let site = sites.draw(runner.key(0, number));
            let plan = sites.plan(&site, Effect::Nothing).unwrap();
            assert!(plan.layout.patches.iter().all(|patch| patch.cut_stems == 0));
            assert!(site.gap_m >= sites.scenario().numbers.recruitment.least_gap_m - 1e-9);
        }
        let pool = site_seasons(&sites, Effect::Nothing, 0..9000, runner).unwrap();
        let home = pooled_ratio(&pool, Comparison::Home).unwrap();
        let se = (home.high / home.low).ln() / (2.0 * 1.96);
        assert!(home.value.ln().abs() < BOUND_SE * se, "{home:?}");
        let counts = late(&pool);
        let coin = StudyPlan {
            coin: true,
            ..plan(&[45, 90, 200], 2000)
        };
        let fresh = StudyPlan {
            fresh: true,
            ..plan(&[30, 45], 100_000)
        };
        for point in power(&counts, &coin, 73)
            .iter()
            .chain(&power(&counts, &fresh, 73))
        {
            println!(
                "{} sites, {} studies: {}",
                point.sites, point.studies, point.power.value
            );
            let bound = BOUND_SE * share_se(0.05, point.studies);
            assert!((point.power.value - 0.05).abs() < bound, "{point:?}");
        }
    });
}

#[test]
fn stat_power_rises_with_sites_and_with_the_effect() {
    let sites = Sites::of(&scenario(&[])).unwrap();
    let curves = [6.0, 14.0].map(|attraction| {
        power(
            &late(&pool(&sites, attraction, 0..2000, 75)),
            &plan(&[20, 90], 1000),
            75,
        )
    });
    for curve in &curves {
        let [few, many] = [curve[0].power.value, curve[1].power.value];
        assert!(many - few > BOUND_SE * share_se(few, 1000).hypot(share_se(many, 1000)));
    }
    let [weak, strong] = [curves[0][0].power.value, curves[1][0].power.value];
    assert!(strong - weak > BOUND_SE * share_se(weak, 1000).hypot(share_se(strong, 1000)));
}

/// Crawling draws the ratio towards 1 at a gap of 1 m, and not at all when nobody walks.
#[test]
fn stat_crawling_attenuates_at_one_metre() {
    let drawn_in = |settings: &[(&str, &str)]| -> Vec<f64> {
        let sites = Sites::of(&scenario(settings)).unwrap().with_gap(1.0);
        let pool = pool(&sites, 9.0, 0..3000, 77);
        // Batches of sites: each gives the logarithm that crawling takes away.
        let log = |batch: &[SiteSeason], which| pooled_ratio(batch, which).unwrap().value.ln();
        pool.chunks(150)
            .map(|batch| log(batch, Comparison::Home) - log(batch, Comparison::Standing))
            .collect()
    };
    let (lost, se) = mean_se(&drawn_in(&[]));
    println!("crawling takes {lost:.3} ({se:.3}) off the log ratio");
    assert!(lost > BOUND_SE * se);
    // Nobody leaves an eaten-out stem either, as nothing is eaten.
    let still = [&NO_WALKING[..], &[("feeding.lifetime_intake_cm", "0")]].concat();
    assert!(drawn_in(&still).iter().all(|lost| *lost == 0.0));
}

fn small() -> RecruitQuestion {
    RecruitQuestion {
        sizes: vec![10, 30, 60],
        studies: 100,
        pool: 240,
        ..RecruitQuestion::default()
    }
}

#[test]
fn exact_the_same_seed_gives_the_same_tables_on_any_number_of_threads() {
    let tables = |threads: usize| {
        let workers = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        workers.install(|| {
            let found = with_runner(79, |runner| {
                answer(&scenario(&[]), &small(), runner).unwrap()
            });
            (
                tables::power(&found).unwrap(),
                tables::sites_needed(&found, 0.25).unwrap(),
                tables::sitings(&found.siting).unwrap(),
                tables::example(&found).unwrap(),
            )
        })
    };
    assert!(tables(1) == tables(2));
}

#[test]
fn exact_a_ratio_beyond_all_attractions_is_called_unreachable() {
    let question = RecruitQuestion {
        ratios: vec![2.0, 500.0],
        ..small()
    };
    let found = with_runner(81, |runner| {
        answer(&scenario(&[]), &question, runner).unwrap()
    });
    assert_eq!(found.unreachable, [500.0]);
    assert_eq!(found.effects.len(), 2);
    assert!(found.pilot.reach().expect("larvae").1 < 500.0);
}

/// A factor on the second kind's home ratio: its sites get the attraction that gives it.
#[test]
fn stat_the_second_kind_has_the_home_ratio_of_its_factor() {
    let settings = [("recruitment.second_kind_factor", "2")];
    let sites = Sites::of(&scenario(&settings)).unwrap();
    let pilot = with_runner(83, |runner| Pilot::run(&sites, 1500, runner).unwrap());
    let effect = Effect::Attraction(pilot.for_pair(1.5).unwrap(), pilot.for_pair(3.0).unwrap());
    let pool = with_runner(83, |runner| {
        site_seasons(&sites, effect, 0..4000, runner).unwrap()
    });
    for (kind, wanted) in [(false, 1.5f64), (true, 3.0)] {
        let those: Vec<_> = pool
            .iter()
            .filter(|site| site.second_kind == kind)
            .copied()
            .collect();
        let home = pooled_ratio(&those, Comparison::Home).unwrap();
        let se = (home.high / home.low).ln() / (2.0 * 1.96);
        println!("{kind}: wanted {wanted}, got {home:?}");
        // The pilot's own ratio has the error of its 1,500 sites, about twice the variance of these 2,000.
        assert!((home.value / wanted).ln().abs() < BOUND_SE * se * 3f64.sqrt());
    }
}

/// Synthetic pools without larvae: the spread of power over many pools is what one pool's interval says. The SD of 200
/// pools has a relative error of 1/sqrt(400), 5 %, and that of the reported SDs is smaller: the bound is five times 7 %.
#[test]
fn stat_the_interval_holds_the_size_of_the_pool() {
    use crawlspan::random::{Key, unit};
    use rand_distr::{Distribution, Gamma, Poisson};
    let (sites, pools, studies) = (1000, 200, 300);
    let noise = Gamma::new(2.0, 0.5).unwrap();
    let mut shares = Vec::new();
    let mut errors = Vec::new();
    for number in 0..pools {
        let mut stream = Key::master(85, number).stream();
        let pool: Vec<PairedSite> = (0..sites)
            .map(|_| {
                let mean = 1.0 + 4.0 * unit(&mut stream);
                let mut count = |ratio: f64| -> u32 {
                    let mean = mean * ratio * noise.sample(&mut stream);
                    Poisson::new(mean.max(1e-9)).unwrap().sample(&mut stream) as u32
                };
                PairedSite {
                    treated: count(1.6),
                    untouched: count(1.0),
                    stems_treated: 100.0,
                    stems_untouched: 100.0,
                }
            })
            .collect();
        let point = power(&pool, &plan(&[20, 40], studies), number)[1];
        shares.push(point.power.value);
        errors.push((point.with_pool.1 - point.with_pool.0) / (2.0 * 1.96));
    }
    let (_, se) = mean_se(&shares);
    let spread = se * (pools as f64).sqrt();
    let told = (errors.iter().map(|e| e * e).sum::<f64>() / pools as f64).sqrt();
    println!("SD of power over pools {spread:.3}, as told by one pool {told:.3}");
    let bound = BOUND_SE * (2.0 / (2.0 * pools as f64)).sqrt();
    assert!((told / spread).ln().abs() < bound, "{told} {spread}");
}

/// Closed form beside simulation, with and without crawling; both fall as the effect grows.
#[test]
fn stat_closed_form_beside_the_simulation() {
    for (what, settings) in [("crawling", &[][..]), ("no crawling", &NO_WALKING[..])] {
        let question = RecruitQuestion {
            pool: 1600,
            studies: 500,
            ..RecruitQuestion::default()
        };
        let found = with_runner(87, |runner| {
            answer(&scenario(settings), &question, runner).unwrap()
        });
        let mut before = f64::INFINITY;
        for effect in found.effects.iter().skip(1) {
            let closed = effect.closed.unwrap();
            println!(
                "{what}, {}: closed {:.0}, simulated {:?}",
                effect.name,
                closed.sites[0],
                effect.sites_needed()
            );
            assert!(closed.sites[0] < before);
            before = closed.sites[0];
        }
        let simulated: Vec<usize> = found.effects[1..]
            .iter()
            .map(|e| e.sites_needed().unwrap_or(usize::MAX))
            .collect();
        assert!(
            simulated.windows(2).all(|pair| pair[0] > pair[1]),
            "{simulated:?}"
        );
    }
}

fn offered(text: &str) -> Result<Scenario, crawlspan::trouble::Trouble> {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("sites.csv"), text).unwrap();
    let mut layers = layered("verge-pair", &[("recruitment.offered", "\"sites.csv\"")]);
    layers.folder = folder.path().to_owned();
    Scenario::from_layers(&layers)
}

#[test]
fn exact_offered_sites_are_used_as_given() {
    let text = "gap_m,stems_treated,stems_untouched,density_per_m2,shade_treated,shade_untouched,cover\n\
                12,80,90,2.5,0.1,0.2,Mown\n\
                4,50,60,,,,\n\
                30,200,150,,,,TallGrass\n";
    let sites = Sites::of(&offered(text).unwrap()).unwrap();
    assert!(!sites.coin_decides());
    assert!((sites.share_meeting_rule - 2.0 / 3.0).abs() < 1e-12);
    let mut seen = [false; 2];
    with_runner(89, |runner| {
        for number in 0..50 {
            let site = sites.draw(runner.key(0, number));
            match site.gap_m {
                12.0 => assert_eq!((site.stems, site.density_per_m2), ([80.0, 90.0], 2.5)),
                30.0 => assert_eq!(site.stems, [200.0, 150.0]),
                other => panic!("gap {other}"),
            }
            seen[usize::from(site.gap_m == 30.0)] = true;
        }
    });
    assert_eq!(seen, [true; 2]);
}

#[test]
fn exact_faults_in_offered_sites_name_their_line() {
    let header = "gap_m,stems_treated,stems_untouched,cover\n";
    for (rows, line, what) in [
        ("12,80,90,Mown\n-1,80,90,Mown\n", "line 3", "gap_m"),
        (
            "12,80,90,Mown\n12,80.5,90,Mown\n",
            "line 3",
            "stems_treated",
        ),
        ("12,80,ninety,Mown\n", "line 2", "ninety"),
        (
            "12,80,90,Mown\n14,80,90,\n12,80,90,Lava\n",
            "line 4",
            "Lava",
        ),
        ("12,80,0,Mown\n", "line 2", "stems_untouched"),
    ] {
        let fault = offered(&format!("{header}{rows}")).unwrap_err().to_string();
        assert!(fault.contains(line) && fault.contains(what), "{fault}");
    }
    let fault = offered("gap_m,stems_treated\n1,2\n")
        .unwrap_err()
        .to_string();
    assert!(
        fault.contains("line 1") && fault.contains("stems_untouched"),
        "{fault}"
    );
}

#[test]
fn exact_scenarios_that_are_no_recruitable_pair_are_refused() {
    for settings in [
        &[("site.layout", "OnePatchHalves")][..],
        &[("site.refuge_share", "1")],
        &[("recruitment.gap_m", "Between(1, 5)")],
    ] {
        assert!(Sites::of(&scenario(settings)).is_err(), "{settings:?}");
    }
    for (path, value) in [
        ("recruitment.gap_m", "Between(5, 1)"),
        ("recruitment.stems", "Always(1)"),
        ("recruitment.cover", "[]"),
        ("recruitment.shade_share", "Always(2)"),
    ] {
        let layers = layered("verge-pair", &[(path, value)]);
        let fault = Scenario::from_layers(&layers).unwrap_err().to_string();
        assert!(fault.contains(path), "{fault}");
    }
}

/// Zeros, infinities and undefined numbers have a place or none, but never stop the drawing.
#[test]
fn exact_the_picture_of_one_study_takes_odd_values() {
    use crawlspan::output::charts::{Estimate, ForestChart, ForestRow, forest_chart};
    let row = |ratio: f64, low: f64, high: f64| ForestRow {
        label: "1 : 0".to_owned(),
        ratio,
        low,
        high,
        weight: 1.0,
    };
    let mut chart = ForestChart {
        title: "One study".to_owned(),
        note: String::new(),
        x_label: "Ratio".to_owned(),
        y_label: "Site".to_owned(),
        rows: vec![
            row(f64::INFINITY, 0.2, f64::INFINITY),
            row(0.0, 0.0, 3.0),
            row(f64::NAN, 1.0, 2.0),
            row(2.0, 1.0, 1e300),
        ],
        pooled: Some((
            Estimate {
                value: 2.0,
                low: 0.0,
                high: f64::INFINITY,
            },
            "all".to_owned(),
        )),
        marked: Some((2.0, "home ratio".to_owned())),
    };
    let drawn = forest_chart(&chart).unwrap().svg;
    assert!(drawn.contains("no effect") && !drawn.contains("NaN") && !drawn.contains("inf"));
    chart.rows.clear();
    chart.pooled = None;
    assert!(forest_chart(&chart).unwrap().svg.contains("no data"));
    chart.marked = Some((f64::NAN, "home ratio".to_owned()));
    assert!(forest_chart(&chart).is_err());
}
