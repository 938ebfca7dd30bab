//! Measures text, and turns it into pixels for the bitmap.
//!
//! The drawing library's own bitmap text drops the side bearing of every
//! letter (plotters 0.3.7, `font/ab_glyph.rs` ignores the left edge of a
//! glyph's box), which makes words look badly spaced. So the letters of the
//! bitmap are placed here, from the same font.

use std::sync::OnceLock;

use ab_glyph::{Font, FontRef, PxScale, ScaleFont, point};
use plotters::style::{FontStyle, register_font};

use super::ChartError;

/// Name the font is registered under; the SVG carries it as its list of
/// families, so a viewer without the first takes the next.
pub(super) const FONT_FAMILY: &str = "DejaVu Sans Condensed, Helvetica, Arial, sans-serif";

/// Height of a line (ascent and descent) per em of the font: the font engine
/// scales by that height. Read from the font's `hhea` table:
/// (1901 + 483) / 2048.
const FONT_HEIGHT_PER_EM: f64 = 2384.0 / 2048.0;

/// Size at which text is measured, in pixels per em: one font unit each.
const MEASURE_EM: f64 = 2048.0;

struct Fonts {
    regular: FontRef<'static>,
    bold: FontRef<'static>,
}

/// The built-in fonts, read and registered once for the whole process.
fn fonts() -> Result<&'static Fonts, ChartError> {
    static FONTS: OnceLock<Option<Fonts>> = OnceLock::new();
    let read = FONTS.get_or_init(|| {
        let regular = dejavu::sans_condensed::regular();
        let bold = dejavu::sans_condensed::bold();
        register_font(FONT_FAMILY, FontStyle::Normal, regular).ok()?;
        register_font(FONT_FAMILY, FontStyle::Bold, bold).ok()?;
        Some(Fonts {
            regular: FontRef::try_from_slice(regular).ok()?,
            bold: FontRef::try_from_slice(bold).ok()?,
        })
    });
    read.as_ref().ok_or(ChartError::Font)
}

/// Makes the fonts known to the drawing library.
///
/// # Errors
/// [`ChartError::Font`] when the font data cannot be read.
pub(super) fn register_fonts() -> Result<(), ChartError> {
    fonts().map(|_| ())
}

/// Width of a text in em.
///
/// # Errors
/// As [`register_fonts`].
pub(super) fn width_in_em(text: &str, bold: bool) -> Result<f64, ChartError> {
    let mut end = 0.0;
    walk(text, bold, MEASURE_EM, |_, _, after| end = after)?;
    Ok(end / MEASURE_EM)
}

/// Calls `pixel` with column, row and coverage (0 to 1) of every pixel of a
/// text whose first letter starts at column 0 on a baseline at row 0.
///
/// # Errors
/// As [`register_fonts`], or what `pixel` gives back.
pub(super) fn cover(
    text: &str,
    bold: bool,
    em: f64,
    mut pixel: impl FnMut(i32, i32, f64) -> Result<(), ChartError>,
) -> Result<(), ChartError> {
    let mut outlines = Vec::new();
    walk(text, bold, em, |letter, start, _| {
        outlines.push((letter, start))
    })?;
    let fonts = fonts()?;
    let font = if bold { &fonts.bold } else { &fonts.regular };
    let scale = pixel_scale(em);
    for (letter, start) in outlines {
        let place = point(start as f32, 0.0);
        let glyph = font.glyph_id(letter).with_scale_and_position(scale, place);
        let Some(outline) = font.outline_glyph(glyph) else {
            continue;
        };
        let corner = outline.px_bounds().min;
        let mut covered = Vec::new();
        outline.draw(|column, row, coverage| covered.push((column, row, coverage)));
        for (column, row, coverage) in covered {
            if coverage > 0.0 {
                let x = corner.x as i32 + column as i32;
                let y = corner.y as i32 + row as i32;
                pixel(x, y, f64::from(coverage.min(1.0)))?;
            }
        }
    }
    Ok(())
}

fn pixel_scale(em: f64) -> PxScale {
    PxScale::from((em * FONT_HEIGHT_PER_EM) as f32)
}

/// Visits the letters with where each starts and ends, kerning included.
fn walk(
    text: &str,
    bold: bool,
    em: f64,
    mut visit: impl FnMut(char, f64, f64),
) -> Result<(), ChartError> {
    let fonts = fonts()?;
    let font = if bold { &fonts.bold } else { &fonts.regular };
    let scaled = font.as_scaled(pixel_scale(em));
    let mut at = 0.0;
    let mut previous = None;
    for letter in text.chars() {
        let glyph = font.glyph_id(letter);
        if let Some(previous) = previous {
            at += f64::from(scaled.kern(previous, glyph));
        }
        let start = at;
        at += f64::from(scaled.h_advance(glyph));
        visit(letter, start, at);
        previous = Some(glyph);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Advance widths of "H" (1540) and "i" (569) in DejaVu Sans, which the
    /// condensed face narrows to nine tenths (DejaVu fonts 2.37).
    #[test]
    fn published_letter_widths() -> Result<(), ChartError> {
        for (letter, units) in [("H", 1540.0), ("i", 569.0)] {
            let width = width_in_em(letter, false)?;
            assert!(
                (width - 0.9 * units / 2048.0).abs() < 1e-3,
                "{letter} {width}"
            );
        }
        Ok(())
    }

    #[test]
    fn exact_letters_keep_their_side_bearing() -> Result<(), ChartError> {
        let mut leftmost = i32::MAX;
        cover("H", false, 100.0, |column, _, _| {
            leftmost = leftmost.min(column);
            Ok(())
        })?;
        assert!(leftmost > 5, "{leftmost}");
        Ok(())
    }
}
