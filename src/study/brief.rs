//! The brief: all answers about one scenario.

use super::gap::{self, GapAnswer, GapQuestion};
use super::measures::{Contrast, Measured, all_measured};
use super::refuge::{self, RefugePoint, RefugeQuestion};
use super::uncertain::{self, GapBand};
use super::yields::{self, YieldAnswer};
use super::{Effort, StudyError, known, plan_with, resampled, tallies};
use crate::runner::Runner;
use crate::scenario::{Layered, LayoutKind, Scenario, Treatment};

/// How much work a brief is.
#[derive(Debug, Clone, PartialEq)]
pub struct BriefEffort {
    /// Seasons of the scenario itself.
    pub scenario: u64,
    /// Seasons at each gap.
    pub gap: u64,
    /// Seasons at each refuge share.
    pub refuge: u64,
    /// Seasons at each attraction ratio.
    pub yields: u64,
    /// Parameter sets drawn.
    pub sets: u64,
    /// Seasons at each gap for each set.
    pub per_set: u64,
}

impl BriefEffort {
    /// Share of full effort.
    #[must_use]
    pub fn scaled(scale: f64) -> Self {
        let of = |seasons: f64| (seasons * scale).round().max(20.0) as u64;
        Self {
            scenario: of(8000.0),
            gap: of(4000.0),
            refuge: of(1200.0),
            yields: of(1000.0),
            sets: (40.0 * scale).clamp(8.0, 400.0) as u64,
            per_set: of(60.0),
        }
    }
}

/// All answers; those that are not there yet, or do not apply, are `None`.
#[derive(Default)]
pub struct Brief {
    /// The scenario as it is.
    pub own: Option<OwnAnswer>,
    /// Gap answer, for a pair.
    pub gap: Option<GapAnswer>,
    /// Clear gap over plausible parameter sets, for a pair.
    pub band: Option<GapBand>,
    /// Refuge answer, where there is a refuge half.
    pub refuge: Option<Vec<RefugePoint>>,
    /// Net yield, where something is compared.
    pub yields: Option<YieldAnswer>,
}

/// The measures of the scenario as it is.
pub struct OwnAnswer {
    /// The measures, in the order of [`super::measures::MEASURES`].
    pub measures: Vec<Measured>,
    /// Late-stage larvae per season and survey on each patch: name and mean.
    pub late_per_survey: Vec<(String, f64)>,
    /// Seasons behind them.
    pub seasons: u64,
}

impl Brief {
    /// Answers everything that can be asked of a scenario. When the run is stopped, the answers that are
    /// complete stay.
    ///
    /// # Errors
    /// When the scenario makes no sense or the run is stopped.
    pub fn answer(
        &mut self,
        layered: &Layered,
        scenario: &Scenario,
        tolerance: f64,
        effort: &BriefEffort,
        runner: &Runner<'_>,
    ) -> Result<(), StudyError> {
        self.own = known(own(layered, effort, runner))?;
        let is_pair = matches!(
            scenario.layout,
            LayoutKind::PairHalfCut | LayoutKind::PairWholeCut
        );
        let has_halves = matches!(
            scenario.layout,
            LayoutKind::PairHalfCut | LayoutKind::OnePatchHalves
        );
        if is_pair {
            self.ask_gap(layered, tolerance, effort, runner)?;
        }
        if has_halves {
            let question = RefugeQuestion {
                shares: refuge::SHARES.to_vec(),
                effort: Effort::of(effort.refuge),
                precision: None,
            };
            runner
                .watch
                .begin("refuge shares", effort.refuge * refuge::SHARES.len() as u64);
            self.refuge = known(refuge::answer(layered, &question, runner))?;
            runner.watch.end();
        }
        let cuts = scenario
            .patches
            .iter()
            .any(|patch| patch.treatment != Treatment::Untouched);
        if cuts {
            runner.watch.begin(
                "attraction of fresh stems",
                effort.yields * yields::ATTRACTIONS.len() as u64,
            );
            self.yields = known(yields::answer(
                layered,
                &yields::ATTRACTIONS,
                Effort::of(effort.yields),
                runner,
            ))?;
            runner.watch.end();
        }
        let whole = self.own.is_some()
            && self.gap.is_some() == is_pair
            && self.band.is_some() == is_pair
            && self.refuge.is_some() == has_halves
            && self.yields.is_some() == cuts;
        if whole {
            Ok(())
        } else {
            Err(StudyError::Elsewhere)
        }
    }

    fn ask_gap(
        &mut self,
        layered: &Layered,
        tolerance: f64,
        effort: &BriefEffort,
        runner: &Runner<'_>,
    ) -> Result<(), StudyError> {
        let question = GapQuestion {
            grid_m: gap::GAP_GRID_M.to_vec(),
            tolerance,
            effort: Effort::of(effort.gap),
            precision_m: None,
        };
        runner
            .watch
            .begin("gaps", effort.gap * gap::GAP_GRID_M.len() as u64);
        self.gap = known(gap::answer(layered, &question, runner, 0))?;
        runner.watch.end();
        runner.watch.begin(
            "plausible parameter sets",
            effort.sets * effort.per_set * uncertain::BAND_GRID_M.len() as u64,
        );
        self.band = known(uncertain::gap_band(
            layered,
            tolerance,
            effort.sets,
            effort.per_set,
            runner,
        ))?;
        runner.watch.end();
        Ok(())
    }
}

fn own(
    layered: &Layered,
    effort: &BriefEffort,
    runner: &Runner<'_>,
) -> Result<OwnAnswer, StudyError> {
    let plan = plan_with(layered, &[])?;
    let contrast = Contrast::of(&plan);
    let own = Effort::of(effort.scenario);
    runner.watch.begin("this scenario", effort.scenario);
    let table = tallies(&plan, runner, 0, own)?;
    runner.watch.end();
    let totals = table.totals();
    let looks = (effort.scenario * plan.clock.surveys.len() as u64) as f64;
    Ok(OwnAnswer {
        measures: all_measured(&contrast, &resampled(&table, runner, own)?)?,
        late_per_survey: (0..contrast.patches())
            .map(|patch| {
                (
                    plan.layout.patches[patch].settings.name.clone(),
                    contrast.late_on(&totals, patch) / looks,
                )
            })
            .collect(),
        seasons: effort.scenario,
    })
}
