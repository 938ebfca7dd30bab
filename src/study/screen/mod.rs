//! Which of the sites offered can serve a study: as a pair, as one patch, or not at all.
//!
//! Every site is simulated with its own geometry, each patch treated in turn, as a draw is to decide later. A list too
//! long for that is answered from surfaces fitted to some of its sites; see [`fit`].

mod features;
pub mod figures;
pub mod fit;
pub mod gaps;
pub mod grounds;
mod long;
pub mod pooled;
pub mod remedy;
pub mod verdict;

pub use long::{HeldOut, SurfaceReport};

use crate::runner::Runner;
use crate::scenario::Scenario;
use crate::scenario::offered::OfferedList;
use crate::study::StudyError;
use crate::trouble::{Outcome, Trouble};
use figures::{Figures, setups};
use gaps::NeededGap;
use grounds::{Grounds, PatchFacts};
use pooled::{Job, Pooled, simulated};
use remedy::{Remedy, remedies};
use verdict::{Fault, Thresholds, Verdict};

/// Options of the question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ScreenQuestion {
    /// Seasons for each way to treat a site that is simulated.
    pub seasons: u64,
    /// Sites up to which all of a list are simulated; a longer list is answered from surfaces.
    pub direct_up_to: usize,
}

impl Default for ScreenQuestion {
    fn default() -> Self {
        Self {
            seasons: 400,
            direct_up_to: 150,
        }
    }
}

/// A site with its verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Screened {
    /// Its patches in numbers.
    pub patches: Vec<PatchFacts>,
    /// Figures.
    pub figures: Figures,
    /// Verdict.
    pub verdict: Verdict,
    /// What would make it suitable, or a pair.
    pub remedies: Vec<Remedy>,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct ScreenAnswer {
    /// The list, with what the scenario adds to it.
    pub grounds: Grounds,
    /// Sites in the order of the list.
    pub sites: Vec<Screened>,
    /// Thresholds.
    pub thresholds: Thresholds,
    /// The question.
    pub question: ScreenQuestion,
    /// What is known of the surfaces, if the list was too long to simulate every site.
    pub surface: Option<SurfaceReport>,
}

/// Stems of a site up to which it gets all seasons that are asked for; a larger one has more larvae in each.
const STEMS_OF_ALL_SEASONS: f64 = 1_000.0;
/// Fewest seasons of a large site, as a part of those asked for.
const LEAST_PART: f64 = 0.25;
/// Seasons at each gap that is tried, as a part of those asked for.
const PART_OF_GAPS: u64 = 2;
/// Fewest seasons from which an interval means anything.
const FEWEST_SEASONS: u64 = 20;

/// Seasons that a site gets of those asked for.
#[must_use]
pub fn seasons_at(grounds: &Grounds, site: usize, asked: u64) -> u64 {
    let stems: f64 = grounds.sites[site].patches.iter().map(|p| p.stems).sum();
    let part = (STEMS_OF_ALL_SEASONS / stems).clamp(LEAST_PART, 1.0);
    ((asked as f64 * part).ceil() as u64).max(FEWEST_SEASONS)
}

/// Checks a question before anything is run.
///
/// # Errors
/// When the scenario cannot be screened for, a site is too large, or the seasons are too few.
pub fn check(scenario: &Scenario, list: &OfferedList, question: &ScreenQuestion) -> Outcome<()> {
    if question.seasons < FEWEST_SEASONS {
        return Err(
            Trouble::new(format!("{} seasons tell nothing", question.seasons))
                .at("the option --seasons")
                .expected(format!("at least {FEWEST_SEASONS}"))
                .remedy("400 serve most lists"),
        );
    }
    Grounds::of(scenario, list).map(|_| ())
}

