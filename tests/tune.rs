//! Fitting walking and leaving to a release: reading the table, the simulated release, recovery of what was put in.

mod common;

use common::layered;
use crawlspan::output::tune as shown;
use crawlspan::random::Key;
use crawlspan::runner::{Runner, Unwatched};
use crawlspan::scenario::{Layered, Scenario};
use crawlspan::stats::abc::AbcEffort;
use crawlspan::study::tune::{COLUMNS, TuneQuestion, Tuner, prepare, read};
use statrs::distribution::{Binomial, DiscreteCDF};
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;

fn tuner(settings: &[(&str, &str)]) -> Tuner {
    let layered = layered("marked-release", settings);
    prepare(&layered, &TuneQuestion::usual(5)).unwrap()
}

fn written(text: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::TempDir::new().unwrap();
    let path = folder.path().join("release.csv");
    std::fs::write(&path, text).unwrap();
    (folder, path)
}

#[test]
fn exact_faults_of_a_release_are_told_with_their_line() {
    let tuner = tuner(&[]);
    let header = COLUMNS.join(",");
    let cases = [
        ("1,0.35,-0.35,2026-07-15,,,\n", "nothing says when", None),
        (
            "1,0.35,-0.35,2026-07-15,1,,2026-07-16\n",
            "go together",
            Some(2),
        ),
        ("1,0.35,-0.35,2026-07-15,1,1,\n", "but not when", Some(2)),
        (
            "1,0.35,-0.35,2026-07-15,1,1,2026-07-15\n",
            "not after",
            Some(2),
        ),
        (
            "1,0.35,-0.35,soon,1,1,2026-07-16\n",
            "`soon` is no time",
            Some(2),
        ),
        (
            "1,0.35,-0.35,2027-07-15,1,1,2027-07-16\n",
            "outside the scenario's season",
            Some(2),
        ),
        (
            ",0.35,-0.35,2026-07-15,1,1,2026-07-16\n",
            "no mark",
            Some(2),
        ),
        (
            "1,4.7,-0.35,2026-07-15,1,1,2026-07-16\n",
            "nearest stem",
            Some(2),
        ),
        (
            "1,x,-0.35,2026-07-15,1,1,2026-07-16\n",
            "`x` is not a number",
            Some(2),
        ),
        (
            "1,0.35,-0.35,2026-07-15,999,1,2026-07-16\n",
            "outside the site",
            Some(2),
        ),
        (
            "1,0.35,-0.35,2026-07-15,1,1,2026-07-16\n1,0.35,-0.35,2026-07-15,1,2,2026-07-16\n",
            "found twice",
            Some(3),
        ),
        (
            "1,0.35,-0.35,2026-07-15,1,1,2026-07-16\n# a note\n1,0.35,0.35,2026-07-15,1,2,2026-07-17\n",
            "a second time",
            Some(4),
        ),
    ];
    for (rows, what, line) in cases {
        let (_folder, path) = written(&format!("{header}\n{rows}"));
        let fault = read(&path, &tuner.plan).unwrap_err();
        assert!(fault.to_string().contains(what), "{rows}: {fault}");
        if let Some(line) = line {
            let place = format!("release.csv, line {line}");
            assert!(fault.to_string().contains(&place), "{rows}: {fault}");
        }
    }
    let (_folder, path) = written("larva,released_x_m\n1,0\n");
    let fault = read(&path, &tuner.plan).unwrap_err().to_string();
    assert!(fault.contains("`released_y_m` is missing"), "{fault}");
}

