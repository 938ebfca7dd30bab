//! The one place where colours, shapes, line styles and sizes are chosen.
//!
//! The palette is our own: each member of a group that is drawn together has
//! a different hue *and* a clearly different lightness (so it survives colour
//! blindness and a grey printer), and besides a marker shape and a line style
//! of its own.

use super::StemCondition;

/// A colour with red, green and blue parts, each 0 to 255.
pub type Colour = (u8, u8, u8);

/// Marker shape of a series, a stem condition or a walk's end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Filled circle.
    Disc,
    /// Circle outline.
    Ring,
    /// Filled square.
    Square,
    /// Square outline.
    OpenSquare,
    /// Filled triangle, point up.
    Triangle,
    /// Filled square standing on a corner.
    Diamond,
    /// Short horizontal stroke.
    Bar,
    /// Diagonal cross.
    Cross,
    /// Upright cross.
    Plus,
    /// Outline of a square standing on a corner.
    OpenDiamond,
    /// See-through circle around something else.
    Halo,
}

/// Line style of a series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// Unbroken line.
    Solid,
    /// Long dashes.
    Dashed,
    /// Dots.
    Dotted,
    /// Dashes and dots in turn.
    DashDot,
}

impl Stroke {
    /// Lengths of line and space in turn, in SVG units; empty when unbroken.
    #[must_use]
    pub fn pattern(self) -> &'static [f64] {
        match self {
            Self::Solid => &[],
            Self::Dashed => &[9.0, 5.0],
            Self::Dotted => &[2.0, 4.0],
            Self::DashDot => &[10.0, 4.0, 2.0, 4.0],
        }
    }
}

/// How one thing looks in every chart: colour, marker shape, line style.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark {
    /// Colour of lines, markers and direct labels.
    pub colour: Colour,
    /// Marker shape.
    pub shape: Shape,
    /// Line style.
    pub stroke: Stroke,
}

const fn mark(colour: Colour, shape: Shape, stroke: Stroke) -> Mark {
    Mark {
        colour,
        shape,
        stroke,
    }
}

/// The treated patch.
pub const TREATED: Mark = mark((31, 63, 122), Shape::Disc, Stroke::Solid);
/// The untouched patch.
pub const UNTOUCHED: Mark = mark((206, 121, 20), Shape::OpenSquare, Stroke::Dashed);
/// The refuge half of a treated patch.
pub const REFUGE_HALF: Mark = mark((14, 92, 92), Shape::Diamond, Stroke::Solid);
/// The cut half of a treated patch.
pub const CUT_HALF: Mark = mark((198, 92, 156), Shape::Triangle, Stroke::DashDot);
/// Anything that comes from another patch.
pub const OTHER_PATCH: Mark = mark((112, 98, 40), Shape::Ring, Stroke::Dotted);

/// A stem in full leaf that was never cut.
pub const STEM_MATURE: Mark = mark((47, 93, 58), Shape::Disc, Stroke::Solid);
/// A stem cut down and not yet grown again.
pub const STEM_STUBBLE: Mark = mark((164, 112, 60), Shape::Bar, Stroke::Solid);
/// A stem with regrowth after the cut.
pub const STEM_FRESH: Mark = mark((126, 184, 74), Shape::Triangle, Stroke::Solid);
/// A stem without a leaf left.
pub const STEM_EATEN_OUT: Mark = mark((105, 105, 105), Shape::Cross, Stroke::Solid);

/// A comparison of the treated with the untouched part, such as a ratio or the net yield; it belongs to neither.
pub const COMPARISON: Mark = mark((116, 66, 34), Shape::Square, Stroke::Solid);

/// Looks for series that stand for none of the above, such as effects of different size: one hue from dark to light.
/// A run of lightness keeps its order in grey and for the colour-blind, and no named thing has this hue.
pub const SERIES: [Mark; 6] = [
    mark((84, 6, 32), Shape::Square, Stroke::Solid),
    mark((122, 16, 50), Shape::OpenDiamond, Stroke::Dashed),
    mark((158, 34, 68), Shape::Disc, Stroke::DashDot),
    mark((188, 62, 88), Shape::Triangle, Stroke::Solid),
    mark((202, 88, 106), Shape::Ring, Stroke::Dashed),
    mark((214, 112, 124), Shape::Diamond, Stroke::DashDot),
];

/// No effect at all, beside effects of different size.
pub const NO_EFFECT: Mark = mark((140, 134, 126), Shape::OpenSquare, Stroke::Dotted);

/// What is wanted for a power of 80 %, and of 90 %.
pub const POWERS: [Mark; 2] = [
    mark((40, 44, 52), Shape::Disc, Stroke::Solid),
    mark((126, 130, 138), Shape::OpenDiamond, Stroke::Dashed),
];

/// A site that can serve as a pair.
pub const FIT_PAIR: Mark = mark((44, 84, 196), Shape::Disc, Stroke::Solid);
/// A site of which one patch can serve, compared by halves.
pub const FIT_ONE_PATCH: Mark = mark((214, 168, 0), Shape::Triangle, Stroke::Dashed);
/// A site that would do, but for its owner's permission.
pub const FIT_WAITING: Mark = mark((122, 148, 226), Shape::Ring, Stroke::DashDot);
/// A site that can serve for nothing.
pub const FIT_NOTHING: Mark = mark((92, 60, 92), Shape::Cross, Stroke::Dotted);

