//! The calendar: its days against independent counts of the same seasons and against degree-days by hand, its rounds
//! against simulation, its cutting dates against a sweep.

mod common;

use common::{ALL_ALIKE, BOUND_SE, NO_WALKING, each_season, layered, ratio_se};
use crawlspan::plan::Plan;
use crawlspan::random::Key;
use crawlspan::runner::{Runner, Unwatched};
use crawlspan::scenario::files::days_between;
use crawlspan::scenario::{STAGES, Scenario};
use crawlspan::season::record::Recorder;
use crawlspan::season::{Fate, Season};
use crawlspan::study::Effort;
use crawlspan::study::calendar::{
    CalendarAnswer, CalendarQuestion, Part, answer, compare, decline, long_plan, parse_dates,
    rounds,
};
use crawlspan::study::sweep::{self, Axis};
use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Output};
use std::sync::atomic::AtomicBool;
use tempfile::TempDir;

const SEED: u64 = 5;

/// A season by hand: 25 C throughout, all larvae alike, nobody dies or walks, all stems grow back at once.
fn by_hand() -> Vec<(&'static str, &'static str)> {
    let mut settings = vec![
        ("weather.source", "Constant"),
        ("weather.mean_c", "25"),
        ("development.lower_threshold_c", "11.5"),
        ("cutting.regrowth_lag_sd_weeks", "0"),
        ("cutting.regrown_share", "1"),
        ("walking.death_per_active_hour", "0"),
    ];
    for stage in ["egg", "l1", "l2", "l3", "l4", "l5"] {
        let path = match stage {
            "egg" => "survival.mature.egg",
            "l1" => "survival.mature.l1",
            "l2" => "survival.mature.l2",
            "l3" => "survival.mature.l3",
            "l4" => "survival.mature.l4",
            _ => "survival.mature.l5",
        };
        settings.push((path, "1"));
    }
    settings.extend(NO_WALKING);
    settings.extend(ALL_ALIKE);
    settings
}

fn scenario(settings: &[(&str, &str)]) -> Scenario {
    Scenario::from_layers(&layered("verge-pair", settings)).unwrap()
}

fn answered(settings: &[(&str, &str)], seasons: u64) -> CalendarAnswer {
    let layered = layered("verge-pair", settings);
    let scenario = Scenario::from_layers(&layered).unwrap();
    let stop = AtomicBool::new(false);
    let question = CalendarQuestion {
        cuttings: vec![scenario.cutting_date],
        seasons,
    };
    let runner = Runner::new(SEED, &Unwatched, &stop);
    answer(&layered, &scenario, &question, &runner).unwrap()
}

#[test]
fn exact_an_egg_gets_as_far_as_degree_days_by_hand_say() {
    let settings = by_hand();
    let scenario = scenario(&settings);
    let found = answered(&settings, 20);
    // At 25 C there are 13.5 degree-days a day above 11.5 C.
    let dd = scenario.numbers.development.degree_days;
    let departure = scenario.numbers.survival.pupation_departure;
    for egg in &found.eggs[..40] {
        let mut days = egg.day as f64;
        for (need, begins) in dd[..STAGES - 1].iter().zip(&egg.begins) {
            days += need / 13.5;
            let begins = begins.unwrap();
            assert!((begins - days).abs() < 1e-9, "{egg:?}: {days}");
        }
        let leaves = days + departure * dd[STAGES - 1] / 13.5;
        assert!((egg.begins[STAGES - 1].unwrap() - leaves).abs() < 1e-9);
        let pupates = days + dd[STAGES - 1] / 13.5;
        assert!((egg.begins[STAGES].unwrap() - pupates).abs() < 1e-9);
        let times: Vec<f64> = egg.begins.iter().flatten().copied().collect();
        assert!(times.windows(2).all(|pair| pair[0] < pair[1]));
    }
}

