//! The model description: complete, from the scenario's own numbers, in seven elements.

use crawlspan::output::describe::{Model, assigned_twice, description, elements, unassigned};
use crawlspan::output::document::{Block, markdown, page};
use crawlspan::plan::Plan;
use crawlspan::scenario::presets::SCENARIOS;
use crawlspan::scenario::{Layered, Listed, Scenario, listed};
use crawlspan::season::Fate;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;
use tempfile::TempDir;

const ELEMENTS: [&str; 7] = [
    "## 1. Purpose and patterns",
    "## 2. Entities, state variables and scales",
    "## 3. Process overview and scheduling",
    "## 4. Design concepts",
    "## 5. Initialization",
    "## 6. Input data",
    "## 7. Submodels",
];

const CONCEPTS: [&str; 11] = [
    "Basic principles",
    "Emergence",
    "Adaptation",
    "Objectives",
    "Learning",
    "Prediction",
    "Sensing",
    "Interaction",
    "Stochasticity",
    "Collectives",
    "Observation",
];

fn scenario(name: &str, settings: &[(&str, &str)]) -> (Scenario, Layered) {
    let mut layered = Layered::open(name).unwrap();
    for (path, value) in settings {
        layered.set(path, value).unwrap();
    }
    (Scenario::from_layers(&layered).unwrap(), layered)
}

fn blocks(name: &str, settings: &[(&str, &str)]) -> (Vec<Block>, Vec<Listed>) {
    let (scenario, layered) = scenario(name, settings);
    let plan = Plan::of(scenario).unwrap();
    let model = Model {
        plan: &plan,
        files: &layered.data.all(),
        with_program: true,
    };
    (description(&model).unwrap(), listed(&plan.scenario))
}

fn text(name: &str, settings: &[(&str, &str)]) -> String {
    markdown(&blocks(name, settings).0)
}

/// Every number stands in one table, once, with its value, range, standing and source; none is left over, so that a
/// number that is added without a word about it fails here.
#[test]
fn exact_every_number_stands_in_one_table_once() {
    for ready in SCENARIOS {
        let (blocks, numbers) = blocks(ready.name, &[]);
        assert!(numbers.len() > 130, "{}", ready.name);
        let mut rows: BTreeMap<&str, Vec<&Vec<String>>> = BTreeMap::new();
        for block in &blocks {
            if let Block::Table(table) = block
                && table.header[0] == "number"
            {
                for row in &table.rows {
                    rows.entry(&row[0]).or_default().push(row);
                }
            }
        }
        assert_eq!(rows.len(), numbers.len(), "{}", ready.name);
        for number in &numbers {
            let found = &rows[number.path.as_str()];
            assert_eq!(found.len(), 1, "{}", number.path);
            let row = found[0];
            assert!(!row[1].is_empty(), "{} has no symbol", number.path);
            let value = row[2].strip_suffix(number.unit).unwrap().trim();
            assert_eq!(value.parse::<f64>(), Ok(number.value), "{}", number.path);
            let range = number.range.map(|(low, high)| format!("{low} to {high}"));
            assert_eq!(row[3], range.unwrap_or_else(|| "none stated".to_owned()));
            assert_eq!(row[4], number.standing.word());
            assert!(row[5].starts_with(number.meaning), "{}", number.path);
            assert!(number.source.is_empty() || row[6] == number.source);
        }
        assert!(
            unassigned(&numbers).is_empty(),
            "{:?}",
            unassigned(&numbers)
        );
        assert!(assigned_twice(&numbers).is_empty());
    }
}

/// A number that no submodel names would be found, and is not lost.
#[test]
fn exact_a_number_without_a_word_is_found_out() {
    let (scenario, _) = scenario("verge-pair", &[]);
    let mut numbers = listed(&scenario);
    for path in [
        "walking.new_number",
        "development.degree_days_more",
        "leaving.per_day_more",
    ] {
        numbers[0].path = path.to_owned();
        assert_eq!(unassigned(&numbers).len(), 1, "{path}");
    }
}

#[test]
fn exact_seven_elements_in_order_and_sound_markdown() {
    for ready in SCENARIOS {
        let text = text(ready.name, &[]);
        let places: Vec<usize> = ELEMENTS
            .iter()
            .map(|heading| {
                assert_eq!(text.matches(heading).count(), 1, "{heading}");
                text.find(heading).unwrap()
            })
            .collect();
        assert!(places.is_sorted());
        let concepts = &text[places[3]..places[4]];
        let found: Vec<usize> = CONCEPTS
            .iter()
            .map(|concept| concepts.find(&format!("- {concept}: ")).unwrap())
            .collect();
        assert!(found.is_sorted());
        for odd in ["{", "}", "NaN", "inf ", "TODO", "None", "Some("] {
            assert!(!text.contains(odd), "{}: {odd}", ready.name);
        }
        assert!(text.contains("Grimm et al. 2020") && text.contains("23(2):7"));
        let mut header = 0;
        for line in text.lines() {
            let bars = line.replace("\\|", "").matches('|').count();
            if !line.starts_with("| ") {
                header = 0;
                continue;
            }
            header = if header == 0 { bars } else { header };
            assert_eq!(bars, header, "{line}");
        }
    }
}

