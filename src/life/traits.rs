//! What the larvae of a scenario are like: numbers of the scenario, brought into the units of the season.

use crate::maths::{exp, ln};
use crate::scenario::{PerStage, STAGES, Scenario, Stage};
use crate::world::Condition;
use crate::world::stems::Regrowth;

/// Phase of a larva: its stage, or the time after it has left its stem to pupate.
pub const PUPATING: usize = STAGES;
/// Number of phases.
pub const PHASES: usize = STAGES + 1;

/// Hazards by condition of the stem: on mature and on fresh stems.
pub const GROWN: usize = 0;
/// Index of fresh stems in tables by condition.
pub const FRESH: usize = 1;

/// Index of a condition in tables by condition; larvae on stubble or on an eaten-out stem fare as on a mature one.
#[inline]
#[must_use]
pub fn by_condition(condition: Condition) -> usize {
    if condition == Condition::Fresh {
        FRESH
    } else {
        GROWN
    }
}

/// Hazard of death per own degree-day, by condition and phase.
pub type Hazards = [[f64; PHASES]; 2];

/// Stage of a phase.
#[inline]
#[must_use]
pub fn stage_of(phase: usize) -> Stage {
    phase.min(STAGES - 1)
}

/// Traits of the species in a scenario.
#[derive(Debug, Clone)]
pub struct Traits {
    /// Own degree-days of each phase; the last stage is split where the larva leaves to pupate.
    pub need_dd: [f64; PHASES],
    /// Survival of each stage on mature stems.
    pub survival: PerStage,
    /// Hazard on fresh stems relative to mature stems.
    pub fresh_hazard: PerStage,
    /// Hazard of leaving by choice, per active hour, by condition (eggs do not leave).
    pub leave_per_h: [PerStage; 2],
    /// Hazard of falling, per active hour, by stage (eggs do not fall).
    pub fall_per_h: PerStage,
    /// Stem eaten per own degree-day, cm.
    pub intake_cm_per_dd: PerStage,
    /// Strides per active hour on short grass at the reference temperature.
    pub strides_per_h: PerStage,
    /// Share of met stems that are climbed, by condition.
    pub acceptance: [PerStage; 2],
    /// Hazard of dying off a stem, per active hour, on short grass.
    pub ground_hazard_per_h: f64,
    /// SD of the logarithm of the individual development rate.
    pub rate_log_sd: f64,
    /// SD of the site effect on survival, logit.
    pub site_logit_sd: f64,
    /// Regrowth of leaves.
    pub regrowth: Regrowth,
    /// Leaves at which a stem counts as eaten out, cm.
    pub eaten_out_cm: f64,
}

impl Traits {
    /// The traits of a scenario.
    #[must_use]
    pub fn of(scenario: &Scenario) -> Self {
        let numbers = &scenario.numbers;
        let (leaving, walking) = (&numbers.leaving, &numbers.walking);
        let root = walking.mature_preference.sqrt();
        let shift =
            |stage: Stage, towards_fresh: bool| match (scenario.is_late(stage), towards_fresh) {
                (false, _) => 1.0,
                (true, false) => root,
                (true, true) => 1.0 / root,
            };
        let per_stage = |f: &dyn Fn(Stage) -> f64| -> PerStage { std::array::from_fn(f) };
        let leave = |fresh: bool| {
            per_stage(&|stage| {
                if stage == 0 {
                    0.0
                } else {
                    leaving.per_day[stage] / leaving.active_hours_per_day / shift(stage, fresh)
                }
            })
        };
        let accept =
            |fresh: bool| per_stage(&|stage| shifted(walking.acceptance, shift(stage, fresh)));
        let dd = numbers.development.degree_days;
        let departure = numbers.survival.pupation_departure;
        let mut need_dd = [0.0; PHASES];
        need_dd[..STAGES].copy_from_slice(&dd);
        need_dd[STAGES - 1] = dd[STAGES - 1] * departure;
        need_dd[PUPATING] = dd[STAGES - 1] * (1.0 - departure);
        Self {
            need_dd,
            survival: numbers.survival.mature,
            fresh_hazard: numbers.survival.fresh_hazard,
            leave_per_h: [leave(false), leave(true)],
            fall_per_h: per_stage(&|stage| {
                if stage == 0 {
                    0.0
                } else {
                    leaving.falls_per_day / leaving.active_hours_per_day
                }
            }),
            intake_cm_per_dd: per_stage(&|stage| {
                numbers.feeding.intake_share[stage] * numbers.feeding.lifetime_intake_cm
                    / need_dd[stage]
            }),
            strides_per_h: per_stage(&|stage| {
                const CM_PER_S_IN_M_PER_H: f64 = 36.0;
                walking.speed_cm_per_s[stage] * CM_PER_S_IN_M_PER_H * walking.walking_share
                    / walking.stride_m
            }),
            acceptance: [accept(false), accept(true)],
            ground_hazard_per_h: walking.death_per_active_hour,
            rate_log_sd: numbers.development.rate_log_sd,
            site_logit_sd: numbers.survival.site_logit_sd,
            regrowth: Regrowth {
                full_cm: numbers.plant.mature_stem_cm,
                first_share: numbers.cutting.first_leaf_share,
                rate_per_tick: numbers.cutting.regrowth_rate_per_week * numbers.dates.tick_h
                    / (7.0 * 24.0),
            },
            eaten_out_cm: numbers.plant.eaten_out_share * numbers.plant.mature_stem_cm,
        }
    }

    /// Hazard of death per own degree-day by condition and phase, at a site whose effect on the logit of
    /// stage survival is given. Over a whole stage on mature stems exactly the survival remains.
    #[must_use]
    pub fn hazards(&self, site_logit: f64) -> Hazards {
        let mature: [f64; PHASES] = std::array::from_fn(|phase| {
            let stage = stage_of(phase);
            let survival = shifted(self.survival[stage], exp(site_logit));
            let stage_dd = if stage == STAGES - 1 {
                self.need_dd[STAGES - 1] + self.need_dd[PUPATING]
            } else {
                self.need_dd[stage]
            };
            // Written so that certain survival is a hazard of +0.
            ln(survival.recip()) / stage_dd
        });
        let fresh = std::array::from_fn(|phase| mature[phase] * self.fresh_hazard[stage_of(phase)]);
        [mature, fresh]
    }
}

/// Cutting height at which the lag of regrowth is stated: the middle of two to four inches.
const REFERENCE_HEIGHT_CM: f64 = 7.5;

/// Mean time from cutting to fresh growth at the scenario's cutting height, weeks.
#[must_use]
pub fn regrowth_lag_weeks(scenario: &Scenario) -> f64 {
    let cutting = &scenario.numbers.cutting;
    cutting.regrowth_lag_weeks
        + cutting.lag_weeks_per_cm * (cutting.height_cm - REFERENCE_HEIGHT_CM)
}

/// A probability whose odds are multiplied by a factor; 0 and 1 stay.
fn shifted(probability: f64, odds_factor: f64) -> f64 {
    if probability >= 1.0 {
        return 1.0;
    }
    let odds = probability / (1.0 - probability) * odds_factor;
    odds / (1.0 + odds)
}
