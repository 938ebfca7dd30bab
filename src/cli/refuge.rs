//! `refuge`: what does the refuge half do to late-stage counts?

use super::args::RefugeArgs;
use super::context::{Context, Stopped};
use super::say::say;
use crate::output::{pictures, tables, text};
use crate::scenario::LayoutKind;
use crate::study::Effort;
use crate::study::refuge::{self, RefugeQuestion, SHARES};
use crate::study::uncertain::SEASONS_PER_SET;

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
    let points = refuge::answer(&context.layered, &question, &runner)?;
    runner.watch.end();
    let mut bands = None;
    if args.uncertain > 0 {
        let of_sets = (args.uncertain, SEASONS_PER_SET);
        let seasons = args.uncertain * SEASONS_PER_SET * question.shares.len() as u64;
        runner.watch.begin("plausible parameter sets", seasons);
        let found = refuge::bands(&context.layered, &question.shares, of_sets, &runner)?;
        bands = Some(found);
        runner.watch.end();
    }
    let single = context.scenario.layout == LayoutKind::OnePatchHalves;
    context
        .folder
        .write("refuge.csv", &tables::refuge(&points)?)?;
    let measures = tables::refuge_measures(&points, bands.as_deref())?;
    context.folder.write("refuge-measures.csv", &measures)?;
    context.write_chart("refuge", &pictures::refuge(&points, args.seasons, single)?)?;
    context.write_provenance("refuge")?;
    say(format!(
        "{}\n",
        text::refuge(
            &points,
            context.scenario.numbers.site.refuge_share,
            bands.as_deref()
        )
        .trim_start()
    ));
    context.say_written();
    Ok(())
}
