//! What is printed: lines that fit a terminal, no escape codes in a pipe, progress apart, closed pipes forgiven.

use super::run::Run;
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use tempfile::TempDir;

const COLUMNS: usize = 80;

/// A line may be longer only if it holds a path or another word that cannot be broken.
#[track_caller]
fn assert_fits(text: &str) {
    for line in text.lines() {
        let path = line.contains(std::path::MAIN_SEPARATOR) || line.contains(".ron");
        assert!(
            line.chars().count() <= COLUMNS || path,
            "{} columns: {line}",
            line.chars().count()
        );
    }
}

#[track_caller]
fn assert_plain(text: &str) {
    let code = text.chars().find(|c| c.is_control() && *c != '\n');
    assert_eq!(code, None, "a control character in {text}");
}

#[test]
fn exact_piped_text_is_plain_and_fits_a_terminal() {
    let runs: [&[&str]; 7] = [
        &["brief", "unequal-pair", "--effort", "0.02"],
        &[
            "gap",
            "--gaps",
            "1,4",
            "--seasons",
            "60",
            "--uncertain",
            "2",
        ],
        &["refuge", "--shares", "0.2,0.8", "--seasons", "60"],
        &["season", "cinnabar-strip"],
        &[
            "sweep",
            "--vary",
            "site.gap_m=2,12.345678901",
            "--seasons",
            "40",
        ],
        &[
            "sweep",
            "--vary",
            "site.gap_m=2,8",
            "--vary",
            "site.cut_side=Away,Towards",
            "--seasons",
            "40",
        ],
        &[
            "sweep",
            "--vary",
            "site.gap_m=2,8",
            "--vary",
            "site.treated.density_per_m2=2",
            "--vary",
            "laying.eggs_per_stem_week=0.2",
            "--vary",
            "walking.death_per_active_hour=0.1",
            "--seasons",
            "40",
        ],
    ];
    for arguments in runs {
        let run = Run::of(arguments);
        assert_fits(&run.stdout);
        assert_plain(&run.stdout);
        assert_plain(&run.stderr);
        assert!(
            run.stderr.contains("seasons in"),
            "progress on standard error: {}",
            run.stderr
        );
        assert!(
            !run.stdout.contains("seasons in"),
            "progress on standard output: {}",
            run.stdout
        );
    }
}

#[test]
fn exact_check_and_help_fit_a_terminal() {
    let folder = TempDir::new().expect("a folder");
    let printed = |arguments: &[&str]| {
        let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_crawlspan"))
            .current_dir(folder.path())
            .args(arguments)
            .output()
            .expect("the program runs");
        assert!(output.status.success(), "{arguments:?}");
        assert!(output.stderr.is_empty(), "{arguments:?}");
        String::from_utf8(output.stdout).expect("text in UTF-8")
    };
    for ready in crawlspan::scenario::presets::SCENARIOS {
        let text = printed(&["check", ready.name]);
        assert_fits(&text);
        assert_plain(&text);
    }
    let odd = printed(&[
        "check",
        "--set",
        "site.gap_m=Feet(33.3333333333)",
        "--set",
        "weather.night_c=Fahrenheit(50.5)",
    ]);
    assert_fits(&odd);
    assert_plain(&printed(&["--help"]));
}

/// Runs a command, reads the first line and closes the pipe, as `head -1` does. Returns the exit code.
fn code_with_closed_pipe(arguments: &[&str], close_errors: bool) -> Option<i32> {
    let folder = TempDir::new().expect("a folder");
    let mut child = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder.path())
        .args(arguments)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let errors = child.stderr.take();
    let errors = if close_errors { None } else { errors };
    let stdout = child.stdout.take().expect("a pipe");
    if close_errors {
        drop(stdout);
    } else {
        let mut line = String::new();
        BufReader::new(stdout).read_line(&mut line).expect("a line");
    }
    if let Some(mut errors) = errors {
        let mut text = String::new();
        std::io::Read::read_to_string(&mut errors, &mut text).expect("text in UTF-8");
        assert!(!text.contains("panicked"), "{arguments:?}: {text}");
    }
    child.wait().expect("the program ends").code()
}

