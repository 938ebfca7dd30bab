//! Stray share against the gap between two patches.

use super::axes::{Spacing, drawn_range, plain, spread_ticks, ticks, yards};
use super::labels::{Side, draw_end_labels, room_for};
use super::panel::{
    Axes, Intervals, Line, Panel, Tick, draw_axes, draw_line, end_label, threshold, x_extent,
    y_extent,
};
use super::scene::Scene;
use super::sheet::Sheet;
use super::strip::{Beside, bracket, shade, strip_label, upright};
use super::style::{Mark, SPAN_OPACITY, WIDE_SPAN_OPACITY};
use super::{ChartError, Estimate, Rendered, defined, required, required_share};

/// Width of the chart in SVG units.
const WIDTH: f64 = 960.0;
/// Height between title and note.
const BODY: f64 = 500.0;
/// Widest room for direct labels.
const LABEL_ROOM: f64 = 190.0;
/// Ticks along the gap stand at least this part of the axis apart, so that their labels do not touch.
const GAP_TICKS_APART: f64 = 0.065;
/// About this many ticks along the share.
const SHARE_TICKS: f64 = 5.0;
/// Strays fall off within the first metres: an even axis would crowd what matters into its first tenth.
pub(super) const GAP_SPACING: Spacing = Spacing::SquareRoot;
/// Title of the axis; it says how it is spaced.
const GAP_TITLE: &str = "Gap between the patches, edge to edge (metres, yards below; \
     square-root axis: small gaps get more room)";
/// Gaps are written with the decimals of a value of this size.
const WHOLE_METRE: f64 = 1.0;
/// Percent in a whole.
const PERCENT: f64 = 100.0;
/// Drawn ranges when there is nothing to draw: metres and percent.
const EMPTY_RANGES: ((f64, f64), (f64, f64)) = ((0.0, 20.0), (0.0, 20.0));

/// Data of [`gap_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct GapChart {
    /// The finding, as a sentence.
    pub title: String,
    /// What the bands are and where the numbers come from; may be empty.
    pub note: String,
    /// What is shared out, e.g. "Stray share: late-stage larvae found outside
    /// the patch they were laid in"; the unit is added.
    pub share_label: String,
    /// One line per patch.
    pub lines: Vec<GapLine>,
    /// Largest stray share the study can bear.
    pub tolerance: Option<Tolerance>,
    /// The gap from which on the tolerance is kept.
    pub clear_gap: ClearGap,
    /// Clear gap over plausible parameters.
    pub plausible: Option<PlausibleGap>,
}

/// Clear gap over plausible parameters, as far as the gaps tried can tell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlausibleGap {
    /// Smallest clear gap in metres; `None` when below the smallest gap tried.
    pub low_m: Option<f64>,
    /// Largest clear gap in metres; `None` when beyond the largest gap tried.
    pub high_m: Option<f64>,
    /// Smallest and largest gap tried with them, metres.
    pub tried_m: (f64, f64),
}

/// One patch's line.
#[derive(Debug, Clone, PartialEq)]
pub struct GapLine {
    /// Name of the patch.
    pub name: String,
    /// Look, usually [`super::style::TREATED`] or [`super::style::UNTOUCHED`].
    pub mark: Mark,
    /// Points in any order.
    pub points: Vec<GapPoint>,
}

/// Stray share at one gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GapPoint {
    /// Gap from edge to edge, in metres.
    pub gap_m: f64,
    /// Stray share, 0 to 1; `None` where it is undefined (no larva counted).
    pub share: Option<Estimate>,
}

/// A named limit of the stray share.
#[derive(Debug, Clone, PartialEq)]
pub struct Tolerance {
    /// Share, 0 to 1.
    pub share: f64,
    /// Name written beside the line, e.g. "tolerance 5 %".
    pub name: String,
}

/// Where the tolerance is kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ClearGap {
    /// Not asked for: nothing is marked.
    NotShown,
    /// Kept from `gap_m` on.
    Reached {
        /// Gap in metres.
        gap_m: f64,
        /// Lower bound in metres; `None` when below the smallest gap tried.
        low_m: Option<f64>,
        /// Upper bound in metres; `None` when beyond the largest gap tried.
        high_m: Option<f64>,
    },
    /// Not kept at any gap up to the largest one tried.
    NotReached {
        /// Largest gap tried, in metres.
        largest_gap_m: f64,
    },
}

