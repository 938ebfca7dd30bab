//! Correction of a ratio for larvae that walk from one side to the other.
//!
//! Of the larvae laid on the treated side and standing on either side at a survey, a share a stands on the other;
//! of those laid on the other side, a share b stands on the treated one. A site with stems s_t and s_c whose larvae
//! per stem are in the home ratio H is then expected to show the treated share
//!
//! p(H) = ((1 - a) H s_t + b s_c) / (H s_t + s_c)
//!
//! instead of R s_t / (R s_t + s_c). The home ratio that belongs to an observed ratio R is the one at which both
//! give the same treated total over the sites, each with its own stems and total count. With equal patches that is
//! H = (R (1 - b) - b) / (1 - a - a R).
//!
//! a and b are simulated; they hardly depend on the ratio itself, unlike the stray shares of the two sides, which
//! do: the more larvae one side raises, the more of the other's are strays.

use super::prepare::Question;
use super::words::Comparison;
use crate::plan::Plan;
use crate::random::Key;
use crate::runner::Runner;
use crate::scenario::{Layered, LayoutKind, Scenario, Treatment};
use crate::season::Season;
use crate::stats::paired::{PairedResult, PairedSite, RatioEstimate, root};
use crate::stats::{Resamples, Table, sorted_quantile};
use crate::study::measures::{Measured, measured};
use crate::study::{Effort, StudyError, resampled, uncertain};
use crate::trouble::{Outcome, Trouble};
use crate::world::HalfId;
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};

/// Draws that combine the errors of ratio and exchange: a 2.5 % tail holds a hundred of them.
const DRAWS: usize = 4000;
/// Log home ratios beyond this are zero or without limit: a factor of 10^13.
const FARTHEST_LOG_RATIO: f64 = 30.0;
/// Absolute accuracy of a log home ratio, far below its error.
const LOG_RATIO_ACCURACY: f64 = 1e-9;
/// Keeps these draws apart from those of seasons and of the bootstrap.
const APART: u64 = 0x00e8_c4a6;

/// Shares of larvae that stand on the side on which they were not laid, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Transfer {
    /// Of those laid on the treated side, the share that stands on the other.
    pub from_treated: f64,
    /// Of those laid on the other side, the share that stands on the treated one.
    pub from_other: f64,
}

impl Transfer {
    /// From pooled counts by side: standing on treated laid on treated, standing on treated laid on the other,
    /// standing on the other laid on treated, standing on the other laid there. `None` if a side laid none.
    #[must_use]
    fn of(sums: &[f64]) -> Option<Self> {
        let &[stayed_treated, to_treated, to_other, stayed_other] = sums else {
            return None;
        };
        let (laid_treated, laid_other) = (stayed_treated + to_other, stayed_other + to_treated);
        (laid_treated > 0.0 && laid_other > 0.0).then(|| Self {
            from_treated: to_other / laid_treated,
            from_other: to_treated / laid_other,
        })
    }

    /// Expected treated share of a site's count at a log home ratio.
    fn treated_share(self, site: &PairedSite, log_home: f64) -> f64 {
        let home = site.treated_share(log_home.exp());
        (1.0 - self.from_treated) * home + self.from_other * (1.0 - home)
    }
}

/// How much is simulated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExchangeEffort {
    /// Seasons of the scenario as it is.
    pub seasons: u64,
    /// Parameter sets drawn from the plausible ranges; 0 for none.
    pub sets: u64,
    /// Seasons of each set.
    pub seasons_per_set: u64,
}

/// Simulated exchange between the two sides of a site.
#[derive(Debug, Clone)]
pub struct Exchange {
    /// Name of the scenario.
    pub scenario: String,
    /// Gap between its patches, metres; `None` for halves of one patch.
    pub gap_m: Option<f64>,
    /// The exchange.
    pub central: Transfer,
    /// The same in resamples of the seasons: its Monte Carlo error.
    pub resamples: Vec<Transfer>,
    /// The same for plausible parameter sets.
    pub sets: Vec<Transfer>,
    /// Stray shares of the treated and of the other side in the scenario: of the larvae standing there, the share
    /// laid on the other side.
    pub stray_shares: [Measured; 2],
    /// Shares of the larvae laid on the treated and on the other side that stand on the opposite one.
    pub moved_shares: [Measured; 2],
    /// Seasons simulated.
    pub seasons: u64,
    /// Seasons simulated for each parameter set.
    pub seasons_per_set: u64,
}

