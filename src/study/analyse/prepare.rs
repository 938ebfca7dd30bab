//! From a table to sites that can be compared; what cannot be used is dropped, with its reason.

use super::shown::shown;
use super::table::{Counts, PlotCounts, Site};
use super::words::{Comparison, CountedStage, Plot};
use crate::scenario::{STAGE_NAMES, STAGES, Stage};
use crate::stats::paired::PairedSite;
use crate::trouble::{Outcome, Trouble};
use serde::Serialize;
use std::collections::BTreeSet;

/// What is asked of a table of counts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Question {
    /// Stages counted together.
    pub stage: CountedStage,
    /// Youngest late stage: 4 or 5.
    pub late_from: Stage,
    /// What is compared with what.
    pub comparison: Comparison,
    /// Ratio that the p value tests, above 0.
    pub ratio_null: f64,
}

impl Default for Question {
    /// The late stage L5, patches, no effect.
    fn default() -> Self {
        Self {
            stage: CountedStage::default(),
            late_from: STAGES - 1,
            comparison: Comparison::default(),
            ratio_null: 1.0,
        }
    }
}

/// Why a week or a site was left out. Sides are named in words.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error, Serialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum Reason {
    /// A site with one side.
    #[error("the site has no {missing}: nothing to compare with")]
    Unmatched {
        /// The side that is not there.
        missing: &'static str,
    },
    /// No stem count.
    #[error("the {side} has no stem count")]
    NoStems {
        /// The side concerned.
        side: &'static str,
    },
    /// A stem count of zero.
    #[error("the {side} has 0 stems")]
    ZeroStems {
        /// The side concerned.
        side: &'static str,
    },
    /// No week in which both sides were counted.
    #[error("no week was counted on both sides")]
    NoCommonWeek,
    /// A week in which neither side was counted.
    #[error("not counted")]
    NotCounted,
    /// A week in which one side was counted.
    #[error(
        "counted on the {counted} only: kept, the week would give that side more surveys than the other"
    )]
    OneSide {
        /// The side that was counted.
        counted: &'static str,
    },
    /// A side of which only a part was counted.
    #[error("only a part of the {side} was counted")]
    PartOfSide {
        /// The side concerned.
        side: &'static str,
    },
    /// A side with rows of other stages but none of the stage asked for.
    #[error("the {side} has rows of other stages, none of {stage}: write 0 if none was seen")]
    StageNotWritten {
        /// The side concerned.
        side: &'static str,
        /// The stage.
        stage: &'static str,
    },
}

impl Reason {
    /// Short name in tables.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Unmatched { .. } => "unmatched",
            Self::NoStems { .. } => "no-stems",
            Self::ZeroStems { .. } => "zero-stems",
            Self::NoCommonWeek => "no-common-week",
            Self::NotCounted => "not-counted",
            Self::OneSide { .. } => "one-side",
            Self::PartOfSide { .. } => "part-of-side",
            Self::StageNotWritten { .. } => "stage-not-written",
        }
    }
}

/// A week of a site, or a whole site, that was left out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Dropped {
    /// Site.
    pub site: String,
    /// Week; `None` for the whole site.
    pub week: Option<u32>,
    /// First line that it concerns.
    pub line: u64,
    /// Why.
    pub reason: Reason,
}

/// A site that is used.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct UsedSite {
    /// Name, with the replicate behind a `#` if there is one.
    pub name: String,
    /// Line of its first row.
    pub line: u64,
    /// Its counts over the weeks used, and its stems.
    pub counts: PairedSite,
    /// Weeks used, ascending.
    pub weeks: Vec<u32>,
    /// Number of weeks left out.
    pub weeks_dropped: usize,
    /// Whether its stems were counted after cutting, where the table has dates of both.
    pub stems_after_cutting: Option<bool>,
}

