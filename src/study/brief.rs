//! The brief: all answers about one scenario.

use super::gap::{self, GapAnswer, GapQuestion};
use super::measures::{Contrast, Measured, all_measured};
use super::refuge::{self, RefugePoint, RefugeQuestion};
use super::uncertain::{self, Band, Driver, GapBand};
use super::yields::{self, YieldAnswer, YieldBand};
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
    /// Seasons at each gap, and of the scenario itself, for each set.
    pub per_set: u64,
    /// Seasons at each attraction for each set: fewer, as the attractions make up for each other in the break-even.
    pub per_set_beside: u64,
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
            sets: (uncertain::BAND_SETS as f64 * scale).clamp(8.0, 400.0) as u64,
            per_set: of(uncertain::GAP_SEASONS_PER_SET as f64),
            per_set_beside: of(40.0),
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
    /// What drives the clear gap over those sets, if anything varies.
    pub driver: Option<Driver>,
    /// The measures of the scenario over those sets, in the order of [`super::measures::MEASURES`].
    pub own_bands: Option<Vec<Band>>,
    /// The refuge measures over those sets, as [`refuge::bands`] gives them, at the refuge share nearest to the
    /// scenario's; elsewhere empty bands.
    pub refuge_bands: Option<Vec<Vec<Band>>>,
    /// Net yield and break-even over those sets.
    pub yield_band: Option<YieldBand>,
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
        let mut whole = true;
        self.own = noted(own(layered, effort, runner), &mut whole)?;
        let is_pair = matches!(
            scenario.layout,
            LayoutKind::PairHalfCut | LayoutKind::PairWholeCut
        );
        let has_halves = matches!(
            scenario.layout,
            LayoutKind::PairHalfCut | LayoutKind::OnePatchHalves
        );
        if is_pair {
            self.ask_gap(layered, tolerance, effort, runner, &mut whole)?;
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
            let refuge = refuge::answer(layered, &question, runner);
            self.refuge = noted(refuge, &mut whole)?;
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
            let yields = yields::answer(
                layered,
                &yields::ATTRACTIONS,
                Effort::of(effort.yields),
                runner,
                0,
            );
            self.yields = noted(yields, &mut whole)?;
            runner.watch.end();
        }
        let asked = (has_halves, cuts);
        self.ask_bands(layered, asked, effort, runner, &mut whole)?;
        if whole {
            Ok(())
        } else {
            Err(StudyError::Elsewhere)
        }
    }

    /// What the guesses are worth, for every answer that is asked for: by refuge share, by attraction.
    fn ask_bands(
        &mut self,
        layered: &Layered,
        (by_share, by_attraction): (bool, bool),
        effort: &BriefEffort,
        runner: &Runner<'_>,
        whole: &mut bool,
    ) -> Result<(), StudyError> {
        if effort.sets == 0 {
            return Ok(());
        }
        let of_sets = (effort.sets, effort.per_set);
        let attractions = yields::ATTRACTIONS;
        let a_set = effort.per_set * (1 + u64::from(by_share))
            + effort.per_set_beside * attractions.len() as u64 * u64::from(by_attraction);
        runner
            .watch
            .begin("the rest over parameter sets", effort.sets * a_set);
        let own = uncertain::measure_bands(layered, &[], of_sets, runner);
        self.own_bands = noted(own, whole)?;
        if by_share {
            self.refuge_bands = noted(refuge_bands(layered, of_sets, runner), whole)?;
        }
        if by_attraction {
            let of_sets = (effort.sets, effort.per_set_beside);
            let band = yields::band(layered, &attractions, of_sets, runner);
            self.yield_band = noted(band, whole)?;
        }
        runner.watch.end();
        Ok(())
    }

    fn ask_gap(
        &mut self,
        layered: &Layered,
        tolerance: f64,
        effort: &BriefEffort,
        runner: &Runner<'_>,
        whole: &mut bool,
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
        self.gap = noted(gap::answer(layered, &question, runner, 0), whole)?;
        runner.watch.end();
        if effort.sets == 0 {
            return Ok(());
        }
        runner.watch.begin(
            "plausible parameter sets",
            effort.sets * effort.per_set * uncertain::BAND_GRID_M.len() as u64,
        );
        let band = uncertain::gap_band(layered, tolerance, effort.sets, effort.per_set, runner);
        self.band = noted(band, whole)?;
        if let Some(band) = &self.band {
            self.driver = uncertain::driver(layered, &band.by_set, runner.seed)?;
        }
        runner.watch.end();
        Ok(())
    }
}

/// What is known of a result; a shard notes when it is not whole, and goes on with the rest.
fn noted<T>(result: Result<T, StudyError>, whole: &mut bool) -> Result<Option<T>, StudyError> {
    let value = known(result)?;
    *whole &= value.is_some();
    Ok(value)
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

/// Bands at the refuge share nearest to the scenario's own; empty ones at the others.
fn refuge_bands(
    layered: &Layered,
    of_sets: (u64, u64),
    runner: &Runner<'_>,
) -> Result<Vec<Vec<Band>>, StudyError> {
    let own = Scenario::from_layers(layered)?.numbers.site.refuge_share;
    let share = refuge::nearest_share(own);
    let empty = vec![Band::of(&[]); refuge::REFUGE_MEASURES.len()];
    let mut bands = vec![empty; refuge::SHARES.len()];
    let found = refuge::bands(layered, &[refuge::SHARES[share]], of_sets, runner)?;
    if let Some(found) = found.into_iter().next() {
        bands[share] = found;
    }
    Ok(bands)
}
