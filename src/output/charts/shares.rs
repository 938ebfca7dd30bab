//! Shares of variance as bars: for each quantity the strongest unknowns, alone and with all that they take part in.

use super::axes::Spacing;
use super::labels::Side;
use super::panel::{Axes, Tick, draw_axes};
use super::scene::{Lettering, Scene, ink, wash};
use super::sheet::{Area, Sheet};
use super::style::{
    Colour, LABEL_SIZE, LINE_SPACING, MEDIUM_WIDTH, NO_EFFECT, SERIES, SMALL_SIZE, SPAN_TEXT,
    for_letters,
};
use super::{ChartError, Estimate, Rendered, defined};

/// Width of the chart in SVG units.
const WIDTH: f64 = 820.0;
/// Height of one unknown's pair of bars with the space around it.
const ROW: f64 = 34.0;
/// Height of a panel besides its rows: heading, ticks and the space to the next panel.
const AROUND: f64 = 100.0;
/// Height of the key.
const KEY: f64 = 30.0;
/// Height of a bar as a part of its row.
const BAR: f64 = 0.36;
/// Opacity of a bar, so that its interval shows on it.
const BAR_OPACITY: f64 = 0.55;
/// Room on the right for the numbers.
const RIGHT: f64 = 150.0;
/// Ticks of the axis, percent.
const TICKS: [f64; 6] = [0.0, 20.0, 40.0, 60.0, 80.0, 100.0];
/// Space between a bar's end and its number.
const NUMBER_GAP: f64 = 8.0;
/// Half the height of an interval's end strokes.
const CAP: f64 = 3.0;
/// Distance from a baseline to the middle of digits, in em.
const DIGIT_MIDDLE: f64 = 0.36;
/// Width of the bar in the key.
const KEY_BAR: f64 = 26.0;

/// Data of [`shares_chart`].
#[derive(Debug, Clone, PartialEq)]
pub struct SharesChart {
    /// The finding, as a sentence.
    pub title: String,
    /// What bars and intervals are; may be empty.
    pub note: String,
    /// Name of the bar of an unknown alone, and of that with everything it takes part in.
    pub names: [String; 2],
    /// Axis title.
    pub x_label: String,
    /// One panel a quantity.
    pub panels: Vec<SharesPanel>,
}

/// One quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct SharesPanel {
    /// What it is.
    pub name: String,
    /// Unknowns, from the top.
    pub rows: Vec<SharesRow>,
}

/// One unknown, or what is no unknown: noise.
#[derive(Debug, Clone, PartialEq)]
pub struct SharesRow {
    /// Label.
    pub name: String,
    /// Share alone, as a part of 1.
    pub alone: Option<Estimate>,
    /// Share with everything that it takes part in.
    pub together: Option<Estimate>,
    /// Whether this is noise rather than an unknown: drawn apart.
    pub noise: bool,
}

/// Draws shares of variance.
///
/// # Errors
/// [`ChartError::OutOfRange`] for a share too large to be drawn; otherwise an error of the drawing library.
pub fn shares_chart(chart: &SharesChart) -> Result<Rendered, ChartError> {
    let rows: usize = chart.panels.iter().map(|panel| panel.rows.len()).sum();
    let panels = chart.panels.len().max(1) as f64;
    let body = KEY + AROUND * panels + ROW * rows as f64;
    let mut sheet = Sheet::new(WIDTH, body, &chart.title, &chart.note)?;
    draw_key(&mut sheet.scene, sheet.room, &chart.names)?;
    if rows == 0 {
        sheet.no_data(sheet.room);
    }
    let mut top = sheet.room.top + KEY;
    for panel in chart.panels.iter().filter(|panel| !panel.rows.is_empty()) {
        let bottom = top + AROUND + ROW * panel.rows.len() as f64;
        let room = Area {
            top,
            bottom,
            ..sheet.room
        };
        draw_panel(&mut sheet.scene, room, panel, &chart.x_label)?;
        top = bottom;
    }
    sheet.render()
}

/// Colours of the two bars.
const COLOURS: [Colour; 2] = [SERIES[0].colour, SERIES[SERIES.len() - 1].colour];

