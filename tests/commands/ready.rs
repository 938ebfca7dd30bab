//! Every ready scenario, and every command.

use super::run::{Run, Table, entries};
use assert_cmd::Command;
use crawlspan::output::tables::described::SURVEYS;
use crawlspan::scenario::presets::SCENARIOS;
use tempfile::TempDir;

/// No cell of any table is a number that is none; undefined values are empty cells.
#[track_caller]
fn assert_numbers_are_numbers(run: &Run) {
    for (name, text) in run.tables() {
        let table = Table::of(&text);
        assert!(!table.rows.is_empty(), "{name} has no rows");
        for cell in table.rows.iter().flatten() {
            let word = cell
                .trim()
                .trim_start_matches(['-', '+'])
                .to_ascii_lowercase();
            assert!(
                !matches!(word.as_str(), "nan" | "inf" | "infinity"),
                "{name} holds {cell}"
            );
        }
    }
}

#[track_caller]
fn assert_columns(run: &Run, name: &str, columns: &[&str]) {
    assert_eq!(run.table(name).columns, columns, "{name}");
}

#[track_caller]
fn assert_written(run: &Run, names: &[&str]) {
    let files = run.files();
    for name in names {
        let path = files
            .get(*name)
            .unwrap_or_else(|| panic!("{name} is missing"));
        let length = std::fs::metadata(path).expect("a file").len();
        assert!(length > 0, "{name} is empty");
        assert!(
            run.stdout.contains(name),
            "{name} is not named:\n{}",
            run.stdout
        );
    }
    // The dictionary of the tables; tests/dictionary.rs reads it.
    let others = files.keys().filter(|name| !name.starts_with("columns-"));
    assert_eq!(others.count(), names.len(), "{:?}", files.keys());
}

#[test]
fn exact_every_ready_scenario_gives_a_brief() {
    for ready in SCENARIOS {
        let run = Run::of(&["brief", ready.name, "--effort", "0.02"]);
        let files = run.files();
        for name in [
            "brief.txt",
            "measures.csv",
            "scenario-brief.ron",
            "provenance-brief.json",
            "season-map.svg",
            "season-map.png",
        ] {
            assert!(
                files.contains_key(name),
                "{}: {name} is missing",
                ready.name
            );
        }
        assert_columns(
            &run,
            "measures.csv",
            &[
                "measure",
                "value",
                "low",
                "high",
                "seasons",
                "plausible_5",
                "plausible_50",
                "plausible_95",
                "sets",
                "undefined",
            ],
        );
        assert_numbers_are_numbers(&run);
        let folder = entries(&run.folder().join("results"));
        assert_eq!(folder.len(), 1, "{}", ready.name);
        assert!(folder[0].ends_with(ready.name), "{}", ready.name);
        let brief = std::fs::read_to_string(&files["brief.txt"]).expect("a brief");
        assert!(
            run.stdout.starts_with(brief.trim_end()),
            "{}: the brief is printed",
            ready.name
        );
    }
}

#[test]
fn exact_every_ready_scenario_gives_seasons_whose_eggs_add_up() {
    for ready in SCENARIOS {
        let run = Run::of(&["season", ready.name, "--seasons", "3", "--walks"]);
        assert_written(
            &run,
            &[
                "surveys.csv",
                "fates.csv",
                "walks.csv",
                "season-map.svg",
                "season-map.png",
                "scenario-season.ron",
                "provenance-season.json",
            ],
        );
        assert_numbers_are_numbers(&run);
        let columns: Vec<&str> = SURVEYS.columns.iter().map(|column| column.name).collect();
        assert_columns(&run, "surveys.csv", &columns);
        let surveys = run.table("surveys.csv");
        let laid =
            ["laid_here", "laid_other_half", "laid_elsewhere"].map(|name| surveys.counts(name));
        for (row, present) in surveys.counts("present").into_iter().enumerate() {
            let sum: u64 = laid.iter().map(|column| column[row]).sum();
            assert_eq!(sum, present, "{}: {:?}", ready.name, surveys.rows[row]);
        }
        // What is printed: "3 seasons, N eggs", and each fate with its count.
        let fates = run.table("fates.csv");
        let ended: u64 = fates.counts("count").iter().sum();
        let eggs: u64 = run
            .stdout
            .split_whitespace()
            .nth(2)
            .and_then(|word| word.parse().ok())
            .expect("eggs");
        assert!(eggs > 0, "{}", ready.name);
        assert_eq!(ended, eggs, "{}", ready.name);
    }
}

