//! One season as a map: stems, patches and the walks of late-stage larvae.

pub(super) mod geometry;
mod key;
mod place;

use super::axes::{step_label, tick_step, yards};
use super::scene::{Align, Lettering, Point, Scene, ink, wash};
use super::sheet::{Area, Sheet};
use super::style::{
    AXIS, MAP_MARKER_RADIUS, MEDIUM_WIDTH, Mark, SMALL_SIZE, Shape, Stroke, TEXT, TEXT_QUIET,
    THIN_WIDTH, WALK_OPACITY, WALK_WIDTH, stem_mark,
};
use super::{ChartError, Rendered, required};
use geometry::{Ground, clip, finite};

/// Width of the whole map sheet in SVG units.
const WIDTH: f64 = 1000.0;
/// Width of the column that explains the signs.
const KEY_WIDTH: f64 = 236.0;
/// Space between map and key.
const KEY_GAP: f64 = 28.0;
/// Widest drawn ground.
const GROUND_WIDTH: f64 = 680.0;
/// Highest drawn ground.
const GROUND_HEIGHT: f64 = 700.0;
/// Height of the scale bar with its labels, below the ground.
const SCALE_BAR: f64 = 62.0;
/// Distance of the scale bar from the ground.
const BAR_DROP: f64 = 28.0;
/// Half the height of the strokes at its ends.
const BAR_CAP: f64 = 5.0;
/// Distance of its label.
const BAR_GAP: f64 = 8.0;
/// The scale bar is about this part of the ground's width.
const SCALE_BAR_PART: f64 = 3.0;
/// From here on the ends of walks are drawn smaller.
const MANY_WALKS: usize = 100;
/// Half the size of the sign at a walk's end.
pub(super) const END_RADIUS: f64 = 4.8;
/// Opacity of a patch's ground.
const PATCH_OPACITY: f64 = 0.06;

/// Condition of a stem at the end of the season.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum StemCondition {
    /// In full leaf, never cut.
    Mature,
    /// Cut and not yet grown again.
    Stubble,
    /// Grown again after the cut.
    Fresh,
    /// Without a leaf left.
    EatenOut,
}

/// How a walk ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum WalkEnd {
    /// On a stem.
    OnStem,
    /// Dead, away from any stem.
    DiedOffPlant,
    /// Lost from sight, e.g. over the edge of the arena.
    Lost,
}

/// A rectangle of ground in metres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Western edge.
    pub min_x_m: f64,
    /// Southern edge.
    pub min_y_m: f64,
    /// Eastern edge, larger than the western one.
    pub max_x_m: f64,
    /// Northern edge, larger than the southern one.
    pub max_y_m: f64,
}

/// A stem.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MapStem {
    /// Metres from west.
    pub x_m: f64,
    /// Metres from south.
    pub y_m: f64,
    /// What it looks like.
    pub condition: StemCondition,
}

/// A patch or half with its outline.
#[derive(Debug, Clone, PartialEq)]
pub struct PatchOutline {
    /// Name written at the outline.
    pub label: String,
    /// Look.
    pub mark: Mark,
    /// Corners (metres) in order; closed by itself.
    pub corners_m: Vec<(f64, f64)>,
}

/// Walks that are drawn alike, usually those of one natal patch or half.
#[derive(Debug, Clone, PartialEq)]
pub struct WalkGroup {
    /// Name in the key, e.g. "laid in the treated patch".
    pub label: String,
    /// Look.
    pub mark: Mark,
}

/// One larva's walk.
#[derive(Debug, Clone, PartialEq)]
pub struct Walk {
    /// Positions (metres) in order of time.
    pub points_m: Vec<(f64, f64)>,
    /// Index into [`SeasonMap::groups`].
    pub group: usize,
    /// How it ended.
    pub end: WalkEnd,
}

