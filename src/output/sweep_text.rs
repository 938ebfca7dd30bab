//! A sweep as a short table for the terminal.

use super::pictures::Swept;
use super::words::COLUMNS;
use crate::study::measures::Measured;
use crate::study::sweep::{Axis, SweepPoint};

/// Measures in the table after the one that is drawn, as far as there is room: column, heading, whether it is a share.
const ALSO: [(&str, &str, bool); 4] = [
    ("stray_share_treated", "strays treated %", true),
    ("stray_share_untouched", "strays untouched %", true),
    ("net_yield", "net yield", false),
    ("half_drift", "half drift %", true),
];
/// Space between columns.
const BETWEEN: usize = 2;

/// A column with its heading in lines, the last one next to the cells.
struct Column {
    heading: [String; 2],
    cells: Vec<String>,
}

impl Column {
    fn width(&self) -> usize {
        let texts = self.heading.iter().chain(&self.cells);
        texts.map(|text| text.chars().count()).max().unwrap_or(0)
    }
}

/// The settings and some of the measures with their intervals. Where the settings would not leave room for a measure,
/// points go by their number.
#[must_use]
pub fn table(swept: &Swept<'_>) -> String {
    let drawn = swept.drawn.measures.iter().map(|name| {
        let heading = ALSO.iter().find(|also| also.0 == *name).map_or_else(
            || {
                let unit = if swept.drawn.is_share { " %" } else { "" };
                format!("{}{unit}", swept.drawn.name.replace('_', " "))
            },
            |also| also.1.to_owned(),
        );
        measured(swept.points, name, &heading, swept.drawn.is_share)
    });
    let mut measures: Vec<Column> = drawn.collect();
    let further = ALSO
        .iter()
        .filter(|also| !swept.drawn.measures.contains(&also.0));
    let further = further.filter(|also| {
        let is_defined = |point: &SweepPoint| point.measure(also.0).value.is_some();
        swept.points.iter().any(is_defined)
    });
    let wide = |columns: &[Column]| -> usize {
        columns.iter().map(|column| column.width() + BETWEEN).sum()
    };
    let mut columns = settings(swept.axes, swept.points);
    if wide(&columns) + wide(&measures) > COLUMNS {
        columns = vec![Column {
            heading: [String::new(), "point".to_owned()],
            cells: (1..)
                .take(swept.points.len())
                .map(|number| number.to_string())
                .collect(),
        }];
    }
    for (name, heading, is_share) in further {
        let column = measured(swept.points, name, heading, *is_share);
        if wide(&columns) + wide(&measures) + column.width() + BETWEEN <= COLUMNS {
            measures.push(column);
        }
    }
    columns.extend(measures);
    let mut lines = printed(&columns, swept.points.len());
    lines.push(
        "(in brackets: 95 % intervals; all measures are in the table that is written)".to_owned(),
    );
    lines.join("\n")
}

fn printed(columns: &[Column], points: usize) -> Vec<String> {
    let row = |cell: &dyn Fn(&Column) -> String| -> String {
        columns
            .iter()
            .map(|column| {
                let width = column.width();
                format!("{:BETWEEN$}{:>width$}", "", cell(column))
            })
            .collect()
    };
    let mut lines: Vec<String> = (0..2)
        .map(|line| row(&|column| column.heading[line].clone()))
        .collect();
    lines.extend((0..points).map(|point| row(&|column| column.cells[point].clone())));
    lines
}

/// The settings of the points, below the last names of their paths that tell them apart.
fn settings(axes: &[Axis], points: &[SweepPoint]) -> Vec<Column> {
    axes.iter()
        .enumerate()
        .map(|(index, axis)| {
            let mut names = axis.path.rsplitn(3, '.');
            let name = names.next().unwrap_or(&axis.path);
            let parent = names.next().unwrap_or("");
            let same = |other: &&Axis| other.path.rsplit('.').next() == Some(name);
            let is_alone = axes.iter().filter(same).count() < 2;
            Column {
                heading: [
                    if is_alone { "" } else { parent }.to_owned(),
                    name.to_owned(),
                ],
                cells: points
                    .iter()
                    .map(|point| point.values[index].clone())
                    .collect(),
            }
        })
        .collect()
}

fn measured(points: &[SweepPoint], name: &str, heading: &str, is_share: bool) -> Column {
    let cell = |measured: Measured| {
        let Some(value) = measured.value else {
            return "undefined".to_owned();
        };
        let factor = if is_share { 100.0 } else { 1.0 };
        match measured.interval {
            None => format!("{:.2}", factor * value),
            Some((low, high)) => {
                format!(
                    "{:.2} ({:.2}-{:.2})",
                    factor * value,
                    factor * low,
                    factor * high
                )
            }
        }
    };
    let (above, below) = heading.split_once(' ').unwrap_or(("", heading));
    Column {
        heading: [above.to_owned(), below.to_owned()],
        cells: points
            .iter()
            .map(|point| cell(point.measure(name)))
            .collect(),
    }
}
