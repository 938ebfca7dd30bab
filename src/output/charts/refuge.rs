//! Late-stage larvae in each half of a patch against the refuge share.

use super::axes::{Spacing, drawn_range};
use super::curve::plain_ticks;
use super::gap::percent_ticks;
use super::labels::{Side, draw_end_labels, room_for};
use super::panel::{Axes, Intervals, Line, draw_axes, draw_line, end_label, start_label, y_extent};
use super::scene::{Lettering, Scene, wrap};
use super::sheet::{Area, Sheet};
use super::style::{CUT_HALF, LABEL_SIZE, Mark, OTHER_PATCH, REFUGE_HALF, TEXT, for_letters};
use super::{ChartError, Estimate, Rendered, required_share};

/// Width of the chart in SVG units.
const WIDTH: f64 = 1060.0;
/// Height between title and note.
const BODY: f64 = 500.0;
/// Widest room for direct labels, in each panel.
const LABEL_ROOM: f64 = 130.0;
/// Space between the panels.
const BETWEEN: f64 = 26.0;
/// The count's label runs over at most this many lines.
const LABEL_LINES: usize = 2;
/// Height of a panel's heading.
const HEADING: f64 = 34.0;
/// About this many ticks along the count.
const COUNT_TICKS: f64 = 5.0;
/// Percent in a whole; also the end of the share axis.
const PERCENT: f64 = 100.0;
/// Drawn range of the count when there is nothing to draw.
const EMPTY_RANGE: (f64, f64) = (0.0, 1.0);
/// A little room beside 0 % and 100 %, so that markers do not touch the edge.
const SHARE_RANGE: (f64, f64) = (-3.0, 103.0);

/// Half of a treated patch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Half {
    /// The half left standing.
    Refuge,
    /// The half that is cut.
    Cut,
}

/// Where a larva was laid as an egg.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NatalPlace {
    /// In the refuge half of the same patch.
    RefugeHalf,
    /// In the cut half of the same patch.
    CutHalf,
    /// In another patch.
    OtherPatch,
}

impl NatalPlace {
    /// Look of larvae laid here, the same in every chart.
    #[must_use]
    pub fn mark(self) -> Mark {
        match self {
            Self::RefugeHalf => REFUGE_HALF,
            Self::CutHalf => CUT_HALF,
            Self::OtherPatch => OTHER_PATCH,
        }
    }

    fn label(self) -> &'static str {
        match self {
            Self::RefugeHalf => "laid in the refuge\u{a0}half",
            Self::CutHalf => "laid in the cut\u{a0}half",
            Self::OtherPatch => "laid in another\u{a0}patch",
        }
    }
}

/// Data of [`refuge_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct RefugeChart {
    /// The finding, as a sentence.
    pub title: String,
    /// What the bands are and where the numbers come from; may be empty.
    pub note: String,
    /// What is counted, with its unit, e.g. "Late-stage larvae present at the
    /// surveys (mean number per season)".
    pub count_label: String,
    /// One series for each pair of standing and natal place that occurs.
    pub series: Vec<RefugeSeries>,
}

/// Larvae that stand in one half and were laid in one place.
#[derive(Debug, Clone, PartialEq)]
pub struct RefugeSeries {
    /// Half in which the larvae are counted.
    pub standing: Half,
    /// Place where they were laid.
    pub laid: NatalPlace,
    /// Points in any order.
    pub points: Vec<RefugePoint>,
}

/// Count at one refuge share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RefugePoint {
    /// Part of the patch left standing, 0 to 1.
    pub refuge_share: f64,
    /// Mean count; `None` where the half or the natal place does not exist.
    pub larvae: Option<Estimate>,
}

