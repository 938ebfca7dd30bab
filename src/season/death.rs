//! Process 5: death on a stem. On the ground larvae die of another hazard, as they walk.

use super::Season;
use super::larva::{Event, Fate};
use super::sitting::{Risk, SpentBy};
use crate::ids::LarvaId;
use crate::life::Moment;

/// Death by a hazard on own degree-days, so that stage survival is what the scenario says whatever the weather.
pub(super) const DIES: Risk = Risk {
    event: Event::Dies,
    spent_by: SpentBy::OwnDegreeDays,
    rate: |sitting| sitting.hazards[sitting.condition][sitting.phase],
};

impl Season<'_> {
    /// A larva or egg dies where it stands. The dead keep no account but for what they ate.
    pub(super) fn death(&mut self, id: LarvaId, now: Moment) {
        self.cease_eating(id, now);
        self.take_off_stem(id);
        self.finish(id, Fate::DiedOnStem, now.time);
    }
}
