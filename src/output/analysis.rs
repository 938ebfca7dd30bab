//! Tables of an analysis of real counts.

use super::analysis_columns::{ANALYSIS, DROPPED, SITES};
use super::tables::cell;
use crate::stats::paired::{PairedResult, RatioEstimate};
use crate::study::analyse::{
    Caution, Corrected, CorrectedInterval, Counts, Exchange, Prepared, Question,
};
use crate::trouble::Outcome;

/// An analysis, whole.
#[derive(Debug, Clone)]
pub struct Analysis {
    /// What was asked.
    pub question: Question,
    /// The table as read.
    pub counts: Counts,
    /// What of it is used, and what was left out.
    pub prepared: Prepared,
    /// What the estimators found.
    pub results: Vec<PairedResult>,
    /// What must be known of the data.
    pub cautions: Vec<Caution>,
    /// The simulated exchange, and each result corrected for it.
    pub correction: Option<(Exchange, Vec<Corrected>)>,
}

/// The kind of an estimate, for tables.
#[must_use]
pub fn kind(estimate: RatioEstimate) -> &'static str {
    match estimate {
        RatioEstimate::Finite { .. } => "finite",
        RatioEstimate::UnboundedAbove => "unbounded-above",
        RatioEstimate::UnboundedBelow => "unbounded-below",
        RatioEstimate::Undefined => "undefined",
    }
}

/// What the estimators found, one row each.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn results(analysis: &Analysis) -> Outcome<Vec<u8>> {
    let mut sheet = ANALYSIS.sheet()?;
    for (index, result) in analysis.results.iter().enumerate() {
        let corrected = analysis
            .correction
            .as_ref()
            .and_then(|(_, all)| all.get(index));
        let ends = |interval: Option<CorrectedInterval>| {
            interval.map_or([None, None], |interval| [interval.low, interval.high])
        };
        let fixed = ends(corrected.and_then(|corrected| corrected.interval));
        let sets = ends(corrected.and_then(|corrected| corrected.over_sets));
        let warnings: Vec<String> = result
            .warnings
            .iter()
            .map(ToString::to_string)
            .chain(analysis.cautions.iter().map(ToString::to_string))
            .collect();
        sheet.row(&[
            result.estimator.name().to_owned(),
            analysis.question.stage.to_string(),
            analysis.question.comparison.name().to_owned(),
            cell(result.estimate.ratio()),
            cell(result.interval.lower),
            cell(result.interval.upper),
            result.interval.confidence.to_string(),
            kind(result.estimate).to_owned(),
            analysis.question.ratio_null.to_string(),
            cell(result.p_value),
            result.sites.to_string(),
            result.informative.to_string(),
            cell(corrected.and_then(|corrected| corrected.home_ratio)),
            cell(fixed[0]),
            cell(fixed[1]),
            cell(sets[0]),
            cell(sets[1]),
            warnings.join("; "),
        ])?;
    }
    sheet.bytes()
}

/// Counts, stems and weeks of each site, those left out with the reason.
///
/// # Errors
/// As [`results`].
pub fn sites(analysis: &Analysis) -> Outcome<Vec<u8>> {
    let mut sheet = SITES.sheet()?;
    for site in &analysis.prepared.sites {
        let weeks: Vec<String> = site.weeks.iter().map(ToString::to_string).collect();
        sheet.row(&[
            site.name.clone(),
            site.line.to_string(),
            "yes".to_owned(),
            site.counts.treated.to_string(),
            site.counts.stems_treated.to_string(),
            site.counts.untouched.to_string(),
            site.counts.stems_untouched.to_string(),
            yes_or_no(site.counts.is_informative()).to_owned(),
            cell(
                site.counts
                    .is_informative()
                    .then(|| site.counts.log_ratio_with_half()),
            ),
            weeks.join(" "),
            site.weeks_dropped.to_string(),
            String::new(),
        ])?;
    }
    for drop in &analysis.prepared.dropped {
        if drop.week.is_none() {
            let mut row = vec![String::new(); 12];
            row[0].clone_from(&drop.site);
            row[1] = drop.line.to_string();
            row[2] = "no".to_owned();
            row[11] = drop.reason.to_string();
            sheet.row(&row)?;
        }
    }
    sheet.bytes()
}

fn yes_or_no(yes: bool) -> &'static str {
    if yes { "yes" } else { "no" }
}

/// What was left out, one row a week or site.
///
/// # Errors
/// As [`results`].
pub fn dropped(analysis: &Analysis) -> Outcome<Vec<u8>> {
    let mut sheet = DROPPED.sheet()?;
    for drop in &analysis.prepared.dropped {
        sheet.row(&[
            drop.site.clone(),
            drop.week.map_or_else(String::new, |week| week.to_string()),
            drop.line.to_string(),
            drop.reason.name().to_owned(),
            drop.reason.to_string(),
        ])?;
    }
    sheet.bytes()
}
