//! The examples run, and say what the program itself says.

#[path = "../examples/clear_gap.rs"]
mod clear_gap;
#[path = "../examples/own_measure.rs"]
mod own_measure;
#[path = "../examples/own_study.rs"]
mod own_study;

/// A larva that walks straighter gets farther, so that patches must lie farther apart.
#[test]
fn practice_straighter_walks_ask_for_wider_gaps() {
    let found = clear_gap::clear_gaps(&[0.5, 0.95]).expect("it runs");
    let gaps: Vec<f64> = found.iter().filter_map(|(_, gap_m)| *gap_m).collect();
    assert_eq!(gaps.len(), 2, "{found:?}");
    assert!(gaps[0] < gaps[1], "{found:?}");
}

/// Nobody who walks at all feeds on one stem only, and the counts are those of the larvae that pupated.
#[test]
fn exact_survivors_are_counted_by_stems() {
    let counts = own_measure::stems_used("verge-pair", 50).expect("it runs");
    let survivors: u64 = counts.iter().sum();
    let plan = crawlspan::Plan::of(crawlspan::Scenario::open("verge-pair").expect("it is ready"));
    let plan = plan.expect("it is sound");
    let mut season = crawlspan::Season::new(&plan);
    let mut pupated = 0;
    for replicate in 0..50 {
        let key = crawlspan::random::Key::master(1, 0).with(replicate);
        season.run(key, &mut crawlspan::walk::NoTrail);
        let fates = season.larvae.iter().filter_map(|larva| larva.fate());
        pupated += fates
            .filter(|fate| *fate == crawlspan::season::Fate::Pupated)
            .count() as u64;
    }
    assert_eq!(survivors, pupated);
    assert!(counts.len() > 1);
}

/// The counts of the simulated study are those of the table of surveys, of the same seed and season.
#[test]
fn exact_the_study_counts_what_the_table_of_surveys_counts() {
    let plan = crawlspan::Plan::of(crawlspan::Scenario::open("verge-pair").expect("it is ready"));
    let plan = plan.expect("it is sound");
    let sites = own_study::counted(&plan, 20, 7);
    let folder = tempfile::TempDir::new().expect("a folder");
    let run = std::process::Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .current_dir(folder.path())
        .args(["season", "--seasons", "20", "--seed", "7"])
        .output()
        .expect("it runs");
    assert!(run.status.success());
    let table = folder.path().join("output/verge-pair/surveys.csv");
    let mut counts = vec![[0_u32; 2]; 20];
    let mut reader = csv::Reader::from_path(table).expect("a table");
    for row in reader.deserialize::<std::collections::BTreeMap<String, String>>() {
        let row = row.expect("a row");
        if row["stage"] == "L5" && !row["counted"].is_empty() {
            let site: usize = row["replicate"].parse().expect("a number");
            counts[site][usize::from(row["patch"] != "treated")] +=
                row["counted"].parse::<u32>().expect("a count");
        }
    }
    let found: Vec<[u32; 2]> = sites
        .iter()
        .map(|site| [site.treated, site.untouched])
        .collect();
    assert_eq!(found, counts);
    assert!(own_study::study("verge-pair", 20, 7).is_ok());
}
