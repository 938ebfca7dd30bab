//! Approximate Bayesian computation by sequential Monte Carlo: parameters from a simulator without a likelihood.
//!
//! Population Monte Carlo with an adaptive kernel (Beaumont, Cornuet, Marin & Robert 2009, Biometrika 96: 983-990;
//! Toni, Welch, Strelkowa, Ipsen & Stumpf 2009, Journal of the Royal Society Interface 6: 187-202). The prior is
//! uniform on the unit cube; whoever asks maps it to ranges. Each generation keeps candidates that come nearer to the
//! data than the middle of the last generation did, and weighs them so that the prior is kept to.

use super::StatsError;
use crate::random::numbered as stream;
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

/// A parameter set that was kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Particle {
    /// Place in the unit cube.
    pub point: Vec<f64>,
    /// Weight; those of a generation add up to 1.
    pub weight: f64,
    /// How far its simulation was from the data.
    pub distance: f64,
}

/// A generation of particles.
#[derive(Debug, Clone, PartialEq)]
pub struct Generation {
    /// Largest distance let in.
    pub tolerance: f64,
    /// Particles kept.
    pub particles: Vec<Particle>,
    /// Candidates simulated for it.
    pub tried: u64,
}

/// How hard to try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AbcEffort {
    /// Particles in a generation.
    pub particles: usize,
    /// Generations at most.
    pub generations: usize,
    /// Candidates of a generation for each of its particles at most; a generation that takes more is given up, and
    /// the one before it stands.
    pub most_tries: u64,
}

/// Draws from the prior for each particle of the first generation, of which the nearest are kept.
const FIRST_DRAWS: usize = 5;
/// Share of a generation by which the next tolerance is set.
const NEXT_TOLERANCE: f64 = 0.5;
/// The kernel has this many times the weighted variance of the last generation (Beaumont et al. 2009).
const KERNEL_VARIANCE: f64 = 2.0;
/// Least SD of the kernel: a generation that has collapsed onto a point would never move again.
const LEAST_SD: f64 = 1e-4;

/// Generations of particles, each nearer to the data than the last. `distances` simulates candidates, given with the
/// number of the first of them, which identifies it for good; a distance that is not finite is never let in.
///
/// # Errors
/// Those of `distances`; [`StatsError::TooFew`] without parameters or below two particles, or when not enough
/// candidates of the prior have a finite distance.
pub fn sequential<E: From<StatsError>>(
    parameters: usize,
    effort: AbcEffort,
    seed: u64,
    mut distances: impl FnMut(u64, &[Vec<f64>]) -> Result<Vec<f64>, E>,
) -> Result<Vec<Generation>, E> {
    let few = |needed, given| E::from(StatsError::TooFew { needed, given });
    if parameters == 0 || effort.particles < 2 {
        return Err(few(2, effort.particles.min(parameters)));
    }
    let mut number = 0;
    let wanted = effort.particles * FIRST_DRAWS;
    let candidates: Vec<Vec<f64>> = (0..wanted)
        .map(|candidate| {
            let mut random = stream(seed, candidate as u64);
            (0..parameters).map(|_| random.random()).collect()
        })
        .collect();
    let found = distances(number, &candidates)?;
    number += wanted as u64;
    let mut nearest: Vec<(f64, Vec<f64>)> = found.into_iter().zip(candidates).collect();
    nearest.retain(|(distance, _)| distance.is_finite());
    nearest.sort_by(|a, b| a.0.total_cmp(&b.0));
    nearest.truncate(effort.particles);
    if nearest.len() < effort.particles {
        return Err(few(effort.particles, nearest.len()));
    }
    let tolerance = nearest.last().map_or(f64::INFINITY, |last| last.0);
    let even = 1.0 / effort.particles as f64;
    let mut generations = vec![Generation {
        tolerance,
        particles: nearest
            .into_iter()
            .map(|(distance, point)| Particle {
                point,
                weight: even,
                distance,
            })
            .collect(),
        tried: wanted as u64,
    }];
    while generations.len() < effort.generations {
        let last = &generations[generations.len() - 1];
        let Some(next) = next_generation(last, effort, seed, &mut number, &mut distances)? else {
            break;
        };
        generations.push(next);
    }
    Ok(generations)
}

