//! Screening of offered sites: verdicts, closed forms, the list, surfaces against direct simulation.

mod common;
#[path = "resume/folder.rs"]
#[allow(dead_code)]
mod folder;

use common::{BOUND_SE, NO_WALKING, layered, mean_se};
use crawlspan::random::{Key, unit};
use crawlspan::runner::{Runner, Unwatched};
use crawlspan::scenario::choices::PermissionRule;
use crawlspan::scenario::offered::{OfferedList, Permission, read_list};
use crawlspan::scenario::{CoverKind, Scenario};
use crawlspan::study::recruit::sites::Sites;
use crawlspan::study::screen::figures::{Figures, HalvesFigures, Origin, PairFigures, home_ratio};
use crawlspan::study::screen::grounds::{Grounds, PatchFacts, Setup};
use crawlspan::study::screen::pooled::{Job, Ranged, simulated};
use crawlspan::study::screen::verdict::{Fault, Thresholds, Use, judged};
use crawlspan::study::screen::{ScreenQuestion, answer, direct};
use folder::{Place, assert_same_files, files_in, text};
use std::fmt::Write;
use std::sync::atomic::AtomicBool;

fn scenario(settings: &[(&str, &str)]) -> Scenario {
    Scenario::from_layers(&layered("tansey-network", settings)).unwrap()
}

fn list(text: &str) -> Result<OfferedList, crawlspan::trouble::Trouble> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sites.csv");
    std::fs::write(&path, text).unwrap();
    read_list(&path)
}

