//! A value over two settings: a cell for each pair, shaded by its value, and the line along which a limit is met.

mod bar;
mod limit;

use super::axes::plain;
use super::curve::Threshold;
use super::scene::{Align, Lettering, Point, Scene, ink, text_width, wrap};
use super::sheet::{Area, Sheet};
use super::style::{
    AXIS, BACKGROUND, LABEL_SIZE, SMALL_SIZE, TEXT, TEXT_QUIET, THIN_WIDTH, letters_on, shade_of,
};
use super::{ChartError, Rendered, defined, required};
use bar::draw_bar;
use limit::draw_limit;

/// Width of the chart in SVG units.
const WIDTH: f64 = 960.0;
/// Height between title and note.
const BODY: f64 = 520.0;
/// Room for the bar of shades with its labels.
const BAR_ROOM: f64 = 190.0;
/// Space between labels and what they name.
const GAP: f64 = 8.0;
/// Space between a title and what follows it.
const TITLE_GAP: f64 = 12.0;
/// Axis titles run over at most this many lines.
const TITLE_LINES: usize = 2;
/// Distance from a baseline to the middle of its digits, in em.
const DIGIT_MIDDLE: f64 = 0.36;
/// Space left of and right of a cell's number.
const CELL_PADDING: f64 = 5.0;
/// From this many lines of text on a cell is high enough for its number to stand at its foot.
const HIGH_CELL: f64 = 3.0;
/// Distance between the strokes of a hatched cell.
const HATCH: f64 = 11.0;
/// Percent in a whole.
const PERCENT: f64 = 100.0;
/// Range of the bar when nothing is defined.
const EMPTY_RANGE: (f64, f64) = (0.0, 1.0);

/// Data of [`heat_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct HeatChart {
    /// The finding, as a sentence.
    pub title: String,
    /// Where the numbers come from; may be empty.
    pub note: String,
    /// The horizontal setting.
    pub across: HeatAxis,
    /// The vertical setting, the first value at the bottom.
    pub upward: HeatAxis,
    /// `rows[y][x]`, `None` where the value is undefined; as many rows and columns as the axes have values.
    pub rows: Vec<Vec<Option<f64>>>,
    /// What the shades show; the unit is added.
    pub value_label: String,
    /// Whether the values are shares, 0 to 1, drawn in percent.
    pub is_share: bool,
    /// A value at which something changes: drawn as a line.
    pub limit: Option<Threshold>,
}

/// One setting.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatAxis {
    /// What it is, with its unit.
    pub title: String,
    /// Labels of its values; numbers ascending.
    pub labels: Vec<String>,
    /// Whether the values are numbers, between which a limit can be read off, rather than choices.
    pub is_numeric: bool,
}

/// Draws a value over two settings.
///
/// # Errors
/// [`ChartError::OutOfRange`] for an undefined limit or numbers too large to draw; otherwise an error of the drawing
/// library.
pub fn heat_chart(chart: &HeatChart) -> Result<Rendered, ChartError> {
    let factor = if chart.is_share { PERCENT } else { 1.0 };
    let mut rows = Vec::with_capacity(chart.rows.len());
    for row in &chart.rows {
        let clean = row.iter().map(|value| match value {
            Some(value) => defined(&chart.value_label, value * factor),
            None => Ok(None),
        });
        rows.push(clean.collect::<Result<Vec<_>, _>>()?);
    }
    let limit = match &chart.limit {
        Some(limit) => Some((required(&limit.name, limit.value)? * factor, &limit.name)),
        None => None,
    };
    let range = range(&rows, chart.is_share);
    let mut sheet = Sheet::new(WIDTH, BODY, &chart.title, &chart.note)?;
    let grid = draw_axes(&mut sheet.scene, sheet.room, chart)?;
    if grid.columns == 0 || grid.rows == 0 {
        sheet.no_data(grid.area);
        return sheet.render();
    }
    let numbers = Numbers {
        range,
        is_share: chart.is_share,
    };
    draw_cells(&mut sheet.scene, &grid, &rows, numbers);
    if let Some((level, _)) = limit {
        let numeric = (chart.across.is_numeric, chart.upward.is_numeric);
        draw_limit(&mut sheet.scene, &grid, &rows, level, numeric);
    }
    write_values(&mut sheet.scene, &grid, &rows, numbers)?;
    draw_bar(&mut sheet.scene, &grid, numbers, limit)?;
    sheet.render()
}