/// Draws stray share against gap, with tolerance and clear gap.
///
/// # Errors
/// [`ChartError::OutOfRange`] for a share outside 0 to 1, a negative or
/// undefined clear gap, or numbers too large to draw; otherwise an error of
/// the drawing library.
pub fn gap_chart(chart: &GapChart) -> Result<Rendered, ChartError> {
    check(chart)?;
    let mut lines = Vec::new();
    for line in &chart.lines {
        let points = line.points.iter().map(|point| (point.gap_m, point.share));
        lines.push(Line::new(&line.name, line.mark, PERCENT, points)?);
    }
    let mut sheet = Sheet::new(WIDTH, BODY, &chart.title, &chart.note)?;
    let names = lines.iter().map(|line| (line.name, true));
    let limit = chart
        .tolerance
        .iter()
        .map(|limit| (limit.name.as_str(), false));
    let right = room_for(names.chain(limit), LABEL_ROOM)?;
    let (x_range, y_range) = ranges(chart, &lines);
    let strip_rows =
        usize::from(chart.clear_gap != ClearGap::NotShown) + usize::from(chart.plausible.is_some());
    let axes = Axes {
        x_title: GAP_TITLE,
        y_title: &format!("{} (%)", chart.share_label),
        x_range,
        y_range,
        x_spacing: GAP_SPACING,
        x_ticks: gap_ticks(x_range),
        y_ticks: percent_ticks(y_range),
        strip_rows,
        label_room: right,
        labels: Side::Right,
    };
    let panel = draw_axes(&mut sheet.scene, sheet.room, &axes)?;
    mark_clear_gap(&mut sheet.scene, &panel, chart)?;
    for line in &lines {
        draw_line(&mut sheet.scene, &panel, line, Intervals::Band);
    }
    let mut labels: Vec<_> = lines.iter().filter_map(|l| end_label(&panel, l)).collect();
    if labels.is_empty() {
        sheet.no_data(panel.area);
    }
    if let Some(limit) = &chart.tolerance {
        let share = limit.share * PERCENT;
        labels.push(threshold(&mut sheet.scene, &panel, share, &limit.name));
    }
    draw_end_labels(&mut sheet.scene, panel.area, (Side::Right, right), labels)?;
    sheet.render()
}

fn check(chart: &GapChart) -> Result<(), ChartError> {
    for point in chart.lines.iter().flat_map(|line| &line.points) {
        if let Some(share) = point.share
            && share.value.is_finite()
        {
            required_share("stray share", share.value)?;
        }
    }
    if let Some(limit) = &chart.tolerance {
        required_share("tolerance", limit.share)?;
    }
    let bounds = match chart.clear_gap {
        ClearGap::NotShown => vec![],
        ClearGap::Reached {
            gap_m,
            low_m,
            high_m,
        } => [Some(gap_m), low_m, high_m].into_iter().flatten().collect(),
        ClearGap::NotReached { largest_gap_m } => vec![largest_gap_m],
    };
    let plausible = chart.plausible.into_iter().flat_map(|plausible| {
        let (first, last) = plausible.tried_m;
        [plausible.low_m, plausible.high_m, Some(first), Some(last)]
    });
    for gap in bounds.into_iter().chain(plausible.flatten()) {
        if required("clear gap", gap)? < 0.0 {
            return Err(ChartError::OutOfRange {
                what: "clear gap".to_owned(),
                value: gap,
                allowed: "a distance of zero or more",
            });
        }
    }
    Ok(())
}

/// Ranges that hold every line, the tolerance and the clear gap.
fn ranges(chart: &GapChart, lines: &[Line]) -> ((f64, f64), (f64, f64)) {
    let (empty_x, empty_y) = EMPTY_RANGES;
    let x_data = x_extent(lines);
    let y_data = y_extent(lines);
    let mut largest_gap = x_data.map_or(0.0, |reach| reach.1);
    match chart.clear_gap {
        ClearGap::Reached { gap_m, high_m, .. } => {
            largest_gap = largest_gap.max(gap_m).max(high_m.unwrap_or(0.0));
        }
        ClearGap::NotReached { largest_gap_m } => largest_gap = largest_gap.max(largest_gap_m),
        ClearGap::NotShown => {}
    }
    if let Some(plausible) = chart.plausible {
        let ends = [plausible.low_m, plausible.high_m];
        largest_gap = ends.into_iter().flatten().fold(largest_gap, f64::max);
    }
    // No headroom to the right: the direct labels stand there.
    let x_range = if largest_gap > 0.0 {
        (x_data.map_or(0.0, |reach| reach.0.min(0.0)), largest_gap)
    } else {
        empty_x
    };
    let limit = chart.tolerance.as_ref().map(|limit| limit.share * PERCENT);
    let highest = y_data.map(|reach| reach.1).into_iter().chain(limit);
    let highest = highest.fold(0.0, f64::max);
    let lowest = y_data.map_or(0.0, |reach| reach.0).min(0.0);
    let y_range = if highest > 0.0 || lowest < 0.0 {
        drawn_range((lowest, highest), true)
    } else {
        empty_y
    };
    (x_range, y_range)
}

