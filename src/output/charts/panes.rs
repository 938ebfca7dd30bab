//! Several figures of the same few things side by side: a pane a figure, a row a thing, the rows shared by all panes.

use super::axes::{Scale, drawn_range, extent, ticks};
use super::scene::{Align, Lettering, Scene, ink, text_width, wrap};
use super::sheet::{Area, Sheet};
use super::style::{
    AXIS, GRID, LABEL_SIZE, LINE_SPACING, MARKER_RADIUS, MEDIUM_WIDTH, Mark, SMALL_SIZE, Shape,
    Stroke, TEXT, TEXT_QUIET, THIN_WIDTH,
};
use super::{ChartError, Estimate, Rendered, defined};

/// Width of the chart in SVG units.
const WIDTH: f64 = 900.0;
/// Panes beside each other.
const ACROSS: usize = 3;
/// Space between panes.
const BETWEEN: f64 = 26.0;
/// Height of a row.
const ROW: f64 = 23.0;
/// Lines of a pane's heading.
const HEADING_LINES: usize = 2;
/// Height of a pane below its rows: ticks and the space to the next band of panes.
const BELOW: f64 = 56.0;
/// Space between a heading and the first row.
const HEADING_GAP: f64 = 6.0;
/// Most room for the names of rows.
const MOST_LABEL: f64 = 190.0;
/// Space between the names and the first pane.
const LABEL_GAP: f64 = 12.0;
/// Ticks wanted on an axis.
const TICKS: f64 = 3.0;
/// Length of a tick.
const TICK: f64 = 5.0;
/// Half the height of an interval's end strokes.
const CAP: f64 = 4.0;
/// Depth of the arrow head of an interval that goes on beyond the pane.
const ARROW: f64 = 6.0;
/// Distance from a baseline to the middle of small letters, in em.
const LETTER_MIDDLE: f64 = 0.32;
/// How many times a logarithmic axis may reach beyond the largest value before intervals run off it.
const LOG_REACH: f64 = 20.0;

/// Data of [`panes_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct PanesChart {
    /// The finding, as a sentence.
    pub title: String,
    /// What markers and intervals are; may be empty.
    pub note: String,
    /// Names of the rows, from the top.
    pub rows: Vec<String>,
    /// Row that the others are held against.
    pub reference: usize,
    /// The panes, in the order of reading.
    pub panes: Vec<Pane>,
}

/// One figure of all rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Pane {
    /// What it is, with its unit.
    pub heading: String,
    /// Whether the axis is logarithmic; values must then be above 0.
    pub is_logarithmic: bool,
    /// Values, row by row; `None` where undefined.
    pub cells: Vec<Option<Estimate>>,
}

/// Draws the panes.
///
/// # Errors
/// [`ChartError::OutOfRange`] for a value too large to be drawn; otherwise an error of the drawing library.
pub fn panes_chart(chart: &PanesChart) -> Result<Rendered, ChartError> {
    let bands = chart.panes.len().div_ceil(ACROSS).max(1);
    let heading = HEADING_LINES as f64 * LABEL_SIZE * LINE_SPACING + HEADING_GAP;
    let rows = chart.rows.len() as f64 * ROW;
    let band = heading + rows + BELOW;
    let mut sheet = Sheet::new(WIDTH, band * bands as f64, &chart.title, &chart.note)?;
    let room = sheet.room;
    if chart.panes.is_empty() || chart.rows.is_empty() {
        sheet.no_data(room);
    }
    let style = Lettering::new(SMALL_SIZE);
    let mut widest = 0.0_f64;
    for name in &chart.rows {
        widest = widest.max(text_width(name, style.bold())?);
    }
    let names = widest.min(MOST_LABEL);
    let first = room.left + names + LABEL_GAP;
    let width = (room.right - first - BETWEEN * (ACROSS - 1) as f64) / ACROSS as f64;
    for (index, pane) in chart.panes.iter().enumerate() {
        let (column, line) = (index % ACROSS, index / ACROSS);
        let left = first + column as f64 * (width + BETWEEN);
        let top = room.top + line as f64 * band + heading;
        let area = Area {
            left,
            top,
            right: left + width,
            bottom: top + rows,
        };
        if column == 0 {
            row_names(&mut sheet.scene, chart, (room.left + names, names), top)?;
        }
        draw_pane(&mut sheet.scene, area, pane, chart.reference)?;
    }
    sheet.render()
}

