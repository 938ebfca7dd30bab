//! What happens to eggs and larvae, and to stems, in a tick.

use super::Season;
use super::larva::{Event, Fate, NOBODY, State};
use crate::life::traits::{PUPATING, by_condition, stage_of};
use crate::random::Purpose;
use crate::scenario::STAGES;
use crate::survey;
use crate::walk::{Bout, Trail};
use crate::world::Condition;

impl Season<'_> {
    /// Processes 3, 4, 5 and 7: eggs are laid, stages end, larvae die and leave, each at its own moment.
    pub(super) fn lay_develop_die_and_leave<T: Trail>(&mut self, tick: usize, trail: &mut T) {
        while let Some(id) = self.events.take(tick) {
            let larva = &self.larvae[id as usize];
            let stale = larva.next_time as usize != tick
                || !matches!(larva.state, State::Unlaid | State::OnStem);
            if stale {
                continue;
            }
            let time = larva.next_time;
            match larva.next {
                Event::Laid => self.lay(id, time),
                Event::PhaseEnds => self.end_phase(id, time, trail),
                Event::Dies => self.die_on_stem(id, time),
                Event::Leaves => self.depart(id, time, true, trail),
            }
        }
    }

    fn lay(&mut self, id: u32, time: f64) {
        let stem = self.larvae[id as usize].natal;
        if !self.stems[stem as usize].condition.has_leaves() {
            self.larvae[id as usize].state = State::NeverLaid;
            return;
        }
        self.endow(id);
        self.arrive(id, stem, time);
    }

    /// The larva stands on a stem from now on.
    fn arrive(&mut self, id: u32, stem: u32, time: f64) {
        let first = self.stems[stem as usize].first_larva;
        let larva = &mut self.larvae[id as usize];
        larva.state = State::OnStem;
        larva.stem = stem;
        larva.before = NOBODY;
        larva.behind = first;
        if first != NOBODY {
            self.larvae[first as usize].before = id;
        }
        let there = &mut self.stems[stem as usize];
        there.first_larva = id;
        there.occupants += 1;
        self.begin_sitting(id, time);
    }

    /// Accounts from now on: hunger, hazards, development; and enters what comes first.
    fn begin_sitting(&mut self, id: u32, time: f64) {
        let at_dd = self.plan.clock.degree_days.by(time);
        let larva = &mut self.larvae[id as usize];
        larva.since = time;
        larva.since_dd = at_dd;
        let appetite = self.plan.traits.intake_cm_per_dd[larva.stage()] * larva.rate;
        let stem = larva.stem;
        if appetite > 0.0 {
            self.stems[stem as usize].begin_eating(appetite, at_dd);
            self.look_at_leaves(stem, time);
        }
        self.enter_next_event(id);
    }

    /// Closes the account since the last event: what was eaten, hazard spent, development made.
    fn end_sitting(&mut self, id: u32, time: f64) {
        let clock = &self.plan.clock;
        let traits = &self.plan.traits;
        let larva = &mut self.larvae[id as usize];
        let (stage, phase) = (larva.stage(), usize::from(larva.phase));
        let stem = &mut self.stems[larva.stem as usize];
        let condition = by_condition(stem.condition);
        let to_dd = clock.degree_days.by(time);
        let own_dd = larva.rate * (to_dd - larva.since_dd);
        larva.need_dd -= own_dd;
        larva.death_left -= own_dd * self.hazards[condition][phase];
        if stage > 0 {
            let hours = clock.active_hours.by(time) - clock.active_hours.by(larva.since);
            let leaving = traits.leave_per_h[condition][stage] + traits.fall_per_h[stage];
            larva.leave_left -= hours * leaving;
        }
        let appetite = traits.intake_cm_per_dd[stage] * larva.rate;
        if appetite > 0.0 {
            stem.cease_eating(appetite, larva.since_dd, to_dd);
        }
        larva.since = time;
        larva.since_dd = to_dd;
    }

    /// What happens first if nothing else changes: the end of the phase, death, or leaving.
    fn enter_next_event(&mut self, id: u32) {
        let clock = &self.plan.clock;
        let traits = &self.plan.traits;
        let larva = &mut self.larvae[id as usize];
        let (stage, phase) = (larva.stage(), usize::from(larva.phase));
        let condition = by_condition(self.stems[larva.stem as usize].condition);
        // Phase end and death both run on own degree-days, so the nearer of them is known before the clock is asked.
        let hazard = self.hazards[condition][phase];
        let until_death = larva.death_left / hazard;
        let (own_dd, event) = if until_death < larva.need_dd {
            (until_death, Event::Dies)
        } else {
            (larva.need_dd, Event::PhaseEnds)
        };
        let time = clock
            .degree_days
            .when(larva.since_dd + own_dd.max(0.0) / larva.rate);
        (larva.next_time, larva.next) = (time, event);
        if stage > 0 {
            let leaving = traits.leave_per_h[condition][stage] + traits.fall_per_h[stage];
            let accrued = clock.active_hours.by(larva.since);
            let leaves = clock
                .active_hours
                .when(accrued + larva.leave_left.max(0.0) / leaving);
            if leaves < time {
                (larva.next_time, larva.next) = (leaves, Event::Leaves);
            }
        }
        larva.next_time = larva.next_time.max(larva.since);
        self.events.enter(larva.next_time, id);
    }

    fn end_phase<T: Trail>(&mut self, id: u32, time: f64, trail: &mut T) {
        self.end_sitting(id, time);
        let larva = &mut self.larvae[id as usize];
        larva.phase += 1;
        if usize::from(larva.phase) == PUPATING {
            self.take_off_stem(id);
            self.pupate(id, time);
            return;
        }
        larva.need_dd += self.plan.traits.need_dd[usize::from(larva.phase)];
        let stem = larva.stem;
        self.begin_sitting(id, time);
        if self.stems[stem as usize].condition == Condition::EatenOut {
            self.depart(id, time, false, trail);
        }
    }

    /// Process 9: the larva has left its stem for good. What is left of its last instar decides whether it
    /// gets as far as pupation.
    fn pupate(&mut self, id: u32, time: f64) {
        let clock = &self.plan.clock;
        let need = self.plan.traits.need_dd[PUPATING];
        let larva = &self.larvae[id as usize];
        let until_death = larva.death_left / self.hazards[0][PUPATING];
        let (own_dd, fate) = if until_death < need {
            (until_death, Fate::DiedOffPlant)
        } else {
            (need, Fate::Pupated)
        };
        let end = clock
            .degree_days
            .when(clock.degree_days.by(time) + own_dd / larva.rate);
        if end.is_finite() {
            self.finish(id, fate, end);
        } else {
            self.finish(id, Fate::Alive, clock.ticks as f64);
        }
    }

    pub(super) fn finish(&mut self, id: u32, fate: Fate, time: f64) {
        let larva = &mut self.larvae[id as usize];
        larva.state = State::Ended(fate);
        larva.ended_at = time;
    }

    /// The dead keep no account but for what they ate.
    fn die_on_stem(&mut self, id: u32, time: f64) {
        let larva = &self.larvae[id as usize];
        let appetite = self.plan.traits.intake_cm_per_dd[larva.stage()] * larva.rate;
        if appetite > 0.0 {
            let to_dd = self.plan.clock.degree_days.by(time);
            self.stems[larva.stem as usize].cease_eating(appetite, larva.since_dd, to_dd);
        }
        self.take_off_stem(id);
        self.finish(id, Fate::DiedOnStem, time);
    }

    fn leave_stem(&mut self, id: u32, time: f64) {
        self.end_sitting(id, time);
        self.take_off_stem(id);
    }

    fn take_off_stem(&mut self, id: u32) {
        let (before, behind, stem) = {
            let larva = &self.larvae[id as usize];
            (larva.before, larva.behind, larva.stem)
        };
        if before == NOBODY {
            self.stems[stem as usize].first_larva = behind;
        } else {
            self.larvae[before as usize].behind = behind;
        }
        if behind != NOBODY {
            self.larvae[behind as usize].before = before;
        }
        let stem = &mut self.stems[stem as usize];
        stem.occupants -= 1;
        if stem.occupants == 0 {
            stem.rest();
        }
    }

    /// Process 7: the larva leaves its stem, by choice, by a fall, or because the stem is eaten out.
    fn depart<T: Trail>(&mut self, id: u32, time: f64, by_hazard: bool, trail: &mut T) {
        self.leave_stem(id, time);
        let traits = &self.plan.traits;
        let larva = &mut self.larvae[id as usize];
        let stage = larva.stage();
        let stem = &self.stems[larva.stem as usize];
        let key = larva.key.to(Purpose::Bout).with(u64::from(larva.bouts));
        let condition = by_condition(stem.condition);
        let (leaves, falls) = (
            traits.leave_per_h[condition][stage],
            traits.fall_per_h[stage],
        );
        let fell = by_hazard && key.to(Purpose::Bout).unit() * (leaves + falls) < falls;
        larva.bouts = larva.bouts.saturating_add(1);
        larva.state = State::Walking;
        let slot = self.idle_bouts.pop().unwrap_or_else(|| {
            self.bouts.push(Bout::idle());
            (self.bouts.len() - 1) as u32
        });
        let left = (!fell).then_some(larva.stem);
        let bout = &mut self.bouts[slot as usize];
        bout.begin(
            id,
            key,
            (stem.x_m, stem.y_m),
            time,
            left,
            self.plan.movement.stride_m,
        );
        trail.begin(id, stage, time, stem.x_m, stem.y_m);
        self.walkers.push(slot);
    }

    /// The bout has led to a stem.
    pub(super) fn settle(&mut self, id: u32, slot: u32, stem: u32, time: f64) {
        let budget = self.bouts[slot as usize].next_exponential();
        let own_dd = {
            let larva = &self.larvae[id as usize];
            larva.rate * (self.plan.clock.degree_days.by(time) - larva.since_dd)
        };
        let larva = &mut self.larvae[id as usize];
        larva.leave_left = budget;
        larva.need_dd -= own_dd;
        // A larva that fell and climbed its stem again has not changed stems.
        larva.stems_used = larva
            .stems_used
            .saturating_add(u16::from(stem != larva.stem));
        self.arrive(id, stem, time);
    }

    /// A larva on the ground goes on developing; its phase ends with the tick in which its degree-days are
    /// reached. True when it has ended its life on stems.
    pub(super) fn develop_on_the_ground(&mut self, id: u32, time: f64) -> bool {
        let at_dd = self.plan.clock.degree_days.by(time);
        let larva = &mut self.larvae[id as usize];
        larva.need_dd -= larva.rate * (at_dd - larva.since_dd);
        larva.since_dd = at_dd;
        larva.since = time;
        while larva.need_dd <= 0.0 {
            larva.phase += 1;
            if usize::from(larva.phase) == PUPATING {
                self.pupate(id, time);
                return true;
            }
            larva.need_dd += self.plan.traits.need_dd[usize::from(larva.phase)];
        }
        false
    }

    /// Process 2, cutting: what stands on cut stems is destroyed, except what volunteers move.
    pub(super) fn cut_stems(&mut self, time: f64) {
        let moved_share = self.plan.scenario.numbers.cutting.moved_share;
        for id in 0..self.stems.len() as u32 {
            if !self.stems[id as usize].half.is_cut() {
                continue;
            }
            while let Some(larva) = self.first_on(id) {
                self.leave_stem(larva, time);
                let key = self.larvae[larva as usize].key.to(Purpose::Rescue);
                let refuge = if key.unit() < moved_share {
                    self.uncut_stem(id, key.with(1).unit())
                } else {
                    None
                };
                match refuge {
                    Some(stem) => self.arrive(larva, stem, time),
                    None => self.finish(larva, Fate::Destroyed, time),
                }
            }
            self.stems[id as usize].condition = Condition::Stubble;
        }
    }

    /// An uncut stem with leaves to carry a larva to: in the same patch if there is one, else anywhere.
    fn uncut_stem(&self, from: u32, draw: f64) -> Option<u32> {
        let patch = self.stems[from as usize].half.patch();
        let open = |same: bool| {
            self.stems.iter().enumerate().filter(move |(_, stem)| {
                !stem.half.is_cut()
                    && stem.condition.has_leaves()
                    && (!same || stem.half.patch() == patch)
            })
        };
        let same = open(true).next().is_some();
        let count = open(same).count();
        open(same)
            .nth((draw * count as f64) as usize)
            .map(|(id, _)| id as u32)
    }

    /// Process 2, regrowth: stubble turns fresh, fresh stems age back into mature ones.
    pub(super) fn regrow_stems(&mut self, tick: usize) {
        let now = tick as f64;
        while let Some(id) = self.stem_events.take(tick) {
            let stem = &mut self.stems[id as usize];
            if stem.fresh_at == now && stem.condition == Condition::Stubble {
                stem.renew();
                stem.condition = Condition::Fresh;
            } else if stem.mature_at == now && stem.condition == Condition::Fresh {
                self.change_condition(id, Condition::Mature, now);
            }
        }
    }

    /// Larvae on a stem whose condition changes carry on under the new one.
    fn change_condition(&mut self, id: u32, condition: Condition, now: f64) {
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
    fn look_at_leaves(&mut self, id: u32, time: f64) {
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
            self.leaf_looks.enter(f64::from(tick), id);
        }
    }

    /// Process 6: stems whose leaves are gone at the end of the tick are eaten out, and their larvae must leave.
    pub(super) fn eat_out_stems<T: Trail>(&mut self, tick: usize, trail: &mut T) {
        let end = (tick + 1) as f64;
        while let Some(id) = self.leaf_looks.take(tick) {
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
        self.change_condition(id, Condition::EatenOut, time);
        self.stems[id as usize].eaten_out_at = time;
        let mut at = self.first_on(id);
        while let Some(larva) = at {
            at = self.behind(larva);
            if self.larvae[larva as usize].stage() > 0 {
                self.depart(larva, time, false, trail);
            }
        }
    }

    /// Process 10: what stands on the stems at a survey.
    pub(super) fn survey(&mut self, survey: usize) {
        for id in 0..self.larvae.len() as u32 {
            let larva = &self.larvae[id as usize];
            if larva.state != State::OnStem {
                continue;
            }
            debug_assert!(usize::from(larva.phase) < STAGES);
            let stem = &self.stems[larva.stem as usize];
            let natal = self.stems[larva.natal as usize].half;
            let read = survey::read(
                self.plan,
                larva.key,
                survey,
                stage_of(usize::from(larva.phase)),
                stem.condition,
            );
            self.sightings.push(survey::Sighting {
                survey: survey as u16,
                larva: id,
                stage: larva.stage() as u8,
                read,
                stands: stem.half,
                natal,
                condition: stem.condition,
            });
        }
    }
}
