//! How far apart must two patches be, if larvae walk straighter or less straight than thought?
//!
//! A question asked through the library: a ready scenario, a setting on top of it, the gap question at each.
//! `cargo run --release --example clear_gap`

use crawlspan::stats::Crossing;
use crawlspan::study::Effort;
use crawlspan::study::gap::{self, GapQuestion};
use crawlspan::{Layered, Runner, Unwatched};
use std::error::Error;
use std::sync::atomic::AtomicBool;

/// A mean cosine of the turn between strides, and the clear gap with it in metres; `None` where none of the gaps tried
/// is wide enough.
pub type Found = (f64, Option<f64>);

/// The clear gap at each mean cosine.
pub fn clear_gaps(mean_cosines: &[f64]) -> Result<Vec<Found>, Box<dyn Error>> {
    let stop = AtomicBool::new(false);
    let runner = Runner::new(1, &Unwatched, &stop);
    let question = GapQuestion {
        grid_m: vec![0.5, 1.0, 2.0, 4.0, 8.0, 16.0],
        tolerance: 0.05,
        effort: Effort::of(1000),
        precision_m: None,
    };
    let mut found = Vec::new();
    for mean_cosine in mean_cosines {
        let mut layered = Layered::open("verge-pair")?;
        layered.set("walking.mean_cosine", &mean_cosine.to_string())?;
        let answer = gap::answer(&layered, &question, &runner, 0)?;
        let gap_m = match answer.clear_crossing() {
            Some(Crossing::At(gap_m)) => Some(gap_m),
            Some(Crossing::BelowGrid) => Some(question.grid_m[0]),
            // Undefined where too few larvae are seen.
            Some(Crossing::NotReached) | None => None,
        };
        found.push((*mean_cosine, gap_m));
    }
    Ok(found)
}

#[allow(dead_code)]
fn main() -> Result<(), Box<dyn Error>> {
    for (mean_cosine, gap_m) in clear_gaps(&[0.5, 0.8, 0.95])? {
        match gap_m {
            Some(gap_m) => println!("mean cosine {mean_cosine}: clear gap {gap_m:.1} m"),
            None => println!("mean cosine {mean_cosine}: no gap tried is known to be wide enough"),
        }
    }
    Ok(())
}
