//! A disk that is full, a limit of file size, a folder that cannot be written.

#![cfg(target_os = "linux")]

use super::folder::{Place, SWEEP, assert_same_files, command_in, files_in, text, undisturbed};
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;

/// A file system of its own in memory.
struct Disk {
    folder: TempDir,
}

impl Disk {
    /// `None`, and a line that says so, where none can be mounted.
    fn of(kilobytes: usize) -> Option<Self> {
        let folder = TempDir::new().expect("a folder");
        let disk = Self { folder };
        let options = format!("size={kilobytes}k");
        if mount(&["-t", "tmpfs", "-o", &options, "tmpfs"], disk.path()) {
            return Some(disk);
        }
        use std::io::Write as _;
        // Past the capture of the test harness, so that it is seen.
        let _ = writeln!(
            std::io::stderr(),
            "skipped: a file system in memory cannot be mounted here, which takes root"
        );
        None
    }

    fn path(&self) -> &Path {
        self.folder.path()
    }

    fn results(&self) -> PathBuf {
        self.path().join("results/verge-pair")
    }

    fn change(&self, option: &str) {
        let options = format!("remount,{option}");
        assert!(mount(&["-o", &options], self.path()), "{options}");
    }
}

fn mount(options: &[&str], at: &Path) -> bool {
    let output = Command::new("mount").args(options).arg(at).output();
    output.is_ok_and(|output| output.status.success())
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.path()).output();
    }
}

/// Room for label and some pieces, not for all of them.
const TOO_SMALL_FOR_PIECES: usize = 68;

#[test]
fn exact_a_full_disk_is_told_and_the_same_command_goes_on() {
    let Some(disk) = Disk::of(TOO_SMALL_FOR_PIECES) else {
        return;
    };
    let (wanted, _) = undisturbed(SWEEP);
    // Room grows step by step: first for pieces, then for the results beside them.
    for (told, kilobytes) in (TOO_SMALL_FOR_PIECES..4096).step_by(12).enumerate() {
        disk.change(&format!("size={kilobytes}k"));
        let output = command_in(disk.path(), SWEEP).output().expect("it runs");
        let errors = text(&output.stderr);
        if output.status.code() == Some(0) {
            assert!(told >= 2, "{kilobytes} kB were enough");
            assert!(errors.contains("resuming: "), "{errors}");
            assert_same_files(&files_in(&disk.results()), &wanted, &errors);
            println!("full disk: told {told} times, finished at {kilobytes} kB");
            return;
        }
        assert_eq!(output.status.code(), Some(1), "{errors}");
        assert!(errors.contains("No space left"), "{errors}");
        assert!(
            errors.contains("room") || errors.contains("free space"),
            "{errors}"
        );
        assert!(errors.contains("the same command"), "{errors}");
        assert!(!errors.contains("panicked"), "{errors}");
    }
    panic!("the command never finished");
}

#[test]
fn exact_a_limit_of_file_size_is_told_and_the_same_command_goes_on() {
    let (wanted, _) = undisturbed(SWEEP);
    let place = Place::new();
    let program = env!("CARGO_BIN_EXE_crawlspan");
    // The shell counts in blocks of 512 bytes (POSIX); bash counts in 1,024.
    let limited = format!("ulimit -f 130 && exec {program} \"$@\"");
    let output = Command::new("sh")
        .current_dir(place.path())
        .args(["-c", &limited, "sh"])
        .args(SWEEP)
        .args(["--out", "results"])
        .output()
        .expect("a shell");
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{errors}");
    assert!(errors.contains("File too large"), "{errors}");
    assert!(errors.contains("kept: "), "{errors}");
    let errors = place.fine(SWEEP);
    assert!(errors.contains("resuming: "), "{errors}");
    assert_same_files(&place.files(), &wanted, &errors);
}

#[test]
fn exact_a_folder_that_cannot_be_written_is_told_before_any_season() {
    let Some(disk) = Disk::of(1024) else {
        return;
    };
    disk.change("ro");
    let output = command_in(disk.path(), SWEEP).output().expect("it runs");
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert!(
        errors.contains("the output folder cannot be written"),
        "{errors}"
    );
    assert!(!errors.contains("seasons"), "{errors}");
    // The same where the folder is there already.
    disk.change("rw");
    command_in(disk.path(), SWEEP).output().expect("it runs");
    disk.change("ro");
    let output = command_in(disk.path(), SWEEP).output().expect("it runs");
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert!(!errors.contains("seasons"), "{errors}");
}
