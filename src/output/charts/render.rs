//! Replays a recorded drawing as SVG text and as PNG bytes.

use plotters::backend::{BitMapBackend, DrawingBackend, SVGBackend};
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{Circle, Drawable, PathElement, PointCollection, Polygon};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{FontDesc, FontFamily, FontStyle, RGBAColor, ShapeStyle, TextStyle};

use super::glyphs::{FONT_FAMILY, cover, register_fonts, width_in_em};
use super::raster::covered;
use super::scene::{Align, Ink, Lettering, Point, Scene, Step, plain};
use super::{ChartError, PNG_SCALE, Rendered};

/// Drawing units per SVG unit: the backends know whole units only, so curves
/// would be visibly stepped without a finer grid.
const FINENESS: u32 = 4;

/// Bytes per pixel of the bitmap backend's buffer (red, green, blue).
const CHANNELS: usize = 3;

/// Drawn positions are kept within this many fine units, well inside the
/// integers the backends compute with.
const FARTHEST: f64 = 1e6;

/// CSS pixels per metre (96 per inch), for the resolution note in the PNG.
const PIXELS_PER_METRE: f64 = 96.0 / 0.0254;

/// Which help a backend needs.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Target {
    Vector,
    Bitmap,
}

/// The SVG backend divides font sizes by this (plotters-svg 0.3.7).
const SVG_SIZE_PER_EM: f64 = 1.24;

/// The SVG backend puts the baseline of "top" text this far down, in em.
const SVG_TOP_TO_BASELINE: f64 = 0.76;

impl Scene {
    /// Draws the scene with both backends.
    pub(super) fn render(&self) -> Result<Rendered, ChartError> {
        register_fonts()?;
        let (title, note) = self.words.clone();
        Ok(Rendered {
            svg: self.svg()?,
            png: self.png()?,
            title,
            note,
        })
    }

    /// Size in whole SVG units.
    pub(super) fn size(&self) -> (u32, u32) {
        (self.width.ceil() as u32, self.height.ceil() as u32)
    }

    fn svg(&self) -> Result<String, ChartError> {
        let (width, height) = self.size();
        let fine = (width * FINENESS, height * FINENESS);
        let mut svg = String::new();
        {
            let area = SVGBackend::with_string(&mut svg, fine).into_drawing_area();
            replay(self, &area, Target::Vector)?;
            area.present().map_err(refused)?;
        }
        // The drawing keeps its fine grid; only its displayed size is set back.
        let drawn = format!("width=\"{}\" height=\"{}\"", fine.0, fine.1);
        let shown = format!("width=\"{width}\" height=\"{height}\"");
        let shown = svg.replacen(&drawn, &format!("{shown} role=\"img\""), 1);
        Ok(match shown.split_once(">\n") {
            Some((opening, rest)) => format!("{opening}>\n{}{rest}", self.spoken()),
            None => shown,
        })
    }

    /// Title and description, as a screen reader tells them.
    fn spoken(&self) -> String {
        let (title, note) = &self.words;
        let escaped = |text: &str| -> String {
            plain(text)
                .replace('&', "&amp;")
                .replace('<', "&lt;")
                .replace('>', "&gt;")
        };
        format!(
            "<title>{}</title>\n<desc>{}</desc>\n",
            escaped(title),
            escaped(note)
        )
    }

    fn png(&self) -> Result<Vec<u8>, ChartError> {
        let (width, height) = self.size();
        pack(
            &self.pixels(PNG_SCALE)?,
            (width * PNG_SCALE, height * PNG_SCALE),
        )
    }

    /// The drawing as red, green, blue bytes, row by row, with `scale` pixels per SVG unit; `scale` divides
    /// [`FINENESS`].
    pub(super) fn pixels(&self, scale: u32) -> Result<Vec<u8>, ChartError> {
        register_fonts()?;
        let (width, height) = self.size();
        let fine = (width * FINENESS, height * FINENESS);
        let mut pixels = vec![0_u8; fine.0 as usize * fine.1 as usize * CHANNELS];
        {
            let area = BitMapBackend::with_buffer(&mut pixels, fine).into_drawing_area();
            replay(self, &area, Target::Bitmap)?;
            area.present().map_err(refused)?;
        }
        // Fine pixels are averaged into one, each way: smooth edges for shapes that the backend draws without them.
        Ok(average(&pixels, fine, (FINENESS / scale) as usize))
    }
}

/// Error of the drawing library as our own.
fn refused(error: impl std::fmt::Display) -> ChartError {
    ChartError::Draw(error.to_string())
}

/// Averages blocks of fine pixels.
fn average(pixels: &[u8], fine: (u32, u32), block: usize) -> Vec<u8> {
    let row_bytes = fine.0 as usize * CHANNELS;
    let per_block = (block * block) as u32;
    let mut small = Vec::with_capacity(pixels.len() / (block * block));
    for rows in pixels.chunks_exact(row_bytes * block) {
        for column in 0..fine.0 as usize / block {
            for channel in 0..CHANNELS {
                let mut sum = 0_u32;
                for (down, right) in (0..block).flat_map(|d| (0..block).map(move |r| (d, r))) {
                    let at = down * row_bytes + (column * block + right) * CHANNELS + channel;
                    sum += u32::from(rows[at]);
                }
                small.push(((sum + per_block / 2) / per_block) as u8);
            }
        }
    }
    small
}

