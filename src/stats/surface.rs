//! Response surfaces: a smooth function of a few features, fitted by weighted ridge regression.

use super::StatsError;
use nalgebra::{DMatrix, DVector};

/// Ridge penalty of a standardised feature, as a part of the mean weight times the number of observations: it only
/// settles what the data leave open, such as features that go together.
const RIDGE: f64 = 1e-4;
/// A feature that varies less than this is the same everywhere and says nothing.
const LEAST_SPREAD: f64 = 1e-9;
/// Rounds of reweighting; ten suffice, and a fit that has not settled by then is told by its dispersion.
const ROUNDS: usize = 40;
/// Change of the coefficients at which reweighting has settled.
const SETTLED: f64 = 1e-9;
/// Rounds in which the dispersion is estimated anew.
const DISPERSION_ROUNDS: usize = 3;
/// Linear predictors beyond this on the log scale are no counts.
const LARGEST_LOG: f64 = 30.0;

/// One observation of a count: its features, what was counted, and the exposure that it is in proportion to.
#[derive(Debug, Clone, PartialEq)]
pub struct CountObservation {
    /// Features.
    pub features: Vec<f64>,
    /// Count, at least 0.
    pub count: f64,
    /// Exposure, above 0.
    pub exposure: f64,
}

/// One observation of a value with its sampling variance.
#[derive(Debug, Clone, PartialEq)]
pub struct ValueObservation {
    /// Features.
    pub features: Vec<f64>,
    /// Value.
    pub value: f64,
    /// Sampling variance, above 0.
    pub variance: f64,
}

/// A fitted surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Surface {
    centre: Vec<f64>,
    scale: Vec<f64>,
    coefficients: DVector<f64>,
    covariance: DMatrix<f64>,
    /// Variance of the observations about the surface over what their sampling variance says; 1 where the surface fits.
    pub dispersion: f64,
    /// Smallest and largest value of each feature among the observations.
    pub reach: Vec<(f64, f64)>,
}

impl Surface {
    /// Fits the logarithm of a rate: `count` has mean `exposure` x exp(surface) and variance
    /// dispersion x (mean + `spread` x mean^2), a quasi-likelihood fitted by reweighted least squares (McCullagh &
    /// Nelder 1989, Generalized Linear Models, chapter 9).
    ///
    /// # Errors
    /// [`StatsError::TooFew`] with fewer observations than features, [`StatsError::Value`] for an exposure or count
    /// that makes no sense.
    pub fn of_counts(observations: &[CountObservation], spread: f64) -> Result<Self, StatsError> {
        for observation in observations {
            let sound = observation.exposure > 0.0
                && observation.exposure.is_finite()
                && observation.count >= 0.0
                && observation.count.is_finite();
            if !sound {
                return Err(StatsError::Value {
                    what: "the exposure of a count",
                    value: observation.exposure,
                });
            }
        }
        let rows: Vec<&[f64]> = observations.iter().map(|o| o.features.as_slice()).collect();
        let design = Design::of(&rows)?;
        let total: f64 = observations.iter().map(|o| o.count).sum();
        let exposure: f64 = observations.iter().map(|o| o.exposure).sum();
        let mut coefficients = DVector::zeros(design.matrix.ncols());
        coefficients[0] = (total.max(0.5) / exposure).ln();
        let mut dispersion = 1.0;
        let mut fitted = None;
        for _ in 0..DISPERSION_ROUNDS {
            for _ in 0..ROUNDS {
                let logs = &design.matrix * &coefficients;
                let mut weights = DVector::zeros(observations.len());
                let mut working = DVector::zeros(observations.len());
                for (index, observation) in observations.iter().enumerate() {
                    let log = logs[index].clamp(-LARGEST_LOG, LARGEST_LOG);
                    let mean = observation.exposure * log.exp();
                    weights[index] = mean / (1.0 + spread * mean) / dispersion;
                    working[index] = log + (observation.count - mean) / mean;
                }
                let (next, covariance) = design.solved(&weights, &working)?;
                let change = (&next - &coefficients).amax();
                coefficients = next;
                fitted = Some(covariance);
                if change < SETTLED {
                    break;
                }
            }
            let logs = &design.matrix * &coefficients;
            let pearson: f64 = observations
                .iter()
                .enumerate()
                .map(|(index, observation)| {
                    let log = logs[index].clamp(-LARGEST_LOG, LARGEST_LOG);
                    let mean = observation.exposure * log.exp();
                    (observation.count - mean).powi(2) / (mean + spread * mean * mean)
                })
                .sum();
            dispersion = (pearson / design.spare()).max(f64::MIN_POSITIVE);
        }
        design.finished(coefficients, fitted, dispersion)
    }

