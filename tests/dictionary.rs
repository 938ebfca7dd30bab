//! The data dictionary against the files: every column of every table that a command writes is described, in order, and
//! what stands in it is of the kind that the description says; and no table is described that nobody writes.

#[path = "commands/run.rs"]
#[allow(dead_code)]
mod run;

use crawlspan::output::tables::dictionary::{self, TABLES};
use run::Run;
use std::collections::BTreeSet;

/// Commands that between them write every table.
const COMMANDS: [&[&str]; 14] = [
    &[
        "calendar",
        "--seasons",
        "20",
        "--cuttings",
        "2026-06-24,2026-07-01",
    ],
    &[
        "screen",
        "offered.csv",
        "--seasons",
        "24",
        "--direct-up-to",
        "0",
    ],
    &["allot", "--within", "size"],
    &["brief", "--effort", "0.01", "--uncertain", "2"],
    &[
        "gap",
        "--gaps",
        "1,5",
        "--seasons",
        "40",
        "--uncertain",
        "2",
    ],
    &["compare", "near-pair", "one-patch", "--seasons", "40"],
    &["refuge", "--shares", "0,0.5", "--seasons", "40"],
    &[
        "sweep",
        "--vary",
        "site.gap_m=2,9",
        "--seasons",
        "40",
        "--uncertain",
        "2",
    ],
    &["season", "--seasons", "2", "--walks"],
    &[
        "weigh",
        "--trajectories",
        "4",
        "--kept",
        "2",
        "--rows",
        "16",
        "--seasons",
        "10",
    ],
    &[
        "tune",
        "--rehearse",
        "10",
        "--particles",
        "20",
        "--generations",
        "1",
    ],
    &[
        "recruit",
        "--ratios",
        "2",
        "--pool",
        "40",
        "--studies",
        "20",
        "--sites",
        "10,40",
        "--what-if",
        "--uncertain",
        "1",
    ],
    &["analyse", "counts.csv", "--all"],
    &[
        "lesson",
        "--gaps",
        "0.5,5",
        "--shares",
        "0,0.5",
        "--takes",
        "1",
        "--seasons",
        "20",
    ],
];

const COUNTS: &str = "site,week,patch,stage,count,stems
Tansey Bank,1,treated,L5,3,42
Tansey Bank,1,untouched,L5,1,38
Mill Verge,1,treated,L5,2,40
Mill Verge,1,untouched,L5,4,45
Mill Verge,2,treated,L5,2,40
Long Acre,1,treated,L5,1,30
Long Acre,1,untouched,L5,0,33
";

/// A list of offered sites, long enough for surfaces.
fn offered() -> String {
    let row = |site: u32| {
        let (gap, first, second) = (2 + site % 23, 40 + site * 7 % 90, 40 + site * 11 % 80);
        format!("S{site},{gap},{first},{second},yes,verge\n")
    };
    let rows: String = (0..120).map(row).collect();
    format!("site,gap_m,stems_first,stems_second,permission,kind\n{rows}")
}

/// What is wrong with a cell of a column of a unit, if anything.
fn fault(unit: &str, cell: &str) -> Option<&'static str> {
    if cell.is_empty() {
        return None;
    }
    let number = cell.parse::<f64>();
    match unit {
        "share" => match number {
            Ok(share) if (0.0..=1.0).contains(&share) => None,
            _ => Some("no share from 0 to 1"),
        },
        "count" => match number {
            Ok(count) if count >= 0.0 => None,
            _ => Some("no count"),
        },
        "ratio" => match number {
            Ok(ratio) if ratio.is_finite() => None,
            _ => Some("no ratio"),
        },
        "m" => number.err().map(|_| "no length"),
        "yes or no" => (!["yes", "no"].contains(&cell)).then_some("neither yes nor no"),
        "date" => cell.parse::<jiff::civil::Date>().err().map(|_| "no date"),
        _ => None,
    }
}

/// Faults of the tables of a run held against the dictionary that it wrote; the names of the tables.
fn faults(run: &Run, command: &str) -> (Vec<String>, Vec<String>) {
    let mut faults = Vec::new();
    let mut names = Vec::new();
    let described = format!("columns-{command}.csv");
    let tables = run.tables();
    assert!(
        tables.contains_key(&described),
        "{command}: {:?}",
        tables.keys()
    );
    let dictionary = run.table(&described);
    for (file, text) in tables.iter().filter(|(file, _)| **file != described) {
        names.push(file.clone());
        let rows: Vec<_> = dictionary
            .rows
            .iter()
            .filter(|row| row[0] == *file)
            .collect();
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let header: Vec<String> = reader
            .headers()
            .expect("a header")
            .iter()
            .map(str::to_owned)
            .collect();
        let told: Vec<&String> = rows.iter().map(|row| &row[2]).collect();
        if told.iter().copied().ne(header.iter()) {
            faults.push(format!("{file}: columns {header:?}, described {told:?}"));
            continue;
        }
        for row in &rows {
            if row[1].is_empty() || row[4].is_empty() {
                faults.push(format!("{file}: `{}` is not described", row[2]));
            }
        }
        for record in reader.records() {
            let record = record.expect("a row");
            for (row, cell) in rows.iter().zip(&record) {
                if let Some(what) = fault(&row[3], cell) {
                    faults.push(format!("{file}: `{}` holds `{cell}`: {what}", row[2]));
                }
            }
        }
    }
    (faults, names)
}

