//! A record makes its results again, byte for byte, from any folder and without the files they came from.

#![cfg(unix)]

#[path = "resume/folder.rs"]
#[allow(dead_code)]
mod folder;

use folder::{Place, RECRUIT, SWEEP, assert_same_files, command_in, files_in, text};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Folder of the results and record of the only command that ran in a place.
fn record_in(place: &Place) -> (PathBuf, PathBuf) {
    let results = place.path().join("results");
    let folders: Vec<PathBuf> = std::fs::read_dir(results)
        .expect("results")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    assert_eq!(folders.len(), 1);
    let record = files_in(&folders[0])
        .into_keys()
        .find(|name| name.starts_with("provenance-"))
        .expect("a record");
    (folders[0].clone(), folders[0].join(record))
}

fn replay(working_in: &Path, record: &Path, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(working_in)
        .arg("replay")
        .arg(record)
        .args(more)
        .output()
        .expect("it runs")
}

/// Runs a command, then makes it again elsewhere and in place, and compares all files.
#[track_caller]
fn made_again(place: &Place, arguments: &[&str]) {
    place.fine(arguments);
    let (folder, record) = record_in(place);
    let wanted = files_in(&folder);
    assert!(wanted.len() > 2, "{:?}", wanted.keys());
    let elsewhere = Place::new();
    let output = replay(
        elsewhere.path(),
        &record,
        &["--out", "again", "--threads", "1"],
    );
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {errors}");
    assert!(text(&output.stdout).contains("byte for byte as recorded"));
    let name = folder.file_name().expect("a name");
    let found = files_in(&elsewhere.path().join("again").join(name));
    assert_same_files(&found, &wanted, &format!("{arguments:?}"));

    for file in wanted
        .keys()
        .filter(|name| !name.starts_with("provenance-"))
    {
        std::fs::remove_file(folder.join(file)).expect("removed");
    }
    let output = replay(elsewhere.path(), &record, &[]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert_same_files(&files_in(&folder), &wanted, "in place");
}

const WEIGH: &[&str] = &[
    "weigh",
    "--trajectories",
    "4",
    "--rows",
    "16",
    "--kept",
    "2",
    "--seasons",
    "1",
];

#[test]
fn exact_every_simulating_command_is_made_again() {
    let commands: [&[&str]; 8] = [
        WEIGH,
        SWEEP,
        RECRUIT,
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
            "refuge",
            "one-patch",
            "--shares",
            "0.3,0.7",
            "--seasons",
            "60",
        ],
        &["season", "--seasons", "3", "--walks", "--seed", "4"],
        &["brief", "near-pair", "--effort", "0.01"],
        &[
            "recruit",
            "--attractions",
            "6",
            "--pool",
            "40",
            "--studies",
            "10",
            "--sites",
            "4,8",
            "--what-if",
        ],
    ];
    for arguments in commands {
        made_again(&Place::new(), arguments);
    }
}

#[test]
fn exact_the_lesson_is_made_again() {
    made_again(
        &Place::new(),
        &[
            "lesson",
            "--takes",
            "1",
            "--gaps",
            "2,5",
            "--shares",
            "0,0.5",
            "--seasons",
            "40",
        ],
    );
}

const TUNE: &[&str] = &["tune", "--particles", "50", "--generations", "2"];

#[test]
fn exact_a_tuning_is_made_again_with_and_without_a_table() {
    let place = Place::new();
    let arguments = [TUNE, &["--rehearse", "12"]].concat();
    made_again(&place, &arguments);
    let (folder, _) = record_in(&place);
    let table = std::fs::read(folder.join("rehearsal.csv")).expect("a release");
    let place = Place::new();
    std::fs::write(place.path().join("release.csv"), table).expect("written");
    made_again(&place, &[TUNE, &["release.csv"]].concat());
}

#[test]
fn exact_settings_by_option_and_choices_that_stand_for_numbers_are_made_again() {
    // A method of cutting fills in numbers; varied on top of a complete scenario it would no longer do so.
    let arguments = [
        "sweep",
        "--vary",
        "cutting.method=Shears,Mower",
        "--set",
        "site.gap_m=Yards(4)",
        "--seasons",
        "40",
    ];
    let place = Place::new();
    made_again(&place, &arguments);
    let table = text(&place.files()["sweep.csv"]);
    let rows: Vec<&str> = table
        .lines()
        .skip(1)
        .map(|row| row.split_once(',').expect("cells").1)
        .collect();
    assert_ne!(rows[0], rows[1], "the method changes the numbers");
}

