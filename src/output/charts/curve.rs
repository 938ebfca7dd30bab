//! Several series over one varied parameter.

use super::axes::{Spacing, drawn_range, extent, plain, ticks};
use super::gap::{GAP_SPACING, gap_ticks, interval, metres_and_yards, percent_ticks};
use super::labels::{Side, draw_end_labels, room_for};
use super::panel::{
    Axes, Intervals, Line, Panel, Tick, draw_axes, draw_line, end_label, threshold, x_extent,
    y_extent,
};
use super::scene::Scene;
use super::sheet::Sheet;
use super::strip::{Beside, shade, strip_label, upright};
use super::style::{COMPARISON, MARKER_RADIUS, Mark, SPAN_OPACITY};
use super::{ChartError, Estimate, Rendered, required};

/// Width of the chart in SVG units.
const WIDTH: f64 = 960.0;
/// Height between title and note.
const BODY: f64 = 480.0;
/// Widest room for direct labels.
const LABEL_ROOM: f64 = 200.0;
/// About this many ticks along each axis.
const WANTED_TICKS: (f64, f64) = (8.0, 5.0);
/// A reference of this size gives labels without decimals, as suits counted things.
const WHOLE: f64 = 100.0;
/// Percent in a whole.
const PERCENT: f64 = 100.0;
/// Room beside the first and the last choice, as a part of the distance between two.
const CHOICE_ROOM: f64 = 0.5;
/// Series whose intervals are strokes stand this far beside their neighbour: markers just touch.
const STROKES_APART: f64 = 2.0 * MARKER_RADIUS;
/// Drawn range when there is nothing to draw.
const EMPTY_RANGE: (f64, f64) = (0.0, 1.0);

/// Data of [`curve_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct CurveChart {
    /// The finding, as a sentence.
    pub title: String,
    /// What the bands are and where the numbers come from; may be empty.
    pub note: String,
    /// Horizontal axis title with its unit.
    pub x_label: String,
    /// Vertical axis title with its unit.
    pub y_label: String,
    /// The series; those of a sweep take their looks from
    /// [`super::style::series_mark`].
    pub series: Vec<CurveSeries>,
    /// Named horizontal lines.
    pub thresholds: Vec<Threshold>,
    /// Named places on the horizontal axis.
    pub crossings: Vec<Crossing>,
    /// What the horizontal axis holds.
    pub across: Across,
    /// What the vertical axis holds.
    pub upward: Upward,
    /// Whether intervals are strokes at the points rather than bands: for series that lie on each other, and for
    /// intervals with open ends.
    pub strokes: bool,
}

/// What a horizontal axis holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Across {
    /// Any numbers, evenly spaced.
    Numbers,
    /// Distances in metres from zero up: square-root axis, yards below.
    Metres,
    /// Choices by name, the first at 0, the next at 1; points are not joined.
    Choices(Vec<String>),
}

/// What a vertical axis holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Upward {
    /// Amounts: the axis begins at zero.
    Amounts,
    /// Numbers whose zero means nothing.
    Numbers,
    /// Shares of a whole, 0 to 1, drawn in percent.
    Shares,
}

impl Upward {
    fn factor(self) -> f64 {
        match self {
            Self::Shares => PERCENT,
            Self::Amounts | Self::Numbers => 1.0,
        }
    }
}

/// One series.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveSeries {
    /// Name written at the end of the line.
    pub name: String,
    /// Look.
    pub mark: Mark,
    /// Points in any order.
    pub points: Vec<CurvePoint>,
}

/// One point, in the units of the axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// Value of the varied parameter.
    pub x: f64,
    /// Result; `None` where it is undefined.
    pub y: Option<Estimate>,
}

/// A named horizontal line.
#[derive(Debug, Clone, PartialEq)]
pub struct Threshold {
    /// Height in the unit of the vertical axis; finite.
    pub value: f64,
    /// Name written beside the line.
    pub name: String,
}

/// A named place on the horizontal axis, with its interval.
#[derive(Debug, Clone, PartialEq)]
pub struct Crossing {
    /// Place in the unit of the horizontal axis; finite.
    pub value: f64,
    /// Lower bound; `None` when below the values tried.
    pub low: Option<f64>,
    /// Upper bound; `None` when beyond the values tried.
    pub high: Option<f64>,
    /// Name written above, e.g. "break-even"; the numbers are added, in metres and yards where the axis holds metres.
    pub name: String,
}