/// Data of [`season_map`].
#[derive(Debug, Clone, PartialEq)]
pub struct SeasonMap {
    /// The finding, as a sentence.
    pub title: String,
    /// Where the season comes from; may be empty.
    pub note: String,
    /// The whole ground on which larvae can walk.
    pub arena: Bounds,
    /// Part of the ground to draw; the whole arena when `None`.
    pub view: Option<Bounds>,
    /// Patches and halves.
    pub patches: Vec<PatchOutline>,
    /// Stems.
    pub stems: Vec<MapStem>,
    /// Groups the walks belong to.
    pub groups: Vec<WalkGroup>,
    /// Walks of late-stage larvae.
    pub walks: Vec<Walk>,
}

/// Look of a walk's end: the sign is drawn in the colour of the group.
fn end_shape(end: WalkEnd) -> Shape {
    match end {
        WalkEnd::OnStem => Shape::Halo,
        WalkEnd::DiedOffPlant => Shape::Plus,
        WalkEnd::Lost => Shape::OpenDiamond,
    }
}

/// Draws one season's map, equally scaled both ways, north up.
///
/// Stems, corners and walk positions that are not finite are left out.
///
/// # Errors
/// [`ChartError::OutOfRange`] for an arena or view without area,
/// [`ChartError::UnknownGroup`] for a walk of a group that does not exist;
/// otherwise an error of the drawing library.
pub fn season_map(map: &SeasonMap) -> Result<Rendered, ChartError> {
    check(map)?;
    let view = map.view.unwrap_or(map.arena);
    let (wide, high) = (view.max_x_m - view.min_x_m, view.max_y_m - view.min_y_m);
    let scale = (GROUND_WIDTH / wide).min(GROUND_HEIGHT / high);
    let body = (high * scale + SCALE_BAR).max(key::height(KEY_WIDTH, map)?);
    let mut sheet = Sheet::new(WIDTH, body, &map.title, &map.note)?;
    let room = sheet.room;
    let spare = room.width() - KEY_WIDTH - KEY_GAP - wide * scale;
    let left = room.left + spare.max(0.0) / 2.0;
    let area = Area {
        left,
        top: room.top,
        right: left + wide * scale,
        bottom: room.top + high * scale,
    };
    let ground = Ground::new(view, area, scale);
    draw_ground(&mut sheet.scene, &ground, map)?;
    if map.view.is_some() {
        frame(&mut sheet.scene, area);
    }
    draw_scale_bar(&mut sheet.scene, &ground, map.view.is_some());
    key::draw_key(&mut sheet.scene, room, KEY_WIDTH, map)?;
    if map.stems.is_empty() && map.walks.is_empty() && map.patches.is_empty() {
        sheet.no_data(area);
    }
    sheet.render()
}

fn check(map: &SeasonMap) -> Result<(), ChartError> {
    for bounds in [Some(map.arena), map.view].into_iter().flatten() {
        let ranges = [
            ("width of the ground (m)", bounds.min_x_m, bounds.max_x_m),
            ("height of the ground (m)", bounds.min_y_m, bounds.max_y_m),
        ];
        for (what, low, high) in ranges {
            let extent = required(what, high)? - required(what, low)?;
            if extent <= 0.0 {
                return Err(ChartError::OutOfRange {
                    what: what.to_owned(),
                    value: extent,
                    allowed: "larger than zero",
                });
            }
        }
    }
    let groups = map.groups.len();
    match map.walks.iter().find(|walk| walk.group >= groups) {
        Some(walk) => Err(ChartError::UnknownGroup {
            group: walk.group,
            groups,
        }),
        None => Ok(()),
    }
}

