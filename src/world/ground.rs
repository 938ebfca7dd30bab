//! The ground grid: cover of each cell, and which stems a larva may meet from it.
//!
//! One byte a cell answers everything that a stride needs to know: the cover in the low bits, one bit
//! for "stems near", one for "outside the arena". Only cells with the near bit have a list.

use super::layout::Layout;
use crate::ids::StemId;
use crate::scenario::{CoverKind, Scenario};

/// Bits of a cell's code that hold its cover.
pub const COVER_BITS: u8 = 0b0000_0011;
/// Set where stems are to be looked for: on and around patches, and wherever else a stem was ever entered.
pub const NEAR: u8 = 0b0100_0000;
/// Set outside the arena.
pub const OUTSIDE: u8 = 0b1000_0000;

/// Number of covers.
pub const COVERS: usize = 4;

/// Entry that ends every list: no stem, infinitely far.
const NONE: u32 = 0;
const NOWHERE: Entry = Entry {
    x_m: f64::INFINITY,
    y_m: f64::INFINITY,
    stem: None,
    next: NONE,
};

#[derive(Debug, Clone, Copy)]
struct Entry {
    x_m: f64,
    y_m: f64,
    stem: Option<StemId>,
    next: u32,
}

/// The grid. Coordinates are arena coordinates in metres; a frame of outside cells surrounds the arena
/// so that no single stride can leave the grid.
#[derive(Debug, Clone)]
pub struct Ground {
    codes: Vec<u8>,
    heads: Vec<u32>,
    entries: Vec<Entry>,
    touched: Vec<u32>,
    columns: usize,
    rows: usize,
    per_metre: f64,
    cell_m: f64,
    frame: usize,
    offset: f64,
}

/// The whole number nearest to a small non-negative number, by adding 2^52 and reading the lowest bits of the
/// mantissa. A stride asks for two of them, and a checked conversion costs as much as the rest of it.
#[inline]
fn whole(number: f64) -> usize {
    const SHIFT: f64 = (1u64 << 52) as f64;
    ((number + SHIFT).to_bits() as u32) as usize
}

/// Index of a cover in a cell's code.
#[must_use]
pub fn cover_code(cover: CoverKind) -> u8 {
    match cover {
        CoverKind::ShortGrass => 0,
        CoverKind::Mown => 1,
        CoverKind::TallGrass => 2,
        CoverKind::Paved => 3,
    }
}

impl Ground {
    /// The bare ground of a layout, without stems.
    #[must_use]
    pub fn of(scenario: &Scenario, layout: &Layout) -> Self {
        let cell_m = scenario.numbers.site.cell_m;
        let frame = (scenario.numbers.walking.stride_m / cell_m).ceil() as usize + 1;
        let inner = (
            (layout.arena_m.0 / cell_m).ceil() as usize,
            (layout.arena_m.1 / cell_m).ceil() as usize,
        );
        let (columns, rows) = (inner.0 + 2 * frame, inner.1 + 2 * frame);
        let mut ground = Self {
            codes: vec![OUTSIDE; columns * rows],
            heads: vec![NONE; columns * rows],
            entries: vec![NOWHERE],
            touched: Vec::new(),
            columns,
            rows,
            per_metre: 1.0 / cell_m,
            cell_m,
            frame,
            offset: frame as f64 - 0.5,
        };
        for row in frame..rows - frame {
            for column in frame..columns - frame {
                let middle = ground.middle(column, row);
                let beyond = middle.0 > layout.arena_m.0 || middle.1 > layout.arena_m.1;
                if !beyond {
                    let near = if may_bear_stems(scenario, layout, middle) {
                        NEAR
                    } else {
                        0
                    };
                    ground.codes[row * columns + column] =
                        cover_code(cover_at(scenario, layout, middle)) | near;
                }
            }
        }
        ground
    }

    fn middle(&self, column: usize, row: usize) -> (f64, f64) {
        (
            (column as f64 + 0.5 - self.frame as f64) * self.cell_m,
            (row as f64 + 0.5 - self.frame as f64) * self.cell_m,
        )
    }

    /// Takes all stems off the grid. Cells where stems were are looked at from then on, stems or not: where the next
    /// season has them too, a question that has always the same answer costs a walk less than a better one.
    pub fn clear(&mut self) {
        for &cell in &self.touched {
            self.heads[cell as usize] = NONE;
        }
        self.touched.clear();
        self.entries.truncate(1);
    }

