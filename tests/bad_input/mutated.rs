//! Scenarios and data files with random damage: read and planned, or refused with a message; never a panic, and
//! never more than seconds. What is accepted is also run, if it is small.

use super::fault::scenario;
use crawlspan::plan::Plan;
use crawlspan::random::Key;
use crawlspan::scenario::{Layered, Scenario, files, presets};
use crawlspan::season::Season;
use crawlspan::trouble::Outcome;
use crawlspan::walk::NoTrail;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// Longest that a plan may take, on a busy machine. What takes longer is a blow-up that the checks let in.
const PATIENCE: Duration = Duration::from_secs(30);

/// A runner whose cases are the same in every run.
pub fn cases(number: u32) -> TestRunner {
    let config = Config {
        cases: number,
        failure_persistence: None,
        ..Config::default()
    };
    TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha))
}

/// What a slip of the hand or of a disk makes of a file.
#[derive(Debug, Clone)]
pub enum Damage {
    Replace(prop::sample::Index, u8),
    Insert(prop::sample::Index, String),
    Remove(prop::sample::Index, usize),
    Double(prop::sample::Index, usize),
    Number(prop::sample::Index, String),
}

pub fn damage() -> impl Strategy<Value = Damage> {
    let at = || any::<prop::sample::Index>();
    let pieces = prop::sample::select(vec![
        "(",
        ")",
        "[",
        "]",
        ",",
        ":",
        "\"",
        "-",
        "e9",
        "9",
        "0",
        ".",
        "//",
        "/*",
        "\u{e9}",
        "NaN",
        "inf",
        "{",
        "r#\"",
        "Yards(",
        "About(value: ",
        "Polygon([(0,0),(3,0),(0,2)])",
        "Regular",
        "Ellipse",
        "\\",
        "#![enable(x)]",
        "'",
    ]);
    let numbers = prop::sample::select(vec![
        "0",
        "-1",
        "1e9",
        "1e308",
        "-1e308",
        "NaN",
        "inf",
        "-inf",
        "0.0001",
        "1e-300",
        "99999",
        "0.5",
        "2",
        "365",
        "Yards(1e300)",
        "Fahrenheit(80)",
        "18446744073709551616",
        "0x10",
        "1_000",
    ]);
    prop_oneof![
        (at(), any::<u8>()).prop_map(|(at, byte)| Damage::Replace(at, byte)),
        (at(), pieces).prop_map(|(at, text)| Damage::Insert(at, text.to_owned())),
        (at(), 1usize..40).prop_map(|(at, length)| Damage::Remove(at, length)),
        (at(), 1usize..200).prop_map(|(at, length)| Damage::Double(at, length)),
        (at(), numbers.clone()).prop_map(|(at, text)| Damage::Number(at, text.to_owned())),
        (at(), numbers).prop_map(|(at, text)| Damage::Number(at, text.to_owned())),
    ]
}

/// Begin and end of the runs of digits, points and signs in a text.
fn numbers_in(bytes: &[u8]) -> Vec<(usize, usize)> {
    let is_part = |byte: &u8| byte.is_ascii_digit() || matches!(byte, b'.' | b'-');
    let mut found = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let length = bytes[at..].iter().take_while(|byte| is_part(byte)).count();
        let after_word = at > 0 && (bytes[at - 1].is_ascii_alphanumeric() || bytes[at - 1] == b'_');
        if length > 0 && !after_word {
            found.push((at, at + length));
        }
        at += length.max(1);
    }
    found
}

pub fn damaged(text: &str, all: &[Damage]) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for damage in all {
        if bytes.is_empty() {
            break;
        }
        match damage {
            Damage::Replace(at, byte) => {
                let at = at.index(bytes.len());
                bytes[at] = *byte;
            }
            Damage::Insert(at, piece) => {
                let at = at.index(bytes.len());
                bytes.splice(at..at, piece.bytes());
            }
            Damage::Remove(at, length) => {
                let at = at.index(bytes.len());
                let end = (at + length).min(bytes.len());
                bytes.drain(at..end);
            }
            Damage::Double(at, length) => {
                let at = at.index(bytes.len());
                let end = (at + length).min(bytes.len());
                let piece = bytes[at..end].to_vec();
                bytes.splice(at..at, piece);
            }
            Damage::Number(at, number) => {
                let found = numbers_in(&bytes);
                if !found.is_empty() {
                    let (from, to) = found[at.index(found.len())];
                    bytes.splice(from..to, number.bytes());
                }
            }
        }
    }
    bytes
}

fn plan_of(text: String) -> Outcome<Plan> {
    let layered = Layered::from_text("damaged.ron", text, PathBuf::from("/nonexistent"))?;
    Plan::of(Scenario::from_layers(&layered)?)
}

/// Reads and plans a damaged text. True when it was accepted.
fn survives(bytes: Vec<u8>) -> Result<bool, TestCaseError> {
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let began = Instant::now();
    let outcome = plan_of(text);
    prop_assert!(began.elapsed() < PATIENCE, "took {:?}", began.elapsed());
    match outcome {
        Ok(plan) => {
            run_if_small(&plan);
            prop_assert!(
                began.elapsed() < PATIENCE,
                "a season took {:?}",
                began.elapsed()
            );
            Ok(true)
        }
        Err(trouble) => {
            prop_assert!(!trouble.what.is_empty());
            prop_assert!(trouble.place.is_some(), "no place: {trouble}");
            Ok(false)
        }
    }
}

/// Larvae at most that a damaged scenario may bring before it is only planned: seasons of millions are right to
/// take long.
const FEW_EGGS: f64 = 20_000.0;

