//! Tidy CSV tables. An undefined value is an empty cell.

mod columns;
pub mod described;
pub mod dictionary;
mod seasons;

pub use columns::{Column, Described, column};
pub use seasons::{FateTable, SurveyTable, WalkTable};

use super::bands;
use crate::scenario::Listed;
use crate::scenario::spreadsheet::guarded;
use crate::stats::Crossing;
use crate::study::gap::GapAnswer;
use crate::study::measures::{MEASURES, Measured};
use crate::study::refuge::{REFUGE_MEASURES, RefugePoint};
use crate::study::sweep::{Axis, SweepPoint};
use crate::study::uncertain::{Band, GapBand};
use crate::study::yields::{YieldAnswer, YieldBand};
use crate::trouble::{Outcome, Trouble};
use std::borrow::Cow;

/// A table being written.
pub struct Sheet(csv::Writer<Vec<u8>>);

impl Sheet {
    /// A table with a header.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn with_header(columns: &[&str]) -> Outcome<Self> {
        // A first cell that begins as our readers know a comment is written in quotation marks.
        let writer = csv::WriterBuilder::new()
            .comment(Some(b'#'))
            .from_writer(Vec::new());
        let mut sheet = Self(writer);
        sheet.row(columns)?;
        Ok(sheet)
    }

    /// Writes a row. Text that a spreadsheet would take for a formula is guarded, numbers never.
    ///
    /// # Errors
    /// As [`Sheet::with_header`].
    pub fn row<T: AsRef<str>>(&mut self, cells: &[T]) -> Outcome<()> {
        let cells = cells.iter().map(|cell| guarded(cell.as_ref()));
        self.0
            .write_record(cells.map(Cell))
            .map_err(|fault| Trouble::new(format!("table: {fault}")))
    }

    /// What was written since the last time, so that a long table can grow in a file instead of in memory.
    ///
    /// # Errors
    /// As [`Sheet::with_header`].
    pub fn taken(&mut self) -> Outcome<Vec<u8>> {
        let empty = Self(csv::Writer::from_writer(Vec::new()));
        std::mem::replace(self, empty).bytes()
    }

    /// The finished table.
    ///
    /// # Errors
    /// As [`Sheet::with_header`].
    pub fn bytes(self) -> Outcome<Vec<u8>> {
        self.0
            .into_inner()
            .map_err(|fault| Trouble::new(format!("table: {fault}")))
    }
}

/// A cell as the writer takes it.
struct Cell<'a>(Cow<'a, str>);

impl AsRef<[u8]> for Cell<'_> {
    fn as_ref(&self) -> &[u8] {
        self.0.as_bytes()
    }
}

pub(super) fn cell(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn measured_cells(measured: &Measured) -> [String; 3] {
    [
        cell(measured.value),
        cell(measured.interval.map(|i| i.0)),
        cell(measured.interval.map(|i| i.1)),
    ]
}

/// Stray share against gap.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn gap(answer: &GapAnswer) -> Outcome<Vec<u8>> {
    let mut sheet = described::GAP.sheet()?;
    for curve in &answer.curves {
        for (gap_m, share) in answer.grid_m.iter().zip(&curve.shares) {
            let [value, low, high] = measured_cells(share);
            sheet.row(&[
                gap_m.to_string(),
                curve.patch.clone(),
                value,
                low,
                high,
                answer.seasons.to_string(),
            ])?;
        }
    }
    sheet.bytes()
}

/// Clear gap of every patch, of the site, and over plausible parameter sets.
///
/// # Errors
/// As [`gap`].
pub fn clear_gap(answer: &GapAnswer, band: Option<&GapBand>) -> Outcome<Vec<u8>> {
    let mut sheet = described::CLEAR_GAP.sheet()?;
    let tolerance = answer.tolerance.to_string();
    for (index, curve) in answer.curves.iter().enumerate() {
        let (value, note) = match curve.crossing.crossing {
            Some(Crossing::At(gap_m)) => (Some(gap_m), ""),
            Some(Crossing::BelowGrid) => (None, "below the smallest gap tried"),
            Some(Crossing::NotReached) => (None, "not reached within the gaps tried"),
            None => (None, "undefined: too few late-stage larvae were there"),
        };
        let interval = curve.crossing.interval;
        let decides = if Some(index) == answer.deciding {
            "; decides for the site"
        } else {
            ""
        };
        sheet.row(&[
            curve.patch.clone(),
            cell(value),
            cell(interval.and_then(|interval| interval.low)),
            cell(interval.and_then(|interval| interval.high)),
            tolerance.clone(),
            format!(
                "95 % interval by bootstrap over {} seasons{}{note}{decides}",
                answer.seasons,
                if note.is_empty() { "" } else { "; " }
            ),
        ])?;
    }
    if let Some(band) = band {
        let end = |at: usize| cell(band.percentiles_m.and_then(|percentiles| percentiles[at]));
        sheet.row(&[
            "plausible parameter sets".to_owned(),
            end(1),
            end(0),
            end(2),
            tolerance,
            format!(
                "median and 90 % of {} sets; 0 is below the smallest gap tried; {} below, {} beyond, {} undefined",
                band.sets, band.outside.0, band.outside.1, band.undefined
            ),
        ])?;
    }
    sheet.bytes()
}

