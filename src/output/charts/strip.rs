//! Spans and places marked along the horizontal axis, with their names in a strip above the plot.

use super::ChartError;
use super::panel::Panel;
use super::scene::{Align, Lettering, Scene, ink, text_width, wash, wrap};
use super::style::{
    MEDIUM_WIDTH, SMALL_SIZE, SPAN, SPAN_TEXT, Stroke, THIN_WIDTH, WIDE_SPAN_OPACITY,
};

/// Height of one row of labels in the strip.
pub(super) const STRIP_ROW: f64 = 27.0;
/// Space around the letters of a label.
const LABEL_PADDING: f64 = 4.0;
/// Length of a bracket's feet.
const BRACKET_FOOT: f64 = 4.0;

/// Shades a span of the horizontal axis over the height of the plot.
pub(super) fn shade(scene: &mut Scene, panel: &Panel, span: (f64, f64), opacity: f64) {
    let (top, bottom) = (panel.area.top, panel.area.bottom);
    let (left, right) = (panel.x.at(span.0), panel.x.at(span.1));
    scene.rectangle((left, top), (right, bottom), wash(SPAN, opacity));
    if opacity <= WIDE_SPAN_OPACITY {
        // A faint wash alone disappears on a grey printer.
        for (x, end) in [(left, span.0), (right, span.1)] {
            if end.is_infinite() {
                continue;
            }
            let ends = [(x, top), (x, bottom)];
            scene.dashed(&ends, Stroke::Dotted.pattern(), ink(SPAN), THIN_WIDTH);
        }
    }
}

/// A bracket over a span, at the foot of row `row` of the strip.
pub(super) fn bracket(scene: &mut Scene, panel: &Panel, span: (f64, f64), row: usize) {
    let y = strip_bottom(panel, row);
    let (left, right) = (panel.x.at(span.0), panel.x.at(span.1));
    let foot = y + BRACKET_FOOT;
    let mut points = vec![(left, y), (right, y)];
    // An open end has no foot.
    if span.0.is_finite() {
        points.insert(0, (left, foot));
    }
    if span.1.is_finite() {
        points.push((right, foot));
    }
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

/// Which side of its place a label in the strip may take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Beside {
    /// In the middle above it; to one side where the middle has no room.
    Above,
    /// To its left.
    Before,
    /// To its right.
    After,
}

/// Writes into row `row` of the strip, at `x`, kept within the plot.
pub(super) fn strip_label(
    scene: &mut Scene,
    panel: &Panel,
    x: f64,
    (text, bold): (&str, bool),
    row: usize,
    beside: Beside,
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
    // Beside its line rather than at the edge of the plot, so that it is plain which line it names.
    let wanted = match beside {
        Beside::Above if (from..=to).contains(&x) => x,
        Beside::Above if x < from => x.max(panel.area.left) + half,
        Beside::Above => x.min(panel.area.right) - half,
        Beside::Before => x - half - LABEL_PADDING,
        Beside::After => x + half + LABEL_PADDING,
    };
    let x = wanted.max(from).min(to.max(from));
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
