//! Checks of sizes: what would need more memory or time than a study is worth is refused before it is begun.

use super::choices::CoverArea;
use super::shape::{self, Shape};
use super::{Numbers, Outline, PatchSettings, REFERENCE_STEMS, Treatment};
use crate::maths::pow;
use crate::trouble::{Outcome, Trouble};

/// Memory that one season may take before a scenario is refused, bytes.
const MEMORY_LIMIT: f64 = 4.0 * GIBIBYTE;
const GIBIBYTE: f64 = (1u64 << 30) as f64;
/// Memory that a stem takes in a season, bytes: its state and about two eggs.
const BYTES_PER_STEM: f64 = 400.0;
/// Memory for a stem in the list of one cell from which it may be met, with the note by which the cell is cleared, bytes.
const BYTES_PER_ENTRY: f64 = 28.0;
/// Memory that a cell of the ground grid takes, bytes: its code and its list of stems near.
const BYTES_PER_CELL: f64 = 5.0;
/// Memory that an egg takes, bytes: its draft, its state and its events.
const BYTES_PER_EGG: f64 = 240.0;
/// Most cells of ground: a square kilometre in cells of a quarter metre. More takes seconds to lay out, for
/// every setting that is tried.
const MOST_CELLS: f64 = 2.0e7;
/// Most looks at an area or a side of an outline while the ground is laid out: about ten seconds.
const MOST_LOOKS: f64 = 2.0e9;
/// Most patches of a site.
pub(super) const MOST_PATCHES: usize = 500;
/// Most corners of a polygon; outlines are compared side by side.
const MOST_CORNERS: usize = 500;
/// Sides of an outline that is not a polygon, as far as the work of laying out the ground goes.
const SIDES_OF_OTHERS: usize = 1;
/// Least share of its bounding box that a polygon must fill: stems are drawn in the box until one falls inside.
const LEAST_FILLED: f64 = 1e-3;
/// Farthest coordinate, metres: beyond any map projection's easting or northing.
pub(super) const FARTHEST_M: f64 = 1e8;
/// Widest cluster, SD in metres: wider than any patch, so that stems would just be spread at random.
pub(super) const WIDEST_SPREAD_M: f64 = 100.0;

/// Whether a point is a place that a map may show.
pub(super) fn is_place(point: (f64, f64)) -> bool {
    point.0.abs() <= FARTHEST_M && point.1.abs() <= FARTHEST_M
}

/// Checks the corners of a polygon of the patch at `path`.
pub(super) fn polygon(corners: &[(f64, f64)], path: &str) -> Outcome<()> {
    let place = format!("{path}.outline");
    if corners.len() > MOST_CORNERS {
        return Err(
            Trouble::new(format!("the polygon has {} corners", corners.len()))
                .at(place)
                .expected(format!("at most {MOST_CORNERS}"))
                .remedy("leave out corners"),
        );
    }
    let shape = Shape::Polygon(corners.to_vec());
    let area = shape::area_of(corners);
    let sound = corners.len() >= 3
        && corners.iter().all(|corner| is_place(*corner))
        && area > LEAST_FILLED * shape.width_m() * shape.height_m();
    if !sound {
        return Err(Trouble::new("the polygon encloses no area, or hardly any")
            .at(place)
            .expected("at least three corners in order around the patch, metres")
            .remedy("mend the corners"));
    }
    Ok(())
}

/// Checks that further areas of cover lie somewhere.
pub(super) fn areas(areas: &[CoverArea]) -> Outcome<()> {
    if areas
        .iter()
        .all(|area| is_place(area.from_m) && is_place(area.to_m))
    {
        return Ok(());
    }
    Err(
        Trouble::new("an area of cover has a corner that is no place")
            .at("site.areas")
            .expected(format!("numbers in metres, none beyond {FARTHEST_M}"))
            .remedy("mend from_m and to_m"),
    )
}

/// Extent of the patches, metres, without the margin.
fn extent(numbers: &Numbers, patches: &[PatchSettings]) -> (f64, f64) {
    let (mut low, mut high) = (
        (f64::INFINITY, f64::INFINITY),
        (f64::NEG_INFINITY, f64::NEG_INFINITY),
    );
    let mut in_a_row = (0.0, 0.0f64);
    for patch in patches {
        let shape = Shape::of(patch);
        match patch.centre_m {
            None => {
                in_a_row.0 += shape.width_m();
                // Polygons of a pair may stand askew to each other.
                in_a_row.1 += shape.height_m();
            }
            Some((x, y)) => {
                let (left, bottom, right, top) = shape.bounds();
                low = (low.0.min(x + left), low.1.min(y + bottom));
                high = (high.0.max(x + right), high.1.max(y + top));
            }
        }
    }
    if low.0.is_finite() {
        (high.0 - low.0, high.1 - low.1)
    } else {
        (in_a_row.0 + numbers.site.gap_m, in_a_row.1)
    }
}

