//! Process 9: near the end of its last stage a larva leaves for good, to pupate.

use super::Season;
use super::larva::Fate;
use super::sitting::DIES;
use crate::ids::LarvaId;
use crate::life::Moment;
use crate::life::traits::{GROWN, PUPATING};

impl Season<'_> {
    /// The larva, on no stem any more, goes for good. What is left of its last stage decides whether it gets as far as
    /// pupation.
    pub(super) fn leaving_to_pupate(&mut self, id: LarvaId, now: Moment) {
        let clock = &self.plan.clock;
        let need = self.plan.traits.need_dd[PUPATING];
        let larva = &self.larvae[id];
        let until_death = larva.left[DIES] / self.hazards[GROWN][PUPATING];
        let (own_dd, fate) = if until_death < need {
            (until_death, Fate::DiedOffPlant)
        } else {
            (need, Fate::Pupated)
        };
        let end = clock.degree_days.when(now.dd + own_dd / larva.rate);
        if end.is_finite() {
            self.finish(id, fate, end);
        } else {
            self.finish(id, Fate::Alive, clock.ticks as f64);
        }
    }
}