#[test]
fn exact_the_first_l5_is_there_when_degree_days_by_hand_say() {
    const SEASONS: u64 = 40;
    let settings = by_hand();
    let scenario = scenario(&settings);
    let plan = Plan::of(scenario.clone()).unwrap();
    let found = answered(&settings, SEASONS);
    for stage in 0..STAGES {
        let wait: f64 = scenario.numbers.development.degree_days[..stage]
            .iter()
            .sum::<f64>()
            / 13.5;
        let stay = match stage {
            5 => scenario.numbers.survival.pupation_departure,
            _ => 1.0,
        } * scenario.numbers.development.degree_days[stage]
            / 13.5;
        let mut firsts = Vec::new();
        let long = long_plan(&scenario).unwrap();
        each_season(&long, SEED, SEASONS, |season| {
            let own = season.larvae.iter().filter(|larva| {
                larva.was_laid()
                    && season.stems[larva.natal].half.is_cut()
                    && larva.laid_at >= long.clock.cutting
            });
            // The first whole day after cutting on which somebody is in the stage.
            let first = own
                .filter_map(|larva| {
                    let from =
                        (larva.laid_at - long.clock.cutting) / long.clock.ticks_per_day + wait;
                    (from.ceil() < from + stay).then_some(from.ceil())
                })
                .fold(f64::INFINITY, f64::min);
            firsts.push(first);
        });
        firsts.sort_by(f64::total_cmp);
        assert_eq!(
            found.days.firsts[stage].tenth,
            Some(firsts[3]),
            "stage {stage}"
        );
        assert_eq!(
            found.days.firsts[stage].half,
            Some(firsts[19]),
            "stage {stage}"
        );
        // Not before the stems have grown back and an egg laid that day has come so far.
        let lag = 7.0 * crawlspan::life::traits::regrowth_lag_weeks(&scenario);
        assert!(firsts[0] >= lag + wait, "{} {lag} {wait}", firsts[0]);
    }
    assert_eq!(plan.clock.cutting % plan.clock.ticks_per_day, 12.0);
}

#[test]
fn exact_days_agree_with_lives_counted_one_by_one() {
    // Nobody walks, so that every larva stands where it was laid, in the stage that its recorded phases say.
    const SEASONS: u64 = 8;
    let mut settings = NO_WALKING.to_vec();
    // Stems that nobody can eat out: their larvae would walk.
    settings.push(("feeding.lifetime_intake_cm", "0"));
    let found = answered(&settings, SEASONS.max(20));
    let scenario = scenario(&settings);
    let plan = long_plan(&scenario).unwrap();
    let mut season = Season::new(&plan);
    let seasons = 20;
    let mut counted: BTreeMap<(Part, usize, usize), f64> = BTreeMap::new();
    for replicate in 0..seasons {
        let mut record = Recorder::default();
        season.run(Key::master(SEED, 0).with(replicate), &mut record);
        for (id, larva) in season
            .larvae
            .iter()
            .enumerate()
            .filter(|(_, larva)| larva.was_laid())
        {
            let half = season.stems[larva.natal].half;
            let part = match (half.patch(), half.is_cut()) {
                (0, true) => Part::Cut,
                (0, false) => Part::Refuge,
                _ => Part::Untouched,
            };
            let mut from = vec![(larva.laid_at, 0u8)];
            let own = record
                .phases
                .iter()
                .filter(|(other, ..)| other.index() == id);
            from.extend(own.map(|(_, phase, time)| (*time, *phase)));
            for (day, time) in plan.clock.surveys.iter().enumerate() {
                let phase = from
                    .iter()
                    .rev()
                    .find(|(began, _)| began <= time)
                    .map(|(_, phase)| *phase);
                let here =
                    phase.filter(|phase| usize::from(*phase) < STAGES && larva.ended_at > *time);
                if let Some(stage) = here {
                    *counted
                        .entry((part, usize::from(stage), day))
                        .or_insert(0.0) += 1.0;
                }
            }
        }
    }
    let mut all = 0.0;
    for part in &found.days.parts {
        for (day, row) in part.present.iter().enumerate() {
            for (stage, spread) in row.iter().enumerate() {
                let wanted = counted
                    .get(&(part.part, stage, day))
                    .copied()
                    .unwrap_or(0.0);
                let mean = spread.mean * part.stems as f64 / 100.0 * seasons as f64;
                assert!(
                    (mean - wanted).abs() < 1e-6,
                    "{:?} {stage} {day}: {mean} {wanted}",
                    part.part
                );
                assert!(spread.low <= spread.high);
                all += wanted;
            }
        }
    }
    assert!(all > 10_000.0, "{all}");
}

