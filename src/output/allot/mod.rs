//! What is written of a draw: table, text, record, and a sheet for every site.

pub mod drawing;
pub mod record;
pub mod sheets;
pub mod table;
pub mod text;

use crate::life::Clock;
use crate::scenario::Scenario;
use crate::study::allot::{Allotment, Arm, Cut, ListedSite, SiteList, SiteUse};
use jiff::civil::Date;

/// A draw with all that is said about it.
#[derive(Debug, Clone, Copy)]
pub struct Drawn<'a> {
    /// The list.
    pub list: &'a SiteList,
    /// The draw.
    pub allotment: &'a Allotment,
    /// The scenario that gives dates, refuge and tools.
    pub scenario: &'a Scenario,
    /// Where the draw comes from.
    pub record: &'a record::DrawRecord,
}

/// Days of a season that somebody goes outdoors.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldDates {
    /// Cutting.
    pub cutting: Date,
    /// Counts, with their days after cutting.
    pub counts: Vec<(Date, i64)>,
}

impl FieldDates {
    /// The dates of a scenario.
    #[must_use]
    pub fn of(scenario: &Scenario) -> Self {
        let clock = Clock::of(scenario);
        let counts = clock.surveys.iter().map(|time| {
            let after = clock.days_since_cutting(*time).round() as i64;
            (clock.date(*time), after)
        });
        Self {
            cutting: scenario.cutting_date,
            counts: counts.collect(),
        }
    }
}

/// A date as on a wall calendar.
pub(super) fn day(date: Date) -> String {
    date.strftime("%a %-d %b %Y").to_string()
}

/// The half that is cut, in words that follow "the".
fn half_words(cut: Cut, site: &ListedSite, treated: usize) -> String {
    let other = &site.patches[1 - treated];
    match (cut, site.used_as) {
        (Cut::Whole, _) => "whole patch".to_owned(),
        (Cut::Towards, _) => format!("half nearer to patch \u{201c}{other}\u{201d}"),
        (Cut::Away, _) => format!("half farther from patch \u{201c}{other}\u{201d}"),
        (Cut::Left, SiteUse::Pair) => {
            format!("left half, as you look from it to patch \u{201c}{other}\u{201d}")
        }
        (Cut::Right, SiteUse::Pair) => {
            format!("right half, as you look from it to patch \u{201c}{other}\u{201d}")
        }
        (Cut::Left, SiteUse::OnePatch) => "left half".to_owned(),
        (Cut::Right, SiteUse::OnePatch) => "right half".to_owned(),
    }
}

/// A part of a site in which larvae are counted.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Part {
    /// What it is, in two words.
    name: String,
    /// Patch.
    patch: String,
    is_cut: bool,
}

/// The parts of a site, the cut one first.
fn parts(site: &ListedSite, arm: Arm) -> Vec<Part> {
    let part = |name: &str, patch: usize, is_cut| Part {
        name: name.to_owned(),
        patch: site.patches[patch].clone(),
        is_cut,
    };
    let mut parts = Vec::with_capacity(3);
    if arm.cut == Cut::Whole {
        parts.push(part("cut patch", arm.treated, true));
    } else {
        parts.push(part("cut half", arm.treated, true));
        parts.push(part("refuge half", arm.treated, false));
    }
    if site.used_as == SiteUse::Pair {
        parts.push(part("untouched patch", 1 - arm.treated, false));
    }
    parts
}