/// Packs RGB pixels as a PNG file.
fn pack(pixels: &[u8], size: (u32, u32)) -> Result<Vec<u8>, ChartError> {
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, size.0, size.1);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    // Large even areas: choosing the filter line by line saves much of the file.
    encoder.set_adaptive_filter(png::AdaptiveFilterType::Adaptive);
    let density = (PIXELS_PER_METRE * f64::from(PNG_SCALE)).round() as u32;
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: density,
        yppu: density,
        unit: png::Unit::Meter,
    }));
    let mut writer = encoder.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()?;
    Ok(file)
}

/// A position on the fine grid, not yet rounded.
fn fine_point(point: Point) -> Point {
    let scale = f64::from(FINENESS);
    let place = |along: f64| (along * scale).clamp(-FARTHEST, FARTHEST);
    (place(point.0), place(point.1))
}

/// A position on the fine grid.
fn grid_point(point: Point) -> (i32, i32) {
    let (x, y) = fine_point(point);
    (x.round() as i32, y.round() as i32)
}

fn shape(ink: Ink, filled: bool, width: u32) -> ShapeStyle {
    let (red, green, blue) = ink.colour;
    ShapeStyle {
        color: RGBAColor(red, green, blue, ink.opacity),
        filled,
        stroke_width: width,
    }
}

fn draw<'a, DB, E>(area: &DrawingArea<DB, Shift>, element: &'a E) -> Result<(), ChartError>
where
    DB: DrawingBackend,
    &'a E: PointCollection<'a, (i32, i32)>,
    E: Drawable<DB>,
{
    area.draw(element).map_err(refused)
}

fn replay<DB: DrawingBackend>(
    scene: &Scene,
    area: &DrawingArea<DB, Shift>,
    target: Target,
) -> Result<(), ChartError> {
    let (red, green, blue) = scene.background;
    area.fill(&RGBAColor(red, green, blue, 1.0))
        .map_err(refused)?;
    for step in &scene.steps {
        match step {
            Step::Fill { corners, ink } => {
                let corners: Vec<_> = corners.iter().map(|&corner| grid_point(corner)).collect();
                draw(area, &Polygon::new(corners, shape(*ink, true, 0)))?;
            }
            Step::Path { points, ink, width } => path(area, points, *ink, *width, target)?,
            Step::Disc {
                centre,
                radius,
                ink,
            } => {
                let radius = (radius * f64::from(FINENESS)).round().max(0.0) as i32;
                let disc = Circle::new(grid_point(*centre), radius, shape(*ink, true, 0));
                draw(area, &disc)?;
            }
            Step::Text {
                text,
                baseline,
                lettering,
            } => write(area, text, *baseline, *lettering, target)?,
        }
    }
    Ok(())
}

fn path<DB: DrawingBackend>(
    area: &DrawingArea<DB, Shift>,
    points: &[Point],
    ink: Ink,
    width: f64,
    target: Target,
) -> Result<(), ChartError> {
    let fine_width = width * f64::from(FINENESS);
    if target == Target::Vector {
        let points: Vec<_> = points.iter().map(|&point| grid_point(point)).collect();
        let line = shape(ink, false, fine_width.round().max(1.0) as u32);
        return draw(area, &PathElement::new(points, line));
    }
    let points: Vec<_> = points.iter().map(|&point| fine_point(point)).collect();
    for (row, left, right) in covered(&points, fine_width / 2.0, area.dim_in_pixel()) {
        let run = PathElement::new(vec![(left, row), (right, row)], shape(ink, false, 1));
        draw(area, &run)?;
    }
    Ok(())
}

fn write<DB: DrawingBackend>(
    area: &DrawingArea<DB, Shift>,
    text: &str,
    baseline: Point,
    lettering: Lettering,
    target: Target,
) -> Result<(), ChartError> {
    let em = lettering.size * f64::from(FINENESS);
    let (red, green, blue) = lettering.colour;
    let (x, y) = fine_point(baseline);
    if target == Target::Bitmap {
        let width = width_in_em(text, lettering.bold)? * em;
        let start = match lettering.align {
            Align::Left => x,
            Align::Middle => x - width / 2.0,
            Align::Right => x - width,
        };
        let origin = (start.round() as i32, y.round() as i32);
        return cover(text, lettering.bold, em, |column, row, coverage| {
            let colour = RGBAColor(red, green, blue, coverage);
            area.draw_pixel((origin.0 + column, origin.1 + row), &colour)
                .map_err(refused)
        });
    }
    let side = match lettering.align {
        Align::Left => HPos::Left,
        Align::Middle => HPos::Center,
        Align::Right => HPos::Right,
    };
    let weight = if lettering.bold {
        FontStyle::Bold
    } else {
        FontStyle::Normal
    };
    let font = FontDesc::new(FontFamily::Name(FONT_FAMILY), em * SVG_SIZE_PER_EM, weight);
    let colour = RGBAColor(red, green, blue, 1.0);
    let style = TextStyle::from(font)
        .color(&colour)
        .pos(Pos::new(side, VPos::Top));
    let top = (y - em * SVG_TOP_TO_BASELINE).round() as i32;
    area.draw_text(text, &style, (x.round() as i32, top))
        .map_err(refused)
}