#[test]
fn exact_gap_and_refuge_write_their_tables() {
    let run = Run::of(&[
        "gap",
        "near-pair",
        "--gaps",
        "1,3,9",
        "--seasons",
        "60",
        "--uncertain",
        "3",
    ]);
    assert_written(
        &run,
        &[
            "gap.csv",
            "clear-gap.csv",
            "gap.svg",
            "gap.png",
            "scenario-gap.ron",
            "provenance-gap.json",
        ],
    );
    assert_columns(
        &run,
        "gap.csv",
        &["gap_m", "patch", "stray_share", "low", "high", "seasons"],
    );
    assert_columns(
        &run,
        "clear-gap.csv",
        &[
            "what",
            "clear_gap_m",
            "low_m",
            "high_m",
            "tolerance",
            "note",
        ],
    );
    assert_eq!(run.table("gap.csv").rows.len(), 6);
    assert_numbers_are_numbers(&run);
    let run = Run::of(&[
        "refuge",
        "one-patch",
        "--shares",
        "0,0.5,1",
        "--seasons",
        "60",
    ]);
    assert_written(
        &run,
        &[
            "refuge.csv",
            "refuge-measures.csv",
            "refuge.svg",
            "refuge.png",
            "scenario-refuge.ron",
            "provenance-refuge.json",
        ],
    );
    assert_columns(
        &run,
        "refuge.csv",
        &[
            "refuge_share",
            "stands",
            "laid",
            "stems",
            "late_per_season",
            "low",
            "high",
        ],
    );
    assert_eq!(run.table("refuge.csv").rows.len(), 18);
    assert_numbers_are_numbers(&run);
}

#[test]
fn exact_parameter_sets_add_their_columns() {
    let run = Run::of(&[
        "refuge",
        "--shares",
        "0,0.5",
        "--seasons",
        "40",
        "--uncertain",
        "3",
    ]);
    let table = run.table("refuge-measures.csv");
    assert_eq!(table.columns[5..], BAND_COLUMNS);
    assert!(table.counts("sets").iter().all(|sets| *sets == 3));
    // Without a refuge nothing can drift into it, in any set.
    assert_eq!(table.counts("undefined")[0], 3);
    assert_eq!(table.counts("undefined")[5], 0);
    let words: Vec<&str> = run.stdout.split_whitespace().collect();
    let text = words.join(" ");
    assert!(
        text.contains("in 90 % of 3 plausible parameter sets"),
        "{text}"
    );
    assert_numbers_are_numbers(&run);
    let run = Run::of(&[
        "sweep",
        "--vary",
        "site.gap_m=2,8",
        "--seasons",
        "40",
        "--uncertain",
        "3",
    ]);
    let table = run.table("sweep.csv");
    assert_eq!(table.columns.len(), 2 + 9 * 8);
    assert_eq!(table.counts("net_yield_sets"), [3, 3]);
    assert_numbers_are_numbers(&run);
    let run = Run::of(&["brief", "--effort", "0.01", "--uncertain", "0"]);
    assert_eq!(run.table("measures.csv").columns.len(), 5);
    assert!(run.stdout.contains("with the central numbers only"));
    assert!(!run.stdout.contains(" sets (middle "));
}

