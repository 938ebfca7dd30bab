//! The list of offered sites: one row a site, with one or two patches whose roles are not drawn yet.

use super::cells::{Row, Units};
use crate::scenario::files::{self, Sheet};
use crate::scenario::recruitment::{DENSITIES, LARGEST_GAP_M, MOST_STEMS};
use crate::scenario::{CoverKind, shape, sizes};
use crate::trouble::shown::is_unseen;
use crate::trouble::{Outcome, Trouble};
use std::collections::BTreeMap;
use std::path::Path;

/// Whether the owner lets the study onto the land.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Permission {
    /// It is given.
    Given,
    /// It is refused.
    Refused,
    /// The owner was asked and has not answered.
    Asked,
    /// The list says nothing.
    Unknown,
}

impl Permission {
    /// The word in a list.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Given => "yes",
            Self::Refused => "no",
            Self::Asked => "asked",
            Self::Unknown => "",
        }
    }
}

/// One patch of an offered site; what is `None` is taken from the scenario.
#[derive(Debug, Clone, PartialEq)]
pub struct OfferedPatch {
    /// Its name; `first patch` or `second patch` where the list gives none.
    pub name: String,
    /// Number of stems.
    pub stems: f64,
    /// Stems per square metre.
    pub density_per_m2: Option<f64>,
    /// Length along the line between the patches over width across it.
    pub aspect: Option<f64>,
    /// Corners of its outline around its own origin, metres.
    pub corners_m: Option<Vec<(f64, f64)>>,
    /// Share of the day in shade.
    pub shade_share: Option<f64>,
}

/// A site of the list.
#[derive(Debug, Clone, PartialEq)]
pub struct OfferedSite {
    /// Line in the file.
    pub line: u64,
    /// Its name, unique in the list.
    pub name: String,
    /// Edge-to-edge distance of the two patches, metres; `None` if only one patch is offered.
    pub gap_m: Option<f64>,
    /// The patches: two, or one alone.
    pub patches: Vec<OfferedPatch>,
    /// Cover of the strip between the patches.
    pub between: Option<CoverKind>,
    /// Cover around the patches.
    pub surroundings: Option<CoverKind>,
    /// Whether the owner lets the study onto the land.
    pub permission: Permission,
    /// Latitude, degrees, north positive.
    pub latitude_deg: Option<f64>,
    /// What the site was accepted for, if the list has been screened: `pair` or `one_patch`.
    pub used_as: Option<String>,
    /// Cells of the columns that are carried through, in the order of [`OfferedList::carried`].
    pub carried: Vec<String>,
}

/// A list of offered sites.
#[derive(Debug, Clone, PartialEq)]
pub struct OfferedList {
    /// Its sites, in the order of the file.
    pub sites: Vec<OfferedSite>,
    /// Names of columns that mean nothing here and are carried through.
    pub carried: Vec<String>,
    /// Whether the list has a column that says whether permission is given.
    pub tells_permission: bool,
}

/// Most sites of a list: a hundred times any recruitment.
const MOST_SITES: usize = 100_000;
/// Longest name of a site or patch, characters: one line of a printed sheet.
const LONGEST_NAME: usize = 60;
/// Square of a length in metres and yards.
const AREAS_M2: (f64, f64) = (0.01, 1.0e7);
/// Lengths of a patch, metres.
const LENGTHS_M: (f64, f64) = (0.1, 10_000.0);
/// Shapes longer than this make no patch.
const ASPECTS: (f64, f64) = (0.01, 100.0);
/// Latitudes, degrees.
const LATITUDES: (f64, f64) = (-90.0, 90.0);

/// Columns that every list needs.
pub const COLUMNS: &str = "site, gap_m (or gap_yd), stems_first, stems_second; and if known area_first_m2 (or _yd2), \
     length_first_m and width_first_m (or _yd), outline_first_m (or _yd) or density_first_per_m2 (or _yd2), shade_first, \
     first_name, the same of the second, between, surroundings, permission, latitude_deg";

