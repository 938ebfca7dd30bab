//! The line along which a value over two settings meets its limit.

use super::super::contour::contour_lines;
use super::super::scene::{Point, Scene, ink};
use super::super::style::{BACKGROUND, TEXT};
use super::Grid;

/// Width of the line of the limit, and of the paper around it that keeps it apart from any shade.
pub(super) const LIMIT_WIDTHS: (f64, f64) = (2.6, 6.0);

/// The line along which the limit is met: between cell centres, never beyond them. Between choices there is nothing
/// to read off, so there it is drawn within each choice alone.
pub(super) fn draw_limit(
    scene: &mut Scene,
    grid: &Grid,
    rows: &[Vec<Option<f64>>],
    level: f64,
    numeric: (bool, bool),
) {
    const REACH: f64 = 0.5;
    let columns: Vec<Vec<Option<f64>>> = (0..grid.columns)
        .map(|x| {
            rows.iter()
                .map(|row| row.get(x).copied().flatten())
                .collect()
        })
        .collect();
    let lines: Vec<Vec<Point>> = match numeric {
        (true, true) => contour_lines(rows, level),
        (true, false) => rows
            .iter()
            .enumerate()
            .flat_map(|(y, row)| {
                let y = y as f64;
                let places = passes(row, level).into_iter();
                places.map(move |x| vec![(x, y - REACH), (x, y + REACH)])
            })
            .collect(),
        (false, true) => columns
            .iter()
            .enumerate()
            .flat_map(|(x, column)| {
                let x = x as f64;
                let places = passes(column, level).into_iter();
                places.map(move |y| vec![(x - REACH, y), (x + REACH, y)])
            })
            .collect(),
        (false, false) => Vec::new(),
    };
    let lines: Vec<Vec<Point>> = lines
        .into_iter()
        .map(|line| line.into_iter().map(|place| grid.at(place)).collect())
        .collect();
    for line in &lines {
        scene.path(line.clone(), ink(BACKGROUND), LIMIT_WIDTHS.1);
    }
    for line in lines {
        scene.path(line, ink(TEXT), LIMIT_WIDTHS.0);
    }
}

/// Where a row of values passes a level, in cells.
fn passes(values: &[Option<f64>], level: f64) -> Vec<f64> {
    values
        .windows(2)
        .enumerate()
        .filter_map(|(index, pair)| {
            let (from, to) = (pair[0]?, pair[1]?);
            ((from >= level) != (to >= level)).then(|| index as f64 + (level - from) / (to - from))
        })
        .collect()
}
