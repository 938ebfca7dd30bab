//! What the guesses are worth: bands over plausible parameter sets, as cells and as words.

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

/// A band in words: ends and middle by `show`, over how many sets.
#[must_use]
pub fn words(band: &Band, show: impl Fn(f64) -> String) -> String {
    let Some([low, middle, high]) = band.percentiles else {
        return undefined(band.sets);
    };
    format!(
        "{} to {}, middle {}, over 90 % of {} plausible parameter sets{}",
        show(low),
        show(high),
        show(middle),
        band.sets,
        in_brackets(band.undefined)
    )
}

/// What is said of a quantity that no set defines.
pub(super) fn undefined(sets: usize) -> String {
    format!("undefined in all of {sets} plausible parameter sets")
}

/// How many sets leave a quantity undefined, if any do.
pub(super) fn in_brackets(undefined: usize) -> String {
    if undefined > 0 {
        format!(" ({undefined} of them leave it undefined)")
    } else {
        String::new()
    }
}

/// A sentence of its own about a band.
#[must_use]
pub fn sentence(band: &Band, show: impl Fn(f64) -> String) -> String {
    format!("If the guesses are wrong: {}.", words(band, show))
}
