//! `refuge`: what does the refuge half do to late-stage counts?

use super::args::RefugeArgs;
use super::context::{Context, Left};
use super::say::say;
use super::stopped::Stopped;
use crate::output::{pictures, tables, text};
use crate::scenario::LayoutKind;
use crate::study::Effort;
use crate::study::refuge::{self, RefugeQuestion, SHARES};

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
    let points = refuge::answer(&context.layered, &question, &runner);
    let points = context.simulated(points, left)?;
    runner.watch.end();
    let single = context.scenario.layout == LayoutKind::OnePatchHalves;
    context
        .folder
        .write("refuge.csv", &tables::refuge(&points)?)?;
    context
        .folder
        .write("refuge-measures.csv", &tables::refuge_measures(&points)?)?;
    context.write_chart("refuge", &pictures::refuge(&points, args.seasons, single)?)?;
    context.write_provenance("refuge")?;
    say(format!(
        "{}\n",
        text::refuge(&points, context.scenario.numbers.site.refuge_share).trim_start()
    ));
    context.finish();
    Ok(())
}
