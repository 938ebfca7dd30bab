//! What is kept of a season: a row of counts from which every measure is pooled.

use crate::plan::Plan;
use crate::season::{Fate, Season};
use crate::survey::Volunteer;
use crate::world::HalfId;

/// Columns of a row, for a site with a number of halves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Columns {
    halves: usize,
    late_from: usize,
}

/// Number of the form of a row: raised when what its columns hold is changed.
pub const FORM: u32 = 1;

const FATES: usize = Fate::ALL.len();

impl Columns {
    /// The columns of a plan.
    #[must_use]
    pub fn of(plan: &Plan) -> Self {
        Self {
            halves: plan.layout.halves(),
            late_from: plan.scenario.late_from,
        }
    }

    /// Number of columns.
    #[must_use]
    pub fn count(self) -> usize {
        self.halves * (self.halves + FATES + 1) + 3
    }

    /// Late-stage larvae standing in one half and laid in another, summed over surveys.
    #[must_use]
    pub fn late(self, stands: HalfId, natal: HalfId) -> usize {
        stands.index() * self.halves + natal.index()
    }

    /// Eggs laid in a half that ended in a fate.
    #[must_use]
    pub fn fate(self, fate: Fate, natal: HalfId) -> usize {
        let index = Fate::ALL
            .iter()
            .position(|other| *other == fate)
            .unwrap_or(0);
        self.halves * self.halves + index * self.halves + natal.index()
    }

    /// Late-stage larvae counted by the volunteer in a half, over the surveys that were held.
    #[must_use]
    pub fn counted(self, stands: HalfId) -> usize {
        self.halves * (self.halves + FATES) + stands.index()
    }

    /// Strides walked.
    #[must_use]
    pub fn strides(self) -> usize {
        self.count() - 3
    }

    /// Stems that survivors have stood on.
    #[must_use]
    pub fn stems_used(self) -> usize {
        self.count() - 2
    }

    /// Larvae that entered the last instar.
    #[must_use]
    pub fn last_instars(self) -> usize {
        self.count() - 1
    }

    /// All halves.
    pub fn halves(self) -> impl Iterator<Item = HalfId> + Clone {
        (0..self.halves as u16).map(HalfId)
    }

    /// The row of a season.
    #[must_use]
    pub fn row(self, season: &Season<'_>) -> Vec<f64> {
        let mut row = vec![0.0; self.count()];
        let volunteer = Volunteer::of(season.plan, season.key());
        for sighting in &season.sightings {
            if usize::from(sighting.stage) >= self.late_from {
                row[self.late(sighting.stands, sighting.natal)] += 1.0;
            }
            let counts = sighting
                .read
                .is_some_and(|stage| usize::from(stage) >= self.late_from);
            if counts && volunteer.held[usize::from(sighting.survey)] {
                row[self.counted(sighting.stands)] += 1.0;
            }
        }
        for larva in &season.larvae {
            let Some(fate) = larva.fate() else { continue };
            row[self.fate(fate, season.stems[larva.natal].half)] += 1.0;
            if fate == Fate::Pupated {
                row[self.stems_used()] += f64::from(larva.stems_used);
            }
            if larva.stage() == crate::scenario::STAGES - 1 {
                row[self.last_instars()] += 1.0;
            }
        }
        row[self.strides()] = season.strides as f64;
        row
    }
}
