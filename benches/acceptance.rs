//! Prints false positives and power of the paired estimators beside the figures stated for them.

#[path = "../tests/support/paired_studies.rs"]
mod paired_studies;

use paired_studies::{ROWS, STUDIES, estimation, rejected};

/// Stated shares at a ratio of 1: flip, beta-binomial, log-ratio-t, plain binomial.
const STATED_SIZE: [[f64; 4]; 5] = [
    [0.046, 0.035, 0.046, 0.047],
    [0.051, 0.067, 0.046, 0.159],
    [0.049, 0.066, 0.049, 0.415],
    [0.051, 0.050, 0.048, 0.544],
    [0.052, 0.038, 0.052, 0.043],
];
/// Stated shares at a ratio of 2; not stated (NaN) where the size is far off.
const STATED_POWER: [[f64; 4]; 5] = [
    [0.91, 0.92, 0.82, 0.94],
    [0.62, 0.65, 0.60, f64::NAN],
    [0.83, 0.88, 0.85, f64::NAN],
    [0.54, 0.59, 0.58, f64::NAN],
    [0.42, 0.40, 0.38, 0.45],
];

fn main() {
    println!("found (standard error) / stated [difference in combined standard errors]");
    for (ratio, stated) in [(1.0, STATED_SIZE), (2.0, STATED_POWER)] {
        println!("ratio {ratio}: flip, beta-binomial, log-ratio-t, plain binomial");
        for (at, row) in ROWS.iter().enumerate() {
            let found = rejected(*row, ratio, 100 * (at as u64 + 1) + ratio as u64);
            print!(
                "{:4} {:>5}",
                row.mean,
                row.noise.map_or("none".to_owned(), |k| format!("k={k}"))
            );
            for (share, stated) in found.iter().zip(stated[at]) {
                let error = (share * (1.0 - share) / STUDIES as f64).sqrt();
                let off = (share - stated) / (error * 2.0_f64.sqrt());
                print!("  {share:.4} ({error:.4}) / {stated:.3} [{off:+.1}]");
            }
            println!();
        }
    }
    let found = estimation(ROWS[1], 2.0, 999);
    println!(
        "log ratio at ratio 2, mean 1, k 2: conditional bias {:+.4} ({:.4}) / +.008, log-ratio-t bias {:+.4} ({:.4}) / -.19, sandwich coverage {:.4} / .93",
        found.conditional.0,
        found.conditional.1,
        found.log_ratio_t.0,
        found.log_ratio_t.1,
        found.coverage
    );
}
