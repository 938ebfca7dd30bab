//! Where the patches lie, which way they are cut, and the arena around them.

use crate::maths::hypot;
use crate::scenario::shape::{self, Shape};
use crate::scenario::{CutSide, LayoutKind, PatchSettings, Scenario, Treatment};
use crate::trouble::{Outcome, Trouble};

/// A half of a patch: `2 * patch` for the part that is not cut (refuge half, or all of an untouched
/// patch), `2 * patch + 1` for the part that is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct HalfId(pub u16);

impl HalfId {
    /// The half of a patch.
    #[must_use]
    pub fn new(patch: usize, cut: bool) -> Self {
        Self((2 * patch + usize::from(cut)) as u16)
    }

    /// Index of the patch.
    #[must_use]
    pub fn patch(self) -> usize {
        usize::from(self.0 / 2)
    }

    /// Whether this half is cut.
    #[must_use]
    pub fn is_cut(self) -> bool {
        self.0 % 2 == 1
    }

    /// Index among all halves of the site.
    #[must_use]
    pub fn index(self) -> usize {
        usize::from(self.0)
    }
}

/// One patch in its place.
#[derive(Debug, Clone)]
pub struct PlacedPatch {
    /// Its settings.
    pub settings: PatchSettings,
    /// Its outline around its own origin.
    pub shape: Shape,
    /// Its origin in arena coordinates, metres.
    pub origin_m: (f64, f64),
    /// Unit vector towards the other patch.
    pub axis: (f64, f64),
    /// Number of stems that are cut.
    pub cut_stems: usize,
}

impl PlacedPatch {
    /// Number of stems.
    #[must_use]
    pub fn stems(&self) -> usize {
        self.settings.numbers.stems as usize
    }

    /// Direction in which the cut half lies, given the toss of the coin (true is towards).
    #[must_use]
    pub fn cut_direction(&self, side: CutSide, coin_towards: bool) -> (f64, f64) {
        let (ax, ay) = self.axis;
        match side {
            CutSide::Towards => (ax, ay),
            CutSide::Away => (-ax, -ay),
            CutSide::Left => (-ay, ax),
            CutSide::Right => (ay, -ax),
            CutSide::Coin if coin_towards => (ax, ay),
            CutSide::Coin => (-ax, -ay),
        }
    }
}

/// All patches and the arena: the patches plus a margin. The lower left corner is (0, 0).
#[derive(Debug, Clone)]
pub struct Layout {
    /// Patches in their places.
    pub patches: Vec<PlacedPatch>,
    /// Extent of the arena, metres.
    pub arena_m: (f64, f64),
    /// Shift from site coordinates to arena coordinates, metres.
    pub shift_m: (f64, f64),
}

impl Layout {
    /// Lays out a scenario.
    ///
    /// # Errors
    /// When patches given by coordinates overlap.
    pub fn of(scenario: &Scenario) -> Outcome<Self> {
        let shapes: Vec<Shape> = scenario.patches.iter().map(Shape::of).collect();
        let centres = centres(scenario, &shapes);
        check_apart(scenario, &shapes, &centres)?;
        let margin = scenario.numbers.site.margin_m;
        let mut bounds = (
            f64::INFINITY,
            f64::INFINITY,
            f64::NEG_INFINITY,
            f64::NEG_INFINITY,
        );
        for (shape, centre) in shapes.iter().zip(&centres) {
            let (left, bottom, right, top) = shape.bounds();
            bounds.0 = bounds.0.min(centre.0 + left);
            bounds.1 = bounds.1.min(centre.1 + bottom);
            bounds.2 = bounds.2.max(centre.0 + right);
            bounds.3 = bounds.3.max(centre.1 + top);
        }
        let shift_m = (margin - bounds.0, margin - bounds.1);
        let patches = scenario
            .patches
            .iter()
            .zip(shapes)
            .enumerate()
            .map(|(index, (settings, shape))| PlacedPatch {
                cut_stems: cut_stems(scenario, settings),
                axis: axis(&centres, index),
                origin_m: (centres[index].0 + shift_m.0, centres[index].1 + shift_m.1),
                settings: settings.clone(),
                shape,
            })
            .collect();
        Ok(Self {
            patches,
            arena_m: (
                bounds.2 - bounds.0 + 2.0 * margin,
                bounds.3 - bounds.1 + 2.0 * margin,
            ),
            shift_m,
        })
    }

    /// Number of halves, counting two for every patch.
    #[must_use]
    pub fn halves(&self) -> usize {
        2 * self.patches.len()
    }

    /// Number of all stems.
    #[must_use]
    pub fn stems(&self) -> usize {
        self.patches.iter().map(PlacedPatch::stems).sum()
    }

