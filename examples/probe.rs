use crawlspan::{plan::Plan, random::Key, scenario::*, season::*, walk::NoTrail};
use std::time::Instant;
fn main() {
    let args: Vec<String> = std::env::args().collect();
    let mut l = Layered::open(&args[1]).unwrap_or_else(|e| {eprintln!("{e}"); std::process::exit(2)});
    for s in &args[2..] { let (p, v) = s.split_once('=').unwrap(); l.set(p, v).unwrap_or_else(|e| {eprintln!("{e}"); std::process::exit(2)}); }
    let plan = Plan::of(Scenario::from_layers(&l).unwrap_or_else(|e| {eprintln!("{e}"); std::process::exit(2)})).unwrap();
    let mut season = Season::new(&plan);
    let n = 2000;
    let t = Instant::now();
    let (mut eggs, mut strides, mut bouts, mut used, mut pup) = (0u64, 0u64, 0u64, 0u64, 0u64);
    let mut fates = std::collections::BTreeMap::new();
    let mut stray = [[0u64; 2]; 2];
    let mut drift = [0u64; 2];
    let mut l5 = 0u64;
    for r in 0..n {
        season.run(Key::master(1, 0).with(r), &mut NoTrail);
        strides += season.strides;
        for l in &season.larvae { if l.was_laid() { eggs += 1; bouts += l.bouts as u64; *fates.entry(l.fate().unwrap()).or_insert(0u64) += 1;
            if l.phase >= 5 { l5 += 1; }
            if l.fate() == Some(Fate::Pupated) { pup += 1; used += l.stems_used as u64; } } }
        for s in &season.sightings { if s.stage == 5 { let p = s.stands.patch(); stray[p][(s.natal.patch() != p) as usize] += 1;
            if p == 0 && !s.stands.is_cut() { drift[s.natal.is_cut() as usize] += 1; } } }
    }
    let e = t.elapsed().as_secs_f64();
    println!("{:.1} us/season, {} strides/season, {:.1} eggs, {:.2} bouts, {:.3} egg-L5, {:.2} stems used", e / n as f64 * 1e6, strides / n, eggs as f64 / n as f64, bouts as f64 / n as f64, l5 as f64 / eggs as f64, used as f64 / pup as f64);
    for (f, c) in fates { println!("{:?} {:.4}", f, c as f64 / eggs as f64); }
    for p in 0..2 { println!("stray patch {p}: {:.4} of {}", stray[p][1] as f64 / (stray[p][0] + stray[p][1]).max(1) as f64, stray[p][0] + stray[p][1]); }
    println!("half drift {:.4}", drift[1] as f64 / (drift[0] + drift[1]).max(1) as f64);
}