/// Counts by half and natal half against refuge share.
///
/// # Errors
/// As [`gap`].
pub fn refuge(points: &[RefugePoint]) -> Outcome<Vec<u8>> {
    let mut sheet = described::REFUGE.sheet()?;
    for point in points {
        let halves = [
            (
                "refuge",
                point.stems.0,
                &point.on_refuge,
                ["refuge", "cut", "other_patch"],
            ),
            (
                "cut",
                point.stems.1,
                &point.on_cut,
                ["cut", "refuge", "other_patch"],
            ),
        ];
        for (stands, stems, means, laid) in halves {
            for (mean, laid) in means.iter().zip(laid) {
                sheet.row(&[
                    point.share.to_string(),
                    stands.to_owned(),
                    laid.to_owned(),
                    stems.to_string(),
                    mean.value.to_string(),
                    mean.low.to_string(),
                    mean.high.to_string(),
                ])?;
            }
        }
    }
    sheet.bytes()
}

/// Measures against refuge share, with their bands if there are any.
///
/// # Errors
/// As [`gap`].
pub fn refuge_measures(
    points: &[RefugePoint],
    plausible: Option<&[Vec<Band>]>,
) -> Outcome<Vec<u8>> {
    let mut sheet = with_bands(&described::REFUGE_MEASURES, plausible.is_some())?;
    for (index, point) in points.iter().enumerate() {
        let measures = [
            &point.half_drift,
            &point.refuge_in_cut,
            &point.observed_ratio,
            &point.home_ratio,
            &point.net_yield,
        ];
        for (at, (name, measured)) in REFUGE_MEASURES.iter().zip(measures).enumerate() {
            let mut row = vec![point.share.to_string(), (*name).to_owned()];
            row.extend(measured_cells(measured));
            if let Some(bands) = plausible {
                row.extend(bands::cells(&bands[index][at]));
            }
            sheet.row(&row)?;
        }
    }
    sheet.bytes()
}

/// A sheet whose header goes on with the columns of a band, if there is one.
fn with_bands(table: &Described, banded: bool) -> Outcome<Sheet> {
    table.sheet_with(if banded { &bands::COLUMNS } else { &[] })
}

/// Net yield against attraction, with its bands if there are any.
///
/// # Errors
/// As [`gap`].
pub fn yields(answer: &YieldAnswer, plausible: Option<&YieldBand>) -> Outcome<Vec<u8>> {
    let mut sheet = with_bands(&described::NET_YIELD, plausible.is_some())?;
    for (index, net_yield) in answer.yields.iter().enumerate() {
        let mut row = vec![answer.attractions[index].to_string()];
        row.extend(measured_cells(net_yield));
        row.push(answer.seasons.to_string());
        if let Some(band) = plausible {
            row.extend(bands::cells(&band.yields[index]));
        }
        sheet.row(&row)?;
    }
    sheet.bytes()
}

/// Attraction at which cutting breaks even, with its band if there is one.
///
/// # Errors
/// As [`gap`].
pub fn break_even(answer: &YieldAnswer, plausible: Option<&YieldBand>) -> Outcome<Vec<u8>> {
    let mut sheet = with_bands(&described::BREAK_EVEN, plausible.is_some())?;
    let (value, note) = match answer.break_even.crossing {
        Some(Crossing::At(attraction)) => (Some(attraction), ""),
        Some(Crossing::BelowGrid) => (None, "below the smallest attraction tried"),
        Some(Crossing::NotReached) => (None, "not reached within the attractions tried"),
        None => (None, "undefined: too few larvae reached pupation"),
    };
    let interval = answer.break_even.interval;
    let mut row = vec![
        cell(value),
        cell(interval.and_then(|interval| interval.low)),
        cell(interval.and_then(|interval| interval.high)),
        if plausible.is_some() && note.is_empty() {
            "in the band 0 is below the smallest attraction tried, empty beyond the largest"
                .to_owned()
        } else {
            note.to_owned()
        },
    ];
    if let Some(band) = plausible {
        row.extend(bands::cells(&band.break_even));
    }
    sheet.row(&row)?;
    sheet.bytes()
}