fn draw_ground(scene: &mut Scene, ground: &Ground, map: &SeasonMap) -> Result<(), ChartError> {
    draw_arena(scene, ground, map.arena);
    for patch in &map.patches {
        draw_outline(scene, ground, patch);
    }
    let mut signs = Vec::new();
    for stem in &map.stems {
        if let Some(centre) = ground.seen((stem.x_m, stem.y_m)) {
            scene.marker(stem_mark(stem.condition), centre, MAP_MARKER_RADIUS);
            signs.push(centre);
        }
    }
    for walk in &map.walks {
        signs.extend(draw_walk(scene, ground, walk, map.groups[walk.group].mark));
    }
    let radius = if map.walks.len() > MANY_WALKS {
        MAP_MARKER_RADIUS
    } else {
        END_RADIUS
    };
    for walk in &map.walks {
        let last = walk.points_m.last().and_then(|&last| ground.seen(last));
        if let Some(centre) = last {
            let mark = Mark {
                shape: end_shape(walk.end),
                ..map.groups[walk.group].mark
            };
            scene.marker(mark, centre, radius);
            signs.push(centre);
        }
    }
    place::label_patches(scene, ground, &map.patches, &signs)
}

fn draw_arena(scene: &mut Scene, ground: &Ground, arena: Bounds) {
    let corners = [
        (arena.min_x_m, arena.min_y_m),
        (arena.max_x_m, arena.min_y_m),
        (arena.max_x_m, arena.max_y_m),
        (arena.min_x_m, arena.max_y_m),
        (arena.min_x_m, arena.min_y_m),
    ];
    let pattern = Stroke::Dotted.pattern();
    for piece in clip(&corners, ground) {
        scene.dashed(&piece, pattern, ink(AXIS), MEDIUM_WIDTH);
    }
}

fn draw_outline(scene: &mut Scene, ground: &Ground, patch: &PatchOutline) {
    let mut corners: Vec<Point> = finite(&patch.corners_m).collect();
    if corners.len() < 3 {
        return;
    }
    if corners.iter().all(|&corner| ground.seen(corner).is_some()) {
        let inside = corners.iter().map(|&corner| ground.place(corner)).collect();
        scene.fill(inside, wash(patch.mark.colour, PATCH_OPACITY));
    }
    corners.push(corners[0]);
    for piece in clip(&corners, ground) {
        scene.dashed(
            &piece,
            patch.mark.stroke.pattern(),
            ink(patch.mark.colour),
            MEDIUM_WIDTH,
        );
    }
}

/// Draws a walk and gives back its turns. Its line is unbroken: dashes of a winding path are no pattern.
fn draw_walk(scene: &mut Scene, ground: &Ground, walk: &Walk, mark: Mark) -> Vec<Point> {
    let points: Vec<Point> = finite(&walk.points_m).collect();
    let pieces = clip(&points, ground);
    for piece in &pieces {
        let line = wash(mark.colour, WALK_OPACITY);
        scene.path(piece.clone(), line, WALK_WIDTH);
    }
    pieces.concat()
}

/// A thin frame around a part of the ground.
fn frame(scene: &mut Scene, area: Area) {
    let corners = vec![
        (area.left, area.top),
        (area.right, area.top),
        (area.right, area.bottom),
        (area.left, area.bottom),
        (area.left, area.top),
    ];
    scene.path(corners, ink(AXIS), THIN_WIDTH);
}

/// A bar of round length, in metres and in yards.
fn draw_scale_bar(scene: &mut Scene, ground: &Ground, cropped: bool) {
    let length = tick_step(ground.width_m(), SCALE_BAR_PART);
    let across = length * ground.scale;
    let (left, y) = (ground.area.left, ground.area.bottom + BAR_DROP);
    scene.line((left, y), (left + across, y), ink(TEXT), MEDIUM_WIDTH);
    for x in [left, left + across] {
        scene.line((x, y - BAR_CAP), (x, y + BAR_CAP), ink(TEXT), MEDIUM_WIDTH);
    }
    let text = format!("{} m ({} yd)", step_label(length), yards(length));
    let style = Lettering::new(SMALL_SIZE);
    scene.text(&text, (left, y + BAR_GAP + style.size), style);
    let edge = if cropped {
        "a part of the arena; numbers count all of it"
    } else {
        "dotted: edge of the arena"
    };
    let at = (ground.area.right, y + BAR_GAP + style.size);
    scene.text(edge, at, style.colour(TEXT_QUIET).align(Align::Right));
}
