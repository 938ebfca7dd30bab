//! Text in tables that people open in spreadsheets, and in Markdown that people render.

use super::hostile;
use super::run::{Run, Table};
use std::collections::BTreeMap;
use tempfile::TempDir;

const FORMULAS: [&str; 8] = [
    "=HYPERLINK(\"http://nowhere.invalid\",\"Oak\")",
    "+Oak",
    "-Oak",
    "@Oak",
    "'=Oak",
    "''-Oak",
    "#1 Oak",
    "-5",
];

/// A list in which names, a carried column and its heading are formulas.
fn list() -> String {
    let quoted = |text: &str| format!("\"{}\"", text.replace('"', "\"\""));
    let mut text = "site,first_name,second_name,gap_m,stems_first,stems_second,area_first_m2,area_second_m2,permission,=SUM(A1)\n".to_owned();
    for (index, site) in FORMULAS.iter().enumerate() {
        let site = quoted(site);
        text += &format!("{site},=a,@b,{},150,150,75,75,yes,-x{index}\n", 14 + index);
    }
    text
}

#[track_caller]
fn assert_harmless(name: &str, text: &str) {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(text.as_bytes());
    for record in reader.records() {
        for cell in &record.expect("a row") {
            let runs = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
            assert!(!runs || cell.parse::<f64>().is_ok(), "{name}: `{cell}`");
        }
    }
}

fn drawn(table: &Table) -> BTreeMap<String, Vec<String>> {
    let rows = table.rows.iter().cloned();
    rows.map(|row| (row[0].clone(), row)).collect()
}

#[test]
fn exact_formulas_in_tables_are_guarded_and_come_back_as_they_were() {
    let folder = TempDir::new().expect("a folder");
    std::fs::write(folder.path().join("offered.csv"), list()).expect("a file");
    let seed = ["--seed", "4711"];
    let screened = Run::within(folder, &["screen", "offered.csv", "--seasons", "60"]);
    for (name, text) in screened.tables() {
        assert_harmless(&name, &text);
    }
    let accepted = screened.table("accepted.csv");
    assert!(accepted.columns.contains(&"'=SUM(A1)".to_owned()));
    assert_eq!(accepted.rows.len(), FORMULAS.len(), "{:?}", accepted.rows);
    let folder = TempDir::new().expect("a folder");
    std::fs::copy(
        &screened.files()["accepted.csv"],
        folder.path().join("accepted.csv"),
    )
    .expect("a copy");
    let of_accepted = Run::within(folder, &[&["allot", "accepted.csv"][..], &seed].concat());
    let folder = TempDir::new().expect("a folder");
    std::fs::write(folder.path().join("accepted.csv"), list()).expect("a file");
    let of_typed = Run::within(folder, &[&["allot", "accepted.csv"][..], &seed].concat());
    let (one, other) = (
        of_accepted.table("allotment.csv"),
        of_typed.table("allotment.csv"),
    );
    assert_harmless("allotment.csv", &of_typed.tables()["allotment.csv"]);
    assert_eq!(drawn(&one), drawn(&other));
    // The draw is of the name itself: the leaf and the record have it without a guard.
    let leaf = std::fs::read_to_string(&of_typed.files()["allotment.html"]).expect("a page");
    for name in ["+Oak", "@Oak", "#1 Oak", "-5"] {
        assert!(leaf.contains(&format!("<h1>{name}</h1>")), "{name}");
    }
    use sha2::{Digest, Sha256};
    let ticket = crawlspan::study::allot::ticket_text(4711, "+Oak");
    let ticket: String = Sha256::digest(ticket.as_bytes())
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    let row = &drawn(&one)["'+Oak"];
    assert!(row.contains(&ticket), "{row:?}");
}

#[test]
fn exact_markdown_holds_no_markup_of_users() {
    let folder = TempDir::new().expect("a folder");
    hostile::write(folder.path());
    let run = Run::within(folder, &["describe", "placed.ron"]);
    let text = std::fs::read_to_string(&run.files()["description.md"]).expect("a description");
    assert!(text.contains("\\<img src=x"), "the text itself is lost");
    let signs: Vec<char> = text.chars().collect();
    for (at, sign) in signs.iter().enumerate() {
        if matches!(sign, '<' | '`' | '[') {
            assert_eq!(
                signs[at - 1],
                '\\',
                "{}",
                signs[at..].iter().take(40).collect::<String>()
            );
        }
    }
    let mut header = 0;
    for line in text.lines() {
        if !line.starts_with('|') {
            header = 0;
            continue;
        }
        let bars = line.replace("\\|", "").matches('|').count();
        header = if header == 0 { bars } else { header };
        assert_eq!(bars, header, "{line}");
    }
}
