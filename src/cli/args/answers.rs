//! Questions about a scenario.

use super::{Common, lists, seasons_range, sets_range};
use crate::study::uncertain::BAND_SETS;
use clap::Args;

/// Arguments of `brief`.
#[derive(Debug, Args)]
pub struct BriefArgs {
    #[command(flatten)]
    pub common: Common,
    /// Seasons relative to the usual number: 0.1 for a quick look, 10 for narrow intervals.
    #[arg(long, default_value_t = 1.0, allow_negative_numbers = true)]
    pub effort: f64,
    /// Stray share that is tolerable, instead of the scenario's.
    #[arg(long, allow_negative_numbers = true)]
    pub tolerance: Option<f64>,
    /// Parameter sets drawn from the plausible ranges, instead of the effort's; 0 for none.
    #[arg(long, value_name = "SETS", value_parser = sets_range())]
    pub uncertain: Option<u64>,
}

/// Arguments of `gap`.
#[derive(Debug, Args)]
pub struct GapArgs {
    #[command(flatten)]
    pub common: Common,
    /// Gaps to try, metres; up to 200 of them.
    #[arg(long, value_delimiter = ',', allow_hyphen_values = true, value_name = "METRES", value_parser = lists::number)]
    pub gaps: Option<Vec<f64>>,
    /// Stray share that is tolerable, instead of the scenario's.
    #[arg(long, allow_negative_numbers = true)]
    pub tolerance: Option<f64>,
    /// Seasons at each gap, up to 10000000.
    #[arg(long, default_value_t = 2500, value_parser = seasons_range())]
    pub seasons: u64,
    /// Go on until the clear gap is known to this half-width, metres.
    #[arg(long, allow_negative_numbers = true, value_name = "METRES")]
    pub precision: Option<f64>,
    /// Parameter sets drawn from the plausible ranges for the band that the answer leads with, up to 10000; 0 for none.
    #[arg(long, default_value_t = BAND_SETS, value_name = "SETS", value_parser = sets_range())]
    pub uncertain: u64,
}

/// Arguments of `refuge`.
#[derive(Debug, Args)]
pub struct RefugeArgs {
    #[command(flatten)]
    pub common: Common,
    /// Refuge shares to try, 0 to 1; up to 200 of them.
    #[arg(long, value_delimiter = ',', allow_hyphen_values = true, value_name = "SHARES", value_parser = lists::number)]
    pub shares: Option<Vec<f64>>,
    /// Seasons at each share, up to 10000000.
    #[arg(long, default_value_t = 2000, value_parser = seasons_range())]
    pub seasons: u64,
    /// Go on until half drift is known to this half-width everywhere.
    #[arg(long, allow_negative_numbers = true, value_name = "SHARE")]
    pub precision: Option<f64>,
    /// Draw this many parameter sets from the plausible ranges as well, up to 10000.
    #[arg(long, default_value_t = 0, value_name = "SETS", value_parser = sets_range())]
    pub uncertain: u64,
}

/// Arguments of `recruit`.
#[derive(Debug, Args)]
pub struct RecruitArgs {
    #[command(flatten)]
    pub common: Common,
    /// Home ratios to plan for, 0.001 to 1000; the attraction that gives each is searched for.
    #[arg(long, value_delimiter = ',', allow_hyphen_values = true, value_name = "RATIOS", value_parser = lists::number)]
    pub ratios: Option<Vec<f64>>,
    /// Peak attractions to plan for, 0 to 1000, given directly.
    #[arg(long, value_delimiter = ',', allow_hyphen_values = true, value_name = "ATTRACTIONS", value_parser = lists::number)]
    pub attractions: Option<Vec<f64>>,
    /// Numbers of sites to try, 2 to 10000.
    #[arg(long, value_delimiter = ',', value_name = "NUMBERS", value_parser = lists::count)]
    pub sites: Option<Vec<usize>>,
    /// Simulated studies at each number of sites; 10 to 100000.
    #[arg(long, default_value_t = 2000, value_parser = clap::value_parser!(u64).range(10..=100_000))]
    pub studies: u64,
    /// Simulated site-seasons for each effect, from which studies are drawn; 40 to 2000000, fewer with many effects.
    #[arg(long, value_name = "SEASONS", value_parser = clap::value_parser!(u64).range(40..=2_000_000))]
    pub pool: Option<u64>,
    /// Simulate the sites of each study anew instead of drawing them from a pool: slower, and fewer studies.
    #[arg(long)]
    pub fresh: bool,
    /// How patches are compared: flip, beta-binomial, mixed, signed-rank or log-ratio-t.
    #[arg(long, default_value = "flip")]
    pub estimator: String,
    /// Also answer a few variants: weeks, patch size, gap, refuge share, drop-out.
    #[arg(long)]
    pub what_if: bool,
    /// Go on with more studies and larger pools until every power is known to this half-width, the pool included.
    #[arg(long, allow_negative_numbers = true, value_name = "POWER")]
    pub precision: Option<f64>,
    /// Draw this many parameter sets from the plausible ranges as well, up to 10000, with smaller pools and fewer studies each.
    #[arg(long, default_value_t = 0, value_name = "SETS", value_parser = sets_range())]
    pub uncertain: u64,
}

/// Arguments of `weigh`.
#[derive(Debug, Args)]
pub struct WeighArgs {
    #[command(flatten)]
    pub common: Common,
    /// Screening trajectories through all unknowns; 4 to 2000.
    #[arg(long, value_name = "NUMBER")]
    pub trajectories: Option<usize>,
    /// Unknowns that are weighed one by one; all others are weighed together; 1 to 500.
    #[arg(long, value_name = "NUMBER")]
    pub kept: Option<usize>,
    /// Rows of parameter sets; each takes as many sets as there are unknowns kept, and three more; 16 to 20000.
    #[arg(long, value_name = "NUMBER")]
    pub rows: Option<usize>,
    /// Least number of seasons of a parameter set in each of two batches; sets with few larvae get more, up to 10000000.
    #[arg(long, value_parser = seasons_range())]
    pub seasons: Option<u64>,
}

/// Arguments of `sweep`.
#[derive(Debug, Args)]
pub struct SweepArgs {
    #[command(flatten)]
    pub common: Common,
    /// A setting and its values: `site.gap_m=1,2,5`, `walking.stride_m=0.05..0.2/3`, `site.cut_side=Towards,Away`; may be repeated, up to 10000 points in all.
    #[arg(long = "vary", value_name = "PATH=VALUES", required = true)]
    pub vary: Vec<String>,
    /// Measure that the chart and the printed table show; the stray share of the worse patch where there are two.
    #[arg(long, value_name = "MEASURE")]
    pub draw: Option<String>,
    /// Seasons at each point, up to 10000000.
    #[arg(long, default_value_t = 1000, value_parser = seasons_range())]
    pub seasons: u64,
    /// Go on at each point until the stray share (in a single patch half drift) is known to this half-width.
    #[arg(long, allow_negative_numbers = true, value_name = "SHARE")]
    pub precision: Option<f64>,
    /// Draw this many parameter sets from the plausible ranges as well, up to 10000.
    #[arg(long, default_value_t = 0, value_name = "SETS", value_parser = sets_range())]
    pub uncertain: u64,
}
