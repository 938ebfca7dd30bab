//! The speed table of the README: ratios within one run.
//!
//! `cargo bench` prints it. Each figure is the median of several interleaved rounds, so that a busy machine
//! weighs on all of them alike. The time of a million seasons is told from a batch; with `--million`, as in
//! `cargo bench --bench speed -- --million`, they are all run.

use crawlspan::plan::Plan;
use crawlspan::random::Key;
use crawlspan::scenario::{Layered, Scenario};
use crawlspan::season::Season;
use crawlspan::walk::NoTrail;
use crawlspan::walk::turning::Turns;
use rand::Rng;
use rayon::prelude::*;
use std::hint::black_box;
use std::time::{Duration, Instant};

#[path = "speed/scaling.rs"]
mod scaling;

const ROUNDS: usize = 9;
const SEASONS: u64 = 400;
const KERNEL_STRIDES: u64 = 4_000_000;
const MILLION: u64 = 1_000_000;
/// Seasons from which the time of a million is told.
const BATCH: u64 = 40_000;
const NO_WALKING: [&str; 6] = [
    "leaving.per_day.l1",
    "leaving.per_day.l2",
    "leaving.per_day.l3",
    "leaving.per_day.l4",
    "leaving.per_day.l5",
    "leaving.falls_per_day",
];

fn plan(zeroed: &[&str]) -> Plan {
    let settings: Vec<_> = zeroed.iter().map(|path| (*path, "0".to_owned())).collect();
    plan_with(&settings)
}

fn plan_with(settings: &[(&str, String)]) -> Plan {
    let mut layered = Layered::open("verge-pair").expect("ready scenario");
    for (path, value) in settings {
        layered.set(path, value).expect("path");
    }
    Plan::of(Scenario::from_layers(&layered).expect("sound scenario")).expect("plan")
}

/// One random number, one table rotation, one add, one grid look-up a stride, on a grid of the default arena's size.
fn bare_kernel(turns: &Turns, codes: &[u8], columns: usize) -> f64 {
    let mut stream = Key::master(5, 0).stream();
    let (mut x, mut y, mut dx, mut dy) = (25.0f64, 20.0f64, 0.1f64, 0.0f64);
    let mut met = 0u64;
    let began = Instant::now();
    for _ in 0..KERNEL_STRIDES {
        let (cos, sin) = turns.pick(stream.next_u64());
        (dx, dy) = (dx * cos - dy * sin, dx * sin + dy * cos);
        x += dx;
        y += dy;
        let cell = (y * 4.0) as usize * columns + (x * 4.0) as usize;
        match codes.get(cell) {
            Some(0) => {}
            // Off the grid or on the frame: back to the middle.
            _ => {
                met += 1;
                (x, y) = (25.0, 20.0);
            }
        }
    }
    black_box((x, y, met));
    began.elapsed().as_secs_f64() / KERNEL_STRIDES as f64
}

/// Seconds a season, and strides a season, on one thread.
fn seasons(plan: &Plan, from: u64) -> (f64, f64) {
    let mut season = Season::new(plan);
    let mut strides = 0;
    let began = Instant::now();
    for replicate in from..from + SEASONS {
        season.run(Key::master(1, 0).with(replicate), &mut NoTrail);
        strides += season.strides;
    }
    (
        began.elapsed().as_secs_f64() / SEASONS as f64,
        strides as f64 / SEASONS as f64,
    )
}

