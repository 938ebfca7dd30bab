//! A plot with two axes, and what is drawn inside it: series with interval
//! bands, thresholds, crossings.

use super::axes::{Scale, extent};
use super::labels::EndLabel;
use super::scene::{Align, Lettering, Scene, ink, text_width, wash, wrap};
use super::sheet::Area;
use super::style::{
    AXIS, BAND_OPACITY, GRID, LABEL_SIZE, LINE_WIDTH, MARKER_RADIUS, MEDIUM_WIDTH, Mark,
    SMALL_SIZE, SPAN, SPAN_TEXT, Stroke, TEXT, TEXT_QUIET, THIN_WIDTH, WIDE_SPAN_OPACITY,
};
use super::{ChartError, Estimate, defined};

/// Length of the small strokes under the horizontal axis.
const TICK_LENGTH: f64 = 5.0;
/// Space between axis and tick labels.
const TICK_GAP: f64 = 8.0;
/// Space between tick labels and the axis title.
const TITLE_GAP: f64 = 10.0;
/// Distance from a tick label's baseline to the middle of its digits, in em.
const DIGIT_MIDDLE: f64 = 0.36;
/// Axis titles run over at most this many lines.
const TITLE_LINES: usize = 2;
/// Above this many points markers would melt into a thick line.
const MOST_MARKERS: usize = 40;
/// Half the width of an interval's end strokes.
const WHISKER_CAP: f64 = 4.0;
/// Height of one row of labels in the strip above the plot.
pub(super) const STRIP_ROW: f64 = 27.0;
/// Space around the letters of a label in the strip.
const LABEL_PADDING: f64 = 4.0;
/// Dash pattern of thresholds, finer than that of any series.
const THRESHOLD_PATTERN: [f64; 2] = [5.0, 3.0];

/// A tick of either axis.
#[derive(Debug, Clone)]
pub(super) struct Tick {
    pub(super) value: f64,
    pub(super) label: String,
    /// The same value in the secondary unit, below the label.
    pub(super) second: String,
}

/// What the axes of a plot show.
#[derive(Debug)]
pub(super) struct Axes<'a> {
    pub(super) x_title: &'a str,
    /// Stands above the plot, level, because that is easiest to read.
    pub(super) y_title: &'a str,
    pub(super) x_range: (f64, f64),
    pub(super) y_range: (f64, f64),
    pub(super) x_ticks: Vec<Tick>,
    pub(super) y_ticks: Vec<Tick>,
    /// Rows of labels kept free between the vertical title and the plot.
    pub(super) strip_rows: usize,
    /// Room for direct labels on the right.
    pub(super) right: f64,
}

/// A plot whose axes are drawn.
#[derive(Debug)]
pub(super) struct Panel {
    pub(super) area: Area,
    pub(super) x: Scale,
    pub(super) y: Scale,
}

/// A point without undefined numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct PlotPoint {
    pub(super) x: f64,
    pub(super) value: Option<f64>,
    pub(super) interval: Option<(f64, f64)>,
}

/// A series ready to be drawn.
#[derive(Debug, Clone)]
pub(super) struct Line<'a> {
    pub(super) name: &'a str,
    pub(super) mark: Mark,
    pub(super) points: Vec<PlotPoint>,
}

impl<'a> Line<'a> {
    /// Sorts points along the axis; points without a place are dropped,
    /// values multiplied by `factor` (100 for percent).
    pub(super) fn new(
        name: &'a str,
        mark: Mark,
        factor: f64,
        points: impl Iterator<Item = (f64, Option<Estimate>)>,
    ) -> Result<Self, ChartError> {
        let mut clean = Vec::new();
        for (x, estimate) in points {
            let Some(x) = defined(name, x)? else { continue };
            let mut point = PlotPoint {
                x,
                value: None,
                interval: None,
            };
            if let Some(estimate) = estimate {
                point.value = defined(name, estimate.value * factor)?;
                let low = defined(name, estimate.low * factor)?;
                let high = defined(name, estimate.high * factor)?;
                point.interval = low.zip(high).map(|(a, b)| (a.min(b), a.max(b)));
            }
            clean.push(point);
        }
        clean.sort_by(|one, other| one.x.total_cmp(&other.x));
        Ok(Self {
            name,
            mark,
            points: clean,
        })
    }

    /// Points with a value.
    fn drawn(&self) -> impl Iterator<Item = &PlotPoint> {
        self.points.iter().filter(|point| point.value.is_some())
    }
}

/// Horizontal reach of all drawn points.
pub(super) fn x_extent(lines: &[Line]) -> Option<(f64, f64)> {
    extent(lines.iter().flat_map(Line::drawn).map(|point| point.x))
}

