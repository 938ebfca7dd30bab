//! Scenarios of which nothing can be counted: what has no data is undefined with its reason, the rest is answered, and
//! no command fails by a statistic.

use super::run::Run;
use tempfile::TempDir;

/// Settings under which no larva reaches the late stage, each in its own way.
const EMPTY: [(&str, &[&str]); 4] = [
    ("no eggs", &["laying.eggs_per_stem_week=0"]),
    ("winter", &["dates.cutting=2026-12-10"]),
    (
        "no flight",
        &["laying.flight=[(\"01-01\", 0), (\"12-31\", 0)]"],
    ),
    (
        "all die young",
        &[
            "survival.mature.l2=0.0001",
            "survival.mature.l3=0.0001",
            "survival.mature.egg=0.0001",
            "survival.mature.l1=0.0001",
        ],
    ),
];

#[track_caller]
fn ran(name: &str, arguments: &[&str], settings: &[&str]) -> Run {
    let options = settings.iter().flat_map(|setting| ["--set", setting]);
    let arguments: Vec<&str> = arguments.iter().copied().chain(options).collect();
    let run = Run::of(&arguments);
    for (file, table) in run.tables() {
        assert!(
            !table.contains("NaN") && !table.contains("inf"),
            "{name}: {arguments:?}: {file}: {table}"
        );
    }
    assert!(!run.stdout.contains("NaN"), "{name}: {}", run.stdout);
    let left: Vec<String> = run.files().into_keys().collect();
    assert!(
        left.iter().all(|file| !file.ends_with(".pieces")),
        "{name}: {arguments:?}: {left:?}"
    );
    run
}

#[test]
fn exact_the_gap_of_nothing_is_undefined_and_says_why() {
    let early: &[&str] = &[
        "dates.lead_in_days=0",
        "dates.first_survey_day=0",
        "dates.surveys=1",
    ];
    for (name, settings) in EMPTY.into_iter().chain([("counted too early", early)]) {
        let gap = [
            "gap",
            "--gaps",
            "1,4",
            "--seasons",
            "40",
            "--uncertain",
            "2",
        ];
        let run = ran(name, &gap, settings);
        let said = run.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
        for words in [
            "Clear gap: undefined in all of 2 plausible parameter sets, and with the central numbers.",
            "No late-stage larvae were seen on the treated patch in 40 seasons at each gap.",
            "laying.eggs_per_stem_week",
        ] {
            assert!(said.contains(words), "{name}: `{words}` in {said}");
        }
        assert!(!said.contains("decides"), "{name}: {said}");
        let table = run.table("clear-gap.csv");
        for row in &table.rows[..2] {
            assert_eq!(row[1..4], ["", "", ""], "{name}: {row:?}");
            assert!(row[5].contains("undefined"), "{name}: {row:?}");
        }
    }
}

#[test]
fn exact_no_precision_is_sought_where_there_is_nothing() {
    // Doubling the seasons eight times would take 511 times as long and find nothing either.
    let none = ["laying.eggs_per_stem_week=0"];
    let commands: [&[&str]; 3] = [
        &["gap", "--gaps", "1,4", "--precision", "0.5"],
        &["refuge", "--shares", "0.5", "--precision", "0.01"],
        &["sweep", "--vary", "site.gap_m=2,5", "--precision", "0.01"],
    ];
    for arguments in commands {
        let run = ran(
            "no eggs",
            &[arguments, &["--seasons", "40"]].concat(),
            &none,
        );
        assert!(!run.stderr.contains("nothing known yet"), "{}", run.stderr);
    }
}

