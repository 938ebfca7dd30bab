//! What leads: the band over plausible parameter sets, with the central numbers second and called that, wherever an
//! answer is told: terminal, page, note and titles of charts.

use super::run::Run;

/// Text with white space of any kind as single spaces.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn file(run: &Run, name: &str) -> String {
    words(&std::fs::read_to_string(&run.files()[name]).expect("a file"))
}

/// The title of a chart.
fn title(run: &Run, name: &str) -> String {
    let svg = file(run, name);
    let (_, from) = svg.split_once("<title>").expect("a title");
    let (title, _) = from.split_once("</title>").expect("an end of the title");
    title.to_owned()
}

/// The headline of a quantity: from its name to the end of the sentence on the central numbers.
#[track_caller]
fn headline<'a>(text: &'a str, what: &str) -> &'a str {
    let begin = text
        .find(&format!("{what}: "))
        .unwrap_or_else(|| panic!("no headline of {what}: {text}"));
    let rest = &text[begin..];
    let central = rest
        .find("with the central numbers")
        .unwrap_or_else(|| panic!("the central numbers of {what} are not called that: {rest}"));
    let end = rest[central..]
        .find(". ")
        .map_or(rest.len(), |end| central + end);
    &rest[..end]
}

#[track_caller]
fn assert_band_leads(text: &str, what: &str, sets: &str) {
    let headline = headline(text, what);
    let (before, _) = headline
        .split_once("with the central numbers")
        .expect("central numbers");
    let band = before.contains(&format!("in 90 % of {sets}"))
        || before.contains(&format!("of {sets} plausible parameter sets"));
    assert!(band, "{headline}");
}

#[test]
fn exact_the_brief_leads_with_bands_everywhere() {
    let run = Run::of(&["brief", "--effort", "0.02", "--uncertain", "3"]);
    for text in [
        words(&run.stdout),
        file(&run, "brief.txt"),
        file(&run, "brief.html"),
    ] {
        for what in [
            "Clear gap",
            "Half drift with 50.0 % left as a refuge",
            "Strays on the treated patch",
            "Attenuation",
            "Net yield",
            "Break-even attraction of fresh stems",
        ] {
            assert_band_leads(&text, what, "3");
        }
        assert!(text.contains(
            "`crawlspan recruit` does it; `--uncertain 40` gives the number over plausible"
        ));
    }
    for (chart, what) in [
        ("gap.svg", "Clear gap"),
        ("refuge.svg", "Half drift with 50.0 % left as a refuge"),
        ("net-yield.svg", "Break-even attraction of fresh stems"),
    ] {
        let title = title(&run, chart);
        assert!(title.starts_with(what), "{title}");
        assert_band_leads(&title, what, "3");
    }
    let without = Run::of(&["brief", "--effort", "0.01", "--uncertain", "0"]);
    let said = words(&without.stdout);
    for what in ["Clear gap", "Net yield"] {
        let begin = format!("{what}, with the central numbers only: ");
        assert!(said.contains(&begin), "{said}");
    }
}

#[test]
fn exact_gap_has_a_band_unless_none_is_asked_for() {
    const GAP: [&str; 5] = ["gap", "--gaps", "0.5,2,8,20", "--seasons", "30"];
    let run = Run::of(&GAP);
    let said = words(&run.stdout);
    assert_band_leads(&said, "Clear gap", "40");
    assert!(said.starts_with("How far apart must the two patches be? -------------------------------------- Clear gap: "), "{said}");
    assert_band_leads(&title(&run, "gap.svg"), "Clear gap", "40");
    let table = run.tables()["clear-gap.csv"].clone();
    let row = table
        .lines()
        .find(|row| row.starts_with("plausible parameter sets"))
        .expect("the band of the headline stands in the table");
    let cells: Vec<&str> = row.split(',').collect();
    let middle: f64 = cells[1].parse().expect("a number");
    assert!(
        headline(&said, "Clear gap").contains(&format!("(middle {middle:.1} m)")),
        "{row}: {said}"
    );

    let run = Run::of(&[&GAP[..], &["--uncertain", "0"]].concat());
    for text in [words(&run.stdout), title(&run, "gap.svg")] {
        assert!(
            text.contains("Clear gap, with the central numbers only: "),
            "{text}"
        );
        assert!(
            text.contains("what the guesses leave open is not in it (add --uncertain 40)"),
            "{text}"
        );
    }
    assert!(!run.tables()["clear-gap.csv"].contains("plausible parameter sets"));
}

#[test]
fn exact_people_to_invite_are_told_with_their_band_or_with_its_lack() {
    const RECRUIT: [&str; 9] = [
        "recruit",
        "--ratios",
        "3",
        "--sites",
        "10,40",
        "--studies",
        "40",
        "--pool",
        "60",
    ];
    const WHAT: &str = "People to invite for ratio 3 and 80 % power";
    let run = Run::of(&[&RECRUIT[..], &["--uncertain", "3"]].concat());
    let texts = [
        words(&run.stdout),
        title(&run, "recruit-power.svg"),
        file(&run, "recruitment-note.md"),
        file(&run, "recruitment-note.html"),
    ];
    for text in &texts {
        assert_band_leads(text, WHAT, "3");
    }
    assert!(
        texts[0].starts_with(&format!(
            "How many people must be invited? -------------------------------- {WHAT}: "
        )),
        "{}",
        texts[0]
    );
    let run = Run::of(&RECRUIT);
    for text in [
        words(&run.stdout),
        title(&run, "recruit-power.svg"),
        file(&run, "recruitment-note.md"),
    ] {
        assert!(
            text.contains(&format!("{WHAT}, with the central numbers only: ")),
            "{text}"
        );
        assert!(text.contains("(add --uncertain 40)"), "{text}");
    }
}