/// Vertical reach of all drawn points and their intervals.
pub(super) fn y_extent(lines: &[Line]) -> Option<(f64, f64)> {
    extent(lines.iter().flat_map(Line::drawn).flat_map(|point| {
        let bounds = point.interval.map(|(low, high)| [low, high]);
        point.value.into_iter().chain(bounds.into_iter().flatten())
    }))
}

/// Draws the axes into `room` and gives back the plot between them.
pub(super) fn draw_axes(scene: &mut Scene, room: Area, axes: &Axes) -> Result<Panel, ChartError> {
    let small = Lettering::new(SMALL_SIZE).colour(TEXT_QUIET);
    let title = Lettering::new(LABEL_SIZE).colour(TEXT);
    let mut widest = 0.0_f64;
    for tick in &axes.y_ticks {
        widest = widest.max(text_width(&tick.label, small)?);
    }
    let left = room.left + widest + TICK_GAP;
    let right = room.right - axes.right;
    let (y_lines, _) = wrap(axes.y_title, title, room.width(), TITLE_LINES)?;
    let (x_lines, _) = wrap(axes.x_title, title, room.right - left, TITLE_LINES)?;
    let after = scene.lines(&y_lines, (room.left, room.top + LABEL_SIZE), title);
    let top = if y_lines.is_empty() {
        room.top
    } else {
        after - LABEL_SIZE + TITLE_GAP
    } + axes.strip_rows as f64 * STRIP_ROW;
    let tick_rows = if axes.x_ticks.iter().any(|tick| !tick.second.is_empty()) {
        2.0
    } else {
        1.0
    };
    let below = TICK_GAP + tick_rows * small.leading() + TITLE_GAP;
    let bottom = room.bottom - below - x_lines.len() as f64 * title.leading();
    let area = Area {
        left,
        top,
        right,
        bottom,
    };
    let panel = Panel {
        area,
        x: Scale::new(axes.x_range, (left, right)),
        y: Scale::new(axes.y_range, (bottom, top)),
    };
    draw_ticks(scene, &panel, axes, small);
    let first = (left.midpoint(right), bottom + below + LABEL_SIZE);
    scene.lines(&x_lines, first, title.align(Align::Middle));
    Ok(panel)
}

fn draw_ticks(scene: &mut Scene, panel: &Panel, axes: &Axes, small: Lettering) {
    let area = panel.area;
    for tick in axes.y_ticks.iter().filter(|tick| panel.y.holds(tick.value)) {
        let y = panel.y.at(tick.value);
        scene.line((area.left, y), (area.right, y), ink(GRID), THIN_WIDTH);
        let at = (area.left - TICK_GAP, y + SMALL_SIZE * DIGIT_MIDDLE);
        scene.text(&tick.label, at, small.align(Align::Right));
    }
    scene.line(
        (area.left, area.bottom),
        (area.right, area.bottom),
        ink(AXIS),
        THIN_WIDTH,
    );
    for tick in axes.x_ticks.iter().filter(|tick| panel.x.holds(tick.value)) {
        let x = panel.x.at(tick.value);
        scene.line(
            (x, area.bottom),
            (x, area.bottom + TICK_LENGTH),
            ink(AXIS),
            THIN_WIDTH,
        );
        let baseline = area.bottom + TICK_GAP + SMALL_SIZE;
        scene.text(&tick.label, (x, baseline), small.align(Align::Middle));
        let below = baseline + small.leading();
        scene.text(&tick.second, (x, below), small.align(Align::Middle));
    }
}

/// Draws one series: band, line, markers.
pub(super) fn draw_line(scene: &mut Scene, panel: &Panel, line: &Line) {
    let mark = line.mark;
    let runs: Vec<&[PlotPoint]> = line
        .points
        .split(|point| point.value.is_none())
        .filter(|run| !run.is_empty())
        .collect();
    for run in &runs {
        draw_intervals(scene, panel, run, mark);
    }
    for run in &runs {
        let path: Vec<_> = run
            .iter()
            .filter_map(|point| Some((panel.x.at(point.x), panel.y.at(point.value?))))
            .collect();
        scene.dashed(&path, mark.stroke.pattern(), ink(mark.colour), LINE_WIDTH);
        if line.points.len() <= MOST_MARKERS || path.len() == 1 {
            for centre in path {
                scene.marker(mark, centre, MARKER_RADIUS);
            }
        }
    }
}

/// Intervals as a band where neighbours have one, else as whiskers.
fn draw_intervals(scene: &mut Scene, panel: &Panel, run: &[PlotPoint], mark: Mark) {
    for part in run.split(|point| point.interval.is_none()) {
        if let [point] = part {
            whisker(scene, panel, point, mark);
            continue;
        }
        let side = |upper: bool| {
            part.iter().filter_map(move |point| {
                let (low, high) = point.interval?;
                let bound = if upper { high } else { low };
                Some((panel.x.at(point.x), panel.y.at(bound)))
            })
        };
        let lower: Vec<_> = side(false).collect();
        let band = side(true).chain(lower.into_iter().rev()).collect();
        scene.fill(band, wash(mark.colour, BAND_OPACITY));
    }
}