#[test]
fn exact_a_closed_pipe_is_no_fault() {
    let runs: [&[&str]; 9] = [
        &["check"],
        &["check", "--csv"],
        &["season"],
        &[
            "gap",
            "--gaps",
            "1,4",
            "--seasons",
            "40",
            "--uncertain",
            "0",
        ],
        &["refuge", "--shares", "0.5", "--seasons", "40"],
        &["sweep", "--vary", "site.gap_m=1,4", "--seasons", "40"],
        &["brief", "one-patch", "--effort", "0.01"],
        &["new", "mine.ron"],
        &["--help"],
    ];
    for arguments in runs {
        for close_errors in [false, true] {
            assert_eq!(
                code_with_closed_pipe(arguments, close_errors),
                Some(0),
                "{arguments:?}"
            );
        }
    }
    assert_eq!(
        code_with_closed_pipe(&["check", "nowhere.ron"], true),
        Some(2)
    );
}

/// Runs a command with standard output on a disk that is always full. Returns the exit code and what was said.
#[cfg(target_os = "linux")]
fn on_full_disk(folder: &TempDir, arguments: &[&str]) -> (Option<i32>, String) {
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full");
    let output = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder.path())
        .args(arguments)
        .stdout(full.expect("a full device"))
        .stderr(Stdio::piped())
        .output()
        .expect("the program runs");
    let errors = String::from_utf8(output.stderr).expect("text in UTF-8");
    (output.status.code(), errors)
}

#[cfg(target_os = "linux")]
#[test]
fn exact_output_that_is_lost_is_a_failure() {
    let folder = TempDir::new().expect("a folder");
    let runs: [&[&str]; 24] = [
        &["check"],
        &["check", "--csv"],
        &["columns"],
        &["columns", "gap.csv"],
        &["columns", "--csv"],
        &["describe", "--print"],
        &["describe"],
        &["completions", "bash"],
        &["manual", "man"],
        &["new", "mine.ron"],
        &["help"],
        &["--help"],
        &["gap", "--help"],
        &["-V"],
        &["season"],
        &["season", "--walks", "--out", "walks"],
        &["gap", "--gaps", "1,4", "--seasons", "40"],
        &["gap", "--gaps", "1,4", "--seasons", "40", "--shard", "1/2"],
        &["gap", "--gaps", "1,4", "--seasons", "40", "--shard", "2/2"],
        &["gather", "output/verge-pair"],
        &["refuge", "--shares", "0.5", "--seasons", "40"],
        &["sweep", "--vary", "site.gap_m=1,4", "--seasons", "40"],
        &["allot"],
        &["replay", "output/verge-pair/provenance-gap.json"],
    ];
    for arguments in runs {
        let (code, errors) = on_full_disk(&folder, arguments);
        assert_eq!(code, Some(1), "{arguments:?}: {errors}");
        assert!(
            errors.contains("output was lost: "),
            "{arguments:?}: {errors}"
        );
        assert!(!errors.contains("panicked"), "{arguments:?}: {errors}");
    }
    // What went to files is whole, and no pieces are left that a later run would speak of.
    let written = folder.path().join("output/verge-pair");
    assert!(written.join("provenance-gap.json").exists());
    let kept = std::fs::read_dir(written).expect("a folder");
    let kept = kept.filter_map(|entry| entry.ok()?.file_name().into_string().ok());
    assert_eq!(kept.filter(|name| name.starts_with("kept-")).count(), 0);
    // A fault of the input stays one, and nothing is said of output that there was none of.
    let (code, errors) = on_full_disk(&folder, &["check", "nowhere.ron"]);
    assert_eq!(code, Some(2), "{errors}");
    assert!(!errors.contains("lost"), "{errors}");
    assert_eq!(on_full_disk(&folder, &["gap", "--gasp"]).0, Some(2));
}
