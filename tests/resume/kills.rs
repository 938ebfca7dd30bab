//! Killed without warning at any moment.

#![cfg(unix)]

use super::folder::{
    Draws, Place, RECRUIT, SWEEP, assert_same_files, pieces_in, text, undisturbed,
};
use std::collections::BTreeMap;
use std::os::unix::process::ExitStatusExt;
use std::time::Duration;

/// Kills from a fresh folder, and kills of runs that are killed again and again.
struct Kills {
    fresh: usize,
    repeated: usize,
}

/// Moments lie between the start and a little beyond the end of an undisturbed run, whatever the machine is busy with.
const BEYOND_END: f64 = 1.1;
/// A run that is killed again and again must come to its end all the same.
const MOST_TRIES: usize = 400;
const SIGKILL: i32 = 9;

/// What came of the kills.
#[derive(Default)]
struct Tally {
    kills: usize,
    /// Runs that ended before their moment.
    too_late: usize,
    /// Runs that found pieces of one before them.
    resumed: usize,
    finished: usize,
}

/// Starts a command and kills it at a moment; returns whether it was still running.
fn killed(place: &Place, arguments: &[&str], moment: Duration) -> bool {
    let mut child = place.start(arguments);
    std::thread::sleep(moment);
    // It may have ended already.
    let _ = child.kill();
    child.wait().expect("it ends").signal() == Some(SIGKILL)
}

fn finish(
    place: &Place,
    arguments: &[&str],
    wanted: &BTreeMap<String, Vec<u8>>,
    tally: &mut Tally,
) {
    let kept = !pieces_in(&place.results()).is_empty();
    let output = place.run(arguments);
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{errors}");
    if errors.contains("resuming: ") {
        assert!(kept, "{errors}");
        tally.resumed += 1;
    }
    tally.finished += 1;
    let after = format!("after {} kills; {errors}", tally.kills);
    assert_same_files(&place.files(), wanted, &after);
}

fn kill_from_fresh(arguments: &[&str], kills: usize, draws: &mut Draws, tally: &mut Tally) {
    let (wanted, took) = undisturbed(arguments);
    let mut tries = 0;
    let before = tally.kills;
    while tally.kills < before + kills {
        tries += 1;
        assert!(tries < MOST_TRIES, "the runs end before they can be killed");
        let place = Place::new();
        let moment = took.mul_f64(BEYOND_END * draws.unit());
        if killed(&place, arguments, moment) {
            tally.kills += 1;
        } else {
            tally.too_late += 1;
        }
        finish(&place, arguments, &wanted, tally);
    }
}

fn kill_again_and_again(arguments: &[&str], kills: usize, draws: &mut Draws, tally: &mut Tally) {
    let (wanted, took) = undisturbed(arguments);
    let before = tally.kills;
    let mut tries = 0;
    while tally.kills < before + kills {
        let place = Place::new();
        loop {
            tries += 1;
            assert!(tries < MOST_TRIES, "the run comes to no end");
            let resumes = !pieces_in(&place.results()).is_empty();
            if !killed(&place, arguments, took.mul_f64(BEYOND_END * draws.unit())) {
                break;
            }
            tally.kills += 1;
            tally.resumed += usize::from(resumes);
        }
        tally.too_late += 1;
        finish(&place, arguments, &wanted, tally);
    }
}

fn killed_at_random(name: &str, arguments: &[&str], kills: &Kills, seed: u64) {
    let mut draws = Draws::new(seed);
    let mut tally = Tally::default();
    kill_from_fresh(arguments, kills.fresh, &mut draws, &mut tally);
    kill_again_and_again(arguments, kills.repeated, &mut draws, &mut tally);
    println!(
        "{name}: {} kills, {} runs ended before their moment, {} went on from kept pieces, {} finished alike",
        tally.kills, tally.too_late, tally.resumed, tally.finished
    );
    assert!(tally.resumed > 0, "no run had anything to go on from");
}

#[test]
fn exact_a_sweep_killed_at_a_hundred_moments_ends_as_if_undisturbed() {
    let kills = Kills {
        fresh: 60,
        repeated: 40,
    };
    killed_at_random("sweep", SWEEP, &kills, 1);
}

#[test]
fn exact_a_recruitment_run_killed_at_fifty_moments_ends_as_if_undisturbed() {
    // Its charts make it slower than the sweep.
    let kills = Kills {
        fresh: 30,
        repeated: 20,
    };
    killed_at_random("recruit", RECRUIT, &kills, 2);
}