/// Data of [`yield_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct YieldChart {
    /// The finding, as a sentence.
    pub title: String,
    /// What the band is and where the numbers come from; may be empty.
    pub note: String,
    /// What is compared with what, e.g. "treated over untouched patch".
    pub compared: String,
    /// Attraction ratio against net yield (1: as many as without treatment).
    pub points: Vec<CurvePoint>,
    /// Attraction ratio at which the net yield is 1.
    pub break_even: Option<Crossing>,
}

/// Draws several series over one parameter.
///
/// # Errors
/// [`ChartError::OutOfRange`] for an undefined threshold or crossing or for
/// numbers too large to draw; otherwise an error of the drawing library.
pub fn curve_chart(chart: &CurveChart) -> Result<Rendered, ChartError> {
    for threshold in &chart.thresholds {
        required(&threshold.name, threshold.value)?;
    }
    for crossing in &chart.crossings {
        let bounds = [Some(crossing.value), crossing.low, crossing.high];
        for bound in bounds.into_iter().flatten() {
            required(&crossing.name, bound)?;
        }
    }
    let mut lines = Vec::new();
    for series in &chart.series {
        let points = series.points.iter().map(|point| (point.x, point.y));
        lines.push(Line::new(
            &series.name,
            series.mark,
            chart.upward.factor(),
            points,
        )?);
    }
    let mut sheet = Sheet::new(WIDTH, BODY, &chart.title, &chart.note)?;
    let names = lines.iter().map(|line| (line.name, true));
    let limits = chart
        .thresholds
        .iter()
        .map(|limit| (limit.name.as_str(), false));
    let right = room_for(names.chain(limits), LABEL_ROOM)?;
    let (x_range, y_range) = ranges(chart, &lines);
    let axes = Axes {
        x_title: &chart.x_label,
        y_title: &chart.y_label,
        x_range,
        y_range,
        x_spacing: match chart.across {
            Across::Numbers | Across::Choices(_) => Spacing::Even,
            Across::Metres => GAP_SPACING,
        },
        x_ticks: x_ticks(chart, &lines, x_range),
        y_ticks: match chart.upward {
            Upward::Shares => percent_ticks(y_range),
            Upward::Amounts | Upward::Numbers => plain_ticks(y_range, WANTED_TICKS.1),
        },
        strip_rows: chart.crossings.len(),
        label_room: right,
        labels: Side::Right,
    };
    let panel = draw_axes(&mut sheet.scene, sheet.room, &axes)?;
    mark_crossings(&mut sheet.scene, &panel, chart)?;
    let is_joined = !matches!(chart.across, Across::Choices(_));
    draw_series(&mut sheet.scene, &panel, &lines, (chart.strokes, is_joined));
    let mut labels: Vec<_> = lines.iter().filter_map(|l| end_label(&panel, l)).collect();
    if labels.is_empty() {
        sheet.no_data(panel.area);
    }
    for limit in &chart.thresholds {
        let value = limit.value * chart.upward.factor();
        labels.push(threshold(&mut sheet.scene, &panel, value, &limit.name));
    }
    draw_end_labels(&mut sheet.scene, panel.area, (Side::Right, right), labels)?;
    sheet.render()
}

fn draw_series(
    scene: &mut Scene,
    panel: &Panel,
    lines: &[Line],
    (strokes, is_joined): (bool, bool),
) {
    let middle = (lines.len() as f64 - 1.0) / 2.0;
    for (index, line) in lines.iter().enumerate() {
        let beside = (index as f64 - middle) * STROKES_APART;
        let intervals = match (strokes, is_joined) {
            (_, false) => Intervals::Alone(beside),
            (true, true) => Intervals::Whiskers(beside),
            (false, true) => Intervals::Band,
        };
        draw_line(scene, panel, line, intervals);
    }
}

fn x_ticks(chart: &CurveChart, lines: &[Line], range: (f64, f64)) -> Vec<Tick> {
    if x_extent(lines).is_none() && chart.crossings.is_empty() {
        return Vec::new();
    }
    match &chart.across {
        Across::Numbers => plain_ticks(range, WANTED_TICKS.0),
        Across::Metres => gap_ticks(range),
        Across::Choices(names) => names
            .iter()
            .enumerate()
            .map(|(index, name)| Tick {
                value: index as f64,
                label: name.clone(),
                second: String::new(),
            })
            .collect(),
    }
}

