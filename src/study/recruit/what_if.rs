//! What if the study were laid out differently? Sites needed for a few variants of the scenario.

use super::RecruitQuestion;
use super::power::StudyPlan;
use super::sites::{Effect, Sites};
use super::siting::{SitingPoint, siting_point};
use crate::runner::Runner;
use crate::scenario::{Layered, Scenario};
use crate::study::{StudyError, every};

/// A variant: its words and the settings it changes.
pub struct Variant {
    /// In words.
    pub what: &'static str,
    /// Paths and values.
    pub settings: &'static [(&'static str, &'static str)],
}

/// The variants tried.
pub const VARIANTS: [Variant; 12] = [
    Variant {
        what: "as the scenario has it",
        settings: &[],
    },
    Variant {
        what: "3 weekly surveys",
        settings: &[("dates.surveys", "3")],
    },
    Variant {
        what: "8 weekly surveys, laying followed to the last",
        settings: &[("dates.surveys", "8"), ("dates.laying_until_day", "63")],
    },
    Variant {
        what: "surveys from week 4 to week 8 after cutting",
        settings: &[
            ("dates.first_survey_day", "28"),
            ("dates.laying_until_day", "56"),
        ],
    },
    Variant {
        what: "patches of half the size",
        settings: &[("recruitment.stems", "EvenlyByRatio(30, 300)")],
    },
    Variant {
        what: "patches of twice the size",
        settings: &[("recruitment.stems", "EvenlyByRatio(120, 1200)")],
    },
    Variant {
        what: "pairs from 3 m on",
        settings: &[("recruitment.least_gap_m", "3")],
    },
    Variant {
        what: "pairs from 20 m on",
        settings: &[("recruitment.least_gap_m", "20")],
    },
    Variant {
        what: "a quarter left as refuge",
        settings: &[("site.refuge_share", "0.25")],
    },
    Variant {
        what: "three quarters left as refuge",
        settings: &[("site.refuge_share", "0.75")],
    },
    Variant {
        what: "a tenth drops out",
        settings: &[("surveying.drop_out", "0.1")],
    },
    Variant {
        what: "half of the weeks missed",
        settings: &[("surveying.missed_share", "0.5")],
    },
];

/// Answers the variants at one attraction: what the stems do to the butterflies stays the same, and the home ratio is
/// what each variant makes of it. A variant that makes no sense for the scenario is left out.
///
/// # Errors
/// When the run is stopped or a statistic cannot be worked out.
pub fn what_if(
    layered: &Layered,
    effect: Effect,
    question: &RecruitQuestion,
    runner: &Runner<'_>,
) -> Result<Vec<SitingPoint>, StudyError> {
    let plan = StudyPlan {
        fresh: false,
        ..question.plan(false)
    };
    let mut variants = Vec::new();
    for variant in &VARIANTS {
        let mut changed = layered.clone();
        for (path, value) in variant.settings {
            changed.set(path, value)?;
        }
        let Ok(sites) = Scenario::from_layers(&changed).and_then(|scenario| Sites::of(&scenario))
        else {
            continue;
        };
        variants.push((sites, (variant.what.to_owned(), None)));
    }
    let seasons = question.pool / 2;
    every(
        variants
            .into_iter()
            .map(|(sites, what)| siting_point(&sites, what, effect, seasons, &plan, runner)),
    )
}
