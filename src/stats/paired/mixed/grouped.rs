//! Counts with a random intercept for each group, by maximum marginal likelihood.

use std::collections::BTreeMap;
use std::num::NonZeroUsize;

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use serde::Serialize;

use super::optimise::minimise;
use super::quadrature::{Local, Rule};
use super::response::{Evaluator, Response, with_normal_prior};
use crate::stats::paired::PairedError;

/// Starting value of the standard deviation between groups and of the overdispersion: in the
/// middle of the values field counts give, and away from 0, where the slope vanishes by symmetry.
const START_SPREAD: f64 = 0.5;
/// Least starting value of the spreads in a fit that starts from a neighbouring one.
const LEAST_START_SPREAD: f64 = 0.1;
/// Steps of iteratively reweighted least squares for the starting coefficients.
const STARTING_STEPS: usize = 8;
/// Added to counts for the first linear predictor, so that zeros have a logarithm.
const STARTING_COUNT: f64 = 0.5;

/// Groups from which on the integrals of an evaluation are shared out among threads.
const MANY_GROUPS: usize = 256;

/// Nodes of the quadrature over the group's effect.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Quadrature {
    /// One node: Laplace's approximation.
    Laplace,
    /// Nine adaptive Gauss-Hermite nodes.
    #[default]
    Nine,
    /// Twenty-five adaptive Gauss-Hermite nodes.
    TwentyFive,
}

impl Quadrature {
    fn nodes(self) -> NonZeroUsize {
        const NINE: NonZeroUsize = NonZeroUsize::MIN.saturating_add(8);
        const TWENTY_FIVE: NonZeroUsize = NonZeroUsize::MIN.saturating_add(24);
        match self {
            Self::Laplace => NonZeroUsize::MIN,
            Self::Nine => NINE,
            Self::TwentyFive => TWENTY_FIVE,
        }
    }
}

/// Counts with covariates, offsets and one grouping factor.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupedCounts {
    counts: Vec<u32>,
    design: DMatrix<f64>,
    offset: Vec<f64>,
    members: Vec<Vec<usize>>,
}

impl GroupedCounts {
    /// Counts, their design matrix (a row per count, full column rank), their offsets on the log
    /// scale and the group of each, numbered from 0.
    ///
    /// # Errors
    /// [`PairedError::Shape`] when the lengths differ, there are no counts, or a number is not
    /// finite.
    pub fn new(
        counts: Vec<u32>,
        design: DMatrix<f64>,
        offset: Vec<f64>,
        groups: &[usize],
    ) -> Result<Self, PairedError> {
        let number = counts.len();
        if number == 0 {
            return Err(PairedError::Shape("no counts"));
        }
        if design.nrows() != number || offset.len() != number || groups.len() != number {
            return Err(PairedError::Shape(
                "counts, design rows, offsets and groups differ in number",
            ));
        }
        if !design.iter().chain(&offset).all(|value| value.is_finite()) {
            return Err(PairedError::Shape("design and offsets must be finite"));
        }
        let last = groups.iter().copied().max().unwrap_or(0);
        if last >= number {
            return Err(PairedError::Shape(
                "groups must be numbered from 0 without large gaps",
            ));
        }
        let mut members = vec![Vec::new(); last + 1];
        for (at, group) in groups.iter().enumerate() {
            members[*group].push(at);
        }
        Ok(Self {
            counts,
            design,
            offset,
            members,
        })
    }

    /// The same data with the coefficient of one column held at `value`.
    pub(super) fn with_fixed(&self, column: usize, value: f64) -> Self {
        let offset = self
            .offset
            .iter()
            .zip(self.design.column(column).iter())
            .map(|(offset, x)| offset + value * x)
            .collect();
        Self {
            counts: self.counts.clone(),
            design: self.design.clone().remove_column(column),
            offset,
            members: self.members.clone(),
        }
    }

    /// Linear predictor of every count.
    fn predictor(&self, coefficients: &[f64]) -> Vec<f64> {
        let coefficients = DVector::from_column_slice(coefficients);
        let fitted = &self.design * coefficients;
        fitted
            .iter()
            .zip(&self.offset)
            .map(|(x, o)| x + o)
            .collect()
    }

    /// Coefficients of a Poisson regression without groups, to start from.
    fn starting_coefficients(&self) -> DVector<f64> {
        let mut eta: Vec<f64> = self
            .counts
            .iter()
            .map(|count| (f64::from(*count) + STARTING_COUNT).ln())
            .collect();
        let mut coefficients = DVector::zeros(self.design.ncols());
        for _ in 0..STARTING_STEPS {
            let mean: Vec<f64> = eta.iter().map(|eta| eta.exp()).collect();
            let working = DVector::from_iterator(
                eta.len(),
                (0..eta.len()).map(|at| {
                    eta[at] - self.offset[at] + (f64::from(self.counts[at]) - mean[at]) / mean[at]
                }),
            );
            let mut weighted = self.design.clone();
            for (mut row, mean) in weighted.row_iter_mut().zip(&mean) {
                row *= *mean;
            }
            let normal = self.design.transpose() * &weighted;
            let Some(factor) = normal.cholesky() else {
                break;
            };
            coefficients = factor.solve(&(weighted.transpose() * working));
            eta = self.predictor(coefficients.as_slice());
        }
        coefficients
    }