/// Look of the `index`-th of `count` series: as far apart in lightness as their number allows, the last the darkest;
/// repeats where there are more series than looks.
#[must_use]
pub fn series_mark(index: usize, count: usize) -> Mark {
    let last = SERIES.len() - 1;
    if count > SERIES.len() {
        return SERIES[last - index % SERIES.len()];
    }
    let steps = count.saturating_sub(1).max(1);
    SERIES[last - (index.min(steps) * last).div_ceil(steps)]
}

/// Shades of a value, the lowest first: even steps of lightness (CIE 1976 L*, tested), so that equal differences look
/// equal, also in grey; the hue turns from straw to slate, which the colour-blind see too.
pub const SHADES: [Colour; 9] = [
    (249, 241, 207),
    (217, 217, 169),
    (180, 196, 140),
    (140, 175, 120),
    (101, 153, 107),
    (64, 129, 97),
    (32, 105, 88),
    (12, 80, 75),
    (13, 55, 57),
];

/// Shade of a value by its part of the way from the lowest (0) to the highest (1).
#[must_use]
pub fn shade_of(part: f64) -> Colour {
    let last = SHADES.len() - 1;
    let along = if part.is_nan() {
        0.0
    } else {
        part.clamp(0.0, 1.0) * last as f64
    };
    let from = (along.floor() as usize).min(last - 1);
    let rest = along - from as f64;
    let mix = |one: u8, other: u8| {
        (f64::from(one) + rest * (f64::from(other) - f64::from(one))).round() as u8
    };
    let (one, other) = (SHADES[from], SHADES[from + 1]);
    (
        mix(one.0, other.0),
        mix(one.1, other.1),
        mix(one.2, other.2),
    )
}

/// Part of the way along the shades from which white letters on them contrast more than black ones.
const LIGHT_LETTERS_FROM: f64 = 0.62;

/// Colour of letters on a shade: pure black or white, for nothing else keeps the contrast of 4.5 to 1 on the middle
/// shades (WCAG 2.1, criterion 1.4.3).
#[must_use]
pub fn letters_on(part: f64) -> Colour {
    if part >= LIGHT_LETTERS_FROM {
        (255, 255, 255)
    } else {
        (0, 0, 0)
    }
}

/// Look of a stem on the map.
#[must_use]
pub fn stem_mark(condition: StemCondition) -> Mark {
    match condition {
        StemCondition::Mature => STEM_MATURE,
        StemCondition::Stubble => STEM_STUBBLE,
        StemCondition::Fresh => STEM_FRESH,
        StemCondition::EatenOut => STEM_EATEN_OUT,
    }
}

/// A mark's colour, darkened for thin letters: the lightest mark then keeps a
/// contrast of 4.5 to 1 against the paper (WCAG 2.1, criterion 1.4.3).
#[must_use]
pub fn for_letters((red, green, blue): Colour) -> Colour {
    let darken = |part: u8| (f64::from(part) * LETTER_DARKENING).round() as u8;
    (darken(red), darken(green), darken(blue))
}

/// Part of a colour's brightness that letters keep.
const LETTER_DARKENING: f64 = 0.8;

/// Paper.
pub const BACKGROUND: Colour = (252, 251, 248);
/// Titles, labels and thresholds.
pub const TEXT: Colour = (34, 36, 40);
/// Tick labels and notes.
pub const TEXT_QUIET: Colour = (92, 94, 98);
/// Axis lines and the edge of the arena.
pub const AXIS: Colour = (120, 120, 116);
/// Grid lines.
pub const GRID: Colour = (228, 226, 219);
/// Shading of an interval along the horizontal axis.
pub const SPAN: Colour = (138, 112, 168);

/// Text that belongs to such an interval.
pub const SPAN_TEXT: Colour = (84, 58, 116);

/// Opacity of the interval band around a line.
pub const BAND_OPACITY: f64 = 0.17;
/// Opacity of the shading of an interval along the horizontal axis.
pub const SPAN_OPACITY: f64 = 0.22;
/// Opacity of the shading of a wider, less certain span.
pub const WIDE_SPAN_OPACITY: f64 = 0.10;
/// Opacity of a walk, so that crossing walks show through each other.
pub const WALK_OPACITY: f64 = 0.5;

/// Text sizes in SVG units (CSS pixels: 16 is 12 points).
pub const TITLE_SIZES: [f64; 3] = [20.0, 18.0, 16.0];
/// Axis titles and direct labels.
pub const LABEL_SIZE: f64 = 16.0;
/// Tick labels and notes.
pub const SMALL_SIZE: f64 = 15.0;
/// Distance between baselines as a multiple of the text size.
pub const LINE_SPACING: f64 = 1.25;

/// Width of a series' line.
pub const LINE_WIDTH: f64 = 2.2;
/// Width of axes, whiskers and leaders.
pub const THIN_WIDTH: f64 = 1.0;
/// Width of thresholds and outlines.
pub const MEDIUM_WIDTH: f64 = 1.5;
/// Width of a walk on the map.
pub const WALK_WIDTH: f64 = 1.2;
/// Half the size of a series' marker.
pub const MARKER_RADIUS: f64 = 5.0;
/// Half the size of a stem or a walk's end on the map.
pub const MAP_MARKER_RADIUS: f64 = 3.5;