/// Simulates the exchange of a scenario between the sides that a question compares.
///
/// # Errors
/// When the scenario does not have the sides, when no larva of the stage was laid on one of them, or when the run
/// is stopped.
pub fn exchange(
    layered: &Layered,
    question: &Question,
    effort: ExchangeEffort,
    runner: &Runner<'_>,
) -> Result<Exchange, StudyError> {
    let plan = Plan::of(Scenario::from_layers(layered)?)?;
    let sides = Sides::of(&plan, question)?;
    runner.watch.begin("exchange", effort.seasons);
    let table = sides.tallies(&plan, runner, 0, effort.seasons)?;
    runner.watch.end();
    let resamples = resampled(&table, runner, Effort::of(effort.seasons))?;
    let central = Transfer::of(resamples.observed()).ok_or_else(|| {
        Trouble::new(format!(
            "no {} was seen on one side in {} simulated seasons",
            question.stage.words(question.late_from),
            effort.seasons
        ))
        .at(format!("the scenario {}", plan.scenario.name))
        .expected("larvae on both sides, to see how they mix")
        .remedy("simulate more with --seasons")
    })?;
    let mut sets = Vec::new();
    if effort.sets > 0 {
        runner.watch.begin(
            "plausible parameter sets",
            effort.sets * effort.seasons_per_set,
        );
        for set in 1..=effort.sets {
            sets.extend(of_set(layered, question, effort, runner, set)?);
        }
        runner.watch.end();
    }
    let share = |part: usize, whole: [usize; 2]| {
        measured(&resamples, move |sums: &[f64]| {
            let all = sums[whole[0]] + sums[whole[1]];
            (all > 0.0).then(|| sums[part] / all)
        })
    };
    Ok(Exchange {
        scenario: plan.scenario.name.clone(),
        gap_m: (question.comparison == Comparison::Patches)
            .then_some(plan.scenario.numbers.site.gap_m),
        central,
        stray_shares: [share(1, [0, 1])?, share(2, [2, 3])?],
        moved_shares: [share(2, [0, 2])?, share(1, [1, 3])?],
        resamples: transfers(&resamples),
        sets,
        seasons: effort.seasons,
        seasons_per_set: effort.seasons_per_set,
    })
}

fn transfers(resamples: &Resamples) -> Vec<Transfer> {
    resamples.rows().filter_map(Transfer::of).collect()
}

/// The exchange of one drawn parameter set; `None` if the set makes no sense or raises no larvae on one side.
fn of_set(
    layered: &Layered,
    question: &Question,
    effort: ExchangeEffort,
    runner: &Runner<'_>,
    set: u64,
) -> Result<Option<Transfer>, StudyError> {
    let layered = uncertain::drawn(layered, runner.seed, set);
    // A draw can put a lower threshold above an upper one; such a set is no parameter set.
    let Ok(plan) = Scenario::from_layers(&layered).and_then(Plan::of) else {
        return Ok(None);
    };
    let sides = Sides::of(&plan, question)?;
    let table = sides.tallies(&plan, runner, set, effort.seasons_per_set)?;
    Ok(Transfer::of(&table.totals()))
}

/// The two sides of a scenario and the stages that are counted.
struct Sides {
    /// Side of each half of the site: 0 treated, 1 the other.
    of_half: Vec<Option<usize>>,
    stages: std::ops::RangeInclusive<usize>,
}

