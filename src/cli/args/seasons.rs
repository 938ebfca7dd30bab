//! Seasons to look at.

use super::{Common, LAST_REPLICATE, TEACHING_SCENARIO, lists, seasons_range};
use clap::Args;

/// Arguments of `season`.
#[derive(Debug, Args)]
pub struct SeasonArgs {
    #[command(flatten)]
    pub common: Common,
    /// Number of seasons, up to 100000.
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u64).range(1..=100_000))]
    pub seasons: u64,
    /// First replicate; every replicate can be run alone.
    #[arg(long, default_value_t = 0, value_parser = clap::value_parser!(u64).range(0..=LAST_REPLICATE))]
    pub replicate: u64,
    /// Also write every walk.
    #[arg(long)]
    pub walks: bool,
}

/// Arguments of `lesson`.
#[derive(Debug, Args)]
#[command(mut_arg("scenario", |scenario| scenario.default_value(TEACHING_SCENARIO)))]
pub struct LessonArgs {
    #[command(flatten)]
    pub common: Common,
    /// Gaps that the viewer can choose, metres.
    #[arg(long, value_delimiter = ',', allow_hyphen_values = true, value_name = "METRES", value_parser = lists::number)]
    pub gaps: Option<Vec<f64>>,
    /// Refuge shares that the viewer can choose; the first is 0, no refuge.
    #[arg(long, value_delimiter = ',', allow_hyphen_values = true, value_name = "SHARES", value_parser = lists::number)]
    pub shares: Option<Vec<f64>>,
    /// Seasons recorded for each choice; at most 1000 for all choices of gap, share and side together.
    #[arg(long, default_value_t = 3, value_parser = clap::value_parser!(u64).range(1..=1000))]
    pub takes: u64,
    /// Seasons at each point of the charts of many seasons, up to 10000000.
    #[arg(long, default_value_t = 1000, value_parser = seasons_range())]
    pub seasons: u64,
}
