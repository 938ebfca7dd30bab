//! From metres on the ground to places on the map, cut at the map's edge.

use super::super::scene::Point;
use super::super::sheet::Area;
use super::Bounds;

/// The drawn piece of ground.
#[derive(Debug, Clone, Copy)]
pub(in super::super) struct Ground {
    view: Bounds,
    pub(in super::super) area: Area,
    /// SVG units per metre, the same both ways.
    pub(in super::super) scale: f64,
}

impl Ground {
    pub(in super::super) fn new(view: Bounds, area: Area, scale: f64) -> Self {
        Self { view, area, scale }
    }

    pub(in super::super) fn width_m(&self) -> f64 {
        self.view.max_x_m - self.view.min_x_m
    }

    /// Place on the map of a position in metres.
    pub(in super::super) fn place(&self, (x, y): Point) -> Point {
        (
            self.area.left + (x - self.view.min_x_m) * self.scale,
            self.area.bottom - (y - self.view.min_y_m) * self.scale,
        )
    }

    /// Place of the nearest point within the map.
    pub(in super::super) fn place_inside(&self, (x, y): Point) -> Point {
        let (x, y) = self.place((x, y));
        (
            x.clamp(self.area.left, self.area.right),
            y.clamp(self.area.top, self.area.bottom),
        )
    }

    /// Place on the map, if the position is finite and lies within it.
    pub(in super::super) fn seen(&self, (x, y): Point) -> Option<Point> {
        let inside = (self.view.min_x_m..=self.view.max_x_m).contains(&x)
            && (self.view.min_y_m..=self.view.max_y_m).contains(&y);
        inside.then(|| self.place((x, y)))
    }
}

/// Positions without those that are undefined.
pub(in super::super) fn finite(points: &[(f64, f64)]) -> impl Iterator<Item = (f64, f64)> {
    points
        .iter()
        .copied()
        .filter(|point| point.0.is_finite() && point.1.is_finite())
}

/// Pieces of a path (metres, finite) that lie within the map, as map places.
pub(in super::super) fn clip(path: &[Point], ground: &Ground) -> Vec<Vec<Point>> {
    let mut pieces: Vec<Vec<Point>> = Vec::new();
    let mut joined = false;
    for pair in path.windows(2) {
        let Some((from, to)) = clip_segment(pair[0], pair[1], &ground.view) else {
            joined = false;
            continue;
        };
        match pieces.last_mut() {
            Some(piece) if joined && from == pair[0] => piece.push(ground.place(to)),
            _ => pieces.push(vec![ground.place(from), ground.place(to)]),
        }
        joined = to == pair[1];
    }
    pieces
}

/// The part of a segment within a rectangle (Liang and Barsky 1984, ACM
/// Transactions on Graphics 3:1-22).
fn clip_segment(from: Point, to: Point, view: &Bounds) -> Option<(Point, Point)> {
    let along = (to.0 - from.0, to.1 - from.1);
    let borders = [
        (-along.0, from.0 - view.min_x_m),
        (along.0, view.max_x_m - from.0),
        (-along.1, from.1 - view.min_y_m),
        (along.1, view.max_y_m - from.1),
    ];
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for (speed, room) in borders {
        if speed == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if speed < 0.0 {
            enter = enter.max(room / speed);
        } else {
            leave = leave.min(room / speed);
        }
    }
    let at = |part: f64| (from.0 + along.0 * part, from.1 + along.1 * part);
    let start = if enter > 0.0 { at(enter) } else { from };
    let end = if leave < 1.0 { at(leave) } else { to };
    (enter <= leave).then_some((start, end))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ground() -> Ground {
        let view = Bounds {
            min_x_m: 0.0,
            min_y_m: 0.0,
            max_x_m: 10.0,
            max_y_m: 10.0,
        };
        let area = Area {
            left: 0.0,
            top: 0.0,
            right: 10.0,
            bottom: 10.0,
        };
        Ground::new(view, area, 1.0)
    }

    #[test]
    fn exact_walks_are_cut_at_the_edge() {
        let path = [(5.0, 5.0), (15.0, 5.0), (15.0, 8.0), (5.0, 8.0)];
        let pieces = clip(&path, &ground());
        assert_eq!(
            pieces,
            [vec![(5.0, 5.0), (10.0, 5.0)], vec![(10.0, 2.0), (5.0, 2.0)]]
        );
    }

    #[test]
    fn exact_walks_inside_stay_in_one_piece() {
        let path = [(1.0, 1.0), (2.0, 3.0), (2.0, 3.0), (4.0, 4.0)];
        let pieces = clip(&path, &ground());
        assert_eq!(pieces.len(), 1);
        assert_eq!(pieces[0].len(), 4);
        assert!(clip(&[(20.0, 0.0), (20.0, 9.0)], &ground()).is_empty());
        assert!(clip(&[(1.0, 1.0)], &ground()).is_empty());
    }
}