/// The words refer to submodels by number: the numbers must be theirs.
#[test]
fn exact_references_to_submodels_hold() {
    let text = text("verge-pair", &[]);
    for heading in [
        "7.1 Time and weather",
        "7.3 Cutting and regrowth",
        "7.4 Egg-laying",
        "7.5 Development",
        "7.6 Survival",
        "7.7 Feeding",
        "7.8 Leaving a stem",
        "7.9 Walking",
        "7.10 Surveys and volunteers",
    ] {
        assert!(text.contains(&format!("### {heading}\n")), "{heading}");
    }
}

/// Every number and every choice that a scenario can change changes the text.
#[test]
fn exact_a_change_of_the_scenario_changes_the_text() {
    let base = text("verge-pair", &[]);
    for number in listed(&scenario("verge-pair", &[]).0) {
        let (low, high) = number.range.unwrap_or((number.value, number.value));
        let other = if low < number.value { low } else { high };
        if other == number.value {
            continue;
        }
        let changed = text("verge-pair", &[(&number.path, &other.to_string())]);
        let row = format!("| {} | ", number.path);
        let line = |text: &str| {
            text.lines()
                .find(|line| line.starts_with(&row))
                .unwrap()
                .to_owned()
        };
        assert_ne!(line(&base), line(&changed), "{}", number.path);
    }
    for (path, value, says) in [
        (
            "site.layout",
            "OnePatchHalves",
            "cut half is compared with its refuge half",
        ),
        (
            "site.layout",
            "PairWholeCut",
            "not used: the treated patch is cut whole",
        ),
        (
            "site.cut_side",
            "Away",
            "direction is away from the other patch",
        ),
        ("site.between", "Paved", "else Paved on the strip"),
        ("site.treated.outline", "Ellipse", "ellipse, aspect 1"),
        (
            "site.treated.outline",
            "Polygon([(0, 0), (9, 0), (0, 8)])",
            "polygon (0, 0) (9, 0) (0, 8) m",
        ),
        (
            "site.untouched.outline",
            "Polygon([(0, 0), (9, 0), (0, 8)])",
            "not used: the outline is a polygon",
        ),
        ("site.treated.placement", "Regular", "square lattice"),
        (
            "site.treated.placement",
            "Clustered(stems_per_cluster: 5, spread_m: 0.4)",
            "clusters of 5 stems, SD 0.4 m",
        ),
        (
            "weather.source",
            "Constant",
            "T(t) = T, by day and by night",
        ),
        ("cutting.method", "Scythe", "method: Scythe"),
        (
            "surveying.late_from",
            "L4",
            "L4 and L5 counts as late stage",
        ),
        ("laying.batch_largest", "4", "batches of B_1 to B_2"),
        ("laying.flight", "[(\"06-01\", 0.25)]", "06-01: 0.25"),
        (
            "dates.cutting",
            "\"2026-06-20\"",
            "the day of cutting, 2026-06-20",
        ),
        (
            "species",
            "\"an invented moth\"",
            "larvae (an invented moth)",
        ),
        ("recruitment.gap_m", "Always(12)", "gap: 12 m everywhere"),
    ] {
        let changed = text("verge-pair", &[(path, value)]);
        assert!(changed.contains(says), "{path}={value}: `{says}`");
        assert!(!base.contains(says), "{path}: `{says}` stands there anyway");
    }
}

/// Each rule of the engine that a reader would need to build the model again is said.
#[test]
fn exact_rules_of_the_engine_are_said() {
    let pair = text("verge-pair", &[]);
    for says in [
        // The strip between two patches spans the y-ranges of both.
        "from the lower of the two patches' lower edges to the higher of their upper edges",
        "max(1, round(n / stems in a cluster)) parents",
        "it meets that stem at the beginning of its first stride, before any other",
        "in the order of first contact",
        "between the weeks given attraction changes continuously",
        "a step function of the date: one value for each whole day",
        "At a change of cover no stride is divided",
        "The margin ends by cells: a cell whose middle lies beyond it is outside",
        "exactly one of six fates",
        "| entity | variable | unit | values | when it changes |",
    ] {
        assert!(pair.contains(says), "{says}");
    }
    for fate in Fate::ALL {
        assert!(pair.contains(&format!("({})", fate.word())), "{fate:?}");
    }
    for entity in [
        "site",
        "patch",
        "stem",
        "egg, larva",
        "larva on the ground",
        "volunteer",
    ] {
        assert!(pair.contains(&format!("| {entity} | ")), "{entity}");
    }
    for (side, axis) in [
        ("Towards", "growing x"),
        ("Away", "falling x"),
        ("Left", "growing y"),
        ("Right", "falling y"),
        ("Coin", "growing or of falling x"),
    ] {
        let alone = text("one-patch", &[("site.cut_side", side)]);
        let says = format!("That direction is that of {axis}");
        assert!(alone.contains(&says), "{says}");
        assert!(!alone.contains("the other patch."), "{side}");
    }
}

