//! What a site looks like at one moment, for teaching: one still, or many in turn as a moving picture.

use super::scene::{Align, Lettering, Point, Scene, ink, text_width, wash, wrap};
use super::season_map::geometry::{Ground, clip, finite};
use super::sheet::{Area, Sheet};
use super::style::{
    AXIS, BACKGROUND, LABEL_SIZE, MEDIUM_WIDTH, Mark, SMALL_SIZE, SPAN, SPAN_TEXT, Shape, TEXT,
    TEXT_QUIET, THIN_WIDTH, WALK_OPACITY, WALK_WIDTH, for_letters, stem_mark,
};
use super::{Bounds, ChartError, MapStem, PatchOutline, Rendered, WalkGroup};

/// Width of the sheet in SVG units.
const WIDTH: f64 = 860.0;
/// Room for the bar of days.
const DAYS_HEIGHT: f64 = 40.0;
/// Room above a panel, for its heading if it has one.
const HEADING_HEIGHT: f64 = 30.0;
const NO_HEADING_HEIGHT: f64 = 8.0;
/// Highest drawn ground of a panel.
const GROUND_HEIGHT: f64 = 520.0;
/// Space between a panel and the next.
const PANEL_GAP: f64 = 14.0;
/// Room for the signs' key.
const KEY_HEIGHT: f64 = 26.0;
/// Space between a sign of the key and its words, and between entries.
const KEY_GAP: f64 = 9.0;
const KEY_STEP: f64 = 26.0;
/// Half the size of a stem, an egg or young larva, a late larva, and of the ring around a stray.
const STEM_RADIUS: f64 = 2.6;
const YOUNG_RADIUS: f64 = 2.8;
const LATE_RADIUS: f64 = 6.0;
const STRAY_RADIUS: f64 = 10.5;
/// Paper around an animal, so that it stands out from stems.
const HALO: f64 = 1.8;
/// Opacity of the frame around a panel.
const FRAME_OPACITY: f64 = 0.55;
/// Opacity of a patch's ground.
const PATCH_OPACITY: f64 = 0.07;

/// An egg or larva.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TeachingAnimal {
    /// Metres from west and from south.
    pub at_m: (f64, f64),
    /// Index into [`TeachingChart::groups`], by where it was laid.
    pub group: usize,
    /// Whether it is of the late stage.
    pub late: bool,
    /// Whether it stands in another group's place.
    pub stray: bool,
}

/// One site at the moment.
#[derive(Debug, Clone, PartialEq)]
pub struct TeachingPanel {
    /// What sets it apart from the others, such as the gap; may be empty.
    pub heading: String,
    /// Ground to draw.
    pub view: Bounds,
    /// Patches or halves.
    pub patches: Vec<PatchOutline>,
    /// Stems.
    pub stems: Vec<MapStem>,
    /// Eggs and larvae.
    pub animals: Vec<TeachingAnimal>,
    /// Recent walks of late-stage larvae, with their groups.
    pub trails: Vec<(Vec<(f64, f64)>, usize)>,
    /// What has been counted, a line each with the group that it speaks of.
    pub counts: Vec<(usize, String)>,
}

/// The days of the season, and where in them the moment lies.
#[derive(Debug, Clone, PartialEq)]
pub struct Days {
    /// The moment, as a share of the season.
    pub now: f64,
    /// Cutting, as a share of the season.
    pub cutting: f64,
    /// Count days, as shares of the season.
    pub counts: Vec<f64>,
    /// The date in words.
    pub date: String,
}

/// Data of a teaching picture.
#[derive(Debug, Clone, PartialEq)]
pub struct TeachingChart {
    /// The finding or the question, as a sentence.
    pub title: String,
    /// Where it comes from.
    pub note: String,
    /// Sites, one below the other, at the same scale.
    pub panels: Vec<TeachingPanel>,
    /// Where animals can have been laid.
    pub groups: Vec<WalkGroup>,
    /// What the ring around a late larva means.
    pub stray_label: String,
    /// The days.
    pub days: Days,
}

fn size_m(view: &Bounds) -> (f64, f64) {
    (view.max_x_m - view.min_x_m, view.max_y_m - view.min_y_m)
}

impl TeachingPanel {
    fn above(&self) -> f64 {
        if self.heading.is_empty() {
            NO_HEADING_HEIGHT
        } else {
            HEADING_HEIGHT
        }
    }