/// Screens a list.
///
/// # Errors
/// As [`check`]; or when the run is stopped.
pub fn answer(
    scenario: &Scenario,
    list: &OfferedList,
    question: &ScreenQuestion,
    runner: &Runner<'_>,
) -> Result<ScreenAnswer, StudyError> {
    check(scenario, list, question)?;
    let grounds = Grounds::of(scenario, list)?;
    let thresholds = Thresholds::of(scenario);
    let all: Vec<usize> = (0..grounds.sites.len()).collect();
    let (figures, report, fitted) =
        if all.len() <= question.direct_up_to || !long::is_enough(&grounds) {
            let found = direct(&grounds, &all, question.seasons, runner)?;
            (found, None, None)
        } else {
            let found = long::answered(&grounds, &thresholds, question, runner)?;
            (found.figures, Some(found.report), Some(found.fitted))
        };
    let verdicts: Vec<Verdict> = figures
        .iter()
        .enumerate()
        .map(|(site, figures)| verdict::verdict(&grounds, site, figures, &thresholds))
        .collect();
    let near = too_near(&verdicts);
    let gaps: Vec<Option<NeededGap>> = match &fitted {
        None => gaps::simulated_gaps(
            &grounds,
            &near,
            question.seasons / PART_OF_GAPS,
            thresholds.stray_share,
            runner,
        )?
        .into_iter()
        .map(Some)
        .collect(),
        Some((fitted, widest_m)) => {
            let reach = (*widest_m, thresholds.stray_share);
            near.iter()
                .map(|site| gaps::fitted_gap(&grounds, fitted, *site, reach))
                .collect()
        }
    };
    let exponent = scenario.numbers.laying.size_exponent;
    let sites = figures
        .into_iter()
        .zip(verdicts)
        .enumerate()
        .map(|(site, (figures, verdict))| {
            let patches: Vec<PatchFacts> = (0..grounds.sites[site].patches.len())
                .map(|patch| grounds.patch(site, patch))
                .collect();
            let gap = near.binary_search(&site).ok().and_then(|at| gaps[at]);
            Screened {
                remedies: remedies(&patches, &verdict, gap, &thresholds, exponent),
                patches,
                figures,
                verdict,
            }
        })
        .collect();
    Ok(ScreenAnswer {
        grounds,
        sites,
        thresholds,
        question: *question,
        surface: report,
    })
}

/// Sites that a wider gap would help: too many strays, and nothing against them that no gap mends.
fn too_near(verdicts: &[Verdict]) -> Vec<usize> {
    let helps = |verdict: &Verdict| {
        let faults = &verdict.against_pair;
        let beyond = |fault: &Fault| {
            matches!(
                fault,
                Fault::FewStems { .. } | Fault::Unequal { .. } | Fault::OnePatchOnly
            )
        };
        faults
            .iter()
            .any(|fault| matches!(fault, Fault::Strays { .. }))
            && !faults.iter().any(beyond)
    };
    (0..verdicts.len())
        .filter(|site| helps(&verdicts[*site]))
        .collect()
}

/// Figures of some sites, each simulated with its own geometry.
///
/// # Errors
/// When the run is stopped.
pub fn direct(
    grounds: &Grounds,
    sites: &[usize],
    seasons: u64,
    runner: &Runner<'_>,
) -> Result<Vec<Figures>, StudyError> {
    let pools = pools_of(
        grounds,
        sites,
        |site| seasons_at(grounds, site, seasons),
        runner,
    )?;
    sites
        .iter()
        .zip(&pools)
        .map(|(site, pools)| {
            figures::figures(grounds, *site, pools).ok_or_else(|| {
                StudyError::from(Trouble::new("a site has neither one patch nor two"))
            })
        })
        .collect()
}

/// Pools of all setups of some sites.
pub(in crate::study::screen) fn pools_of(
    grounds: &Grounds,
    sites: &[usize],
    seasons: impl Fn(usize) -> u64,
    runner: &Runner<'_>,
) -> Result<Vec<Vec<Pooled>>, StudyError> {
    let jobs: Vec<Job> = sites
        .iter()
        .flat_map(|site| {
            let seasons = seasons(*site);
            setups(grounds, *site).into_iter().map(move |setup| Job {
                site: *site,
                setup,
                seasons,
            })
        })
        .collect();
    let total: u64 = jobs.iter().map(|job| job.seasons).sum();
    runner.watch.begin("offered sites", total);
    let pools = simulated(grounds, &jobs, runner);
    runner.watch.end();
    let mut pools = pools?.into_iter();
    Ok(sites
        .iter()
        .map(|site| {
            let of_site = setups(grounds, *site).len();
            pools.by_ref().take(of_site).collect()
        })
        .collect())
}