#[test]
fn exact_recruitment_is_asked_of_parameter_sets_too() {
    let run = Run::of(&[
        "recruit",
        "--ratios",
        "2,400",
        "--sites",
        "10,40",
        "--studies",
        "40",
        "--pool",
        "60",
        "--uncertain",
        "2",
    ]);
    let table = run.table("sites-needed-plausible.csv");
    assert_eq!(table.columns[..2], ["effect", "power"]);
    assert_eq!(table.columns[2..7], BAND_COLUMNS);
    assert_eq!(table.counts("sets"), [2, 2, 2, 2]);
    assert_eq!(table.counts("undefined")[2..], [2, 2]);
    let words: Vec<&str> = run.stdout.split_whitespace().collect();
    let text = words.join(" ");
    for said in [
        "ratio 400 and 80 % power: undefined in all of 2 plausible parameter sets; with the central numbers out of reach.",
        "ratio 400: 2 of 2 sets cannot reach it at any attraction tried and are left out.",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    assert_numbers_are_numbers(&run);
}

#[test]
fn exact_unknowns_are_weighed_and_those_that_cannot_matter_do_not() {
    let arguments = [
        "weigh",
        "--trajectories",
        "4",
        "--rows",
        "16",
        "--kept",
        "3",
        "--seasons",
        "2",
    ];
    let run = Run::of(&arguments);
    assert_written(
        &run,
        &[
            "weigh.csv",
            "weigh.txt",
            "weigh.svg",
            "weigh.png",
            "scenario-weigh.ron",
            "provenance-weigh.json",
        ],
    );
    assert_numbers_are_numbers(&run);
    let table = run.table("weigh.csv");
    let column = |name: &str| {
        table
            .columns
            .iter()
            .position(|column| column == name)
            .unwrap()
    };
    let (unknown, effect) = (column("unknown"), column("absolute_effect"));
    // What volunteers see moves no larva: under the same seasons its effect is nothing at all.
    let seen = table
        .rows
        .iter()
        .filter(|row| row[unknown].starts_with("surveying."));
    let effects: Vec<&str> = seen.map(|row| row[effect].as_str()).collect();
    assert!(
        effects.len() > 20 && effects.iter().all(|effect| *effect == "0"),
        "{effects:?}"
    );
    let moved = table
        .rows
        .iter()
        .find(|row| row[unknown] == "laying.attraction_peak")
        .unwrap();
    assert_ne!(moved[effect], "0");
    let again = Run::of(&[&arguments[..], &["--threads", "1"]].concat());
    super::run::assert_same_tables(&run, &again);
}

#[test]
fn exact_a_precision_asked_for_takes_more_seasons() {
    let arguments = [
        "sweep",
        "near-pair",
        "--vary",
        "site.gap_m=1,30",
        "--seasons",
        "40",
    ];
    let plain = Run::of(&arguments);
    assert_eq!(plain.table("sweep.csv").counts("seasons"), [40, 40]);
    let precise = Run::of(&[&arguments[..], &["--precision", "0.02"]].concat());
    let seasons = precise.table("sweep.csv").counts("seasons");
    // Many strays at a metre are harder to know to two in a hundred than few at thirty.
    assert!(seasons[0] > 40 && seasons[0] > seasons[1], "{seasons:?}");
    assert!(
        seasons.iter().all(|count| (count / 40).is_power_of_two()),
        "{seasons:?}"
    );
    let again = Run::of(&[&arguments[..], &["--precision", "0.02", "--threads", "1"]].concat());
    super::run::assert_same_tables(&precise, &again);
}

/// Columns of a band.
const BAND_COLUMNS: [&str; 5] = [
    "plausible_5",
    "plausible_50",
    "plausible_95",
    "sets",
    "undefined",
];

#[test]
fn exact_a_sweep_takes_lists_ranges_and_choices_crossed() {
    let run = Run::of(&[
        "sweep",
        "--seasons",
        "40",
        "--vary",
        "site.gap_m=2..8/2",
        "--vary",
        "site.cut_side=Towards,Away",
        "--vary",
        "site.refuge_share=0.25,0.5",
    ]);
    assert_written(
        &run,
        &["sweep.csv", "scenario-sweep.ron", "provenance-sweep.json"],
    );
    assert_numbers_are_numbers(&run);
    let table = run.table("sweep.csv");
    assert_eq!(
        table.columns[..4],
        [
            "site.gap_m",
            "site.cut_side",
            "site.refuge_share",
            "seasons"
        ]
    );
    let points: Vec<String> = table.rows.iter().map(|row| row[..3].join(" ")).collect();
    let mut wanted = Vec::new();
    for gap in ["2", "5", "8"] {
        for side in ["Towards", "Away"] {
            for share in ["0.25", "0.5"] {
                wanted.push(format!("{gap} {side} {share}"));
            }
        }
    }
    assert_eq!(points, wanted);
    assert!(run.stdout.contains("No chart"), "{}", run.stdout);
}

fn printed(arguments: &[&str], folder: &TempDir) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder.path())
        .args(arguments)
        .output()
        .expect("the program runs");
    assert!(
        output.status.success(),
        "{arguments:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("text in UTF-8")
}

