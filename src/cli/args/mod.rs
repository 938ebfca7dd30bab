//! What can be typed.

mod about;
mod answers;
mod compare;
mod data;
mod field;
mod lists;
mod records;
mod screen;
mod seasons;

pub use about::{ColumnsArgs, CompletionsArgs, ManualArgs};
pub use answers::{BriefArgs, GapArgs, RecruitArgs, RefugeArgs, SweepArgs, WeighArgs};
pub use compare::CompareArgs;
pub use data::{AnalyseArgs, TuneArgs};
pub use field::{AllotArgs, CalendarArgs};
pub use records::{CheckArgs, DescribeArgs, GatherArgs, NewArgs, ReplayArgs};
pub use screen::ScreenArgs;
pub use seasons::{LessonArgs, SeasonArgs};

use super::origin::Origin;
use crate::runner::Shard;
use crate::study::MOST_SEASONS;
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
    /// Which of the sites offered can serve, as a pair, as one patch, or not at all?
    Screen(ScreenArgs),
    /// How many sites must be recruited? Power, sites needed, price of lax siting.
    Recruit(RecruitArgs),
    /// Which unknown matters most? Every number with a plausible range, screened and weighed.
    Weigh(WeighArgs),
    /// Several scenarios or layouts side by side on the same seasons: strays, power, net yield, volunteer hours.
    Compare(CompareArgs),
    /// Any settings over lists and ranges, crossed, as a table; as a chart over one or two.
    Sweep(SweepArgs),
    /// One or many seasons as tables of surveys, fates and walks, with a map.
    Season(SeasonArgs),
    /// A page, an animation and stills that show volunteers why the layout matters.
    Lesson(LessonArgs),
    /// When to cut and when to count: stages day by day, and cutting dates compared.
    Calendar(CalendarArgs),
    /// Which patch is treated and which half is cut: a draw on record, and a sheet to print for every site.
    Allot(AllotArgs),
    /// Compare treated with untouched patches in real counts, by the estimators that `recruit` plans for.
    Analyse(AnalyseArgs),
    /// Fit walking and leaving to a pilot release of marked larvae.
    Tune(TuneArgs),
    /// Join the shards of a run and finish it.
    Gather(GatherArgs),
    /// Make results again, byte for byte, from the record beside them.
    Replay(ReplayArgs),
    /// The scenario as a model description for a methods appendix, in the seven elements of the ODD protocol.
    Describe(DescribeArgs),
    /// Check a scenario and list every number with unit, range, standing and source.
    Check(CheckArgs),
    /// Write a commented scenario to start from.
    New(NewArgs),
    /// What the columns of the tables mean.
    Columns(ColumnsArgs),
    /// Print a script that completes commands and options in a shell.
    Completions(CompletionsArgs),
    /// Write manual pages, one a command.
    Manual(ManualArgs),
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
    pub fn machine(&mut self) -> Option<(&'static str, &mut Machine)> {
        Some(match self {
            Self::Brief(args) => ("brief", &mut args.common.machine),
            Self::Gap(args) => ("gap", &mut args.common.machine),
            Self::Refuge(args) => ("refuge", &mut args.common.machine),
            Self::Recruit(args) => ("recruit", &mut args.common.machine),
            Self::Sweep(args) => ("sweep", &mut args.common.machine),
            Self::Season(args) => ("season", &mut args.common.machine),
            Self::Weigh(args) => ("weigh", &mut args.common.machine),
            Self::Calendar(args) => ("calendar", &mut args.common.machine),
            Self::Lesson(args) => ("lesson", &mut args.common.machine),
            Self::Analyse(args) => ("analyse", &mut args.machine),
            Self::Screen(args) => ("screen", &mut args.machine),
            Self::Compare(args) => ("compare", &mut args.machine),
            Self::Allot(args) => ("allot", &mut args.machine),
            Self::Describe(args) => ("describe", &mut args.machine),
            Self::Tune(args) => ("tune", &mut args.machine),
            Self::Gather(_)
            | Self::Replay(_)
            | Self::Check(_)
            | Self::New(_)
            | Self::Columns(_)
            | Self::Completions(_)
            | Self::Manual(_) => return None,
        })
    }
}

/// Name of the default scenario.
pub const DEFAULT_SCENARIO: &str = "verge-pair";
/// Name of the scenario that the lesson plays unless another is given.
pub const TEACHING_SCENARIO: &str = "teaching-plots";
/// Name of the scenario in whose season offered sites are screened unless another is given.
pub const NETWORK_SCENARIO: &str = "tansey-network";
/// Default master seed.
pub const DEFAULT_SEED: u64 = 20_260_701;

/// How a command runs, and where its results go.
#[derive(Debug, Clone, Args)]
pub struct Machine {
    /// Threads, 1 to 1024; all cores if not given.
    #[arg(long, value_parser = threads)]
    pub threads: Option<u16>,
    /// Folder that receives a folder of results, named after what they are about.
    #[arg(long, default_value = "output", value_name = "FOLDER")]
    pub out: PathBuf,
    /// What the command comes from.
    #[arg(skip)]
    pub origin: Origin,
}

impl Default for Machine {
    fn default() -> Self {
        Self {
            threads: None,
            out: PathBuf::from("output"),
            origin: Origin::default(),
        }
    }
}

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
    #[command(flatten)]
    pub machine: Machine,
    /// Do only one share of the work, such as the third of sixteen; `gather` joins them.
    #[arg(long, value_name = "NUMBER/OF")]
    pub shard: Option<Shard>,
}

impl Default for Common {
    fn default() -> Self {
        Self {
            scenario: DEFAULT_SCENARIO.to_owned(),
            set: Vec::new(),
            seed: DEFAULT_SEED,
            machine: Machine::default(),
            shard: None,
        }
    }
}

/// Last replicate that can be asked for: adding any number of seasons to it stays far from the largest integer.
const LAST_REPLICATE: u64 = 1 << 60;

/// Reads a number of threads.
fn threads(text: &str) -> Result<u16, String> {
    const MOST: u16 = 1024;
    let number = text.parse().ok();
    number
        .filter(|number| (1..=MOST).contains(number))
        .ok_or_else(|| format!("a whole number from 1 to {MOST}"))
}

/// Most parameter sets: their quantiles are known to a thousandth then.
const MOST_SETS: u64 = 10_000;

fn seasons_range() -> clap::builder::RangedU64ValueParser<u64> {
    clap::value_parser!(u64).range(1..=MOST_SEASONS)
}

fn sets_range() -> clap::builder::RangedU64ValueParser<u64> {
    clap::value_parser!(u64).range(0..=MOST_SETS)
}