/// Reads a list of offered sites.
///
/// # Errors
/// With its line: a missing column, a unit given twice, a name given twice, or what no site can have.
pub fn read_list(path: &Path) -> Outcome<OfferedList> {
    read_list_in(files::alone(path)?)
}

/// As [`read_list`], of a file that was read: label and contents.
///
/// # Errors
/// As [`read_list`].
pub fn read_list_in(file: (String, Vec<u8>)) -> Outcome<OfferedList> {
    of_sheet(&Sheet::read(file)?)
}

pub(super) fn of_sheet(sheet: &Sheet) -> Outcome<OfferedList> {
    let mut units = Units::of(sheet)?;
    units.need(&["site", "stems_first"], COLUMNS)?;
    units.length("gap", COLUMNS)?;
    if sheet.rows.len() > MOST_SITES {
        return Err(sheet
            .fault(
                sheet.rows[MOST_SITES].0,
                format!("the list has {} sites", sheet.rows.len()),
                &format!("at most {MOST_SITES}"),
            )
            .remedy("screen it in parts"));
    }
    let mut names: BTreeMap<String, u64> = BTreeMap::new();
    let mut sites = Vec::with_capacity(sheet.rows.len());
    for cells in &sheet.rows {
        let row = Row::of(sheet, cells, &units);
        let site = site(&row)?;
        // Two spellings of one name would be two sites to a draw and one to everybody else.
        if let Some(line) = names.insert(site.name.to_lowercase(), site.line) {
            return Err(row
                .fault(
                    format!("the site `{}` stands on line {line} already", site.name),
                    "a name of its own for every site",
                )
                .remedy("rename one, or remove the line that is there twice"));
        }
        sites.push(site);
    }
    Ok(OfferedList {
        carried: units.carried(),
        tells_permission: sheet.column("permission").is_some(),
        sites,
    })
}

fn site(row: &Row<'_>) -> Outcome<OfferedSite> {
    let name = row.text("site").unwrap_or_default();
    if name.is_empty() || name.chars().count() > LONGEST_NAME || name.chars().any(is_unseen) {
        return Err(row.fault(
            format!("`{}` is no name for a site", name.escape_debug()),
            &format!("1 to {LONGEST_NAME} characters"),
        ));
    }
    let gap_m = row.length("gap", (0.0, LARGEST_GAP_M))?;
    let first = patch(row, "first")?.ok_or_else(|| {
        row.fault(
            "`stems_first` is empty".to_owned(),
            "a whole number of stems",
        )
    })?;
    let second = patch(row, "second")?;
    match (&second, gap_m) {
        (Some(_), None) => {
            return Err(row.fault(
                "there are two patches but no gap".to_owned(),
                "the distance from edge to edge; or no stems_second if only one patch is offered",
            ));
        }
        (None, Some(gap)) => {
            return Err(row.fault(
                format!("there is a gap of {gap} m but no second patch"),
                "stems_second; or no gap if only one patch is offered",
            ));
        }
        _ => {}
    }
    if let Some(second) = &second
        && first.name.to_lowercase() == second.name.to_lowercase()
    {
        return Err(row.fault(
            format!("both patches are called `{}`", first.name),
            "two names that cannot be mixed up",
        ));
    }
    Ok(OfferedSite {
        line: row.line(),
        name: name.to_owned(),
        gap_m,
        patches: std::iter::once(first).chain(second).collect(),
        between: row.cover("between")?,
        surroundings: row.cover("surroundings")?,
        permission: permission(row)?,
        latitude_deg: row.number("latitude_deg", LATITUDES)?,
        used_as: used_as(row)?,
        carried: row.carried(),
    })
}

