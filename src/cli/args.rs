//! What can be typed.

use super::origin::{Origin, Places};
use crate::runner::Shard;
use crate::stats::paired::Estimator;
use crate::study::analyse::{Comparison, CountedStage};
use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;

/// Larvae that walk between patches of host plant: plan the study before you recruit.
#[derive(Debug, Parser)]
#[command(
    name = "crawlspan",
    version,
    max_term_width = 80,
    about,
    long_about = "crawlspan simulates larvae that walk between patches of host plant, stem by stem and hour by hour, and \
        answers how far apart two patches must be, what a refuge half does to late-stage counts, how many sites to \
        recruit, and whether cutting does net good.\n\nWithout a command it writes the brief of the default scenario to output/verge-pair/.",
    after_help = "Exit codes: 0 fine; 1 failed; 2 bad input, with what to do about it; 130 interrupted, what was complete is kept.\n\
        The output is planning evidence, not permission."
)]
pub struct Cli {
    /// What to do; the brief of the default scenario if nothing is said.
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// All answers about a scenario, with charts, assumptions and cautions.
    Brief(BriefArgs),
    /// How far apart must two patches be? Stray share against gap.
    Gap(GapArgs),
    /// What does the refuge half do to late-stage counts?
    Refuge(RefugeArgs),
    /// How many sites must be recruited? Power, sites needed, price of lax siting.
    Recruit(RecruitArgs),
    /// Which unknown matters most? Every number with a plausible range, screened and weighed.
    Weigh(WeighArgs),
    /// Any settings over lists and ranges, crossed, as a table; as a chart over one or two.
    Sweep(SweepArgs),
    /// One or many seasons as tables of surveys, fates and walks, with a map.
    Season(SeasonArgs),
    /// A page, an animation and stills that show volunteers why the layout matters.
    Lesson(LessonArgs),
    /// Compare treated with untouched patches in real counts, by the estimators that `recruit` plans for.
    Analyse(AnalyseArgs),
    /// Fit walking and leaving to a pilot release of marked larvae.
    Tune(TuneArgs),
    /// Join the shards of a run and finish it.
    Gather(GatherArgs),
    /// Make results again, byte for byte, from the record beside them.
    Replay(ReplayArgs),
    /// Check a scenario and list every number with unit, range, standing and source.
    Check(CheckArgs),
    /// Write a commented scenario to start from.
    New(NewArgs),
}

impl Default for Command {
    fn default() -> Self {
        Self::Brief(BriefArgs {
            common: Common::default(),
            effort: 1.0,
            tolerance: None,
            uncertain: None,
        })
    }
}

impl Command {
    /// Its name as typed, and where its arguments say how it runs; `None` for commands that leave no record.
    pub fn places(&mut self) -> Option<(&'static str, Places<'_>)> {
        let (name, common) = match self {
            Self::Brief(args) => ("brief", &mut args.common),
            Self::Gap(args) => ("gap", &mut args.common),
            Self::Refuge(args) => ("refuge", &mut args.common),
            Self::Recruit(args) => ("recruit", &mut args.common),
            Self::Sweep(args) => ("sweep", &mut args.common),
            Self::Season(args) => ("season", &mut args.common),
            Self::Weigh(args) => ("weigh", &mut args.common),
            Self::Lesson(args) => ("lesson", &mut args.common),
            Self::Analyse(args) => {
                let places = Places {
                    origin: &mut args.origin,
                    threads: &mut args.threads,
                    out: &mut args.out,
                };
                return Some(("analyse", places));
            }
            Self::Tune(args) => {
                let places = Places {
                    origin: &mut args.origin,
                    threads: &mut args.threads,
                    out: &mut args.out,
                };
                return Some(("tune", places));
            }
            Self::Gather(_) | Self::Replay(_) | Self::Check(_) | Self::New(_) => return None,
        };
        let places = Places {
            origin: &mut common.origin,
            threads: &mut common.threads,
            out: &mut common.out,
        };
        Some((name, places))
    }
}

/// Name of the default scenario.
pub const DEFAULT_SCENARIO: &str = "verge-pair";
/// Name of the scenario that the lesson plays unless another is given.
pub const TEACHING_SCENARIO: &str = "teaching-plots";
/// Default master seed.
pub const DEFAULT_SEED: u64 = 20_260_701;