/// Draws counts against refuge share, one panel per half counted in.
///
/// # Errors
/// [`ChartError::OutOfRange`] for a refuge share outside 0 to 1 or numbers
/// too large to draw; otherwise an error of the drawing library.
pub fn refuge_chart(chart: &RefugeChart) -> Result<Rendered, ChartError> {
    for point in chart.series.iter().flat_map(|series| &series.points) {
        required_share("refuge share", point.refuge_share)?;
    }
    let refuge = panel_lines(chart, Half::Refuge)?;
    let cut = panel_lines(chart, Half::Cut)?;
    let all: Vec<Line> = refuge.iter().chain(&cut).cloned().collect();
    let range = y_extent(&all).map_or(EMPTY_RANGE, |reach| drawn_range(reach, true));
    let label_room = room_for(all.iter().map(|line| (line.name, true)), LABEL_ROOM)?;

    let mut sheet = Sheet::new(WIDTH, BODY, &chart.title, &chart.note)?;
    let style = Lettering::new(LABEL_SIZE).colour(TEXT);
    let (lines, _) = wrap(&chart.count_label, style, sheet.room.width(), LABEL_LINES)?;
    let first = (sheet.room.left, sheet.room.top + LABEL_SIZE);
    let after = sheet.scene.lines(&lines, first, style);
    let room = Area {
        top: after - LABEL_SIZE / 2.0,
        ..sheet.room
    };
    let middle = room.left.midpoint(room.right);
    let left_room = Area {
        right: middle - BETWEEN / 2.0,
        ..room
    };
    let right_room = Area {
        left: middle + BETWEEN / 2.0,
        ..room
    };
    // Names stand where the lines part: at a whole refuge in the refuge half, at none in the cut half.
    let panels = [
        (
            (left_room, Side::Right),
            &refuge,
            ("Standing in the refuge half", REFUGE_HALF),
        ),
        (
            (right_room, Side::Left),
            &cut,
            ("Standing in the cut half", CUT_HALF),
        ),
    ];
    for (place, lines, heading) in panels {
        draw_half(&mut sheet, place, lines, heading, (range, label_room))?;
    }
    sheet.render()
}

fn panel_lines(chart: &RefugeChart, half: Half) -> Result<Vec<Line<'_>>, ChartError> {
    chart
        .series
        .iter()
        .filter(|series| series.standing == half)
        .map(|series| {
            let points = series.points.iter();
            let points = points.map(|point| (point.refuge_share * PERCENT, point.larvae));
            Line::new(series.laid.label(), series.laid.mark(), 1.0, points)
        })
        .collect()
}

fn draw_half(
    sheet: &mut Sheet,
    (room, side): (Area, Side),
    lines: &[Line],
    (heading, mark): (&str, Mark),
    (range, label_room): ((f64, f64), f64),
) -> Result<(), ChartError> {
    let left = match side {
        Side::Right => room.left,
        Side::Left => room.left + label_room,
    };
    draw_heading(&mut sheet.scene, (left, room.top), heading, mark);
    let room = Area {
        top: room.top + HEADING,
        ..room
    };
    let axes = Axes {
        x_title: "Refuge share of the patch (%)",
        y_title: "",
        x_range: SHARE_RANGE,
        y_range: range,
        x_spacing: Spacing::Even,
        x_ticks: percent_ticks((0.0, PERCENT)),
        y_ticks: plain_ticks(range, COUNT_TICKS),
        strip_rows: 0,
        label_room,
        labels: side,
    };
    let panel = draw_axes(&mut sheet.scene, room, &axes)?;
    for line in lines {
        draw_line(&mut sheet.scene, &panel, line, Intervals::Band);
    }
    let label = match side {
        Side::Right => end_label,
        Side::Left => start_label,
    };
    let labels: Vec<_> = lines.iter().filter_map(|l| label(&panel, l)).collect();
    if labels.is_empty() {
        sheet.no_data(panel.area);
    }
    draw_end_labels(&mut sheet.scene, panel.area, (side, label_room), labels)
}

/// Heading of a panel, in the colour of the half it is about.
fn draw_heading(scene: &mut Scene, (left, top): (f64, f64), heading: &str, mark: Mark) {
    let baseline = top + LABEL_SIZE;
    let style = Lettering::new(LABEL_SIZE)
        .bold()
        .colour(for_letters(mark.colour));
    scene.text(heading, (left, baseline), style);
}
