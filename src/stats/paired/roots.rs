//! Bracketed roots and bracketed thresholds on one axis.

use argmin::core::{CostFunction, Executor, State};
use argmin::solver::brent::BrentRoot;

/// Iterations granted to Brent's method; bisection alone would need about 60 to exhaust a double.
const ROOT_ITERATIONS: u64 = 200;

/// A function of one variable in the shape the optimisation library asks for.
struct OneVariable<F>(F);

impl<F: Fn(f64) -> f64> CostFunction for OneVariable<F> {
    type Param = f64;
    type Output = f64;

    fn cost(&self, parameter: &f64) -> Result<f64, argmin::core::Error> {
        Ok((self.0)(*parameter))
    }
}

/// Root of `function` between `low` and `high` to the absolute `tolerance`, by Brent's method.
///
/// `None` when the ends do not bracket a sign change or a value is not finite.
pub(crate) fn root(
    function: impl Fn(f64) -> f64,
    low: f64,
    high: f64,
    tolerance: f64,
) -> Option<f64> {
    let solver = BrentRoot::new(low, high, tolerance);
    let run = Executor::new(OneVariable(function), solver)
        .configure(|state| state.max_iters(ROOT_ITERATIONS))
        .timer(false)
        .run()
        .ok()?;
    run.state
        .get_best_param()
        .copied()
        .filter(|at| at.is_finite())
}

/// First step of an outward walk on the log-ratio axis: a factor of about 1.28, well inside any
/// interval a field study gives.
const FIRST_STEP: f64 = 0.25;

/// Farthest log ratio walked to: a factor of 10^13, beyond any count of larvae.
pub(crate) const FARTHEST_LOG_RATIO: f64 = 30.0;

/// Walks outward from `start` (where `inside` holds) in the `direction` given (+1 or -1), doubling
/// the step, until `inside` fails; returns the last point inside and the first outside.
///
/// `None` when `inside` still holds at [`FARTHEST_LOG_RATIO`] from zero.
pub(crate) fn walk_out(
    start: f64,
    direction: f64,
    mut inside: impl FnMut(f64) -> bool,
) -> Option<(f64, f64)> {
    let mut last = start;
    let mut step = FIRST_STEP;
    while last.abs() < FARTHEST_LOG_RATIO || last * direction < 0.0 {
        let next = last + direction * step;
        if !inside(next) {
            return Some((last, next));
        }
        last = next;
        step *= 2.0;
    }
    None
}

/// Bisects between a point `inside` and one outside until they are `tolerance` apart.
pub(crate) fn bisect(
    mut within: f64,
    mut without: f64,
    tolerance: f64,
    mut inside: impl FnMut(f64) -> bool,
) -> f64 {
    while (without - within).abs() > tolerance {
        let middle = 0.5 * (within + without);
        if inside(middle) {
            within = middle;
        } else {
            without = middle;
        }
    }
    0.5 * (within + without)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_root_of_a_cubic() {
        let found = root(|x| x * x * x - 2.0, 0.0, 2.0, 1e-14);
        assert!(found.is_some_and(|x| (x - 2.0_f64.cbrt()).abs() < 1e-12));
    }

    #[test]
    fn exact_no_root_without_a_sign_change() {
        assert_eq!(root(|x| x * x + 1.0, -1.0, 1.0, 1e-9), None);
    }

    #[test]
    fn exact_walk_and_bisection_find_a_threshold() {
        let edge = walk_out(0.0, -1.0, |x| x > -3.7)
            .map(|(last, first)| bisect(last, first, 1e-10, |x| x > -3.7));
        assert!(edge.is_some_and(|x| (x + 3.7).abs() < 1e-9));
        assert_eq!(walk_out(0.0, 1.0, |_| true), None);
    }
}
