//! Process 6: larvae eat the leaves of their stem; neighbours on a stem share them. A stem with too few left is eaten
//! out, and its larvae must leave.

use super::Season;
use super::queue::Lane;
use crate::ids::{LarvaId, StemId};
use crate::life::Moment;
use crate::walk::Trail;
use crate::world::Condition;

impl Season<'_> {
    /// A larva begins to eat of its stem.
    pub(super) fn begin_eating(&mut self, id: LarvaId, now: Moment) {
        let larva = &self.larvae[id];
        let appetite = self.plan.traits.intake_cm_per_dd[larva.stage()] * larva.rate;
        let stem = larva.stem;
        if appetite > 0.0 {
            self.stems[stem].begin_eating(appetite, now.dd);
            self.look_at_leaves(stem, now.time);
        }
    }

    /// A larva has eaten of its stem since its account began.
    pub(super) fn cease_eating(&mut self, id: LarvaId, now: Moment) {
        let larva = &self.larvae[id];
        let appetite = self.plan.traits.intake_cm_per_dd[larva.stage()] * larva.rate;
        if appetite > 0.0 {
            self.stems[larva.stem].cease_eating(appetite, larva.since.dd, now.dd);
        }
    }

    /// Leaves on a stem at a time, eaten or not, cm of stem.
    fn grown_cm(&self, stem: StemId, time: f64) -> f64 {
        let stem = &self.stems[stem];
        let regrowth = &self.plan.traits.regrowth;
        if stem.fresh_at <= time && stem.half.is_cut() {
            regrowth.grown_cm(time - stem.fresh_at)
        } else {
            regrowth.full_cm
        }
    }

    /// Enters the earliest step in which a stem can be eaten out: leaves only grow meanwhile.
    fn look_at_leaves(&mut self, id: StemId, time: f64) {
        let available = self.grown_cm(id, time) - self.plan.traits.eaten_out_cm;
        let stem = &mut self.stems[id];
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
        let step = when.max(time) as u32;
        if step < stem.look_at || stem.look_at < time as u32 {
            stem.look_at = step;
            self.queue.enter(Lane::Leaves, f64::from(step), id.index());
        }
    }

    /// Stems whose leaves are gone at the end of the step are eaten out, and their larvae must leave.
    pub(super) fn feeding<T: Trail>(&mut self, step: usize, trail: &mut T) {
        let end = (step + 1) as f64;
        while let Some(id) = self.queue.take(Lane::Leaves, step).map(StemId::new) {
            let stem = &self.stems[id];
            if stem.look_at as usize != step || !stem.condition.has_leaves() {
                continue;
            }
            self.stems[id].look_at = u32::MAX;
            let left = self.grown_cm(id, end)
                - self.stems[id].eaten_cm(self.plan.clock.degree_days.by(end));
            if left > self.plan.traits.eaten_out_cm {
                self.look_at_leaves(id, end);
                continue;
            }
            self.eat_out(id, end, trail);
        }
    }

    fn eat_out<T: Trail>(&mut self, id: StemId, time: f64, trail: &mut T) {
        let now = self.plan.clock.moment(time);
        self.change_condition(id, Condition::EatenOut, now);
        self.stems[id].eaten_out_at = time;
        let mut at = self.first_on(id);
        while let Some(larva) = at {
            at = self.behind(larva);
            if self.larvae[larva].stage() > 0 {
                self.driven_off(larva, now, trail);
            }
        }
    }
}
