//! The outline of a patch as geometry.

use super::{Outline, PatchSettings};
use crate::maths::{cos, hypot, sin, square};
use std::f64::consts::PI;

/// Corners by which a curved outline is drawn and measured.
const CURVE_CORNERS: usize = 72;

/// Outline of one patch, in metres around the patch's own origin.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// Half length along x and half width along y.
    Rectangle(f64, f64),
    /// Semi-axes along x and y.
    Ellipse(f64, f64),
    /// Corners in order.
    Polygon(Vec<(f64, f64)>),
}

impl Shape {
    /// The shape of a patch: its area is stems over density, except that a polygon is taken as it is.
    #[must_use]
    pub fn of(patch: &PatchSettings) -> Self {
        let area = patch.numbers.stems / patch.numbers.density_per_m2;
        let aspect = patch.numbers.aspect;
        match &patch.outline {
            Outline::Rectangle => {
                Self::Rectangle((area * aspect).sqrt() / 2.0, (area / aspect).sqrt() / 2.0)
            }
            Outline::Ellipse => {
                Self::Ellipse((area * aspect / PI).sqrt(), (area / (aspect * PI)).sqrt())
            }
            Outline::Polygon(corners) => Self::Polygon(corners.clone()),
        }
    }

    /// Whether a point lies inside or on the edge.
    #[must_use]
    pub fn contains(&self, x: f64, y: f64) -> bool {
        const EDGE: f64 = 1e-9;
        match self {
            Self::Rectangle(a, b) => x.abs() <= a + EDGE && y.abs() <= b + EDGE,
            Self::Ellipse(a, b) => square(x / a) + square(y / b) <= 1.0 + EDGE,
            Self::Polygon(corners) => winds_around(corners, x, y),
        }
    }

    /// Smallest x, smallest y, largest x, largest y, metres.
    #[must_use]
    pub fn bounds(&self) -> (f64, f64, f64, f64) {
        match self {
            Self::Rectangle(a, b) | Self::Ellipse(a, b) => (-a, -b, *a, *b),
            Self::Polygon(corners) => corners.iter().fold(
                (
                    f64::INFINITY,
                    f64::INFINITY,
                    f64::NEG_INFINITY,
                    f64::NEG_INFINITY,
                ),
                |box_, c| {
                    (
                        box_.0.min(c.0),
                        box_.1.min(c.1),
                        box_.2.max(c.0),
                        box_.3.max(c.1),
                    )
                },
            ),
        }
    }

    /// Extent along x, metres.
    #[must_use]
    pub fn width_m(&self) -> f64 {
        let (left, _, right, _) = self.bounds();
        right - left
    }

    /// Extent along y, metres.
    #[must_use]
    pub fn height_m(&self) -> f64 {
        let (_, bottom, _, top) = self.bounds();
        top - bottom
    }

    /// Area, square metres.
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        match self {
            Self::Rectangle(a, b) => 4.0 * a * b,
            Self::Ellipse(a, b) => PI * a * b,
            Self::Polygon(corners) => area_of(corners),
        }
    }

    /// Corners in order, for maps and distances; a curve by many short sides.
    #[must_use]
    pub fn corners(&self) -> Vec<(f64, f64)> {
        match self {
            Self::Rectangle(a, b) => vec![(-a, -b), (*a, -b), (*a, *b), (-a, *b)],
            Self::Ellipse(a, b) => (0..CURVE_CORNERS)
                .map(|i| {
                    let angle = 2.0 * PI * i as f64 / CURVE_CORNERS as f64;
                    (a * cos(angle), b * sin(angle))
                })
                .collect(),
            Self::Polygon(corners) => corners.clone(),
        }
    }
}

/// Area of a polygon, square metres (shoelace formula).
#[must_use]
pub fn area_of(corners: &[(f64, f64)]) -> f64 {
    edges(corners)
        .map(|(p, q)| p.0 * q.1 - q.0 * p.1)
        .sum::<f64>()
        .abs()
        / 2.0
}

fn edges(corners: &[(f64, f64)]) -> impl Iterator<Item = ((f64, f64), (f64, f64))> + '_ {
    corners
        .iter()
        .copied()
        .zip(corners.iter().copied().cycle().skip(1))
}

/// Even-odd rule, with points on an edge counted as inside.
fn winds_around(corners: &[(f64, f64)], x: f64, y: f64) -> bool {
    let mut inside = false;
    for (p, q) in edges(corners) {
        if distance_to_side((x, y), p, q) < 1e-9 {
            return true;
        }
        if (p.1 > y) != (q.1 > y) && x < (q.0 - p.0) * (y - p.1) / (q.1 - p.1) + p.0 {
            inside = !inside;
        }
    }
    inside
}

fn distance_to_side(point: (f64, f64), p: (f64, f64), q: (f64, f64)) -> f64 {
    let (dx, dy) = (q.0 - p.0, q.1 - p.1);
    let length2 = dx * dx + dy * dy;
    let along = if length2 > 0.0 {
        (((point.0 - p.0) * dx + (point.1 - p.1) * dy) / length2).clamp(0.0, 1.0)
    } else {
        0.0
    };
    hypot(point.0 - p.0 - along * dx, point.1 - p.1 - along * dy)
}

/// Smallest distance between two outlines by their corners, metres; 0 where they overlap.
#[must_use]
pub fn distance(one: &[(f64, f64)], other: &[(f64, f64)]) -> f64 {
    let crosses = edges(one).any(|(p, q)| edges(other).any(|(r, s)| sides_cross(p, q, r, s)));
    let holds = |outer: &[(f64, f64)], inner: &[(f64, f64)]| {
        inner.first().is_some_and(|c| winds_around(outer, c.0, c.1))
    };
    if crosses || holds(one, other) || holds(other, one) {
        return 0.0;
    }
    let from = |points: &[(f64, f64)], outline: &[(f64, f64)]| {
        points
            .iter()
            .flat_map(|&point| edges(outline).map(move |(p, q)| distance_to_side(point, p, q)))
            .fold(f64::INFINITY, f64::min)
    };
    from(one, other).min(from(other, one))
}

fn sides_cross(p: (f64, f64), q: (f64, f64), r: (f64, f64), s: (f64, f64)) -> bool {
    let turn = |a: (f64, f64), b: (f64, f64), c: (f64, f64)| {
        (b.0 - a.0) * (c.1 - a.1) - (b.1 - a.1) * (c.0 - a.0)
    };
    turn(p, q, r) * turn(p, q, s) < 0.0 && turn(r, s, p) * turn(r, s, q) < 0.0
}
