//! `refuge`: what does the refuge half do to late-stage counts?

use super::args::RefugeArgs;
use super::context::{Context, Left};
use super::say::say;
use super::stopped::Stopped;
use crate::output::{pictures, tables, text};
use crate::scenario::LayoutKind;
use crate::study::refuge::{self, RefugeQuestion, SHARES};
use crate::study::uncertain::SEASONS_PER_SET;
use crate::study::{Effort, StudyError, known};

pub fn run(args: &RefugeArgs) -> Result<(), Stopped> {
    let question = RefugeQuestion {
        shares: args.shares.clone().unwrap_or_else(|| SHARES.to_vec()),
        effort: Effort::of(args.seasons),
        precision: args.precision,
    };
    let context = Context::open(&args.common, |layered, _| refuge::check(layered, &question))?;
    let runner = context.runner();
    runner
        .watch
        .begin("refuge shares", args.seasons * question.shares.len() as u64);
    let left = match question.precision {
        None => Left::Statistics,
        Some(_) => Left::Simulation,
    };
    let points = known(refuge::answer(&context.layered, &question, &runner))?;
    runner.watch.end();
    let mut bands = Ok(None);
    if args.uncertain > 0 {
        let of_sets = (args.uncertain, SEASONS_PER_SET);
        let seasons = args.uncertain * SEASONS_PER_SET * question.shares.len() as u64;
        runner.watch.begin("plausible parameter sets", seasons);
        bands = refuge::bands(&context.layered, &question.shares, of_sets, &runner).map(Some);
        runner.watch.end();
    }
    let points = points.ok_or(StudyError::Elsewhere);
    let (points, bands) =
        context.simulated(points.and_then(|points| Ok((points, bands?))), left)?;
    let single = context.scenario.layout == LayoutKind::OnePatchHalves;
    context
        .folder
        .write("refuge.csv", &tables::refuge(&points)?)?;
    let measures = tables::refuge_measures(&points, bands.as_deref())?;
    context.folder.write("refuge-measures.csv", &measures)?;
    let chosen = context.scenario.numbers.site.refuge_share;
    let chart = pictures::refuge(&points, args.seasons, single, chosen, bands.as_deref())?;
    context.write_chart("refuge", &chart)?;
    context.write_provenance("refuge")?;
    say(format!(
        "{}\n",
        text::refuge(&points, chosen, bands.as_deref()).trim_start()
    ));
    context.finish();
    Ok(())
}
