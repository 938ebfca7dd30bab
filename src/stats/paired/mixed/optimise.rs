//! Minimising a smooth function: limited-memory BFGS, then Newton steps that also give the Hessian.

use std::cell::RefCell;

use argmin::core::{CostFunction, Error, Executor, Gradient};
use argmin::solver::linesearch::MoreThuenteLineSearch;
use argmin::solver::quasinewton::LBFGS;
use nalgebra::{DMatrix, DVector};

/// Step of central differences for the gradient: balances rounding (1e-13 of a log-likelihood of
/// hundreds) against the third derivative.
const GRADIENT_STEP: f64 = 3e-5;
/// Step of central second differences, larger because rounding is divided by its square.
const HESSIAN_STEP: f64 = 1e-3;
/// Gradients kept by the limited-memory update; more than the parameters of any model here.
const MEMORY: usize = 12;
/// Iterations of BFGS; it needs a few dozen.
const ITERATIONS: u64 = 300;
/// Gradient norm at which BFGS stops: in the range of the differences' own error.
const GRADIENT_ACCURACY: f64 = 1e-5;
/// Evaluations without a gain after which BFGS is ended: its line search sets itself no limit and
/// would never return once the differences' error hides the slope.
const STALLED: usize = 30;
/// Relative change of the function that counts as a gain.
const GAIN: f64 = 1e-12;
/// Newton steps after BFGS.
const POLISH_STEPS: usize = 4;
/// Expected gain of a Newton step, in units of log-likelihood, below which the fit has converged.
const EXPECTED_GAIN: f64 = 1e-8;

/// A minimum found.
pub(super) struct Minimum {
    pub at: DVector<f64>,
    pub value: f64,
    /// Matrix of second derivatives at the minimum.
    pub hessian: DMatrix<f64>,
    /// Whether the criterion of convergence was met.
    pub converged: bool,
}

/// The best point seen so far.
struct Best {
    value: f64,
    at: Vec<f64>,
    /// Evaluations since the last gain.
    since: usize,
}

/// A function with the best point seen so far, kept because a failed line search loses its state.
struct Watched<'a, F> {
    function: &'a F,
    best: &'a RefCell<Best>,
}

impl<F: Fn(&[f64]) -> f64> CostFunction for Watched<'_, F> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, at: &Vec<f64>) -> Result<f64, Error> {
        let value = (self.function)(at);
        let mut best = self.best.borrow_mut();
        let gains = value < best.value - GAIN * best.value.abs();
        best.since = if gains { 0 } else { best.since + 1 };
        if value < best.value {
            best.value = value;
            best.at.clone_from(at);
        }
        if best.since > STALLED {
            return Err(Error::msg("no gain"));
        }
        Ok(value)
    }
}

impl<F: Fn(&[f64]) -> f64> Gradient for Watched<'_, F> {
    type Param = Vec<f64>;
    type Gradient = Vec<f64>;

    fn gradient(&self, at: &Vec<f64>) -> Result<Vec<f64>, Error> {
        Ok(gradient(self.function, at))
    }
}

/// Gradient by central differences.
fn gradient(function: &impl Fn(&[f64]) -> f64, at: &[f64]) -> Vec<f64> {
    let mut moved = at.to_vec();
    (0..at.len())
        .map(|axis| {
            moved[axis] = at[axis] + GRADIENT_STEP;
            let above = function(&moved);
            moved[axis] = at[axis] - GRADIENT_STEP;
            let below = function(&moved);
            moved[axis] = at[axis];
            (above - below) / (2.0 * GRADIENT_STEP)
        })
        .collect()
}

/// Hessian by central second differences.
fn hessian(function: &impl Fn(&[f64]) -> f64, at: &[f64]) -> DMatrix<f64> {
    let size = at.len();
    let centre = function(at);
    let shifted = |moves: &[(usize, f64)]| {
        let mut moved = at.to_vec();
        for (axis, sign) in moves {
            moved[*axis] += sign * HESSIAN_STEP;
        }
        function(&moved)
    };
    let square = HESSIAN_STEP * HESSIAN_STEP;
    let mut matrix = DMatrix::zeros(size, size);
    for row in 0..size {
        let ends = shifted(&[(row, 1.0)]) + shifted(&[(row, -1.0)]);
        matrix[(row, row)] = (ends - 2.0 * centre) / square;
        for column in 0..row {
            let corner = |a: f64, b: f64| shifted(&[(row, a), (column, b)]);
            let mixed =
                corner(1.0, 1.0) - corner(1.0, -1.0) - corner(-1.0, 1.0) + corner(-1.0, -1.0);
            matrix[(row, column)] = mixed / (4.0 * square);
            matrix[(column, row)] = matrix[(row, column)];
        }
    }
    matrix
}

/// Best point of a BFGS run, whether or not its last line search succeeded.
fn descend(function: &impl Fn(&[f64]) -> f64, start: &[f64]) -> (f64, Vec<f64>) {
    let best = RefCell::new(Best {
        value: function(start),
        at: start.to_vec(),
        since: 0,
    });
    let watched = Watched {
        function,
        best: &best,
    };
    let solver =
        LBFGS::new(MoreThuenteLineSearch::new(), MEMORY).with_tolerance_grad(GRADIENT_ACCURACY);
    if let Ok(solver) = solver {
        // A failed line search is an error here but no loss: the best point is kept, and whether
        // it is a minimum is judged by the Newton steps that follow.
        let _finished = Executor::new(watched, solver)
            .configure(|state| state.param(start.to_vec()).max_iters(ITERATIONS))
            .timer(false)
            .run()
            .is_ok();
    }
    let best = best.into_inner();
    (best.value, best.at)
}

/// Minimises `function` from `start`.
pub(super) fn minimise(function: impl Fn(&[f64]) -> f64, start: &[f64]) -> Minimum {
    let (mut value, mut at) = descend(&function, start);
    let mut curvature = hessian(&function, &at);
    let mut converged = false;
    for _ in 0..POLISH_STEPS {
        let slope = DVector::from_vec(gradient(&function, &at));
        let Some(factor) = curvature.clone().cholesky() else {
            break;
        };
        let step = factor.solve(&slope);
        converged = 0.5 * slope.dot(&step) < EXPECTED_GAIN;
        let next: Vec<f64> = at.iter().zip(&step).map(|(a, s)| a - s).collect();
        let next_value = function(&next);
        // At the minimum the gain is below rounding: a step that changes nothing is still taken.
        let improves = next_value <= value + f64::EPSILON * value.abs();
        if improves {
            (value, at) = (next_value, next);
        }
        if converged || !improves {
            break;
        }
        curvature = hessian(&function, &at);
    }
    // The last step of a converged fit is too small to change the second derivatives.
    Minimum {
        hessian: curvature,
        at: DVector::from_vec(at),
        value,
        converged,
    }
}