fn patch(row: &Row<'_>, which: &str) -> Outcome<Option<OfferedPatch>> {
    let Some(stems) = row.number(&format!("stems_{which}"), (1.0, MOST_STEMS))? else {
        return Ok(None);
    };
    if stems.fract() != 0.0 {
        return Err(row.fault(
            format!("`stems_{which}` is {stems}"),
            "a whole number of stems",
        ));
    }
    let unnamed = format!("{which} patch");
    let name = row.text(&format!("{which}_name")).unwrap_or(&unnamed);
    if name.chars().count() > LONGEST_NAME || name.chars().any(is_unseen) {
        return Err(row.fault(
            format!("`{}` is no name for a patch", name.escape_debug()),
            &format!("at most {LONGEST_NAME} characters"),
        ));
    }
    let (density_per_m2, aspect, corners_m) = size(row, which, stems)?;
    Ok(Some(OfferedPatch {
        name: name.to_owned(),
        stems,
        density_per_m2,
        aspect,
        corners_m,
        shade_share: row.number(&format!("shade_{which}"), (0.0, 1.0))?,
    }))
}

/// Density, aspect and corners of a patch, as far as the list tells them.
type Size = (Option<f64>, Option<f64>, Option<Vec<(f64, f64)>>);

/// The size of a patch from whichever of its four descriptions is given.
fn size(row: &Row<'_>, which: &str, stems: f64) -> Outcome<Size> {
    let area = row.area(&format!("area_{which}"), AREAS_M2)?;
    let length = row.length(&format!("length_{which}"), LENGTHS_M)?;
    let width = row.length(&format!("width_{which}"), LENGTHS_M)?;
    let corners = row.corners(&format!("outline_{which}"))?;
    let density = match row.density(&format!("density_{which}"), DENSITIES)? {
        Some(density) => Some(density),
        None => row.density("density", DENSITIES)?,
    };
    let sides = match (length, width) {
        (Some(length), Some(width)) => Some((length, width)),
        (None, None) => None,
        _ => {
            return Err(row.fault(
                format!("one of length and width of the {which} patch is missing"),
                "both, along the line between the patches and across it",
            ));
        }
    };
    let ways = [area.is_some(), sides.is_some(), corners.is_some()];
    if ways.iter().filter(|way| **way).count() > 1 {
        return Err(row.fault(
            format!("the size of the {which} patch is given in more than one way"),
            "one of area, length and width, and outline",
        ));
    }
    let square = match (&corners, sides) {
        (Some(corners), _) => {
            sizes::polygon(corners, which).map_err(|fault| row.fault(fault.what, "an outline"))?;
            Some(shape::area_of(corners))
        }
        (None, Some((length, width))) => Some(length * width),
        (None, None) => area,
    };
    let aspect = sides.map(|(length, width)| (length / width).clamp(ASPECTS.0, ASPECTS.1));
    let Some(square) = square else {
        return Ok((density, aspect, corners));
    };
    let of_area = stems / square;
    if !(DENSITIES.0..=DENSITIES.1).contains(&of_area) {
        return Err(row.fault(
            format!("{stems} stems on {square:.2} m2 are {of_area:.3} stems per m2"),
            &format!(
                "{} to {} stems per m2: check the unit",
                DENSITIES.0, DENSITIES.1
            ),
        ));
    }
    Ok((Some(of_area), aspect, corners))
}

fn permission(row: &Row<'_>) -> Outcome<Permission> {
    let word = row.text("permission").unwrap_or_default();
    match word.to_ascii_lowercase().as_str() {
        "" => Ok(Permission::Unknown),
        "yes" | "given" => Ok(Permission::Given),
        "no" | "refused" => Ok(Permission::Refused),
        "asked" => Ok(Permission::Asked),
        _ => Err(row.fault(format!("`{word}` says nothing"), "yes, no or asked")),
    }
}

fn used_as(row: &Row<'_>) -> Outcome<Option<String>> {
    match row.text("use") {
        None => Ok(None),
        Some(word @ ("pair" | "one_patch")) => Ok(Some(word.to_owned())),
        Some(other) => Err(row.fault(
            format!("`{other}` is no use"),
            "pair or one_patch, as `screen` writes them",
        )),
    }
}

/// A fault of a list as a whole.
pub(super) fn empty_list(label: &str) -> Trouble {
    Trouble::new("the list holds no pair of patches")
        .at(label)
        .expected("at least one site with two patches and a gap")
        .remedy("recruit draws pairs; a list of single patches has none")
}