/// A source with bars and line breaks stays in its cell.
#[test]
fn exact_odd_sources_stay_in_their_cells() {
    let odd = "About(value: 0.3, low: 0.1, high: 0.5, standing: Published, source: \"one | two\\nthree\")";
    let text = text("verge-pair", &[("walking.acceptance", odd)]);
    let row = text
        .lines()
        .find(|line| line.starts_with("| walking.acceptance"));
    assert!(row.unwrap().ends_with("| one \\| two three |"), "{row:?}");
}

/// The tests that the description names stand in the sources.
#[test]
fn exact_patterns_name_tests_that_exist() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let sources: String = ["published_life.rs", "published_walk.rs"]
        .iter()
        .map(|file| std::fs::read_to_string(folder.join(file)).unwrap())
        .collect();
    for pattern in &elements::PATTERNS {
        assert!(
            sources.contains(&format!("fn {}()", pattern.test)),
            "{}",
            pattern.test
        );
    }
}

#[test]
fn exact_the_page_holds_the_same_numbers() {
    let (blocks, numbers) = blocks("verge-pair", &[]);
    let page = page(&blocks);
    for number in numbers {
        assert!(
            page.contains(&format!("<td>{}</td>", number.path)),
            "{}",
            number.path
        );
    }
}

fn run(folder: &Path, arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder)
        .args(arguments)
        .output()
        .expect("it runs");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text in UTF-8");
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

const STEMS: &str = "x_m,y_m\n0.5,0.5\n-0.5,0.5\n0.5,-0.5\n-0.5,-0.5\n";

const SCENARIO: &str = r#"(
    name: "mapped",
    extends: "verge-pair",
    site: (treated: (placement: FromCsv("stems.csv"), density_per_m2: 0.5)),
)"#;

#[test]
fn exact_the_command_writes_prints_names_files_and_is_made_again() {
    let place = TempDir::new().expect("a folder");
    std::fs::write(place.path().join("mapped.ron"), SCENARIO).expect("written");
    std::fs::write(place.path().join("stems.csv"), STEMS).expect("written");
    let (code, said, errors) = run(
        place.path(),
        &["describe", "mapped.ron", "--out", "results"],
    );
    assert_eq!(code, Some(0), "{errors}");
    assert!(
        said.contains("seven elements") && said.contains("description.md"),
        "{said}"
    );
    let results = place.path().join("results/mapped");
    let text = std::fs::read_to_string(results.join("description.md")).expect("a description");
    // Computed with sha256sum of GNU coreutils.
    let digest = "7ea28ab8358553542eb8346e8a86890945bbd48d96d9921c21a501efb60ba50c";
    assert!(text.contains(&format!("| stems.csv | 44 | {digest} |")));
    assert!(text.contains("from a file of coordinates") && text.contains("2 of 4"));
    assert!(text.contains("number of stems (not used: the file of coordinates holds the stems)"));
    let (code, printed, _) = run(place.path(), &["describe", "mapped.ron", "--print"]);
    assert_eq!((code, printed), (Some(0), text.clone()));

    let record = results
        .join("provenance-describe.json")
        .display()
        .to_string();
    let elsewhere = TempDir::new().expect("a folder");
    let (code, said, errors) = run(elsewhere.path(), &["replay", &record, "--out", "again"]);
    assert_eq!(code, Some(0), "{errors}");
    assert!(said.contains("byte for byte as recorded"), "{said}");
    let again = std::fs::read_to_string(elsewhere.path().join("again/mapped/description.md"));
    assert_eq!(again.expect("a description"), text);
}

#[test]
fn exact_bad_input_is_refused() {
    let place = TempDir::new().expect("a folder");
    for more in [&[][..], &["--print"][..]] {
        let arguments = [&["describe", "verge-pair", "--set", "walking.pace=1"], more].concat();
        let (code, said, errors) = run(place.path(), &arguments);
        assert_eq!((code, said.as_str()), (Some(2), ""));
        for words in [
            "unknown name `pace`",
            "walking.pace=1",
            "expected",
            "stride_m",
        ] {
            assert!(errors.contains(words), "{words}: {errors}");
        }
    }
    assert!(!place.path().join("output").exists());
}
