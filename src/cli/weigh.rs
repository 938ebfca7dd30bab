//! `weigh`: which unknown matters most?

use super::args::WeighArgs;
use super::context::{Context, Left};
use super::say::say;
use super::stopped::Stopped;
use crate::output::weigh as shown;
use crate::study::weigh::{self, WeighQuestion};

pub fn run(args: &WeighArgs) -> Result<(), Stopped> {
    let usual = WeighQuestion::default();
    let question = WeighQuestion {
        trajectories: args.trajectories.unwrap_or(usual.trajectories),
        kept: args.kept.unwrap_or(usual.kept),
        rows: args.rows.unwrap_or(usual.rows),
        seasons: args.seasons.unwrap_or(usual.seasons),
        ..usual
    };
    let context = Context::open(&args.common, |layered, _| weigh::check(layered, &question))?;
    let answer = weigh::answer(&context.layered, &question, &context.runner());
    let answer = context.simulated(answer, Left::Simulation)?;
    let text = shown::text(&answer);
    context.folder.write("weigh.csv", &shown::table(&answer)?)?;
    context.write_chart("weigh", &shown::chart(&answer)?)?;
    context
        .folder
        .write("weigh.txt", format!("{}\n", text.trim_start()).as_bytes())?;
    context.write_provenance("weigh")?;
    say(format!("{}\n", text.trim_start()));
    context.finish();
    Ok(())
}