/// Checks that stems and ground fit into memory and can be laid out in reasonable time.
pub(super) fn ground(numbers: &Numbers, patches: &[PatchSettings], areas: usize) -> Outcome<()> {
    let (site, walking) = (&numbers.site, &numbers.walking);
    let stems: f64 = patches.iter().map(|patch| patch.numbers.stems).sum();
    let extent = extent(numbers, patches);
    let along = |size: f64| (size + 2.0 * (site.margin_m + walking.stride_m)) / site.cell_m;
    let cells = along(extent.0) * along(extent.1);
    let reach = 2.0 * (walking.perceptual_range_m + walking.stride_m) / site.cell_m + 1.0;
    let stem_bytes = stems * (BYTES_PER_STEM + reach * reach * BYTES_PER_ENTRY);
    let bytes = stem_bytes + cells * BYTES_PER_CELL;
    let place = if stem_bytes > cells * BYTES_PER_CELL {
        most_stems(patches)
    } else {
        "site.cell_m".to_owned()
    };
    if bytes.is_nan() || bytes > MEMORY_LIMIT {
        return Err(Trouble::new(format!(
            "{stems:.0} stems on {cells:.3e} cells of ground would need about {:.1} GiB of memory",
            bytes / GIBIBYTE
        ))
        .at(place)
        .expected(format!(
            "a site that fits into {:.0} GiB",
            MEMORY_LIMIT / GIBIBYTE
        ))
        .remedy("simulate fewer stems, a smaller arena or larger cells"));
    }
    let sides: usize = patches
        .iter()
        .map(|patch| match &patch.outline {
            Outline::Polygon(corners) => corners.len(),
            Outline::Rectangle | Outline::Ellipse => SIDES_OF_OTHERS,
        })
        .sum();
    if cells > MOST_CELLS || cells * (areas + sides) as f64 > MOST_LOOKS {
        return Err(Trouble::new(format!(
            "the ground has {cells:.3e} cells, with {sides} outlines or sides of polygons and {areas} areas to look at in each"
        ))
        .at("site.cell_m")
        .expected(format!(
            "at most {MOST_CELLS:.0e} cells, and {MOST_LOOKS:.0e} looks in all"
        ))
        .remedy("choose larger cells, a smaller margin_m or gap_m, or fewer corners and areas"));
    }
    Ok(())
}

/// Path of the number of stems of the largest patch.
fn most_stems(patches: &[PatchSettings]) -> String {
    let largest = patches
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.numbers.stems.total_cmp(&b.1.numbers.stems));
    match largest {
        Some((index, patch)) if patch.centre_m.is_some() => {
            format!("site.patches.{}.patch.stems", index + 1)
        }
        Some((_, patch)) => format!("site.{}.stems", patch.name),
        None => "site".to_owned(),
    }
}

/// Checks that the eggs of an average season fit into memory.
pub(super) fn eggs(
    numbers: &Numbers,
    patches: &[PatchSettings],
    flight: &[(f64, f64)],
) -> Outcome<()> {
    const DAYS_A_WEEK: f64 = 7.0;
    let (laying, dates) = (&numbers.laying, &numbers.dates);
    let height = flight.iter().map(|knot| knot.1).fold(0.0, f64::max);
    let weeks = (dates.lead_in_days + dates.laying_until_day) / DAYS_A_WEEK * height;
    let eggs: f64 = patches
        .iter()
        .map(|patch| {
            let attraction = match patch.treatment {
                Treatment::Untouched => 1.0,
                Treatment::HalfCut | Treatment::WholeCut => laying.attraction_peak.max(1.0),
            };
            let size = pow(patch.numbers.stems / REFERENCE_STEMS, laying.size_exponent);
            patch.numbers.stems
                * laying.eggs_per_stem_week
                * size
                * attraction
                * laying.full_shade_factor.max(1.0)
        })
        .sum::<f64>()
        * weeks;
    if eggs * BYTES_PER_EGG > MEMORY_LIMIT {
        return Err(Trouble::new(format!(
            "up to {eggs:.2e} eggs a season would need about {:.1} GiB of memory",
            eggs * BYTES_PER_EGG / GIBIBYTE
        ))
        .at("laying.eggs_per_stem_week")
        .expected(format!(
            "eggs that fit into {:.0} GiB",
            MEMORY_LIMIT / GIBIBYTE
        ))
        .remedy("lower eggs_per_stem_week, attraction_peak, the number of stems or the flight"));
    }
    Ok(())
}