/// The cells on paper.
#[derive(Debug, Clone, Copy)]
struct Grid {
    area: Area,
    columns: usize,
    rows: usize,
}

impl Grid {
    fn cell(&self) -> (f64, f64) {
        (
            self.area.width() / self.columns as f64,
            (self.area.bottom - self.area.top) / self.rows as f64,
        )
    }

    /// Place of a position in cells, (0, 0) being the middle of the lowest cell on the left.
    fn at(&self, (x, y): Point) -> Point {
        let (wide, high) = self.cell();
        (
            self.area.left + (x + 0.5) * wide,
            self.area.bottom - (y + 0.5) * high,
        )
    }
}

/// How values are shaded and written.
#[derive(Debug, Clone, Copy)]
struct Numbers {
    range: (f64, f64),
    is_share: bool,
}

impl Numbers {
    fn part(self, value: f64) -> f64 {
        (value - self.range.0) / (self.range.1 - self.range.0)
    }

    fn text(self, value: f64) -> String {
        if self.is_share {
            plain(value, 1.0)
        } else {
            format!("{value:.2}")
        }
    }
}

fn range(rows: &[Vec<Option<f64>>], from_zero: bool) -> (f64, f64) {
    let values = || rows.iter().flatten().flatten().copied();
    let low = values().fold(f64::INFINITY, f64::min);
    let high = values().fold(f64::NEG_INFINITY, f64::max);
    let low = if from_zero { low.min(0.0) } else { low };
    match (low.is_finite(), low < high) {
        (true, true) => (low, high),
        // All alike: some room on both sides, so that the shade is one of the middle.
        (true, false) => (low - 0.5, low + 0.5),
        _ => EMPTY_RANGE,
    }
}

fn draw_axes(scene: &mut Scene, room: Area, chart: &HeatChart) -> Result<Grid, ChartError> {
    let small = Lettering::new(SMALL_SIZE).colour(TEXT_QUIET);
    let title = Lettering::new(LABEL_SIZE).colour(TEXT);
    let mut widest = 0.0_f64;
    for label in &chart.upward.labels {
        widest = widest.max(text_width(label, small)?);
    }
    // A long choice by name may take a third of the width; the rest of it is cut off.
    let widest = widest.min(room.width() / 3.0);
    let unit = if chart.is_share { " (%)" } else { " (ratio)" };
    let shades = format!("Shade: {}{unit}", chart.value_label);
    let (shade_lines, _) = wrap(&shades, title, room.width(), TITLE_LINES)?;
    let upwards = format!("Upwards: {}", chart.upward.title);
    let (y_lines, _) = wrap(&upwards, title, room.width(), TITLE_LINES)?;
    let (x_lines, _) = wrap(&chart.across.title, title, room.width(), TITLE_LINES)?;
    let after = scene.lines(&shade_lines, (room.left, room.top + LABEL_SIZE), title);
    let after = scene.lines(&y_lines, (room.left, after), title);
    let below = GAP + small.leading() + TITLE_GAP + x_lines.len() as f64 * title.leading();
    let grid = Grid {
        area: Area {
            left: room.left + widest + GAP,
            top: after - LABEL_SIZE + TITLE_GAP,
            right: room.right - BAR_ROOM,
            bottom: room.bottom - below,
        },
        columns: chart.across.labels.len(),
        rows: chart.upward.labels.len(),
    };
    let (wide, high) = (grid.area.width(), grid.area.bottom - grid.area.top);
    let mut widest_label = 0.0_f64;
    for label in &chart.across.labels {
        widest_label = widest_label.max(text_width(label, small)?);
    }
    let every = |room: f64, needed: f64, count: usize| {
        ((needed * count as f64 / room).ceil() as usize).max(1)
    };
    let step = every(wide, widest_label + GAP, grid.columns);
    for (index, label) in chart.across.labels.iter().enumerate().step_by(step) {
        let (x, _) = grid.at((index as f64, 0.0));
        let baseline = grid.area.bottom + GAP + SMALL_SIZE;
        let room = wide / grid.columns as f64 * step as f64;
        written(
            scene,
            label,
            (x, baseline),
            small.align(Align::Middle),
            room,
        )?;
    }
    let step = every(high, small.leading(), grid.rows);
    for (index, label) in chart.upward.labels.iter().enumerate().step_by(step) {
        let (_, y) = grid.at((0.0, index as f64));
        let place = (grid.area.left - GAP, y + SMALL_SIZE * DIGIT_MIDDLE);
        written(scene, label, place, small.align(Align::Right), widest + 1.0)?;
    }
    let first = (
        grid.area.left.midpoint(grid.area.right),
        room.bottom - (x_lines.len() as f64 - 1.0) * title.leading(),
    );
    scene.lines(&x_lines, first, title.align(Align::Middle));
    Ok(grid)
}

