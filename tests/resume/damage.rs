//! Damaged and foreign pieces are never used.

#![cfg(unix)]

use super::folder::{Draws, Place, SWEEP, assert_same_files, pieces_in, undisturbed};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// Flips spread over the whole file, on top of one in each field of label and records.
const SCATTERED_FLIPS: usize = 24;
const PATIENCE: Duration = Duration::from_secs(60);
/// Bytes before the label: magic, form, length.
const BEFORE_LABEL: usize = 16 + 4 + 4;
const CHECK: usize = 16;
/// Bytes of a record before its payload: length, key.
const BEFORE_PAYLOAD: usize = 4 + 16;

/// Pieces of a sweep that was killed: their file's name and contents.
fn some_pieces() -> (String, Vec<u8>) {
    let began = Instant::now();
    loop {
        let place = Place::new();
        let mut child = place.start(SWEEP);
        while began.elapsed() < PATIENCE {
            let files = pieces_in(&place.results());
            let length = files.first().map(std::fs::metadata);
            let Some(Ok(length)) = length else { continue };
            let bytes = std::fs::read(&files[0]).unwrap_or_default();
            if records(&bytes).len() > 5 && bytes.len() as u64 >= length.len() {
                break;
            }
        }
        child.kill().expect("it runs or has ended");
        child.wait().expect("it ends");
        let files = pieces_in(&place.results());
        if let Some(path) = files.first() {
            let name = path.file_name().expect("a name").to_string_lossy();
            return (name.into_owned(), std::fs::read(path).expect("pieces"));
        }
        assert!(began.elapsed() < PATIENCE, "no pieces were kept");
    }
}

fn number_at(bytes: &[u8], at: usize) -> Option<usize> {
    let four = bytes.get(at..at + 4)?;
    Some(u32::from_le_bytes(four.try_into().ok()?) as usize)
}

/// Where each whole record begins.
fn records(bytes: &[u8]) -> Vec<usize> {
    let mut found = Vec::new();
    let Some(label) = number_at(bytes, BEFORE_LABEL - 4) else {
        return found;
    };
    let mut at = BEFORE_LABEL + label + CHECK;
    while let Some(length) = number_at(bytes, at) {
        let end = at + BEFORE_PAYLOAD + length + CHECK;
        if end > bytes.len() {
            break;
        }
        found.push(at);
        at = end;
    }
    found
}

/// Puts a file of pieces into a fresh folder and runs the sweep there.
fn run_with(name: &str, bytes: &[u8]) -> (Place, String) {
    let place = Place::new();
    let path: PathBuf = place.results().join(name);
    std::fs::create_dir_all(place.results()).expect("a folder");
    std::fs::write(path, bytes).expect("written");
    let errors = place.fine(SWEEP);
    (place, errors)
}

fn resumed(errors: &str) -> usize {
    let rest = errors.split("resuming: ").nth(1);
    rest.and_then(|rest| rest.split(' ').next())
        .map_or(0, |number| number.parse().expect("a number"))
}

#[test]
fn exact_flipped_bits_in_any_region_are_never_used() {
    let (wanted, _) = undisturbed(SWEEP);
    let (name, bytes) = some_pieces();
    let starts = records(&bytes);
    let (_, errors) = run_with(&name, &bytes);
    assert_eq!(resumed(&errors), starts.len(), "{errors}");

    let label_end = starts[0] - CHECK;
    let (first, last) = (starts[0], starts[starts.len() - 1]);
    let mut flips = vec![0, 15, 16, 20, 23, BEFORE_LABEL, label_end - 1, label_end];
    for record in [first, starts[starts.len() / 2], last] {
        let payload = record + BEFORE_PAYLOAD;
        let end = payload + number_at(&bytes, record).expect("a length");
        flips.extend([
            record,
            record + 3,
            record + 4,
            payload - 1,
            payload,
            end,
            end + 15,
        ]);
    }
    let mut draws = Draws::new(7);
    flips.extend((0..SCATTERED_FLIPS).map(|_| (draws.unit() * bytes.len() as f64) as usize));
    for at in flips {
        let mut damaged = bytes.clone();
        damaged[at] ^= 1 << (draws.unit() * 8.0) as u32;
        let (place, errors) = run_with(&name, &damaged);
        let mut files = place.files();
        files.retain(|name, _| !name.contains(".aside-"));
        assert_same_files(
            &files,
            &wanted,
            &format!("after a flip at byte {at}: {errors}"),
        );
        // Only what stands before the damage may have been used.
        let sound = starts.iter().filter(|start| **start <= at).count();
        let usable = if at < first {
            0
        } else {
            sound.saturating_sub(1)
        };
        assert_eq!(resumed(&errors), usable, "byte {at}: {errors}");
        if at < first {
            assert!(errors.contains("set aside: "), "byte {at}: {errors}");
        } else {
            assert!(errors.contains("was cut off"), "byte {at}: {errors}");
        }
    }
}

#[test]
fn exact_a_file_cut_short_anywhere_is_mended() {
    let (wanted, _) = undisturbed(SWEEP);
    let (name, bytes) = some_pieces();
    let starts = records(&bytes);
    let mut lengths = vec![
        0,
        1,
        20,
        BEFORE_LABEL + 7,
        starts[0] - 1,
        starts[0],
        bytes.len() - 1,
    ];
    lengths.push(starts[2] + BEFORE_PAYLOAD + 3);
    for length in lengths {
        let (place, errors) = run_with(&name, &bytes[..length]);
        let after = format!("after a cut at {length}: {errors}");
        assert_same_files(&place.files(), &wanted, &after);
        let whole = starts[1..].iter().filter(|end| **end <= length).count();
        assert_eq!(resumed(&errors), whole, "{after}");
    }
}

#[test]
fn exact_pieces_of_another_command_are_set_aside_even_under_the_right_name() {
    let (wanted, _) = undisturbed(SWEEP);
    let (name, _) = some_pieces();
    let other = Place::new();
    let mut arguments = SWEEP.to_vec();
    arguments.extend(["--seed", "5", "--shard", "1/1"]);
    other.fine(&arguments);
    let foreign = std::fs::read(&pieces_in(&other.results())[0]).expect("pieces");
    let (place, errors) = run_with(&name, &foreign);
    assert_eq!(resumed(&errors), 0, "{errors}");
    assert!(errors.contains("it belongs to another command"), "{errors}");
    let mut files = place.files();
    assert_eq!(files.remove(&format!("{name}.aside-1")), Some(foreign));
    assert_same_files(&files, &wanted, &errors);
}
