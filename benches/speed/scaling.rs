//! How the time of a season grows with the stems of its site, and with its larvae.

use super::{median, plan_with};
use crawlspan::plan::Plan;
use crawlspan::random::Key;
use crawlspan::season::Season;
use crawlspan::walk::NoTrail;
use std::time::Instant;

/// Stems of both patches together: four decades.
const STEMS: [u64; 7] = [100, 316, 1_000, 3_162, 10_000, 31_622, 100_000];
/// Eggs per stem week at the default number of stems: four decades.
const EGGS: [f64; 7] = [0.015, 0.0474, 0.15, 0.474, 1.5, 4.74, 15.0];
/// Rounds, of which the median counts.
const ROUNDS: u64 = 3;
/// Seconds that one round takes at each size, about.
const ROUND_S: f64 = 1.2;
/// Every site like every other, so that larvae are in proportion to stems and to eggs; and leaves for all of them.
const ALIKE: [(&str, &str); 5] = [
    ("laying.size_exponent", "0"),
    ("laying.site_log_sd", "0"),
    ("laying.patch_log_sd", "0"),
    ("survival.site_logit_sd", "0"),
    ("feeding.lifetime_intake_cm", "0"),
];

/// What one size costs.
struct Cost {
    larvae: f64,
    seconds: f64,
}

fn cost(plan: &Plan) -> Cost {
    let mut season = Season::new(plan);
    let mut larvae = 0;
    // The first season fills memory for the first time and tells how long one takes.
    let began = Instant::now();
    season.run(Key::master(6, 0).with(0), &mut NoTrail);
    let seasons = (ROUND_S / began.elapsed().as_secs_f64()).clamp(2.0, 2_000.0) as u64;
    let rounds = (0..ROUNDS).map(|round| {
        let began = Instant::now();
        for replicate in round * seasons..(round + 1) * seasons {
            season.run(Key::master(6, 0).with(replicate), &mut NoTrail);
            larvae += season.larvae.len();
        }
        began.elapsed().as_secs_f64() / seasons as f64
    });
    let seconds = median(rounds.collect());
    Cost {
        larvae: larvae as f64 / (ROUNDS * seasons) as f64,
        seconds,
    }
}

/// Slope of a straight line through the logarithms, by least squares.
fn exponent(points: &[(f64, f64)]) -> f64 {
    let logs: Vec<(f64, f64)> = points.iter().map(|p| (p.0.ln(), p.1.ln())).collect();
    let mean =
        |of: &dyn Fn(&(f64, f64)) -> f64| logs.iter().map(of).sum::<f64>() / logs.len() as f64;
    let (x, y) = (mean(&|p| p.0), mean(&|p| p.1));
    mean(&|p| (p.0 - x) * (p.1 - y)) / mean(&|p| (p.0 - x).powi(2))
}

fn row(what: &str, unit: &str, points: &[(f64, f64)]) {
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return;
    };
    println!(
        "| time of a season against {what}, {:.0} to {:.0} | power {:.2}; {:.2} us a {unit} at the lower end, {:.2} us at the upper | power about 1 |",
        first.0,
        last.0,
        exponent(points),
        first.1 / first.0 * 1e6,
        last.1 / last.0 * 1e6
    );
}

/// Prints both rows.
pub fn print() {
    let with = |path: &str, value: String, also: &[(&str, String)]| {
        let mut settings: Vec<(&str, String)> = ALIKE.map(|(p, v)| (p, v.to_owned())).to_vec();
        settings.push((path, value));
        settings.extend_from_slice(also);
        cost(&plan_with(&settings))
    };
    let stems: Vec<(f64, f64)> = STEMS
        .iter()
        .map(|stems| {
            let half = (stems / 2).to_string();
            let other = [("site.untouched.stems", half.clone())];
            (
                *stems as f64,
                with("site.treated.stems", half, &other).seconds,
            )
        })
        .collect();
    row("stems at one density", "stem", &stems);
    // What a season costs without a single egg is no matter of larvae.
    let empty = with("laying.eggs_per_stem_week", "0".to_owned(), &[]).seconds;
    let larvae: Vec<(f64, f64)> = EGGS
        .iter()
        .map(|eggs| {
            let cost = with("laying.eggs_per_stem_week", eggs.to_string(), &[]);
            (cost.larvae, cost.seconds - empty)
        })
        .collect();
    row("eggs and larvae at 300 stems", "larva", &larvae);
}