    fn height(&self, scale: f64) -> f64 {
        let line = Lettering::new(LABEL_SIZE).leading();
        self.above() + size_m(&self.view).1 * scale + self.counts.len() as f64 * line + PANEL_GAP
    }
}

fn scene_of(chart: &TeachingChart) -> Result<Sheet, ChartError> {
    let room = Sheet::new(WIDTH, 0.0, &chart.title, &chart.note)?.room;
    let scale = chart.panels.iter().fold(f64::INFINITY, |scale, panel| {
        let (wide, high) = size_m(&panel.view);
        scale.min(room.width() / wide).min(GROUND_HEIGHT / high)
    });
    let panels: f64 = chart.panels.iter().map(|panel| panel.height(scale)).sum();
    let body = DAYS_HEIGHT + KEY_HEIGHT + panels;
    let mut sheet = Sheet::new(WIDTH, body, &chart.title, &chart.note)?;
    let room = sheet.room;
    let scene = &mut sheet.scene;
    draw_days(scene, (room.left, room.right, room.top), &chart.days)?;
    let mut top = room.top + DAYS_HEIGHT;
    draw_key(scene, (room.left, top), chart)?;
    top += KEY_HEIGHT;
    for panel in &chart.panels {
        draw_panel(scene, Area { top, ..room }, scale, panel, chart)?;
        top += panel.height(scale);
    }
    Ok(sheet)
}

/// A still.
///
/// # Errors
/// When the drawing library refuses.
pub fn teaching_chart(chart: &TeachingChart) -> Result<Rendered, ChartError> {
    scene_of(chart)?.render()
}

/// A frame of a moving picture: its width, height, and red, green, blue bytes row by row.
///
/// # Errors
/// When the drawing library refuses.
pub fn teaching_frame(chart: &TeachingChart) -> Result<(u32, u32, Vec<u8>), ChartError> {
    let scene = scene_of(chart)?.scene;
    let (width, height) = scene.size();
    Ok((width, height, scene.pixels(1)?))
}

fn draw_days(
    scene: &mut Scene,
    (left, right, top): (f64, f64, f64),
    days: &Days,
) -> Result<(), ChartError> {
    let y = top + SMALL_SIZE;
    let date = Lettering::new(LABEL_SIZE).bold();
    let width = text_width("30 September 2026", date)?;
    scene.text(&days.date, (left, y + SMALL_SIZE / 2.0 - 2.0), date);
    let from = left + width + KEY_STEP;
    let at = |share: f64| from + share.clamp(0.0, 1.0) * (right - from);
    scene.line((from, y), (right, y), ink(AXIS), MEDIUM_WIDTH);
    scene.line((from, y), (at(days.now), y), ink(SPAN), 2.0 * MEDIUM_WIDTH);
    let small = Lettering::new(SMALL_SIZE - 2.0)
        .colour(TEXT_QUIET)
        .align(Align::Middle);
    for count in &days.counts {
        let colour = if *count <= days.now { SPAN } else { AXIS };
        scene.line(
            (at(*count), y - 5.0),
            (at(*count), y + 5.0),
            ink(colour),
            MEDIUM_WIDTH,
        );
    }
    if let Some(first) = days.counts.first() {
        let last = days.counts[days.counts.len() - 1];
        scene.text("count days", (at((first + last) / 2.0), y + 20.0), small);
    }
    scene.line(
        (at(days.cutting), y - 5.0),
        (at(days.cutting), y + 5.0),
        ink(TEXT),
        MEDIUM_WIDTH,
    );
    scene.text("cutting", (at(days.cutting), y + 20.0), small);
    scene.disc((at(days.now), y), 5.0, ink(SPAN_TEXT));
    Ok(())
}

fn draw_key(
    scene: &mut Scene,
    (left, top): Point,
    chart: &TeachingChart,
) -> Result<(), ChartError> {
    let style = Lettering::new(SMALL_SIZE);
    let y = top + KEY_HEIGHT / 2.0;
    let mut x = left + STRAY_RADIUS;
    for group in &chart.groups {
        animal(scene, (x, y), group.mark, LATE_RADIUS);
        x += LATE_RADIUS + KEY_GAP;
        scene.text(&group.label, (x, y + SMALL_SIZE / 3.0), style);
        x += text_width(&group.label, style)? + KEY_STEP;
    }
    ring(scene, (x, y));
    x += STRAY_RADIUS + KEY_GAP / 2.0;
    scene.text(&chart.stray_label, (x, y + SMALL_SIZE / 3.0), style);
    Ok(())
}

