//! One study site by site: each site's ratio with its interval, all together at the foot.

use super::axes::{Spacing, plain};
use super::labels::Side;
use super::panel::{Axes, Panel, Tick, draw_axes};
use super::scene::{Align, Lettering, Scene, ink, text_width, wash};
use super::sheet::Sheet;
use super::strip::{Beside, strip_label, upright};
use super::style::{
    COMPARISON, LABEL_SIZE, LINE_WIDTH, MARKER_RADIUS, Mark, SMALL_SIZE, Shape, Stroke, TEXT,
    THIN_WIDTH, for_letters,
};
use super::{ChartError, Estimate, Rendered, defined, required};

/// Width of the chart in SVG units.
const WIDTH: f64 = 820.0;
/// Height of a site's row: its tick label just fits.
const ROW: f64 = 18.0;
/// Height of everything between title and note that is no row.
const AROUND: f64 = 200.0;
/// Ratios with a tick; the axis is drawn on the log scale.
const RATIOS: [f64; 9] = [0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0];
/// Rows below the sites that the pooled result takes.
const POOLED_ROWS: f64 = 2.0;
/// Marker of the smallest and of the largest site, relative to the usual size.
const MARKER_SIZES: (f64, f64) = (0.45, 1.3);
/// Depth of the arrow head of an interval that goes on beyond the axis.
const ARROW: f64 = 6.0;
/// Fill of the pooled interval.
const POOLED_OPACITY: f64 = 0.35;
/// Ratios are written with the decimals of a value of this size.
const DECIMALS_OF: f64 = 0.5;
/// Distance from a baseline to the middle of its digits, in em.
const DIGIT_MIDDLE: f64 = 0.36;
/// Half the height of the pooled interval, in rows.
const POOLED_REACH: f64 = 0.55;

/// Data of [`forest_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct ForestChart {
    /// The finding, as a sentence.
    pub title: String,
    /// What the intervals are; may be empty.
    pub note: String,
    /// Horizontal axis title.
    pub x_label: String,
    /// What the row labels say.
    pub y_label: String,
    /// Sites, from the top.
    pub rows: Vec<ForestRow>,
    /// All sites together: ratio with interval, and its label.
    pub pooled: Option<(Estimate, String)>,
    /// A ratio to be marked, with its name.
    pub marked: Option<(f64, String)>,
}

/// One site.
#[derive(Debug, Clone, PartialEq)]
pub struct ForestRow {
    /// Label, such as the two counts.
    pub label: String,
    /// Ratio with its interval; bounds may be 0 or infinite, and so may the ratio of a site with one empty side.
    pub ratio: f64,
    /// Lower bound.
    pub low: f64,
    /// Upper bound.
    pub high: f64,
    /// Larvae counted, for the size of the marker.
    pub weight: f64,
}

/// Draws one study.
///
/// # Errors
/// [`ChartError::OutOfRange`] for an undefined ratio to be marked; otherwise an error of the drawing library.
pub fn forest_chart(chart: &ForestChart) -> Result<Rendered, ChartError> {
    let rows = chart.rows.len() as f64;
    let body = AROUND + ROW * (rows + POOLED_ROWS);
    let mut sheet = Sheet::new(WIDTH, body, &chart.title, &chart.note)?;
    let (first, last) = (RATIOS[0].ln(), RATIOS[RATIOS.len() - 1].ln());
    let label = |value: f64, label: &str| Tick {
        value,
        label: label.to_owned(),
        second: String::new(),
    };
    let mut y_ticks: Vec<Tick> = chart
        .rows
        .iter()
        .enumerate()
        .map(|(index, row)| label(-(index as f64), &row.label))
        .collect();
    if let Some((_, name)) = &chart.pooled {
        y_ticks.push(label(-rows - POOLED_ROWS / 2.0, name));
    }
    let axes = Axes {
        x_title: &chart.x_label,
        y_title: &chart.y_label,
        x_range: (first, last),
        y_range: (-rows - POOLED_ROWS, 1.0),
        x_spacing: Spacing::Even,
        x_ticks: RATIOS
            .iter()
            .map(|ratio| label(ratio.ln(), &ratio.to_string()))
            .collect(),
        y_ticks,
        strip_rows: 1,
        label_room: LABEL_SIZE,
        labels: Side::Right,
    };
    let panel = draw_axes(&mut sheet.scene, sheet.room, &axes)?;
    if chart.rows.is_empty() {
        sheet.no_data(panel.area);
    }
    mark_ratios(&mut sheet.scene, &panel, chart)?;
    let most = chart.rows.iter().map(|row| row.weight).fold(1.0, f64::max);
    for (index, row) in chart.rows.iter().enumerate() {
        draw_row(&mut sheet.scene, &panel, row, -(index as f64), most)?;
    }
    if let Some((estimate, _)) = &chart.pooled {
        draw_pooled(
            &mut sheet.scene,
            &panel,
            *estimate,
            -rows - POOLED_ROWS / 2.0,
        )?;
    }
    sheet.render()
}