/// Middle of a row.
fn middle(top: f64, row: usize) -> f64 {
    top + (row as f64 + 0.5) * ROW
}

fn row_names(
    scene: &mut Scene,
    chart: &PanesChart,
    (right, width): (f64, f64),
    top: f64,
) -> Result<(), ChartError> {
    for (row, name) in chart.rows.iter().enumerate() {
        let plain = Lettering::new(SMALL_SIZE).align(Align::Right);
        let style = if row == chart.reference {
            plain.bold()
        } else {
            plain
        };
        let (lines, _) = wrap(name, style, width, 1)?;
        let baseline = middle(top, row) + SMALL_SIZE * LETTER_MIDDLE;
        scene.text(
            lines.first().map_or("", String::as_str),
            (right, baseline),
            style,
        );
    }
    Ok(())
}

/// A pane's axis: where a value stands, and its ticks.
struct Axis {
    scale: Scale,
    is_logarithmic: bool,
    ticks: Vec<(f64, String)>,
}

impl Axis {
    fn of(pane: &Pane, area: Area) -> Option<Self> {
        let ends = (area.left, area.right);
        let cells = || pane.cells.iter().flatten();
        let finite = |value: &f64| value.is_finite();
        if pane.is_logarithmic {
            let values = cells().map(|cell| cell.value).filter(|value| *value > 0.0);
            let (least, most) = extent(values.filter(finite))?;
            let within = |value: &f64| (least / LOG_REACH..=most * LOG_REACH).contains(value);
            let all = cells().flat_map(|cell| [cell.low, cell.value, cell.high]);
            let (low, high) = extent(all.filter(within))?;
            let range = drawn_range((low.log10(), high.log10()), false);
            return Some(Self {
                scale: Scale::new(range, ends),
                is_logarithmic: true,
                ticks: decades(range),
            });
        }
        let all = cells().flat_map(|cell| [cell.low, cell.value, cell.high]);
        let reach = extent(all.filter(finite))?;
        // Zero belongs on the axis unless all values lie far from it.
        let from_zero = reach.0 <= (reach.1 - reach.0);
        let range = drawn_range(reach, from_zero);
        Some(Self {
            scale: Scale::new(range, ends),
            is_logarithmic: false,
            ticks: ticks(range, TICKS),
        })
    }

    fn place(&self, value: f64) -> f64 {
        if self.is_logarithmic {
            value.max(f64::MIN_POSITIVE).log10()
        } else {
            value
        }
    }

    fn at(&self, value: f64) -> f64 {
        self.scale.at(self.place(value))
    }

    fn holds(&self, value: f64) -> bool {
        self.scale.holds(self.place(value))
    }
}

/// Round values of a logarithmic axis within a range of powers of ten: 1, 2 and 5 where there is room, else 1.
fn decades(range: (f64, f64)) -> Vec<(f64, String)> {
    /// Decades over which each power of ten has three ticks.
    const FEW: f64 = 1.5;
    let digits: &[f64] = if range.1 - range.0 <= FEW {
        &[1.0, 2.0, 5.0]
    } else {
        &[1.0]
    };
    let powers = range.0.floor() as i32..=range.1.ceil() as i32;
    let values = powers.flat_map(|power| digits.iter().map(move |d| d * 10f64.powi(power)));
    values
        .filter(|value| (range.0..=range.1).contains(&value.log10()))
        .map(|value| (value, value.to_string()))
        .collect()
}

