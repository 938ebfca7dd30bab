//! The command as it is typed: what it writes, refuses, repeats and makes again.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Output};
use tempfile::TempDir;

fn run(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder)
        .args(arguments)
        .output()
        .expect("it runs")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("text in UTF-8")
}

#[track_caller]
fn fine(folder: &Path, arguments: &[&str]) -> String {
    let output = run(folder, arguments);
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{arguments:?}: {errors}");
    text(&output.stdout)
}

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let named = paths.map(|path| {
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        (name, std::fs::read(&path).expect("a file"))
    });
    named.filter(|(name, _)| !name.starts_with('.')).collect()
}

const LIST: &str = r#"// Two gaps.
(
    name: "gaps",
    scenario: "near-pair",
    against: "far",
    variants: [
        (name: "near", words: "two metres apart", set: (site: (gap_m: 2))),
        (name: "far", set: (
            site: (gap_m: 12),
            weather: (source: Station("station.csv")),
        )),
    ],
)
"#;

/// A station's record around the season of the ready scenarios.
fn station() -> String {
    let first = jiff::civil::date(2026, 5, 1);
    let day = |day: i64| {
        let date = first.saturating_add(jiff::Span::new().days(day));
        format!("{date},{},{}\n", 14 + day % 3, 26 + day % 5)
    };
    format!(
        "date,min_c,max_c\n{}",
        (0..160).map(day).collect::<String>()
    )
}

fn place() -> TempDir {
    let folder = TempDir::new().expect("a folder");
    std::fs::write(folder.path().join("gaps.ron"), LIST).expect("written");
    std::fs::write(folder.path().join("station.csv"), station()).expect("written");
    folder
}

#[test]
fn exact_the_ready_example_holds_the_layouts_side_by_side() {
    let place = TempDir::new().expect("a folder");
    let printed = fine(
        place.path(),
        &["compare", "--seasons", "30", "--out", "results"],
    );
    assert!(
        printed.lines().all(|line| line.chars().count() <= 80),
        "{printed}"
    );
    for words in [
        "Side by side",
        "half-cut-pair",
        "Ask the owner",
        "not permission",
    ] {
        assert!(printed.contains(words), "{words}");
    }
    let files = files(&place.path().join("results/layouts"));
    let table = text(&files["compare.csv"]);
    let variants = [
        "one-patch-halves",
        "half-cut-pair",
        "whole-cut-pair",
        "cut-towards",
        "cut-away",
        "refuge-25",
        "refuge-75",
    ];
    for name in variants {
        assert!(files.contains_key(&format!("variant-{name}.ron")), "{name}");
        let rows = table
            .lines()
            .filter(|line| line.starts_with(&format!("{name},")));
        assert_eq!(rows.count(), 16, "{name}");
    }
    assert_eq!(table.lines().count(), 1 + 16 * variants.len());
    for name in [
        "compare.txt",
        "compare.svg",
        "compare.png",
        "provenance-compare.json",
        "columns-compare.csv",
    ] {
        assert!(files.contains_key(name), "{name}");
    }
    assert_eq!(files.len(), 6 + variants.len());
}

#[test]
fn exact_a_list_is_compared_with_itself_on_any_threads_and_made_again_from_its_record() {
    let place = place();
    let arguments = ["compare", "gaps.ron", "--seasons", "40"];
    fine(
        place.path(),
        &[&arguments[..], &["--out", "one", "--threads", "1"]].concat(),
    );
    fine(
        place.path(),
        &[&arguments[..], &["--out", "two", "--threads", "2"]].concat(),
    );
    let one = files(&place.path().join("one/gaps"));
    assert!(one == files(&place.path().join("two/gaps")));
    let table = text(&one["compare.csv"]);
    assert!(
        table.contains("near,net_yield,") && table.contains(",far,logarithm,"),
        "{table}"
    );

    // Elsewhere there is neither the list nor the station's record.
    let record = place.path().join("one/gaps/provenance-compare.json");
    let elsewhere = TempDir::new().expect("a folder");
    let record = record.to_string_lossy().into_owned();
    let said = fine(elsewhere.path(), &["replay", &record, "--out", "again"]);
    assert!(said.contains("byte for byte as recorded"), "{said}");
    assert!(one == files(&elsewhere.path().join("again/gaps")));

    let changed = text(&one["provenance-compare.json"]).replacen("gap_m: 12", "gap_m: 13", 1);
    let other = elsewhere.path().join("changed.json");
    assert!(changed.contains("gap_m: 13"));
    std::fs::write(&other, changed).expect("written");
    let output = run(
        elsewhere.path(),
        &["replay", "changed.json", "--out", "more"],
    );
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("the record has been changed: the variant `far`"));
}

#[test]
fn exact_shards_give_the_same_table() {
    let place = TempDir::new().expect("a folder");
    let arguments = ["compare", "near-pair", "one-patch", "--seasons", "40"];
    fine(
        place.path(),
        &[&arguments[..], &["--out", "whole"]].concat(),
    );
    for shard in ["1/2", "2/2"] {
        fine(
            place.path(),
            &[&arguments[..], &["--out", "parts", "--shard", shard]].concat(),
        );
    }
    fine(place.path(), &["gather", "parts/compare"]);
    let (whole, parts) = ("whole/compare/compare.csv", "parts/compare/compare.csv");
    let read = |name: &str| std::fs::read(place.path().join(name)).expect("a table");
    assert!(read(whole) == read(parts));
}

