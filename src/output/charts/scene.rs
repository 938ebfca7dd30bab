//! A list of drawing steps in SVG units, recorded once and replayed as both
//! SVG and PNG, so that the two can never disagree.

use super::ChartError;
use super::glyphs::width_in_em;
use super::style::{Colour, LINE_SPACING, TEXT};
use crate::trouble::shown::is_unseen;

/// Bisections of the width when balancing lines; leaves about one unit.
const BALANCING_STEPS: u32 = 10;

/// A position in SVG units, y downwards.
pub(super) type Point = (f64, f64);

/// A colour with an opacity from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Ink {
    pub(super) colour: Colour,
    pub(super) opacity: f64,
}

/// Opaque ink.
pub(super) fn ink(colour: Colour) -> Ink {
    Ink {
        colour,
        opacity: 1.0,
    }
}

/// Ink with an opacity.
pub(super) fn wash(colour: Colour, opacity: f64) -> Ink {
    Ink { colour, opacity }
}

/// Which point of a text is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Align {
    Left,
    Middle,
    Right,
}

/// Look and placement of a text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lettering {
    pub(super) size: f64,
    pub(super) bold: bool,
    pub(super) colour: Colour,
    pub(super) align: Align,
}

impl Lettering {
    /// Plain left-aligned text.
    pub(super) fn new(size: f64) -> Self {
        Self {
            size,
            bold: false,
            colour: TEXT,
            align: Align::Left,
        }
    }
    pub(super) fn bold(self) -> Self {
        Self { bold: true, ..self }
    }
    pub(super) fn colour(self, colour: Colour) -> Self {
        Self { colour, ..self }
    }
    pub(super) fn align(self, align: Align) -> Self {
        Self { align, ..self }
    }
    /// Distance between baselines.
    pub(super) fn leading(self) -> f64 {
        self.size * LINE_SPACING
    }
}

/// One drawing step.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Step {
    Fill {
        corners: Vec<Point>,
        ink: Ink,
    },
    Path {
        points: Vec<Point>,
        ink: Ink,
        width: f64,
    },
    Disc {
        centre: Point,
        radius: f64,
        ink: Ink,
    },
    Text {
        text: String,
        baseline: Point,
        lettering: Lettering,
    },
}

/// The drawing.
#[derive(Debug)]
pub(super) struct Scene {
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) background: Colour,
    pub(super) steps: Vec<Step>,
    /// What the drawing finds, and what its signs are, for those who cannot see it.
    pub(super) words: (String, String),
}

impl Scene {
    pub(super) fn new(width: f64, height: f64, background: Colour) -> Self {
        Self {
            width,
            height,
            background,
            steps: Vec::new(),
            words: (String::new(), String::new()),
        }
    }

    pub(super) fn fill(&mut self, corners: Vec<Point>, ink: Ink) {
        if corners.len() > 2 {
            self.steps.push(Step::Fill { corners, ink });
        }
    }

    pub(super) fn rectangle(&mut self, from: Point, to: Point, ink: Ink) {
        self.fill(vec![from, (to.0, from.1), to, (from.0, to.1)], ink);
    }

    pub(super) fn path(&mut self, points: Vec<Point>, ink: Ink, width: f64) {
        if points.len() > 1 {
            self.steps.push(Step::Path { points, ink, width });
        }
    }

    pub(super) fn line(&mut self, from: Point, to: Point, ink: Ink, width: f64) {
        self.path(vec![from, to], ink, width);
    }

    /// A path broken by a pattern of line and space lengths.
    pub(super) fn dashed(&mut self, points: &[Point], pattern: &[f64], ink: Ink, width: f64) {
        if pattern.is_empty() {
            self.path(points.to_vec(), ink, width);
            return;
        }
        for dash in dashes(points, pattern) {
            self.path(dash, ink, width);
        }
    }

    pub(super) fn disc(&mut self, centre: Point, radius: f64, ink: Ink) {
        self.steps.push(Step::Disc {
            centre,
            radius,
            ink,
        });
    }

    pub(super) fn text(&mut self, text: &str, baseline: Point, lettering: Lettering) {
        if !text.is_empty() {
            self.steps.push(Step::Text {
                text: plain(text),
                baseline,
                lettering,
            });
        }
    }