/// Seconds for a number of seasons on a number of threads.
fn on_threads(plan: &Plan, threads: usize, seasons: u64) -> f64 {
    let Ok(pool) = rayon::ThreadPoolBuilder::new().num_threads(threads).build() else {
        return f64::NAN;
    };
    let began = Instant::now();
    pool.install(|| {
        (0..seasons as usize)
            .into_par_iter()
            .with_min_len(16)
            .map_init(
                || Season::new(plan),
                |season, replicate| {
                    season.run(Key::master(2, 0).with(replicate as u64), &mut NoTrail);
                    season.strides
                },
            )
            .sum::<u64>()
    });
    began.elapsed().as_secs_f64()
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Seconds and peak memory (MiB) of the default brief as a process of its own.
fn brief() -> Option<(f64, f64)> {
    let folder = tempfile::tempdir().ok()?;
    let began = Instant::now();
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_crawlspan"))
        .args(["brief", "--out"])
        .arg(folder.path())
        .stdout(std::process::Stdio::null())
        .stderr(std::process::Stdio::null())
        .spawn()
        .ok()?;
    let mut peak_kib = 0.0f64;
    loop {
        if let Ok(status) = std::fs::read_to_string(format!("/proc/{}/status", child.id())) {
            let high = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
            let kib = high.and_then(|text| {
                text.trim()
                    .trim_end_matches(" kB")
                    .trim()
                    .parse::<f64>()
                    .ok()
            });
            peak_kib = peak_kib.max(kib.unwrap_or(0.0));
        }
        if child.try_wait().ok()?.is_some() {
            return Some((began.elapsed().as_secs_f64(), peak_kib / 1024.0));
        }
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn million(plan: &Plan) {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let all = std::env::args().any(|argument| argument == "--million");
    let (seasons, how) = if all {
        (MILLION, "measured".to_owned())
    } else {
        (BATCH, format!("extrapolated from {BATCH}"))
    };
    let seconds = on_threads(plan, threads, seasons) * (MILLION / seasons) as f64;
    println!(
        "| a million default site-seasons on {threads} threads, {how} | {seconds:.0} s | at most 120 s on two cores |"
    );
}

fn main() {
    let (whole, sitting, empty) = (
        plan(&[]),
        plan(&NO_WALKING),
        plan(&["laying.eggs_per_stem_week"]),
    );
    let turns = Turns::wrapped_cauchy(0.8);
    let (columns, rows) = (228, 156);
    let mut codes = vec![0u8; columns * rows];
    for row in 0..rows {
        for column in 0..columns {
            if row < 2 || column < 2 || row > rows - 3 || column > columns - 3 {
                codes[row * columns + column] = 1;
            }
        }
    }
    let (mut kernel, mut season, mut life, mut setting, mut one, mut two) =
        (vec![], vec![], vec![], vec![], vec![], vec![]);
    let (mut strides, mut sitting_strides) = (0.0, 0.0);
    for round in 0..ROUNDS as u64 {
        kernel.push(bare_kernel(&turns, &codes, columns));
        let (seconds, count) = seasons(&whole, round * SEASONS);
        season.push(seconds);
        strides += count / ROUNDS as f64;
        let (seconds, count) = seasons(&sitting, round * SEASONS);
        life.push(seconds);
        sitting_strides += count / ROUNDS as f64;
        setting.push(seasons(&empty, round * SEASONS).0);
        one.push(on_threads(&whole, 1, 2 * SEASONS));
        two.push(on_threads(&whole, 2, 2 * SEASONS));
    }
    let (kernel, season, life, setting) = (
        median(kernel),
        median(season),
        median(life),
        median(setting),
    );
    let stride = (season - life) / (strides - sitting_strides);
    println!("| what | measured | aim |");
    println!("|---|---|---|");
    println!(
        "| bare kernel: a random number, a rotation, an add, a look-up | {:.1} ns | about 6 ns |",
        kernel * 1e9
    );
    println!(
        "| walking stride in a real season, bouts' begin and end included | {:.1} ns = {:.2} kernels | at most 2.5 kernels |",
        stride * 1e9,
        stride / kernel
    );
    println!(
        "| default site-season, one core ({strides:.0} strides) | {:.0} us | at most 250 us |",
        season * 1e6
    );
    println!(
        "| life processes: laying, development, death, feeding, surveys | {:.0} us = {:.0} % of a season | at most 40 % |",
        (life - setting) * 1e6,
        100.0 * (life - setting) / season
    );
    println!(
        "| setting up the site: placing stems, entering them on the ground | {:.0} us = {:.0} % of a season | |",
        setting * 1e6,
        100.0 * setting / season
    );
    println!(
        "| two threads over one | {:.2} times | at least 1.8 times |",
        median(one) / median(two)
    );
    million(&whole);
    scaling::print();
    if let Some((seconds, mib)) = brief() {
        println!(
            "| the default brief | {seconds:.1} s, {mib:.0} MiB | at most 20 s, 300 MiB on two cores |"
        );
    }
}