/// Sites to be compared, and what was left out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Prepared {
    /// Sites used, in the order of the table.
    pub sites: Vec<UsedSite>,
    /// Weeks and sites left out, in the order of the table.
    pub dropped: Vec<Dropped>,
}

impl Prepared {
    /// Counts and stems of the sites used.
    #[must_use]
    pub fn pairs(&self) -> Vec<PairedSite> {
        self.sites.iter().map(|site| site.counts).collect()
    }
}

/// Takes from a table what a question can use.
///
/// A week counts for a site when all of both sides was counted in it for every stage asked for: both sides then rest
/// on the same surveys.
///
/// # Errors
/// When no site is left, with the commonest reason, or when counts of a site run over.
pub fn prepare(counts: &Counts, question: &Question) -> Outcome<Prepared> {
    let mut prepared = Prepared {
        sites: Vec::new(),
        dropped: Vec::new(),
    };
    for site in &counts.sites {
        let mut dropped = Vec::new();
        match judged(site, question, &mut dropped, &counts.label)? {
            Ok(used) => prepared.sites.push(used),
            Err((line, reason)) => dropped.push(Dropped {
                site: site.name.clone(),
                week: None,
                line,
                reason,
            }),
        }
        prepared.dropped.extend(dropped);
    }
    if prepared.sites.is_empty() {
        return Err(nothing_left(&prepared, counts, question));
    }
    Ok(prepared)
}

fn nothing_left(prepared: &Prepared, counts: &Counts, question: &Question) -> Trouble {
    let first = prepared.dropped.iter().find(|drop| drop.week.is_none());
    let why = first.map_or_else(String::new, |drop| {
        format!(
            ", line {}: site {}: {}",
            drop.line,
            shown(&drop.site),
            drop.reason
        )
    });
    Trouble::new(format!(
        "no site is left to compare: all {} were dropped",
        counts.sites.len()
    ))
    .at(format!("{}{why}", counts.label))
    .expected(format!(
        "sites with a {} and a {}, stems counted on both, and counts of {} in the same weeks",
        question.comparison.sides()[0],
        question.comparison.sides()[1],
        question.stage.words(question.late_from)
    ))
    .remedy("mend the table, or ask for another --stage or --compare")
}

/// A site that is used, or the line and the reason why it is not.
type Judged = Result<UsedSite, (u64, Reason)>;

fn judged(
    site: &Site,
    question: &Question,
    dropped: &mut Vec<Dropped>,
    label: &str,
) -> Outcome<Judged> {
    let names = question.comparison.sides();
    let sides: [Vec<&PlotCounts>; 2] = [0, 1].map(|side| {
        site.plots
            .iter()
            .filter(|(plot, _): &(&Plot, _)| question.comparison.side(**plot) == Some(side))
            .map(|(_, counts)| counts)
            .collect()
    });
    let mut stems = [0.0; 2];
    for (side, plots) in sides.iter().enumerate() {
        match stems_of(plots, names[side]) {
            Ok(sum) => stems[side] = sum,
            Err((line, reason)) => return Ok(Err((line.unwrap_or(site.line), reason))),
        }
    }
    let all: BTreeSet<u32> = sides
        .iter()
        .flatten()
        .flat_map(|plot| plot.weeks.keys().copied())
        .collect();
    let mut sums = [0_u64; 2];
    let mut weeks = Vec::new();
    for &week in &all {
        let found = [0, 1].map(|side| count(&sides[side], week, question));
        match reason(&found, names) {
            None => {
                weeks.push(week);
                for (sum, found) in sums.iter_mut().zip(&found) {
                    *sum += found.as_ref().copied().unwrap_or(0);
                }
            }
            Some(reason) => dropped.push(Dropped {
                site: site.name.clone(),
                week: Some(week),
                line: line_of(&sides, week).unwrap_or(site.line),
                reason,
            }),
        }
    }
    if weeks.is_empty() {
        return Ok(Err((site.line, Reason::NoCommonWeek)));
    }
    let [treated, untouched] = sums.map(u32::try_from);
    let (Ok(treated), Ok(untouched)) = (treated, untouched) else {
        return Err(
            Trouble::new(format!("the counts of site {} run over", shown(&site.name)))
                .at(format!("{label}, line {}", site.line))
                .expected(format!("at most {} on a side", u32::MAX))
                .remedy("check the counts"),
        );
    };
    Ok(Ok(UsedSite {
        name: site.name.clone(),
        line: site.line,
        counts: PairedSite {
            treated,
            untouched,
            stems_treated: stems[0],
            stems_untouched: stems[1],
        },
        weeks_dropped: all.len() - weeks.len(),
        weeks,
        stems_after_cutting: site
            .stems_date
            .zip(site.cut_date)
            .map(|(counted, cut)| counted > cut.value),
    }))
}

