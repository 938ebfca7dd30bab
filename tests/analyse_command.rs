//! The command `analyse` from outside: exit codes, files, text.

use assert_cmd::Command;
use std::path::Path;

fn crawlspan(folder: &Path) -> Command {
    let mut command = Command::cargo_bin("crawlspan").unwrap();
    command.current_dir(folder);
    command
}

/// Standard output of a command that goes well.
fn output(command: &mut Command) -> String {
    let run = command.assert().success();
    String::from_utf8(run.get_output().stdout.clone()).unwrap()
}

/// Rows of a CSV file by column.
fn column(path: &Path, name: &str) -> Vec<String> {
    let mut reader = csv::Reader::from_path(path).unwrap();
    let at = reader
        .headers()
        .unwrap()
        .iter()
        .position(|column| column == name)
        .unwrap();
    reader
        .records()
        .map(|row| row.unwrap()[at].to_owned())
        .collect()
}

#[test]
fn exact_counts_of_season_are_analysed_and_corrected() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    output(crawlspan(here).args(["season", "near-pair", "--seasons", "30"]));
    let base = ["analyse", "output/near-pair/surveys.csv"];
    let one = output(crawlspan(here).args(base));
    let files = here.join("output/analyse-surveys");
    assert_eq!(column(&files.join("analysis.csv"), "estimator"), ["flip"]);
    let ratio: f64 = column(&files.join("analysis.csv"), "ratio")[0]
        .parse()
        .unwrap();
    assert!(
        one.contains(&format!("Ratio {ratio:.2}, 95 % interval")),
        "{one}"
    );
    assert_eq!(column(&files.join("sites.csv"), "site").len(), 30);
    assert!(!files.join("scenario.ron").exists());
    let all = output(crawlspan(here).args(base).args([
        "--all",
        "--scenario",
        "near-pair",
        "--seasons",
        "200",
        "--uncertain",
        "3",
    ]));
    assert!(
        all.contains("Assumed: larvae walk as in the scenario"),
        "{all}"
    );
    assert!(all.lines().all(|line| line.chars().count() <= 80), "{all}");
    let again: f64 = column(&files.join("analysis.csv"), "ratio")[0]
        .parse()
        .unwrap();
    assert_eq!(again, ratio);
    assert!(
        column(&files.join("analysis.csv"), "home_high_over_sets")
            .iter()
            .all(|high| !high.is_empty())
    );
    assert_eq!(column(&files.join("analysis.csv"), "estimator").len(), 5);
    let record = std::fs::read_to_string(files.join("provenance-analyse.json")).unwrap();
    let record: serde_json::Value = serde_json::from_str(&record).unwrap();
    assert_eq!(record["counts_sha256"].as_str().unwrap().len(), 64);
    assert_eq!(record["scenario"], "near-pair");
    assert!(files.join("scenario.ron").exists() && files.join("dropped.csv").exists());
}

#[test]
fn exact_bad_input_ends_with_exit_code_2_and_the_line() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    let head = "site,week,patch,stage,count,stems\na,1,treated,L5,1,20\n";
    let faulty = format!("{head}a,1,untouched,L5,-2,20\n");
    std::fs::write(here.join("bad.csv"), faulty).unwrap();
    let sound = format!("{head}a,1,untouched,L5,2,20\n");
    std::fs::write(here.join("good.csv"), sound).unwrap();
    for (arguments, told) in [
        (&["bad.csv"][..], "bad.csv, line 3"),
        (&["none.csv"], "none.csv"),
        (&["."], "cannot be read"),
        (&["good.csv", "--ratio-null", "0"], "--ratio-null"),
        (&["good.csv", "--estimator", "binomial"], "binomial"),
        (&["good.csv", "--stage", "L6"], "L6"),
        (&["good.csv", "--stage", "L4"], "no site is left"),
        (&["good.csv", "--compare", "halves"], "no site is left"),
        (&["good.csv", "--compare", "thirds"], "thirds"),
        (&["good.csv", "--scenario", "nowhere"], "nowhere"),
        (
            &["good.csv", "--scenario", "one-patch"],
            "does not have the patches",
        ),
        (&["good.csv", "--uncertain", "3"], "--scenario"),
        (&["good.csv", "--all", "--estimator", "flip"], "--all"),
    ] {
        let run = crawlspan(here)
            .arg("analyse")
            .args(arguments)
            .assert()
            .code(2);
        let message = String::from_utf8(run.get_output().stderr.clone()).unwrap();
        assert!(message.contains(told), "{arguments:?}: {message}");
    }
    crawlspan(here)
        .args(["analyse", "good.csv"])
        .assert()
        .success();
}
