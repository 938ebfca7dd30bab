//! A release as the program would have it, and the numbers by which two releases are compared.

use super::table::{Found, Release};
use crate::ids::{LarvaId, StemId};
use crate::plan::Plan;
use crate::random::Key;
use crate::scenario::Stage;
use crate::season::{Interrupted, Released, Season};
use crate::walk::{End, Trail};
use std::sync::atomic::AtomicBool;

/// A larva found nearer than this to where it was let go, metres, is taken to be on the same stem.
const SAME_STEM_M: f64 = 0.1;
/// Classes of time since release into which findings are sorted.
const CLASSES: usize = 3;
/// Numbers of each class: share found, share of these on another stem, mean and SD of the root of their distance.
const PER_CLASS: usize = 4;
/// Numbers that describe a release; the last are the share ever found and the share found in another patch.
pub(super) const SUMMARIES: usize = CLASSES * PER_CLASS + 2;

/// Where every larva has settled, in the order of time.
struct Settled<'s> {
    stems: &'s mut Vec<Vec<(f64, StemId)>>,
}

impl Trail for Settled<'_> {
    fn begin(&mut self, _: LarvaId, _: usize, _: f64, _: f64, _: f64) {}
    fn stride(&mut self, _: LarvaId, _: f64, _: f64) {}
    fn end(&mut self, larva: LarvaId, time: f64, end: End) {
        if let End::Settled(stem) = end {
            self.stems[larva.index()].push((time, stem));
        }
    }
    fn carried(&mut self, larva: LarvaId, stem: StemId, time: f64) {
        self.stems[larva.index()].push((time, stem));
    }
}

/// What a release with the same larvae and searches finds in a simulated season. The plan's surveys must be the searches.
/// The second value is the number of larvae that were put on a stem without leaves.
pub(super) fn simulated(
    plan: &Plan,
    release: &Release,
    stage: Stage,
    key: Key,
    stop: &AtomicBool,
) -> Result<(Vec<Found>, usize), Interrupted> {
    let (dx, dy) = plan.layout.shift_m;
    let released: Vec<Released> = release
        .larvae
        .iter()
        .map(|larva| Released {
            at_m: (larva.at_m.0 + dx, larva.at_m.1 + dy),
            time: larva.time,
            stage,
        })
        .collect();
    let mut season = Season::new(plan);
    let mut stems = vec![Vec::new(); released.len()];
    season.run_release(stop, key, &released, &mut Settled { stems: &mut stems })?;
    let found = season
        .sightings
        .iter()
        .filter(|sighting| sighting.read.is_some())
        .map(|sighting| {
            let larva = sighting.larva.index();
            let search = usize::from(sighting.survey);
            let time = plan.clock.surveys[search];
            let settled = stems[larva].iter().rev().find(|(since, _)| *since <= time);
            let stem = settled.map_or(season.larvae[larva].natal, |(_, stem)| *stem);
            let stem = &season.stems[stem];
            Found {
                larva,
                search,
                at_m: (stem.x_m - dx, stem.y_m - dy),
            }
        })
        .collect();
    let nowhere = season.larvae.iter().filter(|larva| !larva.was_laid());
    Ok((found, nowhere.count()))
}

/// Class of each pair of a larva and a later search, by time since release: by larva, then by search.
pub(super) fn classes(release: &Release) -> Vec<Vec<Option<usize>>> {
    let elapsed = |larva: usize, search: usize| {
        let time = release.searches[search] - release.larvae[larva].time;
        (time > 0.0).then_some(time)
    };
    let (larvae, searches) = (release.larvae.len(), release.searches.len());
    let mut all: Vec<f64> = (0..larvae)
        .flat_map(|larva| (0..searches).filter_map(move |search| elapsed(larva, search)))
        .collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    let class_of = |time: f64| {
        let rank = all.partition_point(|other| *other < time);
        (rank * CLASSES.min(all.len()) / all.len().max(1)).min(CLASSES - 1)
    };
    (0..larvae)
        .map(|larva| {
            (0..searches)
                .map(|search| elapsed(larva, search).map(class_of))
                .collect()
        })
        .collect()
}

/// The numbers that describe a release.
pub(super) fn summaries(
    release: &Release,
    classes: &[Vec<Option<usize>>],
    found: &[Found],
    plan: &Plan,
) -> [f64; SUMMARIES] {
    let mut numbers = [0.0; SUMMARIES];
    let mut ever = vec![false; release.larvae.len()];
    let mut elsewhere = 0.0;
    for class in 0..CLASSES {
        let pairs = classes
            .iter()
            .flatten()
            .filter(|other| **other == Some(class));
        let pairs = pairs.count() as f64;
        let of_class = found
            .iter()
            .filter(|found| classes[found.larva][found.search] == Some(class));
        let (mut seen, mut roots) = (0.0, Vec::new());
        for found in of_class {
            seen += 1.0;
            ever[found.larva] = true;
            let from = release.larvae[found.larva].at_m;
            let distance = (found.at_m.0 - from.0).hypot(found.at_m.1 - from.1);
            if distance > SAME_STEM_M {
                roots.push(distance.sqrt());
            }
            elsewhere += f64::from(u8::from(
                nearest_patch(plan, from) != nearest_patch(plan, found.at_m),
            ));
        }
        let share = |part: f64, all: f64| if all > 0.0 { part / all } else { 0.0 };
        let moved = roots.len() as f64;
        let mean = share(roots.iter().sum(), moved);
        let squares: f64 = roots.iter().map(|root| (root - mean).powi(2)).sum();
        numbers[class * PER_CLASS..][..PER_CLASS].copy_from_slice(&[
            share(seen, pairs),
            share(moved, seen),
            mean,
            share(squares, moved).sqrt(),
        ]);
    }
    let ever_found = ever.iter().filter(|found| **found).count() as f64;
    numbers[SUMMARIES - 2] = ever_found / release.larvae.len().max(1) as f64;
    numbers[SUMMARIES - 1] = elsewhere / found.len().max(1) as f64;
    numbers
}

/// Patch whose outline, taken as its bounding box, is nearest to a place in site coordinates.
fn nearest_patch(plan: &Plan, (x_m, y_m): (f64, f64)) -> usize {
    let (dx, dy) = plan.layout.shift_m;
    let away = |index: &usize| {
        let patch = &plan.layout.patches[*index];
        let (left, bottom, right, top) = patch.shape.bounds();
        let x = x_m + dx - patch.origin_m.0;
        let y = y_m + dy - patch.origin_m.1;
        let beyond = |value: f64, low: f64, high: f64| (low - value).max(value - high).max(0.0);
        beyond(x, left, right).hypot(beyond(y, bottom, top))
    };
    (0..plan.layout.patches.len())
        .min_by(|a, b| away(a).total_cmp(&away(b)))
        .unwrap_or(0)
}
