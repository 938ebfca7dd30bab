//! Sites that volunteers offer.

use super::{DEFAULT_SEED, Machine, NETWORK_SCENARIO, seasons_range};
use crate::runner::Shard;
use clap::Args;
use std::path::PathBuf;

/// Arguments of `screen`.
#[derive(Debug, Args)]
pub struct ScreenArgs {
    /// List of sites: site, gap_m (or gap_yd), stems_first, stems_second and more; an invented list if none is given.
    #[arg(value_name = "SITES.csv")]
    pub sites: Option<PathBuf>,
    /// Season, larvae, study and thresholds: a ready scenario of a pair by name, or a RON file.
    #[arg(long, default_value = NETWORK_SCENARIO, value_name = "SCENARIO")]
    pub scenario: String,
    /// Set any number or choice by its path; may be repeated.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Seasons for each way to treat a site that is simulated, up to 10000000.
    #[arg(long, default_value_t = 400, value_parser = seasons_range())]
    pub seasons: u64,
    /// Simulate every site of lists up to this length; a longer one is answered from surfaces fitted to some of its sites.
    #[arg(long, default_value_t = 150, value_name = "SITES")]
    pub direct_up_to: usize,
    /// Master seed: the same seed gives the same bytes.
    #[arg(long, default_value_t = DEFAULT_SEED)]
    pub seed: u64,
    #[command(flatten)]
    pub machine: Machine,
    /// Do only one share of the work, such as the third of sixteen; `gather` joins them.
    #[arg(long, value_name = "NUMBER/OF")]
    pub shard: Option<Shard>,
}