fn with_runner<R>(seed: u64, work: impl FnOnce(&Runner<'_>) -> R) -> R {
    let stop = AtomicBool::new(false);
    work(&Runner::new(seed, &Unwatched, &stop))
}

fn sure(value: f64) -> Ranged {
    Ranged {
        value,
        low: value * 0.99,
        high: value * 1.01,
    }
}

fn facts(stems: f64) -> PatchFacts {
    PatchFacts {
        stems,
        density_per_m2: 2.0,
        aspect: 1.0,
        shade_share: 0.0,
        eggs: stems,
    }
}

/// Figures with which a pair passes every threshold.
fn fine() -> Figures {
    Figures {
        pair: Some(PairFigures {
            strays: [[sure(0.01); 2]; 2],
            home_ratio: 1.0,
            standing_ratio: sure(1.0),
            counted: sure(8.0),
            origin: Origin::Simulated,
        }),
        halves: HalvesFigures {
            patch: 0,
            drift: sure(0.1),
            counted: sure(5.0),
            origin: Origin::Simulated,
        },
    }
}

const THRESHOLDS: Thresholds = Thresholds {
    stray_share: 0.05,
    size_ratio: 5.0,
    false_ratio: 1.5,
    half_drift: 0.2,
    late_counted: 3.0,
    stems: 25.0,
    refuge_share: 0.5,
    permission: PermissionRule::Needed,
};

#[test]
fn exact_each_threshold_decides_by_itself() {
    let even = [facts(100.0), facts(100.0)];
    let verdict = |patches: &[PatchFacts], figures: &Figures| {
        judged(patches, Permission::Given, figures, &THRESHOLDS)
    };
    let found = verdict(&even, &fine());
    assert_eq!((found.site_use, found.close_call), (Use::Pair, false));
    assert!(found.against_pair.is_empty());
    // Strays of either patch under either assignment count.
    for treated in [0, 1] {
        for patch in [0, 1] {
            let mut figures = fine();
            figures.pair.as_mut().unwrap().strays[treated][patch] = sure(0.06);
            let found = verdict(&even, &figures);
            assert_eq!(found.site_use, Use::OnePatch);
            let expected = Fault::Strays {
                treated,
                patch,
                share: sure(0.06),
            };
            assert_eq!(found.against_pair, [expected]);
        }
    }
    // A false ratio counts either way.
    for ratio in [1.6, 1.0 / 1.6] {
        let mut figures = fine();
        figures.pair.as_mut().unwrap().standing_ratio = sure(ratio);
        let found = verdict(&even, &figures);
        assert!(matches!(
            found.against_pair[..],
            [Fault::FalseRatio { factor }] if (factor.value - 1.6).abs() < 1e-12 && factor.low < factor.high
        ));
    }
    let mut few = fine();
    few.pair.as_mut().unwrap().counted = sure(2.0);
    few.halves.counted = sure(2.0);
    assert_eq!(verdict(&even, &few).site_use, Use::Unsuitable);
    // Five-fold is too much, a little less is not.
    assert_eq!(
        verdict(&[facts(500.0), facts(100.0)], &fine()).site_use,
        Use::OnePatch
    );
    assert_eq!(
        verdict(&[facts(499.0), facts(100.0)], &fine()).site_use,
        Use::Pair
    );
    // Too few stems in one patch; a half needs as many as a patch.
    let small = verdict(&[facts(49.0), facts(24.0)], &fine());
    assert_eq!(small.site_use, Use::Unsuitable);
    assert!(matches!(
        small.against_one_patch[..],
        [Fault::FewStems { needed: 50.0, .. }]
    ));
    assert_eq!(
        verdict(&[facts(50.0), facts(24.0)], &fine()).site_use,
        Use::OnePatch
    );
    let mut drifting = fine();
    drifting.pair = None;
    drifting.halves.drift = sure(0.21);
    assert_eq!(verdict(&even[..1], &drifting).site_use, Use::Unsuitable);
}

#[test]
fn exact_without_permission_no_site_is_accepted() {
    let even = [facts(100.0), facts(100.0)];
    for (permission, accepted) in [
        (Permission::Given, true),
        (Permission::Asked, false),
        (Permission::Refused, false),
        (Permission::Unknown, false),
    ] {
        let found = judged(&even, permission, &fine(), &THRESHOLDS);
        assert_eq!(found.site_use == Use::Pair, accepted);
        assert_eq!(found.if_permitted, Use::Pair);
        let first_look = Thresholds {
            permission: PermissionRule::Disregarded,
            ..THRESHOLDS
        };
        let found = judged(&even, permission, &fine(), &first_look);
        assert_eq!(found.site_use, Use::Pair);
    }
}

#[test]
fn exact_a_close_call_has_its_threshold_within_an_interval_that_decides() {
    let even = [facts(100.0), facts(100.0)];
    let mut figures = fine();
    figures.pair.as_mut().unwrap().strays[1][0] = Ranged {
        value: 0.045,
        low: 0.03,
        high: 0.06,
    };
    assert!(judged(&even, Permission::Given, &figures, &THRESHOLDS).close_call);
    // Something else clearly rules the pair out: the strays turn nothing.
    figures.pair.as_mut().unwrap().counted = sure(1.0);
    assert!(!judged(&even, Permission::Given, &figures, &THRESHOLDS).close_call);
}

const HEADER: &str = "site,gap_m,stems_first,stems_second,area_first_m2,area_second_m2,shade_first,shade_second,permission\n";

/// With nothing cut, eggs per stem go with stems to the power zeta and with shade; where nobody walks, so do the
/// late-stage larvae, in the mean.
#[test]
fn stat_the_false_ratio_of_unequal_patches_is_that_of_the_closed_form() {
    let text = format!("{HEADER}A,12,240,60,110,31,0,0,yes\nB,12,100,100,50,50,0.6,0.1,yes\n");
    let offered = list(&text).unwrap();
    let settings = [
        &NO_WALKING[..],
        &[
            ("feeding.lifetime_intake_cm", "0"),
            ("laying.site_log_sd", "0"),
            ("laying.patch_log_sd", "0"),
            ("laying.size_exponent", "-0.4"),
        ],
    ]
    .concat();
    let grounds = Grounds::of(&scenario(&settings), &offered).unwrap();
    let shade = |share: f64| 1.0 - share * (1.0 - 0.3);
    let closed = [4.0f64.powf(-0.4), shade(0.6) / shade(0.1)];
    for (site, expected) in closed.into_iter().enumerate() {
        assert!((home_ratio(&grounds, site) / expected - 1.0).abs() < 1e-12);
        let job = Job {
            site,
            setup: Setup::Uncut,
            seasons: 1500,
        };
        let pool = with_runner(91, |runner| simulated(&grounds, &[job], runner).unwrap());
        let (log, error) = pool[0].log_standing_ratio().unwrap();
        let stems = grounds.patch(site, 0).stems / grounds.patch(site, 1).stems;
        println!(
            "site {site}: {:.3}, closed {expected:.3}, SE {error:.3}",
            log.exp() / stems
        );
        assert!((log - stems.ln() - expected.ln()).abs() < BOUND_SE * error);
        assert_eq!(pool[0].strayed(0) + pool[0].strayed(1), 0.0);
    }
}

/// Whichever patch is called first: the same site entered the other way round has the mirrored figures, up to noise.
#[test]
fn stat_a_site_is_the_same_from_either_side() {
    let text = format!("{HEADER}A,4,150,80,60,45,0,0.2,yes\nB,4,80,150,45,60,0.2,0,yes\n");
    let offered = list(&text).unwrap();
    let grounds = Grounds::of(&scenario(&[]), &offered).unwrap();
    let figures = with_runner(93, |runner| direct(&grounds, &[0, 1], 800, runner).unwrap());
    let pair = |site: usize| figures[site].pair.as_ref().unwrap();
    let log_se = |share: Ranged| {
        let odds = |share: f64| (share / (1.0 - share)).ln();
        (
            odds(share.value),
            (odds(share.high) - odds(share.low)) / 3.92,
        )
    };
    for treated in [0, 1] {
        for patch in [0, 1] {
            let (one, one_se) = log_se(pair(0).strays[treated][patch]);
            let (other, other_se) = log_se(pair(1).strays[1 - treated][1 - patch]);
            assert!((one - other).abs() < BOUND_SE * one_se.hypot(other_se));
        }
    }
    assert!((pair(0).home_ratio * pair(1).home_ratio - 1.0).abs() < 1e-12);
}

#[test]
fn exact_yards_and_metres_give_the_same_sites() {
    let metric = list(
        "site,gap_m,stems_first,stems_second,length_first_m,width_first_m,density_second_per_m2\nA,9.144,80,90,9.144,4.572,2\n",
    )
    .unwrap();
    let density = 2.0 * 0.9144 * 0.9144;
    let yards = list(&format!(
        "site,gap_yd,stems_first,stems_second,length_first_yd,width_first_yd,density_second_per_yd2\nA,10,80,90,10,5,{density}\n"
    ))
    .unwrap();
    let (one, other) = (&metric.sites[0], &yards.sites[0]);
    let close = |one: Option<f64>, other: Option<f64>| {
        assert!(
            (one.unwrap() / other.unwrap() - 1.0).abs() < 1e-12,
            "{one:?} {other:?}"
        );
    };
    close(one.gap_m, other.gap_m);
    for patch in [0, 1] {
        close(
            one.patches[patch].density_per_m2,
            other.patches[patch].density_per_m2,
        );
    }
    close(one.patches[0].density_per_m2, Some(80.0 / (9.144 * 4.572)));
    close(one.patches[0].aspect, Some(2.0));
    close(one.patches[0].aspect, other.patches[0].aspect);
    let outline = list(
        "site,gap_yd,stems_first,stems_second,outline_first_yd\nA,10,80,90,0 0; 10 0; 10 5; 0 5\n",
    )
    .unwrap();
    close(
        outline.sites[0].patches[0].density_per_m2,
        one.patches[0].density_per_m2,
    );
}

#[test]
fn exact_what_a_list_means_and_what_it_carries() {
    let found = list(
        "site,gap_m,stems_first,stems_second,first_name,between,surroundings,permission,latitude_deg,parish,kind\n\
         A,12,80,90,north,tall grass,Mown,asked,44.5,Upper,verge\nB,,120,,,,,,,Lower,\n",
    )
    .unwrap();
    assert_eq!(found.carried, ["parish", "kind"]);
    let [pair, single] = found.sites.as_slice() else {
        panic!("two sites");
    };
    assert_eq!(pair.patches[0].name, "north");
    assert_eq!(pair.patches[1].name, "second patch");
    assert_eq!(pair.between, Some(CoverKind::TallGrass));
    assert_eq!(pair.permission, Permission::Asked);
    assert_eq!(pair.carried, ["Upper", "verge"]);
    assert_eq!((single.gap_m, single.patches.len()), (None, 1));
    assert_eq!(single.permission, Permission::Unknown);
}

#[test]
fn exact_faults_in_a_list_name_line_and_remedy() {
    let header = "site,gap_m,stems_first,stems_second,area_first_m2,shade_first,permission\n";
    let cases = [
        (
            "A,12,80,90,,,yes\nA,14,80,90,,,yes\n",
            "line 3",
            "stands on line 2",
        ),
        ("A,12,80.5,90,,,yes\n", "line 2", "80.5"),
        ("A,-1,80,90,,,yes\n", "line 2", "gap_m"),
        ("A,,80,90,,,yes\n", "line 2", "no gap"),
        ("A,12,80,,,,yes\n", "line 2", "no second patch"),
        ("A,12,80,90,40,1.5,yes\n", "line 2", "shade_first"),
        ("A,12,80,90,40,,maybe\n", "line 2", "maybe"),
        ("A,12,80,90,0.02,,yes\n", "line 2", "stems per m2"),
        (",12,80,90,,,yes\n", "line 2", "no name"),
        ("A,wide,80,90,,,yes\n", "line 2", "wide"),
    ];
    for (rows, line, what) in cases {
        let fault = list(&format!("{header}{rows}")).unwrap_err().to_string();
        assert!(fault.contains(line) && fault.contains(what), "{fault}");
        assert!(
            fault.contains("expected:") && fault.contains("to do:"),
            "{fault}"
        );
    }
    for (header, what) in [
        ("site,gap_m,gap_yd,stems_first,stems_second", "both given"),
        (
            "site,gap_m,stems_first,stems_second,area_first_m2,area_second_yd2",
            "different units",
        ),
        ("site,stems_first,stems_second", "gap_m"),
        ("gap_m,stems_first,stems_second", "site"),
        (
            "site,gap_m,stems_first,stems_second,kind,kind",
            "there twice",
        ),
    ] {
        let columns = header.split(',').count();
        let row = vec!["1"; columns].join(",");
        let fault = list(&format!("{header}\n{row}\n")).unwrap_err().to_string();
        assert!(fault.contains("line 1") && fault.contains(what), "{fault}");
    }
}

/// The list is recruited from as well: pairs only, and a coin decides which patch is treated.
#[test]
fn exact_recruit_reads_the_same_list() {
    let sites = Sites::of(&scenario(&[])).unwrap();
    assert!(sites.coin_decides());
    let mut first_treated = 0;
    let mut lime_walk = [0; 2];
    with_runner(95, |runner| {
        for number in 0..600 {
            let site = sites.draw(runner.key(0, number));
            first_treated += u32::from(!site.swapped);
            if site.stems == [90.0, 95.0] {
                lime_walk[0] += 1;
                assert_eq!(site.shade_share, [0.05, 0.7]);
            } else if site.stems == [95.0, 90.0] {
                lime_walk[1] += 1;
                assert_eq!(site.shade_share, [0.7, 0.05]);
            }
        }
    });
    assert!(lime_walk.iter().all(|count| *count > 0), "{lime_walk:?}");
    // Binomial: 600 tosses have an SD of 12.2.
    assert!((f64::from(first_treated) - 300.0).abs() < BOUND_SE * 12.25);
}

/// An invented list, long enough for surfaces.
fn long_list(sites: u64) -> OfferedList {
    let mut rows = String::from(
        "site,gap_m,stems_first,stems_second,density_first_per_m2,density_second_per_m2,between,permission\n",
    );
    for site in 0..sites {
        let mut stream = Key::master(4_711, site).stream();
        let mut evenly_by_ratio = |low: f64, high: f64| low * (high / low).powf(unit(&mut stream));
        let gap = evenly_by_ratio(1.5, 25.0);
        let (first, second) = (evenly_by_ratio(30.0, 250.0), evenly_by_ratio(30.0, 250.0));
        let (one, other) = (evenly_by_ratio(0.7, 6.0), evenly_by_ratio(0.7, 6.0));
        let between = if unit(&mut stream) < 0.5 {
            "Mown"
        } else {
            "TallGrass"
        };
        writeln!(
            rows,
            "S{site},{gap},{first:.0},{second:.0},{one},{other},{between},yes"
        )
        .unwrap();
    }
    list(&rows).unwrap()
}

/// Surfaces say of sites that they never saw what direct simulation says, within the errors that both state. Squared
/// deviates of k sites have mean 1 and variance 2/k if the errors are right; those of the surface rest on the held-out
/// sites, which adds 2/held.
#[test]
fn stat_surfaces_agree_with_direct_simulation_at_sites_they_never_saw() {
    let offered = long_list(420);
    let question = ScreenQuestion {
        seasons: 120,
        direct_up_to: 0,
    };
    let scenario = scenario(&[]);
    let found = with_runner(97, |runner| {
        answer(&scenario, &offered, &question, runner).unwrap()
    });
    let report = found.surface.as_ref().unwrap();
    let held = report.held_out.len() as f64;
    let unseen: Vec<usize> = (0..found.sites.len())
        .filter(|site| !report.anchors.contains(site))
        .filter(|site| report.held_out.iter().all(|other| other.site != *site))
        .filter(|site| found.sites[*site].figures.pair.as_ref().unwrap().origin == Origin::Fitted)
        .collect();
    let own = with_runner(98, |runner| {
        direct(&found.grounds, &unseen, 300, runner).unwrap()
    });
    let log_se = |share: Ranged| {
        let odds = |share: f64| (share / (1.0 - share)).ln();
        (
            odds(share.value),
            (odds(share.high) - odds(share.low)) / 3.92,
        )
    };
    let mut deviates = Vec::new();
    for (site, own) in unseen.iter().zip(&own) {
        let fitted = found.sites[*site].figures.pair.as_ref().unwrap();
        let own = own.pair.as_ref().unwrap();
        let (log, error) = log_se(own.strays[0][0]);
        // From ten strays on, the logarithm of their odds is about normal.
        if error < 0.35 {
            let (read, its_error) = log_se(fitted.strays[0][0]);
            deviates.push((log - read) / error.hypot(its_error));
        }
    }
    let k = deviates.len() as f64;
    let (mean, _) = mean_se(&deviates);
    let square = deviates.iter().map(|z| z * z).sum::<f64>() / k;
    println!(
        "{k} unseen sites: mean deviate {mean:.2}, mean square {square:.2}; misfit {:?}; agreement {:?}",
        report.misfit,
        report.agreement()
    );
    assert!(k >= 30.0, "{k}");
    assert!(square < 1.0 + BOUND_SE * (2.0 / k + 2.0 / held).sqrt());
    assert!(mean.abs() < BOUND_SE * (1.0 / k + 1.0 / held).sqrt());
}

/// The gap named as needed is wide enough: simulated anew at that gap, the strays are no more than tolerated.
#[test]
fn stat_the_gap_that_would_do_does() {
    let text = format!("{HEADER}A,1,150,140,70,70,0,0,yes\n");
    let offered = list(&text).unwrap();
    let scenario = scenario(&[]);
    let question = ScreenQuestion {
        seasons: 600,
        ..ScreenQuestion::default()
    };
    let found = with_runner(99, |runner| {
        answer(&scenario, &offered, &question, runner).unwrap()
    });
    let gap = found.sites[0]
        .remedies
        .iter()
        .find_map(|remedy| match remedy {
            crawlspan::study::screen::remedy::Remedy::Gap(needed) => needed.gap_m,
            _ => None,
        })
        .unwrap();
    let wider = found.grounds.with_gaps(&[(0, gap)]);
    let own = with_runner(100, |runner| direct(&wider, &[0], 800, runner).unwrap());
    let worst = own[0].pair.as_ref().unwrap().worst().share;
    println!("a gap of {gap} m: {worst:?}");
    assert!(gap > 1.0);
    // Both runs have errors; the interval of 95 % is 3.9 SE wide.
    let error = (worst.high - worst.low) / 3.92;
    assert!(worst.value < 0.05 + BOUND_SE * 2f64.sqrt() * error);
}

#[test]
fn exact_latitude_changes_the_hours_of_walking_only_where_it_is_told() {
    let text = "site,gap_m,stems_first,stems_second,latitude_deg\nA,12,80,90,\nB,12,80,90,60\nC,12,80,90,30\n";
    let offered = list(text).unwrap();
    let grounds = Grounds::of(&scenario(&[]), &offered).unwrap();
    assert_eq!(grounds.daylight_h(0), 15.0);
    assert!(grounds.daylight_h(1) > 16.0 && grounds.daylight_h(2) < 14.5);
    let total = |site: usize| {
        let clock = grounds.plan(site, Setup::Uncut).unwrap().clock;
        (
            clock.active_hours.total(),
            clock.degree_days.total(),
            clock.flight_weeks.total(),
        )
    };
    assert!(total(1).0 > total(0).0 && total(2).0 < total(0).0);
    assert_eq!(total(1).1, total(0).1);
    assert!((total(1).2 / total(0).2 - 1.0).abs() < 1e-9);
}

const SMALL: &[&str] = &["screen", "few.csv", "--seasons", "24"];

fn few(place: &Place) {
    let text = format!(
        "{}A,3,80,90,40,45,0,0,yes,verge\nB,15,120,140,60,60,0,0,yes,garden\nC,,160,,80,,0,,yes,field\nD,12,60,20,30,10,0,0,asked,\n",
        HEADER.replace("permission", "permission,kind")
    );
    std::fs::write(place.path().join("few.csv"), text).unwrap();
}

#[test]
fn exact_the_command_writes_what_it_says_and_replay_makes_it_again() {
    let place = Place::new();
    few(&place);
    place.fine(&[SMALL, &["--threads", "1"]].concat());
    let results = place.path().join("results/tansey-network");
    let wanted = files_in(&results);
    for name in [
        "screen.txt",
        "screen.csv",
        "accepted.csv",
        "screen.svg",
        "screen.png",
        "screen.html",
        "provenance-screen.json",
        "scenario-screen.ron",
    ] {
        assert!(wanted.contains_key(name), "{name}");
    }
    let accepted = text(&wanted["accepted.csv"]);
    assert!(
        accepted
            .lines()
            .next()
            .unwrap()
            .ends_with(",late_counted,kind"),
        "{accepted}"
    );
    let back = list(&accepted).unwrap();
    assert!(
        back.sites
            .iter()
            .any(|site| site.used_as.as_deref() == Some("pair"))
    );
    assert_eq!(back.carried, ["kind"]);

    let other = Place::new();
    few(&other);
    other.fine(&[SMALL, &["--threads", "2"]].concat());
    let found = files_in(&other.path().join("results/tansey-network"));
    assert_same_files(&found, &wanted, "two threads");

    // The list travels with the record.
    std::fs::remove_file(place.path().join("few.csv")).unwrap();
    let record = results.join("provenance-screen.json");
    let again = Place::new();
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(again.path())
        .arg("replay")
        .arg(&record)
        .args(["--out", "again"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let found = files_in(&again.path().join("again/tansey-network"));
    assert_same_files(&found, &wanted, "replay");
}

#[test]
fn exact_shards_make_what_the_whole_makes() {
    let whole = Place::new();
    few(&whole);
    whole.fine(SMALL);
    let wanted = files_in(&whole.path().join("results/tansey-network"));
    let shared = Place::new();
    few(&shared);
    for shard in ["1/2", "2/2"] {
        shared.fine(&[SMALL, &["--shard", shard]].concat());
    }
    let results = shared.path().join("results/tansey-network");
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(shared.path())
        .arg("gather")
        .arg(&results)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let mut found = files_in(&results);
    found.retain(|name, _| wanted.contains_key(name));
    assert_same_files(&found, &wanted, "shards");
}

#[test]
fn exact_bad_lists_are_refused_before_anything_is_written() {
    let place = Place::new();
    std::fs::write(
        place.path().join("few.csv"),
        "site,gap_m,gap_yd,stems_first,stems_second\nA,3,3,80,90\n",
    )
    .unwrap();
    for (arguments, what) in [
        (SMALL, "few.csv, line 1"),
        (&["screen", "none.csv"], "none.csv"),
        (&["screen", "--scenario", "one-patch"], "not a pair"),
        (&["screen", "--seasons", "5"], "--seasons"),
    ] {
        let output = place.run(arguments);
        let errors = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{errors}");
        assert!(
            errors.contains(what) && errors.contains("to do:"),
            "{errors}"
        );
        assert!(!place.path().join("results").exists());
    }
}
