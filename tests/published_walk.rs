//! The project's own walker against the theory of random walks.

mod common;

use common::{BOUND_SE, mean_se, plan};
use crawlspan::ids::{LarvaId, StemId};
use crawlspan::life::clock::StepWeather;
use crawlspan::plan::Plan;
use crawlspan::random::Key;
use crawlspan::walk::turning::Turns;
use crawlspan::walk::{Bout, End, Movement, NoTrail, Trail};
use crawlspan::world::{HalfId, Stem};
use statrs::distribution::{ContinuousCDF, Normal};

/// A plain without stems, wide enough that nobody reaches its edge, on which strides of a metre are taken once
/// an hour and nobody dies.
fn open_plain(mean_cosine: &str, margin_m: &str) -> Plan {
    plan(
        "one-patch",
        &[
            ("site.treated.stems", "1"),
            ("site.refuge_share", "1"),
            ("site.margin_m", margin_m),
            ("site.cell_m", "2"),
            ("walking.stride_m", "1"),
            ("walking.mean_cosine", mean_cosine),
            ("walking.death_per_active_hour", "0"),
            ("walking.walking_share", "1"),
            ("walking.speed_cm_per_s.l5", "36"),
        ],
    )
}

struct Path(Vec<(f64, f64)>);

impl Trail for Path {
    fn begin(&mut self, _: LarvaId, _: usize, _: f64, _: f64, _: f64) {}
    fn stride(&mut self, _: LarvaId, x_m: f64, y_m: f64) {
        self.0.push((x_m, y_m));
    }
    fn end(&mut self, _: LarvaId, _: f64, _: End) {}
}

/// Distances from the start after the given numbers of strides, one row a walk.
fn distances(plan: &Plan, movement: &Movement, strides: &[usize], walks: u64) -> Vec<Vec<f64>> {
    let start = (plan.layout.arena_m.0 / 2.0, plan.layout.arena_m.1 / 2.0);
    let longest = *strides.last().unwrap();
    let tick = StepWeather {
        end: 1e6,
        pace: 1.0,
        active_h: 1.0,
        step_h: (longest as f64 + 0.5) / 1e6 / 1296.0,
    };
    let mut rows = vec![Vec::with_capacity(walks as usize); strides.len()];
    let mut bout = Bout::idle();
    for walk in 0..walks {
        let mut path = Path(Vec::with_capacity(longest));
        bout.begin(
            LarvaId::new(0),
            Key::master(21, 0).with(walk),
            start,
            1e6 - 1.0,
            None,
            movement.stride_m,
        );
        let tick = StepWeather {
            step_h: tick.step_h * 1e6,
            ..tick
        };
        bout.advance(5, tick, movement, &plan.ground, &Vec::new(), &mut path);
        for (row, n) in rows.iter_mut().zip(strides) {
            let at = path.0[n - 1];
            row.push((at.0 - start.0).hypot(at.1 - start.1));
        }
    }
    rows
}

/// Kareiva & Shigesada 1983 (Oecologia 56:234): for c = 0.5 and strides of 1, E(R^2) after 3, 10 and 100 strides is
/// 5.5, 26.00391 and 296; for c = 0.8 after 10 and 50 strides 54.294967 and 410.000571 (the same formula).
#[test]
fn published_mean_square_displacement_of_a_correlated_walk() {
    let cases: [(&str, &[usize], &[f64]); 2] = [
        ("0.5", &[3, 10, 100], &[5.5, 26.00391, 296.0]),
        ("0.8", &[10, 50], &[54.294967, 410.000571]),
    ];
    for (cosine, strides, expected) in cases {
        let plan = open_plain(cosine, "150");
        for (row, expected) in distances(&plan, &plan.movement, strides, 40_000)
            .iter()
            .zip(expected)
        {
            let squares: Vec<f64> = row.iter().map(|distance| distance * distance).collect();
            let (mean, se) = mean_se(&squares);
            println!("c = {cosine}: E(R^2) {mean:.4} against {expected}, SE {se:.4}");
            assert!(
                (mean - expected).abs() < BOUND_SE * se,
                "{mean} against {expected}, SE {se}"
            );
        }
    }
}

#[test]
fn exact_mean_cosine_of_the_turning_table() {
    for cosine in [0.0, 0.3, 0.5, 0.8, 0.95] {
        let table = Turns::wrapped_cauchy(cosine).mean_cosine();
        assert!((table - cosine).abs() < 1e-9, "{table} against {cosine}");
    }
}

