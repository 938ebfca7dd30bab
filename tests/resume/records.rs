//! Which run a file belongs to can be told at any moment: a record is true of every file that it names.

#![cfg(unix)]

use super::folder::{Draws, Place, assert_same_files, files_in, text};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// A command of a fraction of a second that writes seven files.
const SEASON: &[&str] = &["season", "--seasons", "3", "--walks"];
/// The same with other bytes in all tables.
const OTHER: &[&str] = &["season", "--seasons", "3", "--walks", "--seed", "5"];
const RECORD: &str = "provenance-season.json";
const EARLIER: &str = "earlier-provenance-season.json";
const PATIENCE: Duration = Duration::from_secs(60);
const KILLS: usize = 16;
/// Longest that a run goes on after its first sign before it is killed, seconds: about what its files take.
const WRITING: f64 = 0.08;

/// Checks every record under its first name, and returns how many there are.
#[track_caller]
fn records_are_true(folder: &Path, after: &str) -> usize {
    let files = files_in(folder);
    let records = files
        .iter()
        .filter(|(name, _)| name.starts_with("provenance-"));
    let mut count = 0;
    for (record, bytes) in records {
        let said: serde_json::Value = serde_json::from_slice(bytes).expect("JSON");
        for (name, digest) in said["written"].as_object().expect("names") {
            let found = Sha256::digest(&files[name]);
            let found: String = found.iter().map(|byte| format!("{byte:02x}")).collect();
            assert_eq!(digest, &found, "{name} in {record} {after}");
        }
        count += 1;
    }
    count
}

#[test]
fn exact_results_of_a_run_that_failed_among_them_are_under_no_record() {
    let place = Place::new();
    place.fine(SEASON);
    let first = place.files();
    // A folder in the place of a file that comes late: the run fails when others are replaced already.
    let blocked = place.results().join("fates.csv");
    std::fs::remove_file(&blocked).expect("removed");
    std::fs::create_dir_all(blocked.join("full")).expect("a folder");
    let output = place.run(OTHER);
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{errors}");
    std::fs::remove_dir_all(&blocked).expect("removed");
    let mixed = place.files();
    assert!(mixed["surveys.csv"] != first["surveys.csv"]);
    assert!(mixed["walks.csv"] == first["walks.csv"]);
    assert_eq!(records_are_true(&place.results(), "after a failed run"), 0);
    assert!(
        mixed[EARLIER] == first[RECORD],
        "the old record is not lost"
    );
    // It makes the first run again, in place, and is then a record like any other.
    let output = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .arg("replay")
        .arg(place.results().join(EARLIER))
        .output()
        .expect("it runs");
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert_same_files(&place.files(), &first, "made again");
}

/// Starts a command, waits for the first sign of its results, and kills it a little later; says whether it still ran.
fn killed_among_results(place: &Place, arguments: &[&str], later: Duration) -> bool {
    let mut command = Command::new(env!("CARGO_BIN_EXE_crawlspan"));
    command.current_dir(place.path()).args(arguments);
    if arguments[0] != "replay" {
        command.args(["--out", "results"]);
    }
    command.stdout(Stdio::null()).stderr(Stdio::null());
    let mut child = command.spawn().expect("it starts");
    let (record, began) = (place.results().join(RECORD), Instant::now());
    while record.exists() && child.try_wait().expect("a state").is_none() {
        assert!(began.elapsed() < PATIENCE, "no results came");
        std::thread::sleep(Duration::from_millis(1));
    }
    std::thread::sleep(later);
    let _ = child.kill();
    !child.wait().expect("it ends").success()
}

#[test]
fn exact_a_record_is_true_at_whatever_moment_results_are_cut_short() {
    let mut draws = Draws::new(3);
    let (mut kills, mut without) = (0, 0);
    let place = Place::new();
    let whole: Vec<BTreeMap<String, Vec<u8>>> = [SEASON, OTHER]
        .iter()
        .map(|arguments| {
            place.fine(arguments);
            place.files()
        })
        .collect();
    for turn in 0..KILLS {
        // The folder holds the second run; the first one begins to replace it, or it is made again from its own record.
        let record = format!("results/verge-pair/{RECORD}");
        let replay = ["replay", &record];
        let in_place = turn % 2 == 1;
        let arguments = if in_place { &replay[..] } else { SEASON };
        let later = Duration::from_secs_f64(WRITING * draws.unit());
        kills += usize::from(killed_among_results(&place, arguments, later));
        without += usize::from(records_are_true(&place.results(), &format!("in turn {turn}")) == 0);
        let files = place.files();
        let kept = files.get(RECORD).or_else(|| files.get(EARLIER));
        assert!(kept.is_some(), "turn {turn}: the only record was lost");
        place.fine(OTHER);
        assert_same_files(&place.files(), &whole[1], &format!("after turn {turn}"));
    }
    println!("{kills} of {KILLS} runs were killed, {without} of them among their results");
    assert!(without > 0, "no run was killed among its results");
}

#[test]
fn exact_a_command_that_replaces_a_file_of_another_sets_its_record_aside() {
    let brief: &[&str] = &["brief", "near-pair", "--effort", "0.01"];
    let gap: &[&str] = &["gap", "near-pair", "--gaps", "1,4", "--seasons", "60"];
    let place = Place::new();
    let folder = place.path().join("results/near-pair");
    place.fine(brief);
    let first = files_in(&folder);
    let said = text(&place.run(gap).stdout);
    assert!(said.contains("earlier-provenance-brief.json"), "{said}");
    let second = files_in(&folder);
    assert!(second["gap.csv"] != first["gap.csv"]);
    assert_eq!(records_are_true(&folder, "of gap"), 1);
    assert!(second["earlier-provenance-brief.json"] == first["provenance-brief.json"]);
    place.fine(brief);
    assert_eq!(records_are_true(&folder, "of brief"), 1);
    let third = files_in(&folder);
    assert!(third["provenance-brief.json"] == first["provenance-brief.json"]);
    assert!(!third.contains_key("earlier-provenance-brief.json"));
    // A command that writes other files, or the same bytes, leaves all records alone.
    place.fine(&["describe", "near-pair"]);
    place.fine(brief);
    assert_eq!(records_are_true(&folder, "of brief and describe"), 2);
}
