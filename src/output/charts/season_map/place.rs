//! Names of patches, placed where they cover neither each other nor an edge.

use super::super::ChartError;
use super::super::axes::extent;
use super::super::scene::{Align, Lettering, Point, Scene, text_width, wash, wrap_evenly};
use super::super::sheet::Area;
use super::super::style::{BACKGROUND, SMALL_SIZE, for_letters};
use super::PatchOutline;
use super::geometry::{Ground, finite};

/// Names are broken at the patch's width, but never narrower than this.
const NARROWEST: f64 = 140.0;
/// Distance of a name from the outline.
const RISE: f64 = 7.0;
/// Space around the letters within the backing.
const PADDING: f64 = 4.0;
/// A name runs over at most this many lines.
const NAME_LINES: usize = 3;
/// Opacity of the backing that keeps names readable over walks.
const BACKING_OPACITY: f64 = 0.75;

/// Writes the names of all patches, covering as few of the `signs` as it can.
pub(super) fn label_patches(
    scene: &mut Scene,
    ground: &Ground,
    patches: &[PatchOutline],
    signs: &[Point],
) -> Result<(), ChartError> {
    let mut taken: Vec<Area> = Vec::new();
    let outlines: Vec<Option<Area>> = patches
        .iter()
        .map(|patch| outline_on_map(ground, patch))
        .collect();
    for (index, patch) in patches.iter().enumerate() {
        let Some(outline) = outlines[index] else {
            continue;
        };
        let style = Lettering::new(SMALL_SIZE)
            .bold()
            .colour(for_letters(patch.mark.colour))
            .align(Align::Middle);
        let most = outline.width().max(NARROWEST);
        let (lines, _) = wrap_evenly(&patch.label, style, most, NAME_LINES)?;
        let mut width = 0.0_f64;
        for line in &lines {
            width = width.max(text_width(line, style)?);
        }
        let size = (
            width + 2.0 * PADDING,
            lines.len() as f64 * style.leading() + PADDING,
        );
        let candidates = places(outline, size);
        let free = |place: &&Area| {
            inside(**place, ground.area) && !taken.iter().any(|other| overlap(**place, *other))
        };
        // A name within another patch would be read as that patch's name.
        let clear = |place: &&Area| {
            let mut others = outlines.iter().enumerate();
            free(place)
                && !others.any(|(other, area)| {
                    other != index && area.is_some_and(|area| overlap(**place, area))
                })
        };
        let covered = |place: &&Area| {
            let holds = |sign: &&Point| {
                (place.left..=place.right).contains(&sign.0)
                    && (place.top..=place.bottom).contains(&sign.1)
            };
            signs.iter().filter(holds).count()
        };
        let best = candidates.iter().filter(clear).min_by_key(covered);
        let best = best.or_else(|| candidates.iter().find(free));
        let place = best.unwrap_or(&candidates[0]);
        let (from, to) = ((place.left, place.top), (place.right, place.bottom));
        scene.rectangle(from, to, wash(BACKGROUND, BACKING_OPACITY));
        let first = (place.left.midpoint(place.right), place.top + style.size);
        scene.lines(&lines, first, style);
        taken.push(*place);
    }
    Ok(())
}

/// Rectangle around the visible part of a patch; `None` when out of sight.
fn outline_on_map(ground: &Ground, patch: &PatchOutline) -> Option<Area> {
    let seen: Vec<Point> = finite(&patch.corners_m)
        .map(|corner| ground.place_inside(corner))
        .collect();
    let (left, right) = extent(seen.iter().map(|corner| corner.0))?;
    let (top, bottom) = extent(seen.iter().map(|corner| corner.1))?;
    (left < right && top < bottom).then_some(Area {
        left,
        top,
        right,
        bottom,
    })
}

/// Places to try, best first: above, below, flush above and below, beside, within.
fn places(outline: Area, (width, height): (f64, f64)) -> [Area; 9] {
    let middle = outline.left.midpoint(outline.right);
    let level = outline.top.midpoint(outline.bottom) - height / 2.0;
    let above = outline.top - RISE - height;
    let below = outline.bottom + RISE;
    let at = |left: f64, top: f64| Area {
        left,
        top,
        right: left + width,
        bottom: top + height,
    };
    [
        at(middle - width / 2.0, above),
        at(middle - width / 2.0, below),
        at(outline.right - width, above),
        at(outline.left, above),
        at(outline.right - width, below),
        at(outline.left, below),
        at(outline.left - RISE - width, level),
        at(outline.right + RISE, level),
        at(middle - width / 2.0, outline.top + RISE),
    ]
}

fn inside(place: Area, ground: Area) -> bool {
    place.left >= ground.left
        && place.right <= ground.right
        && place.top >= ground.top
        && place.bottom <= ground.bottom
}

fn overlap(one: Area, other: Area) -> bool {
    one.left < other.right
        && other.left < one.right
        && one.top < other.bottom
        && other.top < one.bottom
}
