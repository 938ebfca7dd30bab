//! Process 4: stages end when their degree-days are done.

use super::Season;
use super::larva::Event;
use super::sitting::{PHASE_ENDS as NEED, Risk, SpentBy};
use crate::ids::LarvaId;
use crate::life::Moment;
use crate::life::traits::PUPATING;
use crate::walk::Trail;
use crate::world::Condition;

/// The end of a phase, by its own degree-days.
pub(super) const PHASE_ENDS: Risk = Risk {
    event: Event::PhaseEnds,
    spent_by: SpentBy::OwnDegreeDays,
    rate: |_| 1.0,
};

/// What the end of a phase leads to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Grown {
    /// The next stage.
    Older,
    /// The end of its life on stems.
    Up,
}

impl Season<'_> {
    /// The phase of a larva on a stem ends.
    pub(super) fn development<T: Trail>(
        &mut self,
        id: LarvaId,
        now: Moment,
        trail: &mut T,
    ) -> Grown {
        self.end_sitting(id, now);
        if self.moult(id, now, trail) == Grown::Up {
            self.take_off_stem(id);
            return Grown::Up;
        }
        let stem = self.larvae[id].stem;
        self.begin_sitting(id, now);
        if self.stems[stem].condition == Condition::EatenOut {
            self.driven_off(id, now, trail);
        }
        Grown::Older
    }

    /// A larva on the ground goes on developing; its phases end with the step in which their degree-days are done.
    pub(super) fn development_on_the_ground<T: Trail>(
        &mut self,
        id: LarvaId,
        now: Moment,
        trail: &mut T,
    ) -> Grown {
        let larva = &mut self.larvae[id];
        larva.left[NEED] -= larva.rate * (now.dd - larva.since.dd);
        larva.since = now;
        while self.larvae[id].left[NEED] <= 0.0 {
            if self.moult(id, now, trail) == Grown::Up {
                return Grown::Up;
            }
        }
        Grown::Older
    }

    /// The next phase begins.
    fn moult<T: Trail>(&mut self, id: LarvaId, now: Moment, trail: &mut T) -> Grown {
        let larva = &mut self.larvae[id];
        larva.phase += 1;
        trail.phase_begins(id, larva.phase, now.time);
        if usize::from(larva.phase) == PUPATING {
            return Grown::Up;
        }
        larva.left[NEED] += self.plan.traits.need_dd[usize::from(larva.phase)];
        Grown::Older
    }
}
