//! Pixels covered by a thick path.
//!
//! The drawing library turns a thick path into one polygon and fills it
//! even-odd, so a walk that crosses itself gets holes, and a see-through path
//! drawn piece by piece darkens at its joints. Listing the covered pixels
//! first colours each of them exactly once.

use std::collections::BTreeMap;

/// A run of pixels: row, first and last column, all inclusive.
pub(super) type Span = (i32, i32, i32);

/// Pixels whose centre lies within `radius` of the path, clipped to a canvas
/// of `size` pixels; runs in one row never touch or overlap.
pub(super) fn covered(points: &[(f64, f64)], radius: f64, size: (u32, u32)) -> Vec<Span> {
    let mut rows: BTreeMap<i32, Vec<(i32, i32)>> = BTreeMap::new();
    let last_row = f64::from(size.1) - 1.0;
    let last_column = f64::from(size.0) - 1.0;
    for pair in points.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        let top = (from.1.min(to.1) - radius).ceil().clamp(0.0, last_row);
        let bottom = (from.1.max(to.1) + radius).floor().clamp(0.0, last_row);
        let mut row = top;
        while row <= bottom {
            if let Some((left, right)) = reach_in_row(from, to, radius, row) {
                let left = left.ceil().max(0.0);
                let right = right.floor().min(last_column);
                if left <= right {
                    let run = (left as i32, right as i32);
                    rows.entry(row as i32).or_default().push(run);
                }
            }
            row += 1.0;
        }
    }
    let mut spans = Vec::new();
    for (row, mut runs) in rows {
        runs.sort_unstable();
        let mut open: Option<(i32, i32)> = None;
        for (left, right) in runs {
            open = match open {
                Some((start, end)) if left <= end + 1 => Some((start, end.max(right))),
                Some((start, end)) => {
                    spans.push((row, start, end));
                    Some((left, right))
                }
                None => Some((left, right)),
            };
        }
        spans.extend(open.map(|(start, end)| (row, start, end)));
    }
    spans
}

/// Horizontal extent, on one row, of a segment thickened by `radius` with
/// round ends: that shape is convex, so one interval describes it.
fn reach_in_row(from: (f64, f64), to: (f64, f64), radius: f64, row: f64) -> Option<(f64, f64)> {
    let mut reach: Option<(f64, f64)> = None;
    let mut include = |left: f64, right: f64| {
        reach = Some(match reach {
            Some((low, high)) => (low.min(left), high.max(right)),
            None => (left, right),
        });
    };
    for end in [from, to] {
        let away = (row - end.1).abs();
        if away <= radius {
            let half = (radius * radius - away * away).sqrt();
            include(end.0 - half, end.0 + half);
        }
    }
    let length = (to.0 - from.0).hypot(to.1 - from.1);
    if length > 0.0 {
        let across = (
            -(to.1 - from.1) / length * radius,
            (to.0 - from.0) / length * radius,
        );
        for side in [1.0, -1.0] {
            let start = (from.0 + side * across.0, from.1 + side * across.1);
            let end = (to.0 + side * across.0, to.1 + side * across.1);
            let height = end.1 - start.1;
            let part = (row - start.1) / height;
            if height != 0.0 && (0.0..=1.0).contains(&part) {
                let column = start.0 + part * (end.0 - start.0);
                include(column, column);
            }
        }
    }
    reach
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_spans_match_the_distance_of_every_pixel() {
        let points = [(5.0, 5.0), (40.0, 30.0), (12.0, 33.0), (38.0, 4.0)];
        let radius = 2.3;
        let spans = covered(&points, radius, (50, 40));
        for row in 0..40 {
            for column in 0..50 {
                let pixel = (f64::from(column), f64::from(row));
                let near = points
                    .windows(2)
                    .any(|pair| distance(pixel, pair[0], pair[1]) <= radius);
                let hits = spans
                    .iter()
                    .filter(|span| span.0 == row && span.1 <= column && column <= span.2)
                    .count();
                assert_eq!(hits, usize::from(near), "pixel {column},{row}");
            }
        }
    }

    fn distance(pixel: (f64, f64), from: (f64, f64), to: (f64, f64)) -> f64 {
        let along = (to.0 - from.0, to.1 - from.1);
        let part = ((pixel.0 - from.0) * along.0 + (pixel.1 - from.1) * along.1)
            / (along.0 * along.0 + along.1 * along.1);
        let part = part.clamp(0.0, 1.0);
        (pixel.0 - from.0 - part * along.0).hypot(pixel.1 - from.1 - part * along.1)
    }
}
