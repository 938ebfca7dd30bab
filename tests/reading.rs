//! The README's example of reading a table with Python gives what the table says.

use std::collections::BTreeMap;
use std::process::Command;

/// Text between the fences of the first block of a language.
fn block<'t>(text: &'t str, language: &str) -> &'t str {
    let fence = format!("```{language}\n");
    let begin = text.find(&fence).expect("a block of the language") + fence.len();
    let length = text[begin..].find("```").expect("its end");
    &text[begin..begin + length]
}

/// Whether a program can be started; says so and skips the test if not, except in continuous integration.
fn is_here(program: &str) -> bool {
    let here = Command::new(program).arg("--version").output().is_ok();
    if !here {
        use std::io::Write as _;
        // Past the capture of the test harness, so that it is seen.
        let _ = writeln!(std::io::stderr(), "skipped: {program} is not installed");
        assert!(
            std::env::var("CI").as_deref() != Ok("true"),
            "{program} is needed here"
        );
    }
    here
}

#[test]
fn exact_the_python_example_reads_the_surveys() {
    if !is_here("python3") {
        return;
    }
    let folder = tempfile::TempDir::new().expect("a folder");
    let season = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder.path())
        .args(["season", "--seasons", "200"])
        .output()
        .expect("it runs");
    assert!(season.status.success());
    let readme = concat!(env!("CARGO_MANIFEST_DIR"), "/README.md");
    let readme = std::fs::read_to_string(readme).expect("README.md");
    let example = Command::new("python3")
        .current_dir(folder.path())
        .args(["-c", block(&readme, "python")])
        .output()
        .expect("it runs");
    let errors = String::from_utf8_lossy(&example.stderr);
    assert!(example.status.success(), "{errors}");
    let printed = String::from_utf8(example.stdout).expect("text");

    let mut counts: BTreeMap<String, (f64, f64)> = BTreeMap::new();
    let table = folder.path().join("output/verge-pair/surveys.csv");
    let mut reader = csv::Reader::from_path(table).expect("a table");
    for row in reader.deserialize::<BTreeMap<String, String>>() {
        let row = row.expect("a row");
        if row["stage"] == "L5" {
            let number = |name: &str| row[name].parse::<f64>().expect("a count");
            let of_patch = counts.entry(row["patch"].clone()).or_default();
            of_patch.0 += number("present");
            of_patch.1 += number("laid_elsewhere");
        }
    }
    assert_eq!(counts.len(), 2, "{counts:?}");
    assert_eq!(printed.lines().count(), 2, "{printed}");
    for line in printed.lines() {
        let (patch, share) = line.rsplit_once(' ').expect("patch and share");
        let (present, strays) = counts[patch];
        let share: f64 = share.parse().expect("a share");
        /// It prints four decimals.
        const HALF_A_DIGIT: f64 = 0.000_051;
        assert!((share - strays / present).abs() < HALF_A_DIGIT, "{line}");
    }
}