/// The measures of one scenario, with their bands if there are any.
///
/// # Errors
/// As [`gap`].
pub fn measures(
    measures: &[Measured],
    seasons: u64,
    plausible: Option<&[Band]>,
) -> Outcome<Vec<u8>> {
    let mut sheet = with_bands(&described::MEASURES, plausible.is_some())?;
    for (index, (named, measured)) in MEASURES.iter().zip(measures).enumerate() {
        let mut row = vec![named.name.to_owned()];
        row.extend(measured_cells(measured));
        row.push(seasons.to_string());
        if let Some(bands) = plausible {
            row.extend(bands::cells(&bands[index]));
        }
        sheet.row(&row)?;
    }
    sheet.bytes()
}

/// A sweep: one row a point, three columns a measure; with bands five columns more for each measure.
///
/// # Errors
/// As [`gap`].
pub fn sweep(axes: &[Axis], points: &[SweepPoint]) -> Outcome<Vec<u8>> {
    let banded = points.iter().any(|point| point.bands.is_some());
    let mut header: Vec<String> = axes.iter().map(|axis| axis.path.clone()).collect();
    header.push("seasons".to_owned());
    for named in &MEASURES {
        header.extend([
            named.name.to_owned(),
            format!("{}_low", named.name),
            format!("{}_high", named.name),
        ]);
        if banded {
            let column = |column: &Column| format!("{}_{}", named.name, column.name);
            header.extend(bands::COLUMNS.iter().map(column));
        }
    }
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    let mut sheet = Sheet::with_header(&header)?;
    for point in points {
        let mut row = point.values.clone();
        row.push(point.seasons.to_string());
        for (index, measured) in point.measures.iter().enumerate() {
            row.extend(measured_cells(measured));
            if banded {
                let band = point
                    .bands
                    .as_ref()
                    .map(|bands| bands::cells(&bands[index]));
                row.extend(band.unwrap_or_default());
            }
        }
        sheet.row(&row)?;
    }
    sheet.bytes()
}

/// The numbers of a scenario.
///
/// # Errors
/// As [`gap`].
pub fn numbers(listed: &[Listed]) -> Outcome<Vec<u8>> {
    let mut sheet = described::NUMBERS.sheet()?;
    for number in listed {
        sheet.row(&[
            number.path.clone(),
            number.value.to_string(),
            number.unit.to_owned(),
            cell(number.range.map(|range| range.0)),
            cell(number.range.map(|range| range.1)),
            number.standing.word().to_owned(),
            number.source.clone(),
            number.meaning.to_owned(),
        ])?;
    }
    sheet.bytes()
}

#[cfg(test)]
mod tests {
    use super::Sheet;
    use crate::scenario::files;
    use crate::study::analyse::read_counts;
    use proptest::prelude::*;

    /// Names as lists have them: no blanks around, whatever within.
    const NAMES: &str = "['#]{0,2}[-=+@0-9\"a,;\u{ff1d}]{1,6}[a-z '\u{e9}\"-]{0,6}[a-z1]";

    proptest! {
        #[test]
        fn exact_what_is_written_is_read_back(names in proptest::collection::vec(NAMES, 1..8), heading in NAMES) {
            prop_assume!(heading != "site");
            let mut sheet = Sheet::with_header(&["site", heading.as_str()]).unwrap();
            for name in &names {
                sheet.row(&[name, name]).unwrap();
            }
            let bytes = sheet.bytes().unwrap();
            let read = files::Sheet::read(("table.csv".to_owned(), bytes)).unwrap();
            prop_assert_eq!(&read.columns()[1], &heading);
            let back: Vec<&str> = read.rows.iter().map(|row| row.1.get(0).unwrap()).collect();
            prop_assert_eq!(&back, &names);
            let again: Vec<&str> = read.rows.iter().map(|row| row.1.get(1).unwrap()).collect();
            prop_assert_eq!(&again, &names);
        }

        #[test]
        fn exact_a_table_of_counts_is_read_back(name in NAMES) {
            let mut sheet = Sheet::with_header(&["site", "week", "patch", "stage", "count", "stems"]).unwrap();
            for patch in ["treated", "untouched"] {
                sheet.row(&[name.as_str(), "1", patch, "L5", "3", "20"]).unwrap();
            }
            let bytes = sheet.bytes().unwrap();
            let counts = read_counts(bytes.as_slice(), "table.csv").unwrap();
            prop_assert_eq!(counts.site_names(), vec![name.as_str()]);
        }
    }
}