    /// Fits a value with known sampling variances; what lies beyond them goes into the dispersion.
    ///
    /// # Errors
    /// As [`Surface::of_counts`].
    pub fn of_values(observations: &[ValueObservation]) -> Result<Self, StatsError> {
        if let Some(odd) = observations
            .iter()
            .find(|o| !(o.variance > 0.0 && o.variance.is_finite() && o.value.is_finite()))
        {
            return Err(StatsError::Value {
                what: "the variance of a value",
                value: odd.variance,
            });
        }
        let rows: Vec<&[f64]> = observations.iter().map(|o| o.features.as_slice()).collect();
        let design = Design::of(&rows)?;
        let weights =
            DVector::from_iterator(rows.len(), observations.iter().map(|o| 1.0 / o.variance));
        let values = DVector::from_iterator(rows.len(), observations.iter().map(|o| o.value));
        let (coefficients, covariance) = design.solved(&weights, &values)?;
        let fitted = &design.matrix * &coefficients;
        let chi: f64 = (0..rows.len())
            .map(|index| weights[index] * (values[index] - fitted[index]).powi(2))
            .sum();
        let dispersion = (chi / design.spare()).max(1.0);
        design.finished(coefficients, Some(covariance * dispersion), dispersion)
    }

    /// Value of the surface and its standard error, the scatter of observations not included.
    #[must_use]
    pub fn at(&self, features: &[f64]) -> (f64, f64) {
        let row = DVector::from_iterator(
            self.centre.len() + 1,
            std::iter::once(1.0).chain(self.centre.iter().zip(&self.scale).zip(features).map(
                |((centre, scale), feature)| {
                    if *scale > 0.0 {
                        (feature - centre) / scale
                    } else {
                        0.0
                    }
                },
            )),
        );
        let variance = (row.transpose() * &self.covariance * &row)[0];
        (row.dot(&self.coefficients), variance.max(0.0).sqrt())
    }
}

/// Standardised features with a column of ones before them.
struct Design {
    matrix: DMatrix<f64>,
    centre: Vec<f64>,
    scale: Vec<f64>,
    reach: Vec<(f64, f64)>,
}

