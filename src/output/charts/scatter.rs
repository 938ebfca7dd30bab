//! Points in groups: each a thing with a place along the horizontal axis, or with none, and a size.

use super::axes::{Spacing, extent, spread_ticks};
use super::labels::Side;
use super::panel::{Axes, Panel, Tick, draw_axes, threshold};
use super::scene::{Lettering, Scene, text_width};
use super::sheet::{Area, Sheet};
use super::style::{LABEL_SIZE, MAP_MARKER_RADIUS, MARKER_RADIUS, Mark, for_letters};
use super::{ChartError, Rendered, defined};

/// Width of the chart in SVG units.
const WIDTH: f64 = 820.0;
/// Height of key and plot.
const BODY: f64 = 470.0;
/// Height of the key.
const KEY: f64 = 38.0;
/// Space between the entries of the key.
const KEY_BETWEEN: f64 = 26.0;
/// Space between a mark of the key and its name.
const KEY_GAP: f64 = 12.0;
/// Room on the right for the name of the limit.
const RIGHT: f64 = 130.0;
/// Part of the horizontal axis for points without a place on it.
const NOWHERE: f64 = 0.012;
/// Least distance of ticks, as a part of the axis.
const TICKS_APART: f64 = 0.06;
/// Room beyond the outermost points of the vertical axis, in powers of ten.
const BEYOND: f64 = 0.08;
/// Points beyond which marks are drawn small.
const MANY: usize = 120;
/// Ticks of the logarithmic axis.
const ROUND: [f64; 16] = [
    1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0, 10_000.0,
    20_000.0, 50_000.0, 100_000.0,
];

/// Data of [`scatter_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct ScatterChart {
    /// The finding, as a sentence.
    pub title: String,
    /// What the marks are; may be empty.
    pub note: String,
    /// Title of the horizontal axis.
    pub x_label: String,
    /// Title of the vertical axis, which is logarithmic.
    pub y_label: String,
    /// Name of the place of points that have none on the horizontal axis.
    pub nowhere: String,
    /// Groups; later ones are drawn below earlier ones.
    pub groups: Vec<ScatterGroup>,
    /// A level of the vertical axis to be marked.
    pub limit: Option<Limit>,
}

/// Points that look the same.
#[derive(Debug, Clone, PartialEq)]
pub struct ScatterGroup {
    /// Name in the key.
    pub name: String,
    /// Look.
    pub mark: Mark,
    /// Points.
    pub points: Vec<ScatterPoint>,
}

/// A point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScatterPoint {
    /// Place along the horizontal axis, at least 0; `None` if it has none.
    pub x: Option<f64>,
    /// Size, above 0.
    pub y: f64,
}

/// A named level.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// Value, above 0.
    pub value: f64,
    /// Name.
    pub name: String,
}

/// Draws points in groups.
///
/// # Errors
/// [`ChartError::OutOfRange`] for a number too large to be drawn; otherwise an error of the drawing library.
pub fn scatter_chart(chart: &ScatterChart) -> Result<Rendered, ChartError> {
    let mut sheet = Sheet::new(WIDTH, BODY, &chart.title, &chart.note)?;
    draw_key(&mut sheet.scene, sheet.room, &chart.groups)?;
    let places = places(chart)?;
    let all = || places.iter().flatten();
    let Some((low, high)) = extent(all().map(|place| place.1)) else {
        let room = sheet.room;
        sheet.no_data(room);
        return sheet.render();
    };
    let limit = chart.limit.as_ref().filter(|limit| limit.value > 0.0);
    let level = limit.map(|limit| limit.value.log10());
    let y_range = (
        level.map_or(low, |level| low.min(level)) - BEYOND,
        level.map_or(high, |level| high.max(level)) + BEYOND,
    );
    let farthest = all().filter_map(|place| place.0).fold(1.0, f64::max);
    let nowhere = -NOWHERE * farthest;
    let beside = all().any(|place| place.0.is_none());
    let axes = axes(chart, (farthest, nowhere, beside), y_range);
    let room = Area {
        top: sheet.room.top + KEY,
        ..sheet.room
    };
    let panel = draw_axes(&mut sheet.scene, room, &axes)?;
    if let (Some(limit), Some(level)) = (limit, level) {
        let label = threshold(&mut sheet.scene, &panel, level, &limit.name);
        super::labels::draw_end_labels(
            &mut sheet.scene,
            panel.area,
            (Side::Right, RIGHT),
            vec![label],
        )?;
    }
    draw_points(&mut sheet.scene, &panel, chart, &places, nowhere);
    sheet.render()
}