#[test]
fn exact_stages_come_one_after_the_other() {
    let found = answered(&[], 200);
    let firsts = &found.days.firsts;
    for pair in firsts.windows(2) {
        assert!(
            pair[0].tenth.unwrap() <= pair[1].tenth.unwrap(),
            "{firsts:?}"
        );
        assert!(pair[0].half.unwrap() <= pair[1].half.unwrap(), "{firsts:?}");
    }
    for first in firsts {
        assert!(first.tenth.unwrap() <= first.half.unwrap());
    }
    let regrown: Vec<f64> = found.days.regrown.iter().map(|share| share.mean).collect();
    assert!(regrown.windows(2).all(|pair| pair[0] <= pair[1]));
    // No run of weeks as short holds as much.
    let weeks = &found.weeks;
    let (from, to) = weeks.run.unwrap();
    let length = to + 1 - from;
    let held = |run: &[f64]| run.iter().sum::<f64>();
    assert!((held(&weeks.shares) - 1.0).abs() < 1e-9);
    assert!((held(&weeks.shares[from - 1..to]) - weeks.held).abs() < 1e-12 && weeks.held >= 0.9);
    assert!(
        weeks
            .shares
            .windows(length)
            .all(|run| held(run) <= weeks.held + 1e-12)
    );
    assert!(weeks.shares.windows(length - 1).all(|run| held(run) < 0.9));
    // The five survey days of the scenario are weekly: their share is that of weeks 2 to 6.
    assert!((weeks.scenario.unwrap() - held(&weeks.shares[1..6])).abs() < 1e-9);
}

#[test]
fn stat_rounds_by_degree_days_are_those_of_simulated_lives() {
    const SEASONS: u64 = 150;
    for date in ["2026-07-01", "2026-07-15", "2026-07-29"] {
        let quoted = format!("\"{date}\"");
        let mut settings = NO_WALKING.to_vec();
        settings.extend([
            ("dates.cutting", quoted.as_str()),
            ("development.rate_log_sd", "0"),
            ("feeding.lifetime_intake_cm", "0"),
        ]);
        let scenario = scenario(&settings);
        let expected = rounds(&scenario).own.unwrap().in_time;
        let plan = long_plan(&scenario).unwrap();
        let clock = &plan.clock;
        let decline = days_between(clock.start, decline(&scenario)) as f64 * clock.ticks_per_day;
        let mut rows = Vec::new();
        each_season(&plan, SEED, SEASONS, |season| {
            let of_round = season.larvae.iter().filter(|larva| {
                let stem = &season.stems[larva.natal];
                stem.half.is_cut()
                    && larva.fate() == Some(Fate::Pupated)
                    && larva.laid_at >= clock.cutting
                    && larva.laid_at < stem.mature_at
            });
            let (mut in_time, mut all) = (0.0, 0.0);
            for larva in of_round {
                all += 1.0;
                in_time += f64::from(u8::from(larva.ended_at < decline));
            }
            rows.push((in_time, all));
        });
        let (share, se) = ratio_se(&rows);
        // Eggs are weighed by the day, those of the last half day before or after the limit wrongly: 1 % at the most.
        const BY_THE_DAY: f64 = 0.01;
        let off = (share - expected).abs();
        assert!(
            off < BOUND_SE * se + BY_THE_DAY,
            "{date}: {share} {se} {expected}"
        );
        assert!(se < 0.02, "the test sees something");
    }
}

