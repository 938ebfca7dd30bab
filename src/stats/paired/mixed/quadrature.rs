//! Adaptive Gauss-Hermite quadrature on one axis: nodes are placed around the integrand's mode and
//! spread by its curvature there; with one node it is Laplace's approximation.
//!
//! Source: Pinheiro & Bates 1995, J. Comput. Graph. Stat. 4, 12.

use std::f64::consts::{PI, SQRT_2};
use std::num::NonZeroUsize;

use gauss_quad::hermite::GaussHermite;

/// Newton steps granted to the search for a mode; a concave integrand needs about six.
const MODE_STEPS: usize = 100;
/// A Newton step below this ends the search; the likelihood must be smooth in its parameters to
/// about 1e-12 for its numerical derivatives to be of use.
const MODE_ACCURACY: f64 = 1e-11;
/// Longest Newton step in standard deviations of the random effect: where a count's mean grows
/// exponentially, a full step from a flat region would overshoot without limit.
const LONGEST_STEP: f64 = 3.0;
/// A step that loses more than this is halved. Far above rounding, because the slope of a response
/// that is itself an integral agrees with its value only to the accuracy of that integral.
const LARGEST_LOSS: f64 = 1e-7;

/// A logarithm with its first two derivatives.
#[derive(Debug, Clone, Copy)]
pub(super) struct Local {
    pub value: f64,
    pub slope: f64,
    pub curvature: f64,
}

/// Nodes of the rule and the logarithms of their weights, the Gaussian factor divided out.
#[derive(Debug, Clone)]
pub(super) struct Rule {
    nodes: Vec<(f64, f64)>,
}

impl Rule {
    /// The rule with this number of nodes.
    pub(super) fn new(nodes: NonZeroUsize) -> Self {
        let nodes = GaussHermite::new(nodes)
            .iter()
            .map(|(node, weight)| (*node, weight.ln() + node * node))
            .collect();
        Self { nodes }
    }

    /// Points around the mode with the logarithms of the weights that belong to them.
    fn points(&self, mode: f64, curvature: f64) -> impl Iterator<Item = (f64, f64)> {
        let reach = SQRT_2 / (-curvature).sqrt();
        self.nodes
            .iter()
            .map(move |(node, log_weight)| (mode + reach * node, log_weight + reach.ln()))
    }

    /// Logarithm of the integral of exp(`log_integrand`) over the real line.
    pub(super) fn log_integral(&self, log_integrand: impl Fn(f64) -> Local) -> f64 {
        let (mode, top) = find_mode(&log_integrand);
        if self.nodes.len() == 1 {
            return top.value + 0.5 * (2.0 * PI / -top.curvature).ln();
        }
        // The value at the mode is taken out so that the exponentials stay in range.
        let sum: f64 = self
            .points(mode, top.curvature)
            .map(|(at, log_weight)| (log_integrand(at).value - top.value + log_weight).exp())
            .sum();
        top.value + sum.ln()
    }

    /// Logarithm of the integral, and the means of `moments` under the integrand as a density.
    pub(super) fn log_integral_with_means(
        &self,
        log_integrand: impl Fn(f64) -> Local,
        moments: impl Fn(f64) -> [f64; 2],
    ) -> (f64, [f64; 2]) {
        let (mode, top) = find_mode(&log_integrand);
        let mut sum = 0.0;
        let mut means = [0.0; 2];
        for (at, log_weight) in self.points(mode, top.curvature) {
            let weight = (log_integrand(at).value - top.value + log_weight).exp();
            sum += weight;
            for (mean, moment) in means.iter_mut().zip(moments(at)) {
                *mean += weight * moment;
            }
        }
        (top.value + sum.ln(), means.map(|mean| mean / sum))
    }
}

/// Mode of a concave log-integrand near zero, by Newton's method with step halving.
fn find_mode(log_integrand: &impl Fn(f64) -> Local) -> (f64, Local) {
    let mut at = 0.0;
    let mut here = log_integrand(at);
    for _ in 0..MODE_STEPS {
        let mut step = (-here.slope / here.curvature).clamp(-LONGEST_STEP, LONGEST_STEP);
        let mut next = log_integrand(at + step);
        while next.value < here.value - LARGEST_LOSS && step.abs() > MODE_ACCURACY {
            step *= 0.5;
            next = log_integrand(at + step);
        }
        at += step;
        here = next;
        if step.abs() <= MODE_ACCURACY {
            break;
        }
    }
    (at, here)
}