/// One line of text, cut off where it would be wider than its room.
fn written(
    scene: &mut Scene,
    text: &str,
    place: Point,
    style: Lettering,
    room: f64,
) -> Result<(), ChartError> {
    let (lines, _) = wrap(text, style, room, 1)?;
    scene.lines(&lines, place, style);
    Ok(())
}

/// Calls `each` with column, row and value of every cell.
fn each_cell(grid: &Grid, rows: &[Vec<Option<f64>>], mut each: impl FnMut(Point, Option<f64>)) {
    for (y, row) in rows.iter().take(grid.rows).enumerate() {
        for (x, value) in row.iter().take(grid.columns).enumerate() {
            each(grid.at((x as f64, y as f64)), *value);
        }
    }
}

fn draw_cells(scene: &mut Scene, grid: &Grid, rows: &[Vec<Option<f64>>], numbers: Numbers) {
    let (wide, high) = grid.cell();
    each_cell(grid, rows, |(x, y), value| {
        let from = (x - wide / 2.0, y - high / 2.0);
        let to = (x + wide / 2.0, y + high / 2.0);
        match value {
            Some(value) => scene.rectangle(from, to, ink(shade_of(numbers.part(value)))),
            None => hatch(scene, from, to),
        }
    });
}

/// Writes the values where there is room: at the foot of high cells, for the line of the limit often runs through
/// their middles.
fn write_values(
    scene: &mut Scene,
    grid: &Grid,
    rows: &[Vec<Option<f64>>],
    numbers: Numbers,
) -> Result<(), ChartError> {
    let (wide, high) = grid.cell();
    let style = Lettering::new(SMALL_SIZE).align(Align::Middle);
    let drop = if high >= HIGH_CELL * style.leading() {
        high / 2.0 - style.leading() / 2.0 - CELL_PADDING
    } else {
        0.0
    };
    let mut texts = Vec::new();
    each_cell(grid, rows, |(x, y), value| {
        texts.push(match value {
            Some(value) => {
                let colour = letters_on(numbers.part(value));
                ((x, y + drop), numbers.text(value), colour, false)
            }
            None => ((x, y), "undefined".to_owned(), TEXT, true),
        });
    });
    for ((x, y), text, colour, on_paper) in texts {
        let width = text_width(&text, style)?;
        if width + 2.0 * CELL_PADDING > wide || style.leading() > high {
            continue;
        }
        if on_paper {
            let (across, up) = (width / 2.0 + CELL_PADDING, style.leading() / 2.0);
            let paper = ink(BACKGROUND);
            scene.rectangle((x - across, y - up), (x + across, y + up), paper);
        }
        let baseline = (x, y + SMALL_SIZE * DIGIT_MIDDLE);
        scene.text(&text, baseline, style.colour(colour));
    }
    Ok(())
}

/// Slanted strokes across a cell without a value.
fn hatch(scene: &mut Scene, from: Point, to: Point) {
    let (wide, high) = (to.0 - from.0, to.1 - from.1);
    let mut along = HATCH / 2.0;
    while along < wide + high {
        // Strokes from the upper edge (or the right one) down to the left edge (or the lower one).
        let upper = if along <= wide {
            (from.0 + along, from.1)
        } else {
            (to.0, from.1 + along - wide)
        };
        let lower = if along <= high {
            (from.0, from.1 + along)
        } else {
            (from.0 + along - high, to.1)
        };
        scene.line(upper, lower, ink(AXIS), THIN_WIDTH);
        along += HATCH;
    }
}
