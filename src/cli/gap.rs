//! `gap`: how far apart must two patches be?

use super::args::GapArgs;
use super::context::{Context, Left};
use super::say::say;
use super::stopped::Stopped;
use crate::output::{pictures, tables, text};
use crate::scenario::Scenario;
use crate::study::gap::{self, GAP_GRID_M, GapQuestion};
use crate::study::uncertain::{self, GAP_SEASONS_PER_SET};
use crate::study::{Effort, StudyError, known};

pub fn run(args: &GapArgs) -> Result<(), Stopped> {
    let question = |scenario: &Scenario| GapQuestion {
        grid_m: args.gaps.clone().unwrap_or_else(|| GAP_GRID_M.to_vec()),
        tolerance: args
            .tolerance
            .unwrap_or(scenario.numbers.answers.stray_tolerance),
        effort: Effort::of(args.seasons),
        precision_m: args.precision,
    };
    let context = Context::open(&args.common, |layered, scenario| {
        gap::check(layered, &question(scenario))
    })?;
    let runner = context.runner();
    let question = question(&context.scenario);
    runner
        .watch
        .begin("gaps", args.seasons * question.grid_m.len() as u64);
    let left = match question.precision_m {
        None => Left::Statistics,
        Some(_) => Left::Simulation,
    };
    // A shard does its share of the parameter sets too before it stops for the results of others.
    let answer = known(gap::answer(&context.layered, &question, &runner, 0))?;
    runner.watch.end();
    let mut band = Ok(None);
    if args.uncertain > 0 {
        // A quick look stays quick: no set gets more seasons than the central numbers.
        let seasons = GAP_SEASONS_PER_SET.min(args.seasons);
        runner.watch.begin(
            "plausible parameter sets",
            args.uncertain * seasons * uncertain::BAND_GRID_M.len() as u64,
        );
        band = uncertain::gap_band(
            &context.layered,
            question.tolerance,
            args.uncertain,
            seasons,
            &runner,
        )
        .map(Some);
        runner.watch.end();
    }
    let answer = answer.ok_or(StudyError::Elsewhere);
    let (answer, band) = context.simulated(answer.and_then(|answer| Ok((answer, band?))), left)?;
    context.folder.write("gap.csv", &tables::gap(&answer)?)?;
    context
        .folder
        .write("clear-gap.csv", &tables::clear_gap(&answer, band.as_ref())?)?;
    context.write_chart("gap", &pictures::gap(&answer, band.as_ref())?)?;
    context.write_provenance("gap")?;
    say(format!(
        "{}\n",
        text::gap(&answer, band.as_ref()).trim_start()
    ));
    context.finish();
    Ok(())
}
