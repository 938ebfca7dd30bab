//! The bar beside the cells that says which shade is which value, and which line is the limit.

use super::super::ChartError;
use super::super::axes::ticks;
use super::super::scene::{Lettering, Scene, ink, wrap};
use super::super::style::{AXIS, BACKGROUND, SMALL_SIZE, TEXT, TEXT_QUIET, THIN_WIDTH, shade_of};
use super::limit::LIMIT_WIDTHS;
use super::{BAR_ROOM, DIGIT_MIDDLE, GAP, Grid, Numbers, TITLE_LINES};

/// Width of the bar itself.
const BAR_WIDTH: f64 = 24.0;
/// Space between the cells and the bar.
const BAR_GAP: f64 = 34.0;
/// Pieces that the bar is made of.
const BAR_PIECES: usize = 64;
/// About this many ticks along the bar.
const BAR_TICKS: f64 = 5.0;

/// Draws the bar into the room right of the cells.
pub(super) fn draw_bar(
    scene: &mut Scene,
    grid: &Grid,
    numbers: Numbers,
    limit: Option<(f64, &String)>,
) -> Result<(), ChartError> {
    let (low, high) = numbers.range;
    let area = grid.area;
    let left = area.right + BAR_GAP;
    let right = left + BAR_WIDTH;
    let height = area.bottom - area.top;
    let at = |value: f64| area.bottom - numbers.part(value) * height;
    for piece in 0..BAR_PIECES {
        let part = piece as f64 / BAR_PIECES as f64;
        let top = area.bottom - (part + 1.0 / BAR_PIECES as f64) * height;
        let shade = shade_of(part + 0.5 / BAR_PIECES as f64);
        let foot = area.bottom - part * height;
        scene.rectangle((left, top), (right, foot), ink(shade));
    }
    let named = limit.filter(|(level, _)| (low..=high).contains(level));
    let small = Lettering::new(SMALL_SIZE).colour(TEXT_QUIET);
    for (value, label) in ticks((low, high), BAR_TICKS) {
        let y = at(value);
        let hidden = named.is_some_and(|(level, _)| (at(level) - y).abs() < small.leading());
        scene.line((right, y), (right + GAP / 2.0, y), ink(AXIS), THIN_WIDTH);
        if !hidden {
            let unit = if numbers.is_share { "\u{a0}%" } else { "" };
            let place = (right + GAP, y + SMALL_SIZE * DIGIT_MIDDLE);
            scene.text(&format!("{label}{unit}"), place, small);
        }
    }
    if let Some((level, name)) = named {
        let y = at(level);
        let ends = ((left - GAP, y), (right + GAP / 2.0, y));
        scene.line(ends.0, ends.1, ink(BACKGROUND), LIMIT_WIDTHS.1);
        scene.line(ends.0, ends.1, ink(TEXT), LIMIT_WIDTHS.0);
        let style = Lettering::new(SMALL_SIZE).bold();
        let room = BAR_ROOM - BAR_GAP - BAR_WIDTH - GAP;
        let (lines, _) = wrap(&format!("line: {name}"), style, room, TITLE_LINES)?;
        let first =
            y + SMALL_SIZE * DIGIT_MIDDLE - (lines.len() as f64 - 1.0) * style.leading() / 2.0;
        scene.lines(&lines, (right + GAP, first), style);
    }
    Ok(())
}
