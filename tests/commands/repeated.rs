//! The same seed gives the same bytes, whatever the threads; another seed does not.

use super::run::{Run, assert_same_tables};

const COMMANDS: [&[&str]; 4] = [
    &[
        "gap",
        "--gaps",
        "1,4,12",
        "--seasons",
        "150",
        "--uncertain",
        "3",
    ],
    &["sweep", "--vary", "site.gap_m=2,8", "--seasons", "100"],
    &["season", "--seasons", "4", "--walks"],
    &["refuge", "--shares", "0.3,0.7", "--seasons", "60"],
];

fn with(arguments: &[&str], more: &[&str]) -> Run {
    Run::of(&[arguments, more].concat())
}

#[test]
fn exact_the_number_of_threads_changes_no_byte() {
    for arguments in COMMANDS {
        let one = with(arguments, &["--threads", "1"]);
        for threads in ["2", "8"] {
            assert_same_tables(&one, &with(arguments, &["--threads", threads]));
        }
    }
}

#[test]
fn exact_another_seed_gives_other_seasons() {
    for arguments in COMMANDS {
        let (one, other) = (
            with(arguments, &["--seed", "1"]),
            with(arguments, &["--seed", "2"]),
        );
        assert_ne!(one.tables(), other.tables(), "{arguments:?}");
    }
}

#[test]
fn exact_a_replicate_can_be_run_alone() {
    let all = Run::of(&["season", "--seasons", "4"]).table("fates.csv");
    let third = Run::of(&["season", "--seasons", "1", "--replicate", "2"]).table("fates.csv");
    let at = all
        .columns
        .iter()
        .position(|column| column == "replicate")
        .expect("a column");
    let rows: Vec<_> = all.rows.into_iter().filter(|row| row[at] == "2").collect();
    assert!(!rows.is_empty());
    assert_eq!(rows, third.rows);
}

#[test]
fn exact_yards_and_metres_are_the_same_scenario() {
    // 12 yd = 10.9728 m, as a yard is 0.9144 m exactly.
    let season =
        |setting: &str| Run::of(&["season", "--seasons", "3", "--walks", "--set", setting]);
    let yards = season("site.gap_m=Yards(12)");
    for same in [
        "site.gap_m=10.9728",
        "site.gap_m=Feet(36)",
        "site.gap_m=Metres(10.9728)",
    ] {
        assert_same_tables(&yards, &season(same));
    }
    assert_ne!(yards.tables(), season("site.gap_m=12").tables());
}