    /// Enters a stem into every cell from which a stride of the given reach (perceptual range plus stride,
    /// metres) may meet it: the cells of the square around the stem. Leaving out those of its corners that lie
    /// beyond the reach would save strides less than it costs here.
    pub fn enter(&mut self, stem: StemId, x_m: f64, y_m: f64, reach_m: f64) {
        let cell_of = |along: f64| whole((along * self.per_metre + self.offset).max(0.0));
        let columns = cell_of(x_m - reach_m)..(cell_of(x_m + reach_m) + 1).min(self.columns);
        let rows = cell_of(y_m - reach_m)..(cell_of(y_m + reach_m) + 1).min(self.rows);
        for row in rows {
            let from = row * self.columns;
            let cells = from + columns.start..from + columns.end;
            let (codes, heads) = (
                &mut self.codes[cells.clone()],
                &mut self.heads[cells.clone()],
            );
            for ((code, head), cell) in codes.iter_mut().zip(heads).zip(cells) {
                *code |= NEAR;
                self.touched.push(cell as u32);
                self.entries.push(Entry {
                    x_m,
                    y_m,
                    stem: Some(stem),
                    next: *head,
                });
                *head = (self.entries.len() - 1) as u32;
            }
        }
    }

    /// Cell of a point, which must not lie more than a stride outside the arena.
    #[inline]
    #[must_use]
    pub fn cell(&self, x_m: f64, y_m: f64) -> usize {
        let column = whole(x_m * self.per_metre + self.offset);
        let row = whole(y_m * self.per_metre + self.offset);
        row * self.columns + column
    }

    /// Code of a cell.
    #[inline]
    #[must_use]
    pub fn code(&self, cell: usize) -> u8 {
        self.codes.get(cell).copied().unwrap_or(OUTSIDE)
    }

    /// Whether any stem that a stride ending in a cell may meet stands within a distance, given squared, of a point.
    #[inline]
    #[must_use]
    pub fn any_near(&self, cell: usize, at: (f64, f64), distance2_m2: f64) -> bool {
        let look = |entry: u32| {
            let entry = self.entries.get(entry as usize).unwrap_or(&NOWHERE);
            let (dx, dy) = (entry.x_m - at.0, entry.y_m - at.1);
            (dx * dx + dy * dy <= distance2_m2, entry.next)
        };
        // Two stems without asking whether there are two: a question that chance decides costs more than the answer.
        let (first, next) = look(self.heads.get(cell).copied().unwrap_or(NONE));
        let (second, mut next) = look(next);
        let mut met = first | second;
        while !met && next != NONE {
            (met, next) = look(next);
        }
        met
    }

    /// Stems that a stride ending in a cell may meet: (stem, x, y).
    #[inline]
    pub fn near(&self, cell: usize) -> impl Iterator<Item = (StemId, f64, f64)> + '_ {
        let mut at = self.heads.get(cell).copied().unwrap_or(NONE);
        std::iter::from_fn(move || {
            let entry = self.entries.get(at as usize).filter(|_| at != NONE)?;
            at = entry.next;
            Some((entry.stem?, entry.x_m, entry.y_m))
        })
    }
}

/// Whether a cell whose middle is given lies so close to a patch that a stride ending there may meet a stem of it.
fn may_bear_stems(scenario: &Scenario, layout: &Layout, middle: (f64, f64)) -> bool {
    let numbers = &scenario.numbers;
    let reach =
        numbers.walking.perceptual_range_m + numbers.walking.stride_m + numbers.site.cell_m / 2.0;
    layout.patches.iter().any(|patch| {
        let (left, bottom, right, top) = patch.shape.bounds();
        let (x, y) = (middle.0 - patch.origin_m.0, middle.1 - patch.origin_m.1);
        x >= left - reach && x <= right + reach && y >= bottom - reach && y <= top + reach
    })
}

fn cover_at(scenario: &Scenario, layout: &Layout, at: (f64, f64)) -> CoverKind {
    let site = (at.0 - layout.shift_m.0, at.1 - layout.shift_m.1);
    let listed = scenario.areas.iter().rev().find(|area| {
        let within = |value: f64, a: f64, b: f64| value >= a.min(b) && value <= a.max(b);
        within(site.0, area.from_m.0, area.to_m.0) && within(site.1, area.from_m.1, area.to_m.1)
    });
    if let Some(area) = listed {
        return area.cover;
    }
    let inside = layout.patches.iter().find(|patch| {
        patch
            .shape
            .contains(at.0 - patch.origin_m.0, at.1 - patch.origin_m.1)
    });
    if let Some(patch) = inside {
        return patch.settings.cover;
    }
    if lies_between(layout, at) {
        scenario.between
    } else {
        scenario.surroundings
    }
}

/// Whether a point lies on the strip between the two patches of a pair.
fn lies_between(layout: &Layout, at: (f64, f64)) -> bool {
    let [first, second] = layout.patches.as_slice() else {
        return false;
    };
    let (left, right) = (first.shape.bounds(), second.shape.bounds());
    let bottom = (first.origin_m.1 + left.1).min(second.origin_m.1 + right.1);
    let top = (first.origin_m.1 + left.3).max(second.origin_m.1 + right.3);
    at.0 >= first.origin_m.0 + left.2
        && at.0 <= second.origin_m.0 + right.0
        && at.1 >= bottom
        && at.1 <= top
}
