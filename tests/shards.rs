//! Shards of a run, joined, are the run: byte for byte, wherever they ran and in however many rounds.

#[path = "resume/folder.rs"]
#[allow(dead_code)]
mod folder;

use folder::{
    Place, RECRUIT, SWEEP, assert_same_files, command_in, files_in, pieces_in, text, undisturbed,
};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Output;

const SHARDS: usize = 3;

/// Runs every shard of a command once.
fn round(place: &Place, arguments: &[&str]) -> Vec<String> {
    (1..=SHARDS)
        .map(|number| {
            let shard = format!("{number}/{SHARDS}");
            let output = place.run(&[arguments, &["--shard", &shard]].concat());
            assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
            text(&output.stdout)
        })
        .collect()
}

fn gather(place: &Place, from: &[PathBuf], more: &[&str]) -> Output {
    let mut arguments = vec!["gather".to_owned()];
    arguments.extend(from.iter().map(|path| path.display().to_string()));
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    place.run(&[&arguments, more].concat())
}

#[track_caller]
fn gathered(from: &[PathBuf], more: &[&str]) -> (BTreeMap<String, Vec<u8>>, String) {
    let elsewhere = Place::new();
    let output = gather(&elsewhere, from, more);
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{errors}");
    (elsewhere.files(), errors)
}

fn without_pieces(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = files_in(folder);
    files.retain(|name, _| !name.ends_with(".pieces"));
    files
}

#[test]
fn exact_a_sweep_in_shards_is_the_sweep() {
    let (wanted, _) = undisturbed(SWEEP);
    let place = Place::new();
    for said in round(&place, SWEEP) {
        assert!(
            said.contains("crawlspan gather results/verge-pair"),
            "{said}"
        );
    }
    let left = without_pieces(&place.results());
    assert_eq!(
        left.keys().collect::<Vec<_>>(),
        [".in-use"],
        "a shard writes no results"
    );
    assert_eq!(pieces_in(&place.results()).len(), SHARDS);
    let (files, errors) = gathered(&[place.results()], &["--threads", "1"]);
    assert_same_files(&files, &wanted, &errors);
    // Beside the shards, from their files named one by one.
    let output = command_without_out(&place, &pieces_in(&place.results()));
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert_same_files(
        &without_pieces(&place.results()),
        &wanted,
        "beside the shards",
    );
    assert_eq!(pieces_in(&place.results()).len(), SHARDS, "shards stay");
}

fn command_without_out(place: &Place, from: &[PathBuf]) -> Output {
    std::process::Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(place.path())
        .arg("gather")
        .args(from)
        .output()
        .expect("it runs")
}

#[test]
fn exact_shards_share_the_work_out() {
    let place = Place::new();
    round(&place, SWEEP);
    // 200 seasons are 13 pieces, at each of three points.
    let counts: Vec<u64> = pieces_in(&place.results())
        .iter()
        .map(|path| std::fs::metadata(path).expect("a file").len())
        .collect();
    let said = round(&place, SWEEP);
    for text in &said {
        assert!(text.contains(" 0 of them new"), "{text}");
    }
    let pieces: Vec<usize> = said
        .iter()
        .map(|text| {
            let share = text.split("share: ").nth(1).expect("a count");
            share
                .split(' ')
                .next()
                .expect("a count")
                .parse()
                .expect("a count")
        })
        .collect();
    assert_eq!(pieces.iter().sum::<usize>(), 39, "{pieces:?} {counts:?}");
    assert!(
        pieces.iter().all(|share| (12..=15).contains(share)),
        "{pieces:?}"
    );
}

#[test]
fn exact_a_recruitment_run_in_shards_is_the_run_after_any_number_of_rounds() {
    let (wanted, _) = undisturbed(RECRUIT);
    let place = Place::new();
    let mut rounds = 0;
    loop {
        let said = round(&place, RECRUIT);
        rounds += 1;
        let (files, errors) = gathered(&[place.results()], &[]);
        assert_same_files(&files, &wanted, &format!("after {rounds} rounds: {errors}"));
        let more = said
            .iter()
            .filter(|text| text.contains("once more"))
            .count();
        if more == 0 {
            break;
        }
        assert!(rounds < 10, "the rounds do not end: {said:?}");
    }
    println!("recruit in shards: {rounds} rounds share out everything");
    assert!(rounds > 1);
}

