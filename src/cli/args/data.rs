//! What was counted or found outdoors.

use super::{DEFAULT_SEED, Machine, lists, seasons_range, sets_range};
use crate::stats::paired::Estimator;
use crate::study::analyse::{Comparison, CountedStage};
use crate::study::tune::MOST_LARVAE;
use clap::Args;
use std::path::PathBuf;

/// Arguments of `analyse`.
#[derive(Debug, Args)]
pub struct AnalyseArgs {
    /// Table of counts: columns site, week, patch, stage, count, stems, in any order; or what `season` writes.
    #[arg(value_name = "COUNTS.csv")]
    pub counts: PathBuf,
    /// Correct the ratio for the exchange of larvae in this scenario: a ready one by name, or a RON file.
    #[arg(long, value_name = "SCENARIO")]
    pub scenario: Option<String>,
    /// Set any number or choice of the scenario by its path; may be repeated.
    #[arg(long = "set", value_name = "PATH=VALUE", requires = "scenario")]
    pub set: Vec<String>,
    /// How to compare: flip, beta-binomial, mixed, signed-rank, log-ratio-t.
    #[arg(long, default_value_t, value_name = "NAME")]
    pub estimator: Estimator,
    /// All five estimators side by side.
    #[arg(long, conflicts_with = "estimator")]
    pub all: bool,
    /// What is counted: late, eggs, L1 to L5.
    #[arg(long, default_value_t, value_name = "STAGE")]
    pub stage: CountedStage,
    /// What is compared: patches, or the two halves of the treated patch.
    #[arg(long, default_value = "patches", value_name = "SIDES")]
    pub compare: Comparison,
    /// Ratio that the p value tests.
    #[arg(long, default_value_t = 1.0, value_name = "RATIO")]
    pub ratio_null: f64,
    /// Seasons of the scenario, for the exchange, up to 10000000.
    #[arg(long, default_value_t = 2000, value_parser = seasons_range(), requires = "scenario")]
    pub seasons: u64,
    /// Draw this many parameter sets from the plausible ranges as well, up to 10000.
    #[arg(long, default_value_t = 0, value_name = "SETS", value_parser = sets_range(), requires = "scenario")]
    pub uncertain: u64,
    /// Master seed: the same seed gives the same bytes.
    #[arg(long, default_value_t = DEFAULT_SEED)]
    pub seed: u64,
    #[command(flatten)]
    pub machine: Machine,
}

/// Arguments of `tune`.
#[derive(Debug, Args)]
pub struct TuneArgs {
    /// Table of the release: columns larva, released_x_m, released_y_m, released_when, found_x_m, found_y_m, found_when.
    #[arg(value_name = "RELEASE.csv")]
    pub release: Option<PathBuf>,
    /// Without a release: let this many imaginary larvae go, to see what a release of that size would tell; 5 to 10000.
    #[arg(long, value_name = "LARVAE", conflicts_with = "release", value_parser = rehearsed_range)]
    pub rehearse: Option<usize>,
    /// Days after an imaginary release on which all stems are searched.
    #[arg(long, value_delimiter = ',', default_value = "1,2,4", value_name = "DAYS", value_parser = search_day)]
    pub search_days: Vec<f64>,
    /// Where they were let go: a ready scenario by name, or a RON file, with stems that stand still.
    #[arg(long, default_value = RELEASE_SCENARIO, value_name = "SCENARIO")]
    pub scenario: String,
    /// Set any number or choice of the scenario by its path; may be repeated.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Paths of the numbers to fit, instead of leaving and speed of the stage, mean cosine, perceptual range and acceptance.
    #[arg(long, value_delimiter = ',', value_name = "PATHS", value_parser = lists::path)]
    pub fit: Option<Vec<String>>,
    /// Stage of the larvae when they were let go: 4 or 5.
    #[arg(long, default_value_t = 5, value_parser = clap::value_parser!(u8).range(4..=5))]
    pub stage: u8,
    /// Parameter sets in the posterior; 20 to 20000.
    #[arg(long, default_value_t = 400, value_parser = particles_range)]
    pub particles: usize,
    /// Generations, each nearer to the data than the last; 1 to 20.
    #[arg(long, default_value_t = 7, value_parser = generations_range)]
    pub generations: usize,
    /// Master seed: the same seed gives the same bytes.
    #[arg(long, default_value_t = DEFAULT_SEED)]
    pub seed: u64,
    #[command(flatten)]
    pub machine: Machine,
}

/// Scenario in which larvae are let go unless another is named.
pub const RELEASE_SCENARIO: &str = "marked-release";

fn whole(text: &str, range: std::ops::RangeInclusive<usize>) -> Result<usize, String> {
    let number = text.parse().ok().filter(|number| range.contains(number));
    number.ok_or_else(|| format!("a whole number from {} to {}", range.start(), range.end()))
}

fn rehearsed_range(text: &str) -> Result<usize, String> {
    whole(text, 5..=MOST_LARVAE)
}

fn particles_range(text: &str) -> Result<usize, String> {
    whole(text, 20..=20_000)
}

fn generations_range(text: &str) -> Result<usize, String> {
    whole(text, 1..=20)
}

fn search_day(text: &str) -> Result<f64, String> {
    const MOST: f64 = 60.0;
    if text.trim().is_empty() {
        return Err(
            "a value is missing; expected days separated by commas, such as 1,2,4".to_owned(),
        );
    }
    let day = text.trim().parse().ok();
    day.filter(|day: &f64| *day > 0.0 && *day <= MOST)
        .ok_or_else(|| format!("days after the release, above 0 and up to {MOST}, such as 1,2,4"))
}