/// The next generation, or `None` when it takes too many tries or none can be nearer.
fn next_generation<E>(
    last: &Generation,
    effort: AbcEffort,
    seed: u64,
    number: &mut u64,
    distances: &mut impl FnMut(u64, &[Vec<f64>]) -> Result<Vec<f64>, E>,
) -> Result<Option<Generation>, E> {
    let mut ordered: Vec<f64> = last.particles.iter().map(|p| p.distance).collect();
    ordered.sort_by(f64::total_cmp);
    let middle = ordered[(NEXT_TOLERANCE * (ordered.len() - 1) as f64) as usize];
    // Distances of counts come in steps: where half of them lie on the last one, the step below is next.
    let nearer = ordered
        .iter()
        .rev()
        .find(|distance| **distance < last.tolerance);
    let Some(tolerance) = nearer.map(|nearer| middle.min(*nearer)) else {
        return Ok(None);
    };
    let spreads = kernel(&last.particles);
    let mut kept: Vec<Particle> = Vec::with_capacity(effort.particles);
    let mut tried = 0;
    while kept.len() < effort.particles {
        if tried >= effort.most_tries * effort.particles as u64 {
            return Ok(None);
        }
        let candidates: Vec<Vec<f64>> = (0..effort.particles)
            .map(|at| moved(&last.particles, &spreads, seed, *number + at as u64))
            .collect();
        let found = distances(*number, &candidates)?;
        *number += candidates.len() as u64;
        tried += candidates.len() as u64;
        for (distance, point) in found.into_iter().zip(candidates) {
            if distance <= tolerance && kept.len() < effort.particles {
                kept.push(Particle {
                    weight: 1.0 / density(&last.particles, &spreads, &point),
                    point,
                    distance,
                });
            }
        }
    }
    let all: f64 = kept.iter().map(|particle| particle.weight).sum();
    kept.iter_mut().for_each(|particle| particle.weight /= all);
    Ok(Some(Generation {
        tolerance,
        particles: kept,
        tried,
    }))
}

/// SD of the kernel along each parameter.
fn kernel(particles: &[Particle]) -> Vec<f64> {
    let parameters = particles.first().map_or(0, |particle| particle.point.len());
    (0..parameters)
        .map(|at| {
            let mean: f64 = particles.iter().map(|p| p.weight * p.point[at]).sum();
            let square = |p: &Particle| p.weight * (p.point[at] - mean).powi(2);
            let variance: f64 = particles.iter().map(square).sum();
            (KERNEL_VARIANCE * variance).sqrt().max(LEAST_SD)
        })
        .collect()
}

/// A particle drawn by its weight and moved by the kernel; moved again until it lies in the unit cube. That bends the
/// kernel near the edge, and [`density`] allows for it.
fn moved(particles: &[Particle], spreads: &[f64], seed: u64, number: u64) -> Vec<f64> {
    /// A kernel of any width, held inside the cube, is hit within a few tries; the last resort is not to move.
    const TRIES: usize = 1_000;
    let mut random = stream(seed, number);
    let mut left: f64 = random.random();
    let chosen = particles
        .iter()
        .find(|particle| {
            left -= particle.weight;
            left < 0.0
        })
        .or(particles.last());
    let from: &[f64] = chosen.map_or(&[], |particle| &particle.point);
    from.iter()
        .zip(spreads)
        .map(|(from, spread)| {
            (0..TRIES)
                .map(|_| {
                    let z: f64 = StandardNormal.sample(&mut random);
                    from + spread * z
                })
                .find(|place| (0.0..=1.0).contains(place))
                .unwrap_or(*from)
        })
        .collect()
}