fn draw_key(scene: &mut Scene, room: Area, names: &[String; 2]) -> Result<(), ChartError> {
    let style = Lettering::new(LABEL_SIZE).bold();
    let mut x = room.left;
    let baseline = room.top + LABEL_SIZE;
    for (name, colour) in names.iter().zip(COLOURS) {
        let from = (x, baseline - LABEL_SIZE * BAR * 2.0);
        scene.rectangle(from, (x + KEY_BAR, baseline), wash(colour, BAR_OPACITY));
        x += KEY_BAR + NUMBER_GAP;
        scene.text(name, (x, baseline), style.colour(for_letters(colour)));
        x += super::scene::text_width(name, style)? + KEY_BAR;
    }
    Ok(())
}

fn draw_panel(
    scene: &mut Scene,
    room: Area,
    panel: &SharesPanel,
    x_label: &str,
) -> Result<(), ChartError> {
    let tick = |value: f64, label: String| Tick {
        value,
        label,
        second: String::new(),
    };
    let axes = Axes {
        x_title: x_label,
        y_title: &panel.name,
        x_range: (TICKS[0], TICKS[TICKS.len() - 1]),
        y_range: (0.5 - panel.rows.len() as f64, 0.5),
        x_ticks: TICKS
            .iter()
            .map(|value| tick(*value, format!("{value:.0}\u{a0}%")))
            .collect(),
        y_ticks: panel
            .rows
            .iter()
            .enumerate()
            .map(|(index, row)| tick(-(index as f64), row.name.clone()))
            .collect(),
        strip_rows: 0,
        x_spacing: Spacing::Even,
        label_room: RIGHT,
        labels: Side::Right,
    };
    let plot = draw_axes(scene, room, &axes)?;
    for (index, row) in panel.rows.iter().enumerate() {
        let bars = if row.noise {
            vec![(row.together, NO_EFFECT.colour, 0.0)]
        } else {
            vec![
                (row.alone, COLOURS[0], BAR / 2.0),
                (row.together, COLOURS[1], -BAR / 2.0),
            ]
        };
        for (share, colour, shift) in bars {
            let Some(bar) = bar_of(&row.name, share)? else {
                continue;
            };
            let middle = plot.y.at(shift - index as f64);
            draw_bar(scene, &plot, bar, colour, middle);
        }
    }
    Ok(())
}

/// Value and interval of a bar in percent.
type Bar = (f64, Option<(f64, f64)>);

fn bar_of(name: &str, share: Option<Estimate>) -> Result<Option<Bar>, ChartError> {
    const PERCENT: f64 = 100.0;
    let Some(share) = share else { return Ok(None) };
    let Some(value) = defined(name, PERCENT * share.value)? else {
        return Ok(None);
    };
    let low = defined(name, PERCENT * share.low)?;
    let high = defined(name, PERCENT * share.high)?;
    Ok(Some((value, low.zip(high))))
}

fn draw_bar(
    scene: &mut Scene,
    plot: &super::panel::Panel,
    (value, interval): Bar,
    colour: Colour,
    middle: f64,
) {
    let half = ROW * BAR / 2.0;
    let (start, end) = (plot.x.at(0.0), plot.x.at(value));
    let from = (start, middle - half);
    scene.rectangle(from, (end, middle + half), wash(colour, BAR_OPACITY));
    let mut reach = end;
    if let Some((low, high)) = interval {
        let (left, right) = (plot.x.at(low), plot.x.at(high));
        let solid = ink(for_letters(colour));
        scene.line((left, middle), (right, middle), solid, MEDIUM_WIDTH);
        for x in [left, right] {
            let (above, below) = ((x, middle - CAP), (x, middle + CAP));
            scene.line(above, below, solid, MEDIUM_WIDTH);
        }
        reach = reach.max(right);
    }
    let number = match interval {
        Some((low, high)) => format!("{value:.0}\u{a0}% ({low:.0} to {high:.0})"),
        None => format!("{value:.0}\u{a0}%"),
    };
    let size = SMALL_SIZE / LINE_SPACING;
    let style = Lettering::new(size).colour(if colour == NO_EFFECT.colour {
        SPAN_TEXT
    } else {
        for_letters(colour)
    });
    let at = (reach + NUMBER_GAP, middle + size * DIGIT_MIDDLE);
    scene.text(&number.replace('-', "\u{2212}"), at, style);
}