#[test]
fn exact_check_lists_every_number_as_text_and_as_a_table() {
    let folder = TempDir::new().expect("a folder");
    for ready in SCENARIOS {
        let text = printed(&["check", ready.name], &folder);
        let table = Table::of(&printed(&["check", ready.name, "--csv"], &folder));
        assert_eq!(
            table.columns,
            [
                "path", "value", "unit", "low", "high", "standing", "source", "meaning"
            ]
        );
        assert!(table.rows.len() > 100, "{} rows", table.rows.len());
        for row in &table.rows {
            let (_, name) = row[0].split_once('.').expect("a dotted path");
            assert!(text.contains(name), "{name} is not in the text");
            row[1].parse::<f64>().expect("a number");
        }
    }
    let set = printed(
        &["check", "--set", "site.gap_m=Yards(10)", "--csv"],
        &folder,
    );
    assert!(set.contains("site.gap_m,9.144"), "{set}");
    assert!(entries(folder.path()).is_empty(), "check writes nothing");
}

#[test]
fn exact_a_new_scenario_is_checked_and_run_as_it_is() {
    let folder = TempDir::new().expect("a folder");
    let text = printed(&["new", "mine.ron"], &folder);
    assert!(text.contains("crawlspan check mine.ron"), "{text}");
    let text = printed(&["check", "mine.ron"], &folder);
    assert!(
        text.starts_with("my-study: the scenario is sound."),
        "{text}"
    );
    let run = Run::within(folder, &["brief", "mine.ron", "--effort", "0.01"]);
    assert_numbers_are_numbers(&run);
    // What was written as resolved is the same scenario again, ranges included.
    let resolved = run.files()["scenario-brief.ron"].clone();
    let again = TempDir::new().expect("a folder");
    std::fs::copy(resolved, again.path().join("mine.ron")).expect("a copy");
    let again = Run::within(again, &["brief", "mine.ron", "--effort", "0.01"]);
    super::run::assert_same_tables(&run, &again);
}

#[test]
fn exact_a_sweep_over_one_or_two_settings_is_drawn() {
    let files = [
        "sweep.csv",
        "sweep.svg",
        "sweep.png",
        "scenario-sweep.ron",
        "provenance-sweep.json",
    ];
    let chart = |run: &Run| std::fs::read_to_string(&run.files()["sweep.svg"]).expect("a chart");
    let one = Run::of(&[
        "sweep",
        "--seasons",
        "60",
        "--vary",
        "site.gap_m=1,20,Yards(5)",
    ]);
    assert_written(&one, &files);
    for words in [
        "treated patch",
        "untouched patch",
        "tolerance",
        "site.gap_m",
        "yd",
    ] {
        assert!(chart(&one).contains(words), "{words}");
    }
    let crossed = [
        "--vary",
        "site.gap_m=1,20",
        "--vary",
        "site.cut_side=Towards,Away",
    ];
    let drawn = ["sweep", "--seasons", "40", "--draw", "net_yield"];
    let two = Run::of(&[&drawn[..], &crossed].concat());
    assert_written(&two, &files);
    for words in ["Net yield", "Towards", "site.cut_side", "Upwards"] {
        assert!(chart(&two).contains(words), "{words}");
    }
    // The measure that was asked for leads the printed table too, with its interval.
    assert!(two.stdout.contains("yield") && two.stdout.contains("95 % intervals"));
    let alone = Run::of(&[
        "sweep",
        "one-patch",
        "--seasons",
        "40",
        "--vary",
        "site.cut_side=Left,Right",
    ]);
    assert_written(&alone, &files);
    assert!(chart(&alone).contains("half drift"));
}
