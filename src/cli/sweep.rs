//! `sweep`: any settings over lists and ranges, crossed.

use super::args::SweepArgs;
use super::context::{Context, Stopped};
use crate::output::tables;
use crate::study::sweep::{self, Axis, SweepPoint};
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
    let context = Context::open(&args.common)?;
    sweep::check(&context.layered, &axes, &points)?;
    let runner = context.runner();
    let wanted = &points[args.from_point - 1..];
    runner
        .watch
        .begin("sweep", args.seasons * wanted.len() as u64);
    let mut done: Vec<SweepPoint> = Vec::with_capacity(wanted.len());
    let mut interrupted = false;
    for values in wanted {
        match sweep::point(
            &context.layered,
            &axes,
            values,
            Effort::of(args.seasons),
            &runner,
        ) {
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
    println!("{}", shown(&axes, &done));
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

/// A short table for the terminal: the settings and three of the measures.
fn shown(axes: &[Axis], points: &[SweepPoint]) -> String {
    const SHOWN: [&str; 4] = [
        "stray_share_treated",
        "stray_share_untouched",
        "half_drift",
        "net_yield",
    ];
    const HEADS: [&str; 4] = ["strays: treated", "untouched", "half drift", "net yield"];
    let mut lines = Vec::new();
    let names: Vec<&str> = axes
        .iter()
        .map(|axis| axis.path.rsplit('.').next().unwrap_or(&axis.path))
        .collect();
    lines.push(format!(
        "  {}  {}",
        names.join("  "),
        HEADS.map(|head| format!("{head:>15}")).join("  ")
    ));
    for point in points {
        let values: Vec<String> = point
            .values
            .iter()
            .zip(&names)
            .map(|(value, name)| format!("{value:>width$}", width = name.len()))
            .collect();
        let cells: Vec<String> = SHOWN
            .iter()
            .map(|name| {
                let index = crate::study::measures::MEASURES
                    .iter()
                    .position(|named| named.name == *name);
                let measured = index
                    .and_then(|index| point.measures.get(index))
                    .and_then(|measured| measured.value);
                let text =
                    measured.map_or_else(|| "undefined".to_owned(), |value| format!("{value:.4}"));
                format!("{text:>15}")
            })
            .collect();
        lines.push(format!("  {}  {}", values.join("  "), cells.join("  ")));
    }
    lines.join("\n")
}
