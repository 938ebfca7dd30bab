//! `sweep`: any settings over lists and ranges, crossed.

use super::args::SweepArgs;
use super::context::{Context, Stopped};
use super::say::say;
use crate::output::tables;
use crate::output::text::COLUMNS;
use crate::runner::Runner;
use crate::study::measures::MEASURES;
use crate::study::sweep::{self, Axis, SweepPoint};
use crate::study::uncertain::SEASONS_PER_SET;
use crate::study::{Effort, StudyError};
use crate::trouble::Trouble;

pub fn run(args: &SweepArgs) -> Result<(), Stopped> {
    let axes = args
        .vary
        .iter()
        .map(|text| Axis::parse(text))
        .collect::<Result<Vec<_>, _>>()?;
    let points = sweep::crossed(&axes)?;
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
        sweep::check(layered, &axes, &points)
    })?;
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
    say(shown(&axes, &done, args.from_point));
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
    let mut point = sweep::point(layered, axes, values, Effort::of(args.seasons), runner)?;
    if args.uncertain > 0 {
        let of_sets = (args.uncertain, SEASONS_PER_SET);
        point.bands = Some(sweep::bands(layered, axes, values, of_sets, runner)?);
    }
    Ok(point)
}

/// Measures in the short table, with two-line headings.
const SHOWN: [(&str, [&str; 2]); 4] = [
    ("stray_share_treated", ["strays", "treated"]),
    ("stray_share_untouched", ["strays", "untouched"]),
    ("half_drift", ["half", "drift"]),
    ("net_yield", ["net", "yield"]),
];
const CELL: usize = 9;

/// A short table for the terminal: the settings and some of the measures. Where the settings would not leave room
/// for the measures, points go by their number.
fn shown(axes: &[Axis], points: &[SweepPoint], first: usize) -> String {
    let room = COLUMNS - SHOWN.len() * (CELL + 2);
    let mut settings = table(axes, points);
    if settings.iter().any(|row| row.chars().count() > room) {
        settings = std::iter::once("point".to_owned())
            .chain(
                (first..)
                    .take(points.len())
                    .map(|number| format!("{number:>5}")),
            )
            .collect();
    }
    let width = settings.first().map_or(0, |row| row.chars().count());
    let heading = |line: usize| {
        SHOWN
            .iter()
            .map(|(_, words)| format!("  {:>CELL$}", words[line]))
            .collect::<String>()
    };
    let mut lines = vec![format!("{:width$}{}", "", heading(0))];
    let cells = std::iter::once(heading(1)).chain(points.iter().map(measures));
    lines.extend(
        settings
            .iter()
            .zip(cells)
            .map(|(settings, cells)| format!("{settings}{cells}")),
    );
    lines.join("\n")
}

/// The settings of the points as columns of equal width, below their names.
fn table(axes: &[Axis], points: &[SweepPoint]) -> Vec<String> {
    let mut rows = vec![String::new(); points.len() + 1];
    for (index, axis) in axes.iter().enumerate() {
        let name = axis.path.rsplit('.').next().unwrap_or(&axis.path);
        let column: Vec<&str> = std::iter::once(name)
            .chain(points.iter().map(|point| point.values[index].as_str()))
            .collect();
        let width = column.iter().map(|cell| cell.chars().count()).max();
        let width = width.unwrap_or(0);
        for (row, cell) in rows.iter_mut().zip(column) {
            row.push_str(&format!("  {cell:>width$}"));
        }
    }
    rows
}

fn measures(point: &SweepPoint) -> String {
    SHOWN
        .iter()
        .map(|(name, _)| {
            let value = MEASURES
                .iter()
                .position(|named| named.name == *name)
                .and_then(|index| point.measures.get(index))
                .and_then(|measured| measured.value);
            let text = value.map_or_else(|| "undefined".to_owned(), |value| format!("{value:.4}"));
            format!("  {text:>CELL$}")
        })
        .collect()
}