#[test]
fn exact_other_commands_in_shards_are_themselves() {
    let commands: [&[&str]; 6] = [
        &[
            "weigh",
            "--trajectories",
            "4",
            "--rows",
            "16",
            "--kept",
            "2",
            "--seasons",
            "1",
        ],
        &[
            "sweep",
            "--vary",
            "site.gap_m=2,5",
            "--seasons",
            "40",
            "--uncertain",
            "2",
        ],
        &[
            "gap",
            "--gaps",
            "1,4",
            "--seasons",
            "60",
            "--uncertain",
            "2",
        ],
        &[
            "gap",
            "--gaps",
            "1,4",
            "--seasons",
            "40",
            "--precision",
            "1",
        ],
        &["refuge", "--shares", "0.3,0.7", "--seasons", "60"],
        &["brief", "near-pair", "--effort", "0.01"],
    ];
    for arguments in commands {
        let place = Place::new();
        let one = Place::new();
        one.fine(arguments);
        round(&place, arguments);
        let folder = place.results();
        let folder = if folder.exists() {
            folder
        } else {
            place.path().join("results/near-pair")
        };
        let wanted = files_in(
            &one.path()
                .join("results")
                .join(folder.file_name().expect("a name")),
        );
        assert!(!wanted.is_empty());
        let elsewhere = Place::new();
        let output = gather(&elsewhere, std::slice::from_ref(&folder), &[]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let name = folder.file_name().expect("a name");
        let found = files_in(&elsewhere.path().join("results").join(name));
        assert_same_files(&found, &wanted, &format!("{arguments:?}"));
    }
}

/// Asserts that gathering is refused with all of some words.
#[track_caller]
fn refused(from: &[PathBuf], words: &[&str]) {
    let elsewhere = Place::new();
    let output = gather(&elsewhere, from, &[]);
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    for word in words {
        assert!(errors.contains(word), "`{word}` in {errors}");
    }
    assert!(
        !elsewhere.path().join("results").exists(),
        "nothing is written"
    );
}

#[test]
fn exact_missing_shards_are_named_and_can_be_made_good() {
    let (wanted, _) = undisturbed(SWEEP);
    let place = Place::new();
    round(&place, SWEEP);
    let files = pieces_in(&place.results());
    refused(&files[..1], &["missing: 2/3, 3/3", "--fill"]);
    std::fs::remove_file(&files[1]).expect("removed");
    refused(&[place.results()], &["missing: 2/3"]);
    let (files, errors) = gathered(&[place.results()], &["--fill"]);
    assert!(errors.contains("made good here: missing: 2/3"), "{errors}");
    assert_same_files(&files, &wanted, &errors);
    refused(&[Place::new().path().to_owned()], &["no shards were found"]);
}

#[test]
fn exact_duplicate_and_foreign_shards_are_named() {
    let place = Place::new();
    round(&place, SWEEP);
    let files = pieces_in(&place.results());
    let copy = place.results().join("shard-copy.pieces");
    std::fs::copy(&files[0], &copy).expect("copied");
    refused(
        &[place.results()],
        &["twice: shard 1/3", "shard-copy.pieces"],
    );
    std::fs::remove_file(&copy).expect("removed");

    let other = Place::new();
    other.fine(&[SWEEP, &["--seed", "9", "--shard", "1/3"]].concat());
    let foreign = pieces_in(&other.results());
    refused(
        &[files.clone(), foreign].concat(),
        &["foreign: ", "shard 1/3", "--seed 9"],
    );
    other.fine(&[SWEEP, &["--shard", "1/2"]].concat());
    let of_two: Vec<PathBuf> = pieces_in(&other.results())
        .into_iter()
        .filter(|path| path.to_string_lossy().contains("1-of-2"))
        .collect();
    refused(&[files, of_two].concat(), &["foreign: ", "shard 1/2"]);
}

#[test]
fn exact_damaged_and_unfinished_shards_are_named_and_can_be_made_good() {
    let (wanted, _) = undisturbed(SWEEP);
    let place = Place::new();
    round(&place, SWEEP);
    let file = pieces_in(&place.results()).remove(1);
    let sound = std::fs::read(&file).expect("pieces");
    let mut flipped = sound.clone();
    let late = sound.len() - 700;
    flipped[late] ^= 4;
    std::fs::write(&file, flipped).expect("written");
    refused(&[place.results()], &["damaged: ", "shard-2-of-3"]);
    let (files, errors) = gathered(&[place.results()], &["--fill"]);
    assert_same_files(&files, &wanted, &errors);

    // The last record says that the share is done: length, key and checksum, no payload.
    const LAST_RECORD: usize = 4 + 16 + 16;
    std::fs::write(&file, &sound[..sound.len() - LAST_RECORD]).expect("written");
    refused(&[place.results()], &["unfinished: ", "shard-2-of-3"]);
    // The same shard goes on and ends its share.
    place.fine(&[SWEEP, &["--shard", "2/3"]].concat());
    assert_eq!(std::fs::read(&file).expect("pieces"), sound);

    let mut label = sound;
    label[100] ^= 1;
    std::fs::write(&file, label).expect("written");
    refused(
        &[place.results()],
        &["damaged: ", "shard-2-of-3", "missing: 2/3"],
    );
}

#[test]
fn exact_a_shard_needs_nothing_but_its_file() {
    // Scenario and data travel in the heading: the files they came from may be gone.
    let place = Place::new();
    let stems: String = (0..40)
        .map(|stem| {
            format!(
                "{},{}\n",
                f64::from(stem % 8) * 0.5,
                f64::from(stem / 8) * 0.5
            )
        })
        .collect();
    std::fs::create_dir(place.path().join("own")).expect("a folder");
    std::fs::write(
        place.path().join("own/stems.csv"),
        format!("x_m,y_m\n{stems}"),
    )
    .expect("written");
    std::fs::write(
        place.path().join("own/study.ron"),
        "(name: \"verge-pair\", extends: \"verge-pair\", \
         site: (untouched: (density_per_m2: 0.5, placement: FromCsv(\"stems.csv\"))))",
    )
    .expect("written");
    let arguments = [
        "sweep",
        "own/study.ron",
        "--vary",
        "site.gap_m=3,6",
        "--seasons",
        "60",
    ];
    let output = place.run(&arguments);
    if output.status.code() != Some(0) {
        panic!("{}", text(&output.stderr));
    }
    let wanted = place.files();
    let shards = Place::new();
    std::fs::rename(place.path().join("own"), shards.path().join("own")).expect("moved");
    round(&shards, &arguments);
    std::fs::remove_dir_all(shards.path().join("own")).expect("removed");
    let (files, errors) = gathered(&pieces_in(&shards.results()), &[]);
    assert_same_files(&files, &wanted, &errors);
}

#[test]
fn exact_what_cannot_be_a_shard_is_refused() {
    let place = Place::new();
    for shard in ["0/3", "4/3", "3", "a/b", "1/0", "1/100001"] {
        let output = command_in(place.path(), SWEEP)
            .args(["--shard", shard])
            .output();
        let output = output.expect("it runs");
        let errors = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{shard}: {errors}");
        assert!(errors.contains("expected number/of"), "{shard}: {errors}");
    }
    let output = place.run(&["season", "--shard", "1/2"]);
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert!(errors.contains("--shard"), "{errors}");
}

/// Puts a changed heading into a file of pieces, with its length and checksum made anew, as one who knows the layout
/// would.
fn reworded(path: &Path, change: impl Fn(&mut serde_json::Value)) {
    use sha2::{Digest, Sha256};
    const BEFORE: usize = 16 + 4 + 4;
    const CHECK: usize = 16;
    let found = std::fs::read(path).expect("pieces");
    let length = u32::from_le_bytes(found[20..24].try_into().expect("four bytes")) as usize;
    let mut heading = serde_json::from_slice(&found[BEFORE..BEFORE + length]).expect("a heading");
    change(&mut heading);
    let label = serde_json::to_vec(&heading).expect("JSON");
    let mut checked = found[16..20].to_vec();
    checked.extend(u32::try_from(label.len()).expect("short").to_le_bytes());
    checked.extend(label);
    let sum = &Sha256::digest(&checked)[..CHECK];
    let whole = [
        &found[..16],
        &checked,
        sum,
        &found[BEFORE + length + CHECK..],
    ]
    .concat();
    std::fs::write(path, whole).expect("written");
}

#[test]
fn exact_a_heading_is_believed_only_as_far_as_it_makes_sense() {
    let place = Place::new();
    round(&place, SWEEP);
    let files = pieces_in(&place.results());
    let sound = std::fs::read(&files[0]).expect("pieces");
    // Written back as it was, it is sound: the changes below are at fault, not the writing.
    for file in &files {
        reworded(file, |_| ());
    }
    gathered(&files, &[]);
    let began = std::time::Instant::now();
    for (number, of) in [
        (0, 0),
        (0, 3),
        (4, 3),
        (1, 0),
        (1, 100_001),
        (1, 10_000_000),
        (1, u32::MAX),
        (u32::MAX, u32::MAX),
    ] {
        std::fs::write(&files[0], &sound).expect("written");
        reworded(&files[0], |heading| {
            heading["shard"] = serde_json::json!({"number": number, "of": of});
        });
        for more in [&[][..], &["--fill"]] {
            let elsewhere = Place::new();
            let output = gather(&elsewhere, &files[..1], more);
            let errors = text(&output.stderr);
            assert_eq!(output.status.code(), Some(2), "{number}/{of}: {errors}");
            let words = format!("there is no shard {number}/{of}");
            assert!(errors.contains(&words), "{errors}");
        }
    }
    // The largest number there can be is a matter of the files that are there, not of those that are missing.
    std::fs::write(&files[0], &sound).expect("written");
    reworded(&files[0], |heading| {
        heading["shard"] = serde_json::json!({"number": 4, "of": 100_000});
    });
    refused(
        &files[..1],
        &["missing: 1/100000 to 3/100000, 5/100000 to 100000/100000"],
    );
    assert!(began.elapsed().as_secs() < 60, "{:?}", began.elapsed());
}

#[test]
fn exact_a_heading_that_contradicts_itself_is_refused() {
    let put = |heading: &mut serde_json::Value, option: &str, value: &str| {
        let arguments = heading["arguments"].as_array_mut().expect("a list");
        arguments.extend([option.into(), value.into()]);
    };
    type Change<'c> = (&'c str, &'c dyn Fn(&mut serde_json::Value));
    let changes: [Change<'_>; 7] = [
        ("its seed is 9", &|heading| heading["seed"] = 9.into()),
        ("its seed is ", &|heading| put(heading, "--seed", "9")),
        ("its arguments do not give its settings", &|heading| {
            put(heading, "--set", "site.gap_m=7.7");
        }),
        ("its arguments do not give its settings", &|heading| {
            heading["arguments"][1] = "near-pair".into();
        }),
        ("its settings do not give its scenario", &|heading| {
            heading["scenario_sha256"] = "00".into();
        }),
        ("it names a folder, threads or a shard", &|heading| {
            put(heading, "--shard", "1/2");
        }),
        // All of it agrees, but the pieces are of another seed.
        ("none of their pieces", &|heading| {
            heading["seed"] = 9.into();
            put(heading, "--seed", "9");
        }),
    ];
    let arguments = [&["sweep", "verge-pair"], &SWEEP[1..]].concat();
    let place = Place::new();
    round(&place, &arguments);
    let files = pieces_in(&place.results());
    let sound: Vec<Vec<u8>> = files
        .iter()
        .map(|file| std::fs::read(file).expect("pieces"))
        .collect();
    for (words, change) in changes {
        for (file, sound) in files.iter().zip(&sound) {
            std::fs::write(file, sound).expect("written");
            reworded(file, change);
        }
        // Of all shards, and of one with the rest to be filled in.
        for (from, more) in [(&files[..], &[][..]), (&files[..1], &["--fill"])] {
            let elsewhere = Place::new();
            let output = gather(&elsewhere, from, more);
            let errors = text(&output.stderr);
            assert_eq!(output.status.code(), Some(2), "{words}: {errors}");
            assert!(errors.contains(words), "{words}: {errors}");
            let results = without_pieces(&elsewhere.results());
            assert!(
                results.keys().all(|name| name.starts_with('.')),
                "{results:?}"
            );
        }
    }
}
