//! What the guesses are worth: bands over plausible parameter sets, as cells.

use super::tables::{Column, cell, column};
use crate::study::uncertain::Band;

/// Columns of a band: percentiles over the sets that define the quantity (empty beyond what was tried), number of
/// sets, and those of them that leave it undefined.
pub const COLUMNS: [Column; 5] = [
    column(
        "plausible_5",
        "as the value",
        "5 % of the plausible parameter sets lie below; empty below what was tried",
    ),
    column(
        "plausible_50",
        "as the value",
        "middle of the plausible parameter sets",
    ),
    column(
        "plausible_95",
        "as the value",
        "5 % of the plausible parameter sets lie above; empty beyond what was tried",
    ),
    column("sets", "count", "parameter sets drawn"),
    column(
        "undefined",
        "count",
        "parameter sets that leave the quantity undefined",
    ),
];

/// A band as cells, in the order of [`COLUMNS`]; empty where no set was asked.
#[must_use]
pub fn cells(band: &Band) -> [String; 5] {
    if band.sets == 0 {
        return Default::default();
    }
    let at = |index: usize| {
        let value = band.percentiles.map(|percentiles| percentiles[index]);
        cell(value.filter(|value| value.is_finite()))
    };
    [
        at(0),
        at(1),
        at(2),
        band.sets.to_string(),
        band.undefined.to_string(),
    ]
}
