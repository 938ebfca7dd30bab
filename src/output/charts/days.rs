//! Several things day by day, one strip below the other, over one axis of dates.

use super::axes::{Spacing, drawn_range, ticks};
use super::curve::CurveSeries;
use super::labels::Side;
use super::panel::{Axes, Intervals, Line, Panel, Tick, draw_axes, draw_line, x_extent, y_extent};
use super::scene::{Lettering, Scene, ink, text_width, wash};
use super::sheet::{Area, Sheet};
use super::strip::shade;
use super::style::{
    LABEL_SIZE, LINE_SPACING, LINE_WIDTH, SMALL_SIZE, SPAN, SPAN_OPACITY, SPAN_TEXT, for_letters,
};
use super::{ChartError, Rendered};

/// Width of the chart in SVG units.
const WIDTH: f64 = 960.0;
/// Height of the key.
const KEY: f64 = 34.0;
/// Height of a strip, its name included.
const STRIP: f64 = 118.0;
/// Of the room that an axis takes for its labels, what the next strip may use while the labels are left out.
const BELOW: f64 = 24.0;
/// Height of a strip's name, with the space below it.
const NAME: f64 = 28.0;
/// Length of a line in the key, and the space after it.
const SAMPLE: (f64, f64) = (34.0, 8.0);
/// Space between two entries of the key.
const BETWEEN: f64 = 28.0;
/// Ticks of a strip.
const WANTED_TICKS: f64 = 2.0;
/// Height of an axis on which nothing stands.
const EMPTY: (f64, f64) = (0.0, 1.0);
/// Room on the right, so that the last date is not cut off.
const RIGHT: f64 = 26.0;

/// Data of [`days_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct DaysChart {
    /// The finding, as a sentence.
    pub title: String,
    /// What the bands are and where the numbers come from.
    pub note: String,
    /// Horizontal axis title.
    pub x_label: String,
    /// Days that are marked below the last strip: day and its name.
    pub dates: Vec<(f64, String)>,
    /// First and last day.
    pub days: (f64, f64),
    /// Days that are shaded in all strips, and what they are.
    pub shaded: Option<((f64, f64), String)>,
    /// The strips from above.
    pub strips: Vec<DaysStrip>,
}

/// One strip.
#[derive(Debug, Clone, PartialEq)]
pub struct DaysStrip {
    /// What it shows, with the unit.
    pub name: String,
    /// Its series over days; those of one name look alike in all strips.
    pub series: Vec<CurveSeries>,
}

/// Draws strips over days.
///
/// # Errors
/// [`ChartError::OutOfRange`] for a number too large to be drawn; otherwise an error of the drawing library.
pub fn days_chart(chart: &DaysChart) -> Result<Rendered, ChartError> {
    let count = chart.strips.len().max(1) as f64;
    let title = LABEL_SIZE * LINE_SPACING;
    let mut sheet = Sheet::new(
        WIDTH,
        KEY + STRIP * count + BELOW + title,
        &chart.title,
        &chart.note,
    )?;
    draw_key(&mut sheet.scene, sheet.room, chart)?;
    if chart.strips.is_empty() {
        sheet.no_data(sheet.room);
    }
    let strips = chart
        .strips
        .iter()
        .map(Strip::of)
        .collect::<Result<Vec<_>, _>>()?;
    // All strips begin at the same place, whatever their numbers.
    let widest = strips
        .iter()
        .map(|strip| strip.label_width)
        .fold(0.0, f64::max);
    let mut top = sheet.room.top + KEY;
    for (index, strip) in strips.iter().enumerate() {
        let is_last = index + 1 == chart.strips.len();
        let bottom = top + STRIP + if is_last { BELOW + title } else { BELOW };
        let room = Area {
            top,
            bottom,
            ..sheet.room
        };
        draw_strip(&mut sheet.scene, room, chart, (strip, widest), is_last)?;
        top += STRIP;
    }
    sheet.render()
}