/// What all simulating commands share.
#[derive(Debug, Clone, Args)]
pub struct Common {
    /// A ready scenario by name, or a RON file.
    #[arg(default_value = DEFAULT_SCENARIO)]
    pub scenario: String,
    /// Set any number or choice by its path; may be repeated.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Master seed: the same seed gives the same bytes.
    #[arg(long, default_value_t = DEFAULT_SEED)]
    pub seed: u64,
    /// Threads; all cores if not given.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Folder that receives a folder named after the scenario.
    #[arg(long, default_value = "output", value_name = "FOLDER")]
    pub out: PathBuf,
    /// Do only one share of the work, such as the third of sixteen; `gather` joins them.
    #[arg(long, value_name = "NUMBER/OF")]
    pub shard: Option<Shard>,
    /// What the command comes from.
    #[arg(skip)]
    pub origin: Origin,
}

impl Default for Common {
    fn default() -> Self {
        Self {
            scenario: DEFAULT_SCENARIO.to_owned(),
            set: Vec::new(),
            seed: DEFAULT_SEED,
            threads: None,
            out: PathBuf::from("output"),
            shard: None,
            origin: Origin::default(),
        }
    }
}

/// Last replicate that can be asked for: adding any number of seasons to it stays far from the largest integer.
const LAST_REPLICATE: u64 = 1 << 60;

fn seasons_range() -> clap::builder::RangedU64ValueParser<u64> {
    clap::value_parser!(u64).range(1..=100_000_000)
}

fn sets_range() -> clap::builder::RangedU64ValueParser<u64> {
    clap::value_parser!(u64).range(0..=100_000)
}

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
    /// Gaps to try, metres.
    #[arg(
        long,
        value_delimiter = ',',
        allow_hyphen_values = true,
        value_name = "METRES"
    )]
    pub gaps: Option<Vec<f64>>,
    /// Stray share that is tolerable, instead of the scenario's.
    #[arg(long, allow_negative_numbers = true)]
    pub tolerance: Option<f64>,
    /// Seasons at each gap.
    #[arg(long, default_value_t = 2500, value_parser = seasons_range())]
    pub seasons: u64,
    /// Go on until the clear gap is known to this half-width, metres.
    #[arg(long, allow_negative_numbers = true, value_name = "METRES")]
    pub precision: Option<f64>,
    /// Draw this many parameter sets from the plausible ranges as well.
    #[arg(long, default_value_t = 0, value_name = "SETS", value_parser = sets_range())]
    pub uncertain: u64,
}

/// Arguments of `refuge`.
#[derive(Debug, Args)]
pub struct RefugeArgs {
    #[command(flatten)]
    pub common: Common,
    /// Refuge shares to try.
    #[arg(
        long,
        value_delimiter = ',',
        allow_hyphen_values = true,
        value_name = "SHARES"
    )]
    pub shares: Option<Vec<f64>>,
    /// Seasons at each share.
    #[arg(long, default_value_t = 2000, value_parser = seasons_range())]
    pub seasons: u64,
    /// Go on until half drift is known to this half-width everywhere.
    #[arg(long, allow_negative_numbers = true, value_name = "SHARE")]
    pub precision: Option<f64>,
    /// Draw this many parameter sets from the plausible ranges as well.
    #[arg(long, default_value_t = 0, value_name = "SETS", value_parser = sets_range())]
    pub uncertain: u64,
}

/// Arguments of `recruit`.
#[derive(Debug, Args)]
pub struct RecruitArgs {
    #[command(flatten)]
    pub common: Common,
    /// Home ratios to plan for; the attraction that gives each is searched for.
    #[arg(long, value_delimiter = ',', value_name = "RATIOS")]
    pub ratios: Option<Vec<f64>>,
    /// Peak attractions to plan for, given directly.
    #[arg(long, value_delimiter = ',', value_name = "ATTRACTIONS")]
    pub attractions: Option<Vec<f64>>,
    /// Numbers of sites to try.
    #[arg(long, value_delimiter = ',', value_name = "NUMBERS")]
    pub sites: Option<Vec<usize>>,
    /// Simulated studies at each number of sites.
    #[arg(long, default_value_t = 2000, value_parser = clap::value_parser!(u32).range(10..=1_000_000))]
    pub studies: u32,
    /// Simulated site-seasons for each effect, from which studies are drawn.
    #[arg(long, value_name = "SEASONS", value_parser = clap::value_parser!(u64).range(40..=10_000_000))]
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
    /// Draw this many parameter sets from the plausible ranges as well, with smaller pools and fewer studies each.
    #[arg(long, default_value_t = 0, value_name = "SETS", value_parser = sets_range())]
    pub uncertain: u64,
}

