//! Microseconds per sign-flip test at the sizes that power curves use.

use std::hint::black_box;
use std::time::Instant;

use crawlspan::stats::paired::{PairedSite, flip};

/// Repetitions per size: about a second in all.
const REPETITIONS: u32 = 2_000;
/// Flips of the power runs.
const FLIPS: usize = 999;

/// Sites whose deviations grow with `effect` (0 to 3).
fn sites(number: u32, effect: u32) -> Vec<PairedSite> {
    (0..number)
        .map(|site| PairedSite {
            treated: 1 + (site * 7) % 5 + effect,
            untouched: 1 + (site * 11) % 6,
            stems_treated: f64::from(20 + (site * 13) % 17),
            stems_untouched: f64::from(20 + (site * 5) % 19),
        })
        .collect()
}

fn main() {
    println!("sites effect  p_value_us  rejects_us");
    for number in [16, 40, 100, 200] {
        for effect in [0, 3] {
            let data = sites(number, effect);
            let time = |run: &dyn Fn(u64)| {
                let start = Instant::now();
                for seed in 0..u64::from(REPETITIONS) {
                    run(seed);
                }
                start.elapsed().as_secs_f64() * 1e6 / f64::from(REPETITIONS)
            };
            let value = time(&|seed| {
                black_box(flip::p_value_only(black_box(&data), 1.0, FLIPS, seed));
            });
            let decision = time(&|seed| {
                black_box(flip::rejects(black_box(&data), 1.0, FLIPS, seed, 0.05));
            });
            println!("{number:5} {effect:6}  {value:10.2}  {decision:10.2}");
        }
    }
}
