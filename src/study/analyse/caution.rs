//! What a reader must know of the data, whatever the estimator says.

use super::prepare::{Prepared, Question, Reason};
use super::words::{Comparison, CountedStage};
use crate::stats::paired::flip::p_value_of_scores;
use serde::Serialize;

/// Level at which an imbalance of stems that no coin explains is told.
const IMBALANCE_LEVEL: f64 = 0.05;
/// Mean ratio of treated to other stems below which cutting may have halved them: halfway, as a ratio, between
/// equal patches and the half or less of a patch whose stems were counted after half of them were cut.
const IMBALANCE_RATIO: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// Fewest sites of which a coin's imbalance can be told at that level: 2 / 2^6 is below it.
const FEWEST_SITES: usize = 6;

/// Something about the data that a reader must know.
#[derive(Debug, Clone, PartialEq, thiserror::Error, Serialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum Caution {
    /// Stems were counted after cutting, by the dates.
    #[error(
        "At {sites} sites stems were counted after cutting. Cutting halves them, so counts per stem rise on treated patches though nothing else changes: a true ratio of 1 is then rejected in up to 26 % of studies. Use the stems counted before cutting."
    )]
    StemsAfterCutting {
        /// Number of sites.
        sites: usize,
    },
    /// Stems look as if they had been counted after cutting.
    #[error(
        "The {treated} has {ratio:.2} times the stems of the {other} on average over the sites, and chance alone does so once in {once:.0} studies if a coin decided what was cut. Were the stems counted after cutting? Then a true ratio of 1 is rejected in up to 26 % of studies. Use the stems counted before cutting."
    )]
    StemsLookCut {
        /// The treated side, in words.
        treated: &'static str,
        /// The other side, in words.
        other: &'static str,
        /// Geometric mean of treated over other stems.
        ratio: f64,
        /// One over the p value of the sign-flip test on their logarithms.
        once: f64,
    },
    /// Halves of one patch.
    #[error(
        "Larvae walk between the two halves of a patch, so the ratio of the halves is pulled towards 1 for older stages: prefer two patches a clear gap apart for the late stage."
    )]
    HalvesMix,
    /// Zeros were not written.
    #[error(
        "{weeks} weeks were left out because the stage has no row on one side though other stages have. If none was seen there, write 0: without zeros the ratio is pulled towards 1."
    )]
    ZerosNotWritten {
        /// Number of weeks.
        weeks: usize,
    },
    /// No exchange was simulated, so that nothing could be corrected for it.
    #[error(
        "The ratio is not corrected for exchange: no {stage} was laid on one side in {seasons} simulated seasons of the scenario {scenario}. Look at laying.eggs_per_stem_week, its dates and its stems, or raise --seasons."
    )]
    NoExchange {
        /// The stage, in words.
        stage: String,
        /// Seasons simulated.
        seasons: u64,
        /// Name of the scenario.
        scenario: String,
    },
    /// Many weeks were left out.
    #[error(
        "{share:.0} % of the weeks written were left out. The ratio stays fair, as both sides lose the same weeks, but it holds for the weeks that were counted."
    )]
    ManyWeeksDropped {
        /// Share in percent.
        share: f64,
    },
}

/// Share of weeks left out from which on it is told.
const MANY_WEEKS: f64 = 0.25;

/// What must be known of sites that were prepared.
#[must_use]
pub fn cautions(prepared: &Prepared, question: &Question, flips: usize, seed: u64) -> Vec<Caution> {
    let mut all = Vec::new();
    let after = prepared
        .sites
        .iter()
        .filter(|site| site.stems_after_cutting == Some(true))
        .count();
    if after > 0 {
        all.push(Caution::StemsAfterCutting { sites: after });
    }
    let dated = prepared
        .sites
        .iter()
        .all(|site| site.stems_after_cutting.is_some());
    // How a patch is divided into halves is decided by hand, not by a coin.
    if !dated && question.comparison == Comparison::Patches {
        all.extend(stems_look_cut(prepared, question, flips, seed));
    }
    if question.comparison == Comparison::Halves && question.stage != CountedStage::Eggs {
        all.push(Caution::HalvesMix);
    }
    let weeks = prepared
        .dropped
        .iter()
        .filter(|drop| matches!(drop.reason, Reason::StageNotWritten { .. }))
        .count();
    if weeks > 0 {
        all.push(Caution::ZerosNotWritten { weeks });
    }
    let (used, dropped) = prepared.sites.iter().fold((0, 0), |(used, dropped), site| {
        (used + site.weeks.len(), dropped + site.weeks_dropped)
    });
    let share = dropped as f64 / (used + dropped).max(1) as f64;
    if share >= MANY_WEEKS {
        all.push(Caution::ManyWeeksDropped {
            share: 100.0 * share,
        });
    }
    all
}

/// A coin that decides which side is cut makes ln(s_t / s_c) as often positive as negative, of any size: the
/// sign-flip test on these logarithms is exact.
fn stems_look_cut(
    prepared: &Prepared,
    question: &Question,
    flips: usize,
    seed: u64,
) -> Option<Caution> {
    if prepared.sites.len() < FEWEST_SITES {
        return None;
    }
    let logs: Vec<f64> = prepared
        .sites
        .iter()
        .map(|site| (site.counts.stems_treated / site.counts.stems_untouched).ln())
        .collect();
    let ratio = (logs.iter().sum::<f64>() / logs.len() as f64).exp();
    let p = p_value_of_scores(&logs, flips, seed);
    let [treated, other] = question.comparison.sides();
    (ratio <= IMBALANCE_RATIO && p <= IMBALANCE_LEVEL).then(|| Caution::StemsLookCut {
        treated,
        other,
        ratio,
        once: 1.0 / p,
    })
}