/// Arguments of `weigh`.
#[derive(Debug, Args)]
pub struct WeighArgs {
    #[command(flatten)]
    pub common: Common,
    /// Screening trajectories through all unknowns.
    #[arg(long, value_name = "NUMBER")]
    pub trajectories: Option<usize>,
    /// Unknowns that are weighed one by one; all others are weighed together.
    #[arg(long, value_name = "NUMBER")]
    pub kept: Option<usize>,
    /// Rows of parameter sets; each takes as many sets as there are unknowns kept, and three more.
    #[arg(long, value_name = "NUMBER")]
    pub rows: Option<usize>,
    /// Least number of seasons of a parameter set in each of two batches; sets with few larvae get more.
    #[arg(long, value_parser = seasons_range())]
    pub seasons: Option<u64>,
}

/// Arguments of `sweep`.
#[derive(Debug, Args)]
pub struct SweepArgs {
    #[command(flatten)]
    pub common: Common,
    /// A setting and its values: `site.gap_m=1,2,5`, `walking.stride_m=0.05..0.2/3`, `site.cut_side=Towards,Away`; may be repeated.
    #[arg(long = "vary", value_name = "PATH=VALUES", required = true)]
    pub vary: Vec<String>,
    /// Measure that the chart and the printed table show; the stray share of the worse patch where there are two.
    #[arg(long, value_name = "MEASURE")]
    pub draw: Option<String>,
    /// Seasons at each point.
    #[arg(long, default_value_t = 1000, value_parser = seasons_range())]
    pub seasons: u64,
    /// Go on at each point until the stray share (in a single patch half drift) is known to this half-width.
    #[arg(long, allow_negative_numbers = true, value_name = "SHARE")]
    pub precision: Option<f64>,
    /// Draw this many parameter sets from the plausible ranges as well.
    #[arg(long, default_value_t = 0, value_name = "SETS", value_parser = sets_range())]
    pub uncertain: u64,
}

/// Arguments of `season`.
#[derive(Debug, Args)]
pub struct SeasonArgs {
    #[command(flatten)]
    pub common: Common,
    /// Number of seasons.
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
    #[arg(
        long,
        value_delimiter = ',',
        allow_hyphen_values = true,
        value_name = "METRES"
    )]
    pub gaps: Option<Vec<f64>>,
    /// Refuge shares that the viewer can choose; the first is 0, no refuge.
    #[arg(
        long,
        value_delimiter = ',',
        allow_hyphen_values = true,
        value_name = "SHARES"
    )]
    pub shares: Option<Vec<f64>>,
    /// Seasons recorded for each choice.
    #[arg(long, default_value_t = 3, value_parser = clap::value_parser!(u64).range(1..=1000))]
    pub takes: u64,
    /// Seasons at each point of the charts of many seasons.
    #[arg(long, default_value_t = 1000, value_parser = seasons_range())]
    pub seasons: u64,
}

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
    /// Seasons of the scenario, for the exchange.
    #[arg(long, default_value_t = 2000, value_parser = seasons_range(), requires = "scenario")]
    pub seasons: u64,
    /// Draw this many parameter sets from the plausible ranges as well.
    #[arg(long, default_value_t = 0, value_name = "SETS", value_parser = sets_range(), requires = "scenario")]
    pub uncertain: u64,
    /// Master seed: the same seed gives the same bytes.
    #[arg(long, default_value_t = DEFAULT_SEED)]
    pub seed: u64,
    /// Threads; all cores if not given.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Folder that receives a folder named after the table.
    #[arg(long, default_value = "output", value_name = "FOLDER")]
    pub out: PathBuf,
    /// What the command comes from.
    #[arg(skip)]
    pub origin: Origin,
}

