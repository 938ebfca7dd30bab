//! The paper a chart stands on: title above, note below, room between.

use super::scene::{Align, Lettering, Scene, ink, wrap, wrap_evenly};
use super::style::{BACKGROUND, LABEL_SIZE, LINE_SPACING, SMALL_SIZE, TEXT_QUIET, TITLE_SIZES};
use super::{ChartError, Rendered};

/// Space around everything, in SVG units.
const MARGIN: f64 = 28.0;
/// Space between the title and what follows it.
const BELOW_TITLE: f64 = 14.0;
/// Space between the drawing and the note.
const ABOVE_NOTE: f64 = 16.0;
/// Half the width of the backing of "no data", in em.
const NO_DATA_REACH: f64 = 3.0;
/// A title runs over at most this many lines.
const TITLE_LINES: usize = 2;
/// A note runs over at most this many lines.
const NOTE_LINES: usize = 3;

/// A rectangle in SVG units, y downwards.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Area {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

impl Area {
    pub(super) fn width(self) -> f64 {
        self.right - self.left
    }
}

/// A chart in the making.
#[derive(Debug)]
pub(super) struct Sheet {
    pub(super) scene: Scene,
    /// Room between title and note.
    pub(super) room: Area,
}

impl Sheet {
    /// Paper of `width`, with `body` units of height between title and note.
    pub(super) fn new(width: f64, body: f64, title: &str, note: &str) -> Result<Self, ChartError> {
        let across = width - 2.0 * MARGIN;
        let (title_lines, title_style) = fit_title(title, across)?;
        let note_style = Lettering::new(SMALL_SIZE).colour(TEXT_QUIET);
        let note = note.replace(" %", "\u{a0}%");
        let (note_lines, _) = wrap(&note, note_style, across, NOTE_LINES)?;
        let title_end = MARGIN + title_lines.len() as f64 * title_style.leading();
        let top = title_end + BELOW_TITLE;
        let bottom = top + body;
        let note_height = if note_lines.is_empty() {
            0.0
        } else {
            ABOVE_NOTE + note_lines.len() as f64 * note_style.leading()
        };
        let mut scene = Scene::new(width, bottom + note_height + MARGIN, BACKGROUND);
        scene.words = (title.to_owned(), note);
        let first = (MARGIN, MARGIN + title_style.size);
        scene.lines(&title_lines, first, title_style);
        let first = (MARGIN, bottom + ABOVE_NOTE + note_style.size);
        scene.lines(&note_lines, first, note_style);
        let room = Area {
            left: MARGIN,
            top,
            right: width - MARGIN,
            bottom,
        };
        Ok(Self { scene, room })
    }

    /// Says in the middle of `area` that there is nothing to draw.
    pub(super) fn no_data(&mut self, area: Area) {
        let style = Lettering::new(LABEL_SIZE)
            .colour(TEXT_QUIET)
            .align(Align::Middle);
        let middle = (
            area.left.midpoint(area.right),
            area.top.midpoint(area.bottom) + LABEL_SIZE * (LINE_SPACING - 1.0),
        );
        let (half, rise) = (LABEL_SIZE * NO_DATA_REACH, LABEL_SIZE * LINE_SPACING);
        let from = (middle.0 - half, middle.1 - rise);
        let to = (middle.0 + half, middle.1 + rise / 2.0);
        self.scene.rectangle(from, to, ink(BACKGROUND));
        self.scene.text("no data", middle, style);
    }

    pub(super) fn render(&self) -> Result<Rendered, ChartError> {
        self.scene.render()
    }
}

/// The largest title size at which the whole title fits; the smallest one
/// with the end cut off when none does.
fn fit_title(title: &str, width: f64) -> Result<(Vec<String>, Lettering), ChartError> {
    let mut fitted = (Vec::new(), Lettering::new(LABEL_SIZE).bold());
    for size in TITLE_SIZES {
        let style = Lettering::new(size).bold();
        let (lines, whole) = wrap_evenly(title, style, width, TITLE_LINES)?;
        fitted = (lines, style);
        if whole {
            break;
        }
    }
    Ok(fitted)
}
