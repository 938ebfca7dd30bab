//! Prior range against posterior, one parameter a row.

use super::axes::Spacing;
use super::labels::Side;
use super::panel::{Axes, Tick, draw_axes};
use super::scene::{Lettering, ink, wash};
use super::sheet::Sheet;
use super::style::{
    BAND_OPACITY, LABEL_SIZE, LINE_WIDTH, MARKER_RADIUS, NO_EFFECT, SERIES, SMALL_SIZE, for_letters,
};
use super::{ChartError, Rendered, defined};

/// Width of the chart in SVG units.
const WIDTH: f64 = 820.0;
/// Height of a parameter's row.
const ROW: f64 = 58.0;
/// Height of everything between title and note that is no row.
const AROUND: f64 = 110.0;
/// Half the height of the prior's bar, in rows.
const PRIOR_REACH: f64 = 0.2;
/// Half the height of the posterior's bar, in rows.
const POSTERIOR_REACH: f64 = 0.11;
/// Room on the right.
const RIGHT: f64 = 30.0;
/// Opacity of the posterior's bar.
const POSTERIOR_OPACITY: f64 = 0.55;
/// Space between a bar and the numbers above it.
const NUMBER_GAP: f64 = 4.0;

/// Data of [`posterior_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct PosteriorChart {
    /// The finding, as a sentence.
    pub title: String,
    /// What the bars are; may be empty.
    pub note: String,
    /// Parameters, from the top.
    pub rows: Vec<PosteriorRow>,
}

/// One parameter.
#[derive(Debug, Clone, PartialEq)]
pub struct PosteriorRow {
    /// Name with its unit.
    pub name: String,
    /// Posterior interval and middle as parts of the way through the prior, from 0 to 1.
    pub places: [f64; 3],
    /// Ends of the prior in the parameter's unit, as text.
    pub prior: [String; 2],
    /// The posterior in the parameter's unit, as text.
    pub posterior: String,
}

/// Draws prior against posterior.
///
/// # Errors
/// An error of the drawing library.
pub fn posterior_chart(chart: &PosteriorChart) -> Result<Rendered, ChartError> {
    let rows = chart.rows.len() as f64;
    let mut sheet = Sheet::new(WIDTH, AROUND + ROW * rows, &chart.title, &chart.note)?;
    let tick = |value: f64, label: &str| Tick {
        value,
        label: label.to_owned(),
        second: String::new(),
    };
    let axes = Axes {
        x_title: "Place in the plausible range",
        y_title: "",
        x_range: (0.0, 1.0),
        y_range: (0.5 - rows.max(1.0), 0.5),
        x_ticks: vec![
            tick(0.0, "lowest"),
            tick(0.5, "middle"),
            tick(1.0, "highest"),
        ],
        y_ticks: chart
            .rows
            .iter()
            .enumerate()
            .map(|(index, row)| tick(-(index as f64), &row.name))
            .collect(),
        strip_rows: 0,
        x_spacing: Spacing::Even,
        label_room: RIGHT,
        labels: Side::Right,
    };
    let panel = draw_axes(&mut sheet.scene, sheet.room, &axes)?;
    if chart.rows.is_empty() {
        sheet.no_data(panel.area);
    }
    let scene = &mut sheet.scene;
    for (index, row) in chart.rows.iter().enumerate() {
        let y = -(index as f64);
        let mut bar = |from: f64, to: f64, reach: f64, ink| {
            let (top, bottom) = (panel.y.at(y + reach), panel.y.at(y - reach));
            scene.rectangle((panel.x.at(from), top), (panel.x.at(to), bottom), ink);
        };
        bar(0.0, 1.0, PRIOR_REACH, wash(NO_EFFECT.colour, BAND_OPACITY));
        let mut places = [0.0; 3];
        let mut whole = true;
        for (place, given) in places.iter_mut().zip(row.places) {
            match defined(&row.name, given)? {
                Some(given) => *place = given,
                None => whole = false,
            }
        }
        if whole {
            let inside = wash(SERIES[0].colour, POSTERIOR_OPACITY);
            bar(places[0], places[2], POSTERIOR_REACH, inside);
            let x = panel.x.at(places[1]);
            let (top, bottom) = (panel.y.at(y + PRIOR_REACH), panel.y.at(y - PRIOR_REACH));
            scene.line((x, top), (x, bottom), ink(SERIES[0].colour), LINE_WIDTH);
            scene.marker(SERIES[0], (x, panel.y.at(y)), MARKER_RADIUS);
        }
        let above = panel.y.at(y + PRIOR_REACH) - NUMBER_GAP;
        let quiet = Lettering::new(SMALL_SIZE).colour(for_letters(NO_EFFECT.colour));
        let (left, right) = (panel.area.left, panel.area.right);
        scene.text(&row.prior[0], (left + NUMBER_GAP, above), quiet);
        let end = quiet.align(super::scene::Align::Right);
        scene.text(&row.prior[1], (right, above), end);
        let strong = Lettering::new(SMALL_SIZE)
            .bold()
            .colour(for_letters(SERIES[0].colour))
            .align(super::scene::Align::Middle);
        let half = super::scene::text_width(&row.posterior, strong)? / 2.0;
        // Between the ends of the prior, whose numbers stand there too.
        let room = LABEL_SIZE * 4.0 + half;
        let middle = panel
            .x
            .at(places[1])
            .clamp(left + room, (right - room).max(left + room));
        scene.text(&row.posterior, (middle, above), strong);
    }
    sheet.render()
}