/// Draws net yield against attraction ratio, with the line of no net change.
///
/// # Errors
/// As [`curve_chart`].
pub fn yield_chart(chart: &YieldChart) -> Result<Rendered, ChartError> {
    curve_chart(&CurveChart {
        title: chart.title.clone(),
        note: chart.note.clone(),
        x_label: "Attraction at its peak: eggs on a fresh stem per egg on a mature stem (ratio)"
            .to_owned(),
        y_label: format!(
            "Net yield: larvae reaching pupation per stem, {} (ratio)",
            chart.compared
        ),
        series: vec![CurveSeries {
            name: "net yield".to_owned(),
            mark: COMPARISON,
            points: chart.points.clone(),
        }],
        thresholds: vec![Threshold {
            value: 1.0,
            name: "no net change".to_owned(),
        }],
        crossings: chart.break_even.clone().into_iter().collect(),
        across: Across::Numbers,
        upward: Upward::Amounts,
        strokes: false,
    })
}

fn ranges(chart: &CurveChart, lines: &[Line]) -> ((f64, f64), (f64, f64)) {
    let marked = chart.crossings.iter().flat_map(|crossing| {
        let bounds = [Some(crossing.value), crossing.low, crossing.high];
        bounds.into_iter().flatten()
    });
    let x_data = x_extent(lines).map(|(low, high)| [low, high]);
    let x_range = match extent(marked.chain(x_data.into_iter().flatten())) {
        // No headroom: the first and the last value tried are the edges.
        Some((_, high)) if matches!(chart.across, Across::Choices(_)) => {
            (-CHOICE_ROOM, high + CHOICE_ROOM)
        }
        Some((low, high)) if chart.across == Across::Metres && high > 0.0 => (low.min(0.0), high),
        Some((low, high)) if low < high => (low, high),
        Some(single) => drawn_range(single, false),
        None => EMPTY_RANGE,
    };
    let factor = chart.upward.factor();
    let limits = chart.thresholds.iter().map(|limit| limit.value * factor);
    let y_data = y_extent(lines).map(|(low, high)| [low, high]);
    let y_range = extent(limits.chain(y_data.into_iter().flatten()));
    let from_zero = chart.upward != Upward::Numbers;
    let y_range = y_range.map_or(EMPTY_RANGE, |reach| drawn_range(reach, from_zero));
    (x_range, y_range)
}

pub(super) fn plain_ticks(range: (f64, f64), wanted: f64) -> Vec<Tick> {
    ticks(range, wanted)
        .into_iter()
        .map(|(value, label)| Tick {
            value,
            label,
            second: String::new(),
        })
        .collect()
}

/// Shades and lines first, names after: a line may pass behind a name of
/// another crossing.
fn mark_crossings(scene: &mut Scene, panel: &Panel, chart: &CurveChart) -> Result<(), ChartError> {
    let crossings = &chart.crossings;
    for (row, crossing) in crossings.iter().enumerate() {
        if crossing.low.is_some() || crossing.high.is_some() {
            let span = (
                crossing.low.unwrap_or(f64::MIN),
                crossing.high.unwrap_or(f64::MAX),
            );
            shade(scene, panel, span, SPAN_OPACITY);
        }
        upright(scene, panel, crossing.value, row);
    }
    for (row, crossing) in crossings.iter().enumerate() {
        let at = panel.x.at(crossing.value);
        let text = crossing_words(crossing, &chart.across);
        strip_label(scene, panel, at, (&text, true), row, Beside::Above)?;
    }
    Ok(())
}

fn crossing_words(crossing: &Crossing, across: &Across) -> String {
    let value = crossing.value;
    let numbers = [Some(value), crossing.low, crossing.high];
    let counted = numbers
        .into_iter()
        .flatten()
        .all(|number| number.fract() == 0.0);
    let reference = if counted { WHOLE } else { value };
    let mut text = match across {
        Across::Numbers | Across::Choices(_) => {
            format!("{} {}", crossing.name, plain(value, reference))
        }
        Across::Metres => format!("{} {}", crossing.name, metres_and_yards(value)),
    };
    if crossing.low.is_some() || crossing.high.is_some() {
        let bounds = interval(crossing.low, crossing.high, reference);
        text.push_str(&format!(" ({bounds})"));
    }
    text
}