    /// Marginal log-likelihood at coefficients, standard deviation between groups and
    /// overdispersion (square root of 1/k, or the standard deviation of the log-normal error;
    /// ignored by [`Response::Poisson`]), with all constants.
    #[must_use]
    pub fn log_likelihood(
        &self,
        response: Response,
        quadrature: Quadrature,
        coefficients: &[f64],
        group_spread: f64,
        overdispersion: f64,
    ) -> f64 {
        let evaluator = Evaluator::new(response);
        let rule = Rule::new(quadrature.nodes());
        self.marginal(
            &evaluator,
            &rule,
            coefficients,
            [group_spread, overdispersion],
        )
    }

    fn marginal(
        &self,
        evaluator: &Evaluator,
        rule: &Rule,
        coefficients: &[f64],
        [group_spread, overdispersion]: [f64; 2],
    ) -> f64 {
        let eta = self.predictor(coefficients);
        let mut known = BTreeMap::new();
        let constants: f64 = self
            .counts
            .iter()
            .map(|count| {
                *known
                    .entry(*count)
                    .or_insert_with(|| evaluator.constant(*count, overdispersion))
            })
            .sum();
        let integral = |members: &Vec<usize>| {
            rule.log_integral(|effect| {
                let mut sum = Local {
                    value: 0.0,
                    slope: 0.0,
                    curvature: 0.0,
                };
                for at in members {
                    let shifted = eta[*at] + group_spread * effect;
                    let one = evaluator.at(self.counts[*at], shifted, overdispersion);
                    sum.value += one.value;
                    sum.slope += one.slope;
                    sum.curvature += one.curvature;
                }
                with_normal_prior(sum, effect, group_spread)
            })
        };
        let groups = || self.members.iter().filter(|members| !members.is_empty());
        // The terms are added in one order either way, so that the sum is the same on any number of threads.
        let sum: f64 = if self.members.len() < MANY_GROUPS {
            groups().map(integral).sum()
        } else {
            let groups: Vec<&Vec<usize>> = groups().collect();
            let terms: Vec<f64> = groups.into_par_iter().map(integral).collect();
            terms.into_iter().sum()
        };
        constants + sum
    }

    /// Fit by maximum marginal likelihood.
    #[must_use]
    pub fn fit(&self, response: Response, quadrature: Quadrature) -> GroupedFit {
        let mut start = self.starting_coefficients().as_slice().to_vec();
        start.push(START_SPREAD);
        if response.is_overdispersed() {
            start.push(START_SPREAD);
        }
        self.fit_from(response, quadrature, &start)
    }

    /// Fit from given coefficients and spreads.
    pub(super) fn fit_from(
        &self,
        response: Response,
        quadrature: Quadrature,
        start: &[f64],
    ) -> GroupedFit {
        let evaluator = Evaluator::new(response);
        let rule = Rule::new(quadrature.nodes());
        let columns = self.design.ncols();
        // Both spreads enter by their squares or with a symmetric law, so that the sign is free
        // and 0 is an interior point: no bounds are needed.
        let minimum = minimise(
            |parameters| {
                let (coefficients, spreads) = parameters.split_at(columns);
                let overdispersion = spreads.get(1).copied().unwrap_or(0.0);
                -self.marginal(
                    &evaluator,
                    &rule,
                    coefficients,
                    [spreads[0], overdispersion],
                )
            },
            start,
        );
        let (coefficients, spreads) = minimum.at.as_slice().split_at(columns);
        let standard_errors = minimum.hessian.cholesky().map(|factor| {
            let inverse = factor.inverse();
            (0..columns).map(|at| inverse[(at, at)].sqrt()).collect()
        });
        GroupedFit {
            coefficients: coefficients.to_vec(),
            standard_errors,
            group_spread: spreads[0].abs(),
            overdispersion: spreads.get(1).map(|spread| spread.abs()),
            log_likelihood: -minimum.value,
            converged: minimum.converged,
        }
    }
}

impl GroupedFit {
    /// Coefficients and spreads to start a neighbouring fit from, that with one coefficient held
    /// fixed. Spreads at zero are moved off it, where the slope vanishes by symmetry.
    pub(super) fn start_without(&self, column: usize) -> Vec<f64> {
        let coefficients = self.coefficients.iter().enumerate();
        let kept = coefficients
            .filter(|(at, _)| *at != column)
            .map(|(_, c)| *c);
        let spreads = std::iter::once(self.group_spread).chain(self.overdispersion);
        kept.chain(spreads.map(|spread| spread.max(LEAST_START_SPREAD)))
            .collect()
    }
}

/// A fit of grouped counts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupedFit {
    /// Coefficients in the order of the design's columns, on the log scale.
    pub coefficients: Vec<f64>,
    /// Their standard errors from the observed information, `None` if it is singular.
    pub standard_errors: Option<Vec<f64>>,
    /// Standard deviation between groups on the log scale.
    pub group_spread: f64,
    /// Square root of 1/k, or standard deviation of the log-normal error; `None` for Poisson.
    pub overdispersion: Option<f64>,
    /// Marginal log-likelihood with all constants.
    pub log_likelihood: f64,
    /// Whether the optimiser's criterion was met.
    pub converged: bool,
}
