//! Replays a recorded drawing as SVG text and as PNG bytes.

use plotters::backend::{BitMapBackend, DrawingBackend, SVGBackend};
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::element::{Circle, Drawable, PathElement, PointCollection, Polygon};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{RGBAColor, ShapeStyle, TextStyle};

use super::raster::covered;
use super::scene::{
    Align, FONT_HEIGHT_PER_EM, Ink, Lettering, Point, Scene, Step, font, register_fonts,
};
use super::{ChartError, PNG_SCALE, Rendered};

/// Drawing units per SVG unit: the backends know whole units only, so curves
/// would be visibly stepped without a finer grid.
const FINENESS: u32 = 4;

/// Fine pixels averaged into one PNG pixel, each way: smooth edges for shapes
/// that the bitmap backend draws without them.
const PIXELS_AVERAGED: u32 = FINENESS / PNG_SCALE;

/// Bytes per pixel of the bitmap backend's buffer (red, green, blue).
const CHANNELS: usize = 3;

/// Drawn positions are kept within this many fine units, well inside the
/// integers the backends compute with.
const FARTHEST: f64 = 1e6;

/// CSS pixels per metre (96 per inch), for the resolution note in the PNG.
const PIXELS_PER_METRE: f64 = 96.0 / 0.0254;

/// Where a backend puts the letters, and what it needs help with.
#[derive(Clone, Copy)]
struct Habits {
    /// Font size to ask for per em wanted.
    size_per_em: f64,
    /// Distance from the "top" anchor down to the baseline, in em.
    top_to_baseline: f64,
    /// Whether thick paths must be drawn pixel by pixel.
    thick_paths_need_help: bool,
}

/// The SVG backend divides sizes by 1.24 and shifts "top" text by 0.76 em
/// (plotters-svg 0.3.7, `draw_text`).
const SVG_HABITS: Habits = Habits {
    size_per_em: 1.24,
    top_to_baseline: 0.76,
    thick_paths_need_help: false,
};

/// The bitmap backend takes the size as line height and puts the baseline of
/// "top" text half a size down (plotters 0.3.7, `font/ab_glyph.rs`).
const BITMAP_HABITS: Habits = Habits {
    size_per_em: FONT_HEIGHT_PER_EM,
    top_to_baseline: FONT_HEIGHT_PER_EM / 2.0,
    thick_paths_need_help: true,
};

impl Scene {
    /// Draws the scene with both backends.
    pub(super) fn render(&self) -> Result<Rendered, ChartError> {
        register_fonts()?;
        Ok(Rendered {
            svg: self.svg()?,
            png: self.png()?,
        })
    }

    /// Size in whole SVG units.
    fn size(&self) -> (u32, u32) {
        (self.width.ceil() as u32, self.height.ceil() as u32)
    }

    fn svg(&self) -> Result<String, ChartError> {
        let (width, height) = self.size();
        let fine = (width * FINENESS, height * FINENESS);
        let mut svg = String::new();
        {
            let area = SVGBackend::with_string(&mut svg, fine).into_drawing_area();
            replay(self, &area, SVG_HABITS)?;
            area.present().map_err(refused)?;
        }
        // The drawing keeps its fine grid; only its displayed size is set back.
        let drawn = format!("width=\"{}\" height=\"{}\"", fine.0, fine.1);
        let shown = format!("width=\"{width}\" height=\"{height}\"");
        Ok(svg.replacen(&drawn, &shown, 1))
    }

    fn png(&self) -> Result<Vec<u8>, ChartError> {
        let (width, height) = self.size();
        let fine = (width * FINENESS, height * FINENESS);
        let mut pixels = vec![0_u8; fine.0 as usize * fine.1 as usize * CHANNELS];
        {
            let area = BitMapBackend::with_buffer(&mut pixels, fine).into_drawing_area();
            replay(self, &area, BITMAP_HABITS)?;
            area.present().map_err(refused)?;
        }
        let small = average(&pixels, fine);
        pack(&small, (width * PNG_SCALE, height * PNG_SCALE))
    }
}

/// Error of the drawing library as our own.
fn refused(error: impl std::fmt::Display) -> ChartError {
    ChartError::Draw(error.to_string())
}

/// Averages blocks of fine pixels.
fn average(pixels: &[u8], fine: (u32, u32)) -> Vec<u8> {
    let block = PIXELS_AVERAGED as usize;
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
    habits: Habits,
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
            Step::Path { points, ink, width } => path(area, points, *ink, *width, habits)?,
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
            } => write(area, text, *baseline, *lettering, habits)?,
        }
    }
    Ok(())
}

fn path<DB: DrawingBackend>(
    area: &DrawingArea<DB, Shift>,
    points: &[Point],
    ink: Ink,
    width: f64,
    habits: Habits,
) -> Result<(), ChartError> {
    let fine_width = width * f64::from(FINENESS);
    if !habits.thick_paths_need_help {
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
    habits: Habits,
) -> Result<(), ChartError> {
    let em = lettering.size * f64::from(FINENESS);
    let side = match lettering.align {
        Align::Left => HPos::Left,
        Align::Middle => HPos::Center,
        Align::Right => HPos::Right,
    };
    let (red, green, blue) = lettering.colour;
    let colour = RGBAColor(red, green, blue, 1.0);
    let style = TextStyle::from(font(em * habits.size_per_em, lettering.bold))
        .color(&colour)
        .pos(Pos::new(side, VPos::Top));
    let (x, y) = fine_point(baseline);
    let top = (y - em * habits.top_to_baseline).round() as i32;
    area.draw_text(text, &style, (x.round() as i32, top))
        .map_err(refused)
}