    /// Lines of text below each other; gives back the next baseline.
    pub(super) fn lines(&mut self, lines: &[String], first: Point, lettering: Lettering) -> f64 {
        let mut baseline = first.1;
        for line in lines {
            self.text(line, (first.0, baseline), lettering);
            baseline += lettering.leading();
        }
        baseline
    }
}

/// Cuts a path into the drawn pieces of a dash pattern.
fn dashes(points: &[Point], pattern: &[f64]) -> Vec<Vec<Point>> {
    let mut pieces = Vec::new();
    let mut index = 0;
    let mut left = pattern[0];
    let mut piece: Vec<Point> = points.first().copied().into_iter().collect();
    for pair in points.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let length = (to.0 - from.0).hypot(to.1 - from.1);
            // An undefined or endless piece would never be used up.
            if !length.is_finite() || length <= left {
                left -= length;
                if index % 2 == 0 {
                    piece.push(to);
                }
                break;
            }
            let part = left / length;
            from = (
                from.0 + (to.0 - from.0) * part,
                from.1 + (to.1 - from.1) * part,
            );
            if index % 2 == 0 {
                piece.push(from);
                pieces.push(std::mem::take(&mut piece));
            } else {
                piece = vec![from];
            }
            index += 1;
            left = pattern[index % pattern.len()];
        }
    }
    if index % 2 == 0 {
        pieces.push(piece);
    }
    pieces
}

/// Text as it is lettered: control characters are allowed in XML not even escaped, nor are the two numbers that stand
/// for no character, and what changes the order of letters would reach into what stands beside it.
pub(super) fn plain(text: &str) -> String {
    let is_odd = |letter| is_unseen(letter) || matches!(letter, '\u{fffe}' | '\u{ffff}');
    text.replace(is_odd, " ")
}

/// Width of a text in SVG units.
pub(super) fn text_width(text: &str, lettering: Lettering) -> Result<f64, ChartError> {
    Ok(width_in_em(text, lettering.bold)? * lettering.size)
}

/// Breaks a text at spaces into lines no wider than `width`, at most `most`
/// of them; what does not fit is cut off and marked with an ellipsis.
/// The flag tells whether everything fitted.
pub(super) fn wrap(
    text: &str,
    lettering: Lettering,
    width: f64,
    most: usize,
) -> Result<(Vec<String>, bool), ChartError> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    // Not at every white space: a no-break space keeps "5 %" together.
    let words = text.split([' ', '\n', '\t', '\r']);
    for word in words.filter(|word| !word.is_empty()) {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if text_width(&longer, lettering)? <= width || line.is_empty() {
            line = longer;
        } else {
            lines.push(std::mem::replace(&mut line, word.to_owned()));
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    let mut whole = lines.len() <= most;
    if !whole {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            last.push('…');
        }
    }
    for line in &mut lines {
        whole &= shorten(line, lettering, width)?;
    }
    Ok((lines, whole))
}

/// As [`wrap`], with lines of like length.
pub(super) fn wrap_evenly(
    text: &str,
    lettering: Lettering,
    width: f64,
    most: usize,
) -> Result<(Vec<String>, bool), ChartError> {
    let (lines, whole) = wrap(text, lettering, width, most)?;
    let count = lines.len();
    if !whole || count < 2 {
        return Ok((lines, whole));
    }
    let (mut too_narrow, mut fits) = (0.0, width);
    for _ in 0..BALANCING_STEPS {
        let middle = f64::midpoint(too_narrow, fits);
        let (lines, whole) = wrap(text, lettering, middle, count)?;
        if whole && lines.len() == count {
            fits = middle;
        } else {
            too_narrow = middle;
        }
    }
    wrap(text, lettering, fits, count)
}

/// Cuts letters off the end until the line fits; tells whether it fitted.
fn shorten(line: &mut String, lettering: Lettering, width: f64) -> Result<bool, ChartError> {
    if text_width(line, lettering)? <= width {
        return Ok(true);
    }
    let letters: Vec<char> = line.trim_end_matches('…').chars().collect();
    // Bisection: names pasted from a whole file would take ages letter by letter.
    let (mut fits, mut too_long) = (0, letters.len());
    while too_long - fits > 1 {
        let middle = fits.midpoint(too_long);
        let candidate: String = letters[..middle].iter().chain(&['…']).collect();
        if text_width(&candidate, lettering)? <= width {
            fits = middle;
        } else {
            too_long = middle;
        }
    }
    *line = letters[..fits].iter().chain(&['…']).collect();
    Ok(false)
}
