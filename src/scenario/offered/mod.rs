//! A CSV of real sites that volunteers offer.
//!
//! Two forms are read: the list of offered sites, whose patches have no roles yet ([`read_list`]), and a shorter one
//! of pairs whose treated patch is named.

mod cells;
mod list;

pub use list::{OfferedList, OfferedPatch, OfferedSite, Permission, read_list, read_list_in};

use super::CoverKind;
use super::files::{self, Sheet};
use super::recruitment::{DENSITIES, LARGEST_GAP_M, MOST_STEMS};
use crate::trouble::Outcome;
use std::path::Path;

/// A site that is offered; what is `None` is drawn from the population.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offered {
    /// Line in the file.
    pub line: u64,
    /// Gap, metres.
    pub gap_m: f64,
    /// Stems of the patch to be treated and of the other; of first and second while a draw is to decide.
    pub stems: [f64; 2],
    /// Whether a draw is to decide which patch is treated.
    pub to_be_drawn: bool,
    /// Stems per square metre.
    pub density_per_m2: Option<f64>,
    /// Share of the day in shade, treated and untouched.
    pub shade_share: [Option<f64>; 2],
    /// Ground cover around and between.
    pub cover: Option<CoverKind>,
}

const COLUMNS: &str = "gap_m, stems_treated, stems_untouched; and if known density_per_m2, shade_treated, \
     shade_untouched, cover";

/// Reads the sites of a file.
///
/// # Errors
/// With its line: a missing column, something that is not a number, or a number that no site can have.
pub fn read(path: &Path) -> Outcome<Vec<Offered>> {
    read_in(files::alone(path)?)
}

/// As [`read`], of a file that was read: label and contents.
pub(super) fn read_in(file: (String, Vec<u8>)) -> Outcome<Vec<Offered>> {
    let label = file.0.clone();
    let sheet = Sheet::read(file)?;
    if sheet.column("stems_first").is_some() {
        return pairs_of(&list::of_sheet(&sheet)?, &label);
    }
    let gap = sheet.need("gap_m", COLUMNS)?;
    let stems = [
        sheet.need("stems_treated", COLUMNS)?,
        sheet.need("stems_untouched", COLUMNS)?,
    ];
    let density = sheet.column("density_per_m2");
    let shade = [
        sheet.column("shade_treated"),
        sheet.column("shade_untouched"),
    ];
    let cover = sheet.column("cover");
    let within = |row: &(u64, csv::StringRecord), column, (low, high): (f64, f64), name: &str| {
        let value = sheet.number(row, column)?;
        if (low..=high).contains(&value) {
            return Ok(value);
        }
        Err(sheet.fault(
            row.0,
            format!("`{name}` is {value}"),
            &format!("a number from {low} to {high}"),
        ))
    };
    let optional =
        |row: &(u64, csv::StringRecord), column: Option<usize>, limits, name: &str| match column
            .filter(|index| row.1.get(*index).is_some_and(|text| !text.is_empty()))
        {
            None => Ok(None),
            Some(index) => within(row, index, limits, name).map(Some),
        };
    let count = |row: &(u64, csv::StringRecord), column, name: &str| {
        let value = within(row, column, (1.0, MOST_STEMS), name)?;
        if value.fract() != 0.0 {
            let what = format!("`{name}` is {value}");
            return Err(sheet.fault(row.0, what, "a whole number of stems"));
        }
        Ok(value)
    };
    sheet
        .rows
        .iter()
        .map(|row| {
            Ok(Offered {
                line: row.0,
                gap_m: within(row, gap, (0.0, LARGEST_GAP_M), "gap_m")?,
                stems: [
                    count(row, stems[0], "stems_treated")?,
                    count(row, stems[1], "stems_untouched")?,
                ],
                to_be_drawn: false,
                density_per_m2: optional(row, density, DENSITIES, "density_per_m2")?,
                shade_share: [
                    optional(row, shade[0], (0.0, 1.0), "shade_treated")?,
                    optional(row, shade[1], (0.0, 1.0), "shade_untouched")?,
                ],
                cover: cover_of(&sheet, row, cover)?,
            })
        })
        .collect()
}

/// The pairs of a list. Single patches are left out, and so is a pair that was accepted as one patch only.
fn pairs_of(list: &OfferedList, label: &str) -> Outcome<Vec<Offered>> {
    let pairs: Vec<Offered> = list.sites.iter().filter_map(pair_of).collect();
    if pairs.is_empty() {
        return Err(list::empty_list(label));
    }
    Ok(pairs)
}

fn pair_of(site: &OfferedSite) -> Option<Offered> {
    let [first, second] = site.patches.as_slice() else {
        return None;
    };
    if site.used_as.as_deref() == Some("one_patch") {
        return None;
    }
    // The population has one density a pair: all stems over the area of both patches.
    let areas = first
        .density_per_m2
        .zip(second.density_per_m2)
        .map(|(one, other)| first.stems / one + second.stems / other);
    Some(Offered {
        line: site.line,
        gap_m: site.gap_m?,
        stems: [first.stems, second.stems],
        to_be_drawn: true,
        density_per_m2: areas.map(|areas| (first.stems + second.stems) / areas),
        shade_share: [first.shade_share, second.shade_share],
        cover: site.between.or(site.surroundings),
    })
}

fn cover_of(
    sheet: &Sheet,
    row: &(u64, csv::StringRecord),
    column: Option<usize>,
) -> Outcome<Option<CoverKind>> {
    match column.and_then(|index| row.1.get(index)).unwrap_or("") {
        "" => Ok(None),
        "Mown" => Ok(Some(CoverKind::Mown)),
        "ShortGrass" => Ok(Some(CoverKind::ShortGrass)),
        "TallGrass" => Ok(Some(CoverKind::TallGrass)),
        "Paved" => Ok(Some(CoverKind::Paved)),
        other => Err(sheet.fault(
            row.0,
            format!("`{other}` is no ground cover"),
            "Mown, ShortGrass, TallGrass or Paved",
        )),
    }
}
