//! Process 2: stems are cut, turn fresh and age; and what that does to larvae on them.

use super::Season;
use super::larva::Fate;
use super::queue::Lane;
use crate::ids::StemId;
use crate::life::Moment;
use crate::random::Purpose;
use crate::walk::Trail;
use crate::world::{Condition, Stem};

impl Season<'_> {
    /// Stems whose time it is change their condition as a step begins.
    pub(super) fn stems<T: Trail>(&mut self, step: usize, trail: &mut T) {
        let now = self.plan.clock.moment(step as f64);
        if self.plan.clock.cutting == now.time {
            self.cut_stems(now, trail);
        }
        self.regrow_stems(step, now);
    }

    /// What stands on cut stems is destroyed, except what volunteers move.
    fn cut_stems<T: Trail>(&mut self, now: Moment, trail: &mut T) {
        let moved_share = self.plan.scenario.numbers.cutting.moved_share;
        let open = if moved_share > 0.0 {
            self.open_stems()
        } else {
            Vec::new()
        };
        for id in (0..self.stems.len()).map(StemId::new) {
            if !self.stems[id].half.is_cut() {
                continue;
            }
            while let Some(larva) = self.first_on(id) {
                self.end_sitting(larva, now);
                self.take_off_stem(larva);
                let key = self.larvae[larva].key.to(Purpose::Rescue);
                let refuge = if key.unit() < moved_share {
                    self.refuge_from(id, &open, key.with(1).unit())
                } else {
                    None
                };
                match refuge {
                    Some(stem) => {
                        self.arrive(larva, stem, now);
                        trail.carried(larva, stem, now.time);
                    }
                    None => self.finish(larva, Fate::Destroyed, now.time),
                }
            }
            self.stems[id].condition = Condition::Stubble;
        }
    }

    /// Uncut stems with leaves, in the order of their patches.
    fn open_stems(&self) -> Vec<StemId> {
        let open = |stem: &Stem| !stem.half.is_cut() && stem.condition.has_leaves();
        (0..self.stems.len())
            .map(StemId::new)
            .filter(|id| open(&self.stems[*id]))
            .collect()
    }

    /// The one of the open stems to carry a larva to: in the same patch if there is one, else anywhere.
    fn refuge_from(&self, from: StemId, open: &[StemId], draw: f64) -> Option<StemId> {
        let patch_of = |id: StemId| self.stems[id].half.patch();
        let patch = patch_of(from);
        let first = open.partition_point(|id| patch_of(*id) < patch);
        let end = open.partition_point(|id| patch_of(*id) <= patch);
        let choice = if first < end { &open[first..end] } else { open };
        choice.get((draw * choice.len() as f64) as usize).copied()
    }

    /// Stubble turns fresh, fresh stems age back into mature ones.
    fn regrow_stems(&mut self, step: usize, now: Moment) {
        while let Some(id) = self.queue.take(Lane::Stems, step).map(StemId::new) {
            let stem = &mut self.stems[id];
            if stem.fresh_at == now.time && stem.condition == Condition::Stubble {
                stem.renew();
                stem.condition = Condition::Fresh;
            } else if stem.mature_at == now.time && stem.condition == Condition::Fresh {
                self.change_condition(id, Condition::Mature, now);
            }
        }
    }

    /// Larvae on a stem whose condition changes carry on under the new one.
    pub(super) fn change_condition(&mut self, id: StemId, condition: Condition, now: Moment) {
        let mut at = self.first_on(id);
        while let Some(larva) = at {
            self.end_sitting(larva, now);
            at = self.behind(larva);
        }
        self.stems[id].condition = condition;
        let mut at = self.first_on(id);
        while let Some(larva) = at {
            self.begin_sitting(larva, now);
            at = self.behind(larva);
        }
    }
}
