//! `sweep`: any settings over lists and ranges, crossed.

use super::args::SweepArgs;
use super::context::{Context, Left};
use super::say::say;
use super::stopped::Stopped;
use crate::output::tables;
use crate::output::text::COLUMNS;
use crate::study::measures::MEASURES;
use crate::study::sweep::{self, Axis, SweepPoint};
use crate::study::{Effort, every};

pub fn run(args: &SweepArgs) -> Result<(), Stopped> {
    let axes = args
        .vary
        .iter()
        .map(|text| Axis::parse(text))
        .collect::<Result<Vec<_>, _>>()?;
    let points = sweep::crossed(&axes)?;
    let context = Context::open(&args.common, |layered, _| {
        sweep::check(layered, &axes, &points)
    })?;
    let runner = context.runner();
    runner
        .watch
        .begin("sweep", args.seasons * points.len() as u64);
    let mut done: Vec<SweepPoint> = Vec::with_capacity(points.len());
    let outcome = every(points.iter().map(|values| {
        let effort = Effort::of(args.seasons);
        done.push(sweep::point(
            &context.layered,
            &axes,
            values,
            effort,
            &runner,
        )?);
        Ok(())
    }));
    runner.watch.end();
    match context.simulated(outcome, Left::Statistics) {
        Ok(_) => {
            write(&context, &axes, &done)?;
            context.write_provenance("sweep")?;
            context.finish();
            Ok(())
        }
        Err(Stopped::Interrupted(_)) => {
            write(&context, &axes, &done)?;
            context.write_partial_provenance("sweep")?;
            context.say_written();
            Err(Stopped::Interrupted(format!(
                "{} of {} points are in sweep.csv; the same command goes on from what is kept",
                done.len(),
                points.len()
            )))
        }
        Err(other) => Err(other),
    }
}

fn write(context: &Context, axes: &[Axis], points: &[SweepPoint]) -> Result<(), Stopped> {
    context
        .folder
        .write("sweep.csv", &tables::sweep(axes, points)?)?;
    say(shown(axes, points));
    Ok(())
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
fn shown(axes: &[Axis], points: &[SweepPoint]) -> String {
    let room = COLUMNS - SHOWN.len() * (CELL + 2);
    let mut settings = table(axes, points);
    if settings.iter().any(|row| row.chars().count() > room) {
        settings = std::iter::once("point".to_owned())
            .chain(
                (1..)
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