impl Sides {
    fn of(plan: &Plan, question: &Question) -> Outcome<Self> {
        let scenario = &plan.scenario;
        let halves = (0..plan.layout.halves() as u16).map(HalfId);
        let of_half: Vec<Option<usize>> = match (question.comparison, scenario.layout) {
            (Comparison::Halves, LayoutKind::OnePatchHalves) => halves
                .map(|half| Some(usize::from(!half.is_cut())))
                .collect(),
            (Comparison::Patches, LayoutKind::PairHalfCut | LayoutKind::PairWholeCut) => {
                halves.map(|half| Some(half.patch())).collect()
            }
            (Comparison::Patches, LayoutKind::ByCoordinates) if is_pair(scenario) => halves
                .map(|half| {
                    let treatment = scenario.patches[half.patch()].treatment;
                    Some(usize::from(treatment == Treatment::Untouched))
                })
                .collect(),
            _ => return Err(other_sides(scenario, question.comparison)),
        };
        Ok(Self {
            of_half,
            stages: question.stage.stages(question.late_from),
        })
    }

    fn tallies(
        &self,
        plan: &Plan,
        runner: &Runner<'_>,
        parameter_set: u64,
        seasons: u64,
    ) -> Result<Table, StudyError> {
        let rows = runner.run(plan, parameter_set, 0..seasons, |season| self.row(season))?;
        Ok(Table::from_rows(4, rows.concat())?)
    }

    /// Counts of a season by side, in the order that [`Transfer::of`] takes.
    fn row(&self, season: &Season<'_>) -> Vec<f64> {
        let mut row = vec![0.0; 4];
        for sighting in &season.sightings {
            if !self.stages.contains(&usize::from(sighting.stage)) {
                continue;
            }
            let side = |half: HalfId| self.of_half.get(half.index()).copied().flatten();
            if let (Some(stands), Some(natal)) = (side(sighting.stands), side(sighting.natal)) {
                row[2 * stands + natal] += 1.0;
            }
        }
        row
    }
}

fn is_pair(scenario: &Scenario) -> bool {
    let untouched = scenario
        .patches
        .iter()
        .filter(|patch| patch.treatment == Treatment::Untouched);
    scenario.patches.len() == 2 && untouched.count() == 1
}

fn other_sides(scenario: &Scenario, comparison: Comparison) -> Trouble {
    let (expected, remedy) = match comparison {
        Comparison::Patches => (
            "a scenario with one treated and one untouched patch",
            "choose a pair, such as verge-pair, or --compare halves",
        ),
        Comparison::Halves => (
            "a scenario with one patch of two halves",
            "choose such as one-patch, or add --set site.layout=OnePatchHalves",
        ),
    };
    Trouble::new(format!(
        "the scenario does not have the {} that are compared",
        comparison.name()
    ))
    .at(format!("the scenario {}", scenario.name))
    .expected(expected)
    .remedy(remedy)
}

/// The home ratio that belongs to an observed ratio (0 to infinite) at sites with an exchange.
///
/// 0 or infinite where the observed ratio is as far from 1 as the exchange allows, or farther. `None` without a
/// count above zero, and where so many larvae change sides that the ratio says nothing about their origin
/// (the two shares together are 1 or more).
#[must_use]
pub fn home_ratio(sites: &[PairedSite], observed: f64, transfer: Transfer) -> Option<f64> {
    if transfer.from_treated + transfer.from_other >= 1.0 {
        return None;
    }
    let informative: Vec<&PairedSite> = sites.iter().filter(|site| site.is_informative()).collect();
    if informative.is_empty() || observed.is_nan() {
        return None;
    }
    let target: f64 = informative
        .iter()
        .map(|site| site.total() * site.treated_share(observed))
        .sum();
    let excess = |log_home: f64| {
        informative
            .iter()
            .map(|site| site.total() * transfer.treated_share(site, log_home))
            .sum::<f64>()
            - target
    };
    if excess(-FARTHEST_LOG_RATIO) >= 0.0 {
        return Some(0.0);
    }
    if excess(FARTHEST_LOG_RATIO) <= 0.0 {
        return Some(f64::INFINITY);
    }
    root(
        excess,
        -FARTHEST_LOG_RATIO,
        FARTHEST_LOG_RATIO,
        LOG_RATIO_ACCURACY,
    )
    .map(f64::exp)
}