/// A list changes another scenario than its own, and every variant takes what is set for all.
#[test]
fn exact_a_list_on_another_scenario_with_a_setting_for_all() {
    let place = place();
    let arguments = [
        "compare",
        "gaps.ron",
        "--on",
        "unequal-pair",
        "--set",
        "dates.surveys=4",
        "--against",
        "near",
        "--seasons",
        "4",
        "--out",
        "results",
    ];
    let printed = fine(place.path(), &arguments);
    assert!(
        printed.contains("near (the others are held against it)"),
        "{printed}"
    );
    let files = files(&place.path().join("results/gaps"));
    for (name, gap) in [("near", "gap_m: 2"), ("far", "gap_m: 12")] {
        let ron = text(&files[&format!("variant-{name}.ron")]);
        assert!(ron.contains(gap) && ron.contains("surveys: 4"), "{name}");
        assert!(ron.contains(&format!("name: \"{name}\"")));
    }
}

#[track_caller]
fn refused(list: &str, arguments: &[&str], says: &[&str]) {
    let place = place();
    std::fs::write(place.path().join("list.ron"), list).expect("written");
    let output = run(place.path(), &[&["compare"], arguments].concat());
    let errors = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert_eq!(errors.matches("error:").count(), 1, "{errors}");
    for words in says.iter().chain(&["expected"]) {
        assert!(errors.contains(words), "`{words}` is not in: {errors}");
    }
    assert!(
        !place.path().join("output").exists(),
        "something was written"
    );
}

#[test]
fn exact_faults_name_file_and_line() {
    let list = |variants: &str| {
        format!(
            "(\n    name: \"tried\",\n    scenario: \"near-pair\",\n    variants: [\n{variants}\n    ],\n)\n"
        )
    };
    let fine = "        (name: \"near\", set: (site: (gap_m: 2))),\n";
    let with = |more: &str| list(&format!("{fine}{more}"));
    refused(
        &with("        (name: \"odd\", set: (site: (gap: 2))),"),
        &["list.ron"],
        &[
            "unknown name `gap` in the group Site",
            "list.ron, line 6",
            "gap_m",
        ],
    );
    refused(
        &with("        (name: \"odd\", set: (site: (\n            gap_m: -2))),"),
        &["list.ron"],
        &["`site.gap_m` is -2", "list.ron, line 7", "from 0"],
    );
    refused(
        &with("        (name: \"odd\", wards: \"so\"),"),
        &["list.ron"],
        &["unknown name `wards` in a variant", "list.ron, line 6"],
    );
    refused(
        &with("\n        (name: \"near\"),"),
        &["list.ron"],
        &[
            "two variants are called `near`",
            "list.ron, line 7",
            "list.ron, line 5",
        ],
    );
    refused(
        &with("        (name: \"a/b\"),"),
        &["list.ron"],
        &["the name `a/b` cannot be a file", "list.ron, line 6"],
    );
    refused(
        &with("        (name: \"odd\", set: (name: \"even\")),"),
        &["list.ron"],
        &["takes its name", "list.ron, line 6"],
    );
    refused(
        &with("        (name: \"odd\", scenario: \"nowhere\"),"),
        &["list.ron"],
        &["`nowhere` cannot be read", "list.ron, line 6"],
    );
    refused(
        &list(fine),
        &["list.ron"],
        &["1 variants cannot be compared", "2 to 40"],
    );
    refused(
        &with("        (name: \"odd\"),").replace("    scenario: \"near-pair\",\n", ""),
        &["list.ron"],
        &["nothing says which scenario", "list.ron, line 4", "--on"],
    );
    refused(
        &with("        (name: \"odd\"").replace("],\n)", ""),
        &["list.ron"],
        &[
            "a comma or a closing bracket is missing",
            "list.ron, line 6",
        ],
    );
}

#[test]
fn exact_faults_of_options() {
    refused(
        "",
        &["near-pair", "near-pair"],
        &["two variants are called `near-pair`"],
    );
    refused("", &["near-pair"], &["1 variants cannot be compared"]);
    refused(
        "",
        &["near-pair", "one-patch", "--on", "verge-pair"],
        &["--on", "no list"],
    );
    refused(
        "",
        &["gaps.ron", "--against", "nowhere"],
        &["no variant `nowhere`", "--against", "near, far"],
    );
    refused(
        "",
        &["--ratio", "1"],
        &["the ratio 1 is no effect", "--ratio"],
    );
    refused(
        "",
        &["--precision", "-1"],
        &["the precision is -1", "--precision"],
    );
    refused(
        "",
        &["gaps.ron", "--set", "site.gap=3"],
        &["unknown name `gap`", "site.gap=3"],
    );
    refused(
        "",
        &["missing.ron", "near-pair"],
        &["`missing.ron` cannot be read"],
    );
}
