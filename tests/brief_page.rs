//! The brief as a page: it holds every answer, stands alone, and escapes what it was given.

#[path = "commands/run.rs"]
#[allow(dead_code)]
mod run;

use run::Run;
use scraper::{Html, Selector};
use tempfile::TempDir;

fn page_of(run: &Run) -> String {
    std::fs::read_to_string(&run.files()["brief.html"]).expect("a page")
}

/// Text with white space of any kind as single spaces.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn spoken(page: &Html) -> String {
    words(&page.root_element().text().collect::<Vec<_>>().join(" "))
}

fn count(page: &Html, selector: &str) -> usize {
    page.select(&Selector::parse(selector).expect("a selector"))
        .count()
}

#[test]
fn exact_the_page_holds_every_answer_of_the_text() {
    let run = Run::of(&["brief", "--effort", "0.02"]);
    let text = page_of(&run);
    let page = Html::parse_document(&text);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    let spoken = spoken(&page);
    let brief = std::fs::read_to_string(&run.files()["brief.txt"]).expect("a brief");
    // Sections, sentences and rows of the text, in whatever way the page breaks its lines.
    let squeezed = |text: &str| -> String {
        text.chars()
            .filter(|letter| !letter.is_whitespace())
            .collect()
    };
    let held = squeezed(&spoken);
    let mut looked_at = 0;
    for line in brief.lines() {
        let is_rule = line.chars().all(|letter| "=-".contains(letter));
        // Headings of tables are broken otherwise; captions lose their brackets.
        let is_heading = line.contains("in refuge half,") || line.contains("share       laid");
        if is_rule || is_heading {
            continue;
        }
        let line = line.trim().trim_start_matches("- ");
        let line = line
            .strip_prefix('(')
            .map_or(line, |rest| rest.trim_end_matches(')'));
        assert!(held.contains(&squeezed(line)), "{line:?} is missing");
        looked_at += 1;
    }
    assert!(looked_at > 60, "{looked_at}");
    // Gap, refuge, net yield, map: each named for those who cannot see it.
    assert_eq!(count(&page, "figure svg[role=img]"), 4);
    assert_eq!(count(&page, "figure svg > title"), 4);
    assert_eq!(count(&page, "figure figcaption"), 4);
    for wanted in [
        "Guesses: no source",
        "Published",
        "Chosen by the designer",
        "SHA-256",
        "Seed: 20260701",
    ] {
        assert!(spoken.contains(wanted), "{wanted}");
    }
    let ron = std::fs::read_to_string(&run.files()["scenario-brief.ron"]).expect("a scenario");
    assert!(spoken.contains(&words(&ron)), "the complete scenario");
    let guesses = spoken.find("Guesses: no source").expect("guesses");
    assert!(guesses < spoken.find("Chosen by the designer").expect("choices"));
}

#[test]
fn exact_the_page_needs_nothing_from_elsewhere() {
    let run = Run::of(&["brief", "one-patch", "--effort", "0.02"]);
    let text = page_of(&run);
    let page = Html::parse_document(&text);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    for selector in [
        "script", "link", "img", "iframe", "object", "embed", "[src]", "[href]", "use", "image",
    ] {
        assert_eq!(count(&page, selector), 0, "{selector}");
    }
    for fetched in ["url(", "@import", "xlink", "xmlns"] {
        assert!(!text.contains(fetched), "{fetched}");
    }
    // A single patch has no gap to speak of.
    assert_eq!(count(&page, "figure svg"), 3);
    assert!(text.starts_with("<!DOCTYPE html>"));
}

#[test]
fn exact_a_name_with_signs_of_markup_is_escaped() {
    let folder = TempDir::new().expect("a folder");
    let scenario = "(name: \"odd\", purpose: \"Is a < b & c > d \\\"said\\\" <script>x</script>?\", extends: \"verge-pair\")";
    std::fs::write(folder.path().join("odd.ron"), scenario).expect("a file");
    let run = Run::within(
        folder,
        &[
            "brief",
            "odd.ron",
            "--effort",
            "0.01",
            "--set",
            "species=\"<b>moth</b> & kin\"",
        ],
    );
    let text = page_of(&run);
    let page = Html::parse_document(&text);
    assert!(page.errors.is_empty(), "{:?}", page.errors);
    assert_eq!(count(&page, "script"), 0);
    assert_eq!(count(&page, "b"), 0);
    let spoken = spoken(&page);
    assert!(spoken.contains("Is a < b & c > d \"said\" <script>x</script>?"));
    assert!(spoken.contains("<b>moth</b> & kin"));
}