/// An interval for the home ratio; an end that is `None` is open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CorrectedInterval {
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

/// A ratio corrected for exchange.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Corrected {
    /// The home ratio, above 0; `None` if it is zero, without limit or undefined.
    pub home_ratio: Option<f64>,
    /// Interval from the error of the ratio and the Monte Carlo error of the exchange.
    pub interval: Option<CorrectedInterval>,
    /// The same over plausible parameter sets.
    pub over_sets: Option<CorrectedInterval>,
    /// Share of the parameter sets in which so many larvae change sides that nothing can be corrected.
    pub sets_without_answer: f64,
}

/// Corrects what an estimator found for a simulated exchange.
///
/// The observed log ratio is drawn from two half normal distributions that join at the estimate and end at the
/// estimator's interval, the exchange from its resamples or from the parameter sets; the interval holds the
/// middle of the home ratios, at the estimator's own confidence.
#[must_use]
pub fn corrected(
    exchange: &Exchange,
    sites: &[PairedSite],
    result: &PairedResult,
    seed: u64,
) -> Corrected {
    let usable = |transfer: &Transfer| transfer.from_treated + transfer.from_other < 1.0;
    let without = exchange.sets.iter().filter(|set| !usable(set)).count();
    let interval = |transfers: &[Transfer]| combined(transfers, sites, result, seed);
    Corrected {
        home_ratio: result
            .estimate
            .ratio()
            .and_then(|ratio| home_ratio(sites, ratio, exchange.central))
            .filter(|home| *home > 0.0 && home.is_finite()),
        interval: interval(&exchange.resamples),
        over_sets: (!exchange.sets.is_empty())
            .then(|| interval(&exchange.sets))
            .flatten(),
        sets_without_answer: without as f64 / exchange.sets.len().max(1) as f64,
    }
}

/// Where the observed log ratio of a draw lies, given its normal score.
fn observed_log(result: &PairedResult, score: f64, reach: f64) -> Option<f64> {
    let end = |bound: Option<f64>, open: f64| bound.map_or(open, f64::ln);
    let (low, high) = (
        end(result.interval.lower, f64::NEG_INFINITY),
        end(result.interval.upper, f64::INFINITY),
    );
    match result.estimate {
        RatioEstimate::Undefined => None,
        RatioEstimate::UnboundedAbove => Some(if score < 0.0 { low } else { f64::INFINITY }),
        RatioEstimate::UnboundedBelow => Some(if score > 0.0 { high } else { f64::NEG_INFINITY }),
        RatioEstimate::Finite { ratio } => {
            let centre = ratio.ln();
            let far = if score < 0.0 { low } else { high };
            // A score of exactly 0 does not occur: the draws lie on both sides of the middle.
            Some(centre + (far - centre) * score.abs() / reach)
        }
    }
}

fn combined(
    transfers: &[Transfer],
    sites: &[PairedSite],
    result: &PairedResult,
    seed: u64,
) -> Option<CorrectedInterval> {
    let normal = Normal::standard();
    let tail = 0.5 * (1.0 - result.interval.confidence);
    let reach = normal.inverse_cdf(1.0 - tail);
    let key = Key::master(seed ^ APART, 0);
    let mut homes: Vec<f64> = (0..DRAWS)
        .filter_map(|draw| {
            let pick = key.with(draw as u64).unit() * transfers.len() as f64;
            let transfer = transfers.get(pick as usize)?;
            let score = normal.inverse_cdf((draw as f64 + 0.5) / DRAWS as f64);
            let observed = observed_log(result, score, reach)?.exp();
            home_ratio(sites, observed, *transfer)
        })
        .collect();
    if homes.is_empty() {
        return None;
    }
    homes.sort_by(f64::total_cmp);
    let (low, high) = (
        sorted_quantile(&homes, tail),
        sorted_quantile(&homes, 1.0 - tail),
    );
    Some(CorrectedInterval {
        low: (low > 0.0).then_some(low),
        high: high.is_finite().then_some(high),
    })
}
