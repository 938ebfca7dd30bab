//! The draw as a table.

use super::super::tables::{Described, column};
use crate::study::allot::{Allotment, SiteList, SiteUse};
use crate::trouble::Outcome;

/// The draw, a row a site.
pub const ALLOTMENT: Described = Described {
    file: "allotment.csv",
    row: "a site of the list, in the order of names",
    columns: &[
        column("site", "text", "name of the site"),
        column("use", "text", "pair, or one_patch"),
        column(
            "stratum",
            "text",
            "use and columns within which the draw is balanced",
        ),
        column("treated_patch", "text", "name of the patch that is treated"),
        column(
            "untouched_patch",
            "text",
            "name of the patch that is left alone; empty at a single patch",
        ),
        column(
            "cut_half",
            "text",
            "towards or away from the other patch, left, right, or whole",
        ),
        column(
            "place",
            "count",
            "place of the site in its stratum by ticket, from 1",
        ),
        column("ticket", "sha256", "digest of SEED:site:NAME"),
        column("coin", "sha256", "digest of SEED:stratum:LABEL"),
        column("seed", "count", "seed of the draw"),
    ],
};

/// The table of a draw.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn table(list: &SiteList, allotment: &Allotment) -> Outcome<Vec<u8>> {
    let mut sheet = ALLOTMENT.sheet()?;
    for drawn in &allotment.sites {
        let site = &list.sites[drawn.site];
        let untouched = match site.used_as {
            SiteUse::Pair => site.patches[1 - drawn.arm.treated].as_str(),
            SiteUse::OnePatch => "",
        };
        let stratum = allotment
            .strata
            .iter()
            .find(|stratum| stratum.label == drawn.stratum);
        sheet.row(&[
            site.name.as_str(),
            site.used_as.word(),
            &drawn.stratum,
            &site.patches[drawn.arm.treated],
            untouched,
            drawn.arm.cut.word(),
            &drawn.place.to_string(),
            &drawn.ticket,
            stratum.map_or("", |stratum| stratum.coin.as_str()),
            &allotment.seed.to_string(),
        ])?;
    }
    sheet.bytes()
}
