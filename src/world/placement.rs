//! Where the stems of a patch stand.

use super::layout::PlacedPatch;
use crate::maths::hypot;
use crate::random::{Stream, normal, unit};
use crate::scenario::StemPlacement;

/// Tries at a point inside the outline before the outline's own centre is taken: an outline that fills
/// a thousandth of its bounding box, the least that is let in, fails all of them once in 10^43 draws.
const TRIES: usize = 100_000;
/// Tries at an offspring inside the outline before it is put where its parent stands.
const OFFSPRING_TRIES: usize = 1_000;

/// Whether the placement is the same in every season.
#[must_use]
pub fn is_fixed(patch: &PlacedPatch) -> bool {
    matches!(
        patch.settings.placement,
        StemPlacement::Regular | StemPlacement::Fixed(_)
    )
}

/// Places the stems of a patch: points in arena coordinates, metres, appended to `points`. False if it was called off
/// before all were placed, which takes minutes for many stems in an outline that hardly fills its bounding box.
pub fn place(
    patch: &PlacedPatch,
    stream: &mut Stream,
    points: &mut Vec<(f64, f64)>,
    called_off: &dyn Fn() -> bool,
) -> bool {
    let (ox, oy) = patch.origin_m;
    let from = points.len();
    match &patch.settings.placement {
        StemPlacement::Fixed(stems) => points.extend(stems),
        StemPlacement::Regular => lattice(patch, points, called_off),
        StemPlacement::Random => {
            let places = (0..patch.stems()).map(|_| inside(patch, stream));
            points.extend(places.take_while(|_| !called_off()));
        }
        StemPlacement::Clustered {
            stems_per_cluster,
            spread_m,
        } => {
            let clusters = (*stems_per_cluster, *spread_m);
            clustered(patch, clusters, stream, points, called_off);
        }
    }
    for point in &mut points[from..] {
        point.0 += ox;
        point.1 += oy;
    }
    !called_off()
}

fn inside(patch: &PlacedPatch, stream: &mut Stream) -> (f64, f64) {
    let (left, bottom, right, top) = patch.shape.bounds();
    for _ in 0..TRIES {
        let point = (
            left + unit(stream) * (right - left),
            bottom + unit(stream) * (top - bottom),
        );
        if patch.shape.contains(point.0, point.1) {
            return point;
        }
    }
    (f64::midpoint(left, right), f64::midpoint(bottom, top))
}

/// Thomas process on the outline, thinned to a fixed number of stems: parents uniform, offspring
/// normal around them; offspring outside the outline are drawn again.
fn clustered(
    patch: &PlacedPatch,
    (stems_per_cluster, spread_m): (f64, f64),
    stream: &mut Stream,
    points: &mut Vec<(f64, f64)>,
    called_off: &dyn Fn() -> bool,
) {
    let stems = patch.stems();
    let clusters = (stems as f64 / stems_per_cluster).round().max(1.0) as usize;
    let mut parents: Vec<(f64, f64)> = Vec::with_capacity(clusters);
    while parents.len() < clusters && !called_off() {
        parents.push(inside(patch, stream));
    }
    for _ in 0..stems {
        if called_off() {
            return;
        }
        let parent = parents[(unit(stream) * clusters as f64) as usize];
        let mut point = parent;
        for _ in 0..OFFSPRING_TRIES {
            let dx = normal(stream);
            let dy = normal(stream);
            point = (parent.0 + spread_m * dx, parent.1 + spread_m * dy);
            if patch.shape.contains(point.0, point.1) {
                break;
            }
            point = parent;
        }
        points.push(point);
    }
}

/// A square lattice whose spacing is shrunk until it holds enough points inside the outline; the
/// points nearest the origin are kept.
fn lattice(patch: &PlacedPatch, points: &mut Vec<(f64, f64)>, called_off: &dyn Fn() -> bool) {
    const SHRINK: f64 = 0.99;
    let stems = patch.stems();
    let (left, bottom, right, top) = patch.shape.bounds();
    let middle = (f64::midpoint(left, right), f64::midpoint(bottom, top));
    let mut spacing = (patch.shape.area_m2() / stems as f64).sqrt();
    loop {
        let half_columns = ((right - left) / spacing / 2.0).ceil() as i64 + 1;
        let half_rows = ((top - bottom) / spacing / 2.0).ceil() as i64 + 1;
        let mut found: Vec<(f64, f64)> = Vec::new();
        for column in -half_columns..half_columns {
            if called_off() {
                return;
            }
            for row in -half_rows..half_rows {
                let point = (
                    middle.0 + (column as f64 + 0.5) * spacing,
                    middle.1 + (row as f64 + 0.5) * spacing,
                );
                if patch.shape.contains(point.0, point.1) {
                    found.push(point);
                }
            }
        }
        if found.len() >= stems {
            let reach = |p: &(f64, f64)| hypot(p.0 - middle.0, p.1 - middle.1);
            found.sort_by(|p, q| {
                reach(p)
                    .total_cmp(&reach(q))
                    .then(p.0.total_cmp(&q.0))
                    .then(p.1.total_cmp(&q.1))
            });
            found.truncate(stems);
            points.extend(found);
            return;
        }
        spacing *= SHRINK;
    }
}
