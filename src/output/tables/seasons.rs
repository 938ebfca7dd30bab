//! Tables of seasons: surveys, fates, walks.

use super::Sheet;
use super::described::{FATES, SURVEYS, WALKS};
use crate::ids::LarvaId;
use crate::plan::Plan;
use crate::scenario::STAGE_NAMES;
use crate::season::record::Recorder;
use crate::season::{Fate, Season};
use crate::survey::Volunteer;
use crate::trouble::Outcome;
use crate::walk::End;
use crate::world::HalfId;
use crate::world::stems::{CONDITION_NAMES, CONDITIONS};
use std::collections::BTreeMap;

/// The surveys of seasons, tidy: one row a survey, half, condition and stage.
pub struct SurveyTable(Sheet);

#[derive(Default, Clone, Copy)]
struct Counts {
    counted: u32,
    present: u32,
    laid_here: u32,
    laid_other_half: u32,
    laid_elsewhere: u32,
}

impl SurveyTable {
    /// An empty table.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn new() -> Outcome<Self> {
        SURVEYS.sheet().map(Self)
    }

    /// Adds a season. `counted` is empty for surveys that the volunteer missed.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn add(&mut self, season: &Season<'_>, replicate: u64) -> Outcome<()> {
        let plan = season.plan;
        let volunteer = Volunteer::of(plan, season.key());
        let counts = count(season);
        for (survey, time) in plan.clock.surveys.iter().enumerate() {
            for half in (0..plan.layout.halves() as u16).map(HalfId) {
                if plan.layout.stems_in(half) == 0 {
                    continue;
                }
                for condition in 0..CONDITIONS {
                    for stage in 0..STAGE_NAMES.len() {
                        let key = (survey, half.index(), condition, stage);
                        let possible = condition != 1 && (half.is_cut() || condition != 2);
                        match counts.get(&key) {
                            None if !possible => {}
                            found => {
                                let counts = found.copied().unwrap_or_default();
                                self.0.row(&row(
                                    plan,
                                    &volunteer,
                                    replicate,
                                    (survey, *time),
                                    half,
                                    condition,
                                    stage,
                                    counts,
                                ))?;
                            }
                        }
                    }
                }
            }
        }
        Ok(())
    }

    /// What was added since the last time.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn taken(&mut self) -> Outcome<Vec<u8>> {
        self.0.taken()
    }
}

fn count(season: &Season<'_>) -> BTreeMap<(usize, usize, usize, usize), Counts> {
    let mut all: BTreeMap<_, Counts> = BTreeMap::new();
    for sighting in &season.sightings {
        let place = (
            usize::from(sighting.survey),
            sighting.stands.index(),
            sighting.condition as usize,
        );
        let present = all
            .entry((place.0, place.1, place.2, usize::from(sighting.stage)))
            .or_default();
        present.present += 1;
        if sighting.natal == sighting.stands {
            present.laid_here += 1;
        } else if sighting.natal.patch() == sighting.stands.patch() {
            present.laid_other_half += 1;
        } else {
            present.laid_elsewhere += 1;
        }
        if let Some(read) = sighting.read {
            all.entry((place.0, place.1, place.2, usize::from(read)))
                .or_default()
                .counted += 1;
        }
    }
    all
}

#[allow(clippy::too_many_arguments)]
fn row(
    plan: &Plan,
    volunteer: &Volunteer,
    replicate: u64,
    (survey, time): (usize, f64),
    half: HalfId,
    condition: usize,
    stage: usize,
    counts: Counts,
) -> [String; 15] {
    let stems = plan.layout.stems_in(half);
    let stems_counted = (stems as f64 * volunteer.stem_count_factor[half.index()]).round();
    let counted = if volunteer.held[survey] {
        counts.counted.to_string()
    } else {
        String::new()
    };
    [
        plan.scenario.name.clone(),
        replicate.to_string(),
        (survey + 1).to_string(),
        plan.clock.date(time).to_string(),
        plan.layout.patches[half.patch()].settings.name.clone(),
        plan.layout.half_name(half).to_owned(),
        CONDITION_NAMES[condition].to_owned(),
        STAGE_NAMES[stage].to_owned(),
        stems.to_string(),
        stems_counted.to_string(),
        counted,
        counts.present.to_string(),
        counts.laid_here.to_string(),
        counts.laid_other_half.to_string(),
        counts.laid_elsewhere.to_string(),
    ]
}

/// The fates of seasons: one row a natal half, fate and stage.
pub struct FateTable(Sheet);

impl FateTable {
    /// An empty table.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn new() -> Outcome<Self> {
        FATES.sheet().map(Self)
    }

    /// Adds a season. The counts of a season sum to the eggs laid.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn add(&mut self, season: &Season<'_>, replicate: u64) -> Outcome<()> {
        let layout = &season.plan.layout;
        let mut counts: BTreeMap<(usize, Fate, usize), u64> = BTreeMap::new();
        for larva in &season.larvae {
            if let Some(fate) = larva.fate() {
                let half = season.stems[larva.natal].half;
                *counts
                    .entry((half.index(), fate, larva.stage()))
                    .or_default() += 1;
            }
        }
        for ((half, fate, stage), count) in counts {
            let half = HalfId(half as u16);
            self.0.row(&[
                season.plan.scenario.name.clone(),
                replicate.to_string(),
                layout.patches[half.patch()].settings.name.clone(),
                layout.half_name(half).to_owned(),
                fate.word().to_owned(),
                STAGE_NAMES[stage].to_owned(),
                count.to_string(),
            ])?;
        }
        Ok(())
    }

    /// What was added since the last time.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn taken(&mut self) -> Outcome<Vec<u8>> {
        self.0.taken()
    }
}

/// Every walk of seasons: one row a stride.
pub struct WalkTable(Sheet);

impl WalkTable {
    /// An empty table.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn new() -> Outcome<Self> {
        WALKS.sheet().map(Self)
    }

    /// Adds a season.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn add(&mut self, season: &Season<'_>, recorder: &Recorder, replicate: u64) -> Outcome<()> {
        let plan = season.plan;
        let mut bouts: BTreeMap<LarvaId, u32> = BTreeMap::new();
        for walk in &recorder.walks {
            let bout = bouts.entry(walk.larva).or_default();
            *bout += 1;
            let half = season.stems[season.larvae[walk.larva].natal].half;
            let ended_as = match walk.end {
                End::Walking => "pupated_or_season_over",
                End::Settled(_) => "settled",
                End::Died => "died",
                End::Lost => "lost",
            };
            for (stride, point) in walk.points_m.iter().enumerate() {
                self.0.row(&[
                    plan.scenario.name.clone(),
                    replicate.to_string(),
                    walk.larva.to_string(),
                    bout.to_string(),
                    STAGE_NAMES[walk.stage].to_owned(),
                    plan.layout.patches[half.patch()].settings.name.clone(),
                    plan.layout.half_name(half).to_owned(),
                    plan.clock.date(walk.began).to_string(),
                    ended_as.to_owned(),
                    stride.to_string(),
                    format!("{:.3}", point.0 - plan.layout.shift_m.0),
                    format!("{:.3}", point.1 - plan.layout.shift_m.1),
                ])?;
            }
        }
        Ok(())
    }

    /// What was added since the last time.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn taken(&mut self) -> Outcome<Vec<u8>> {
        self.0.taken()
    }
}