#[test]
fn exact_a_gap_is_told_for_the_patch_that_has_larvae() {
    // A single stem gets a millionth of the eggs at this exponent, and so far away no larva walks to it.
    let settings = ["site.untouched.stems=1", "laying.size_exponent=3"];
    let gap = ["gap", "--gaps", "20,30", "--seasons", "40"];
    let run = ran("one stem", &gap, &settings);
    let said = run.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "with the central numbers undefined.",
        "For the treated patch alone, with the central numbers: ",
        "of 40 plausible parameter sets that define it",
    ] {
        assert!(said.contains(words), "`{words}` in {said}");
    }
    assert!(said.contains("seen on the untouched patch"), "{said}");
    let table = run.table("clear-gap.csv");
    assert!(!table.rows[0][5].contains("undefined"), "{:?}", table.rows);
    assert!(table.rows[1][5].contains("undefined"), "{:?}", table.rows);
}

#[test]
fn exact_the_brief_of_nothing_answers_what_it_can() {
    for (name, settings) in EMPTY {
        for ready in ["verge-pair", "one-patch"] {
            let run = ran(name, &["brief", ready, "--effort", "0.01"], settings);
            let said = run.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
            for words in [
                "at a survey, on average with the central numbers: 0.00 on the",
                "Break-even attraction of fresh stems: undefined in all of",
                "Too few larvae reached pupation",
                "What is assumed",
                "Cautions",
            ] {
                assert!(said.contains(words), "{name}: `{words}` in {said}");
            }
            assert_eq!(
                said.contains("Clear gap: undefined in all of"),
                ready == "verge-pair"
            );
            assert!(run.files().contains_key("brief.html"));
        }
    }
}

#[test]
fn exact_every_command_can_say_that_there_is_nothing() {
    let commands: [&[&str]; 14] = [
        &[
            "refuge",
            "--shares",
            "0,0.5,1",
            "--seasons",
            "40",
            "--uncertain",
            "2",
        ],
        &[
            "refuge",
            "one-patch",
            "--shares",
            "0,0.5",
            "--seasons",
            "40",
        ],
        &[
            "recruit",
            "--ratios",
            "2",
            "--pool",
            "40",
            "--studies",
            "10",
            "--sites",
            "4,8",
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
        &["compare", "--seasons", "40"],
        &["compare", "one-patch", "verge-pair", "--seasons", "40"],
        &["screen", "--seasons", "40"],
        &["calendar", "--seasons", "40"],
        &["season", "--seasons", "3", "--walks"],
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
        &["describe"],
        &["allot"],
        &[
            "tune",
            "--rehearse",
            "12",
            "--particles",
            "50",
            "--generations",
            "2",
        ],
    ];
    for arguments in commands {
        ran("no eggs", arguments, &["laying.eggs_per_stem_week=0"]);
    }
}

#[test]
fn exact_real_counts_are_compared_though_nothing_is_known_of_their_exchange() {
    let mut table = "site,week,patch,stage,count,stems\n".to_owned();
    for site in 0..8 {
        for (patch, count) in [("treated", 3 + site % 3), ("untouched", 1 + site % 2)] {
            table += &format!("s{site},1,{patch},L5,{count},40\n");
        }
    }
    let folder = TempDir::new().expect("a folder");
    std::fs::write(folder.path().join("counts.csv"), table).expect("written");
    let none = "laying.eggs_per_stem_week=0";
    let options = [
        "--scenario",
        "near-pair",
        "--seasons",
        "40",
        "--uncertain",
        "2",
        "--set",
        none,
    ];
    let run = Run::within(folder, &[&["analyse", "counts.csv"], &options[..]].concat());
    let said = run.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "8 sites",
        "not corrected for exchange",
        "in 40 simulated seasons",
    ] {
        assert!(said.contains(words), "`{words}` in {said}");
    }
    assert!(run.tables().contains_key("analysis.csv"));
}

#[test]
fn exact_where_a_half_has_no_stems_nothing_is_compared() {
    for settings in [
        ["site.refuge_share=0"],
        ["site.refuge_share=1"],
        ["site.treated.stems=1"],
    ] {
        let run = ran(
            "one half",
            &["brief", "one-patch", "--effort", "0.01"],
            &settings,
        );
        let said = run.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(
            said.contains("Too few larvae reached pupation, or one side has no stems,"),
            "{said}"
        );
        assert!(said.contains("late-stage larvae"), "{said}");
    }
}