/// A scenario with files of its own, and a table of counts; `padding` makes the stems' file longer.
fn with_files(place: &Place, padding: usize) {
    let stems: String = (0..40)
        .map(|stem| {
            format!(
                "{},{}\n",
                f64::from(stem % 8) * 0.5,
                f64::from(stem / 8) * 0.5
            )
        })
        .collect();
    let own = place.path().join("own");
    std::fs::create_dir(&own).expect("a folder");
    let comment = format!("# {}\n", "-".repeat(padding));
    std::fs::write(own.join("stems.csv"), format!("x_m,y_m\n{stems}{comment}")).expect("written");
    let study = "(name: \"own\", extends: \"verge-pair\", \
        site: (untouched: (density_per_m2: 0.5, placement: FromCsv(\"stems.csv\"))))";
    std::fs::write(own.join("study.ron"), study).expect("written");
}

const OWN: &[&str] = &[
    "sweep",
    "own/study.ron",
    "--vary",
    "site.gap_m=3,6",
    "--seasons",
    "40",
];

#[test]
fn exact_data_files_travel_with_the_record() {
    let place = Place::new();
    with_files(&place, 0);
    place.fine(OWN);
    std::fs::remove_dir_all(place.path().join("own")).expect("removed");
    let (folder, record) = record_in(&place);
    let elsewhere = Place::new();
    let output = replay(elsewhere.path(), &record, &["--out", "again"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let found = files_in(&elsewhere.path().join("again/own"));
    assert_same_files(&found, &files_in(&folder), "without the files");
}

#[test]
fn exact_a_long_data_file_must_be_there_unchanged() {
    let place = Place::new();
    with_files(&place, 5 << 20);
    place.fine(OWN);
    let (folder, record) = record_in(&place);
    let wanted = files_in(&folder);
    assert!(
        wanted["provenance-sweep.json"].len() < 1 << 20,
        "only its digest travels"
    );
    let elsewhere = Place::new();
    let files = place.path().join("own");
    let more = ["--out", "again", "--files", files.to_str().expect("a path")];
    let output = replay(elsewhere.path(), &record, &more);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert_same_files(
        &files_in(&elsewhere.path().join("again/own")),
        &wanted,
        "long file",
    );

    let missing = replay(elsewhere.path(), &record, &["--out", "third"]);
    assert_eq!(missing.status.code(), Some(2));
    assert!(text(&missing.stderr).contains("stems.csv cannot be read"));
    let stems = files.join("stems.csv");
    let changed = text(&std::fs::read(&stems).expect("stems")).replacen("0.5", "0.6", 1);
    std::fs::write(&stems, changed).expect("written");
    let output = replay(elsewhere.path(), &record, &more);
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert!(errors.contains("stems.csv has changed"), "{errors}");
}

fn counts(place: &Place, padding: usize) {
    let mut table = "site,week,patch,stage,count,stems\n".to_owned();
    for site in 0..8 {
        for (patch, count) in [("treated", 3 + site % 3), ("untouched", 1 + site % 2)] {
            table += &format!("s{site},1,{patch},L5,{count},40\n");
        }
    }
    // A line of a table has a limit of its own.
    table += &"# not counted in that week\n".repeat(padding / 20);
    std::fs::write(place.path().join("counts.csv"), table).expect("written");
}

#[test]
fn exact_an_analysis_is_made_again_without_its_table() {
    for more in [
        &[][..],
        &[
            "--scenario",
            "near-pair",
            "--seasons",
            "60",
            "--uncertain",
            "2",
        ],
    ] {
        let place = Place::new();
        counts(&place, 0);
        let arguments = [&["analyse", "counts.csv", "--all"], more].concat();
        place.fine(&arguments);
        std::fs::remove_file(place.path().join("counts.csv")).expect("removed");
        let (folder, record) = record_in(&place);
        let elsewhere = Place::new();
        let output = replay(elsewhere.path(), &record, &["--out", "again"]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let found = files_in(&elsewhere.path().join("again/analyse-counts"));
        assert_same_files(&found, &files_in(&folder), "an analysis");
    }
}

#[test]
fn exact_a_long_table_must_be_there_unchanged() {
    let place = Place::new();
    counts(&place, 5 << 20);
    place.fine(&["analyse", "counts.csv"]);
    let (_, record) = record_in(&place);
    let output = replay(place.path(), &record, &["--out", "again"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    counts(&place, 6 << 20);
    let output = replay(place.path(), &record, &["--out", "again"]);
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert!(errors.contains("counts.csv has changed"), "{errors}");
}

#[test]
fn exact_a_changed_record_is_refused() {
    let place = Place::new();
    place.fine(SWEEP);
    let (folder, record) = record_in(&place);
    let sound = text(&std::fs::read(&record).expect("a record"));
    let changed = folder.join("changed.json");
    let before = files_in(&folder);
    for (from, to, code, word) in [
        (
            "stray_tolerance: About(",
            "stray_tolerance: Abuot(",
            2,
            "settings",
        ),
        (
            "margin_m: About(\",\n    \"            value: 15.0",
            "margin_m: About(\",\n    \"            value: 16.0",
            2,
            "has been changed",
        ),
        ("\"seed\": 20260701", "\"seed\": 9", 2, "its seed is 9"),
        (
            "    \"200\"\n  ],",
            "    \"200\", \"--seed\", \"9\"\n  ],",
            2,
            "not that of its arguments",
        ),
        (
            "    \"200\"\n  ],",
            "    \"200\", \"--set\", \"site.gap_m=7.7\"\n  ],",
            2,
            "its arguments do not give its settings",
        ),
        (
            "    \"200\"\n  ],",
            "    \"200\", \"--shard\", \"1/2\"\n  ],",
            2,
            "it names a folder, threads or a shard",
        ),
        (
            "\"sweep\",\n    \"--vary\"",
            "\"sweep\", \"near-pair\",\n    \"--vary\"",
            2,
            "its arguments do not give its settings",
        ),
        ("\"form\": 2", "\"form\": 1", 2, "form 1"),
        (
            "\"sweep\",\n    \"--vary\"",
            "\"swap\",\n    \"--vary\"",
            2,
            "cannot be run",
        ),
        (
            "\"command\": \"sweep\"",
            "\"command\": \"gap\"",
            2,
            "cannot be run",
        ),
        ("\"version\": \"", "\"version\": \"9", 2, "another program"),
        ("{", "[", 2, "no record of a run"),
    ] {
        assert!(sound.contains(from), "{from}");
        std::fs::write(&changed, sound.replace(from, to)).expect("written");
        let output = replay(place.path(), &changed, &[]);
        let errors = text(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{to}: {errors}");
        assert!(errors.contains(word), "{to}: {errors}");
        std::fs::remove_file(&changed).expect("removed");
        assert_same_files(&files_in(&folder), &before, to);
    }
    // A digest that does not fit is told after the run.
    let digest = sound.split("\"sweep.csv\": \"").nth(1).expect("a digest");
    let other = sound.replace(&digest[..8], "00000000");
    std::fs::write(&changed, other).expect("written");
    let output = replay(place.path(), &changed, &["--out", "again"]);
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{errors}");
    assert!(errors.contains("not as recorded: sweep.csv"), "{errors}");
    let output = replay(place.path(), &folder.join("none.json"), &[]);
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn exact_a_record_of_another_version_is_made_again_beside_the_old_results() {
    let place = Place::new();
    place.fine(SWEEP);
    let (folder, record) = record_in(&place);
    let old = folder.join("old.json");
    let sound = text(&std::fs::read(&record).expect("a record"));
    std::fs::write(&old, sound.replace("\"version\": \"", "\"version\": \"9")).expect("written");
    let output = replay(place.path(), &old, &["--out", "again"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(text(&output.stderr).contains("the record was made by crawlspan 9"));
}

#[test]
fn exact_the_record_says_all_that_the_files_came_from() {
    let place = Place::new();
    command_in(
        place.path(),
        &[
            "sweep",
            "--vary",
            "site.gap_m=2",
            "--seasons",
            "40",
            "--threads",
            "1",
        ],
    )
    .output()
    .expect("it runs");
    let (folder, record) = record_in(&place);
    let json: serde_json::Value =
        serde_json::from_slice(&std::fs::read(record).expect("a record")).expect("JSON");
    for key in ["version", "revision", "sources", "generator", "platform"] {
        assert!(
            json[key].as_str().is_some_and(|text| !text.is_empty()),
            "{key}"
        );
    }
    assert_eq!(json["form"], 2);
    assert_eq!(json["seed"], 20_260_701);
    let arguments: Vec<&str> = json["arguments"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|word| word.as_str())
        .collect();
    assert_eq!(
        arguments,
        ["sweep", "--vary", "site.gap_m=2", "--seasons", "40"]
    );
    let complete: Vec<&str> = json["complete_scenario"]
        .as_array()
        .expect("lines")
        .iter()
        .filter_map(|line| line.as_str())
        .collect();
    let file = text(&files_in(&folder)["scenario-sweep.ron"]);
    assert_eq!(complete, file.lines().collect::<Vec<_>>());
}