/// Names of the series with a piece of their line, each once; and of what is shaded.
fn draw_key(scene: &mut Scene, room: Area, chart: &DaysChart) -> Result<(), ChartError> {
    let style = Lettering::new(LABEL_SIZE).bold();
    let baseline = room.top + LABEL_SIZE;
    let mut x = room.left;
    let mut known: Vec<&str> = Vec::new();
    for series in chart.strips.iter().flat_map(|strip| &strip.series) {
        if known.contains(&series.name.as_str()) {
            continue;
        }
        known.push(&series.name);
        let mark = series.mark;
        let y = baseline - LABEL_SIZE / 3.0;
        let ends = [(x, y), (x + SAMPLE.0, y)];
        scene.dashed(&ends, mark.stroke.pattern(), ink(mark.colour), LINE_WIDTH);
        x += SAMPLE.0 + SAMPLE.1;
        let letters = style.colour(for_letters(mark.colour));
        scene.text(&series.name, (x, baseline), letters);
        x += text_width(&series.name, style)? + BETWEEN;
    }
    if let Some((_, words)) = &chart.shaded {
        let from = (x, baseline - LABEL_SIZE * 0.8);
        scene.rectangle(from, (x + SAMPLE.0, baseline), wash(SPAN, SPAN_OPACITY));
        let style = Lettering::new(SMALL_SIZE).colour(SPAN_TEXT);
        scene.text(words, (x + SAMPLE.0 + SAMPLE.1, baseline), style);
    }
    Ok(())
}

/// A strip ready to be drawn.
struct Strip<'a> {
    name: &'a str,
    lines: Vec<Line<'a>>,
    y_range: (f64, f64),
    y_ticks: Vec<Tick>,
    label_width: f64,
}

fn tick((value, label): (f64, String)) -> Tick {
    Tick {
        value,
        label,
        second: String::new(),
    }
}

impl<'a> Strip<'a> {
    fn of(strip: &'a DaysStrip) -> Result<Self, ChartError> {
        let lines = strip
            .series
            .iter()
            .map(|series| {
                let points = series.points.iter().map(|point| (point.x, point.y));
                Line::new(&series.name, series.mark, 1.0, points)
            })
            .collect::<Result<Vec<_>, _>>()?;
        let y_range = drawn_range(y_extent(&lines).unwrap_or(EMPTY), true);
        let y_ticks: Vec<Tick> = ticks(y_range, WANTED_TICKS).into_iter().map(tick).collect();
        let mut label_width = 0.0_f64;
        for tick in &y_ticks {
            label_width = label_width.max(text_width(&tick.label, Lettering::new(SMALL_SIZE))?);
        }
        Ok(Self {
            name: &strip.name,
            lines,
            y_range,
            y_ticks,
            label_width,
        })
    }
}

fn draw_strip(
    scene: &mut Scene,
    room: Area,
    chart: &DaysChart,
    (strip, widest): (&Strip<'_>, f64),
    is_last: bool,
) -> Result<(), ChartError> {
    let at = (room.left, room.top + LABEL_SIZE);
    scene.text(strip.name, at, Lettering::new(LABEL_SIZE));
    let room = Area {
        left: room.left + widest - strip.label_width,
        top: room.top + NAME,
        ..room
    };
    let dates = chart.dates.iter().map(|(day, name)| {
        let name = if is_last { name.clone() } else { String::new() };
        tick((*day, name))
    });
    let axes = Axes {
        x_title: if is_last { &chart.x_label } else { "" },
        y_title: "",
        x_range: if chart.days.0 < chart.days.1 {
            chart.days
        } else {
            x_extent(&strip.lines).unwrap_or(EMPTY)
        },
        y_range: strip.y_range,
        x_spacing: Spacing::Even,
        x_ticks: dates.collect(),
        y_ticks: strip.y_ticks.clone(),
        strip_rows: 0,
        label_room: RIGHT,
        labels: Side::Right,
    };
    let panel: Panel = draw_axes(scene, room, &axes)?;
    if let Some((span, _)) = &chart.shaded {
        shade(scene, &panel, *span, SPAN_OPACITY);
    }
    for line in &strip.lines {
        draw_line(scene, &panel, line, Intervals::Band);
    }
    Ok(())
}
