//! `sweep`: any settings over lists and ranges, crossed.

use super::args::SweepArgs;
use super::context::{Context, Stopped};
use super::say::say;
use crate::output::pictures::{self, Swept};
use crate::output::{sweep_text, tables, text};
use crate::runner::Runner;
use crate::study::drawn::Drawn;
use crate::study::sweep::{self, Axis, SweepPoint};
use crate::study::uncertain::SEASONS_PER_SET;
use crate::study::{Effort, StudyError, check_precision};
use crate::trouble::Trouble;

pub fn run(args: &SweepArgs) -> Result<(), Stopped> {
    let axes = args
        .vary
        .iter()
        .map(|text| Axis::parse(text))
        .collect::<Result<Vec<_>, _>>()?;
    let points = sweep::crossed(&axes)?;
    let drawn = args.draw.as_deref().map(Drawn::named).transpose()?;
    if args.from_point == 0 || args.from_point > points.len() {
        return Err(
            Trouble::new(format!("there is no point {}", args.from_point))
                .at("the option --from-point")
                .expected(format!("1 to {}", points.len()))
                .remedy("take the number that the interrupted sweep named")
                .into(),
        );
    }
    let context = Context::open(&args.common, |layered, _| {
        check_precision(args.precision, "0.005")?;
        sweep::check(layered, &axes, &points)
    })?;
    let described = axes
        .iter()
        .map(|axis| sweep::described(&context.layered, axis))
        .collect::<Result<Vec<_>, _>>()?;
    let runner = context.runner();
    let wanted = &points[args.from_point - 1..];
    let a_point = args.seasons + args.uncertain * SEASONS_PER_SET;
    runner.watch.begin("sweep", a_point * wanted.len() as u64);
    let mut done: Vec<SweepPoint> = Vec::with_capacity(wanted.len());
    let mut interrupted = false;
    for values in wanted {
        match point(&context, &axes, values, args, &runner) {
            Ok(point) => done.push(point),
            Err(StudyError::Interrupted(_)) => {
                interrupted = true;
                break;
            }
            Err(other) => return Err(other.into()),
        }
    }
    runner.watch.end();
    let file = if args.from_point == 1 {
        "sweep.csv".to_owned()
    } else {
        format!("sweep-from-{}.csv", args.from_point)
    };
    context.folder.write(&file, &tables::sweep(&axes, &done)?)?;
    context.write_provenance("sweep")?;
    let swept = Swept {
        axes: &axes,
        described: &described,
        points: &done,
        drawn: drawn.unwrap_or_else(|| Drawn::of_points(&done)),
        tolerance: context.scenario.numbers.answers.stray_tolerance,
    };
    let is_whole = args.from_point == 1 && !interrupted;
    let no_chart = draw(&context, &swept, is_whole)?;
    say(sweep_text::table(&swept, args.from_point));
    if let Some(why) = no_chart {
        say(text::wrapped(&why, 0));
    }
    if args.uncertain > 0 {
        say(format!(
            "\nThe table also has each measure over {} plausible parameter sets: 5 %, 50 %, 95 %.\n",
            args.uncertain
        ));
    }
    context.say_written();
    if interrupted {
        let next = args.from_point + done.len();
        return Err(Stopped::Interrupted(format!(
            "{} of {} points are kept in {file}; go on with the same command and --from-point {next}",
            done.len(),
            wanted.len()
        )));
    }
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
    let mut point = sweep::point(
        layered,
        axes,
        values,
        (Effort::of(args.seasons), args.precision),
        runner,
    )?;
    if args.uncertain > 0 {
        let of_sets = (args.uncertain, SEASONS_PER_SET);
        point.bands = Some(sweep::bands(layered, axes, values, of_sets, runner)?);
    }
    Ok(point)
}

/// Draws the sweep, or says why there is no chart.
fn draw(context: &Context, swept: &Swept<'_>, is_whole: bool) -> Result<Option<String>, Stopped> {
    if !is_whole {
        return Ok(Some("No chart: it needs all points in one run.".to_owned()));
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