fn draw_pane(
    scene: &mut Scene,
    area: Area,
    pane: &Pane,
    reference: usize,
) -> Result<(), ChartError> {
    let title = Lettering::new(LABEL_SIZE).colour(TEXT);
    let (lines, _) = wrap(&pane.heading, title, area.width(), HEADING_LINES)?;
    let first = area.top - HEADING_GAP - (lines.len() as f64 - 0.5) * title.leading();
    scene.lines(&lines, (area.left, first), title);
    for row in 0..pane.cells.len() {
        let y = middle(area.top, row);
        scene.line((area.left, y), (area.right, y), ink(GRID), THIN_WIDTH);
    }
    let axis = Axis::of(pane, area);
    let quiet = Lettering::new(SMALL_SIZE).colour(TEXT_QUIET);
    if let Some(axis) = &axis {
        let foot = (area.left, area.bottom);
        scene.line(foot, (area.right, area.bottom), ink(AXIS), THIN_WIDTH);
        for (value, label) in &axis.ticks {
            let x = axis.at(*value);
            let end = (x, area.bottom + TICK);
            scene.line((x, area.bottom), end, ink(AXIS), THIN_WIDTH);
            let baseline = area.bottom + TICK + SMALL_SIZE * LINE_SPACING;
            let half = text_width(label, quiet)? / 2.0;
            let within = x.clamp(
                area.left + half - BETWEEN / 2.0,
                area.right - half + BETWEEN / 2.0,
            );
            scene.text(label, (within, baseline), quiet.align(Align::Middle));
        }
        if let Some(Some(cell)) = pane.cells.get(reference)
            && let Some(value) = defined(&pane.heading, cell.value)?
        {
            let x = axis.at(value);
            let line = [(x, area.top), (x, area.bottom)];
            scene.dashed(&line, Stroke::Dotted.pattern(), ink(TEXT), THIN_WIDTH);
        }
    }
    for (row, cell) in pane.cells.iter().enumerate() {
        let y = middle(area.top, row);
        match (&axis, cell) {
            (Some(axis), Some(cell)) => {
                draw_cell(scene, area, axis, (cell, y), row == reference)?;
            }
            _ => {
                let baseline = y + SMALL_SIZE * LETTER_MIDDLE;
                let size = text_width("undefined", quiet)?;
                let from = (area.left, y - SMALL_SIZE / 2.0);
                let to = (area.left + size + CAP, y + SMALL_SIZE / 2.0);
                scene.rectangle(from, to, ink(scene.background));
                scene.text("undefined", (area.left, baseline), quiet);
            }
        }
    }
    Ok(())
}

fn draw_cell(
    scene: &mut Scene,
    area: Area,
    axis: &Axis,
    (cell, y): (&Estimate, f64),
    is_reference: bool,
) -> Result<(), ChartError> {
    let Some(value) = defined("a value", cell.value)? else {
        return Ok(());
    };
    let solid = ink(TEXT);
    if !cell.low.is_nan() && !cell.high.is_nan() {
        let (left, right) = (axis.at(cell.low), axis.at(cell.high));
        scene.line((left, y), (right, y), solid, MEDIUM_WIDTH);
        for (x, end, inwards) in [(left, cell.low, ARROW), (right, cell.high, -ARROW)] {
            let head = if axis.holds(end) {
                vec![(x, y - CAP), (x, y + CAP)]
            } else {
                vec![(x + inwards, y - CAP), (x, y), (x + inwards, y + CAP)]
            };
            scene.path(head, solid, MEDIUM_WIDTH);
        }
    }
    let shape = if is_reference {
        Shape::OpenSquare
    } else {
        Shape::Disc
    };
    let mark = Mark {
        colour: TEXT,
        shape,
        stroke: Stroke::Solid,
    };
    let x = axis.at(value).clamp(area.left, area.right);
    scene.marker(mark, (x, y), MARKER_RADIUS);
    Ok(())
}
