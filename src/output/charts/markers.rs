//! Markers of series, stems and walks' ends.

use super::scene::{Point, Scene, ink};
use super::style::{Mark, Shape};

/// Width of marker outlines and strokes.
const OUTLINE_WIDTH: f64 = 1.8;
/// Corners of a polygon that passes for a small circle.
const HALO_CORNERS: u32 = 20;
/// Width of a see-through circle.
const HALO_WIDTH: f64 = 1.4;

// Shapes of the same reach look differently large: squares larger than discs,
// diamonds and triangles smaller. These parts of the radius even them out.
const SQUARE_REACH: f64 = 0.88;
const DIAMOND_REACH: f64 = 1.2;
const TRIANGLE_REACH: f64 = 1.25;

impl Scene {
    /// A marker of the given half size.
    pub(super) fn marker(&mut self, mark: Mark, centre: Point, radius: f64) {
        let (x, y) = centre;
        let solid = ink(mark.colour);
        let paper = ink(self.background);
        let outline = OUTLINE_WIDTH.min(radius / 2.0);
        let side = radius * SQUARE_REACH;
        match mark.shape {
            Shape::Disc => self.disc(centre, radius, solid),
            Shape::Ring => {
                self.disc(centre, radius, solid);
                self.disc(centre, radius - outline, paper);
            }
            Shape::Square => self.rectangle((x - side, y - side), (x + side, y + side), solid),
            Shape::OpenSquare => {
                let inner = side - outline;
                self.rectangle((x - side, y - side), (x + side, y + side), solid);
                self.rectangle((x - inner, y - inner), (x + inner, y + inner), paper);
            }
            Shape::Triangle => self.fill(corners(centre, radius * TRIANGLE_REACH, 3), solid),
            Shape::Diamond => self.fill(corners(centre, radius * DIAMOND_REACH, 4), solid),
            Shape::Bar => self.line((x - radius, y), (x + radius, y), solid, outline),
            Shape::Cross => {
                self.line((x - side, y - side), (x + side, y + side), solid, outline);
                self.line((x - side, y + side), (x + side, y - side), solid, outline);
            }
            Shape::Plus => {
                self.line((x - radius, y), (x + radius, y), solid, outline);
                self.line((x, y - radius), (x, y + radius), solid, outline);
            }
            Shape::OpenDiamond => {
                let reach = radius * DIAMOND_REACH;
                // Measured along the axes, a slanted outline is wider by this.
                let inner = reach - outline * std::f64::consts::SQRT_2;
                self.fill(corners(centre, reach, 4), solid);
                self.fill(corners(centre, inner, 4), paper);
            }
            Shape::Halo => {
                let mut circle = corners(centre, radius, HALO_CORNERS);
                circle.push(circle[0]);
                self.path(circle, solid, HALO_WIDTH);
            }
        }
    }
}

/// Corners of a regular polygon, the first one on top.
fn corners(centre: Point, radius: f64, count: u32) -> Vec<Point> {
    (0..count)
        .map(|corner| {
            let angle = std::f64::consts::TAU * f64::from(corner) / f64::from(count);
            (
                centre.0 + radius * angle.sin(),
                centre.1 - radius * angle.cos(),
            )
        })
        .collect()
}