    /// Number of stems in a half.
    #[must_use]
    pub fn stems_in(&self, half: HalfId) -> usize {
        let patch = &self.patches[half.patch()];
        if half.is_cut() {
            patch.cut_stems
        } else {
            patch.stems() - patch.cut_stems
        }
    }

    /// Name of a half in tables: `cut`, `refuge`, or `whole` for the one part of an undivided patch.
    #[must_use]
    pub fn half_name(&self, half: HalfId) -> &'static str {
        let patch = &self.patches[half.patch()];
        match (half.is_cut(), patch.cut_stems) {
            (true, n) if n == patch.stems() => "whole",
            (true, _) => "cut",
            (false, 0) => "whole",
            (false, _) => "refuge",
        }
    }
}

fn cut_stems(scenario: &Scenario, patch: &PatchSettings) -> usize {
    let stems = patch.numbers.stems;
    match patch.treatment {
        Treatment::Untouched => 0,
        Treatment::WholeCut => stems as usize,
        Treatment::HalfCut => (stems * (1.0 - scenario.numbers.site.refuge_share)).round() as usize,
    }
}

fn centres(scenario: &Scenario, shapes: &[Shape]) -> Vec<(f64, f64)> {
    if scenario.layout == LayoutKind::ByCoordinates {
        return scenario
            .patches
            .iter()
            .map(|patch| patch.centre_m.unwrap_or_default())
            .collect();
    }
    let mut centres = vec![(0.0, 0.0)];
    if let [first, second] = shapes {
        let touching = first.bounds().2 - second.bounds().0;
        centres.push((
            touching + spacing(first, second, touching, scenario.numbers.site.gap_m),
            0.0,
        ));
    }
    centres
}

/// How far two bounding boxes must stand apart so that the outlines are `gap` apart.
fn spacing(first: &Shape, second: &Shape, touching: f64, gap: f64) -> f64 {
    if !matches!(
        (first, second),
        (Shape::Polygon(_), _) | (_, Shape::Polygon(_))
    ) {
        return gap;
    }
    let apart = |spacing: f64| {
        let shifted: Vec<_> = second
            .corners()
            .iter()
            .map(|corner| (corner.0 + touching + spacing, corner.1))
            .collect();
        shape::distance(&first.corners(), &shifted)
    };
    // Boxes that stand `gap` apart hold outlines at least so far apart: search inwards from there.
    let (mut near, mut far) = (-(first.width_m() + second.width_m()), gap);
    const HALVINGS: usize = 60;
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(near, far);
        if apart(middle) < gap {
            near = middle;
        } else {
            far = middle;
        }
    }
    far
}

fn axis(centres: &[(f64, f64)], index: usize) -> (f64, f64) {
    let here = centres[index];
    let nearest = centres
        .iter()
        .enumerate()
        .filter(|(other, _)| *other != index)
        .map(|(_, centre)| (centre.0 - here.0, centre.1 - here.1))
        .min_by(|a, b| hypot(a.0, a.1).total_cmp(&hypot(b.0, b.1)));
    match nearest {
        Some((dx, dy)) if hypot(dx, dy) > 0.0 => (dx / hypot(dx, dy), dy / hypot(dx, dy)),
        _ => (1.0, 0.0),
    }
}

fn check_apart(scenario: &Scenario, shapes: &[Shape], centres: &[(f64, f64)]) -> Outcome<()> {
    let outline = |index: usize| -> Vec<(f64, f64)> {
        shapes[index]
            .corners()
            .iter()
            .map(|corner| (corner.0 + centres[index].0, corner.1 + centres[index].1))
            .collect()
    };
    if scenario.layout != LayoutKind::ByCoordinates {
        return Ok(());
    }
    for first in 0..shapes.len() {
        for second in first + 1..shapes.len() {
            let apart = boxes_apart(
                (shapes[first].bounds(), centres[first]),
                (shapes[second].bounds(), centres[second]),
            );
            if !apart && shape::distance(&outline(first), &outline(second)) <= 0.0 {
                let names = (
                    &scenario.patches[first].name,
                    &scenario.patches[second].name,
                );
                return Err(Trouble::new(format!(
                    "the patches `{}` and `{}` overlap",
                    names.0, names.1
                ))
                .at(format!("site.patches.{}.centre_m", second + 1))
                .expected("patches that do not touch")
                .remedy("move their centres apart or make them smaller"));
            }
        }
    }
    Ok(())
}

type Bounds = (f64, f64, f64, f64);

/// Whether two bounding boxes do not touch, which most pairs of a large site need no closer look for.
fn boxes_apart((one, at): (Bounds, (f64, f64)), (other, there): (Bounds, (f64, f64))) -> bool {
    at.0 + one.2 < there.0 + other.0
        || there.0 + other.2 < at.0 + one.0
        || at.1 + one.3 < there.1 + other.1
        || there.1 + other.3 < at.1 + one.1
}
