//! Names of patches, placed where they cover neither each other nor an edge.

use super::super::ChartError;
use super::super::axes::extent;
use super::super::scene::{Align, Lettering, Point, Scene, text_width, wash, wrap_evenly};
use super::super::sheet::Area;
use super::super::style::{BACKGROUND, SMALL_SIZE, THIN_WIDTH, for_letters};
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
/// Opacity of the backing that keeps names readable where nothing but covering a walk is left.
const BACKING_OPACITY: f64 = 0.85;
/// A name may stand up to this many steps away from its outline,
const MOST_STEPS: usize = 12;
/// each of this length,
const STEP: f64 = 18.0;
/// if every step saves at least this many covered signs or turns of walks.
const WORTH_A_STEP: usize = 3;
/// A name nearer than this needs no leader.
const UNNOTICED: f64 = 2.0 * RISE;
/// Opacity of leaders.
const LEADER_OPACITY: f64 = 0.6;

/// A name with its size, before it is placed.
struct Name {
    lines: Vec<String>,
    style: Lettering,
    size: (f64, f64),
}

impl Name {
    fn of(patch: &PatchOutline, outline: Area) -> Result<Self, ChartError> {
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
        let height = lines.len() as f64 * style.leading() + PADDING;
        Ok(Self {
            lines,
            style,
            size: (width + 2.0 * PADDING, height),
        })
    }
}

/// Writes the names of all patches, covering as few of the `signs` (stems, turns and ends of walks) as it can.
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
        let name = Name::of(patch, outline)?;
        let others: Vec<Area> = outlines
            .iter()
            .enumerate()
            .filter_map(|(other, area)| area.filter(|_| other != index))
            .collect();
        let place = best(outline, name.size, ground.area, (&taken, &others), signs);
        let away = apart(place, outline);
        if away > UNNOTICED {
            let from = nearest(place, middle(outline));
            let to = nearest(outline, from);
            let line = wash(patch.mark.colour, LEADER_OPACITY);
            scene.line(from, to, line, THIN_WIDTH);
        }
        if covered(place, signs) > 0 {
            let (from, to) = ((place.left, place.top), (place.right, place.bottom));
            scene.rectangle(from, to, wash(BACKGROUND, BACKING_OPACITY));
        }
        let first = (middle(place).0, place.top + name.style.size);
        scene.lines(&name.lines, first, name.style);
        taken.push(place);
    }
    Ok(())
}

/// The place that covers least for its distance; within the map, clear of names already placed, and not in another
/// patch, where it would be read as that patch's name.
fn best(
    outline: Area,
    size: (f64, f64),
    ground: Area,
    (taken, others): (&[Area], &[Area]),
    signs: &[Point],
) -> Area {
    let candidates: Vec<(usize, Area)> = (0..=MOST_STEPS)
        .flat_map(|step| {
            places(outline, size, step as f64 * STEP)
                .into_iter()
                .map(move |place| (step, place))
        })
        .collect();
    let free = |(_, place): &&(usize, Area)| {
        inside(*place, ground) && !taken.iter().any(|other| overlap(*place, *other))
    };
    let clear = |candidate: &&(usize, Area)| {
        free(candidate) && !others.iter().any(|other| overlap(candidate.1, *other))
    };
    let price = |(step, place): &&(usize, Area)| covered(*place, signs) + step * WORTH_A_STEP;
    candidates
        .iter()
        .filter(clear)
        .min_by_key(price)
        .or_else(|| candidates.iter().find(free))
        .map_or(candidates[0].1, |candidate| candidate.1)
}

fn covered(place: Area, signs: &[Point]) -> usize {
    let holds = |sign: &&Point| {
        (place.left..=place.right).contains(&sign.0) && (place.top..=place.bottom).contains(&sign.1)
    };
    signs.iter().filter(holds).count()
}

fn middle(area: Area) -> Point {
    (
        area.left.midpoint(area.right),
        area.top.midpoint(area.bottom),
    )
}

/// The point of an area nearest to another point.
fn nearest(area: Area, (x, y): Point) -> Point {
    (
        x.clamp(area.left, area.right),
        y.clamp(area.top, area.bottom),
    )
}

fn apart(one: Area, other: Area) -> f64 {
    let from = nearest(one, middle(other));
    let to = nearest(other, from);
    (from.0 - to.0).hypot(from.1 - to.1)
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

/// Places to try at a distance, best first: above, below, flush above and below, beside, within.
fn places(outline: Area, (width, height): (f64, f64), away: f64) -> Vec<Area> {
    let (across, down) = middle(outline);
    let (centred, level) = (across - width / 2.0, down - height / 2.0);
    let above = outline.top - RISE - height - away;
    let below = outline.bottom + RISE + away;
    let at = |left: f64, top: f64| Area {
        left,
        top,
        right: left + width,
        bottom: top + height,
    };
    let mut places = vec![
        at(centred, above),
        at(centred, below),
        at(outline.right - width, above),
        at(outline.left, above),
        at(outline.right - width, below),
        at(outline.left, below),
        at(outline.left - RISE - width - away, level),
        at(outline.right + RISE + away, level),
    ];
    if away == 0.0 {
        places.push(at(centred, outline.top + RISE));
    }
    places
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