#[test]
fn exact_the_last_cutting_is_the_last_that_is_in_time() {
    let scenario = scenario(&[]);
    let found = rounds(&scenario);
    let last = found.last.unwrap();
    let enough = scenario.numbers.answers.finished_share;
    for round in &found.all {
        assert_eq!(round.in_time >= enough, round.cutting <= last, "{round:?}");
        assert_eq!(
            round.finished.is_some(),
            round.in_time >= enough,
            "{round:?}"
        );
    }
    assert!(
        found
            .all
            .iter()
            .all(|round| round.in_time.is_sign_positive())
    );
    // Flight falls from 1 on 10 August to 0 on 25 September: a quarter is left on 13.5 September.
    assert_eq!(found.decline.to_string(), "2026-09-14");
}

#[test]
fn exact_a_cutting_date_gives_what_a_sweep_gives() {
    const SEASONS: u64 = 60;
    let layered = layered("verge-pair", &[]);
    let stop = AtomicBool::new(false);
    let runner = Runner::new(SEED, &Unwatched, &stop);
    let dates = parse_dates("2026-06-17..2026-07-15/2").unwrap();
    assert_eq!(
        dates.iter().map(ToString::to_string).collect::<Vec<_>>(),
        ["2026-06-17", "2026-07-01", "2026-07-15"]
    );
    let all = compare(&layered, &dates, Effort::of(SEASONS), &runner).unwrap();
    for (date, found) in dates.iter().zip(&all) {
        let axis = Axis {
            path: "dates.cutting".to_owned(),
            values: vec![format!("\"{date}\"")],
        };
        let effort = (Effort::of(SEASONS), None);
        let point = sweep::point(
            &layered,
            std::slice::from_ref(&axis),
            &axis.values,
            effort,
            &runner,
        )
        .unwrap();
        assert_eq!(found.net_yield.value, point.measure("net_yield").value);
        assert_eq!(
            found.observed_ratio.value,
            point.measure("observed_ratio").value
        );
        // The same seasons whatever dates stand beside it.
        let alone = compare(&layered, &[*date], Effort::of(SEASONS), &runner).unwrap();
        assert_eq!(alone[0].late_cut, found.late_cut);
        // Late-stage larvae on the cut half, counted from the sightings.
        let scenario = common::plan("verge-pair", &[("dates.cutting", &format!("\"{date}\""))]);
        let mut late = 0.0;
        each_season(&scenario, SEED, SEASONS, |season| {
            late += season
                .sightings
                .iter()
                .filter(|seen| seen.stands.is_cut() && seen.stage == 5)
                .count() as f64;
        });
        let per_hundred = late / 75.0 * 100.0 / SEASONS as f64;
        assert!((found.late_cut.value.unwrap() - per_hundred).abs() < 1e-9);
    }
    let best = all
        .iter()
        .map(|date| date.late_to_best.value.unwrap())
        .fold(0.0, f64::max);
    assert_eq!(best, 1.0);
}

fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder)
        .args(arguments)
        .output()
        .unwrap()
}

/// Expects exit code 2 and some words in the message.
#[track_caller]
fn refused(folder: &Path, arguments: &[&str], words: &[&str]) {
    let output = run(folder, arguments);
    let errors = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {errors}");
    for word in words.iter().chain(&["where:", "expected:", "to do:"]) {
        assert!(errors.contains(word), "{word}: {errors}");
    }
}

#[test]
fn exact_bad_dates_are_refused() {
    let folder = TempDir::new().unwrap();
    let dates = |text: &'static str| ["calendar", "--seasons", "20", "--cuttings", text];
    for (text, word) in [
        ("2026-06-31", "`2026-06-31` is not a date"),
        ("soon", "`soon` is not a date"),
        ("2026-07-01,2026-07-01", "given twice"),
        ("2026-07-01..2026-07-10", "number of steps"),
        ("2026-07-01..2026-07-10/4", "do not make 4 steps"),
        ("2026-07-10..2026-07-01/3", "do not make 3 steps"),
        ("2026-07-01..2026-07-10/0", "makes no sense"),
    ] {
        refused(folder.path(), &dates(text), &[word, "--cuttings"]);
    }
    refused(
        folder.path(),
        &["calendar", "--set", "site.refuge_share=1"],
        &["nothing is cut", "site.refuge_share"],
    );
    assert!(!folder.path().join("output").exists());
}

