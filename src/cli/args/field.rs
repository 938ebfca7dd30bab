//! Getting ready to go outdoors.

use super::{Common, DEFAULT_SCENARIO, Machine, lists};
use crate::study::calendar::MOST_SEASONS;
use clap::Args;
use std::path::PathBuf;

/// Arguments of `allot`.
#[derive(Debug, Args)]
#[command(
    after_help = "Say how the seed will come about before anybody can know it (--announce), send the announcement to others, and \
        draw when the number is known (--seed). A draw is never drawn over: another list or seed needs another folder and, \
        if it takes the place of a draw, --replaces with --because."
)]
pub struct AllotArgs {
    /// List of sites: column site, and if need be use (pair or one_patch), first_name, second_name and others. Without it an
    /// invented example is drawn.
    #[arg(value_name = "SITES.csv")]
    pub list: Option<PathBuf>,
    /// Balance the draw within columns of the list, such as surroundings,size.
    #[arg(long, value_delimiter = ',', value_name = "COLUMNS", value_parser = lists::column)]
    pub within: Vec<String>,
    /// Seed of the draw, a whole number fixed beforehand.
    #[arg(long, value_name = "NUMBER", conflicts_with = "announce")]
    pub seed: Option<u64>,
    /// Draw nothing yet: write down list, strata and, in these words, how the seed will come about.
    #[arg(long, value_name = "WORDS")]
    pub announce: Option<String>,
    /// Record of an earlier draw that this one takes the place of.
    #[arg(long, value_name = "RECORD", requires = "because")]
    pub replaces: Option<PathBuf>,
    /// Why the earlier draw is given up.
    #[arg(long, value_name = "WORDS", requires = "replaces")]
    pub because: Option<String>,
    /// Scenario that gives dates, refuge share and tools: a ready one by name, or a RON file.
    #[arg(long, default_value = DEFAULT_SCENARIO, value_name = "SCENARIO")]
    pub scenario: String,
    /// Set any number or choice of the scenario by its path; may be repeated.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    #[command(flatten)]
    pub machine: Machine,
}

/// Arguments of `calendar`.
#[derive(Debug, Args)]
pub struct CalendarArgs {
    #[command(flatten)]
    pub common: Common,
    /// Cutting dates to compare: 2026-06-15,2026-07-01 or a range in equal steps, 2026-06-01..2026-07-27/8; every week
    /// from four before to four after the scenario's own if not given.
    #[arg(long, value_name = "DATES")]
    pub cuttings: Option<String>,
    /// Seasons followed day by day, and at each cutting date.
    #[arg(long, default_value_t = 1000, value_parser = clap::value_parser!(u64).range(20..=MOST_SEASONS))]
    pub seasons: u64,
}