fn line_of(sides: &[Vec<&PlotCounts>; 2], week: u32) -> Option<u64> {
    let weeks = sides
        .iter()
        .flatten()
        .filter_map(|plot| plot.weeks.get(&week));
    weeks.map(|week| week.line).min()
}

/// Stems of a side, or why there are none, with the line where known.
fn stems_of(plots: &[&PlotCounts], side: &'static str) -> Result<f64, (Option<u64>, Reason)> {
    if plots.is_empty() {
        return Err((None, Reason::Unmatched { missing: side }));
    }
    let first_line = |plot: &PlotCounts| plot.weeks.values().map(|week| week.line).min();
    let mut sum = 0.0;
    for plot in plots {
        match plot.stems {
            None => return Err((first_line(plot), Reason::NoStems { side })),
            Some(stems) => sum += stems.value,
        }
    }
    if sum > 0.0 {
        Ok(sum)
    } else {
        let line = plots[0].stems.map(|stems| stems.line);
        Err((line, Reason::ZeroStems { side }))
    }
}

/// Why a side gives no count for a week.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Gap {
    Nothing,
    Part,
    Unwritten(&'static str),
}

/// The count of a side in a week.
fn count(plots: &[&PlotCounts], week: u32, question: &Question) -> Result<u64, Gap> {
    let mut sum = 0;
    let (mut counted, mut missing, mut unwritten) = (false, false, None);
    for plot in plots {
        let Some(week) = plot.weeks.get(&week) else {
            missing = true;
            continue;
        };
        let any = week.stages.iter().any(|stage| stage.rows > stage.empty);
        for stage in question.stage.stages(question.late_from) {
            let found = week.stages[stage];
            sum += found.sum;
            if found.rows == 0 && any {
                unwritten = Some(STAGE_NAMES[stage]);
            } else if found.empty > 0 || found.rows == 0 {
                missing = true;
            }
            counted |= found.rows > found.empty;
        }
    }
    match (unwritten, missing, counted) {
        (Some(stage), _, _) => Err(Gap::Unwritten(stage)),
        (None, false, _) => Ok(sum),
        (None, true, true) => Err(Gap::Part),
        (None, true, false) => Err(Gap::Nothing),
    }
}

/// Why a week is left out; `None` when both sides were counted.
fn reason(found: &[Result<u64, Gap>; 2], names: [&'static str; 2]) -> Option<Reason> {
    for (found, side) in found.iter().zip(names) {
        if let Err(Gap::Unwritten(stage)) = found {
            return Some(Reason::StageNotWritten { side, stage });
        }
    }
    for (found, side) in found.iter().zip(names) {
        if *found == Err(Gap::Part) {
            return Some(Reason::PartOfSide { side });
        }
    }
    match (found[0].is_ok(), found[1].is_ok()) {
        (true, true) => None,
        (true, false) => Some(Reason::OneSide { counted: names[0] }),
        (false, true) => Some(Reason::OneSide { counted: names[1] }),
        (false, false) => Some(Reason::NotCounted),
    }
}
