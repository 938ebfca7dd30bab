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
    vary("site.gap_m=1..10001/10000").says("the options --vary", "too many points", "10000");
    vary("site.gap_m=1,2,1.0").says(place, "1.0 is given twice", "path=value");
    vary("site.gap_m=0,-0").says(place, "-0 is given twice", "path=value");
    vary("site.cut_side=Away,Towards,Away").says(place, "Away is given twice", "path=value");
    let many = format!("site.gap_m={}", vec!["1"; 50_000].join(","));
    vary(&many).says(place, "50000 values are too many", "path=value");
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
                "0.0001 to 0.9",
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

/// A limit of a setting holds for an option that takes its place.
#[test]
fn exact_limits_of_a_setting_hold_wherever_it_enters() {
    for attraction in ["1000.5", "1e6", "inf", "NaN", "-1", "1e308"] {
        fault(&["recruit", "--attractions", attraction]).says(
            "the option --attractions",
            "`laying.attraction_peak` is",
            "0 to 1000",
        );
    }
    let eggs = "--set=laying.eggs_per_stem_week=20";
    let fault_of_eggs = fault(&["recruit", "--attractions", "1000", eggs]);
    fault_of_eggs.says("the option --attractions", "eggs a season", "4 GiB");
    for ratio in ["0", "-2", "1", "NaN", "inf", "1e308", "0.0001"] {
        fault(&["recruit", "--ratios", ratio]).says(
            "the option --ratios",
            "is no effect",
            "0.001 to 1000",
        );
        fault(&["compare", "--ratio", ratio]).says(
            "the option --ratio",
            "is no effect",
            "0.001 to 1000",
        );
    }
}

/// Counts beyond what memory or a disk can hold are refused before anything begins, with the number that would do.
#[test]
fn exact_counts_beyond_all_memory_are_refused_with_one_that_would_do() {
    for (arguments, option, expected) in [
        (
            ["weigh", "--trajectories"],
            "the option --trajectories",
            "at most 2000",
        ),
        (["weigh", "--rows"], "the option --rows", "at most 20000"),
        (["weigh", "--kept"], "the option --kept", "at most 500"),
    ] {
        for count in ["1000000000000", "18446744073709551615", "100000"] {
            fault(&[arguments[0], arguments[1], count]).says(option, "more than fits", expected);
        }
    }
    fault(&["lesson", "--takes", "1000"]).says("the option --takes", "a page", "--takes 35");
    let late = ["lesson", "--seasons", "10000000"];
    fault(&late).says("the option --seasons", "can be kept", "at most 8333333");
    fault(&["recruit", "--pool", "2000000"]).says("the option --pool", "memory", "1250000");
    let seasons = ["gap", "--gaps", &gaps(150), "--seasons", "10000000"];
    fault(&seasons).says("the option --seasons", "can be kept", "at most 666666");
    fault(&["gap", "--gaps", &gaps(300)]).says("the option --gaps", "list of gaps", "200");
    for (arguments, most) in [
        (["gap", "--seasons"], "10000000"),
        (["tune", "--rehearse"], "10000"),
        (["tune", "--particles"], "20000"),
        (["gap", "--uncertain"], "10000"),
        (["recruit", "--studies"], "100000"),
    ] {
        for count in ["18446744073709551615", "inf", "NaN", "-1", "20000001"] {
            let text = message(&[arguments[0], &format!("{}={count}", arguments[1])]);
            assert!(text.contains(arguments[1]), "{text}");
            let beyond = !count.starts_with(['i', 'N', '-']);
            assert!(!beyond || text.contains(most), "{text}");
        }
    }
}

fn gaps(count: usize) -> String {
    let gaps: Vec<String> = (1..=count).map(|gap| gap.to_string()).collect();
    gaps.join(",")
}

#[test]
fn exact_an_empty_list_says_what_is_missing_where() {
    for (command, option) in [
        ("gap", "--gaps"),
        ("refuge", "--shares"),
        ("recruit", "--ratios"),
        ("recruit", "--attractions"),
        ("recruit", "--sites"),
        ("lesson", "--gaps"),
        ("lesson", "--shares"),
        ("tune", "--fit"),
        ("tune", "--search-days"),
        ("allot", "--within"),
    ] {
        for list in ["", ",", " "] {
            let text = message(&[command, &format!("{option}={list}")]);
            assert!(text.contains(option), "{text}");
            assert!(text.contains("a value is missing"), "{text}");
            assert!(text.contains("such as"), "{text}");
        }
    }
    fault(&["season", ""]).says("where a scenario is named", "is empty", "verge-pair");
    fault(&["calendar", "--cuttings", ""]).says("the option --cuttings", "", "2026-06-15");
}

/// A clear gap outside the gaps tried, or a half-width out of reach, is told after one batch.
#[test]
fn exact_a_precision_out_of_reach_is_told_early() {
    let folder = TempDir::new().expect("a folder");
    let refused = |arguments: &[&str], what: &str| {
        let output = program(folder.path())
            .args(arguments)
            .output()
            .expect("the program runs");
        let text = String::from_utf8(output.stderr).expect("text in UTF-8");
        assert_eq!(output.status.code(), Some(2), "{text}");
        assert!(text.contains("where:    the option --precision"), "{text}");
        assert!(text.contains(what), "{text}");
        assert!(!text.contains("nothing known yet"), "{text}");
    };
    let gap = ["gap", "--seasons", "100", "--gaps"];
    refused(
        &[&gap[..], &["15,20,30", "--precision", "0.5"]].concat(),
        "below the smallest gap tried, 15 m",
    );
    refused(
        &[&gap[..], &["0.01,0.02", "--precision", "0.5"]].concat(),
        "beyond the largest gap tried, 0.02 m",
    );
    refused(
        &["refuge", "--seasons", "100", "--precision", "1e-9"],
        "would take about",
    );
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
