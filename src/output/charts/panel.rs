//! A plot with two axes, and what is drawn inside it: series with their
//! intervals, thresholds.

use super::axes::{Scale, Spacing, extent};
use super::labels::{EndLabel, Side};
use super::scene::{Align, Lettering, Scene, ink, text_width, wash, wrap};
use super::sheet::Area;
use super::strip::STRIP_ROW;
use super::style::{
    AXIS, BAND_OPACITY, GRID, LABEL_SIZE, LINE_WIDTH, MARKER_RADIUS, MEDIUM_WIDTH, Mark,
    SMALL_SIZE, TEXT, TEXT_QUIET, THIN_WIDTH,
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
/// Depth of the arrow head at an open end.
const ARROW: f64 = 6.0;
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
    pub(super) x_spacing: Spacing,
    pub(super) x_ticks: Vec<Tick>,
    pub(super) y_ticks: Vec<Tick>,
    /// Rows of labels kept free between the vertical title and the plot.
    pub(super) strip_rows: usize,
    /// Room for direct labels,
    pub(super) label_room: f64,
    /// and where they stand; the labels of the ticks stand on the other side.
    pub(super) labels: Side,
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
    /// An infinite end is open.
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
                let low = bound(name, estimate.low * factor)?;
                let high = bound(name, estimate.high * factor)?;
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

/// A bound of an interval: `None` when there is none, infinite when it is open.
fn bound(what: &str, value: f64) -> Result<Option<f64>, ChartError> {
    if value.is_infinite() {
        return Ok(Some(value));
    }
    defined(what, value)
}

/// Horizontal reach of all drawn points.
pub(super) fn x_extent(lines: &[Line]) -> Option<(f64, f64)> {
    extent(lines.iter().flat_map(Line::drawn).map(|point| point.x))
}

/// Vertical reach of all drawn points and their intervals.
pub(super) fn y_extent(lines: &[Line]) -> Option<(f64, f64)> {
    extent(lines.iter().flat_map(Line::drawn).flat_map(|point| {
        let bounds = point.interval.map(|(low, high)| [low, high]);
        let bounds = bounds.into_iter().flatten().filter(|end| end.is_finite());
        point.value.into_iter().chain(bounds)
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
    let ticks = widest + TICK_GAP;
    let (before, after) = match axes.labels {
        Side::Right => (ticks, axes.label_room),
        Side::Left => (axes.label_room, ticks),
    };
    let (left, right) = (room.left + before, room.right - after);
    let (y_lines, _) = wrap(axes.y_title, title, room.width(), TITLE_LINES)?;
    let (x_lines, _) = wrap(axes.x_title, title, room.width(), TITLE_LINES)?;
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
        x: Scale::new(axes.x_range, (left, right)).spaced(axes.x_spacing),
        y: Scale::new(axes.y_range, (bottom, top)),
    };
    draw_ticks(scene, &panel, axes, small);
    let mut widest_line = 0.0_f64;
    for line in &x_lines {
        widest_line = widest_line.max(text_width(line, title)?);
    }
    // Below the middle of the axis, unless it would then run over the paper's edge.
    let half = widest_line / 2.0;
    let middle = left.midpoint(right).max(room.left + half);
    let first = (middle.min(room.right - half), bottom + below + LABEL_SIZE);
    scene.lines(&x_lines, first, title.align(Align::Middle));
    Ok(panel)
}

fn draw_ticks(scene: &mut Scene, panel: &Panel, axes: &Axes, small: Lettering) {
    let area = panel.area;
    for tick in axes.y_ticks.iter().filter(|tick| panel.y.holds(tick.value)) {
        let y = panel.y.at(tick.value);
        scene.line((area.left, y), (area.right, y), ink(GRID), THIN_WIDTH);
        let (x, align) = match axes.labels {
            Side::Right => (area.left - TICK_GAP, Align::Right),
            Side::Left => (area.right + TICK_GAP, Align::Left),
        };
        let at = (x, y + SMALL_SIZE * DIGIT_MIDDLE);
        scene.text(&tick.label, at, small.align(align));
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

/// How the intervals of a series are drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Intervals {
    /// As a band from point to point.
    Band,
    /// As an upright stroke at each point; the series is drawn this far beside its place, so that two series of much
    /// the same numbers stay apart.
    Whiskers(f64),
    /// The same, with points that are not joined: choices, between which nothing lies.
    Alone(f64),
}

/// Draws one series: band, line, markers.
pub(super) fn draw_line(scene: &mut Scene, panel: &Panel, line: &Line, intervals: Intervals) {
    let mark = line.mark;
    let beside = match intervals {
        Intervals::Band => 0.0,
        Intervals::Whiskers(beside) | Intervals::Alone(beside) => beside,
    };
    let runs: Vec<&[PlotPoint]> = line
        .points
        .split(|point| point.value.is_none())
        .filter(|run| !run.is_empty())
        .collect();
    for run in &runs {
        match intervals {
            Intervals::Band => draw_intervals(scene, panel, run, mark),
            Intervals::Whiskers(_) | Intervals::Alone(_) => {
                for point in *run {
                    whisker(scene, panel, point, mark, beside);
                }
            }
        }
    }
    for run in &runs {
        let path: Vec<_> = run
            .iter()
            .filter_map(|point| Some((panel.x.at(point.x) + beside, panel.y.at(point.value?))))
            .collect();
        if !matches!(intervals, Intervals::Alone(_)) {
            scene.dashed(&path, mark.stroke.pattern(), ink(mark.colour), LINE_WIDTH);
        }
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
            whisker(scene, panel, point, mark, 0.0);
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

fn whisker(scene: &mut Scene, panel: &Panel, point: &PlotPoint, mark: Mark, beside: f64) {
    let Some((low, high)) = point.interval else {
        return;
    };
    let (x, bottom, top) = (
        panel.x.at(point.x) + beside,
        panel.y.at(low),
        panel.y.at(high),
    );
    let colour = ink(mark.colour);
    scene.line((x, bottom), (x, top), colour, MEDIUM_WIDTH);
    for (y, value, inwards) in [(bottom, low, -ARROW), (top, high, ARROW)] {
        let (left, right) = (x - WHISKER_CAP, x + WHISKER_CAP);
        let head = if value.is_infinite() {
            vec![(left, y + inwards), (x, y), (right, y + inwards)]
        } else {
            vec![(left, y), (right, y)]
        };
        scene.path(head, colour, MEDIUM_WIDTH);
    }
}

/// Direct label at the first drawn point of a series, for labels on the left.
pub(super) fn start_label(panel: &Panel, line: &Line) -> Option<EndLabel> {
    let first = line.points.iter().find(|point| point.value.is_some())?;
    named(panel, line, first)
}

/// Direct label at the last drawn point of a series.
pub(super) fn end_label(panel: &Panel, line: &Line) -> Option<EndLabel> {
    let mut drawn = line.points.iter().rev();
    let last = drawn.find(|point| point.value.is_some())?;
    named(panel, line, last)
}

fn named(panel: &Panel, line: &Line, point: &PlotPoint) -> Option<EndLabel> {
    Some(EndLabel {
        anchor: (panel.x.at(point.x), panel.y.at(point.value?)),
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
