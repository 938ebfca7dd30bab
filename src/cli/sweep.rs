//! `sweep`: any settings over lists and ranges, crossed.

use super::args::SweepArgs;
use super::context::{Context, Left};
use super::say::say;
use super::stopped::Stopped;
use crate::output::pictures::{self, Swept};
use crate::output::{sweep_text, tables, text};
use crate::runner::Runner;
use crate::study::drawn::Drawn;
use crate::study::sweep::{self, Axis, SweepPoint};
use crate::study::uncertain::SEASONS_PER_SET;
use crate::study::{Effort, StudyError, check_precision, check_seasons, every, known};

pub fn run(args: &SweepArgs) -> Result<(), Stopped> {
    let axes = args
        .vary
        .iter()
        .map(|text| Axis::parse(text))
        .collect::<Result<Vec<_>, _>>()?;
    let points = sweep::crossed(&axes)?;
    let drawn = args.draw.as_deref().map(Drawn::named).transpose()?;
    let context = Context::open(&args.common, |layered, _| {
        check_precision(args.precision, "0.005")?;
        check_seasons(args.seasons, points.len() as u64)?;
        sweep::check(layered, &axes, &points)
    })?;
    let described = axes
        .iter()
        .map(|axis| sweep::described(&context.layered, axis))
        .collect::<Result<Vec<_>, _>>()?;
    let runner = context.runner();
    let a_point = args.seasons + args.uncertain * SEASONS_PER_SET;
    runner.watch.begin("sweep", a_point * points.len() as u64);
    let mut done: Vec<SweepPoint> = Vec::with_capacity(points.len());
    let outcome = every(points.iter().map(|values| {
        done.push(point(&context, &axes, values, args, &runner)?);
        Ok(())
    }));
    runner.watch.end();
    let left = match args.precision {
        None => Left::Statistics,
        Some(_) => Left::Simulation,
    };
    let interrupted = match context.simulated(outcome, left) {
        Ok(_) => false,
        Err(Stopped::Interrupted(_)) => true,
        Err(other) => return Err(other),
    };
    context
        .folder
        .write("sweep.csv", &tables::sweep(&axes, &done)?)?;
    let swept = Swept {
        axes: &axes,
        described: &described,
        points: &done,
        drawn: drawn.unwrap_or_else(|| Drawn::of_points(&done)),
        tolerance: context.scenario.numbers.answers.stray_tolerance,
    };
    let no_chart = draw(&context, &swept, !interrupted)?;
    say(sweep_text::table(&swept));
    if let Some(why) = no_chart {
        say(text::wrapped(&why, 0));
    }
    if args.uncertain > 0 {
        say(format!(
            "\nThe table also has each measure over {} plausible parameter sets: 5 %, 50 %, 95 %.\n",
            args.uncertain
        ));
    }
    if interrupted {
        context.write_partial_provenance("sweep")?;
        context.say_written();
        return Err(Stopped::Interrupted(format!(
            "{} of {} points are in sweep.csv; give the same command again to have all",
            done.len(),
            points.len()
        )));
    }
    context.write_provenance("sweep")?;
    context.finish();
    Ok(())
}

/// One point, with its bands if any are asked for.
fn point(
    context: &Context,
    axes: &[Axis],
    values: &[String],
    args: &SweepArgs,
    runner: &Runner<'_>,
) -> Result<SweepPoint, StudyError> {
    let layered = &context.layered;
    let effort = (Effort::of(args.seasons), args.precision);
    let point = known(sweep::point(layered, axes, values, effort, runner))?;
    let mut bands = None;
    if args.uncertain > 0 {
        let of_sets = (args.uncertain, SEASONS_PER_SET);
        bands = Some(sweep::bands(layered, axes, values, of_sets, runner)?);
    }
    let point = point.ok_or(StudyError::Elsewhere)?;
    Ok(SweepPoint { bands, ..point })
}

/// Draws the sweep, or says why there is no chart.
fn draw(context: &Context, swept: &Swept<'_>, is_whole: bool) -> Result<Option<String>, Stopped> {
    if !is_whole {
        return Ok(Some("No chart: it needs all points.".to_owned()));
    }
    match pictures::sweep(swept)? {
        Some(chart) => {
            context.write_chart("sweep", &chart)?;
            Ok(None)
        }
        None => Ok(Some(format!(
            "No chart: one shows at most two settings, and {} are varied. The table has them all.",
            swept.axes.len()
        ))),
    }
}
