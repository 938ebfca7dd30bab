//! Which input moves an output most: elementary effects to screen many inputs, variance shares to rank a few.
//!
//! Inputs live on the unit interval; whoever asks maps them to their ranges. An output may be noisy, as the mean over
//! simulated seasons is. Each point is then evaluated in two or more *batches* that are independent of each other
//! given the point. Noise of different batches has no covariance, so that products across batches estimate squares
//! of true differences without bias; what the batches disagree on is reported as a share of its own. Batches of the
//! same number may share their random numbers between the points of one row or trajectory: products across batches
//! stay unbiased and get more precise.

mod indices;
mod screening;

pub use indices::{Factor, Rows, VarianceShares, variance_shares};
pub use screening::{Screened, Trajectory, screened, trajectories};

/// Mean product of the values of two different batches: the square of their common expectation, without bias.
/// With one batch noise cannot be told apart, and the plain square is all there is.
fn across(batches: impl Iterator<Item = f64>) -> f64 {
    let (mut count, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for value in batches {
        count += 1.0;
        sum += value;
        squares += value * value;
    }
    if count < 2.0 {
        squares
    } else {
        (sum * sum - squares) / (count * (count - 1.0))
    }
}

fn mean(batches: &[f64]) -> f64 {
    batches.iter().sum::<f64>() / batches.len() as f64
}
