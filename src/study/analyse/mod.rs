//! Real counts of a field study: read, judged, compared by the paired estimators.
//!
//! Faults of form in the table are errors with a line number; gaps in the data (a week that was missed, a site
//! with one patch) are dropped with a reason and reported. See [`read_counts`] for the columns.

mod caution;
mod correct;
mod digest;
mod exchange;
mod lines;
mod prepare;
mod row;
mod shown;
mod table;
mod words;

pub use caution::{Caution, cautions};
pub use correct::{Corrected, CorrectedInterval, corrected, home_ratio};
pub use exchange::{Exchange, ExchangeEffort, Transfer, check_sides, exchange};
pub use prepare::{Dropped, Prepared, Question, Reason, UsedSite, prepare};
pub use shown::{shown, shown_within};
pub use table::{Counts, open_counts, open_table, read_counts};
pub use words::{Comparison, CountedStage, Half, Patch, UnknownComparison, UnknownStage};

use crate::stats::paired::{
    Estimator, PairedError, PairedOptions, PairedResult, PairedSite, RatioEstimate, compare,
};

/// Compares sites by each of the estimators asked for, the p value testing the ratio `ratio_null` (above 0).
///
/// A ratio R of counts per stem is the ratio R / r when the treated stems are weighted by r: so every estimator,
/// which tests 1, tests r on weighted stems, and its estimate is weighted back.
///
/// # Errors
/// As [`compare`].
pub fn compare_sites(
    sites: &[PairedSite],
    ratio_null: f64,
    estimators: &[Estimator],
    options: &PairedOptions,
) -> Result<Vec<PairedResult>, PairedError> {
    let weighted: Vec<PairedSite> = sites
        .iter()
        .map(|site| PairedSite {
            stems_treated: site.stems_treated * ratio_null,
            ..*site
        })
        .collect();
    estimators
        .iter()
        .map(|estimator| {
            let mut result = compare(&weighted, *estimator, options)?;
            if let RatioEstimate::Finite { ratio } = &mut result.estimate {
                *ratio *= ratio_null;
            }
            result.log_ratio = result.log_ratio.map(|log| log + ratio_null.ln());
            let bounds = [&mut result.interval.lower, &mut result.interval.upper];
            for bound in bounds.into_iter().flatten() {
                *bound *= ratio_null;
            }
            Ok(result)
        })
        .collect()
}
