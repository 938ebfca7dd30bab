//! Prints false positives and power of the paired estimators beside the figures stated for them.

#[path = "../tests/support/paired_studies.rs"]
mod paired_studies;

use std::time::Instant;

use crawlspan::stats::paired::{Estimator, PairedOptions};
use paired_studies::{
    ROWS, STATED_POWER, STATED_SIZE, STUDIES, combined_error, estimation, rejected, rejected_by,
    truth_rejected,
};

fn main() {
    println!("found (standard error) / stated [difference in combined standard errors]");
    for (ratio, stated) in [(1.0, STATED_SIZE), (2.0, STATED_POWER)] {
        println!(
            "ratio {ratio}: flip, beta-binomial, log-ratio-t, plain binomial (Wald), plain binomial (likelihood ratio)"
        );
        for (at, row) in ROWS.iter().enumerate() {
            let found = rejected(*row, ratio, 100 * (at as u64 + 1) + ratio as u64);
            print!(
                "{:4} {:>5}",
                row.mean,
                row.noise.map_or("none".to_owned(), |k| format!("k={k}"))
            );
            for (share, stated) in found.iter().zip(stated[at]) {
                let error = (share * (1.0 - share) / STUDIES as f64).sqrt();
                let off = (share - stated) / combined_error(*share, stated);
                print!("  {share:.4} ({error:.4}) / {stated:.3} [{off:+.1}]");
            }
            println!("  {:.4}", found[4]);
        }
    }
    for (at, row) in ROWS.iter().enumerate() {
        let missed = truth_rejected(*row, 2.0, 7_000 + at as u64);
        println!("row {at}: flip interval misses the true ratio of 2 in {missed:.4} of studies");
    }
    print_mixed();
    let found = estimation(ROWS[1], 2.0, 999);
    println!(
        "log ratio at ratio 2, mean 1, k 2: conditional bias {:+.4} ({:.4}) / +.008, log-ratio-t bias {:+.4} ({:.4}) / -.19, sandwich coverage {:.4} (with Student's law and n - 1: {:.4}) / .93",
        found.conditional.0,
        found.conditional.1,
        found.log_ratio_t.0,
        found.log_ratio_t.1,
        found.coverage,
        found.student_coverage
    );
}

/// Studies for the mixed model, which takes a thousand times as long as the sign-flip test.
const MIXED_STUDIES: u64 = 1_000;

fn print_mixed() {
    let options = PairedOptions::default();
    for (at, row) in ROWS.iter().enumerate() {
        for estimator in [Estimator::Mixed, Estimator::SignedRank] {
            let start = Instant::now();
            let [size, power] = [1.0, 2.0].map(|ratio| {
                let seed = 8_000 + at as u64;
                rejected_by(estimator, &options, *row, ratio, seed, MIXED_STUDIES)
            });
            let time = start.elapsed().as_secs_f64() * 1e3 / (2 * MIXED_STUDIES) as f64;
            println!("row {at}: {estimator} {size:.3} / {power:.3} ({time:.2} ms a study)");
        }
    }
}
