//! Process 7: a larva leaves its stem, by choice, by a fall, or because nothing is left to eat.

use super::Season;
use super::larva::{Event, State};
use super::sitting::{Risk, SpentBy};
use crate::ids::{BoutSlot, LarvaId};
use crate::life::Moment;
use crate::life::traits::by_condition;
use crate::random::Purpose;
use crate::walk::{Bout, Trail};

/// Leaving by choice or by a fall, by active hours.
pub(super) const LEAVES: Risk = Risk {
    event: Event::Leaves,
    spent_by: SpentBy::ActiveHours,
    rate: |sitting| {
        let traits = sitting.traits;
        traits.leave_per_h[sitting.condition][sitting.stage] + traits.fall_per_h[sitting.stage]
    },
};

impl Season<'_> {
    /// The budget of leaving is spent: the larva goes, or falls, in proportion to the two hazards.
    pub(super) fn leaving<T: Trail>(&mut self, id: LarvaId, now: Moment, trail: &mut T) {
        self.depart(id, now, true, trail);
    }

    /// Nothing is left to eat: the larva goes for certain.
    pub(super) fn driven_off<T: Trail>(&mut self, id: LarvaId, now: Moment, trail: &mut T) {
        self.depart(id, now, false, trail);
    }

    /// A larva that leaves by choice ignores its stem for the bout; one that fell may climb it again.
    fn depart<T: Trail>(&mut self, id: LarvaId, now: Moment, may_have_fallen: bool, trail: &mut T) {
        self.end_sitting(id, now);
        self.take_off_stem(id);
        let traits = &self.plan.traits;
        let larva = &mut self.larvae[id];
        let stage = larva.stage();
        let stem = &self.stems[larva.stem];
        let key = larva.key.to(Purpose::Bout).with(u64::from(larva.bouts));
        let (leaves, falls) = (
            traits.leave_per_h[by_condition(stem.condition)][stage],
            traits.fall_per_h[stage],
        );
        let fell = may_have_fallen && key.to(Purpose::Fall).unit() * (leaves + falls) < falls;
        larva.bouts = larva.bouts.saturating_add(1);
        larva.state = State::Walking;
        let slot = self.idle_bouts.pop().unwrap_or_else(|| {
            self.bouts.push(Bout::idle());
            BoutSlot::new(self.bouts.len() - 1)
        });
        let left = (!fell).then_some(larva.stem);
        let bout = &mut self.bouts[slot];
        bout.begin(
            id,
            key,
            (stem.x_m, stem.y_m),
            now.time,
            left,
            self.plan.movement.stride_m,
        );
        trail.begin(id, stage, now.time, stem.x_m, stem.y_m);
        self.walkers.push(slot);
    }
}
