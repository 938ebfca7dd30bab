//! How many larvae change sides, simulated.

use super::prepare::Question;
use super::words::Comparison;
use crate::plan::Plan;
use crate::runner::{Runner, Taken};
use crate::scenario::{Layered, LayoutKind, Scenario, Treatment};
use crate::season::Season;
use crate::stats::{Resamples, Table};
use crate::study::measures::{Measured, measured};
use crate::study::{Effort, StudyError, pooled, resampled, uncertain};
use crate::trouble::{Outcome, Trouble};
use crate::world::HalfId;
use serde::Serialize;

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

/// Simulates the exchange of a scenario between the sides that a question compares; `None` where no larva of the stage
/// was laid on one of them, so that nothing is known of how they mix.
///
/// # Errors
/// When the scenario does not have the sides, or the run is stopped.
pub fn exchange(
    layered: &Layered,
    question: &Question,
    effort: ExchangeEffort,
    runner: &Runner<'_>,
) -> Result<Option<Exchange>, StudyError> {
    let plan = Plan::of(Scenario::from_layers(layered)?)?;
    let sides = Sides::of(&plan, question)?;
    runner.watch.begin("exchange", effort.seasons);
    let table = sides.tallies(&plan, runner, 0, effort.seasons)?;
    runner.watch.end();
    let resamples = resampled(&table, runner, Effort::of(effort.seasons))?;
    let Some(central) = Transfer::of(resamples.observed()) else {
        return Ok(None);
    };
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
    Ok(Some(Exchange {
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
    }))
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

/// Number of the form of [`Sides::row`]: raised when what it holds is changed.
const FORM: u32 = 1;

/// The two sides of a scenario and the stages that are counted.
#[derive(Debug)]
struct Sides {
    /// Side of each half of the site: 0 treated, 1 the other.
    of_half: Vec<usize>,
    stages: std::ops::RangeInclusive<usize>,
}

impl Sides {
    fn of(plan: &Plan, question: &Question) -> Outcome<Self> {
        let scenario = &plan.scenario;
        check_sides(scenario, question.comparison)?;
        let side = |half: HalfId| match (question.comparison, scenario.layout) {
            (Comparison::Halves, _) => usize::from(!half.is_cut()),
            (Comparison::Patches, LayoutKind::ByCoordinates) => {
                let treatment = scenario.patches[half.patch()].treatment;
                usize::from(treatment == Treatment::Untouched)
            }
            (Comparison::Patches, _) => half.patch(),
        };
        let halves = (0..plan.layout.halves() as u16).map(HalfId);
        Ok(Self {
            of_half: halves.map(side).collect(),
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
        let taken = Taken::new("exchange between sides", FORM).with(self);
        let effort = Effort::of(seasons);
        pooled(plan, runner, &taken, parameter_set, effort, 4, |season| {
            self.row(season)
        })
    }

    /// Counts of a season by side, in the order that [`Transfer::of`] takes.
    fn row(&self, season: &Season<'_>) -> Vec<f64> {
        let mut row = vec![0.0; 4];
        for sighting in &season.sightings {
            if !self.stages.contains(&usize::from(sighting.stage)) {
                continue;
            }
            let side = |half: HalfId| self.of_half.get(half.index()).copied();
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

/// Checks that a scenario has the two sides that are compared, and no third that larvae could come from.
///
/// # Errors
/// When it has not.
pub fn check_sides(scenario: &Scenario, comparison: Comparison) -> Outcome<()> {
    let fits = match (comparison, scenario.layout) {
        (Comparison::Halves, layout) => layout == LayoutKind::OnePatchHalves,
        (Comparison::Patches, LayoutKind::PairHalfCut | LayoutKind::PairWholeCut) => true,
        (Comparison::Patches, LayoutKind::ByCoordinates) => is_pair(scenario),
        (Comparison::Patches, LayoutKind::OnePatchHalves) => false,
    };
    if fits {
        return Ok(());
    }
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
    Err(Trouble::new(format!(
        "the scenario does not have the {} that are compared",
        comparison.name()
    ))
    .at(format!("the scenario {}", scenario.name))
    .expected(expected)
    .remedy(remedy))
}
