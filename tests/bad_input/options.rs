//! Faults in options, and folders that cannot be written.

use super::fault::{Fault, fault_of, program, refusal};
use tempfile::TempDir;

fn fault(arguments: &[&str]) -> Fault {
    fault_of(TempDir::new().expect("a folder").path(), arguments)
}

fn message(arguments: &[&str]) -> String {
    refusal(TempDir::new().expect("a folder").path(), arguments)
}

#[test]
fn exact_settings_on_the_command_line_are_checked() {
    let set = |setting: &str| fault(&["season", "--set", setting]);
    set("site.gap_m").says(
        "the option --set",
        "`site.gap_m` sets nothing",
        "path=value",
    );
    set("=5").says("the option =5", "not a path", "dots");
    set("site..gap_m=5").says("the option site..gap_m=5", "not a path", "dots");
    set("site.gpa_m=5").says("the option site.gpa_m=5", "unknown name `gpa_m`", "gap_m");
    set("site.gap_m=-5").says("the option site.gap_m=-5", "is -5", "0 to 100000");
    set("site.gap_m=far").says(
        "the option site.gap_m=far",
        "`far` is not a number",
        "Yards(10)",
    );
    set("site.gap_m=").says("the option site.gap_m=", "", "");
    set("site.cut_side=Sideways").says(
        "the option site.cut_side=Sideways",
        "unknown choice `Sideways`",
        "Towards",
    );
    set("site.gap_m=5), dates: (surveys: 3").says(
        "the option site.gap_m=5), dates: (surveys: 3",
        "brackets",
        "closed",
    );
    set("extends=one-patch").says("the option extends=one-patch", "cannot be set", "a setting");
    set("name=\"../../evil\"").says(
        "the option name=\"../../evil\"",
        "cannot be a folder",
        "letters",
    );
    let long = format!("{}=5", ["site"; 5000].join("."));
    let fault = set(&long);
    assert!(fault.what.contains("nest too deeply"), "{}", fault.what);
}

#[test]
fn exact_varied_settings_are_checked() {
    let vary = |setting: &str| fault(&["sweep", "--seasons", "40", "--vary", setting]);
    let place = "the option --vary";
    vary("site.gap_m").says(place, "no `=`", "path=value");
    vary("site.gap_m=5..1/4").says(place, "upside down", "from..to/steps");
    vary("site.gap_m=1..5").says(place, "number of steps", "from..to/steps");
    vary("site.gap_m=1..5/0").says(place, "not made of numbers", "from..to/steps");
    vary("site.gap_m=1..inf/3").says(place, "not made of numbers", "from..to/steps");
    vary("site.gap_m=1,,5").says(place, "a value is missing", "path=value");
    vary("site.gpa_m=1,5").says("the option site.gpa_m=1", "unknown name `gpa_m`", "gap_m");
    vary("site.gap_m=1,-5").says("the option site.gap_m=-5", "is -5", "0 to 100000");
    vary("site.gap_m=1..100001/100000").says("the options --vary", "too many points", "100000");
    let twice = ["sweep", "--vary", "site.gap_m=1", "--vary", "site.gap_m=2"];
    fault(&twice).says("the options --vary", "varied twice", "once");
    let unknown = ["sweep", "--vary", "site.gap_m=1,2", "--draw", "strays"];
    fault(&unknown).says("the option --draw", "no measure `strays`", "stray_share");
}

#[test]
fn exact_questions_that_make_no_sense_are_refused_before_anything_is_written() {
    for command in ["brief", "gap"] {
        for tolerance in ["2", "0", "-0.5", "NaN"] {
            fault(&[command, "--tolerance", tolerance]).says(
                "the option --tolerance",
                tolerance,
                "between 0 and 1",
            );
        }
    }
    for effort in ["-1", "0", "NaN", "1e9"] {
        fault(&["brief", "--effort", effort]).says(
            "the option --effort",
            "the effort is",
            "0.01 to 1000",
        );
    }
    for gaps in ["4,2,8", "5", "-1,2", "NaN,2", "1,1"] {
        fault(&["gap", "--gaps", gaps]).says("the option --gaps", "list of gaps", "ascending");
    }
    fault(&["gap", "--gaps", "1,1e9"]).says(
        "the option site.gap_m=1000000000",
        "is 1000000000",
        "100000",
    );
    for precision in ["0", "-1", "NaN"] {
        fault(&["gap", "--precision", precision]).says(
            "the option --precision",
            "the precision is",
            "above 0",
        );
        fault(&["refuge", "--precision", precision]).says(
            "the option --precision",
            "the precision is",
            "above 0",
        );
    }
    for shares in ["0.5,2", "-0.1", "NaN"] {
        fault(&["refuge", "--shares", shares]).says("the option --shares", "shares", "0 to 1");
    }
    fault(&["gap", "one-patch"]).says(
        "one-patch (built in), line 7 (site.layout)",
        "no gap",
        "PairHalfCut",
    );
}

