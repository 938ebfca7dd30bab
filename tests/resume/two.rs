//! Two processes and one folder.

use super::folder::{Place, SWEEP, assert_same_files, pieces_in, text, undisturbed};
use std::process::Child;
use std::time::{Duration, Instant};

/// A sweep that does not end by itself while a test lasts.
const LONG: &[&str] = &["sweep", "--vary", "site.gap_m=2,5", "--seasons", "400000"];
const PATIENCE: Duration = Duration::from_secs(120);

/// Ends a process when a test fails.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Starts a long sweep and waits until it has kept a piece.
fn at_work(place: &Place) -> Running {
    let running = Running(place.start(LONG));
    let began = Instant::now();
    while pieces_in(&place.results()).is_empty() {
        assert!(began.elapsed() < PATIENCE, "no piece was kept");
        std::thread::sleep(Duration::from_millis(5));
    }
    running
}

#[test]
fn exact_a_second_process_in_a_folder_is_refused() {
    let place = Place::new();
    let first = at_work(&place);
    for arguments in [
        SWEEP,
        &["gap", "--gaps", "1,4", "--seasons", "40"],
        &["season"],
        &["sweep", "--vary", "site.gap_m=2", "--shard", "1/2"],
    ] {
        let second = place.run(arguments);
        let errors = text(&second.stderr);
        assert_eq!(second.status.code(), Some(2), "{errors}");
        assert!(errors.contains("another crawlspan works"), "{errors}");
        assert!(errors.contains("verge-pair"), "{errors}");
    }
    // The lock dies with its process, however that ends.
    drop(first);
    let (wanted, _) = undisturbed(SWEEP);
    let errors = place.fine(SWEEP);
    assert!(errors.contains("left alone: "), "{errors}");
    assert!(errors.contains("--seasons 400000"), "{errors}");
    let mut files = place.files();
    files.retain(|name, _| !name.ends_with(".pieces"));
    assert_same_files(&files, &wanted, "after a killed process");
}

#[test]
fn exact_two_folders_do_not_disturb_each_other() {
    let (one, other) = (Place::new(), Place::new());
    let running = at_work(&one);
    other.fine(SWEEP);
    drop(running);
}
