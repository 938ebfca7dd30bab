//! What happens to stems in a tick: cutting, regrowth, being eaten out; and what that does to larvae on them.

use super::Season;
use super::larva::{Fate, NOBODY};
use super::queue::Matter;
use crate::life::Moment;
use crate::random::Purpose;
use crate::walk::Trail;
use crate::world::{Condition, Stem};

impl Season<'_> {
    /// Process 2, cutting: what stands on cut stems is destroyed, except what volunteers move.
    pub(super) fn cut_stems<T: Trail>(&mut self, time: f64, trail: &mut T) {
        let now = self.plan.clock.moment(time);
        let moved_share = self.plan.scenario.numbers.cutting.moved_share;
        let open = if moved_share > 0.0 {
            self.open_stems()
        } else {
            Vec::new()
        };
        for id in 0..self.stems.len() as u32 {
            if !self.stems[id as usize].half.is_cut() {
                continue;
            }
            while let Some(larva) = self.first_on(id) {
                self.leave_stem(larva, now);
                let key = self.larvae[larva as usize].key.to(Purpose::Rescue);
                let refuge = if key.unit() < moved_share {
                    self.refuge_from(id, &open, key.with(1).unit())
                } else {
                    None
                };
                match refuge {
                    Some(stem) => {
                        self.arrive(larva, stem, now);
                        trail.carried(larva, stem, time);
                    }
                    None => self.finish(larva, Fate::Destroyed, time),
                }
            }
            self.stems[id as usize].condition = Condition::Stubble;
        }
    }

    /// Uncut stems with leaves, in the order of their patches.
    fn open_stems(&self) -> Vec<u32> {
        let open = |stem: &Stem| !stem.half.is_cut() && stem.condition.has_leaves();
        (0..self.stems.len() as u32)
            .filter(|id| open(&self.stems[*id as usize]))
            .collect()
    }

    /// The one of the open stems to carry a larva to: in the same patch if there is one, else anywhere.
    fn refuge_from(&self, from: u32, open: &[u32], draw: f64) -> Option<u32> {
        let patch_of = |id: u32| self.stems[id as usize].half.patch();
        let patch = patch_of(from);
        let first = open.partition_point(|id| patch_of(*id) < patch);
        let end = open.partition_point(|id| patch_of(*id) <= patch);
        let choice = if first < end { &open[first..end] } else { open };
        choice.get((draw * choice.len() as f64) as usize).copied()
    }

    /// Process 2, regrowth: stubble turns fresh, fresh stems age back into mature ones.
    pub(super) fn regrow_stems(&mut self, tick: usize) {
        let now = tick as f64;
        while let Some(id) = self.calendar.take(Matter::Stem, tick) {
            let stem = &mut self.stems[id as usize];
            if stem.fresh_at == now && stem.condition == Condition::Stubble {
                stem.renew();
                stem.condition = Condition::Fresh;
            } else if stem.mature_at == now && stem.condition == Condition::Fresh {
                self.change_condition(id, Condition::Mature, self.plan.clock.moment(now));
            }
        }
    }

    /// Larvae on a stem whose condition changes carry on under the new one.
    fn change_condition(&mut self, id: u32, condition: Condition, now: Moment) {
        let mut at = self.first_on(id);
        while let Some(larva) = at {
            self.end_sitting(larva, now);
            at = self.behind(larva);
        }
        self.stems[id as usize].condition = condition;
        let mut at = self.first_on(id);
        while let Some(larva) = at {
            self.begin_sitting(larva, now);
            at = self.behind(larva);
        }
    }

    fn behind(&self, larva: u32) -> Option<u32> {
        let behind = self.larvae[larva as usize].behind;
        (behind != NOBODY).then_some(behind)
    }

    /// Leaves on a stem at a time, eaten or not, cm of stem.
    fn grown_cm(&self, stem: u32, time: f64) -> f64 {
        let stem = &self.stems[stem as usize];
        let regrowth = &self.plan.traits.regrowth;
        if stem.fresh_at <= time && stem.half.is_cut() {
            regrowth.grown_cm(time - stem.fresh_at)
        } else {
            regrowth.full_cm
        }
    }

    /// Enters the earliest tick at which a stem can be eaten out: leaves only grow meanwhile.
    pub(super) fn look_at_leaves(&mut self, id: u32, time: f64) {
        let available = self.grown_cm(id, time) - self.plan.traits.eaten_out_cm;
        let stem = &mut self.stems[id as usize];
        if !stem.condition.has_leaves() {
            return;
        }
        let when = self
            .plan
            .clock
            .degree_days
            .when(stem.eaten_by_dd(available).max(0.0));
        if !when.is_finite() {
            return;
        }
        let tick = when.max(time) as u32;
        if tick < stem.look_at || stem.look_at < time as u32 {
            stem.look_at = tick;
            self.calendar.enter(Matter::Leaves, f64::from(tick), id);
        }
    }

    /// Process 6: stems whose leaves are gone at the end of the tick are eaten out, and their larvae must leave.
    pub(super) fn eat_out_stems<T: Trail>(&mut self, tick: usize, trail: &mut T) {
        let end = (tick + 1) as f64;
        while let Some(id) = self.calendar.take(Matter::Leaves, tick) {
            let stem = &self.stems[id as usize];
            if stem.look_at as usize != tick || !stem.condition.has_leaves() {
                continue;
            }
            self.stems[id as usize].look_at = u32::MAX;
            let left = self.grown_cm(id, end)
                - self.stems[id as usize].eaten_cm(self.plan.clock.degree_days.by(end));
            if left > self.plan.traits.eaten_out_cm {
                self.look_at_leaves(id, end);
                continue;
            }
            self.eat_out(id, end, trail);
        }
    }

    fn eat_out<T: Trail>(&mut self, id: u32, time: f64, trail: &mut T) {
        let now = self.plan.clock.moment(time);
        self.change_condition(id, Condition::EatenOut, now);
        self.stems[id as usize].eaten_out_at = time;
        let mut at = self.first_on(id);
        while let Some(larva) = at {
            at = self.behind(larva);
            if self.larvae[larva as usize].stage() > 0 {
                self.depart(larva, now, false, trail);
            }
        }
    }
}