#[test]
fn exact_a_release_reads_back_as_it_was_written() {
    let tuner = tuner(&[]);
    let release = tuner.imaginary(30, &[1.0, 2.5, 4.0]);
    let release = tuner.rehearsed(&release, None, Key::master(1, 1)).unwrap();
    let table = shown::release(&release, &tuner.plan.clock, "invented").unwrap();
    let (_folder, path) = written(std::str::from_utf8(&table).unwrap());
    let again = read(&path, &tuner.plan).unwrap();
    assert_eq!(again.larvae, release.larvae);
    assert_eq!(again.searches, release.searches);
    assert_eq!(again.found.len(), release.found.len());
    for found in &release.found {
        let same = again
            .found
            .iter()
            .find(|f| (f.larva, f.search) == (found.larva, found.search));
        let at_m = same.expect("the finding").at_m;
        let off = (at_m.0 - found.at_m.0).hypot(at_m.1 - found.at_m.1);
        assert!(off < 1e-3, "{off}");
    }
}

/// Larvae that never leave a stem, never die and are never overlooked are all found where they were put.
#[test]
fn exact_larvae_that_stay_are_found_where_they_were_put() {
    let mut settings = common::NO_WALKING.to_vec();
    settings.extend([
        ("survival.mature.l5", "1"),
        ("surveying.found.l5", "1"),
        ("surveying.fresh_detection", "1"),
        // Nobody pupates within two days.
        ("development.degree_days.l5", "2000"),
        ("survival.site_logit_sd", "0"),
    ]);
    let tuner_of = |settings: &[(&str, &str)]| {
        let layered = layered("marked-release", settings);
        let question = TuneQuestion {
            fit: vec!["walking.mean_cosine".to_owned()],
            ..TuneQuestion::usual(5)
        };
        prepare(&layered, &question).unwrap()
    };
    let tuner = tuner_of(&settings);
    let release = tuner.imaginary(20, &[1.0, 2.0]);
    let release = tuner.rehearsed(&release, None, Key::master(2, 2)).unwrap();
    assert_eq!(release.found.len(), 40);
    for found in &release.found {
        let put = release.larvae[found.larva].at_m;
        assert!((found.at_m.0 - put.0).hypot(found.at_m.1 - put.1) < 1e-3);
    }
}

#[test]
fn exact_what_cannot_be_fitted_is_refused() {
    let refused = |name: &str, settings: &[(&str, &str)], fit: Option<&str>| {
        let mut question = TuneQuestion::usual(5);
        if let Some(fit) = fit {
            question.fit = vec![fit.to_owned()];
        }
        prepare(&layered(name, settings), &question)
            .unwrap_err()
            .to_string()
    };
    assert!(refused("verge-pair", &[], None).contains("placed anew"));
    let coin = refused("marked-release", &[("site.cut_side", "Coin")], None);
    assert!(coin.contains("a coin decides"), "{coin}");
    for fit in [
        "laying.attraction_peak",
        "walking.stride_m",
        "walking.nothing",
    ] {
        assert!(refused("marked-release", &[], Some(fit)).contains("cannot be fitted"));
    }
    // Let go on stubble: nobody can be put there.
    let tuner = tuner(&[("site.refuge_share", "0")]);
    let whole = self::tuner(&[]);
    let release = whole.imaginary(40, &[1.0]);
    let at_cutting = |mut release: crawlspan::study::tune::Release| {
        for larva in &mut release.larvae {
            larva.time = tuner.plan.clock.cutting + 1.0;
        }
        release
    };
    let fault = tuner
        .rehearsed(&at_cutting(release), None, Key::master(3, 3))
        .unwrap_err();
    assert!(fault.to_string().contains("no leaves"), "{fault}");
}