impl Design {
    fn of(rows: &[&[f64]]) -> Result<Self, StatsError> {
        let columns = rows.first().map_or(0, |row| row.len());
        if rows.len() < columns + 2 {
            return Err(StatsError::TooFew {
                needed: columns + 2,
                given: rows.len(),
            });
        }
        if let Some(odd) = rows.iter().find(|row| row.len() != columns) {
            return Err(StatsError::Length {
                what: "features of an observation",
                expected: columns,
                given: odd.len(),
            });
        }
        let count = rows.len() as f64;
        let (mut centre, mut scale, mut reach) = (Vec::new(), Vec::new(), Vec::new());
        for column in 0..columns {
            let mean = rows.iter().map(|row| row[column]).sum::<f64>() / count;
            let square = rows
                .iter()
                .map(|row| (row[column] - mean).powi(2))
                .sum::<f64>();
            let spread = (square / count).sqrt();
            centre.push(mean);
            scale.push(if spread > LEAST_SPREAD { spread } else { 0.0 });
            let ends = rows
                .iter()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |ends, row| {
                    (ends.0.min(row[column]), ends.1.max(row[column]))
                });
            reach.push(ends);
        }
        let matrix = DMatrix::from_fn(rows.len(), columns + 1, |row, column| match column {
            0 => 1.0,
            column if scale[column - 1] > 0.0 => {
                (rows[row][column - 1] - centre[column - 1]) / scale[column - 1]
            }
            _ => 0.0,
        });
        Ok(Self {
            matrix,
            centre,
            scale,
            reach,
        })
    }

    /// Observations beyond the coefficients that are fitted.
    fn spare(&self) -> f64 {
        let fitted = 1 + self.scale.iter().filter(|scale| **scale > 0.0).count();
        (self.matrix.nrows().saturating_sub(fitted)).max(1) as f64
    }

    /// Coefficients of weighted ridge regression and their covariance for weights that are reciprocal variances.
    fn solved(
        &self,
        weights: &DVector<f64>,
        values: &DVector<f64>,
    ) -> Result<(DVector<f64>, DMatrix<f64>), StatsError> {
        let mut weighted = self.matrix.clone();
        for (mut row, weight) in weighted.row_iter_mut().zip(weights.iter()) {
            row *= *weight;
        }
        let mut normal = self.matrix.transpose() * &weighted;
        let penalty = RIDGE * weights.sum();
        for column in 1..normal.ncols() {
            normal[(column, column)] += penalty;
        }
        let right = weighted.transpose() * values;
        let singular = || StatsError::Value {
            what: "the weight of an observation",
            value: weights.sum(),
        };
        let cholesky = normal.cholesky().ok_or_else(singular)?;
        Ok((cholesky.solve(&right), cholesky.inverse()))
    }

    fn finished(
        self,
        coefficients: DVector<f64>,
        covariance: Option<DMatrix<f64>>,
        dispersion: f64,
    ) -> Result<Surface, StatsError> {
        let covariance = covariance.ok_or(StatsError::TooFew {
            needed: 1,
            given: 0,
        })?;
        Ok(Surface {
            centre: self.centre,
            scale: self.scale,
            coefficients,
            covariance,
            dispersion,
            reach: self.reach,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Counts that follow the model without noise are given back.
    #[test]
    fn exact_a_surface_without_noise_is_found() -> Result<(), StatsError> {
        let truth = |x: f64, y: f64| 0.4 + 1.3 * x - 0.7 * y;
        let observations: Vec<CountObservation> = (0..60)
            .map(|number| {
                let (x, y) = (f64::from(number % 8), f64::from(number % 5));
                let exposure = 10.0 + f64::from(number);
                CountObservation {
                    features: vec![x, y, 3.0],
                    count: exposure * truth(x, y).exp(),
                    exposure,
                }
            })
            .collect();
        let surface = Surface::of_counts(&observations, 0.01)?;
        let (value, error) = surface.at(&[2.5, 1.5, 3.0]);
        // The ridge draws a little towards the mean.
        assert!((value - truth(2.5, 1.5)).abs() < 0.01, "{value}");
        assert!(error < 0.01 && surface.dispersion < 0.01);
        assert!(Surface::of_counts(&observations[..4], 0.0).is_err());
        Ok(())
    }

    /// Weighted least squares of a straight line in closed form.
    #[test]
    fn exact_values_are_fitted_by_weighted_least_squares() -> Result<(), StatsError> {
        let observations: Vec<ValueObservation> = (0..50)
            .map(|number| {
                let x = f64::from(number) / 10.0;
                ValueObservation {
                    features: vec![x],
                    value: 2.0 * x + if number % 2 == 0 { 0.1 } else { -0.1 },
                    variance: 0.01,
                }
            })
            .collect();
        let n = observations.len() as f64;
        let mean =
            |of: &dyn Fn(&ValueObservation) -> f64| observations.iter().map(of).sum::<f64>() / n;
        let (x, y) = (mean(&|o| o.features[0]), mean(&|o| o.value));
        let slope =
            mean(&|o| (o.features[0] - x) * (o.value - y)) / mean(&|o| (o.features[0] - x).powi(2));
        let (found, error) = Surface::of_values(&observations)?.at(&[4.0]);
        assert!((found - (y + slope * (4.0 - x))).abs() < 2e-3, "{found}");
        assert!(error > 0.0 && error < 0.05);
        Ok(())
    }
}