/// Byers 2001 (Ecology 82:1680): mean dispersal of 2,000 steps of 2 m with turns of SD 30 degrees is 303 m, and of
/// 1,000 steps of 8.72 cm with SD 23.99 degrees is 11.71 m; each within 2 %. Distances scale with the stride.
#[test]
fn published_mean_dispersal_with_normal_turns() {
    for (stride_m, sd_degrees, steps, expected) in
        [(2.0, 30.0, 2000, 303.0), (0.0872, 23.99, 1000, 11.71)]
    {
        let plan = open_plain("0.5", "1500");
        let normal = Normal::new(0.0, f64::to_radians(sd_degrees)).unwrap();
        let movement = plan
            .movement
            .clone()
            .with_turns(&Turns::from_angles(|u| normal.inverse_cdf(u)));
        let rows = distances(&plan, &movement, &[steps], 12_000);
        let (mean, _) = mean_se(&rows[0]);
        let metres = mean * stride_m;
        println!("SD {sd_degrees}: mean dispersal {metres:.2} m against {expected}");
        assert!(
            (metres / expected - 1.0).abs() < 0.02,
            "{metres} against {expected}"
        );
    }
}

/// Share of walkers from distance `r` that reach a stem perceived from `a`, and its standard error.
fn share_that_reaches(
    a: f64,
    r: f64,
    killing: f64,
    stride_m: f64,
    straight: bool,
    walkers: u64,
) -> (f64, f64) {
    let diffusion_per_stride = stride_m * stride_m / 4.0;
    let death_per_stride = killing * killing * diffusion_per_stride;
    const STRIDES_PER_H: f64 = 360.0;
    let text = |number: f64| number.to_string();
    let plan = plan(
        "one-patch",
        &[
            ("site.treated.stems", "1"),
            ("site.refuge_share", "1"),
            ("site.margin_m", "200"),
            ("site.cell_m", "1"),
            ("walking.stride_m", &text(stride_m)),
            ("walking.mean_cosine", "0"),
            ("walking.perceptual_range_m", &text(a)),
            ("walking.acceptance", "1"),
            ("walking.walking_share", "1"),
            (
                "walking.death_per_active_hour",
                &text(death_per_stride * STRIDES_PER_H),
            ),
            (
                "walking.speed_cm_per_s.l5",
                &text(stride_m * STRIDES_PER_H / 36.0),
            ),
        ],
    );
    let movement = if straight {
        plan.movement
            .clone()
            .with_turns(&Turns::from_angles(|_| 0.0))
    } else {
        plan.movement.clone()
    };
    let centre = (plan.layout.arena_m.0 / 2.0, plan.layout.arena_m.1 / 2.0);
    let mut ground = plan.ground.clone();
    ground.enter(StemId::new(0), centre.0, centre.1, movement.reach_m);
    let stems = vec![Stem::new(centre.0, centre.1, HalfId::new(0, false))];
    let mut bout = Bout::idle();
    let mut reached = 0.0;
    for walker in 0..walkers {
        bout.begin(
            LarvaId::new(0),
            Key::master(23, 0).with(walker),
            (centre.0 + r, centre.1),
            0.0,
            None,
            stride_m,
        );
        let mut hour = 1.0;
        loop {
            let tick = StepWeather {
                end: hour,
                pace: 1.0,
                active_h: 1.0,
                step_h: 1.0,
            };
            match bout.advance(5, tick, &movement, &ground, &stems, &mut NoTrail) {
                End::Walking => hour += 1.0,
                End::Settled(_) => {
                    reached += 1.0;
                    break;
                }
                End::Died | End::Lost => break,
            }
        }
    }
    let share: f64 = reached / walkers as f64;
    (share, (share * (1.0 - share) / walkers as f64).sqrt())
}

/// Hitting a disc of radius a from distance r under diffusion D and killing rate mu: K0(r k)/K0(a k),
/// k = sqrt(mu/D) (a standard result on Brownian motion with killing, e.g. Borodin & Salminen 2002, from memory;
/// the four values computed with scipy 1.17.1). Within 3 SE and 5 % for the finite stride.
#[test]
fn published_hitting_of_a_disc_under_killing() {
    for (a, r, k, expected) in [
        (1.0, 5.0, 0.2, 0.24021),
        (5.0, 10.0, 0.1, 0.45545),
        (5.0, 15.0, 0.2, 0.08251),
        (5.0, 25.0, 0.1, 0.06745),
    ] {
        let stride_m = if a < 2.0 { 0.05 } else { 0.25 };
        let (share, se) = share_that_reaches(a, r, k, stride_m, false, 20_000);
        println!("a {a}, r {r}, k {k}: {share:.5} against {expected}, SE {se:.5}");
        assert!(
            (share - expected).abs() < 3.0 * se + 0.05 * expected,
            "{share} against {expected}, SE {se}"
        );
    }
}

/// Straight walkers reach a disc of radius a from distance r with probability asin(a/r)/pi: (5, 15) -> 0.10817.
#[test]
fn exact_hitting_of_a_disc_by_straight_walkers() {
    let (share, se) = share_that_reaches(5.0, 15.0, 0.0, 0.25, true, 100_000);
    println!("straight: {share:.5} against 0.10817, SE {se:.5}");
    assert!((share - 0.10817).abs() < BOUND_SE * se, "{share}, SE {se}");
}
