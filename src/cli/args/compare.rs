//! Scenarios side by side.

use super::{DEFAULT_SEED, Machine, seasons_range};
use crate::runner::Shard;
use crate::study::recruit::SIDE_RATIO;
use clap::Args;

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct CompareArgs {
    /// Scenarios, ready ones by name or RON files, and lists of variants; the ready list `layouts` if nothing is named.
    #[arg(value_name = "SCENARIO|LIST")]
    pub compared: Vec<String>,
    /// Scenario that the variants of a list change, instead of the list's own.
    #[arg(long, value_name = "SCENARIO")]
    pub on: Option<String>,
    /// Variant that the others are held against; the list's own choice or the first if not given.
    #[arg(long, value_name = "NAME")]
    pub against: Option<String>,
    /// Set any number or choice in all of them by its path; may be repeated.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Seasons, the same for all, up to 10000000.
    #[arg(long, default_value_t = 2000, value_parser = seasons_range())]
    pub seasons: u64,
    /// Go on until the stray share (in a single patch half drift) is known to this half-width in all of them.
    #[arg(long, allow_negative_numbers = true, value_name = "SHARE")]
    pub precision: Option<f64>,
    /// Effect for which power, sites and hours are stated: late-stage larvae hatched on a cut stem for each one on an untouched stem.
    #[arg(long, default_value_t = SIDE_RATIO, allow_negative_numbers = true)]
    pub ratio: f64,
    /// Sites of the study that power is stated for.
    #[arg(long, default_value_t = 40, value_name = "NUMBER", value_parser = clap::value_parser!(u64).range(2..=10_000))]
    pub sites: u64,
    /// Master seed: the same seed gives the same bytes.
    #[arg(long, default_value_t = DEFAULT_SEED)]
    pub seed: u64,
    #[command(flatten)]
    pub machine: Machine,
    /// Do only one share of the work, such as the third of sixteen; `gather` joins them.
    #[arg(long, value_name = "NUMBER/OF")]
    pub shard: Option<Shard>,
}