fn animal(scene: &mut Scene, at: Point, mark: Mark, radius: f64) {
    scene.disc(at, radius + HALO, ink(BACKGROUND));
    scene.marker(mark, at, radius);
}

fn ring(scene: &mut Scene, at: Point) {
    let mark = Mark {
        colour: TEXT,
        shape: Shape::Halo,
        ..super::style::TREATED
    };
    scene.marker(mark, at, STRAY_RADIUS);
}

fn draw_panel(
    scene: &mut Scene,
    room: Area,
    scale: f64,
    panel: &TeachingPanel,
    chart: &TeachingChart,
) -> Result<(), ChartError> {
    let (wide, high) = size_m(&panel.view);
    let heading = Lettering::new(LABEL_SIZE).bold();
    scene.text(
        &panel.heading,
        (room.left, room.top + LABEL_SIZE + 4.0),
        heading,
    );
    let left = room.left + (room.width() - wide * scale) / 2.0;
    let top = room.top + panel.above();
    let area = Area {
        left,
        top,
        right: left + wide * scale,
        bottom: top + high * scale,
    };
    let ground = Ground::new(panel.view, area, scale);
    let corners = [
        (room.left, area.top),
        (room.right, area.top),
        (room.right, area.bottom),
        (room.left, area.bottom),
    ];
    let mut frame = corners.to_vec();
    frame.push(corners[0]);
    scene.path(frame, wash(AXIS, FRAME_OPACITY), THIN_WIDTH);
    draw_ground(scene, &ground, panel, chart);
    let mut baseline = area.bottom + LABEL_SIZE + 5.0;
    for (group, text) in &panel.counts {
        let style =
            Lettering::new(LABEL_SIZE).colour(for_letters(chart.groups[*group].mark.colour));
        let (lines, _) = wrap(text, style, room.width(), 1)?;
        baseline = scene.lines(&lines, (room.left, baseline), style);
    }
    Ok(())
}

fn draw_ground(scene: &mut Scene, ground: &Ground, panel: &TeachingPanel, chart: &TeachingChart) {
    for patch in &panel.patches {
        draw_patch(scene, ground, patch);
    }
    for stem in &panel.stems {
        if let Some(at) = ground.seen((stem.x_m, stem.y_m)) {
            scene.marker(stem_mark(stem.condition), at, STEM_RADIUS);
        }
    }
    for (points, group) in &panel.trails {
        let points: Vec<Point> = finite(points).collect();
        for piece in clip(&points, ground) {
            let colour = chart.groups[*group].mark.colour;
            scene.path(piece, wash(colour, WALK_OPACITY), WALK_WIDTH);
        }
    }
    for late in [false, true] {
        for one in panel.animals.iter().filter(|animal| animal.late == late) {
            let Some(at) = ground.seen(one.at_m) else {
                continue;
            };
            let radius = if late { LATE_RADIUS } else { YOUNG_RADIUS };
            animal(scene, at, chart.groups[one.group].mark, radius);
            if one.stray {
                ring(scene, at);
            }
        }
    }
}

fn draw_patch(scene: &mut Scene, ground: &Ground, patch: &PatchOutline) {
    let mut corners: Vec<Point> = finite(&patch.corners_m)
        .map(|corner| ground.place(corner))
        .collect();
    let Some(&first) = corners.first() else {
        return;
    };
    let top = corners
        .iter()
        .fold(first.1, |top, corner| top.min(corner.1));
    let middle = corners.iter().map(|corner| corner.0).sum::<f64>() / corners.len() as f64;
    scene.fill(corners.clone(), wash(patch.mark.colour, PATCH_OPACITY));
    corners.push(first);
    scene.dashed(
        &corners,
        patch.mark.stroke.pattern(),
        ink(patch.mark.colour),
        MEDIUM_WIDTH,
    );
    let label = Lettering::new(SMALL_SIZE)
        .bold()
        .colour(for_letters(patch.mark.colour))
        .align(Align::Middle);
    scene.text(&patch.label, (middle, top - 6.0), label);
}
