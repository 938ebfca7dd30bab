//! What happens to eggs and larvae, and to stems, in a tick.

use super::Season;
use super::larva::{Event, Fate, NOBODY, State};
use super::queue::Matter;
use crate::life::Moment;
use crate::life::traits::{PUPATING, by_condition};
use crate::random::Purpose;
use crate::scenario::STAGES;
use crate::survey;
use crate::walk::{Bout, Trail};
use crate::world::Condition;

impl Season<'_> {
    /// Processes 3, 4, 5 and 7: eggs are laid, stages end, larvae die and leave, each at its own moment.
    pub(super) fn lay_develop_die_and_leave<T: Trail>(&mut self, tick: usize, trail: &mut T) {
        while let Some(id) = self.calendar.take(Matter::Larva, tick) {
            if trail.is_called_off() {
                return;
            }
            let larva = &self.larvae[id as usize];
            let stale = larva.next_time as usize != tick
                || !matches!(larva.state, State::Unlaid | State::OnStem);
            if stale {
                continue;
            }
            let now = self.plan.clock.moment(larva.next_time);
            match larva.next {
                Event::Laid => self.lay(id, now),
                Event::PhaseEnds => self.end_phase(id, now, trail),
                Event::Dies => self.die_on_stem(id, now),
                Event::Leaves => self.depart(id, now, true, trail),
            }
        }
    }

    fn lay(&mut self, id: u32, now: Moment) {
        let stem = self.larvae[id as usize].natal;
        if !self.stems[stem as usize].condition.has_leaves() {
            self.larvae[id as usize].state = State::NeverLaid;
            return;
        }
        self.endow(id);
        self.arrive(id, stem, now);
    }

    /// The larva stands on a stem from now on.
    pub(super) fn arrive(&mut self, id: u32, stem: u32, now: Moment) {
        self.on_stems[id as usize / 64] |= 1 << (id % 64);
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
        self.begin_sitting(id, now);
    }

    /// Accounts from now on: hunger, hazards, development; and enters what comes first.
    pub(super) fn begin_sitting(&mut self, id: u32, now: Moment) {
        let larva = &mut self.larvae[id as usize];
        larva.since = now;
        let appetite = self.plan.traits.intake_cm_per_dd[larva.stage()] * larva.rate;
        let stem = larva.stem;
        if appetite > 0.0 {
            self.stems[stem as usize].begin_eating(appetite, now.dd);
            self.look_at_leaves(stem, now.time);
        }
        self.enter_next_event(id);
    }

    /// Closes the account since the last event: what was eaten, hazard spent, development made.
    pub(super) fn end_sitting(&mut self, id: u32, now: Moment) {
        let traits = &self.plan.traits;
        let larva = &mut self.larvae[id as usize];
        let (stage, phase) = (larva.stage(), usize::from(larva.phase));
        let stem = &mut self.stems[larva.stem as usize];
        let condition = by_condition(stem.condition);
        let own_dd = larva.rate * (now.dd - larva.since.dd);
        larva.need_dd -= own_dd;
        larva.death_left -= own_dd * self.hazards[condition][phase];
        if stage > 0 {
            let hours = now.active_h - larva.since.active_h;
            let leaving = traits.leave_per_h[condition][stage] + traits.fall_per_h[stage];
            larva.leave_left -= hours * leaving;
        }
        let appetite = traits.intake_cm_per_dd[stage] * larva.rate;
        if appetite > 0.0 {
            stem.cease_eating(appetite, larva.since.dd, now.dd);
        }
        larva.since = now;
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
            .when(larva.since.dd + own_dd.max(0.0) / larva.rate);
        (larva.next_time, larva.next) = (time, event);
        if stage > 0 {
            let leaving = traits.leave_per_h[condition][stage] + traits.fall_per_h[stage];
            let target = larva.since.active_h + larva.leave_left.max(0.0) / leaving;
            // Most sittings end otherwise: the search for the moment of leaving is spared them.
            const ROUNDING_H: f64 = 1e-6;
            if time.is_infinite() || target <= clock.active_hours.by(time) + ROUNDING_H {
                let leaves = clock.active_hours.when(target);
                if leaves < time {
                    (larva.next_time, larva.next) = (leaves, Event::Leaves);
                }
            }
        }
        larva.next_time = larva.next_time.max(larva.since.time);
        self.calendar.enter(Matter::Larva, larva.next_time, id);
    }

    fn end_phase<T: Trail>(&mut self, id: u32, now: Moment, trail: &mut T) {
        self.end_sitting(id, now);
        let larva = &mut self.larvae[id as usize];
        larva.phase += 1;
        trail.phase_begins(id, larva.phase, now.time);
        if usize::from(larva.phase) == PUPATING {
            self.take_off_stem(id);
            self.pupate(id, now);
            return;
        }
        larva.need_dd += self.plan.traits.need_dd[usize::from(larva.phase)];
        let stem = larva.stem;
        self.begin_sitting(id, now);
        if self.stems[stem as usize].condition == Condition::EatenOut {
            self.depart(id, now, false, trail);
        }
    }

    /// Process 9: the larva has left its stem for good. What is left of its last instar decides whether it
    /// gets as far as pupation.
    fn pupate(&mut self, id: u32, now: Moment) {
        let clock = &self.plan.clock;
        let need = self.plan.traits.need_dd[PUPATING];
        let larva = &self.larvae[id as usize];
        let until_death = larva.death_left / self.hazards[0][PUPATING];
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

    pub(super) fn finish(&mut self, id: u32, fate: Fate, time: f64) {
        let larva = &mut self.larvae[id as usize];
        larva.state = State::Ended(fate);
        larva.ended_at = time;
    }

    /// The dead keep no account but for what they ate.
    fn die_on_stem(&mut self, id: u32, now: Moment) {
        let larva = &self.larvae[id as usize];
        let appetite = self.plan.traits.intake_cm_per_dd[larva.stage()] * larva.rate;
        if appetite > 0.0 {
            self.stems[larva.stem as usize].cease_eating(appetite, larva.since.dd, now.dd);
        }
        self.take_off_stem(id);
        self.finish(id, Fate::DiedOnStem, now.time);
    }

    pub(super) fn leave_stem(&mut self, id: u32, now: Moment) {
        self.end_sitting(id, now);
        self.take_off_stem(id);
    }

    fn take_off_stem(&mut self, id: u32) {
        self.on_stems[id as usize / 64] &= !(1 << (id % 64));
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
    pub(super) fn depart<T: Trail>(
        &mut self,
        id: u32,
        now: Moment,
        by_hazard: bool,
        trail: &mut T,
    ) {
        self.leave_stem(id, now);
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
            now.time,
            left,
            self.plan.movement.stride_m,
        );
        trail.begin(id, stage, now.time, stem.x_m, stem.y_m);
        self.walkers.push(slot);
    }

    /// The bout has led to a stem.
    pub(super) fn settle(&mut self, id: u32, slot: u32, stem: u32, time: f64) {
        let budget = self.bouts[slot as usize].next_exponential();
        let now = self.plan.clock.moment(time);
        let larva = &mut self.larvae[id as usize];
        larva.leave_left = budget;
        larva.need_dd -= larva.rate * (now.dd - larva.since.dd);
        // A larva that fell and climbed its stem again has not changed stems.
        larva.stems_used = larva
            .stems_used
            .saturating_add(u16::from(stem != larva.stem));
        self.arrive(id, stem, now);
    }

    /// A larva on the ground goes on developing; its phase ends with the tick in which its degree-days are
    /// reached. True when it has ended its life on stems.
    pub(super) fn develop_on_the_ground<T: Trail>(
        &mut self,
        id: u32,
        time: f64,
        trail: &mut T,
    ) -> bool {
        let now = self.plan.clock.moment(time);
        let larva = &mut self.larvae[id as usize];
        larva.need_dd -= larva.rate * (now.dd - larva.since.dd);
        larva.since = now;
        while larva.need_dd <= 0.0 {
            larva.phase += 1;
            trail.phase_begins(id, larva.phase, time);
            if usize::from(larva.phase) == PUPATING {
                self.pupate(id, now);
                return true;
            }
            larva.need_dd += self.plan.traits.need_dd[usize::from(larva.phase)];
        }
        false
    }

    /// Process 10: what stands on the stems at a survey.
    pub(super) fn survey(&mut self, survey: usize) {
        for word in 0..self.on_stems.len() {
            let mut bits = self.on_stems[word];
            while bits != 0 {
                self.sight(survey, (64 * word) as u32 + bits.trailing_zeros());
                bits &= bits - 1;
            }
        }
    }

    fn sight(&mut self, survey: usize, id: u32) {
        let larva = &self.larvae[id as usize];
        debug_assert!(larva.state == State::OnStem && usize::from(larva.phase) < STAGES);
        let stem = &self.stems[larva.stem as usize];
        self.sightings.push(survey::Sighting {
            survey: survey as u16,
            larva: id,
            stage: larva.stage() as u8,
            read: survey::read(self.plan, larva.key, survey, larva.stage(), stem.condition),
            stands: stem.half,
            natal: self.stems[larva.natal as usize].half,
            condition: stem.condition,
        });
    }
}
