//! What stands in the place of the program's own files, and folders that go while it works.

#![cfg(unix)]

use super::folder::{Place, SWEEP, files_in, pieces_in, text};
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

const LONG: &[&str] = &["sweep", "--vary", "site.gap_m=2,5", "--seasons", "400000"];
const PATIENCE: Duration = Duration::from_secs(60);

/// Runs a command that may not wait for anybody.
fn unwaiting(place: &Place, arguments: &[&str]) -> Output {
    let mut command = place.command(arguments);
    command.stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().expect("it starts");
    let began = Instant::now();
    while child.try_wait().expect("a state").is_none() {
        if began.elapsed() > PATIENCE {
            let _ = child.kill();
            panic!("it waits for ever");
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    child.wait_with_output().expect("it ended")
}

fn pipe(at: &Path) {
    let made = Command::new("mkfifo").arg(at).status().expect("mkfifo");
    assert!(made.success());
}

fn signal(name: &str, process: u32) {
    let process = process.to_string();
    let sent = Command::new("kill").args([name, &process]).status();
    assert!(sent.expect("a shell").success());
}

/// Starts a long sweep, and returns it when it has kept a piece.
fn at_work(place: &Place) -> std::process::Child {
    let mut command = place.command(LONG);
    command.stdout(Stdio::null()).stderr(Stdio::piped());
    let child = command.spawn().expect("it starts");
    let began = Instant::now();
    while pieces_in(&place.results()).is_empty() {
        assert!(began.elapsed() < PATIENCE, "no piece was kept");
        std::thread::sleep(Duration::from_millis(5));
    }
    child
}

#[test]
fn exact_pipes_links_and_folders_in_the_place_of_own_files_are_refused() {
    let place = Place::new();
    let mut child = at_work(&place);
    child.kill().expect("it runs");
    child.wait().expect("it ends");
    let pieces = pieces_in(&place.results());
    let pieces = pieces[0].file_name().expect("a name").to_string_lossy();
    for (name, arguments) in [(".in-use", SWEEP), (&*pieces, LONG)] {
        for kind in ["pipe", "link", "link to a file", "folder"] {
            let place = Place::new();
            std::fs::create_dir_all(place.results()).expect("a folder");
            let (at, target) = (place.results().join(name), place.path().join("target"));
            match kind {
                "pipe" => pipe(&at),
                "folder" => std::fs::create_dir(&at).expect("a folder"),
                _ => symlink(&target, &at).expect("a link"),
            }
            if kind == "link to a file" {
                std::fs::write(&target, "precious").expect("written");
            }
            let output = unwaiting(&place, arguments);
            let errors = text(&output.stderr);
            assert_eq!(output.status.code(), Some(2), "{kind} {name}: {errors}");
            assert!(errors.contains(name), "{kind}: {errors}");
            assert!(errors.contains("a link, a pipe"), "{kind}: {errors}");
            assert!(!errors.contains("seasons"), "{kind}: {errors}");
            if kind == "link to a file" {
                assert_eq!(std::fs::read(&target).expect("there"), b"precious");
            } else {
                assert!(!target.exists(), "{kind} {name} made its target");
            }
        }
    }
}

#[test]
fn exact_foreign_things_beside_the_results_are_neither_waited_for_nor_followed() {
    let place = Place::new();
    std::fs::create_dir_all(place.results()).expect("a folder");
    let precious = place.path().join("precious");
    std::fs::write(&precious, "precious").expect("written");
    for name in [
        "provenance-other.json",
        "kept-gap-00000000.pieces",
        "shard-1-of-2-x.pieces",
    ] {
        pipe(&place.results().join(name));
    }
    symlink(&precious, place.results().join("sweep.csv")).expect("a link");
    let output = unwaiting(&place, SWEEP);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert_eq!(std::fs::read(&precious).expect("there"), b"precious");
    let table = place.results().join("sweep.csv");
    assert!(table.symlink_metadata().expect("a table").is_file());
}

#[test]
fn exact_files_are_for_whom_the_mask_says() {
    for (mask, wanted) in [("077", 0o600), ("022", 0o644), ("027", 0o640)] {
        let place = Place::new();
        let program = env!("CARGO_BIN_EXE_crawlspan");
        let masked = format!("umask {mask} && exec {program} \"$@\"");
        let output = Command::new("sh")
            .current_dir(place.path())
            .args(["-c", &masked, "sh"])
            .args(SWEEP)
            .args(["--out", "results"])
            .output()
            .expect("a shell");
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        for name in files_in(&place.results()).keys() {
            let file = std::fs::metadata(place.results().join(name)).expect("a file");
            let mode = file.permissions().mode() & 0o777;
            assert_eq!(mode, wanted, "{name} under {mask}: {mode:o}");
        }
    }
}

#[test]
fn exact_pieces_that_are_gone_are_not_said_to_be_kept() {
    for made_anew in [false, true] {
        let place = Place::new();
        let child = at_work(&place);
        std::fs::remove_dir_all(place.results()).expect("removed");
        if made_anew {
            place.fine(SWEEP);
        }
        let before = place.files();
        signal("-INT", child.id());
        let output = child.wait_with_output().expect("it ends");
        let errors = text(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{errors}");
        assert!(errors.contains("lost: "), "{errors}");
        assert!(!errors.contains("kept: "), "{errors}");
        assert!(!errors.contains("goes on from"), "{errors}");
        assert!(errors.contains("removed or replaced while"), "{errors}");
        assert!(before == place.files(), "it wrote into another's folder");
    }
}

#[test]
fn exact_what_would_fail_again_leaves_no_pieces_behind() {
    let nothing = ["--set", "laying.eggs_per_stem_week=0"];
    let place = Place::new();
    for arguments in [
        &["gap", "--gaps", "1,4", "--seasons", "64"][..],
        &["brief", "--effort", "0.01"],
    ] {
        place.run(&[arguments, &nothing].concat());
        assert!(pieces_in(&place.results()).is_empty(), "{arguments:?}");
    }
    let errors = place.fine(SWEEP);
    assert!(!errors.contains("left alone: "), "{errors}");
}
