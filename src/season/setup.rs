//! The start of a season: site effects, stems in their places, eggs to come.

use super::Season;
use super::larva::{Event, Larva, State};
use super::queue::Lane;
use super::sitting::RISKS;
use crate::ids::{BoutSlot, StemId};
use crate::life::Moment;
use crate::life::laying::Egg;
use crate::life::traits::regrowth_lag_weeks;
use crate::random::{Key, Purpose, normal, unit};
use crate::walk::Trail;
use crate::world::layout::{HalfId, PlacedPatch};
use crate::world::{Stem, placement};

/// Vectors that are filled anew each season.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    points: Vec<(f64, f64)>,
    order: Vec<u32>,
    eggs: Vec<Egg>,
}

impl Season<'_> {
    /// Sets a season up; what is left when the trail calls it off is not whole.
    pub(super) fn set_up<T: Trail>(&mut self, key: Key, trail: &T) {
        self.set_up_without_eggs(key, trail);
        self.lay_eggs(key, trail);
    }

    pub(super) fn set_up_without_eggs<T: Trail>(&mut self, key: Key, trail: &T) {
        let plan = self.plan;
        self.key = key;
        self.strides = 0;
        self.sightings.clear();
        self.walkers.clear();
        self.queue.reset(plan.clock.ticks);
        self.queue.mark(plan.clock.cutting);
        for survey in &plan.clock.surveys {
            self.queue.mark(*survey);
        }
        self.idle_bouts.clear();
        self.idle_bouts
            .extend((0..self.bouts.len()).map(BoutSlot::new));
        let z = normal(&mut key.to(Purpose::SiteSurvival).stream());
        self.hazards = plan.traits.hazards(plan.traits.site_logit_sd * z);
        self.place_stems(key, trail);
        if !trail.is_called_off() {
            self.plan_regrowth(key);
        }
    }

    fn place_stems<T: Trail>(&mut self, key: Key, trail: &T) {
        let plan = self.plan;
        self.coin_towards.clear();
        let fixed = plan.layout.patches.iter().all(placement::is_fixed);
        self.stems.clear();
        for (index, patch) in plan.layout.patches.iter().enumerate() {
            let patch_key = key.to(Purpose::Placement).with(index as u64);
            self.scratch.points.clear();
            let points = &mut self.scratch.points;
            if !placement::place(patch, &mut patch_key.stream(), points, &|| {
                trail.is_called_off()
            }) {
                return;
            }
            let towards = key.to(Purpose::CutSide).with(index as u64).unit() < 0.5;
            self.coin_towards.push(towards);
            let direction = patch.cut_direction(plan.scenario.cut_side, towards);
            let first = self.stems.len();
            self.stems.extend(
                self.scratch
                    .points
                    .iter()
                    .map(|point| Stem::new(point.0, point.1, HalfId::new(index, false))),
            );
            self.mark_cut_half(first, patch, index, direction);
        }
        if fixed && self.ground_is_fixed {
            return;
        }
        self.ground.clear();
        self.ground_is_fixed = false;
        for (id, stem) in self.stems.iter().enumerate() {
            if trail.is_called_off() {
                return;
            }
            self.ground
                .enter(StemId::new(id), stem.x_m, stem.y_m, plan.movement.reach_m);
        }
        self.ground_is_fixed = fixed;
    }

    /// The stems that reach farthest in the direction of the cut half are cut.
    fn mark_cut_half(
        &mut self,
        first: usize,
        patch: &PlacedPatch,
        index: usize,
        direction: (f64, f64),
    ) {
        let stems = &mut self.stems[first..];
        if patch.cut_stems == 0 {
            return;
        }
        let cut = HalfId::new(index, true);
        if patch.cut_stems == stems.len() {
            stems.iter_mut().for_each(|stem| stem.half = cut);
            return;
        }
        let order = &mut self.scratch.order;
        order.clear();
        order.extend(0..stems.len() as u32);
        let reach = |id: &u32| {
            let stem = &stems[*id as usize];
            stem.x_m * direction.0 + stem.y_m * direction.1
        };
        order.select_nth_unstable_by(patch.cut_stems - 1, |a, b| {
            reach(b).total_cmp(&reach(a)).then(a.cmp(b))
        });
        for &id in &order[..patch.cut_stems] {
            stems[id as usize].half = cut;
        }
    }

    fn plan_regrowth(&mut self, key: Key) {
        let plan = self.plan;
        let cutting = &plan.scenario.numbers.cutting;
        let mean_lag = regrowth_lag_weeks(&plan.scenario);
        let mut id = 0;
        for (index, patch) in plan.layout.patches.iter().enumerate() {
            let patch_key = stems_of_patch(key, index);
            for number in 0..patch.stems() as u64 {
                let stem = &mut self.stems[id];
                if stem.half.is_cut() {
                    let mut stream = patch_key.with(number).to(Purpose::Regrowth).stream();
                    let z = normal(&mut stream);
                    let lag = (mean_lag + cutting.regrowth_lag_sd_weeks * z).max(0.0);
                    if unit(&mut stream) < cutting.regrown_share {
                        stem.fresh_at = (plan.clock.cutting + plan.clock.weeks(lag)).ceil();
                        let aged = plan.scenario.numbers.laying.attraction_to_weeks;
                        stem.mature_at = (plan.clock.cutting + plan.clock.weeks(aged))
                            .ceil()
                            .max(stem.fresh_at + 1.0);
                        self.queue.enter(Lane::Stems, stem.fresh_at, id);
                        self.queue.enter(Lane::Stems, stem.mature_at, id);
                    }
                }
                id += 1;
            }
        }
    }

    fn lay_eggs<T: Trail>(&mut self, key: Key, trail: &T) {
        let plan = self.plan;
        let rates = plan.laying.patch_rates(&plan.layout.patches, key);
        self.scratch.eggs.clear();
        let mut id = 0;
        for (index, patch) in plan.layout.patches.iter().enumerate() {
            let patch_key = stems_of_patch(key, index);
            for number in 0..patch.stems() as u64 {
                if trail.is_called_off() {
                    return;
                }
                plan.laying.eggs(
                    StemId::new(id),
                    &self.stems[id],
                    patch_key.with(number),
                    rates[index],
                    &plan.clock,
                    &mut self.scratch.eggs,
                );
                id += 1;
            }
        }
        self.make_room(self.scratch.eggs.len());
        for egg in &self.scratch.eggs {
            let larva = self.larvae.len();
            self.larvae.push(egg_as_larva(egg));
            self.queue.enter(Lane::Larvae, egg.time, larva);
        }
    }

    /// Forgets the larvae of the season before and makes room for others.
    pub(super) fn make_room(&mut self, larvae: usize) {
        self.on_stems.clear();
        self.on_stems.resize(larvae.div_ceil(u64::BITS as usize), 0);
        self.larvae.clear();
    }
}

/// Key of the stems of a patch; a stem's own key follows by its number in the patch, whatever the rest of the
/// layout is like.
fn stems_of_patch(key: Key, patch: usize) -> Key {
    key.to(Purpose::Stem).with(patch as u64)
}

fn egg_as_larva(egg: &Egg) -> Larva {
    Larva {
        natal: egg.stem,
        stem: egg.stem,
        state: State::Unlaid,
        phase: 0,
        bouts: 0,
        stems_used: 1,
        laid_at: egg.time,
        ended_at: f64::INFINITY,
        rate: 1.0,
        key: egg.key,
        since: Moment::default(),
        left: [0.0; RISKS.len()],
        next_time: egg.time,
        next: Event::Laid,
        before: None,
        behind: None,
    }
}
