//! Process 8: larvae on the ground walk on, in every step until they settle, die, are lost or grow up.

use super::Season;
use super::development::Grown;
use super::larva::Fate;
use super::sitting::{LEAVES, PHASE_ENDS};
use crate::ids::{BoutSlot, LarvaId, StemId};
use crate::life::clock::StepWeather;
use crate::walk::{End, Trail};

impl Season<'_> {
    /// Walkers go on to the end of the step, where nobody is active by development alone; those that settle have their
    /// next event entered.
    pub(super) fn walking<T: Trail>(&mut self, weather: StepWeather, trail: &mut T) {
        let mut at = 0;
        while at < self.walkers.len() && !trail.is_called_off() {
            let slot = self.walkers[at];
            let bout = &mut self.bouts[slot];
            let larva = &self.larvae[bout.larva];
            let end = bout.advance(
                usize::from(larva.phase),
                weather,
                &self.plan.movement,
                &self.ground,
                &self.stems,
                trail,
            );
            let (id, time) = (bout.larva, bout.time);
            if end == End::Walking {
                let now = self.plan.clock.moment(weather.end);
                if self.development_on_the_ground(id, now, trail) == Grown::Older {
                    trail.tick_ends(id, now.time);
                    at += 1;
                    continue;
                }
                self.leaving_to_pupate(id, now);
            }
            trail.end(id, time, end);
            self.walkers.swap_remove(at);
            self.strides += self.bouts[slot].strides;
            match end {
                End::Walking => {}
                End::Settled(stem) => self.settle(id, slot, stem, time),
                End::Died => self.finish(id, Fate::DiedOffPlant, time),
                End::Lost => self.finish(id, Fate::Lost, time),
            }
            self.idle_bouts.push(slot);
        }
    }

    /// The bout has led to a stem.
    fn settle(&mut self, id: LarvaId, slot: BoutSlot, stem: StemId, time: f64) {
        let budget = self.bouts[slot].next_exponential();
        let now = self.plan.clock.moment(time);
        let larva = &mut self.larvae[id];
        larva.left[LEAVES] = budget;
        larva.left[PHASE_ENDS] -= larva.rate * (now.dd - larva.since.dd);
        // A larva that fell and climbed its stem again has not changed stems.
        larva.stems_used = larva
            .stems_used
            .saturating_add(u16::from(stem != larva.stem));
        self.arrive(id, stem, now);
    }
}
