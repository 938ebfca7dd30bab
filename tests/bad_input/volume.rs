//! A million damaged inputs to the readers of scenarios and of each data file: read or refused, within a second, in
//! bounded memory, without a panic. A short run is part of the suite; the long one is
//! `cargo test --release --test bad_input -- --ignored --nocapture`.

use super::mutated::{Damage, cases, damage, damaged};
use crawlspan::plan::Plan;
use crawlspan::scenario::{Layered, Scenario, files, offered, presets, variants};
use crawlspan::study::analyse::read_counts;
use crawlspan::study::{allot, tune};
use crawlspan::trouble::Trouble;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Longest that any reader may take over one input, on a busy machine.
const PATIENCE: Duration = Duration::from_secs(20);
/// Most memory that the process may ever take, kB: what the suite needs anyway, and room for one large plan.
const MOST_KB: u64 = 1_500_000;

type Reader<'a> = dyn Fn(&[u8], &Path) -> Result<(), Trouble> + 'a;

struct Target<'a> {
    name: &'static str,
    texts: Vec<String>,
    read: Box<Reader<'a>>,
}

fn by_file<'a>(read: impl Fn(&Path) -> Result<(), Trouble> + 'a) -> Box<Reader<'a>> {
    Box::new(move |bytes, path| {
        std::fs::write(path, bytes).expect("a file");
        read(path)
    })
}

fn scenario(bytes: &[u8], _: &Path) -> Result<(), Trouble> {
    let text = String::from_utf8_lossy(bytes).into_owned();
    let layered = Layered::from_text("damaged.ron", text, PathBuf::from("/nonexistent"))?;
    Plan::of(Scenario::from_layers(&layered)?).map(|_| ())
}

fn targets(plan: &Plan) -> Vec<Target<'_>> {
    let ready: Vec<String> = presets::SCENARIOS
        .iter()
        .chain(&presets::PRESETS)
        .map(|ready| ready.text.to_owned())
        .collect();
    let text = |text: &str| vec![text.to_owned()];
    vec![
        Target {
            name: "scenario",
            texts: ready,
            read: Box::new(scenario),
        },
        Target {
            name: "stems",
            texts: text("x_m,y_m\n0.5,0.25\n# note\n-0.5,1\n\n1,-1\n0.1,\"0.2\"\n"),
            read: by_file(|path| files::stems(path).map(|_| ())),
        },
        Target {
            name: "station",
            texts: vec![
                "date,min_c,max_c\n2026-02-27,3,9\n2026-02-28,2.5,11\n2026-03-01,-1,8\n".to_owned(),
                "datetime,temp_f\n2026-02-27T00:00,39\n2026-02-27T01:00,38.5\n2026-02-27T02:00,38\n"
                    .to_owned(),
            ],
            read: by_file(|path| files::station(path).map(|_| ())),
        },
        Target {
            name: "counts",
            texts: text(
                "site,week,patch,stage,count,stems\nTansey Bank,1,treated,L5,3,42\nTansey Bank,1,untouched,L5,1,38\nTansey Bank,2,treated,egg,,42\n",
            ),
            read: Box::new(|bytes, _| read_counts(bytes, "damaged.csv").map(|_| ())),
        },
        Target {
            name: "offered sites",
            texts: text(
                "gap_m,stems_treated,stems_untouched,density_per_m2,shade_treated,cover\n8,120,140,2,0.1,Mown\n11,60,75,,,\n",
            ),
            read: by_file(|path| offered::read(path).map(|_| ())),
        },
        Target {
            name: "list of offered sites",
            texts: text(
                "site,gap_yd,stems_first,stems_second,area_first_m2,outline_second_m,shade_first,between,permission,latitude_deg,kind\nTansey Bank,8,120,140,60,0 0; 8 0; 8 9; 0 9,0.1,Mown,yes,44.6,verge\nMill Verge,,75,,,,,,asked,,\n",
            ),
            read: by_file(|path| offered::read_list(path).map(|_| ())),
        },
        Target {
            name: "list of sites to draw",
            texts: text(
                "site,use,first_name,second_name,size\nTansey Bank,pair,upper,lower,large\nMill Verge,one_patch,yard,,small\nFord End,,,,large\n",
            ),
            read: Box::new(|bytes, _| {
                let within = ["size".to_owned()];
                let file = ("damaged.csv".to_owned(), bytes.to_vec());
                allot::read_list("damaged", &within, file).map(|_| ())
            }),
        },
        Target {
            name: "list of variants",
            texts: presets::LISTS
                .iter()
                .map(|ready| ready.text.to_owned())
                .collect(),
            read: by_file(|path| {
                let named = [path.to_string_lossy().into_owned()];
                variants::side_by_side(&named, None).map(|_| ())
            }),
        },
        Target {
            name: "release",
            texts: text(
                "larva,released_x_m,released_y_m,released_when,found_x_m,found_y_m,found_when\n1,0.35,-0.35,2026-07-15T12:00,0.35,-0.35,2026-07-16T12:00\n2,0.35,-0.35,2026-07-15T12:00,,,2026-07-19T12:00\n",
            ),
            read: by_file(move |path| tune::read(path, plan).map(|_| ())),
        },
    ]
}

fn peak_kb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// Tries so many scenarios, and so many inputs of every other reader.
fn try_all(scenarios: u32, others: u32) {
    let scenario = Scenario::open("marked-release").expect("a scenario");
    let plan = Plan::of(scenario).expect("a plan");
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("damaged.csv");
    let mut source = cases(1);
    let damages = prop::collection::vec(damage(), 1..5);
    for target in targets(&plan) {
        let (mut accepted, mut refused, mut slowest) = (0u32, 0u32, Duration::ZERO);
        let inputs = if target.name == "scenario" {
            scenarios
        } else {
            others
        };
        for number in 0..inputs {
            let chosen: Vec<Damage> = damages.new_tree(&mut source).expect("damage").current();
            let text = &target.texts[number as usize % target.texts.len()];
            let bytes = damaged(text, &chosen);
            let began = Instant::now();
            match (target.read)(&bytes, &path) {
                Ok(()) => accepted += 1,
                Err(trouble) => {
                    assert!(
                        trouble.place.is_some(),
                        "{}: no place: {trouble}",
                        target.name
                    );
                    refused += 1;
                }
            }
            let took = began.elapsed();
            let shown = String::from_utf8_lossy(&bytes);
            assert!(took < PATIENCE, "{}: {took:?} over\n{shown}", target.name);
            slowest = slowest.max(took);
        }
        let name = target.name;
        println!("{name}: {accepted} read, {refused} refused, slowest {slowest:?}");
        assert!(accepted > 0 && refused > 0, "{name}: nothing was tested");
    }
    if let Some(peak) = peak_kb() {
        println!("peak memory {peak} kB");
        assert!(peak < MOST_KB, "{peak} kB");
    }
}

#[test]
fn exact_thousands_of_damaged_inputs_are_read_or_refused() {
    try_all(500, 700);
}

#[test]
#[ignore = "a million inputs take minutes; figures for a release"]
fn exact_a_million_damaged_inputs_are_read_or_refused() {
    try_all(100_000, 180_000);
}