/// Printed text without its line breaks.
fn unwrapped(printed: Vec<u8>) -> String {
    let text = String::from_utf8(printed).unwrap();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Daily temperatures from 1 May on.
fn station(folder: &Path, days: i64) {
    let first: jiff::civil::Date = "2026-05-01".parse().unwrap();
    let mut text = "date,min_c,max_c\n".to_owned();
    for day in 0..days {
        let date = first.checked_add(jiff::ToSpan::days(day)).unwrap();
        text += &format!("{date},{},{}\n", 12 + day % 3, 24 + day % 5);
    }
    std::fs::write(folder.join("station.csv"), text).unwrap();
    let scenario = "(name: \"at-a-station\", extends: \"monarch-on-milkweed\", dates: (cutting: \"2026-07-01\"), \
                    weather: (source: Station(\"station.csv\")))";
    std::fs::write(folder.join("own.ron"), scenario).unwrap();
}

#[test]
fn exact_dates_beyond_the_station_are_refused_or_left_out_aloud() {
    let folder = TempDir::new().unwrap();
    // To 18 September: cutting on 1 July needs 70 days after it, and one on 15 July has them no more.
    station(folder.path(), 141);
    refused(
        folder.path(),
        &[
            "calendar",
            "own.ron",
            "--seasons",
            "20",
            "--cuttings",
            "2026-07-01,2026-07-22",
        ],
        &[
            "cut on 2026-07-22",
            "the station covers 141 days from 2026-05-01",
        ],
    );
    let output = run(folder.path(), &["calendar", "own.ron", "--seasons", "20"]);
    let errors = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(0), "{errors}");
    assert!(
        errors.contains("of the weekly dates around the scenario's own are left out"),
        "{errors}"
    );
    let text = unwrapped(output.stdout);
    assert!(text.contains("Egg-laying is followed to day"), "{text}");
    // With the record ending before the decline, the round is not known, and says so.
    station(folder.path(), 132);
    let output = run(
        folder.path(),
        &[
            "calendar",
            "own.ron",
            "--seasons",
            "20",
            "--cuttings",
            "2026-07-01",
        ],
    );
    let text = unwrapped(output.stdout);
    assert!(
        text.contains("is not known: temperatures are known to"),
        "{text}"
    );
}

/// All files of a folder but those that say how it was run.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| !path.file_name().unwrap().to_string_lossy().starts_with('.'))
        .map(|path| {
            (
                path.file_name().unwrap().to_string_lossy().into_owned(),
                std::fs::read(path).unwrap(),
            )
        })
        .collect()
}

#[test]
fn exact_threads_and_replay_change_no_byte() {
    let folder = TempDir::new().unwrap();
    let path = folder.path();
    let command = [
        "calendar",
        "one-patch",
        "--seasons",
        "40",
        "--cuttings",
        "2026-06-24,2026-07-08",
    ];
    for (threads, out) in [("1", "one"), ("2", "two")] {
        let output = run(
            path,
            &[&command[..], &["--threads", threads, "--out", out]].concat(),
        );
        assert_eq!(output.status.code(), Some(0));
        let said = String::from_utf8(output.stdout).unwrap();
        assert!(
            said.lines().all(|line| line.chars().count() <= 80),
            "{said}"
        );
        assert!(said.contains("This is planning evidence, not permission."));
    }
    let one = files(&path.join("one/one-patch"));
    assert!(one.len() > 12, "{:?}", one.keys());
    assert!(one == files(&path.join("two/one-patch")));
    let record = "one/one-patch/provenance-calendar.json";
    let output = run(
        path,
        &["replay", record, "--out", "again", "--threads", "2"],
    );
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    assert!(one == files(&path.join("again/one-patch")));
}