fn run_if_small(plan: &Plan) {
    let numbers = &plan.scenario.numbers;
    let (laying, walking) = (&numbers.laying, &numbers.walking);
    let stems = plan.layout.stems() as f64;
    let size = plan
        .layout
        .patches
        .iter()
        .map(|patch| (patch.stems() as f64 / 100.0).powf(laying.size_exponent))
        .fold(1.0, f64::max);
    let eggs = stems
        * laying.eggs_per_stem_week
        * size
        * laying.attraction_peak.max(1.0)
        * plan.clock.flight_weeks.total();
    let few = eggs < FEW_EGGS && laying.site_log_sd <= 1.0 && laying.patch_log_sd <= 1.0;
    let short_walks =
        walking.death_per_active_hour >= 0.01 && walking.stride_m >= 0.02 && walking.q10 <= 3.0;
    if few && short_walks && stems < 5_000.0 {
        let mut season = Season::new(plan);
        season.run(Key::master(1, 0).with(0), &mut NoTrail);
    }
}

/// Damages texts many times; of all cases some must be accepted and some refused, else nothing was tested.
fn try_all(texts: &[String], number: u32, damages: usize) {
    let texts = texts.to_vec();
    let accepted = std::cell::Cell::new((0u32, 0u32));
    let strategy = (
        prop::sample::select(texts),
        prop::collection::vec(damage(), 1..=damages),
    );
    let outcome = cases(number).run(&strategy, |(text, damages)| {
        let bytes = damaged(&text, &damages);
        let fine = survives(bytes)?;
        let (yes, no) = accepted.get();
        accepted.set((yes + u32::from(fine), no + u32::from(!fine)));
        Ok(())
    });
    if let Err(fault) = outcome {
        panic!("{fault}");
    }
    let (yes, no) = accepted.get();
    assert!(
        yes > number / 100 && no > number / 100,
        "{yes} accepted, {no} refused"
    );
}

/// A site by coordinates with everything that has a list or an outline.
fn by_coordinates() -> String {
    scenario(
        "  site: (\n    layout: ByCoordinates,\n    areas: [(cover: Paved, from_m: (0, 8), to_m: (9, 12))],\n    patches: [\n\
         (name: \"a\", centre_m: (0, 0), treatment: Untouched, patch: (stems: 30, placement: Regular)),\n\
         (name: \"b\", centre_m: (20, 1.5), treatment: HalfCut, patch: (stems: 25, outline: Ellipse, aspect: 3)),\n\
         (name: \"c\", centre_m: (5, 30), treatment: WholeCut, patch: (stems: 20, placement: Regular, \
         outline: Polygon([(0, 0), (8, 0), (4, 6)]))),\n    ],\n  ),",
    )
}

#[test]
fn exact_damaged_scenarios_are_planned_or_refused() {
    let mut texts: Vec<String> = presets::SCENARIOS
        .iter()
        .map(|ready| ready.text.to_owned())
        .collect();
    texts.push(by_coordinates());
    texts.push(include_str!("../../scenarios/starter.ron").to_owned());
    try_all(&texts, 3_000, 4);
}

#[test]
fn exact_damaged_presets_are_planned_or_refused() {
    // The preset with a date is a whole scenario of its own, every number in it.
    let texts = [presets::PRESETS[0].text.to_owned()];
    try_all(&texts, 1_500, 3);
}

#[test]
fn exact_random_bytes_are_refused() {
    let outcome = cases(1_000).run(&prop::collection::vec(any::<u8>(), 0..300), |bytes| {
        prop_assert!(!survives(bytes)?);
        Ok(())
    });
    if let Err(fault) = outcome {
        panic!("{fault}");
    }
}

fn damaged_files_are_read_or_refused(text: &str, read: impl Fn(&std::path::Path) -> Outcome<()>) {
    let folder = tempfile::TempDir::new().expect("a folder");
    let path = folder.path().join("damaged.csv");
    let accepted = std::cell::Cell::new((0u32, 0u32));
    let strategy = prop::collection::vec(damage(), 1..4);
    let outcome = cases(1_500).run(&strategy, |damages| {
        std::fs::write(&path, damaged(text, &damages)).expect("a file");
        let (yes, no) = accepted.get();
        match read(&path) {
            Ok(()) => accepted.set((yes + 1, no)),
            Err(trouble) => {
                prop_assert!(trouble.place.is_some(), "no place: {trouble}");
                accepted.set((yes, no + 1));
            }
        }
        Ok(())
    });
    if let Err(fault) = outcome {
        panic!("{fault}");
    }
    let (yes, no) = accepted.get();
    assert!(yes > 10 && no > 10, "{yes} accepted, {no} refused");
}

#[test]
fn exact_damaged_data_files_are_read_or_refused() {
    let stems = "x_m,y_m\n0.5,0.25\n# note\n-0.5,1\n\n1,-1\n0.1,\"0.2\"\n";
    damaged_files_are_read_or_refused(stems, |path| files::stems(path).map(|_| ()));
    let daily = "date,min_c,max_c\n2026-02-27,3,9\n2026-02-28,2.5,11\n2026-03-01,-1,8\n";
    damaged_files_are_read_or_refused(daily, |path| files::station(path).map(|_| ()));
    let hourly =
        "datetime,temp_f\n2026-02-27T00:00,39\n2026-02-27T01:00,38.5\n2026-02-27T02:00,38\n";
    damaged_files_are_read_or_refused(hourly, |path| files::station(path).map(|_| ()));
}