/// Density, up to a constant, with which [`moved`] proposes a point.
fn density(particles: &[Particle], spreads: &[f64], point: &[f64]) -> f64 {
    use statrs::distribution::{ContinuousCDF, Normal};
    let standard = Normal::standard();
    particles
        .iter()
        .map(|particle| {
            let parts = particle.point.iter().zip(point).zip(spreads);
            let kernel: f64 = parts
                .map(|((from, to), spread)| {
                    let inside = standard.cdf((1.0 - from) / spread) - standard.cdf(-from / spread);
                    (-((to - from) / spread).powi(2) / 2.0).exp() / inside
                })
                .product();
            particle.weight * kernel
        })
        .sum()
}

/// Value below which a share of the weight of particles lies, along one parameter.
#[must_use]
pub fn weighted_quantile(particles: &[Particle], parameter: usize, share: f64) -> f64 {
    let mut order: Vec<(f64, f64)> = particles
        .iter()
        .map(|particle| (particle.point[parameter], particle.weight))
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut below = 0.0;
    for (place, weight) in &order {
        below += weight;
        if below >= share {
            return *place;
        }
    }
    order.last().map_or(f64::NAN, |(place, _)| *place)
}

/// Number of even-weighted particles that would say as much: one over the sum of squared weights.
#[must_use]
pub fn effective_particles(particles: &[Particle]) -> f64 {
    1.0 / particles
        .iter()
        .map(|particle| particle.weight * particle.weight)
        .sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With a uniform prior of a share and x of n, met exactly, the posterior is Beta(x + 1, n - x + 1) (Bayes 1763). The
    /// mean over particles has SE SD / root(effective particles); the means of both moments lie within five of it
    /// (for the second parameter, of which the data say nothing, the prior stays: mean 1/2, SD 1 / root 12).
    #[test]
    fn published_posterior_of_a_share() {
        const N: u32 = 20;
        const X: u32 = 3;
        let effort = AbcEffort {
            particles: 4_000,
            generations: 12,
            most_tries: 200,
        };
        let generations = sequential::<StatsError>(2, effort, 5, |first, candidates| {
            Ok(candidates
                .iter()
                .enumerate()
                .map(|(at, point)| {
                    let mut random = stream(99, first + at as u64);
                    let hits = (0..N).filter(|_| random.random::<f64>() < point[0]).count();
                    (hits as f64 - f64::from(X)).abs()
                })
                .collect())
        });
        let generations = generations.expect("distances are finite");
        let last = &generations.last().expect("a generation");
        assert_eq!(last.tolerance, 0.0);
        let (a, b) = (f64::from(X + 1), f64::from(N - X + 1));
        let variance = a * b / ((a + b).powi(2) * (a + b + 1.0));
        let effective = effective_particles(&last.particles);
        assert!(effective > 1_000.0, "{effective}");
        for (at, mean, sd) in [
            (0, a / (a + b), variance.sqrt()),
            (1, 0.5, 12_f64.sqrt().recip()),
        ] {
            let found: f64 = last.particles.iter().map(|p| p.weight * p.point[at]).sum();
            let spread: f64 = last
                .particles
                .iter()
                .map(|p| p.weight * (p.point[at] - mean).powi(2))
                .sum();
            let error = sd / effective.sqrt();
            println!(
                "mean {found:.4}, known {mean:.4}; SD {:.4}, known {sd:.4}",
                spread.sqrt()
            );
            assert!(
                (found - mean).abs() <= 5.0 * error,
                "{found} {mean} {error}"
            );
            // A squared deviation of a beta or uniform draw has an SD of at most 1.6 times its mean.
            assert!((spread / (sd * sd) - 1.0).abs() <= 5.0 * 1.6 / effective.sqrt());
        }
    }

    #[test]
    fn exact_quantiles_follow_the_weights() {
        let particle = |place: f64, weight| Particle {
            point: vec![place],
            weight,
            distance: 0.0,
        };
        let all = [particle(0.9, 0.2), particle(0.1, 0.5), particle(0.4, 0.3)];
        assert_eq!(weighted_quantile(&all, 0, 0.5), 0.1);
        assert_eq!(weighted_quantile(&all, 0, 0.6), 0.4);
        assert_eq!(weighted_quantile(&all, 0, 1.0), 0.9);
    }
}