#[test]
fn exact_every_column_that_is_written_is_described_and_holds_what_the_description_says() {
    let mut written = BTreeSet::new();
    for arguments in COMMANDS {
        let folder = tempfile::TempDir::new().expect("a folder");
        std::fs::write(folder.path().join("counts.csv"), COUNTS).expect("counts");
        std::fs::write(folder.path().join("offered.csv"), offered()).expect("a list");
        let run = Run::within(folder, arguments);
        if arguments[0] == "lesson" && run.tables().is_empty() {
            continue;
        }
        let (faults, names) = faults(&run, arguments[0]);
        assert!(
            faults.is_empty(),
            "{arguments:?}: {:#?}",
            &faults[..faults.len().min(20)]
        );
        written.extend(names);
    }
    for entry in TABLES {
        let file = entry.table.file;
        let is_written = written
            .iter()
            .any(|name| dictionary::table(name).is_some_and(|found| found.table.file == file));
        // The list of numbers goes to standard output, and the dictionary was the measure of all above.
        let elsewhere = file.contains("check --csv") || file.starts_with("columns-");
        assert!(is_written || elsewhere, "nobody writes {file}: {written:?}");
    }
}

#[test]
fn exact_a_cell_of_another_kind_is_found_out() {
    for (unit, good, bad) in [
        ("share", "0.25", "1.25"),
        ("count", "3", "-1"),
        ("ratio", "2.5", "inf"),
        ("m", "9.1", "far"),
        ("yes or no", "no", "maybe"),
        ("date", "2026-07-01", "2026-07-32"),
    ] {
        assert_eq!(fault(unit, good), None);
        assert_eq!(fault(unit, ""), None);
        assert!(fault(unit, bad).is_some(), "{unit}");
    }
    assert!(dictionary::table("surveys.csv").is_some());
    assert!(dictionary::table("no-such.csv").is_none());
    let sweep = dictionary::table("sweep.csv").expect("it is described");
    assert!(dictionary::meaning(sweep, "net_yield_low").is_some());
    assert!(dictionary::meaning(sweep, "net_yeild_low").is_none());
}

#[test]
fn exact_the_numbers_of_a_scenario_have_the_header_that_is_described() {
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .args(["check", "--csv"])
        .output()
        .expect("it runs");
    let text = String::from_utf8(output.stdout).expect("text");
    let entry = TABLES
        .iter()
        .find(|entry| entry.table.file.contains("check --csv"))
        .expect("it is described");
    let names: Vec<&str> = entry
        .table
        .columns
        .iter()
        .map(|column| column.name)
        .collect();
    assert_eq!(text.lines().next(), Some(names.join(",").as_str()));
}

/// Every command and option that `--help` names is in the manual and in the completions of every shell.
#[test]
fn exact_manual_and_completions_know_every_command() {
    let program = || std::process::Command::new(env!("CARGO_BIN_EXE_crawlspan"));
    let text = |arguments: &[&str]| {
        let output = program().args(arguments).output().expect("it runs");
        assert!(output.status.success(), "{arguments:?}");
        String::from_utf8(output.stdout).expect("text")
    };
    let help = text(&["--help"]);
    let commands: Vec<&str> = help
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert!(commands.len() > 12, "{help}");
    let folder = tempfile::TempDir::new().expect("a folder");
    let pages = folder.path().join("pages");
    text(&["manual", pages.to_str().expect("a name")]);
    let main = std::fs::read_to_string(pages.join("crawlspan.1")).expect("a page");
    assert!(main.starts_with(".ie") || main.starts_with(".TH"), "{main}");
    for command in &commands {
        let page = std::fs::read_to_string(pages.join(format!("crawlspan-{command}.1")))
            .unwrap_or_else(|fault| panic!("{command}: {fault}"));
        for option in text(&[command, "--help"]).split_whitespace() {
            let long = option.trim_matches(|c: char| !c.is_alphanumeric() && c != '-');
            if long.starts_with("--") && long.len() > 3 && option.starts_with("--") {
                let name = long.trim_start_matches('-').replace('-', "\\-");
                assert!(
                    page.contains(&name),
                    "{command}: {option} is not in the manual"
                );
            }
        }
    }
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = text(&["completions", shell]);
        for command in &commands {
            assert!(script.contains(command), "{shell}: {command}");
        }
        assert!(script.contains("uncertain"), "{shell}");
    }
}
