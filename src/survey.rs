//! What a volunteer sees of a season.

use crate::ids::LarvaId;
use crate::maths::exp;
use crate::plan::Plan;
use crate::random::{Key, Purpose, normal, unit};
use crate::scenario::{STAGES, Stage};
use crate::world::{Condition, HalfId};

/// A larva or egg that stands on a stem at a survey, found or not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sighting {
    /// Index of the survey.
    pub survey: u16,
    /// Index of the larva in its season.
    pub larva: LarvaId,
    /// True stage.
    pub stage: u8,
    /// Stage read by the volunteer, if found.
    pub read: Option<u8>,
    /// Half on which it stands.
    pub stands: HalfId,
    /// Half in which it was laid.
    pub natal: HalfId,
    /// Condition of the stem.
    pub condition: Condition,
}

/// The stage that a volunteer reads, or `None` when the larva is not found.
///
/// Eggs are never taken for larvae nor larvae for eggs; a first instar can only be read too high, a last
/// instar only too low.
#[must_use]
pub fn read(
    plan: &Plan,
    larva: Key,
    survey: usize,
    stage: Stage,
    condition: Condition,
) -> Option<u8> {
    let surveying = &plan.scenario.numbers.surveying;
    let key = larva.to(Purpose::Sighting).with(survey as u64);
    let found = surveying.found[stage];
    let found = if condition == Condition::Fresh && found < 1.0 {
        let odds = found / (1.0 - found) * surveying.fresh_detection;
        odds / (1.0 + odds)
    } else {
        found
    };
    if key.unit() >= found {
        return None;
    }
    let misread = match stage {
        0 => 0.0,
        1..=3 => surveying.misread_early,
        _ => surveying.misread_late,
    };
    let draw = key.with(1).unit();
    let shift = if draw < misread / 2.0 {
        -1
    } else if draw < misread {
        1
    } else {
        0
    };
    let stage = stage as i64;
    let shifted = match stage + shift {
        _ if stage == 0 => 0,
        too_low if too_low < 1 => 2,
        too_high if too_high >= STAGES as i64 => stage - 1,
        fine => fine,
    };
    Some(shifted as u8)
}

/// What the volunteer of a site does in a season.
#[derive(Debug, Clone, PartialEq)]
pub struct Volunteer {
    /// Whether the volunteer leaves before the last survey.
    pub drops_out: bool,
    /// Which surveys are held; after dropping out none is.
    pub held: Vec<bool>,
    /// Which surveys would be held if the volunteer stayed to the end.
    pub held_if_staying: Vec<bool>,
    /// Counted stems over true stems, for each half of the site, before cutting.
    pub stem_count_factor: Vec<f64>,
}

impl Volunteer {
    /// The volunteer whom a season's key owns.
    #[must_use]
    pub fn of(plan: &Plan, season: Key) -> Self {
        let surveying = &plan.scenario.numbers.surveying;
        let surveys = plan.clock.surveys.len();
        let mut stream = season.to(Purpose::Volunteer).stream();
        let drops_out = unit(&mut stream) < surveying.drop_out;
        let drop_draw = unit(&mut stream);
        let last = if drops_out {
            (drop_draw * surveys as f64) as usize
        } else {
            surveys
        };
        let held_if_staying: Vec<bool> = (0..surveys)
            .map(|_| unit(&mut stream) >= surveying.missed_share)
            .collect();
        let held = held_if_staying
            .iter()
            .enumerate()
            .map(|(survey, held)| *held && survey < last)
            .collect();
        let stem_count_factor = (0..plan.layout.halves())
            .map(|_| exp(surveying.stem_miscount_sd * normal(&mut stream)))
            .collect();
        Self {
            drops_out,
            held,
            held_if_staying,
            stem_count_factor,
        }
    }
}