/// Ticks of an axis of gaps, in metres and yards; it begins at zero, where patches touch.
pub(super) fn gap_ticks((_, high): (f64, f64)) -> Vec<Tick> {
    spread_ticks(high, GAP_SPACING, GAP_TICKS_APART)
        .into_iter()
        .map(|(value, label)| Tick {
            value,
            label: format!("{label} m"),
            second: format!("{} yd", yards(value)),
        })
        .collect()
}

pub(super) fn percent_ticks(range: (f64, f64)) -> Vec<Tick> {
    ticks(range, SHARE_TICKS)
        .into_iter()
        .filter(|(value, _)| (0.0..=PERCENT).contains(value))
        .map(|(value, label)| Tick {
            value,
            label: format!("{label} %"),
            second: String::new(),
        })
        .collect()
}

fn mark_clear_gap(scene: &mut Scene, panel: &Panel, chart: &GapChart) -> Result<(), ChartError> {
    let row = usize::from(chart.clear_gap != ClearGap::NotShown);
    if let Some(plausible) = chart.plausible {
        let span = (
            plausible.low_m.unwrap_or(f64::NEG_INFINITY),
            plausible.high_m.unwrap_or(f64::INFINITY),
        );
        shade(scene, panel, span, WIDE_SPAN_OPACITY);
        bracket(scene, panel, span, row);
        let text = format!(
            "clear gap, plausible parameters: {}",
            plausible_words(plausible)
        );
        let middle = panel.x.at(span.0).midpoint(panel.x.at(span.1));
        strip_label(scene, panel, middle, (&text, true), row, Beside::Above)?;
    }
    match chart.clear_gap {
        ClearGap::NotShown => Ok(()),
        ClearGap::NotReached { largest_gap_m } => {
            let text = format!(
                "clear gap, central numbers: not reached up to {} m ({} yd)",
                metres(largest_gap_m).trim_end_matches(".0"),
                yards(largest_gap_m)
            );
            let end = panel.x.at(largest_gap_m);
            strip_label(scene, panel, end, (&text, false), 0, Beside::Above)
        }
        ClearGap::Reached {
            gap_m,
            low_m,
            high_m,
        } => {
            let low = low_m.and_then(|low| defined("", low).ok().flatten());
            let high = high_m.and_then(|high| defined("", high).ok().flatten());
            let span = (low.unwrap_or(0.0), high.unwrap_or(f64::MAX));
            shade(scene, panel, span, SPAN_OPACITY);
            upright(scene, panel, gap_m, 0);
            let text = format!(
                "clear gap, central numbers: {} m ({})",
                metres(gap_m),
                interval(low, high, WHOLE_METRE)
            );
            let at = panel.x.at(gap_m);
            strip_label(scene, panel, at, (&text, false), 0, Beside::Above)
        }
    }
}

/// The band of plausible clear gaps; an end outside the gaps tried is named so, not given a number it has not.
fn plausible_words(plausible: PlausibleGap) -> String {
    let (first, last) = plausible.tried_m;
    let low = plausible
        .low_m
        .map_or_else(|| format!("below {}", metres(first)), metres);
    let high = plausible
        .high_m
        .map_or_else(|| format!("beyond {}", metres(last)), metres);
    if plausible.low_m.is_some() && plausible.high_m.is_some() {
        format!("{low}–{high} m")
    } else {
        format!("{low} to {high} m")
    }
}

/// Metres with one decimal.
fn metres(gap: f64) -> String {
    plain(gap, WHOLE_METRE)
}

/// A length in metres and, in brackets, yards.
pub(super) fn metres_and_yards(length: f64) -> String {
    format!("{} m ({} yd)", metres(length), yards(length))
}

/// An interval in words, also when one side was not reached, with decimals
/// as suit `reference`.
pub(super) fn interval(low: Option<f64>, high: Option<f64>, reference: f64) -> String {
    let bound = |value: f64| plain(value, reference);
    match (low, high) {
        (Some(low), Some(high)) => format!("{}–{}", bound(low), bound(high)),
        (Some(low), None) => format!("{} or more", bound(low)),
        (None, Some(high)) => format!("{} or less", bound(high)),
        (None, None) => "interval not bounded".to_owned(),
    }
}