#[test]
fn exact_counts_out_of_range_are_refused_by_name() {
    for (arguments, option) in [
        (["season", "--seasons", "0"], "--seasons"),
        (["season", "--seasons", "1.5"], "--seasons"),
        (["gap", "--seasons", "0"], "--seasons"),
        (["gap", "--threads", "0"], "--threads"),
        (
            ["season", "--replicate", "18446744073709551615"],
            "--replicate",
        ),
        (["season", "--seed", "-1"], "-1"),
        (["brief", "--effort", "much"], "--effort"),
        (["season", "--nonsense", "1"], "--nonsense"),
    ] {
        let text = message(&arguments);
        assert!(text.contains(option), "{arguments:?}: {text}");
    }
}

#[test]
fn exact_folders_that_cannot_be_written_are_refused() {
    let folder = TempDir::new().expect("a folder");
    std::fs::write(folder.path().join("file"), "kept").expect("a file");
    fault_of(folder.path(), &["season", "--out", "file"]).says(
        "file/verge-pair",
        "the output folder cannot be written",
        "a folder",
    );
    fault_of(folder.path(), &["season", "--out", "file/below"]).says(
        "file/below/verge-pair",
        "the output folder cannot be written",
        "a folder",
    );
    if cfg!(target_os = "linux") {
        // Permissions do not bind root; nobody can make a folder here.
        fault_of(folder.path(), &["season", "--out", "/proc/version/x"]).says(
            "/proc/version/x/verge-pair",
            "the output folder cannot be written",
            "a folder",
        );
    }
    std::fs::create_dir(folder.path().join("results")).expect("a folder");
    std::fs::write(folder.path().join("results/verge-pair"), "in the way").expect("a file");
    fault_of(folder.path(), &["season", "--out", "results"]).says(
        "results/verge-pair",
        "the output folder cannot be written",
        "a folder",
    );
    assert_eq!(
        std::fs::read_to_string(folder.path().join("file")).expect("a file"),
        "kept"
    );
}

#[test]
fn exact_new_overwrites_nothing() {
    let folder = TempDir::new().expect("a folder");
    std::fs::write(folder.path().join("mine.ron"), "mine").expect("a file");
    fault_of(folder.path(), &["new", "mine.ron"]).says(
        "mine.ron",
        "exists already",
        "a name that is free",
    );
    fault_of(folder.path(), &["new", "."]).says(".", "exists already", "a name that is free");
    refusal(folder.path(), &["new", "no/such/folder.ron"]);
    refusal(folder.path(), &["new", "mine.ron/below.ron"]);
    assert_eq!(
        std::fs::read_to_string(folder.path().join("mine.ron")).expect("a file"),
        "mine"
    );
}

#[test]
fn exact_help_and_version_are_no_faults() {
    let folder = TempDir::new().expect("a folder");
    for arguments in [["--help"], ["--version"]] {
        program(folder.path()).args(arguments).assert().success();
    }
}

/// A shell takes quotes away: a text that comes bare is the same as one in quotes, and what is no text stays refused.
#[test]
fn exact_text_comes_with_quotes_or_bare() {
    let layered = |value: &str| {
        let mut layered = crawlspan::Layered::open("verge-pair").expect("it is ready");
        layered.set("dates.cutting", value).map(|()| layered)
    };
    let date = |value: &str| {
        let layered = layered(value).expect("a text");
        crawlspan::Scenario::from_layers(&layered).map(|scenario| scenario.cutting_date)
    };
    let quoted = date("\"2026-07-08\"").expect("a date");
    assert_eq!(date("2026-07-08").expect("a date"), quoted);
    assert!(date("nonsense").is_err());
    assert!(layered("\"2026").is_err());
    let mut numbers = crawlspan::Layered::open("verge-pair").expect("it is ready");
    assert!(numbers.set("site.gap_m", "wide").is_err());
    assert!(numbers.set("site.layout", "Elsewhere").is_err());
}