/// The line of no effect and the marked ratio, their names on either side so that they never meet.
fn mark_ratios(scene: &mut Scene, panel: &Panel, chart: &ForestChart) -> Result<(), ChartError> {
    let none = panel.x.at(0.0);
    let ends = [(none, panel.area.top), (none, panel.area.bottom)];
    scene.dashed(&ends, Stroke::Dashed.pattern(), ink(TEXT), THIN_WIDTH);
    let mut sides = (Beside::Above, Beside::Above);
    if let Some((ratio, name)) = &chart.marked {
        let at = required(name, *ratio)?.max(f64::MIN_POSITIVE).ln();
        sides = if at < 0.0 {
            (Beside::After, Beside::Before)
        } else {
            (Beside::Before, Beside::After)
        };
        upright(scene, panel, at, 0);
        strip_label(scene, panel, panel.x.at(at), (name, true), 0, sides.1)?;
    }
    strip_label(scene, panel, none, ("no effect", false), 0, sides.0)
}

fn draw_row(
    scene: &mut Scene,
    panel: &Panel,
    row: &ForestRow,
    y: f64,
    most: f64,
) -> Result<(), ChartError> {
    let y = panel.y.at(y);
    // Zero and infinity have a place on this axis: its edges.
    let at = |ratio: f64| panel.x.at(ratio.clamp(f64::MIN_POSITIVE, f64::MAX).ln());
    if row.low.is_nan() || row.high.is_nan() || row.ratio.is_nan() {
        return Ok(());
    }
    let weight = defined(&row.label, row.weight)?.unwrap_or(0.0);
    let solid = ink(COMPARISON.colour);
    scene.line((at(row.low), y), (at(row.high), y), solid, THIN_WIDTH);
    let (first, last) = (RATIOS[0], RATIOS[RATIOS.len() - 1]);
    for (beyond, end, inwards) in [
        (row.low < first, at(row.low), ARROW),
        (row.high > last, at(row.high), -ARROW),
    ] {
        if beyond && (at(row.ratio) - end).abs() > ARROW {
            let head = [y - ARROW / 2.0, y + ARROW / 2.0].map(|side| (end + inwards, side));
            scene.path(vec![head[0], (end, y), head[1]], solid, THIN_WIDTH);
        }
    }
    let share = (weight / most).clamp(0.0, 1.0).sqrt();
    let size = MARKER_SIZES.0 + (MARKER_SIZES.1 - MARKER_SIZES.0) * share;
    let one_sided = row.ratio == 0.0 || row.ratio.is_infinite();
    let mark = Mark {
        shape: if one_sided { Shape::Ring } else { Shape::Disc },
        ..COMPARISON
    };
    scene.marker(mark, (at(row.ratio), y), MARKER_RADIUS * size);
    Ok(())
}

fn draw_pooled(
    scene: &mut Scene,
    panel: &Panel,
    estimate: Estimate,
    y: f64,
) -> Result<(), ChartError> {
    let at = |ratio: f64| panel.x.at(ratio.clamp(f64::MIN_POSITIVE, f64::MAX).ln());
    let middle = panel.y.at(y);
    let (top, bottom) = (panel.y.at(y + POOLED_REACH), panel.y.at(y - POOLED_REACH));
    let (left, centre, right) = (at(estimate.low), at(estimate.value), at(estimate.high));
    let mut corners = vec![
        (left, middle),
        (centre, top),
        (right, middle),
        (centre, bottom),
    ];
    scene.fill(corners.clone(), wash(COMPARISON.colour, POOLED_OPACITY));
    corners.push((left, middle));
    scene.path(corners, ink(COMPARISON.colour), LINE_WIDTH);
    let words = |ratio: f64| {
        if ratio.is_finite() {
            plain(ratio, DECIMALS_OF)
        } else {
            "no bound".to_owned()
        }
    };
    let text = format!(
        "{} ({}–{})",
        words(estimate.value),
        words(estimate.low),
        words(estimate.high)
    );
    let style = Lettering::new(SMALL_SIZE)
        .bold()
        .colour(for_letters(COMPARISON.colour));
    let baseline = middle + SMALL_SIZE * DIGIT_MIDDLE;
    let after = right + MARKER_RADIUS;
    if after + text_width(&text, style)? <= panel.area.right {
        scene.text(&text, (after, baseline), style);
    } else {
        let before = (left - MARKER_RADIUS, baseline);
        scene.text(&text, before, style.align(Align::Right));
    }
    Ok(())
}