/// Place and logarithm of the size of a point.
type Place = (Option<f64>, f64);

fn places(chart: &ScatterChart) -> Result<Vec<Vec<Place>>, ChartError> {
    let place = |point: &ScatterPoint| -> Result<Option<Place>, ChartError> {
        let x = match point.x {
            None => None,
            Some(x) => match defined("a place", x)? {
                Some(x) => Some(x.max(0.0)),
                None => return Ok(None),
            },
        };
        let y = defined("a size", point.y)?.filter(|y| *y > 0.0);
        Ok(y.map(|y| (x, y.log10())))
    };
    chart
        .groups
        .iter()
        .map(|group| {
            let places: Result<Vec<_>, _> = group.points.iter().map(place).collect();
            Ok(places?.into_iter().flatten().collect())
        })
        .collect()
}

fn axes<'a>(
    chart: &'a ScatterChart,
    (farthest, nowhere, beside): (f64, f64, bool),
    y_range: (f64, f64),
) -> Axes<'a> {
    let tick = |value: f64, label: String| Tick {
        value,
        label,
        second: String::new(),
    };
    let mut x_ticks: Vec<Tick> = spread_ticks(farthest, Spacing::SquareRoot, TICKS_APART)
        .into_iter()
        .map(|(value, label)| tick(value, label))
        .collect();
    let mut from = 0.0;
    if beside {
        from = nowhere * 2.0;
        x_ticks.push(tick(nowhere, chart.nowhere.clone()));
    }
    Axes {
        x_title: &chart.x_label,
        y_title: &chart.y_label,
        x_range: (from, farthest * (1.0 + NOWHERE)),
        y_range,
        x_spacing: Spacing::SquareRoot,
        x_ticks,
        y_ticks: ROUND
            .iter()
            .map(|value| tick(value.log10(), value.to_string()))
            .collect(),
        strip_rows: 0,
        label_room: RIGHT,
        labels: Side::Right,
    }
}

fn draw_key(scene: &mut Scene, room: Area, groups: &[ScatterGroup]) -> Result<(), ChartError> {
    let style = Lettering::new(LABEL_SIZE).bold();
    let baseline = room.top + LABEL_SIZE;
    let mut x = room.left + MARKER_RADIUS;
    for group in groups {
        let middle = (x, baseline - LABEL_SIZE / 3.0);
        scene.marker(group.mark, middle, MARKER_RADIUS);
        x += KEY_GAP;
        scene.text(
            &group.name,
            (x, baseline),
            style.colour(for_letters(group.mark.colour)),
        );
        x += text_width(&group.name, style)? + KEY_BETWEEN;
    }
    Ok(())
}

fn draw_points(
    scene: &mut Scene,
    panel: &Panel,
    chart: &ScatterChart,
    places: &[Vec<Place>],
    nowhere: f64,
) {
    let count: usize = places.iter().map(Vec::len).sum();
    let radius = if count > MANY {
        MAP_MARKER_RADIUS
    } else {
        MARKER_RADIUS
    };
    for (group, places) in chart.groups.iter().zip(places).rev() {
        for (x, y) in places {
            let at = (panel.x.at(x.unwrap_or(nowhere)), panel.y.at(*y));
            scene.marker(group.mark, at, radius);
        }
    }
}
