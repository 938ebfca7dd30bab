//! A study before it is made: the counts of its volunteers, and what the estimator that is planned makes of them.
//!
//! One season a site, what the volunteer saw of it, and the paired comparison, each by itself.
//! `cargo run --release --example own_study`

use crawlspan::random::Key;
use crawlspan::stats::paired::{Estimator, PairedOptions, PairedResult, PairedSite, compare};
use crawlspan::survey::Volunteer;
use crawlspan::walk::NoTrail;
use crawlspan::{Plan, Scenario, Season};
use std::error::Error;

/// Late-stage larvae that volunteers counted at the surveys they held, one site a season.
pub fn counted(plan: &Plan, sites: u64, seed: u64) -> Vec<PairedSite> {
    let mut season = Season::new(plan);
    let stems = |patch: usize| {
        let halves = [false, true].map(|cut| crawlspan::world::HalfId::new(patch, cut));
        halves
            .iter()
            .map(|half| plan.layout.stems_in(*half))
            .sum::<usize>() as f64
    };
    (0..sites)
        .map(|site| {
            let key = Key::master(seed, 0).with(site);
            season.run(key, &mut NoTrail);
            let volunteer = Volunteer::of(plan, season.key());
            let on = |patch: usize| {
                let seen = season.sightings.iter().filter(|sighting| {
                    volunteer.held[usize::from(sighting.survey)]
                        && sighting.stands.patch() == patch
                        && sighting
                            .read
                            .is_some_and(|stage| plan.scenario.is_late(usize::from(stage)))
                });
                seen.count() as u32
            };
            PairedSite {
                treated: on(0),
                untouched: on(1),
                stems_treated: stems(0),
                stems_untouched: stems(1),
            }
        })
        .collect()
}

/// The comparison that a study of so many sites ends with.
pub fn study(scenario: &str, sites: u64, seed: u64) -> Result<PairedResult, Box<dyn Error>> {
    let plan = Plan::of(Scenario::open(scenario)?)?;
    let counts = counted(&plan, sites, seed);
    Ok(compare(
        &counts,
        Estimator::default(),
        &PairedOptions::default(),
    )?)
}

#[allow(dead_code)]
fn main() -> Result<(), Box<dyn Error>> {
    for seed in 1..=5 {
        let result = study("verge-pair", 60, seed)?;
        let show =
            |end: Option<f64>| end.map_or_else(|| "open".to_owned(), |end| format!("{end:.2}"));
        println!(
            "study {seed}: ratio {} ({} to {}), p = {}",
            show(result.estimate.ratio()),
            show(result.interval.lower),
            show(result.interval.upper),
            show(result.p_value),
        );
    }
    Ok(())
}