/// Releases with parameters drawn from the prior, each fitted: how often 90 % intervals hold what was put in.
fn recovered(releases: u64, larvae: usize, effort: AbcEffort) -> (Vec<u64>, Vec<f64>) {
    let tuner = tuner(&[]);
    let parameters = tuner.parameters().len();
    let (mut held, mut widths) = (vec![0; parameters], vec![0.0; parameters]);
    let stop = AtomicBool::new(false);
    for number in 0..releases {
        let truth: Vec<f64> = (0..parameters as u64)
            .map(|at| Key::master(77, number).with(at).unit())
            .collect();
        let release = tuner.imaginary(larvae, &[1.0, 2.0, 4.0]);
        let key = Key::master(78, number);
        let release = tuner.rehearsed(&release, Some(&truth), key).unwrap();
        let runner = Runner::new(1_000 + number, &Unwatched, &stop);
        let answer = tuner.fit(&release, effort, &runner).unwrap();
        for (at, tuned) in answer.tuned.iter().enumerate() {
            let [low, _, high] = tuned.places;
            held[at] += u64::from((low..=high).contains(&truth[at]));
            widths[at] += tuned.width() / releases as f64;
        }
    }
    for (at, parameter) in tuner.parameters().iter().enumerate() {
        println!(
            "{}: 90 % intervals held the truth in {} of {releases}, mean width {:.2} of the prior's",
            parameter.path, held[at], widths[at]
        );
    }
    (held, widths)
}

/// One in a million, shared by five parameters and two sides.
const FALSE_ALARM: f64 = 1e-6 / 10.0;

#[test]
fn stat_posteriors_hold_what_was_put_in() {
    const RELEASES: u64 = 20;
    let effort = AbcEffort {
        particles: 60,
        generations: 4,
        most_tries: 15,
    };
    let (held, _) = recovered(RELEASES, 40, effort);
    let nominal = Binomial::new(0.9, RELEASES).unwrap();
    for held in held {
        assert!(nominal.cdf(held) >= FALSE_ALARM, "{held} of {RELEASES}");
    }
}

/// The same with effort; minutes.
#[test]
#[ignore = "takes minutes; its figures stand in the documentation"]
fn stat_posteriors_hold_what_was_put_in_over_many_releases() {
    const RELEASES: u64 = 120;
    let effort = AbcEffort {
        particles: 150,
        generations: 5,
        most_tries: 15,
    };
    let (held, widths) = recovered(RELEASES, 100, effort);
    let nominal = Binomial::new(0.9, RELEASES).unwrap();
    for held in held {
        assert!(nominal.cdf(held) >= FALSE_ALARM, "{held} of {RELEASES}");
    }
    // The hazard of leaving is what a release tells best.
    assert!(widths[0] < widths[1..].iter().copied().fold(f64::INFINITY, f64::min));
}

#[test]
fn exact_the_posterior_is_a_preset_that_a_scenario_extends() {
    let tuner = tuner(&[]);
    let release = tuner.imaginary(20, &[1.0]);
    let release = tuner.rehearsed(&release, None, Key::master(4, 4)).unwrap();
    let stop = AtomicBool::new(false);
    let effort = AbcEffort {
        particles: 20,
        generations: 2,
        most_tries: 20,
    };
    let fit = || {
        tuner
            .fit(&release, effort, &Runner::new(5, &Unwatched, &stop))
            .unwrap()
    };
    let answer = fit();
    assert_eq!(answer, fit());
    let preset = shown::preset(&answer, "a \"quoted\" file", Some("monarch-on-milkweed"));
    let folder = tempfile::TempDir::new().unwrap();
    std::fs::write(folder.path().join("tuned.ron"), &preset).unwrap();
    let scenario = "(name: \"after\", extends: \"tuned.ron\")".to_owned();
    let layered = Layered::from_text("after.ron", scenario, folder.path().to_owned()).unwrap();
    let numbers = Scenario::from_layers(&layered).unwrap();
    let listed = crawlspan::scenario::listed(&numbers);
    for tuned in &answer.tuned {
        let number = listed
            .iter()
            .find(|n| n.path == tuned.parameter.path)
            .unwrap();
        // The preset holds three figures.
        assert!((number.value / tuned.posterior[1] - 1.0).abs() < 0.01);
        assert_eq!(number.standing.word(), "derived");
        assert!(number.source.contains("quoted"));
    }
    assert!(shown::text(&answer, "x.csv").contains("What does the release tell?"));
    assert!(
        shown::chart(&answer)
            .unwrap()
            .svg
            .contains("Place in the plausible range")
    );
}
