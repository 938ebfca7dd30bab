//! Estimators, intervals and curve reading; knows no larvae.
//!
//! Everything here works on plain counts, slices and tables of tallies.
//! Failures are values of [`StatsError`].

pub mod abc;
pub mod design;
pub mod paired;
pub mod sensitivity;

mod crossing;
mod error;
mod estimate;
mod intervals;
mod isotonic;
mod precision;
mod ranks;
mod resample;
mod surface;

pub use crossing::{
    Crossing, CrossingQuery, CrossingReport, CurvePoint, GridInterval, crossing, crossing_of_reads,
    read_crossing,
};
pub use error::StatsError;
pub use estimate::{Estimate, LEVEL};
pub use intervals::{clopper_pearson, mean_t, wilson};
pub use isotonic::{Trend, isotonic};
pub use precision::{Batch, MOST_DOUBLINGS, expected_count, until_precise};
pub use ranks::{Strongest, strongest_rank_correlation};
pub(crate) use resample::sorted_quantile;
pub use resample::{
    DEFAULT_RESAMPLES, MIN_DEFINED_SHARE, ResampledEstimate, Resamples, Table, pooled_resamples,
    resampled_estimate,
};
pub use surface::{CountObservation, Surface, ValueObservation};
