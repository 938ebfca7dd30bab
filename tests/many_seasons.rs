//! Many seasons: neighbours are summed in groups, so that memory does not grow with their number.

mod common;

use common::plan;
use crawlspan::plan::Plan;
use crawlspan::runner::{Runner, Taken, Unwatched};
use crawlspan::stats::{LEVEL, Table, pooled_resamples, resampled_estimate};
use crawlspan::study::measures::Contrast;
use crawlspan::study::tally::Columns;
use crawlspan::study::{Effort, MOST_ROWS, resampled, seasons_a_row, tallies};
use std::sync::atomic::AtomicBool;

/// A site of a few stems watched for two days: microseconds a season.
const SMALL: [(&str, &str); 8] = [
    ("site.treated.stems", "4"),
    ("site.untouched.stems", "4"),
    ("site.margin_m", "1"),
    ("dates.lead_in_days", "1"),
    ("dates.laying_until_day", "1"),
    ("dates.run_out_days", "0"),
    ("dates.surveys", "1"),
    ("dates.first_survey_day", "0"),
];

fn table(plan: &Plan, seasons: u64) -> Table {
    let stop = AtomicBool::new(false);
    tallies(
        plan,
        &Runner::new(71, &Unwatched, &stop),
        0,
        Effort::of(seasons),
    )
    .unwrap()
}

fn rows(plan: &Plan, seasons: u64) -> Vec<Vec<f64>> {
    let stop = AtomicBool::new(false);
    let columns = Columns::of(plan);
    Runner::new(71, &Unwatched, &stop)
        .run(plan, &Taken::new("tallies", 1), 0, 0..seasons, |season| {
            columns.row(season)
        })
        .unwrap()
}

#[test]
fn exact_up_to_the_bound_every_season_keeps_its_row() {
    let plan = plan("near-pair", &SMALL);
    let (seasons, columns) = (300, Columns::of(&plan).count());
    let expected = Table::from_rows(columns, rows(&plan, seasons).concat()).unwrap();
    assert_eq!(table(&plan, seasons), expected);
    assert_eq!((seasons_a_row(1), seasons_a_row(MOST_ROWS)), (1, 1));
}

#[test]
fn exact_beyond_the_bound_rows_are_sums_of_neighbours() {
    let plan = plan("near-pair", &SMALL);
    // Twice the bound and a little: groups of three, the last of them short.
    let seasons = 2 * MOST_ROWS + 3 * 5 + 1;
    let (all, pooled) = (rows(&plan, seasons), table(&plan, seasons));
    assert_eq!(seasons_a_row(seasons), 3);
    assert_eq!(pooled.seasons() as u64, seasons.div_ceil(3));
    for (neighbours, sums) in all.chunks(3).zip(pooled.rows()) {
        for (column, sum) in sums.iter().enumerate() {
            let expected: f64 = neighbours.iter().map(|row| row[column]).sum();
            assert_eq!(*sum, expected);
        }
    }
}

/// Resampling groups of three or single seasons estimates the same interval: its half-width is a standard deviation of
/// resampled values, known to about 1/sqrt(2 B) from B resamples, and 1/sqrt(2 n) from n rows. Five standard errors.
#[test]
fn stat_groups_give_the_interval_that_single_seasons_give() {
    let plan = plan("near-pair", &[]);
    let contrast = Contrast::of(&plan);
    let (seasons, group, resamples) = (3_000, 3, 4_000);
    let all = rows(&plan, seasons);
    let columns = Columns::of(&plan).count();
    let mut grouped = Table::with_columns(columns, 0).unwrap();
    for neighbours in all.chunks(group) {
        grouped.push_group(neighbours).unwrap();
    }
    let half_width = |table: &Table| {
        let drawn = pooled_resamples(table, resamples, 73).unwrap();
        let share = resampled_estimate(&drawn, LEVEL, |sums| {
            let (late, strays) = contrast.strays(sums, 0);
            (late > 0.0).then(|| strays / late)
        });
        share.unwrap().estimate.unwrap().half_width()
    };
    let single = half_width(&Table::from_rows(columns, all.concat()).unwrap());
    let grouped = half_width(&grouped);
    // A percentile at 2.5 % has 1.9 times the relative error of a standard deviation (normal distribution); rows that
    // are far from normal (kurtosis up to 12, generously) have 2.3 times that of normal ones.
    let of_resamples = 1.9 * (0.5 / resamples as f64).sqrt() * 2.0_f64.sqrt();
    let of_rows = 2.3 * (0.5 / (seasons as f64 / group as f64)).sqrt();
    let bound = 5.0 * of_resamples.hypot(of_rows);
    println!("single {single:.5}, grouped {grouped:.5}, bound {bound:.3}");
    assert!((grouped / single - 1.0).abs() < bound);
}

/// Asks the process that runs the test below for its peak of memory.
#[cfg(target_os = "linux")]
const SEASONS: &str = "CRAWLSPAN_TEST_SEASONS";

#[cfg(target_os = "linux")]
#[test]
#[ignore = "a process of its own, started by the test below"]
fn exact_peak_of_memory_of_this_process() {
    let Some(seasons) = std::env::var(SEASONS).ok().and_then(|n| n.parse().ok()) else {
        return;
    };
    let plan = plan("near-pair", &SMALL);
    let stop = AtomicBool::new(false);
    let runner = Runner::new(71, &Unwatched, &stop);
    let mut effort = Effort::of(seasons);
    effort.resamples = 10;
    let table = tallies(&plan, &runner, 0, effort).unwrap();
    assert_eq!(resampled(&table, &runner, effort).unwrap().count(), 10);
    assert_eq!(runner.seasons_run(), seasons);
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let peak = status.lines().find(|line| line.starts_with("VmHWM:"));
    println!("{}", peak.unwrap());
}

#[cfg(target_os = "linux")]
#[test]
fn exact_peak_of_memory_does_not_grow_with_the_number_of_seasons() {
    let peak_kib = |seasons: u64| -> u64 {
        let output = std::process::Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "exact_peak_of_memory_of_this_process"])
            .args(["--ignored", "--nocapture"])
            .env(SEASONS, seasons.to_string())
            .output()
            .unwrap();
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        let line = text.lines().find_map(|line| line.split("VmHWM:").nth(1));
        let number = line.and_then(|rest| rest.trim().strip_suffix("kB").map(str::trim));
        number
            .and_then(|n| n.parse().ok())
            .unwrap_or_else(|| panic!("{text}"))
    };
    let (few, many) = (peak_kib(20_000), peak_kib(200_000));
    let row_bytes = 8 * Columns::of(&plan("near-pair", &SMALL)).count() as u64;
    let all_kib = 180_000 * row_bytes / 1024;
    println!(
        "20,000 seasons: {few} KiB; 200,000: {many} KiB; rows of the other 180,000: {all_kib} KiB"
    );
    // Tables of 6,667 and of 8,000 rows, and the blocks that fill them, differ by a few megabytes at most.
    const ALLOWED_KIB: u64 = 8 * 1024;
    assert!(all_kib > 4 * ALLOWED_KIB);
    assert!(many < few + ALLOWED_KIB);
}
