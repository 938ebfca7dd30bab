//! Ctrl-C: what is complete is kept, and can be continued.

#![cfg(unix)]

use super::run::{Run, Table};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Points of the sweep that is interrupted: at 500 seasons each it takes tens of seconds.
const POINTS: usize = 60;
const SEASONS: &str = "500";
/// Before it is interrupted, the sweep must have had time for at least a point.
const FIRST_SIGNS: Duration = Duration::from_secs(120);

fn vary() -> String {
    let gaps: Vec<String> = (1..=POINTS).map(|gap| gap.to_string()).collect();
    format!("site.gap_m={}", gaps.join(","))
}

/// Starts the sweep, interrupts it once its plain progress has been told, and returns exit code and messages.
fn interrupted(folder: &Path) -> (Option<i32>, String) {
    use std::io::{BufRead, BufReader, Read};
    let mut child = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder)
        .args([
            "sweep",
            "--out",
            "results",
            "--seasons",
            SEASONS,
            "--vary",
            &vary(),
        ])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut errors = BufReader::new(child.stderr.take().expect("a pipe"));
    let mut text = String::new();
    // The first line is progress: a quarter of the sweep is done.
    errors.read_line(&mut text).expect("progress");
    assert!(text.contains("25 %"), "{text}");
    let id = child.id().to_string();
    let sent = Command::new("kill")
        .args(["-INT", &id])
        .status()
        .expect("kill runs");
    assert!(sent.success());
    let began = Instant::now();
    errors.read_to_string(&mut text).expect("text in UTF-8");
    let code = child.wait().expect("the program ends").code();
    assert!(
        began.elapsed() < FIRST_SIGNS,
        "stopping took {:?}",
        began.elapsed()
    );
    (code, text)
}

#[test]
fn exact_an_interrupted_sweep_keeps_its_points_and_can_be_continued() {
    let folder = TempDir::new().expect("a folder");
    let (code, message) = interrupted(folder.path());
    assert_eq!(code, Some(130), "{message}");
    assert!(!message.contains("panicked"), "{message}");
    let kept = std::fs::read_to_string(folder.path().join("results/verge-pair/sweep.csv"))
        .expect("a table");
    let kept = Table::of(&kept);
    let done = kept.rows.len();
    assert!(
        (POINTS / 4..POINTS).contains(&done),
        "{done} points were done"
    );
    assert!(
        message.contains(&format!("{done} of {POINTS} points are in sweep.csv")),
        "{message}"
    );
    assert!(message.contains("the same command"), "{message}");
    assert!(message.contains("kept: "), "{message}");
    for row in &kept.rows {
        assert_eq!(row.len(), kept.columns.len());
        assert_eq!(row[1], SEASONS, "only complete points are kept");
    }

    // That a continued run equals an undisturbed one in every byte is tested in `resume.rs`.
    let went_on = Run::within(folder, &["sweep", "--seasons", SEASONS, "--vary", &vary()]);
    assert!(went_on.stderr.contains("resuming: "), "{}", went_on.stderr);
    let whole = went_on.table("sweep.csv");
    assert_eq!(whole.columns, kept.columns);
    assert_eq!(whole.rows.len(), POINTS);
    assert_eq!(whole.rows[..done], kept.rows);
}

/// Seasons that take minutes each: a million stems, a million stems in one spot, eggs without number, a larva that takes
/// billions of strides an hour.
const ENDLESS: [&[&str]; 4] = [
    &[
        "season",
        "--set=site.treated.stems=1000000",
        "--set=site.treated.density_per_m2=1000",
        "--set=laying.eggs_per_stem_week=0.5",
    ],
    &[
        "gap",
        "--seasons=100",
        "--set=site.treated.stems=1000000",
        "--set=site.treated.placement=Clustered(stems_per_cluster: 1e6, spread_m: 0.001)",
    ],
    &[
        "recruit",
        "--attractions=900",
        "--set=laying.eggs_per_stem_week=4",
    ],
    &[
        "season",
        "--set=walking.speed_cm_per_s.l5=50",
        "--set=walking.stride_m=0.005",
        "--set=walking.q10=10",
        "--set=walking.q10_reference_c=0",
        "--set=walking.mean_cosine=0",
        "--set=walking.acceptance=0.001",
        "--set=walking.death_per_active_hour=0",
    ],
];
/// Until a season is under way once there is a folder for its results.
const UNDER_WAY: Duration = Duration::from_millis(1500);
/// A stop takes a moment; a busy machine may make more of it.
const STOPS_WITHIN: Duration = Duration::from_secs(8);

/// Starts a command, asks it once to end when it is at work, and returns its exit code.
fn stopped_in_a_season(arguments: &[&str]) -> Option<i32> {
    let folder = TempDir::new().expect("a folder");
    let mut child = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder.path())
        .args(arguments)
        .args(["--out", "results"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts");
    let began = Instant::now();
    while !folder.path().join("results").exists() && began.elapsed() < FIRST_SIGNS {
        std::thread::sleep(Duration::from_millis(20));
    }
    std::thread::sleep(UNDER_WAY);
    let sent = Command::new("kill")
        .args(["-TERM", &child.id().to_string()])
        .status()
        .expect("kill runs");
    assert!(sent.success(), "{arguments:?} had ended by itself");
    let asked = Instant::now();
    while asked.elapsed() < STOPS_WITHIN {
        if let Some(status) = child.try_wait().expect("a process of ours") {
            return status.code();
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    child.kill().expect("it is still there");
    child.wait().expect("the program ends");
    panic!("{arguments:?} went on for {STOPS_WITHIN:?} after it was asked to end");
}

/// Tables of many seasons grow in files, and what is half-written has no name of its own.
#[test]
fn exact_an_interrupted_season_leaves_whole_tables_only() {
    let folder = TempDir::new().expect("a folder");
    let mut child = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder.path())
        .args(["season", "--walks", "--seasons=100000", "--out=results"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("the program starts");
    let results = folder.path().join("results/verge-pair");
    let began = Instant::now();
    while !results.join("season-map.svg").exists() && began.elapsed() < FIRST_SIGNS {
        std::thread::sleep(Duration::from_millis(20));
    }
    std::thread::sleep(UNDER_WAY);
    assert!(!results.join("walks.csv").exists(), "it is not whole yet");
    let sent = Command::new("kill")
        .args(["-TERM", &child.id().to_string()])
        .status()
        .expect("kill runs");
    assert!(sent.success());
    assert_eq!(child.wait().expect("the program ends").code(), Some(130));
    let read = |name: &str| {
        let text = std::fs::read_to_string(results.join(name)).expect("a table");
        Table::of(&text)
    };
    let replicates = |table: &Table| table.counts("replicate").into_iter().max();
    let (surveys, fates, walks) = (read("surveys.csv"), read("fates.csv"), read("walks.csv"));
    let last = replicates(&surveys);
    assert!(last.is_some_and(|last| last > 0));
    assert_eq!(replicates(&fates), last);
    assert!(replicates(&walks) <= last && !walks.rows.is_empty());
    for file in super::run::entries(&results) {
        let name = file
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        assert!(!name.contains("half-written"), "{name}");
    }
}

#[test]
fn exact_one_request_ends_a_run_in_the_middle_of_an_endless_season() {
    for arguments in ENDLESS {
        assert_eq!(stopped_in_a_season(arguments), Some(130), "{arguments:?}");
    }
}