fn whisker(scene: &mut Scene, panel: &Panel, point: &PlotPoint, mark: Mark) {
    let Some((low, high)) = point.interval else {
        return;
    };
    let (x, bottom, top) = (panel.x.at(point.x), panel.y.at(low), panel.y.at(high));
    let colour = ink(mark.colour);
    scene.line((x, bottom), (x, top), colour, MEDIUM_WIDTH);
    for y in [bottom, top] {
        scene.line(
            (x - WHISKER_CAP, y),
            (x + WHISKER_CAP, y),
            colour,
            MEDIUM_WIDTH,
        );
    }
}

/// Direct label at the last drawn point of a series.
pub(super) fn end_label(panel: &Panel, line: &Line) -> Option<EndLabel> {
    let last = line
        .points
        .iter()
        .rev()
        .find(|point| point.value.is_some())?;
    Some(EndLabel {
        anchor: (panel.x.at(last.x), panel.y.at(last.value?)),
        text: line.name.to_owned(),
        colour: line.mark.colour,
        bold: true,
    })
}

/// Draws a named horizontal threshold and gives back its label.
pub(super) fn threshold(scene: &mut Scene, panel: &Panel, value: f64, name: &str) -> EndLabel {
    let y = panel.y.at(value);
    let ends = [(panel.area.left, y), (panel.area.right, y)];
    scene.dashed(&ends, &THRESHOLD_PATTERN, ink(TEXT), MEDIUM_WIDTH);
    EndLabel {
        anchor: ends[1],
        text: name.to_owned(),
        colour: TEXT,
        bold: false,
    }
}

/// Shades a span of the horizontal axis over the height of the plot.
pub(super) fn shade(scene: &mut Scene, panel: &Panel, span: (f64, f64), opacity: f64) {
    let (top, bottom) = (panel.area.top, panel.area.bottom);
    let (left, right) = (panel.x.at(span.0), panel.x.at(span.1));
    scene.rectangle((left, top), (right, bottom), wash(SPAN, opacity));
    if opacity <= WIDE_SPAN_OPACITY {
        // A faint wash alone disappears on a grey printer.
        for x in [left, right] {
            let ends = [(x, top), (x, bottom)];
            scene.dashed(&ends, Stroke::Dotted.pattern(), ink(SPAN), THIN_WIDTH);
        }
    }
}

/// A bracket over a span, at the foot of row `row` of the strip.
pub(super) fn bracket(scene: &mut Scene, panel: &Panel, span: (f64, f64), row: usize) {
    let y = strip_bottom(panel, row);
    let (left, right) = (panel.x.at(span.0), panel.x.at(span.1));
    let foot = y + WHISKER_CAP;
    let points = vec![(left, foot), (left, y), (right, y), (right, foot)];
    scene.path(points, ink(SPAN_TEXT), THIN_WIDTH);
}

/// Upright line at a value, up to row `row` of the strip.
pub(super) fn upright(scene: &mut Scene, panel: &Panel, value: f64, row: usize) {
    let x = panel.x.at(value);
    let top = strip_bottom(panel, row);
    scene.line(
        (x, top),
        (x, panel.area.bottom),
        ink(SPAN_TEXT),
        MEDIUM_WIDTH,
    );
}

/// Writes into row `row` of the strip, above `value`, kept within the plot.
pub(super) fn strip_label(
    scene: &mut Scene,
    panel: &Panel,
    value: f64,
    text: &str,
    row: usize,
    bold: bool,
) -> Result<(), ChartError> {
    let plain = Lettering::new(SMALL_SIZE)
        .colour(SPAN_TEXT)
        .align(Align::Middle);
    let style = if bold { plain.bold() } else { plain };
    let (lines, _) = wrap(text, style, panel.area.width(), 1)?;
    let Some(line) = lines.first() else {
        return Ok(());
    };
    let half = text_width(line, style)? / 2.0;
    let (from, to) = (panel.area.left + half, panel.area.right - half);
    let x = panel.x.at(value).max(from).min(to.max(from));
    let baseline = strip_bottom(panel, row) - (STRIP_ROW - SMALL_SIZE) / 2.0;
    let from = (x - half - LABEL_PADDING, baseline - SMALL_SIZE);
    let to = (x + half + LABEL_PADDING, baseline + LABEL_PADDING);
    scene.rectangle(from, to, ink(scene.background));
    scene.text(line, (x, baseline), style);
    Ok(())
}

/// Lower edge of a row of the strip; row 0 is next to the plot.
fn strip_bottom(panel: &Panel, row: usize) -> f64 {
    panel.area.top - row as f64 * STRIP_ROW
}
