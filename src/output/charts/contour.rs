//! Lines of equal value through a grid of cell centres.
//!
//! Marching squares with straight lines between neighbouring centres. Written here because a sweep has what the usual
//! libraries for contours of pictures have no notion of: cells without a value, and lines that end at the edge of
//! what was tried instead of being closed around it.

use std::collections::BTreeMap;

/// An edge between two neighbouring centres: column and row of the first, and whether the second is its right-hand
/// neighbour (else the one above).
type Edge = (usize, usize, bool);

/// Lines along which a surface takes a value, in units of cells: the centre of the first cell of the first row is
/// (0, 0), columns run along x, rows along y. `rows[y][x]` is the height of a cell, `None` where it is undefined; no
/// line passes between an undefined cell and its neighbours. Nothing is extrapolated beyond the outermost centres.
#[must_use]
pub fn contour_lines(rows: &[Vec<Option<f64>>], level: f64) -> Vec<Vec<(f64, f64)>> {
    let mut links: BTreeMap<Edge, Vec<Edge>> = BTreeMap::new();
    for y in 1..rows.len() {
        for x in 1..rows[y].len().min(rows[y - 1].len()) {
            let corners = [
                rows[y - 1][x - 1],
                rows[y - 1][x],
                rows[y][x],
                rows[y][x - 1],
            ];
            let Some(heights) = all_defined(corners) else {
                continue;
            };
            for (from, to) in crossings(heights, level) {
                let (from, to) = (edge(from, x - 1, y - 1), edge(to, x - 1, y - 1));
                links.entry(from).or_default().push(to);
                links.entry(to).or_default().push(from);
            }
        }
    }
    joined(links)
        .into_iter()
        .map(|line| line.iter().map(|edge| place(rows, *edge, level)).collect())
        .collect()
}

fn all_defined(corners: [Option<f64>; 4]) -> Option<[f64; 4]> {
    let [a, b, c, d] = corners;
    Some([a?, b?, c?, d?]).filter(|heights| heights.iter().all(|height| height.is_finite()))
}

/// Which sides of a square (0 below, 1 right, 2 above, 3 left) its lines join. Corners: below left, below right,
/// above right, above left. Where two opposite corners are higher than the other two, the mean of all four says
/// whether the high ground is joined.
fn crossings(heights: [f64; 4], level: f64) -> Vec<(usize, usize)> {
    let high = heights.map(|height| height >= level);
    let sides: Vec<usize> = (0..4)
        .filter(|side| high[*side] != high[(side + 1) % 4])
        .collect();
    match sides[..] {
        [one, other] => vec![(one, other)],
        [_, _, _, _] => {
            let middle = heights.iter().sum::<f64>() / 4.0 >= level;
            // Lines cut off the corners that differ from the middle: the first corner lies between sides 3 and 0.
            if high[0] == middle {
                vec![(0, 1), (2, 3)]
            } else {
                vec![(3, 0), (1, 2)]
            }
        }
        _ => Vec::new(),
    }
}

fn edge(side: usize, x: usize, y: usize) -> Edge {
    match side {
        0 => (x, y, true),
        1 => (x + 1, y, false),
        2 => (x, y + 1, true),
        _ => (x, y, false),
    }
}

/// Where the line passes an edge.
fn place(rows: &[Vec<Option<f64>>], (x, y, level_edge): Edge, level: f64) -> (f64, f64) {
    let (next_x, next_y) = if level_edge { (x + 1, y) } else { (x, y + 1) };
    let (from, to) = (
        rows[y][x].unwrap_or(level),
        rows[next_y][next_x].unwrap_or(level),
    );
    let part = if from == to {
        0.5
    } else {
        ((level - from) / (to - from)).clamp(0.0, 1.0)
    };
    let at = |first: usize, next: usize| first as f64 + part * (next as f64 - first as f64);
    (at(x, next_x), at(y, next_y))
}

/// Pieces joined to lines, those with ends first; what is left are rings.
fn joined(mut links: BTreeMap<Edge, Vec<Edge>>) -> Vec<Vec<Edge>> {
    let ends = links.iter().filter(|(_, next)| next.len() == 1);
    let mut starts: Vec<Edge> = ends.map(|(edge, _)| *edge).collect();
    starts.extend(links.keys().copied());
    let mut lines = Vec::new();
    for start in starts {
        let mut line = vec![start];
        let mut at = start;
        while let Some(next) = links.get_mut(&at).and_then(Vec::pop) {
            if let Some(back) = links.get_mut(&next)
                && let Some(index) = back.iter().position(|edge| *edge == at)
            {
                back.swap_remove(index);
            }
            line.push(next);
            at = next;
        }
        if line.len() > 1 {
            lines.push(line);
        }
    }
    lines
}
