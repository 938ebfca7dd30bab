//! Charts a person can read without a manual, as SVG text and PNG bytes.
//!
//! Every chart takes a plain data struct defined beside it and gives back a
//! [`Rendered`]; nothing here writes files or knows the simulator. Undefined
//! values (`None`, NaN, infinities) are left out of the drawing; a chart with
//! nothing to draw says "no data".

mod axes;
mod contour;
mod curve;
mod days;
mod forest;
mod gap;
mod glyphs;
mod heat;
mod labels;
mod markers;
mod panel;
mod panes;
mod posterior;
mod raster;
mod refuge;
mod render;
mod scatter;
mod scene;
mod season_map;
mod shares;
mod sheet;
mod strip;
pub mod style;
mod teaching;

pub use contour::contour_lines;
pub use curve::{
    Across, Crossing, CurveChart, CurvePoint, CurveSeries, Threshold, Upward, YieldChart,
    curve_chart, yield_chart,
};
pub use days::{DaysChart, DaysStrip, days_chart};
pub use forest::{ForestChart, ForestRow, forest_chart};
pub use gap::{ClearGap, GapChart, GapLine, GapPoint, PlausibleGap, Tolerance, gap_chart};
pub use heat::{HeatAxis, HeatChart, heat_chart};
pub use panes::{Pane, PanesChart, panes_chart};
pub use posterior::{PosteriorChart, PosteriorRow, posterior_chart};
pub use refuge::{Half, NatalPlace, RefugeChart, RefugePoint, RefugeSeries, refuge_chart};
pub use scatter::{Limit, ScatterChart, ScatterGroup, ScatterPoint, scatter_chart};
pub use season_map::{
    Bounds, MapStem, PatchOutline, SeasonMap, StemCondition, Walk, WalkEnd, WalkGroup, season_map,
};
pub use shares::{SharesChart, SharesPanel, SharesRow, shares_chart};
pub use teaching::{
    Days, TeachingAnimal, TeachingChart, TeachingPanel, teaching_chart, teaching_frame,
};

/// Pixels of the PNG per unit of the SVG, so that text stays crisp in print.
pub const PNG_SCALE: u32 = 2;

/// Largest magnitude a drawn number may have: beyond it the arithmetic of
/// axis ticks loses its digits, and no quantity of a field study is so large.
const LARGEST_DRAWN: f64 = 1e15;

/// A finished chart: the same drawing as vector text and as a bitmap.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rendered {
    /// A complete SVG document.
    pub svg: String,
    /// A complete PNG file, [`PNG_SCALE`] times as wide and high as the SVG.
    pub png: Vec<u8>,
    /// What the chart finds, for those who cannot see it; the SVG holds it too.
    pub title: String,
    /// What its signs are and where its numbers come from.
    pub note: String,
}

/// A value with its interval, all in the unit of the axis it is drawn on.
///
/// A non-finite `value` is treated as undefined. An infinite bound is an open
/// end, drawn to the edge with an arrow head or a band without end; a bound
/// that is not a number leaves the point without an interval. Bounds in the
/// wrong order are swapped.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Point estimate.
    pub value: f64,
    /// Lower bound of the interval.
    pub low: f64,
    /// Upper bound of the interval.
    pub high: f64,
}

/// Why a chart could not be drawn.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ChartError {
    /// A number of the chart's data lies outside what it can mean.
    #[error("the chart cannot show {what}: {value} is not {allowed}")]
    OutOfRange {
        /// The quantity, in the user's words.
        what: String,
        /// The offending number.
        value: f64,
        /// The range it must lie in.
        allowed: &'static str,
    },
    /// A walk on the map names a group that the map does not have.
    #[error("a walk belongs to group {group}, but the map has only {groups} groups")]
    UnknownGroup {
        /// Index given by the walk.
        group: usize,
        /// Number of groups on the map.
        groups: usize,
    },
    /// The built-in font could not be read.
    #[error("the built-in font could not be read")]
    Font,
    /// The drawing library refused an element.
    #[error("the chart could not be drawn: {0}")]
    Draw(String),
    /// The bitmap could not be packed as PNG.
    #[error("the chart could not be packed as PNG")]
    Png(#[from] png::EncodingError),
}

/// A finite number no larger than [`LARGEST_DRAWN`], or `None` when undefined.
fn defined(what: &str, value: f64) -> Result<Option<f64>, ChartError> {
    if !value.is_finite() {
        return Ok(None);
    }
    if value.abs() > LARGEST_DRAWN {
        return Err(ChartError::OutOfRange {
            what: what.to_owned(),
            value,
            allowed: "between -1e15 and 1e15",
        });
    }
    Ok(Some(value))
}

/// As [`defined`], for a number without which the chart has no meaning.
fn required(what: &str, value: f64) -> Result<f64, ChartError> {
    defined(what, value)?.ok_or_else(|| ChartError::OutOfRange {
        what: what.to_owned(),
        value,
        allowed: "a finite number",
    })
}

/// As [`required`], for a share of a whole.
fn required_share(what: &str, value: f64) -> Result<f64, ChartError> {
    if (0.0..=1.0).contains(&value) {
        return Ok(value);
    }
    Err(ChartError::OutOfRange {
        what: what.to_owned(),
        value,
        allowed: "between 0 and 1",
    })
}
