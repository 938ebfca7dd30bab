use crawlspan::{scenario::*, runner::*, study::{gap::*, uncertain::*, *}};
use std::sync::atomic::AtomicBool;
use std::time::Instant;
fn main() {
    let args: Vec<String> = std::env::args().collect();
    let mut l = Layered::open(&args[1]).unwrap();
    for s in &args[2..] { let (p, v) = s.split_once('=').unwrap(); l.set(p, v).unwrap(); }
    let stop = AtomicBool::new(false);
    let r = Runner::new(7, &Unwatched, &stop);
    let t = Instant::now();
    let q = GapQuestion { grid_m: GRID_M.to_vec(), tolerance: 0.05, effort: Effort::of(1000), precision_m: None };
    let a = answer(&l, &q, &r, 0).unwrap();
    for c in &a.curves { println!("{} {:?} {:?}", c.patch, c.crossing.crossing, c.crossing.interval); for (g, s) in a.grid_m.iter().zip(&c.shares) { print!(" {g}:{:.4}", s.value.unwrap()); } println!(); }
    println!("{:?}", t.elapsed());
    let t = Instant::now();
    let b = gap_band(&l, 0.05, 60, 80, &r).unwrap();
    println!("{:?} {:?}", b, t.elapsed());
}
