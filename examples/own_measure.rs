//! A measure of one's own: on how many stems does a larva feed that reaches pupation?
//!
//! `Runner::run` takes from every season what a closure keeps of it, on all cores; nothing else is held.
//! `cargo run --release --example own_measure`

use crawlspan::runner::Taken;
use crawlspan::season::Fate;
use crawlspan::{Plan, Runner, Scenario, Season, Unwatched};
use std::error::Error;
use std::sync::atomic::AtomicBool;

/// Larvae by the number of stems that they fed on: one stem, two, and so on.
pub fn stems_used(scenario: &str, seasons: u64) -> Result<Vec<u64>, Box<dyn Error>> {
    let plan = Plan::of(Scenario::open(scenario)?)?;
    let stop = AtomicBool::new(false);
    let runner = Runner::new(1, &Unwatched, &stop);
    let rows = runner.run(
        &plan,
        &Taken::new("stems used by survivors", 1),
        0,
        0..seasons,
        |season: &Season<'_>| -> Vec<u16> {
            let survivors = season.larvae.iter();
            survivors
                .filter(|larva| larva.fate() == Some(Fate::Pupated))
                .map(|larva| larva.stems_used)
                .collect()
        },
    )?;
    let mut counts = Vec::new();
    for stems in rows.into_iter().flatten() {
        let at = usize::from(stems).saturating_sub(1);
        if counts.len() <= at {
            counts.resize(at + 1, 0);
        }
        counts[at] += 1;
    }
    Ok(counts)
}

#[allow(dead_code)]
fn main() -> Result<(), Box<dyn Error>> {
    let counts = stems_used("verge-pair", 1000)?;
    let all: u64 = counts.iter().sum();
    for (at, larvae) in counts.iter().enumerate() {
        let share = *larvae as f64 / all as f64;
        println!("{:>3} stems: {:5.1} % of {all}", at + 1, 100.0 * share);
    }
    Ok(())
}