/// Arguments of `gather`.
#[derive(Debug, Args)]
pub struct GatherArgs {
    /// Folder that holds the files of the shards, or the files themselves.
    #[arg(required = true, value_name = "FOLDER|FILES")]
    pub from: Vec<PathBuf>,
    /// Do here what missing or unfinished shards have not done, instead of naming them.
    #[arg(long)]
    pub fill: bool,
    /// Threads; all cores if not given.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Folder that receives a folder named after the scenario; if not given, results go beside the first shard.
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Folder in which data files are looked for that are too long to travel with the shards.
    #[arg(long, default_value = ".", value_name = "FOLDER")]
    pub files: PathBuf,
}

/// Arguments of `replay`.
#[derive(Debug, Args)]
pub struct ReplayArgs {
    /// The record: a provenance-*.json.
    #[arg(value_name = "PROVENANCE.json")]
    pub record: PathBuf,
    /// Threads; all cores if not given.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Folder that receives a folder named after the scenario; if not given, results go where the record lies.
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Folder in which data files are looked for that are too long to travel with the record.
    #[arg(long, default_value = ".", value_name = "FOLDER")]
    pub files: PathBuf,
}

/// Arguments of `tune`.
#[derive(Debug, Args)]
pub struct TuneArgs {
    /// Table of the release: columns larva, released_x_m, released_y_m, released_when, found_x_m, found_y_m, found_when.
    #[arg(value_name = "RELEASE.csv")]
    pub release: Option<PathBuf>,
    /// Without a release: let this many imaginary larvae go, to see what a release of that size would tell.
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
    #[arg(long, value_delimiter = ',', value_name = "PATHS")]
    pub fit: Option<Vec<String>>,
    /// Stage of the larvae when they were let go: 4 or 5.
    #[arg(long, default_value_t = 5, value_parser = clap::value_parser!(u8).range(4..=5))]
    pub stage: u8,
    /// Parameter sets in the posterior.
    #[arg(long, default_value_t = 400, value_parser = particles_range)]
    pub particles: usize,
    /// Generations, each nearer to the data than the last.
    #[arg(long, default_value_t = 7, value_parser = generations_range)]
    pub generations: usize,
    /// Master seed: the same seed gives the same bytes.
    #[arg(long, default_value_t = DEFAULT_SEED)]
    pub seed: u64,
    /// Threads; all cores if not given.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Folder that receives a folder named after the scenario.
    #[arg(long, default_value = "output", value_name = "FOLDER")]
    pub out: PathBuf,
    /// What the command comes from.
    #[arg(skip)]
    pub origin: Origin,
}

/// Scenario in which larvae are let go unless another is named.
pub const RELEASE_SCENARIO: &str = "marked-release";

fn whole(text: &str, range: std::ops::RangeInclusive<usize>) -> Result<usize, String> {
    let number = text.parse().ok().filter(|number| range.contains(number));
    number.ok_or_else(|| format!("a whole number from {} to {}", range.start(), range.end()))
}

fn rehearsed_range(text: &str) -> Result<usize, String> {
    whole(text, 5..=100_000)
}

fn particles_range(text: &str) -> Result<usize, String> {
    whole(text, 20..=100_000)
}

fn generations_range(text: &str) -> Result<usize, String> {
    whole(text, 1..=20)
}

fn search_day(text: &str) -> Result<f64, String> {
    const MOST: f64 = 60.0;
    let day = text.trim().parse().ok();
    day.filter(|day: &f64| *day > 0.0 && *day <= MOST)
        .ok_or_else(|| format!("days after the release, above 0 and up to {MOST}, such as 1,2,4"))
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// A ready scenario by name, or a RON file.
    #[arg(default_value = DEFAULT_SCENARIO)]
    pub scenario: String,
    /// Set any number or choice by its path; may be repeated.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Write the list as CSV instead.
    #[arg(long)]
    pub csv: bool,
}

/// Arguments of `new`.
#[derive(Debug, Args)]
pub struct NewArgs {
    /// File to write; an existing file is left alone.
    pub file: PathBuf,
}
