//! What a site costs its volunteer in hours.

use crate::plan::Plan;
use crate::scenario::Treatment;

/// Minutes in an hour.
const MINUTES: f64 = 60.0;

/// Time of one site in one season, minutes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SiteTime {
    /// Whatever is done once: travel + patches x set-up + stems x counting; where something is cut, one more travel +
    /// stems cut x cutting.
    pub once_min: f64,
    /// A survey that is held: travel + notes + stems x searching.
    pub survey_min: f64,
}

impl SiteTime {
    /// The time of the scenario's site. All stems are searched at every survey, whatever is left of them.
    #[must_use]
    pub fn of(plan: &Plan) -> Self {
        let minutes = &plan.scenario.numbers.hours;
        let stems = plan.layout.stems() as f64;
        let patches = plan.layout.patches.len() as f64;
        let cut: usize = plan
            .layout
            .patches
            .iter()
            .map(|patch| patch.cut_stems)
            .sum();
        let is_cut =
            plan.layout.patches.iter().any(|patch| {
                patch.settings.treatment != Treatment::Untouched && patch.cut_stems > 0
            });
        let cutting = if is_cut {
            minutes.travel_min + cut as f64 * minutes.cut_stem_min
        } else {
            0.0
        };
        Self {
            once_min: minutes.travel_min
                + patches * minutes.set_up_min
                + stems * minutes.count_stem_min
                + cutting,
            survey_min: minutes.travel_min + minutes.notes_min + stems * minutes.search_stem_min,
        }
    }

    /// Hours of a season in which a number of surveys is held.
    #[must_use]
    pub fn hours(&self, surveys: f64) -> f64 {
        (self.once_min + surveys * self.survey_min) / MINUTES
    }
}
